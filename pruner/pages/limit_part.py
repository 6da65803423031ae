"""What a page says of other limits: whether a larger radio is worth it.

Receives a summary and until when its limits last, hands on rows and sentences.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from pruner.account.limit_rows import group_of
from pruner.account.limits import LEVEL, Lasts
from pruner.account.limits_text import NEXT_SIZE, dates_words, gain_words, lasts_words, of_what, share_words, telling, title
from pruner.account.summary import Summary

_NO_DATES: Final = (
    "lasts until: only whether the radio is full today. When it will be is told by pruner limits, and by pruner report, which "
    "makes this page anew."
)


@dataclass(frozen=True, slots=True)
class LimitCells:
    """A limit, what it holds, and in words what is likely and its interval: of the calls to come, until when it lasts, what the
    next size gains."""

    contacts: int
    kept: int
    countries: int
    named: tuple[str, str]
    lasts: tuple[str, str]
    gain: tuple[str, str]
    is_own: bool


@dataclass(frozen=True, slots=True)
class LimitPart:
    """Other limits, what follows for this radio, and what the columns are of."""

    title: str
    rows: list[LimitCells]
    advice: list[str]
    notes: list[str]


def limit_part(summary: Summary, lasting: Sequence[Lasts] | None) -> LimitPart | None:
    """Other limits for the radio of a summary; `lasting` None: without dates. None where there is nothing to say."""
    group = group_of(summary, lasting)
    if group is None:
        return None
    ahead = summary.coverage.to_come if summary.coverage else None
    shown, others = telling(group.rows)
    rows = [
        LimitCells(
            row.contacts,
            row.kept,
            row.countries,
            share_words(row.to_come),
            lasts_words(row.lasts),
            gain_words(row.next_size),
            bool(row.radios),
        )
        for row in shown
    ]
    of = (ahead.period_days, ahead.talkgroups, ahead.confidence) if ahead else (None, None, None)
    notes = [*of_what(*of), _NO_DATES if lasting is None else f"{dates_words(LEVEL)}.", NEXT_SIZE]
    return LimitPart(
        title(group),
        rows,
        [*([others] if others else []), *group.advice, *(one for one in (group.why, group.end) if one)],
        notes,
    )
