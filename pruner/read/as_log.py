"""Ids that come again and again, with times: a heard log, which is no directory.

Receives boards and opened tables, hands on yes or no, and the refusal.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from pruner.read.parts import Opened, parts_of
from pruner.table.board import ENOUGH_ROWS, Board
from pruner.table.kinds import Kind
from pruner.table.opened import Held
from pruner.table.refusals import naming
from pruner.words import schema
from pruner.words.errors import ColumnsError, InputRefusedError

#: In fewer rows ids may come again in a directory; with so few different ones they are those of a log; so many cells of a
#: column of times are such.
_ENOUGH, _REPEATED, _SURE = 10, 0.7, 0.8
#: A time of day and nothing else but a word.
_CLOCK: Final = re.compile(
    r"(?:[^\W\d]{1,8}\W{1,2})?\d{1,2}[:h]\d{2}(?:[:m]\d{2}(?:[.,]\d{1,6})?)?s?(?:\W{0,2}[^\W\d]{1,8}\.?){0,2}"
)
#: Why a table is refused whose ids come as those of a log do.
AS_IN_A_LOG: Final = "come again and again, with times: this is a heard log"


def has_times(board: Board, ids: int) -> bool:
    """Whether another column than that of ids holds times of calls: times with hardly a repetition, or times of day (in a log
    whose dates stand apart), of which some differ."""
    from pruner.read.heard_kind import time_cells  # for tables whose ids come again

    return any(
        place != ids
        and column.filled
        and (
            (len(column.counts) >= ENOUGH_ROWS and column.share_of_texts(_is_clock) > _SURE)
            or (column.distinct_share > _SURE and time_cells(board, place) > _SURE)
        )
        for place, column in enumerate(board.columns)
    )


def _is_clock(cell: str) -> bool:
    return _CLOCK.fullmatch(cell) is not None


def repeated_ids(rows: int, ids: int) -> bool:
    """Whether so few different ids stand in so many rows as in a log."""
    return rows >= _ENOUGH and ids < _REPEATED * rows


def refuse_logs(
    path: Path | Held, kind: Kind, best: Opened, found: Sequence[Opened], refusals: Sequence[InputRefusedError]
) -> None:
    """Raises InputRefusedError where the tables of a file are a heard log together, each of which may be too short to be known
    as one; or where one of them is, and the table that is left has no call signs."""
    if not kind.refuses_logs:
        return
    parts = parts_of(best, found)
    rows, ids = sum(one.rows for one in parts), len(frozenset[str]().union(*(one.ids for one in parts)))
    if len(parts) > 1 and repeated_ids(rows, ids) and best.has_times():
        use = next((use for use in best.understanding.columns if use.meaning == schema.ID), best.understanding.columns[0])
        advice = naming(str(path), kind.setting, use.meaning, [use.answer])
        condition = f"if it is {kind.table}, say so"
        raise ColumnsError(
            f"{path}: the ids in its {len(parts)} tables {AS_IN_A_LOG}",
            f"{condition}, {advice[0]}",
            f"{condition}: {advice[1]}",
        )
    if schema.CALLSIGN not in {use.meaning for use in best.understanding.columns}:
        for error in refusals:
            if AS_IN_A_LOG in str(error):
                raise error
