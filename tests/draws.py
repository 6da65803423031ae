"""How many cases a property test draws: a fifth of them in the default suite, all with `--hypothesis-profile=all`.

Which cases are drawn differs from run to run, so that the fifth of many runs is more than that of one.
"""

from __future__ import annotations

from hypothesis import HealthCheck, settings

#: Names of the profiles.
ALL, SOME = "all", "some"

_CASES = 100
_SHARE = 5
_FEWEST = 5

settings.register_profile(ALL, max_examples=_CASES, deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile(SOME, settings.get_profile(ALL), max_examples=_CASES // _SHARE)


def draws(cases: int, *allowed: HealthCheck) -> settings:
    """Settings of a test that draws so many cases where all are drawn, where a property test without settings draws 100.
    `allowed` are health checks that do not count."""
    few = -(-cases * settings().max_examples // _CASES)
    return settings(max_examples=max(few, min(cases, _FEWEST)), suppress_health_check=[HealthCheck.too_slow, *allowed])
