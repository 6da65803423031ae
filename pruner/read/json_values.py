"""A JSON value -> flat records: objects in objects, arrays of records, and records that are text in a field.

Receives JSON text, hands on dicts from a path such as `source.id` to text.
"""

from __future__ import annotations

import contextlib
import json
from collections.abc import Iterator
from typing import Any

#: Deeper objects are not looked into.
_DEEPEST = 8
Flat = dict[str, str | None]


def value_of(text: bytes | str) -> Any:
    """The value of a JSON text; numbers stay as they were written. Raises ValueError."""
    try:
        return json.loads(text, parse_int=str, parse_float=str, parse_constant=str)
    except RecursionError as error:
        raise ValueError("nested too deeply") from error


def flat_records(value: Any) -> list[Flat]:
    """The records that a value holds; none where it holds no object or array of cells."""
    if isinstance(value, dict):
        return list(_of_object(value))
    if not isinstance(value, list) or not value:
        return []
    if all(isinstance(inner, dict) for inner in value):
        return [record for inner in value for record in _of_object(inner)]
    if all(isinstance(inner, list) for inner in value):
        return _of_rows(value)
    return [_of_cells(value)] if not any(isinstance(inner, dict | list) for inner in value) else []


def _of_object(value: dict[str, Any]) -> Iterator[Flat]:
    """An object is a record; or it holds an array of them, or one array per column."""
    name, inner = _longest_array(value)
    if inner:
        around = _flat({key: other for key, other in value.items() if key != name})
        for record in flat_records(inner):
            yield {**around, **record}
        return
    columns = {key: cells for key, cells in value.items() if isinstance(cells, list) and cells}
    if len(columns) > 1 and len({len(cells) for cells in columns.values()}) == 1 and len(columns) == len(value):
        for cells in zip(*columns.values(), strict=True):
            yield {key: _text(cell) for key, cell in zip(columns, cells, strict=True)}
        return
    yield _flat(value)


def _longest_array(value: dict[str, Any], depth: int = 0) -> tuple[str, list[Any]]:
    """The longest array of objects or rows among the fields of an object, or in an object that is one of them."""
    found: tuple[str, list[Any]] = ("", [])
    for key, inner in value.items():
        candidate: list[Any] = []
        if isinstance(inner, list) and inner and all(isinstance(one, dict | list) for one in inner):
            candidate = inner
        elif isinstance(inner, dict) and depth < _DEEPEST:
            candidate = _longest_array(inner, depth + 1)[1]
        if len(candidate) > len(found[1]):
            found = key, candidate
    return found


def _of_rows(rows: list[list[Any]]) -> list[Flat]:
    first = [_text(cell) or "" for cell in rows[0]]
    if len(rows) > 1 and all(cell and not any(map(str.isdigit, cell)) for cell in first) and len(set(first)) == len(first):
        return [dict(zip(first, map(_text, row), strict=False)) for row in rows[1:]]
    return [_of_cells(row) for row in rows]


def _of_cells(row: list[Any]) -> Flat:
    return {f"column {number}": _text(cell) for number, cell in enumerate(row, start=1)}


def _flat(value: dict[str, Any], prefix: str = "", depth: int = 0) -> Flat:
    found: Flat = {}
    for key, inner in value.items():
        if isinstance(inner, str) and inner[:1] == "{":
            with contextlib.suppress(ValueError):
                inner = value_of(inner)
        if isinstance(inner, dict):
            if depth < _DEEPEST:
                found.update(_flat(inner, f"{prefix}{key}.", depth + 1))
        elif not isinstance(inner, list):
            found[prefix + key] = _text(inner)
    return found


def _text(value: Any) -> str | None:
    if isinstance(value, str):
        return value
    return None if value is None or isinstance(value, dict | list) else str(value).lower()
