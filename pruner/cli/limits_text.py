"""The table of limits for a terminal of 80 columns."""

from __future__ import annotations

from pruner.cli.text import number, paragraph, table
from pruner.library.limits import (
    NEXT_SIZE,
    LimitGroup,
    LimitRow,
    LimitTable,
    gain_words,
    lasts_words,
    of_dates,
    of_what,
    share_words,
    telling,
    title,
)

_HEAD = ("limit", "contacts", "countries", "calls named", "lasts until", "next size")


def limits_text(found: LimitTable) -> str:
    """A part of the table per group of radios that fill up alike, what follows for each, and what the columns are of."""
    notes = [
        *of_what(found.period_days, found.talkgroups, found.confidence),
        of_dates(found),
        f"{NEXT_SIZE} *: a radio of yours.",
    ]
    return "\n\n".join([*(_group(group) for group in found.groups), "\n".join(paragraph(note) for note in notes)])


def _group(group: LimitGroup) -> str:
    rows: list[tuple[str, ...]] = [_HEAD]
    shown, others = telling(group.rows)
    for row in shown:
        rows += _lines(row)
    lines = [paragraph(title(group)), "", table(rows, right=(0, 1, 2, 3, 5)), *([paragraph(others)] if others else []), ""]
    return "\n".join([*lines, *(paragraph(one) for one in (*group.advice, *(one for one in (group.why, group.end) if one)))])


def _lines(row: LimitRow) -> list[tuple[str, ...]]:
    """One row in two lines: what is likely, then its interval."""
    pairs = (share_words(row.to_come), lasts_words(row.lasts), gain_words(row.next_size))
    limit = ("* " if row.radios else "") + ("in bytes" if row.bytes else number(row.contacts))
    first, second = ([pair[place] for pair in pairs] for place in (0, 1))
    one = (limit, number(row.kept), number(row.countries), *first)
    two = ("", "", "", *second)
    return [one, two] if any(two) else [one]
