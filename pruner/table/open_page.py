"""Pages (HTML) -> one delimited text per table, else the texts that are set as they are typed (`pre`)."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import partial
from typing import Final

from pruner.table.cells import as_csv
from pruner.table.opened import Table, TextTable, label_in, shown
from pruner.table.page_scan import Scan
from pruner.words.errors import InputRefusedError

#: A longer page is no list for people.
LONGEST_PAGE: Final = 64 << 20
_CHARSET: Final = re.compile(
    rb"<(?:meta\b[^>]*?\bcharset\s*=\s*[\"']?\s*|\?xml\b[^>]*?\bencoding\s*=\s*[\"'])([\w.:-]+)", re.IGNORECASE
)
_HIDES: Final = "a comment or a tag that never ends hides the rest of the page, with rows in it"
_LOOKED_AT: Final = 1 << 12
#: What pages call an encoding and what they mean (WHATWG Encoding standard, section 4.2, from memory).
_MEANT: Final = {"iso-8859-1": "cp1252", "latin1": "cp1252", "us-ascii": "cp1252", "ascii": "cp1252", "iso-8859-9": "cp1254"}


def charset_of(start: bytes) -> str | None:
    """The encoding that a page or other markup says it is in; None where it says none that is known."""
    found = _CHARSET.search(start[:_LOOKED_AT])
    if found is None:
        return None
    name = found[1].decode("ascii", "replace").lower()
    name = _MEANT.get(name, name)
    try:
        b"".decode(name)
    except LookupError:
        return None
    return None if name in ("utf-8", "utf8") else name


def open_page(text: bytes, label: str, where: str) -> list[Table]:
    """The tables of a page with a filled cell, else its texts in `pre`. Raises InputRefusedError where it has neither.

    `text` may hold bytes that are no UTF-8; they are handed on as they are.
    """
    scan = Scan()
    scan.read(text.decode("utf-8", "surrogateescape"))
    if scan.beyond:
        raise InputRefusedError(f"{where}: this is a page (HTML) of more than {scan.beyond}; get the table itself")
    grids = [grid for grid in scan.grids if any(any(row) for row in grid.rows)]
    if grids:
        names = _names([grid.label for grid in grids], label)
        notes = "".join(scan.around)
        found: list[Table] = [
            TextTable(name, partial(as_csv, grid.rows, errors="surrogateescape"), is_exact=True, above=grid.above, notes=notes)
            for name, grid in zip(names, grids, strict=True)
        ]
        return [*found, *([_hidden(label, where)] if scan.has_hidden_rows else [])]
    texts = [one for one in scan.texts if one.strip()]
    if not texts and scan.has_hidden_rows:
        raise InputRefusedError(f"{where}: {_HIDES}; get the page again")
    if not texts:
        raise InputRefusedError(f"{where}: this is a page (HTML) without a table; get the table itself")
    names = _names([""] * len(texts), label)
    notes = "".join(scan.around)
    return [TextTable(name, partial(_lines, one), notes=notes) for name, one in zip(names, texts, strict=True)]


def _hidden(label: str, where: str) -> TextTable:
    def refused() -> Iterator[bytes]:
        raise InputRefusedError(f"{where}: {_HIDES}; get the page again")

    return TextTable(label_in(label, "the rest (a comment or tag never ends)"), refused, is_refused=True)


def _names(labels: list[str], file: str) -> list[str]:
    """A name for each table of a page: its number and, as other tables may stand below the same heading, what stands above
    it; none where there is one table."""
    if len(labels) == 1:
        return [file]
    numbered = enumerate(map(shown, labels), 1)
    return [label_in(file, f"table {number} ({label})" if label else f"table {number}") for number, label in numbered]


def _lines(text: str) -> Iterator[bytes]:
    yield text.strip("\n").encode(errors="surrogateescape") + b"\n"
