"""The words of SQL (ISO/IEC 9075-2, and what databases write instead): names, values, and the parts of a short statement.

Receives the text of a dump, hands on texts; no statement is run.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final

#: One name, and one with those of its schema and database before it.
NAME: Final = r"(?:`[^`]{1,128}+`|\"[^\"]{1,128}+\"|\[[^\]]{1,128}+\]|[\w$]++)"
NAMES: Final = rf"{NAME}(?:\s*+\.\s*+{NAME})*+"
#: What stands between the parts of a statement and is none of them.
GAP: Final = r"(?:\s++|--[^\n]*+|/\*.{0,2000}?\*/)*+"
_QUOTED: Final = r"(?:[NEBX]|_\w++\s*+)?+'((?:[^'\\]++|''|\\.)*+)'|\"((?:[^\"\\]++|\"\"|\\.)*+)\""
#: One value and the sign behind it.
VALUE: Final = re.compile(
    rf"\s*+(?:{_QUOTED}|([^,()'\"]*+(?:\([^()]*+\))?+))\s*+([,)])",
    re.DOTALL | re.IGNORECASE,
)
#: One part of a statement: what is passed over, a text in single or double quotes, a name in its signs, a word, a sign (a quote
#: that nothing closes is one, with all that follows).
_PART: Final = re.compile(
    rf"(?:\s++|--[^\n]*+|/\*.*?(?:\*/|\Z))|{_QUOTED}|(`[^`]{{1,128}}+`|\[[^\]]{{1,128}}+\])"
    r"|([+-]?\d++(?:\.\d++)?+(?![\w$])|[\w$]++)|(<>|[!=<>]=|['\"].*+|.)",
    re.DOTALL | re.IGNORECASE,
)
_ESCAPES: Final = {"n": " ", "r": " ", "t": " ", "0": "", "Z": ""}
#: A statement ends at a semicolon, or before a line that says "go"; a quote that nothing closes reaches to the end.
_STATEMENT: Final = re.compile(
    r"(?:[^;'\"`/\n-]++|'(?:[^'\\]++|''|\\(?:.|\Z))*+(?:'|\Z)|\"(?:[^\"\\]++|\\(?:.|\Z))*+(?:\"|\Z)|`[^`]*+(?:`|\Z)"
    r"|--[^\n]*+|/\*.*?(?:\*/|\Z)|\n(?!\s*+GO[ \t]*+(?:\n|\Z))|[-/])*+;?+",
    re.DOTALL | re.IGNORECASE,
)


def bare(names: str) -> str:
    """The last part of a name, without quotes."""
    return re.findall(NAME, names)[-1].strip('`"[]')


def names_in(names: str) -> tuple[str, ...]:
    """A name and those before it, without quotes."""
    return tuple(part.strip('`"[]') for part in re.findall(NAME, names))


def statement_at(dump: str, place: int) -> str:
    """The statement that begins at a position, with the sign that ends it."""
    found = _STATEMENT.match(dump, place)
    return found[0] if found else ""


def unquoted(single: str | None, double: str | None) -> str:
    """What a text between quotes says; line breaks and tabs are blanks."""
    text = single.replace("''", "'") if single is not None else (double or "").replace('""', '"')
    return re.sub(r"\\(.)", lambda one: _ESCAPES.get(one[1], one[1]), text, flags=re.DOTALL)


def value_of(found: re.Match[str]) -> str:
    """The value of a match of `VALUE`, "" for a missing one."""
    if found[1] is None and found[2] is None:
        return "" if found[3].strip().upper() in ("NULL", "DEFAULT") else found[3].strip()
    return unquoted(found[1], found[2])


def parts_of(statement: str) -> Iterator[tuple[str, str]]:
    """The parts of a statement, each with its kind: `text` in single quotes, `either` in double ones (a text or a name), `name`
    in its signs, `word`, `sign`."""
    for found in _PART.finditer(statement):
        single, double, name, word, sign = found.groups()
        if single is not None:
            yield "text", unquoted(single, None)
        elif double is not None:
            yield "either", unquoted(None, double)
        elif name is not None:
            yield "name", name[1:-1]
        elif word is not None:
            yield "word", word
        elif sign is not None:
            yield "sign", sign
