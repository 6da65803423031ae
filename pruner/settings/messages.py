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
from pruner.settings.terms import FILE, PYTHON, Terms

TomlPath = tuple[str | int, ...]

_REPEATED: Final = ("source", "heard", "drop", "keep", "radio")


@dataclass(frozen=True, slots=True)
class Mistake:
    """One mistake: its path in the document (list positions from 0) and the sentence."""

    path: TomlPath
    sentence: str

    @property
    def key(self) -> str:
        """The path as people read it, list positions counted from 1: `keep[2].order`."""
        return key_path(self.path)


def key_path(path: TomlPath, first: int = 1) -> str:
    """A path in one piece, list positions counted from `first`, odd keys quoted."""
    text = ""
    for part in path:
        if isinstance(part, int):
            text += f"[{part + first}]"
        else:
            key = part if re.fullmatch(r"[A-Za-z0-9_-]+", part) else values.shown(part)
            text += f".{key}" if text else key
    return text


def mistakes(error: ValidationError, model: type[BaseModel] = models.Settings, terms: Terms = FILE) -> list[Mistake]:
    """All mistakes of a validation of a model, in the order in which pydantic met them; paths have the keys of a file."""
    found = []
    for problem in error.errors(include_url=False):
        if problem["type"] == "too_short" and problem["input"]:
            continue  # wrong elements were not counted; each is reported by itself
        path = tuple(part for part in problem["loc"] if part != "[key]")
        sentence = _sentence(problem["type"], path, problem.get("ctx", {}), problem["input"], model, terms)
        found.append(Mistake(path, sentence))
    return list(dict.fromkeys(found))


def lines_in_python(error: ValidationError, model: type[BaseModel]) -> list[str]:
    """One line per mistake of a model that was made in Python, by the names of its fields."""
    found = [(python_path(mistake.path, model), mistake.sentence) for mistake in mistakes(error, model, PYTHON)]
    return [f"{model.__name__}: {f'{path}: ' if path else ''}{sentence}" for path, sentence in found]


def python_path(path: TomlPath, model: type[BaseModel]) -> str:
    """A path by the names of fields, positions counted from 0: `keep[1].order`."""
    parts: list[str | int] = []
    inner: type[BaseModel] | None = model
    for part in path:
        if isinstance(part, str) and inner is not None:
            names = {field.alias: name for name, field in inner.model_fields.items() if field.alias}
            inner, part = _model_of(inner, part), names.get(part, part)
        parts.append(part)
    return key_path(tuple(parts), PYTHON.first)


def legal_keys(path: TomlPath, model: type[BaseModel] = models.Settings, terms: Terms = FILE) -> list[str]:
    """The keys of the table at a path, as a file or Python spells them."""
    for part in path:
        if isinstance(part, str):
            model = _model_of(model, part) or model
    return [field.alias if field.alias and terms.is_file else name for name, field in model.model_fields.items()]


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


def _sentence(
    kind: str, path: TomlPath, context: Mapping[str, Any], value: object, model: type[BaseModel], terms: Terms
) -> str:
    got = f", got {terms.shown(value)}"
    if kind == values.COMPLETE:
        return str(context["message"])
    if kind == values.WRONG:
        return str(context["message"]) + got
    if kind == "extra_forbidden":
        legal = legal_keys(path[:-1], model, terms)
        near = values.suggestion(str(path[-1]), legal)
        return f"unknown {'key' if terms.is_file else 'field'}" + (near or f"; legal here: {', '.join(legal)}")
    if kind == "literal_error":
        words = re.findall(r"'([^']*)'", str(context["expected"]))
        near = values.suggestion(value, words) if isinstance(value, str) else ""
        return f"expected one of {', '.join(words)}{got}{near}"
    of_tables = _of_tables(kind, path, got) if terms.is_file else ""
    if of_tables:
        return of_tables
    if kind == "missing":
        return "expected, but not given"
    if kind == "too_short":
        return "expected at least one element"
    expected = terms.expected.get(kind)
    return f"expected {expected.format(**context)}{got}" if expected else f"expected another value ({kind}){got}"


def _of_tables(kind: str, path: TomlPath, got: str) -> str:
    """What is wrong with the brackets of a file, "" where nothing is."""
    if kind == "missing" and path[-1] in _REPEATED:
        return f"expected at least one [[{path[-1]}]] table"
    if kind == "too_short" and len(path) == 1:
        return f"expected at least one [[{path[0]}]] table"
    if kind in ("tuple_type", "model_type") and path[0] in _REPEATED and len(path) <= 2:
        return f"expected [[{path[0]}]] tables (two brackets){got}"
    if kind in ("model_type", "dict_type") and len(path) == 1:
        return f"expected a [{path[0]}] table (one bracket){got}"
    return ""
