"""What a refusal says to paste names the column beyond doubt, for the settings and for the command line."""

from __future__ import annotations

import ast
import shlex
import tomllib

from pruner.cli.columns import Table, columns_of
from pruner.read.heard_kind import HEARD
from pruner.read.kinds import EXPORT, STATIONS
from pruner.read.list_kind import LIST
from pruner.table.board import Board
from pruner.table.choices import Identified
from pruner.table.identify import identify
from pruner.table.refusals import refusal
from pruner.table.understanding import answer_for
from pruner.words.errors import ColumnsError

OLD, NEW = [str(2320001 + 977 * n + n * n) for n in range(20)], [str(2321004 + 991 * n + n * n) for n in range(20)]
ROWS = [[old, new, f"OE1AA{chr(65 + n)}"] for n, (old, new) in enumerate(zip(OLD, NEW, strict=True))]


def rivals(headings: list[str] | None) -> tuple[Board, Identified]:
    board = Board(headings, ROWS, "dmr")
    found = identify(board, STATIONS, {})
    assert "may hold" in found.trouble
    return board, found


def pasted(error: ColumnsError) -> tuple[list[dict[str, str | int]], list[str]]:
    """What stands behind each key of the settings, and each answer of the command line; Python has what the settings have."""
    settings, options = str(error).partition("in the settings: ")[2].split("; or on the command line: ")
    key = settings.partition(" ")[0]
    tables = [tomllib.loads(one)[key] for one in settings.split(" or ")]
    in_python = error.in_python.partition(": " + key)[2]
    assert [ast.literal_eval(one.removeprefix(key).removeprefix("=")) for one in in_python.split(" or ")] == tables
    assert "--column" not in error.in_python
    return tables, [word for word in shlex.split(options) if "=" in word]


def test_headings_that_say_it_are_pasted() -> None:
    tables, options = pasted(refusal("x/two.csv", *rivals(['left "id"', "right id's", "who"]), STATIONS))
    assert tables == [{"id": 'left "id"'}, {"id": "right id's"}]
    assert [columns_of([one], [Table(("two.csv",))]) for one in options] == [[table] for table in tables]


def test_positions_are_pasted_where_headings_do_not_say_it() -> None:
    for headings in (["", "", ""], None, ["17", "18", "19"], ["id \x1b[2J", "id " + 60 * "x", "who"]):
        board, found = rivals(headings)
        error = refusal("two.csv", board, found, STATIONS)
        tables, options = pasted(error)
        assert tables == [{"id": 1}, {"id": 2}], headings
        assert options == ["two.csv:id=1", "two.csv:id=2"]
        assert str(error).isprintable()
        assert error.in_python.isprintable()


def test_answers_name_one_column() -> None:
    board = Board(["Radio ID", "radio-id", "  Call ", "2"], [["1", "2", "3", "4"]], "dmr")
    assert [answer_for(board, place) for place in range(4)] == [1, 2, "Call", 4]


def test_each_kind_has_its_key_and_the_column_that_was_taken_is_named() -> None:
    board = Board(["Id", "Call"], [[str(3 + n), f"A{n}A"] for n in range(9)], "dmr")
    for kind, key in ((STATIONS, "columns"), (EXPORT, "carried_columns")):
        found = identify(board, kind, {})
        tables, options = pasted(refusal("my list.csv", board, found, kind))
        assert (tables, options) == ([{"id": "Id"}], ["my list.csv:id=Id"])
        assert f"in the settings: {key} = " in str(refusal("my list.csv", board, found, kind))
    nothing = Board(["a", "b"], [["x", "y"]] * 5, "dmr")
    said = str(refusal("l.csv", nothing, identify(nothing, LIST, {}), LIST))
    assert 'list_columns = { id = "its heading or position" }, or: --column l.csv:id=HEADING-OR-POSITION' in said
    said = str(refusal("h.csv", board, identify(board, HEARD, {}), HEARD))
    assert "--column h.csv:talkgroup=HEADING-OR-POSITION" in said
