"""What rules ask for as a directory grows.

Receives what each rule owns today, hands on how many contacts all of them ask for in a directory of any size, and the size from
which on they ask for more than there is room for. Each rule keeps its share of the directory; one that names stations (a list,
ids, entries that a radio carries) stays as it is, one that takes only its first contacts asks for no more than these.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from pruner.account.limit_rows import wanted_in
from pruner.account.summary import Summary

#: Contacts of today, and how many it can become at most (None: any number).
Part = tuple[float, float | None]
#: A directory that comes out as the limit itself is not over it.
_DIGITS = 6
#: Sums of shares are not exact; contacts are whole.
_LEAST_MORE = 1e-6


@dataclass(frozen=True, slots=True)
class Want:
    """A part of what the rules ask for: `share` of the directory, but never more than `most` contacts; and `fixed` contacts,
    whatever its size."""

    share: float
    most: float = math.inf
    fixed: float = 0.0


@dataclass(frozen=True, slots=True)
class Owned:
    """A rule: the contacts that it owns, how many it takes at most (None: all), whether they grow with the directory."""

    contacts: int
    at_most: int | None = None
    grows: bool = True


def parts_of(rules: Iterable[Owned], wanted: int) -> list[Part]:
    """What rules ask for today, in few parts. `wanted`: contacts that they ask for in all, without those
    whose call sign another one bears already, where that counts."""
    fixed = 0.0
    capped: list[Part] = []
    for rule in rules:
        taken = rule.contacts if rule.at_most is None else min(rule.contacts, rule.at_most)
        if not rule.grows:
            fixed += taken
        elif rule.at_most is not None:
            capped.append((rule.contacts, rule.at_most))
    parts: list[Part] = [*capped, *([(fixed, fixed)] if fixed else [])]
    settled = sum(min(count, most) for count, most in parts if most is not None)
    growing = max(wanted - settled, 0.0)
    return [*([(growing, None)] if growing or not parts else []), *parts]


def parts_in(summary: Summary) -> list[Part]:
    """The same of a finished fit."""
    return parts_of((Owned(rule.owned, rule.at_most, rule.grows) for rule in summary.rules), wanted_in(summary))


def wants_of(parts: Sequence[Sequence[float | None]], directory: int) -> tuple[Want, ...]:
    """Parts of today as wants; `directory`: the contacts of today."""
    return tuple(
        Want(0.0, fixed=count or 0.0) if count == most else Want((count or 0.0) / directory, math.inf if most is None else most)
        for count, most in parts
    )


def asked_for(wants: Sequence[Want], directory: float) -> float:
    """Contacts that are asked for in a directory of this size."""
    return sum(want.fixed + min(want.share * directory, want.most) for want in wants)


def outgrown_at(wants: Sequence[Want], contacts: int) -> float:
    """The directory above which more contacts are asked for than these; infinite where that never comes."""
    ends = sorted({want.most / want.share for want in wants if want.share and math.isfinite(want.most)})
    size, reached = 0.0, sum(want.fixed for want in wants)
    if reached > contacts:
        return 0.0
    for end in (*ends, math.inf):
        # Between two ends the sum is a line.
        rate = sum(want.share for want in wants if want.share and want.most / want.share >= end)
        more = rate * (end - size) if rate else 0.0
        if reached + more > contacts + _LEAST_MORE:
            return round(size + (contacts - reached) / rate, _DIGITS)
        size, reached = end, reached + more
    return math.inf
