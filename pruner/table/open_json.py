"""A JSON text -> the tables that it may be: lists of records under any key, keyed records, lines, columns, rows of cells.

Receives the text as blocks that can be had again, hands on tables.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import partial
from itertools import islice
from typing import Any, Final

import numpy as np

from pruner.table.cells import as_csv
from pruner.table.headings import sense_of
from pruner.table.json_marks import OPEN_LIST, OPEN_OBJECT, Piece, line_pieces, list_pieces, marks, steps
from pruner.table.json_rows import KEY_COLUMN, Path, flat, parsed, paths_of, record_of, run_of
from pruner.table.json_shape import ENOUGH, Container, candidates_of, containers_of, is_lines, records_around
from pruner.table.opened import MOST_NAMES, SAMPLE_ROWS, Blocks, ColumnTable, Run, Table, TextTable, label_in, shown
from pruner.words.errors import InputRefusedError

Pieces = Callable[[], Iterator[Piece]]
#: What is read as a whole (columns side by side, one record) is not longer than this.
_LARGEST_WHOLE: Final = 256 << 20
_LONGEST_HEADING: Final = 1 << 20
#: So many values by key are a table.
_LEAST_PAIRS: Final = 3
#: What the name of a column is called in the description of columns.
_NAMES: Final = ("label", "title", "name", "text", "field", "key", "id")
_ERRORS: Final = ("error", "errors", "message", "detail", "details", "fault", "reason", "status")


def open_json(text: Blocks, start: bytes, label: str, where: str) -> list[Table]:
    """The tables of a JSON text that begins with `start`. Raises InputRefusedError where there is none."""
    if is_lines(start):
        first = start.lstrip()[:1]
        if first == b"[":
            return [TextTable(label, partial(_rows, partial(_line_pieces, text, where), None), is_exact=True)]
        return [_records(label, partial(_line_pieces, text, where), has_keys=False)]
    found = containers_of(text(), where)
    candidates = candidates_of(found)
    tables = [
        table
        for container in candidates
        if not any(one.size > container.size and _lies_in(one, container) for one in candidates if records_around(one) is None)
        and (table := _table(text, container, found, label, where)) is not None
    ]
    return tables or [_single(text, label, where)]


def _lies_in(container: Container, other: Container) -> bool:
    above = container.parent
    while above is not None and above is not other:
        above = above.parent
    return above is other


def _table(text: Blocks, container: Container, found: list[Container], label: str, where: str) -> Table | None:
    name = label_in(label, container.label)
    pieces = partial(_list_pieces, text, container, where)
    if container.objects:
        return _records(name, pieces, has_keys=container.kind == OPEN_OBJECT)
    if container.kind == OPEN_LIST:
        heading = _heading_of(text, container, found)
        return TextTable(name, partial(_rows, pieces, heading), is_exact=True)
    columns = partial(_columns, text, container, where)
    return TextTable(name, columns, is_exact=True) if _widths(text, container, where) else None


def _list_pieces(text: Blocks, container: Container, where: str) -> Iterator[Piece]:
    return list_pieces(text(), container.begin, container.kind, where)


def _line_pieces(text: Blocks, where: str) -> Iterator[Piece]:
    return line_pieces(text(), where)


def _records(label: str, pieces: Pieces, *, has_keys: bool) -> ColumnTable:
    """A table of records; its names are those of the records looked at."""
    first: list[tuple[dict[str, str | None], str]] = []
    paths: dict[str, set[Path]] = {}
    for piece in islice(pieces(), 1):
        texts = piece.elements()
        for place in _spread(len(texts)):
            record, _ = record_of(texts[place])
            if record is None:
                continue
            first.append((flat(record), piece.keys[place] if piece.keys else ""))
            for name, path in paths_of(record):
                paths.setdefault(name, set()).add(path)
    names = list(dict.fromkeys(name for values, _ in first for name in values))[:MOST_NAMES]
    key_column = ""
    if has_keys and first and not any(all(values.get(name) == key for values, key in first) for name in names):
        key_column = KEY_COLUMN if KEY_COLUMN not in names else "key of the record"
        names = [key_column, *names]
    sample = [[(key if name == key_column else values.get(name)) or "" for name in names] for values, key in first]
    plain = {name: next(iter(found)) for name, found in paths.items() if len(found) == 1 and () not in found}
    return ColumnTable(label, names, sample, partial(_runs, pieces, key_column, plain))


def _spread(count: int) -> list[int]:
    """So many places as are looked at: the first ones, and others from everywhere."""
    half = SAMPLE_ROWS // 2
    if count <= SAMPLE_ROWS:
        return list(range(count))
    return [*range(half), *(half + place * (count - half) // half for place in range(half))]


def _runs(pieces: Pieces, key_column: str, plain: Mapping[str, Path], wanted: Sequence[str]) -> Iterator[Callable[[], Run]]:
    is_plain = all(name in plain or name == key_column for name in wanted)
    paths = {name: plain[name] for name in wanted if name != key_column} if is_plain else None
    for piece in pieces():
        yield partial(run_of, piece, list(wanted), key_column, paths)


def _rows(pieces: Pieces, heading: list[Any] | None) -> Iterator[bytes]:
    """Rows of cells as delimited text; one that is no list is one cell."""

    def rows() -> Iterator[Sequence[object]]:
        if heading is not None:
            yield heading
        for piece in pieces():
            for element in piece.elements():
                try:
                    cells = parsed(element)
                except (ValueError, RecursionError):
                    cells = element.decode(errors="replace")
                yield [_cell(cell) for cell in cells] if isinstance(cells, list) else [_cell(cells)]

    return as_csv(rows())


def _cell(cell: object) -> object:
    return json.dumps(cell, ensure_ascii=False) if isinstance(cell, (dict, list)) else cell


def _heading_of(text: Blocks, container: Container, found: list[Container]) -> list[Any] | None:
    """The list of texts beside rows of cells that is as long as a row (columns beside data)."""
    beside = [
        one
        for one in found
        if one.parent is container.parent and one is not container and one.kind == OPEN_LIST and not one.lists
    ]
    if not beside or container.parent is None or container.parent.kind != OPEN_OBJECT:
        return None
    first = next(one for one in found if one.parent is container)
    whole = _whole(text, "", max(one.begin for one in (*beside, first)) + _LONGEST_HEADING)
    width = len(_value_at(whole, first.begin) or ())
    for one in beside:
        texts = _texts(_value_at(whole, one.begin))
        if len(texts) == width > 0:
            return texts
    return None


def _texts(value: Any) -> list[Any]:
    """The texts of a list that holds nothing else, or the names of columns that are described by an object each."""
    if not isinstance(value, list):
        return []
    if all(isinstance(cell, dict) for cell in value):
        name = next((name for name in _NAMES if value and all(isinstance(cell.get(name), str) for cell in value)), "")
        value = [cell[name] for cell in value] if name else []
    return value if all(isinstance(cell, str) for cell in value) else []


def _whole(text: Blocks, where: str, until: int | None) -> bytes:
    """The text up to a position, or as far as anything is read as a whole."""
    taken: list[bytes] = []
    size = 0
    for block in text():
        taken.append(block)
        size += len(block)
        if until is not None and size >= until:
            break
        if size > _LARGEST_WHOLE:
            if where:
                raise InputRefusedError(
                    f"{where}: longer than {_LARGEST_WHOLE >> 20} MiB and no list of records; write one record per line"
                )
            break
    return b"".join(taken)


def _value_at(whole: bytes, place: int) -> Any:
    """The list or object that begins at a position of a text; None where it is damaged."""
    text = whole[place:] if place else whole
    places, codes = marks(text)
    ends = np.flatnonzero(np.cumsum(steps(codes)) == 0)
    try:
        return parsed(text[: int(places[ends[0]]) + 1]) if len(ends) else None
    except (ValueError, RecursionError):
        return None


def _widths(text: Blocks, container: Container, where: str) -> bool:
    """Whether the lists of an object are columns: most of them equally long, and longer than nothing."""
    lists = _lists_at(text, container, where)
    return bool(lists) and len(next(iter(lists.values()))) > 0


def _lists_at(text: Blocks, container: Container, where: str) -> dict[str, list[Any]]:
    value = _value_at(_whole(text, where, None), container.begin)
    if not isinstance(value, dict):
        return {}
    lists = {name: cells for name, cells in value.items() if isinstance(cells, list)}
    lengths = [len(cells) for cells in lists.values()]
    common = max(set(lengths), key=lambda length: (lengths.count(length), length), default=0)
    return {name: cells for name, cells in lists.items() if len(cells) == common} if lengths.count(common) > 1 else {}


def _columns(text: Blocks, container: Container, where: str) -> Iterator[bytes]:
    lists = _lists_at(text, container, where)
    yield from as_csv([list(lists)])
    yield from as_csv(zip(*lists.values(), strict=True))


def _single(text: Blocks, label: str, where: str) -> Table:
    """The table of a text without lists of records: one record, or values by key. Raises InputRefusedError where it is none."""
    whole = _whole(text, where, None)
    value = _value_at(whole, len(whole) - len(whole.lstrip()))
    if value is None:
        raise InputRefusedError(f"{where}: the JSON text is damaged or ends early; get the file again")
    plain = _plain_list(value)
    if plain:
        return TextTable(label, lambda: as_csv([one] for one in plain))
    if not isinstance(value, dict) or not any(flat(value).values()):
        raise InputRefusedError(f"{where}: the JSON text holds no records; expected a list of records")
    said = next((value[name] for name in value if name.casefold() in _ERRORS and value[name]), None)
    if said is not None and len(value) < ENOUGH:
        raise InputRefusedError(
            f"{where}: this is an answer, not a table: {shown(json.dumps(said, ensure_ascii=False), 120)!r}"
        )
    if all(isinstance(one, (str, bool, type(None))) for one in value.values()) and all(key.strip().isdigit() for key in value):
        return TextTable(label, partial(as_csv, [("key", "value"), *value.items()]), is_exact=True)
    if _are_pairs(value):
        return TextTable(label, partial(as_csv, value.items()), is_exact=True)
    return _records(label, partial(_whole_pieces, text, where), has_keys=False)


def _plain_list(value: Any) -> list[Any]:
    """The texts and numbers of a list that holds nothing else, also where an object holds one such list; else none."""
    lists = [one for one in value.values() if isinstance(one, list)] if isinstance(value, dict) else [value]
    found = lists[0] if len(lists) == 1 and isinstance(lists[0], list) else []
    return found if all(isinstance(one, (str, int)) and not isinstance(one, bool) for one in found) else []


def _are_pairs(value: dict[str, Any]) -> bool:
    """Whether values by key are rows of two cells, of one kind each, and no record: its keys would be headings."""
    if len(value) < _LEAST_PAIRS or not all(
        isinstance(one, (str, int)) and not isinstance(one, bool) for one in value.values()
    ):
        return False
    headings = sum(bool(sense_of(key).classes) for key in value)
    numbers = sum(isinstance(one, int) or one.strip().isdigit() for one in value.values())
    return 2 * headings < len(value) and numbers in (0, len(value))


def _whole_pieces(text: Blocks, where: str) -> Iterator[Piece]:
    return list_pieces(text(), -1, 0, where)
