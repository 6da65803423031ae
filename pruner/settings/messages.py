"""Validation errors as lines for people: where, what was expected, what was found, the nearest legal word.

Receives a pydantic `ValidationError` of `models.Settings`, hands on one `Mistake` per error.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final, get_args

from pydantic import BaseModel, ValidationError

from pruner.settings import models, values

TomlPath = tuple[str | int, ...]

_REPEATED: Final = ("source", "heard", "drop", "keep", "radio")

_EXPECTED: Final[Mapping[str, str]] = {
    "string_type": "text in quotes",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "float_type": "a number",
    "finite_number": "a finite number",
    "bool_type": "true or false",
    "tuple_type": "a list in [ ]",
    "dict_type": "a table",
    "model_type": "a table",
    "greater_than_equal": "{ge} or more",
    "greater_than": "more than {gt}",
    "less_than_equal": "{le} or less",
    "less_than": "less than {lt}",
}


@dataclass(frozen=True, slots=True)
class Mistake:
    """One mistake: its path in the document (list positions from 0) and the sentence."""

    path: TomlPath
    sentence: str

    @property
    def key(self) -> str:
        """The path as people read it, list positions counted from 1: `keep[2].order`."""
        return key_path(self.path)


def key_path(path: TomlPath) -> str:
    """A path in one piece, list positions counted from 1, odd keys quoted."""
    text = ""
    for part in path:
        if isinstance(part, int):
            text += f"[{part + 1}]"
        else:
            key = part if re.fullmatch(r"[A-Za-z0-9_-]+", part) else values.shown(part)
            text += f".{key}" if text else key
    return text


def mistakes(error: ValidationError) -> list[Mistake]:
    """All mistakes of a validation of `models.Settings`, in the order in which pydantic met them."""
    found = []
    for problem in error.errors(include_url=False):
        if problem["type"] == "too_short" and problem["input"]:
            continue  # wrong elements were not counted; each is reported by itself
        path = tuple(part for part in problem["loc"] if part != "[key]")
        sentence = _sentence(problem["type"], path, problem.get("ctx", {}), problem["input"])
        found.append(Mistake(path, sentence))
    return list(dict.fromkeys(found))


def legal_keys(path: TomlPath) -> list[str]:
    """The keys of the table at a path, as the file spells them."""
    model: type[BaseModel] = models.Settings
    for part in path:
        if isinstance(part, str):
            model = _model_of(model, part) or model
    return [field.alias or name for name, field in model.model_fields.items()]


def _model_of(model: type[BaseModel], key: str) -> type[BaseModel] | None:
    """The model of the tables under a key, None if there are none."""
    for name, field in model.model_fields.items():
        if key in (name, field.alias):
            waiting = [field.annotation]
            while waiting:
                found = waiting.pop()
                if isinstance(found, type) and issubclass(found, BaseModel):
                    return found
                waiting += get_args(found)
    return None


def _sentence(kind: str, path: TomlPath, context: Mapping[str, Any], value: object) -> str:
    got = f", got {values.shown(value)}"
    if kind == values.COMPLETE:
        return str(context["message"])
    if kind == values.WRONG:
        return str(context["message"]) + got
    if kind == "extra_forbidden":
        legal = legal_keys(path[:-1])
        near = values.suggestion(str(path[-1]), legal)
        return "unknown key" + (near or f"; legal here: {', '.join(legal)}")
    if kind == "missing":
        if path[-1] in _REPEATED:
            return f"expected at least one [[{path[-1]}]] table"
        return "expected, but not given"
    if kind == "too_short":
        return f"expected at least one {f'[[{path[0]}]] table' if len(path) == 1 else 'element'}"
    if kind == "literal_error":
        words = re.findall(r"'([^']*)'", str(context["expected"]))
        near = values.suggestion(value, words) if isinstance(value, str) else ""
        return f"expected one of {', '.join(words)}{got}{near}"
    if kind in ("tuple_type", "model_type") and path[0] in _REPEATED and len(path) <= 2:
        return f"expected [[{path[0]}]] tables (two brackets){got}"
    if kind in ("model_type", "dict_type") and len(path) == 1:
        return f"expected a [{path[0]}] table (one bracket){got}"
    expected = _EXPECTED.get(kind)
    return f"expected {expected.format(**context)}{got}" if expected else f"expected another value ({kind}){got}"
