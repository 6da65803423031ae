"""What this tool wrote on a disk, read back: JSON -> frozen dataclasses, every value checked against its field.

Receives bytes or a parsed value and a dataclass, hands on an instance of it. A key that no field names is passed over (later
releases may add some), one that is missing has the field's default.
"""

from __future__ import annotations

import contextlib
import dataclasses
import datetime
import functools
import json
import types
import typing
from collections.abc import Callable, Mapping
from typing import Any, Final, TypeVar, cast

Kind = TypeVar("Kind")
Check = Callable[[object, str], object]
#: Whole numbers of more than 64 bits stand in no file of ours.
_MOST: Final = 1 << 63


class StoredError(ValueError):
    """A value that was not written so: where it stands, what was expected and what was found, without its text."""


def stored(kind: type[Kind], content: bytes) -> Kind:
    """The instance of a dataclass that JSON holds. Raises StoredError where it is no JSON or a value is another one."""
    return checked(kind, parsed(content))


def parsed(content: bytes) -> object:
    """The value that JSON holds. Raises StoredError where it is none."""
    try:
        value: object = json.loads(content)
    except (ValueError, RecursionError):
        raise StoredError("expected JSON, found other text or an end in the middle") from None
    return value


def checked(kind: type[Kind], value: object) -> Kind:
    """The instance of a dataclass that a table of JSON describes.

    Fields may be texts, whole and decimal numbers, truth values, dates (ISO 8601), dataclasses, `tuple[X, ...]`,
    `Mapping[str, X]` and each of them or None. Raises StoredError where a value is another one.
    """
    return cast(Kind, _table(cast(Any, kind))(value, ""))


def schema_of(value: object) -> int:
    """The version in which a table of JSON was written. Raises StoredError where it names none."""
    return checked(_Schema, value).schema


def reason_of(error: OSError | StoredError) -> str:
    """What is wrong with a file that could not be read back."""
    return error.strerror or str(error) if isinstance(error, OSError) else str(error)


@dataclasses.dataclass(frozen=True, slots=True)
class _Schema:
    schema: int


@functools.cache
def _table(kind: Any) -> Check:
    hints = typing.get_type_hints(kind)
    fields = [(one.name, _check(hints[one.name]), _is_needed(one)) for one in dataclasses.fields(kind)]

    def check(value: object, place: str) -> object:
        if not isinstance(value, dict):
            raise _wrong(place, "a table", value)
        found = {}
        for name, inner, is_needed in fields:
            if name in value:
                found[name] = inner(value[name], f"{place}.{name}" if place else name)
            elif is_needed:
                raise StoredError(f"expected {name!r}{f' in {place}' if place else ''}, found none")
        return kind(**found)

    return check


def _is_needed(field: dataclasses.Field[object]) -> bool:
    return field.default is dataclasses.MISSING and field.default_factory is dataclasses.MISSING


def _check(hint: object) -> Check:
    if hint in _PLAIN:
        return _PLAIN[hint]
    if isinstance(hint, type) and dataclasses.is_dataclass(hint):
        return _table(hint)
    origin, inner = typing.get_origin(hint), typing.get_args(hint)
    if origin is tuple:
        return _list(_check(inner[0])) if inner[-1] is ... else _row([_check(one) for one in inner])
    if origin is Mapping:
        return _mapping(_check(inner[1]))
    if origin in (types.UnionType, typing.Union) and len(inner) == 2 and inner[1] is types.NoneType:
        return _or_none(_check(inner[0]))
    raise TypeError(f"no stored value is a {hint}")


def _list(inner: Check) -> Check:
    def check(value: object, place: str) -> object:
        if not isinstance(value, list):
            raise _wrong(place, "a list", value)
        return tuple(inner(one, f"{place}[{index}]") for index, one in enumerate(value))

    return check


def _row(inner: list[Check]) -> Check:
    def check(value: object, place: str) -> object:
        if not isinstance(value, list) or len(value) != len(inner):
            raise _wrong(place, f"a list of {len(inner)}", value)
        return tuple(one(cell, f"{place}[{index}]") for index, (one, cell) in enumerate(zip(inner, value, strict=True)))

    return check


def _mapping(inner: Check) -> Check:
    def check(value: object, place: str) -> object:
        if not isinstance(value, dict):
            raise _wrong(place, "a table", value)
        return {key: inner(one, place) for key, one in value.items()}

    return check


def _or_none(inner: Check) -> Check:
    return lambda value, place: None if value is None else inner(value, place)


def _text(value: object, place: str) -> object:
    if isinstance(value, str):
        return value
    raise _wrong(place, "a text", value)


def _whole(value: object, place: str) -> object:
    if isinstance(value, int) and not isinstance(value, bool) and -_MOST <= value < _MOST:
        return value
    raise _wrong(place, "a whole number", value)


def _decimal(value: object, place: str) -> object:
    if isinstance(value, int | float) and not isinstance(value, bool) and -_MOST <= value < _MOST:
        return float(value)
    raise _wrong(place, "a number", value)


def _truth(value: object, place: str) -> object:
    if isinstance(value, bool):
        return value
    raise _wrong(place, "true or false", value)


def _date(value: object, place: str) -> object:
    if isinstance(value, str):
        with contextlib.suppress(ValueError):
            return datetime.date.fromisoformat(value)
    raise _wrong(place, "a date such as 2024-01-31", value)


_PLAIN: Final[dict[object, Check]] = {str: _text, int: _whole, float: _decimal, bool: _truth, datetime.date: _date}
_FOUND: Final = {str: "a text", bool: "true or false", list: "a list", dict: "a table"}


def _wrong(place: str, expected: str, value: object) -> StoredError:
    if isinstance(value, list) and expected.startswith("a list of"):
        found = f"one of {len(value)}"
    elif isinstance(value, int) and not isinstance(value, bool):
        found = "one of more than 64 bits" if "number" in expected else "a number"
    elif isinstance(value, float):
        found = "no finite one" if expected == "a number" else "a decimal number"
    else:
        found = _FOUND.get(type(value), "nothing")
    return StoredError(f"{place}: expected {expected}, found {found}" if place else f"expected {expected}, found {found}")
