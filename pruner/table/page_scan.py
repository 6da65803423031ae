"""The tables and texts of a page (HTML), found in one pass.

A scanner of what tables need, after the WHATWG HTML standard (tokenization; tables: "forming a table"; from memory). It never
goes back, so that no page takes longer than its length allows. Nothing of a page is run or fetched.
"""

from __future__ import annotations

import html
import re
from typing import Final

from pruner.table.page_grid import Cell, Grid

#: So many tables are looked at; a page of more is made of tables, not of lists.
MOST_TABLES: Final = 1000
#: So many cells are made of a page; what says that its cells reach further is no list.
MOST_CELLS: Final = 8 << 20
_LARGEST_SPAN: Final = 1000
_OPENING: Final = re.compile(r"<(?=[a-zA-Z/!?])")
_TAG: Final = re.compile(r"<(/?)([a-zA-Z][^\s/>]*+)((?:[^>=]++|=\s*+\"[^\"]*+\"|=\s*+'[^']*+'|=)*+)>")
_ATTRIBUTE: Final = re.compile(r"([^\s=\"'/]++)(?:\s*+=\s*+(?:\"([^\"]*+)\"|'([^']*+)'|([^\s\"']++)))?+")
#: What stands in these is no text of the page.
_UNSEEN: Final = frozenset(("script", "style", "template", "noscript", "svg", "select", "textarea", "iframe", "object"))
#: Tags that do not part words; all others do.
_IN_LINE: Final = frozenset(
    "a abbr b bdi bdo cite code em font i img ins kbd mark q s samp small span strong sub sup time tt u var wbr".split()
)
#: Elements of workbooks as XML (SpreadsheetML 2003, from memory) -> those of pages.
_WORKBOOKS: Final = frozenset(("workbook", "ss:workbook"))
#: What begins a row or a cell.
_ROW: Final = re.compile(r"<(?:t[rdh]|table)[\s>]", re.IGNORECASE)
_OF_WORKBOOKS: Final = {"table": "table", "row": "tr", "cell": "td"}
_HEADINGS: Final = frozenset(("h1", "h2", "h3", "h4", "h5", "h6", "caption", "legend", "summary"))


