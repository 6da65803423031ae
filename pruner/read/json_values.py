"""A JSON value -> flat records: objects in objects, arrays of records, and records that are text in a field.

Receives JSON text, hands on dicts from a path such as `source.id` to text.
"""

from __future__ import annotations

import contextlib
import json
import re
from collections.abc import Iterator
from typing import Any, Final

#: Deeper objects are not looked into.
_DEEPEST: Final = 8
#: What the key is called under which records lie.
KEY: Final = "listed under"
#: So many keys with a digit each are those of records; records of one kind share so many of their fields.
_KEYED: Final = 3
_SHARED: Final = 0.6
#: What stands between values that follow each other (RFC 7464 has the sign 1E).
_BETWEEN: Final = re.compile(r"[\s,\x1e]*")
_DECODER: Final = json.JSONDecoder(parse_int=str, parse_float=str, parse_constant=str)
Flat = dict[str, str | None]
Path = tuple[str, ...]


def value_of(text: bytes | str) -> Any:
    """The value of a JSON text; numbers stay as they were written. Raises ValueError."""
    try:
        return json.loads(text, parse_int=str, parse_float=str, parse_constant=str)
    except RecursionError as error:
        raise ValueError("nested too deeply") from error


def values_of(text: str) -> list[Any]:
    """The values that follow each other in a text. Raises ValueError where one is damaged."""
    found, place = [], _end(text, 0)
    try:
        while place < len(text):
            value, place = _DECODER.raw_decode(text, place)
            found.append(value)
            place = _end(text, place)
    except RecursionError as error:
        raise ValueError("nested too deeply") from error
    return found


def _end(text: str, place: int) -> int:
    match = _BETWEEN.match(text, place)
    return match.end() if match else place


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
    """An object is a record; or it holds arrays of them, records under keys of their own, or one array per column."""
    arrays = _alike(list(_arrays(value)))
    if arrays:
        used = {path[0] if path else "" for path, _ in arrays}
        around = _flat({key: other for key, other in value.items() if key not in used}) if "" not in used else {}
        for name, inner in _named(arrays):
            for record in flat_records(inner):
                yield {**around, **name, **record}
        return
    columns = {key: cells for key, cells in value.items() if isinstance(cells, list) and cells}
    if len(columns) > 1 and len({len(cells) for cells in columns.values()}) == 1 and len(columns) == len(value):
        for cells in zip(*columns.values(), strict=True):
            yield {key: _text(cell) for key, cell in zip(columns, cells, strict=True)}
        return
    yield _flat(value)


def _arrays(value: dict[str, Any], path: Path = ()) -> Iterator[tuple[Path, list[Any]]]:
    """The arrays of objects or rows in an object, with the keys that lead there; records under keys are such an array."""
    if _is_keyed(value):
        yield path, [{KEY: key, **inner} for key, inner in value.items()]
        return
    for key, inner in value.items():
        if isinstance(inner, list) and inner and all(isinstance(one, dict | list) for one in inner):
            yield (*path, key), inner
        elif isinstance(inner, dict) and len(path) < _DEEPEST:
            yield from _arrays(inner, (*path, key))


def _is_keyed(value: dict[str, Any]) -> bool:
    if len(value) < _KEYED or not all(isinstance(inner, dict) and inner for inner in value.values()):
        return False
    has_arrays = any(isinstance(one, list) for inner in value.values() for one in inner.values())
    first = next(iter(value.values()))
    return not has_arrays and all(_has_digit(key) and _is_like(first, inner) for key, inner in value.items())


def _has_digit(key: str) -> bool:
    return any(map(str.isdigit, key))


def _is_like(one: Any, other: Any) -> bool:
    """Whether two values are records of one kind."""
    if not (isinstance(one, dict) and isinstance(other, dict)):
        return False
    return len(one.keys() & other.keys()) >= _SHARED * max(len(one.keys() | other.keys()), 1)


def _alike(arrays: list[tuple[Path, list[Any]]]) -> list[tuple[Path, list[Any]]]:
    """The longest array, and those whose records are of the same kind."""
    if not arrays:
        return []
    longest = max(arrays, key=lambda one: len(one[1]))
    return [one for one in arrays if one is longest or _is_like(longest[1][0], one[1][0])]


def _named(arrays: list[tuple[Path, list[Any]]]) -> Iterator[tuple[Flat, list[Any]]]:
    """Each array with the keys in which its way differs from those of the others, or with a date that leads to it."""
    for path, inner in arrays:
        own = [key for place, key in enumerate(path) if any(other[place : place + 1] != (key,) for other, _ in arrays)]
        own = own or [key for key in path if sum(map(str.isdigit, key)) >= 6]
        yield ({KEY: " ".join(own)} if own else {}), inner


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
