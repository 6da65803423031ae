"""How many rows of a source may be unreadable.

Receives a source and its rows, raises where a fit refuses them; hands on why a refresh, which is stricter, would.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from pruner.account.rejected import RejectedRow
from pruner.job.collect import NAMES_NOBODY, SourceRows
from pruner.read.kinds import STATIONS
from pruner.settings.models import Source
from pruner.table.refusals import naming
from pruner.words import schema
from pruner.words.errors import ColumnsError, InputRefusedError

#: So many bad rows never refuse a source half of whose rows can be read.
SLACK: Final = 10


def beyond_share(source: Source, rows: SourceRows) -> str:
    """Why a refresh refuses a source for its unreadable rows, which are counted all, however few; "" where it does not."""
    bad, read = len(rows.rejected), len(rows.number)
    if bad <= source.rejected_share_at_most * read:
        return ""
    return f"source {source.name!r}: {_place(source)}: {_too_many(source, bad, read, rows.rejected[0])}"


def _too_many(source: Source, bad: int, read: int, first: RejectedRow) -> str:
    return (
        f"{bad:,} of {read:,} rows cannot be read (the first on line {first.line}: {first.detail}); more than "
        f"rejected_share_at_most = {source.rejected_share_at_most} allows; mend the rows, or raise it under [[source]] "
        f"{source.name!r} to what such a file may have"
    )


def _place(source: Source) -> str:
    if not source.is_remote:
        return source.location
    from pruner.sources.location import shown  # for the few that are addresses

    return shown(source.location)


def guard_rejected(source: Source, rows: SourceRows) -> None:
    """Refuses a source that was read as something else than it is.

    So many rows as `SLACK` may always be bad where at least half of all are good, so that a short list is not refused for a
    few; rows that name nobody count only where they are more than half.
    """
    read = len(rows.number)
    if not read:
        raise InputRefusedError(f"{source.location}: has headings but no rows; expected a table of stations")
    nameless = sum(row.detail == NAMES_NOBODY for row in rows.rejected)
    bad = len(rows.rejected) - nameless
    few = bad <= SLACK and 2 * len(rows.rejected) <= read
    if not few and bad > source.rejected_share_at_most * read:
        first = next(row for row in rows.rejected if row.detail != NAMES_NOBODY)
        raise InputRefusedError(f"{source.location}: {_too_many(source, bad, read, first)}")
    if 2 * len(rows.rejected) > read:
        first = rows.rejected[0]
        raise InputRefusedError(
            f"{source.location}: {len(rows.rejected):,} of {read:,} rows cannot be used (the first on line {first.line}: "
            f"{first.detail}); check which column holds what: {rows.understanding.sentence()}"
        )
    _guard_ids(source, rows)


def _guard_ids(source: Source, rows: SourceRows) -> None:
    """Refuses a dmr directory most of whose ids, in the column that was taken for them, are not of six or seven digits."""
    if rows.system != "dmr" or schema.ID in source.columns:
        return
    number = rows.number[rows.station]
    likely = int(np.count_nonzero((number >= 100_000) & (number <= 9_999_999)))
    if len(number) > SLACK and 2 * likely < len(number):
        column = next(use for use in rows.understanding.columns if use.meaning == schema.ID)
        name = repr(column.heading) if column.heading else f"column {column.number}"
        by_command, in_python = naming(source.location, STATIONS.setting, schema.ID, [column.answer])
        raise ColumnsError(
            f"{source.location}: {len(number) - likely:,} of {len(number):,} ids are not of six or seven digits, as those of "
            f"dmr stations are; they were taken from {name}",
            f"if that is right, say so, {by_command}",
            f"if that is right, say so: {in_python}",
        )