class Scan:
    """Goes through a page once. `grids`: its tables in the order in which they end; `texts`: what stands in `pre`; `around`:
    the text that stands in neither; `cells`: how many cells there are. `has_hidden_rows`: rows stand behind a
    comment or a tag that never ends, which hides the rest of the page."""

    def __init__(self) -> None:
        self.grids: list[Grid] = []
        self.texts: list[str] = []
        self.around: list[str] = []
        self.cells = 0
        self.has_hidden_rows = False
        self._begun = 0
        self._open: list[Grid] = []
        self._typed: list[str] | None = None
        self._heading: list[str] | None = None
        self._above = ""
        self._is_workbook = False
        self._endless: set[str] = set()

    def read(self, page: str) -> None:
        """Takes in the page, as far as the limits let it."""
        place = 0
        while found := _OPENING.search(page, place):
            self._text(page[place : found.start()])
            place = self._markup(page, found.start())
            if place < 0:
                self.has_hidden_rows = _ROW.search(page, found.end()) is not None
            if place < 0 or self.beyond:
                break
        else:
            self._text(page[place:])
        while self._open:
            self._close_table()
        self._close_typed()

    @property
    def beyond(self) -> str:
        """Of what the page has more than is looked at; "" where it has not."""
        if self.cells > MOST_CELLS:
            return f"{MOST_CELLS:,} cells"
        return f"{MOST_TABLES} tables" if len(self.grids) + len(self._open) > MOST_TABLES else ""

    def _markup(self, page: str, start: int) -> int:
        """Takes what begins with `<`; where it ends, -1 where it never does."""
        if page.startswith("<!--", start):
            end = page.find("-->", start + 2)
            return end + 3 if end >= 0 else -1
        if page[start + 1 : start + 2] in ("!", "?"):
            end = page.find(">", start)
            return end + 1 if end >= 0 else -1
        tag = _TAG.match(page, start)
        if tag is None:
            if page.startswith("</", start):
                end = page.find(">", start)
                return end + 1 if end >= 0 else -1
            return -1
        name = tag[2].lower()
        if not tag[1] and name in _UNSEEN and not tag[3].endswith("/"):
            return self._behind(page, name, tag.end())
        if tag[1]:
            self._close(name)
        else:
            self._start(name, tag[3])
        return tag.end()

    def _behind(self, page: str, name: str, start: int) -> int:
        """Where an element ends that is not looked at; one that never does is passed over alone."""
        end = -1 if name in self._endless else _end_of(page, name, start)
        if end < 0:
            self._endless.add(name)
        return end if end >= 0 else start

    def _text(self, text: str) -> None:
        if not text:
            return
        text = html.unescape(text) if "&" in text else text
        if self._typed is not None:
            self._typed.append(text)
        if self._heading is not None:
            self._heading.append(text)
        elif self._open and (cell := self._open[-1].cell) is not None:
            cell.text.append(text)
        elif self._typed is None:
            self.around.append(text)

    def _start(self, name: str, attributes: str) -> None:
        self._is_workbook |= name in _WORKBOOKS
        name = self._meant(name)
        if name == "table":
            self._open.append(Grid(self._above, "".join(self.around[self._begun :])))
            self._begun = len(self.around)
            self._above, self._heading = "", None
        elif name in ("tr", "td", "th") and self._open:
            self._heading = None
            if name == "tr":
                self._close_row()
                self._open[-1].row = []
            else:
                values = _values(attributes)
                self._open[-1].open_cell(_span(values.get("colspan")), _span(values.get("rowspan")))
                self._pass_to(_span(values.get("ss:index")))
        elif name == "caption" or (name in _HEADINGS and not self._is_in_cell):
            self._heading = []
        elif name == "pre":
            self._close_typed()
            self._typed = []
        elif name == "img":
            self._text(_values(attributes).get("alt", ""))
        elif name == "br":
            self._text("\n")
        elif name not in _IN_LINE:
            self._part()

    def _meant(self, name: str) -> str:
        """Of a workbook as XML the element of a page that an element is."""
        return _OF_WORKBOOKS.get(name.removeprefix("ss:"), name) if self._is_workbook else name

    def _pass_to(self, number: int) -> None:
        """Puts empty cells before the open one where a workbook says its column, from 1."""
        row = self._open[-1].row
        if self._is_workbook and row is not None:
            row += [Cell(1, 1) for _ in range(number - 1 - len(row))]

    def _close(self, name: str) -> None:
        name = self._meant(name)
        if name == "table":
            if self._open:
                self._close_table()
        elif name in ("td", "th") and self._open:
            self._open[-1].close_cell()
        elif name in ("tr", "thead", "tbody", "tfoot") and self._open:
            self._close_row()
        elif name in _HEADINGS and self._heading is not None:
            self._above = " ".join("".join(self._heading).split())
            self._heading = None
            self.around.append(f"{self._above}\n")
            if name == "caption" and self._open:
                self._open[-1].label, self._open[-1].above = self._above, f"{self._open[-1].above}\n{self._above}"
                self._above = ""
        elif name == "pre":
            self._close_typed()
        elif name not in _IN_LINE:
            self._part()

    def _part(self) -> None:
        """Words on both sides of a tag that begins or ends a block are apart."""
        if self._typed is None:
            self._text(" " if self._is_in_cell or self._heading is not None else "\n")

    @property
    def _is_in_cell(self) -> bool:
        return bool(self._open) and self._open[-1].cell is not None

    def _close_row(self) -> None:
        if self._open[-1].row is not None:
            self._open[-1].close_row()
            self.cells += len(self._open[-1].rows[-1])

    def _close_table(self) -> None:
        self._close_row()
        self.grids.append(self._open.pop())

    def _close_typed(self) -> None:
        if self._typed is not None:
            self.texts.append("".join(self._typed))
        self._typed = None


def _end_of(page: str, name: str, start: int) -> int:
    """Where an element ends whose content is not looked at; -1 where it never does."""
    found = re.compile(rf"</{re.escape(name)}(?=[\s/>])", re.IGNORECASE).search(page, start)
    end = page.find(">", found.end()) if found else -1
    return end + 1 if end >= 0 else -1


def _values(attributes: str) -> dict[str, str]:
    found: dict[str, str] = {}
    for name, *values in _ATTRIBUTE.findall(attributes):
        found.setdefault(name.lower(), html.unescape("".join(values)))
    return found


def _span(value: str | None) -> int:
    number = re.match(r"\s*(\d{1,6})", value or "")
    return max(1, min(int(number[1]), _LARGEST_SPAN)) if number else 1
