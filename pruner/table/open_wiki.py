"""The source of a wiki page with tables between `{|` and `|}` (as MediaWiki documents them; from memory) -> the tables in it.

Receives the text as blocks, hands on tables.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from typing import Final

from pruner.table.cells import as_csv
from pruner.table.opened import TextTable

Blocks = Callable[[], Iterator[bytes]]
_BEGINNING: Final = re.compile(rb"^[ :*]*\{\|", re.MULTILINE)
_ROW: Final = re.compile(rb"^ *\|-", re.MULTILINE)
#: What stands before a cell's text and says how it looks.
_ATTRIBUTES: Final = re.compile(r"\s*(?:[\w-]+\s*=\s*(?:\"[^\"]*\"|'[^']*'|[^\s|\"']+)\s*)+\|(?!\|)")
_LINK: Final = re.compile(r"\[\[(?:[^\[\]|]*\|)?([^\[\]|]*)\]\]|\[(?:https?:)?//\S+\s+([^\]]*)\]")
_MARKS: Final = re.compile(r"'{2,5}|<[^<>]{1,200}>|&nbsp;|<!--.*?-->")


def is_wiki(start: bytes) -> bool:
    """Whether a text has such a table in its beginning."""
    return _BEGINNING.search(start) is not None and _ROW.search(start) is not None


def tables_of_wiki(text: Blocks, label: str) -> list[TextTable]:
    """The tables that have two rows or more, in the order of the text."""
    found = [rows for rows in _tables(b"".join(text()).decode(errors="replace").split("\n")) if len(rows) > 1]
    several = len(found) > 1
    return [
        TextTable(
            ": ".join(part for part in (label, f"table {number}" if several else "") if part), _blocks(rows), is_exact=True
        )
        for number, rows in enumerate(found, 1)
    ]


def _blocks(rows: list[list[str]]) -> Blocks:
    return lambda: as_csv(rows)


def _tables(lines: list[str]) -> Iterator[list[list[str]]]:
    """The rows of each table; an inner table ends the one around it."""
    rows: list[list[str]] | None = None
    for line in map(str.strip, lines):
        if line.lstrip(":* ").startswith("{|"):
            if rows:
                yield _filled(rows)
            rows = [[]]
        elif rows is None:
            continue
        elif line.startswith("|}"):
            yield _filled(rows)
            rows = None
        elif line.startswith("|-"):
            rows.append([])
        elif line.startswith(("|", "!")) and not line.startswith("|+"):
            rows[-1] += [_cell(cell) for cell in re.split(r"\|\|" if line[0] == "|" else r"!!|\|\|", line[1:])]
        elif rows[-1] and line and not line.startswith("|+"):
            rows[-1][-1] = f"{rows[-1][-1]} {_cell(line)}".strip()  # the text of a cell goes on
    if rows:
        yield _filled(rows)


def _filled(rows: list[list[str]]) -> list[list[str]]:
    return [row for row in rows if any(row)]


def _cell(text: str) -> str:
    text = _ATTRIBUTES.sub("", text, count=1) if _ATTRIBUTES.match(text) else text
    return _MARKS.sub(" ", _LINK.sub(lambda link: link[1] or link[2] or "", text)).strip()
