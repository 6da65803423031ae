"""How many cases a property test draws, and which.

The default suite draws a fifth of them, `--hypothesis-profile=all` all: the same cases in every run, so that what lands is
judged by what was seen. `--hypothesis-profile=hunt` draws as many as `all`, others in every run: what it finds becomes an
example of its own.
"""

from __future__ import annotations

from hypothesis import HealthCheck, settings

#: Names of the profiles.
ALL, SOME, HUNT = "all", "some", "hunt"

_CASES = 100
_SHARE = 5
_FEWEST = 5

settings.register_profile(
    HUNT, max_examples=_CASES, deadline=None, suppress_health_check=[HealthCheck.too_slow], database=None, print_blob=True
)
settings.register_profile(ALL, settings.get_profile(HUNT), derandomize=True)
settings.register_profile(SOME, settings.get_profile(ALL), max_examples=_CASES // _SHARE)


def draws(cases: int, *allowed: HealthCheck) -> settings:
    """Settings of a test that draws so many cases where all are drawn, where a property test without settings draws 100.
    `allowed` are health checks that do not count."""
    few = -(-cases * settings().max_examples // _CASES)
    return settings(max_examples=max(few, min(cases, _FEWEST)), suppress_health_check=[HealthCheck.too_slow, *allowed])
