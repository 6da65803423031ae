"""What callers of the library hand over, checked: one sentence in their own words where it is wrong."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from functools import wraps
from pathlib import Path
from typing import Any, Final, ParamSpec, TypeVar

from pruner.settings import models
from pruner.settings.lines import TomlPath
from pruner.settings.messages import python_path
from pruner.settings.table import Table
from pruner.settings.terms import PYTHON
from pruner.settings.values import is_path, suggestion
from pruner.words import schema
from pruner.words.errors import ColumnsError, InputRefusedError, PrunerError, SettingsError
from pruner.words.printable import safe

Arguments = ParamSpec("Arguments")
Result = TypeVar("Result")
_RULES: Final = "a list of pruner.Keep and pruner.Drop"


@dataclass(frozen=True, slots=True)
class GivenRules:
    """Rules by their kind, and where each of a kind stands among all (from 0)."""

    keep: list[models.KeepRule]
    drop: list[models.DropRule]
    places: Mapping[str, list[int]]


class CallError(SettingsError, TypeError):
    """A call whose arguments are not those of the function: what Python calls a TypeError."""


def with_named_arguments(example: str) -> Callable[[Callable[Arguments, Result]], Callable[Arguments, Result]]:
    """Makes a function of the library say what it wants where arguments are missing, unknown or too many. Raises CallError."""

    def made(function: Callable[Arguments, Result]) -> Callable[Arguments, Result]:
        signature = inspect.signature(function)

        @wraps(function)
        def checked(*args: Arguments.args, **kwargs: Arguments.kwargs) -> Result:
            try:
                signature.bind(*args, **kwargs)
            except TypeError as error:
                unknown = next((name for name in kwargs if name not in signature.parameters), "")
                near = suggestion(unknown, list(signature.parameters)) if unknown else ""
                raise CallError(f"{function.__name__}: {error}{near}; expected a call such as {example}") from None
            return function(*args, **kwargs)

        return checked

    return made


def unexpected(argument: str, expected: str, value: object) -> SettingsError:
    """The error of one argument."""
    return SettingsError(f"{argument}: expected {expected}, got {PYTHON.shown(value)}")


def rules_of(rules: object) -> GivenRules:
    """Rules in the order given. Raises SettingsError for anything but rules, which no rule is left out of."""
    if isinstance(rules, models.Rule):
        raise unexpected("rules", f"{_RULES}, such as rules=[pruner.{type(rules).__name__}(...)]", rules)
    if not isinstance(rules, Iterable) or isinstance(rules, str | bytes | Mapping | set | frozenset):
        raise unexpected("rules", _RULES, rules)
    found = GivenRules([], [], {"keep": [], "drop": []})
    problems = []
    for place, rule in enumerate(rules):
        if isinstance(rule, models.KeepRule):
            found.keep.append(rule)
            found.places["keep"].append(place)
        elif isinstance(rule, models.DropRule):
            found.drop.append(rule)
            found.places["drop"].append(place)
        else:
            problems.append(f"rules[{place}]: expected a pruner.Keep or a pruner.Drop, got {PYTHON.shown(rule)}")
    if problems:
        raise SettingsError(problems)
    return found


def check_table(argument: str, value: object, model: type[Table], example: str) -> None:
    """Raises SettingsError where an argument is no table of the settings; `example`: what it could be."""
    if not isinstance(value, model):
        raise unexpected(argument, f"a pruner.{model.__name__}, such as {example}", value)


def check_flag(argument: str, value: object) -> None:
    """Raises SettingsError where an argument is neither True nor False."""
    if not isinstance(value, bool):
        raise unexpected(argument, "True or False", value)


def check_callable(argument: str, value: object, calls: str) -> None:
    """Raises SettingsError where an argument is no function; `calls`: how it is called."""
    if not callable(value):
        raise unexpected(argument, f"a function that is called as {calls}", value)


def check_system(value: object) -> None:
    """Raises SettingsError for a system that is none."""
    if not isinstance(value, str) or value not in schema.SYSTEM_NAMES:
        near = suggestion(value, schema.SYSTEM_NAMES) if isinstance(value, str) else ""
        error = unexpected("system", f"one of {', '.join(schema.SYSTEM_NAMES)}", value)
        raise SettingsError(f"{error}{near}")


def folder_of(argument: str, value: object) -> Path:
    """A path to write into. Raises SettingsError where the value names none."""
    if not isinstance(value, str | Path) or not is_path(str(value)):
        raise unexpected(argument, "the path of a folder", value)
    return Path(value)


def argument_path(rules: GivenRules, sources: Callable[[int, TomlPath], str]) -> Callable[[TomlPath], str]:
    """What the argument is called that a path in the document of settings comes from; `sources` says it of sources."""

    def called(path: TomlPath) -> str:
        match path:
            case ("keep" | "drop" as kind, int(place), *rest):
                return f"rules[{rules.places[kind][place]}]" + _behind(rest, models.KeepRule)
            case ("source", int(place), *rest):
                return sources(place, tuple(rest))
            case ("radio", int(), *rest):
                return "radio" + _behind(rest, models.Radio)
            case ("clean" | "output", *rest):
                return python_path(tuple(rest), models.Settings)
        return python_path(path, models.Settings)

    return called


def _behind(rest: list[Any], model: type[Table]) -> str:
    path = python_path(tuple(rest), model)
    return f".{path}" if path else ""


@contextmanager
def in_python() -> Iterator[None]:
    """Errors as callers of the library shall see them: no advice for users of the command, no character of a file or a name
    that could act on a terminal."""
    try:
        yield
    except PrunerError as error:
        text = error.in_python if isinstance(error, ColumnsError) else str(error)
        lines = [safe(line) for line in text.split("\n")]
        if lines == [str(error)]:
            raise
        kind = InputRefusedError if isinstance(error, ColumnsError) else type(error)
        raise kind("\n".join(lines)) from None
