"""Why a table is refused, and what to paste to have it read: one line for a terminal, one for Python.

Receives what was identified of a file, hands on the error.
"""

from __future__ import annotations

import json
import shlex
from collections.abc import Callable, Sequence
from pathlib import PurePath
from typing import Final

from pruner.table.board import Board
from pruner.table.choices import Identified
from pruner.table.facts import country_of_id
from pruner.table.kinds import Kind
from pruner.table.understanding import answer_for, column_name, shown
from pruner.words.errors import ColumnsError
from pruner.words.number import has_exponent, whole_number

_SHOWN_RIVALS: Final = 4
#: Behind the code of a country an id of a person has four digits (common practice, no source).
_LARGEST_REST: Final = 9999
#: So many cells of a column of numbers with exponents are such numbers.
_ROUNDED: Final = 0.5


def refusal(where: str, board: Board, found: Identified, kind: Kind, line: int | None = None) -> ColumnsError:
    """Why a table is refused, what stands in its columns, and what to paste to have it read."""
    place = f"{where}: line {line}" if line else where
    rivals = next(iter(found.rivals.items()), None)
    if rivals and "may hold" in found.trouble:
        meaning, places = rivals
        columns = " or ".join(f"{column_name(board, place)!r} ({_example(board, place)})" for place in places)
        keys = kind.plurals.get(meaning, meaning)
        advice = _to_paste(where, board, kind, meaning, places)
        return ColumnsError(f"{place}: {columns} may hold the {keys}", *advice)
    rounded = _rounded(board, found)
    if rounded is not None:
        column = f"{column_name(board, rounded)!r} ({_example(board, rounded)})"
        again = "export again with that column as text"
        return ColumnsError(f"{place}: a spreadsheet rounded the {kind.keys} in {column}, digits are lost", again, again)
    parted = _parted(board, found)
    if parted is not None:
        code, rest = (f"{column_name(board, place)!r} ({_example(board, place)})" for place in parted)
        again = "put both into one column, the rest with four digits (232 and 7 are 2320007), and export again"
        return ColumnsError(
            f"{place}: the ids stand in two parts, the code of a country in {code}, the rest in {rest}", again, again
        )
    seen = ", ".join(f"{column_name(board, place)} ({_example(board, place)})" for place in range(min(8, len(board.columns))))
    return ColumnsError(f"{place}: {found.trouble} (found: {seen})", *_to_name(where, board, found, kind))


def _rounded(board: Board, found: Identified) -> int | None:
    """The column of ids, or the first that is nothing else, of numbers with exponents of which some have lost digits."""
    taken = [choice.position for meaning, choice in found.choices.items() if meaning != "id"]
    for place, column in enumerate(board.columns):
        lost = any(has_exponent(cell) and whole_number(cell) < 0 for cell in column.counts)
        if place not in taken and lost and column.share_of_texts(has_exponent) >= _ROUNDED:
            return place
    return None


def _parted(board: Board, found: Identified) -> tuple[int, int] | None:
    """The columns of codes of countries and of what follows them in ids of seven digits, where each has one of the two."""
    rest = found.choices.get("id")
    if rest is None or board.system != "dmr" or not _are(board, rest.position, lambda number: 0 <= number <= _LARGEST_REST):
        return None
    others = [place for place in range(len(board.columns)) if place != rest.position]
    code = next((place for place in others if _are(board, place, _is_code)), None)
    return None if code is None else (code, rest.position)


def _are(board: Board, place: int, is_such: Callable[[int], bool]) -> bool:
    column = board.columns[place]
    return column.filled == board.rows > 0 and column.share_of_texts(lambda cell: is_such(whole_number(cell))) == 1


def _is_code(number: int) -> bool:
    return 100 <= number <= 999 and country_of_id(number * (_LARGEST_REST + 1)) > 0


def _to_name(where: str, board: Board, found: Identified, kind: Kind) -> tuple[str, str]:
    """What to paste: the column that was taken but does not convince, else a place for each that was not found."""
    missing = [name for name in kind.hint if name not in found.choices]
    is_missing = any(not set(names) & set(found.choices) for names in kind.needed)
    condition = f"if it is {kind.table},"
    if not is_missing and kind.hint[0] in found.choices:
        advice = _to_paste(where, board, kind, kind.hint[0], [found.choices[kind.hint[0]].position])
        return f"{condition} {advice[0]}", f"{condition} {advice[1]}"
    answers = ", ".join(f'{meaning} = "its heading or position"' for meaning in missing)
    option = shlex.quote(f"{file_name(where)}:{missing[0]}=HEADING-OR-POSITION")
    in_python = ", ".join(f'"{meaning}": "its heading or position"' for meaning in missing)
    return (
        f"{condition} name the columns in the settings: {kind.setting} = {{ {answers} }}, or: --column {option}",
        f"{condition} name the columns: {kind.setting}={{{in_python}}}",
    )


def _to_paste(where: str, board: Board, kind: Kind, meaning: str, places: list[int]) -> tuple[str, str]:
    answers = [answer_for(board, place) for place in places[:_SHOWN_RIVALS]]
    said = "say which" if len(places) > 1 else "say so"
    by_command, in_python = naming(where, kind.setting, meaning, answers)
    return f"{said}, {by_command}", f"{said}: {in_python}"


def naming(where: str, setting: str, meaning: str, answers: Sequence[str | int]) -> tuple[str, str]:
    """What says which of some columns holds something: in the settings and on the command line, and in Python."""
    written = [json.dumps(answer, ensure_ascii=False) for answer in answers]
    settings = " or ".join(f"{setting} = {{ {meaning} = {answer} }}" for answer in written)
    options = " or ".join(f"--column {shlex.quote(f'{file_name(where)}:{meaning}={answer}')}" for answer in answers)
    in_python = " or ".join(f'{setting}={{"{meaning}": {answer}}}' for answer in written)
    return f"in the settings: {settings}; or on the command line: {options}", in_python


def file_name(where: str) -> str:
    """The name of a file, as options may give it."""
    return shown(PurePath(where).name)


def _example(board: Board, place: int) -> str:
    cell = next((cell for cell in board.columns[place].cells if cell), "")
    return shown(cell)[:24] or "empty"
