"""What settings say of each other: names that must differ, conditions that need something else.

Receives the document as plain tables, however wrong its values (those are reported elsewhere), hands on
problems.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from pydantic import BaseModel

from pruner.settings import values
from pruner.settings.terms import Terms

#: The name under which entries that a radio carries stand in ledger and summary.
CARRIED: Final = "carried entries"
#: Names in the output folder that no radio may bear.
_TAKEN: Final = {
    "talkgroups": 'the folder "talkgroups" is for talkgroup lists',
    "current": 'the link "current" leads to the published version',
}


@dataclass(frozen=True, slots=True)
class Problem:
    """A mistake at `path` (keys, and positions in lists counted from 0)."""

    path: tuple[str | int, ...]
    message: str


def plain(value: Any) -> Any:
    """A document with models in it as the tables that they were made of, keys as in the file."""
    if isinstance(value, BaseModel):
        return value.model_dump(by_alias=True, exclude_unset=True)
    if isinstance(value, dict):
        return {key: plain(item) for key, item in value.items()}
    return tuple(plain(item) for item in value) if isinstance(value, tuple) else value


def cross_problems(document: Any, terms: Terms) -> list[Problem]:
    """All mistakes between values of a document; empty for a document that is no table at all."""
    if not isinstance(document, dict):
        return []
    return [
        *_names(document, terms),
        *_addresses(document, terms),
        *_needs(document, terms),
        *_lists(document),
        *_radios(document, terms),
    ]


def _located(terms: Terms) -> str:
    """What distances of a rule are measured from."""
    return f"{terms.home_locator}, or route or locators in the rule, from which distances are measured"


def _tables(document: dict[str, Any], key: str) -> Iterator[tuple[int, dict[str, Any]]]:
    rows = document.get(key)
    for position, row in enumerate(rows if isinstance(rows, tuple | list) else ()):
        if isinstance(row, dict):
            yield position, row


def _names(document: dict[str, Any], terms: Terms) -> Iterator[Problem]:
    for keys in (("source",), ("drop", "keep"), ("radio",)):
        seen: dict[str, str] = {}
        if keys == ("drop", "keep") and not document.get("keep"):
            seen["everything"] = "the rule that holds when no keep rule is given"
        for key in keys:
            for position, row in _tables(document, key):
                name = row.get("name")
                if not isinstance(name, str):
                    continue
                folded = name.casefold() if key == "radio" else name
                if folded in seen:
                    other = seen[folded] if terms.is_file else "the name of another"
                    message = f"expected a name of its own, but {values.shown(name)} is also {other}"
                    yield Problem((key, position, "name"), message)
                seen.setdefault(folded, f"{key}[{position + 1}]")


def _addresses(document: dict[str, Any], terms: Terms) -> Iterator[Problem]:
    """Heard logs of one address twice: each page is folded once."""
    seen: dict[str, int] = {}
    for position, row in _tables(document, "heard"):
        location = row.get("location")
        if not isinstance(location, str) or not values.is_address(location):
            if "credentials" in row:
                yield Problem(("heard", position, "credentials"), "needs an http(s) address as location")
        elif seen.setdefault(location, position) != position:
            yield Problem(
                ("heard", position, "location"), f"expected each address once, but heard[{seen[location] + terms.first}] has it"
            )


def _needs(document: dict[str, Any], terms: Terms) -> Iterator[Problem]:
    home = _table(document, "home")
    names = [row["name"] for _, row in _tables(document, "source") if isinstance(row.get("name"), str)]
    for key in ("drop", "keep"):
        for position, row in _tables(document, key):
            path = (key, position)
            if "locator" not in home and not _has_route(row):
                if "within_km" in row:
                    yield Problem((*path, "within_km"), f"needs {_located(terms)}")
                if key == "keep" and row.get("order") == "nearest":
                    yield Problem((*path, "order"), f'"nearest" needs {_located(terms)}')
            if key == "drop" and _has_route(row) and "within_km" not in row:
                given = "route" if "route" in row else "locators"
                yield Problem((*path, given), "needs within_km in the same rule")
            if row.get("talkgroups") == values.MINE and not _list(_table(document, "talkgroups").get("mine")):
                yield Problem((*path, "talkgroups"), f'"mine" needs {terms.mine}')
            if "list_columns" in row and "list" not in row:
                yield Problem((*path, "list_columns"), "needs list in the same rule")
            if "hops" in row and "neighbours_of" not in row:
                yield Problem((*path, "hops"), "needs neighbours_of in the same rule")
            for condition in ("countries", "neighbours_of"):
                if "country" not in home and values.HOME in _list(row.get(condition)):
                    where = (*path, condition, _list(row[condition]).index(values.HOME))
                    yield Problem(where, f'"home" needs {terms.home_country}')
            for index, name in enumerate(_list(row.get("sources"))):
                if isinstance(name, str) and name not in names:
                    legal = ", ".join(values.shown(known) for known in names) or "none is named"
                    message = f"expected the name of a source ({legal}), got {values.shown(name)}"
                    yield Problem((*path, "sources", index), message + values.suggestion(name, names))


def _lists(document: dict[str, Any]) -> Iterator[Problem]:
    """A list that two rules name is read once, so that its columns are the same."""
    groups = _table(document, "talkgroups")
    if "list_columns" in groups and "list" not in groups:
        yield Problem(("talkgroups", "list_columns"), "needs list in the same table")
    seen: dict[str, Any] = {}
    for key in ("drop", "keep"):
        for position, row in _tables(document, key):
            columns = row.get("list_columns") or {}
            if isinstance(row.get("list"), str | Path) and seen.setdefault(str(row["list"]), columns) != columns:
                yield Problem((key, position, "list_columns"), "expected the same in all rules with this list")


def _radios(document: dict[str, Any], terms: Terms) -> Iterator[Problem]:
    rules = [row["name"] for _, row in _tables(document, "keep") if isinstance(row.get("name"), str)] or ["everything"]
    located = "locator" in _table(document, "home")
    own = {row["name"] for _, row in _tables(document, "keep") if isinstance(row.get("name"), str) and _has_route(row)}
    for position, row in _tables(document, "radio"):
        path = ("radio", position)
        memory = row.get("memory")
        if "contacts" not in row and not (isinstance(memory, dict) and "bytes" in memory):
            yield Problem((*path, "contacts"), "expected, but not given")
        limit, free = row.get("contacts"), row.get("keep_free")
        if isinstance(limit, int) and isinstance(free, int) and free >= limit > 0:
            yield Problem((*path, "keep_free"), f"expected less than contacts ({limit:,}): no contact would have room")
        for key in ("level", "aim", "detail"):
            if key in row and "memory" not in row:
                yield Problem((*path, key), f"needs {terms.memory}, the bytes of the radio")
        yield from _levels(path, row, terms)
        if "detail" in row and row.get("aim") == "coverage":
            yield Problem((*path, "detail"), 'needs aim = "order": with "coverage" each contact has a level of its own')
        taken = _TAKEN.get(row["name"].casefold()) if isinstance(row.get("name"), str) else None
        if taken:
            yield Problem((*path, "name"), f"expected another name: {taken}")
        if "carried_columns" in row and "carried" not in row:
            yield Problem((*path, "carried_columns"), "needs carried in the same radio")
        if "carried" in row and CARRIED in rules:
            yield Problem((*path, "carried"), f"expected no keep rule named {values.shown(CARRIED)}: these entries go by it")
        seen = set()
        for index, name in enumerate(_list(row.get("rules"))):
            if isinstance(name, str) and name in rules:
                if name in seen:
                    yield Problem((*path, "rules", index), f"expected each rule once, got {values.shown(name)} again")
                seen.add(name)
            elif isinstance(name, str):
                yield Problem((*path, "rules", index), _no_rule(name, rules))
        orders = row.get("orders")
        for name, order in (orders if isinstance(orders, dict) else {}).items():
            if name not in rules:
                yield Problem((*path, "orders", name), _no_rule(name, rules))
            elif order == "nearest" and not located and name not in own:
                yield Problem((*path, "orders", name), f'"nearest" needs {_located(terms)}')


def _levels(path: tuple[str | int, ...], row: dict[str, Any], terms: Terms) -> Iterator[Problem]:
    """Texts of levels that the radio's memory has no field for."""
    memory = row.get("memory")
    names = (
        [table["name"] for _, table in _tables(memory, "field") if isinstance(table.get("name"), str)]
        if isinstance(memory, dict)
        else []
    )
    for position, level in _tables(row, "level") if names else ():
        for index, text in enumerate(_list(level.get("fields"))):
            if isinstance(text, str) and text not in names:
                legal = ", ".join(values.shown(name) for name in names)
                message = f"expected a field of {terms.memory} ({legal}), got {values.shown(text)}"
                yield Problem((*path, "level", position, "fields", index), message + values.suggestion(text, names))


def _has_route(row: dict[str, Any]) -> bool:
    return "route" in row or "locators" in row


def _no_rule(name: str, rules: list[str]) -> str:
    legal = ", ".join(values.shown(known) for known in rules)
    return f"expected the name of a keep rule ({legal}), got {values.shown(name)}{values.suggestion(name, rules)}"


def _table(document: dict[str, Any], key: str) -> dict[str, Any]:
    table = document.get(key)
    return table if isinstance(table, dict) else {}


def _list(value: Any) -> tuple[Any, ...]:
    return tuple(value) if isinstance(value, tuple | list) else ()
