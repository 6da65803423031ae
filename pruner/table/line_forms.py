"""Lines whose cells no single sign divides -> cells: columns by place, signs of several characters, wikis, numbered lines.

Receives lines of a text, hands on forms that fit them; a form turns one line into cells.
"""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, Protocol

#: A form must fit so many of the lines; numbers and texts more of them.
_MOST, _NEARLY_ALL = 0.9, 0.95
_LOOKED_AT: Final = 200
#: The heading line of a wiki is one of the first so many lines.
_HEADINGS: Final = 5
#: Columns by place stand so far apart; where that gives none, a blank is enough.
_APART: Final = 2
#: Lines that are drawn.
RULE: Final = re.compile(r"[\s|:+=-]*[-=]{2,}[\s|:+=-]*")
_GRID: Final = re.compile(r"\s*\+[-=+]+\+\s*")
_RULED_COLUMNS: Final = re.compile(r"\s*[-=]{2,}(?:\s+[-=]{2,})+\s*")
#: Signs that stand in names, numbers, addresses and dates.
_NO_DELIMITERS: Final = frozenset("\"'`.-_@()+&,;|\t ")
#: Several characters that stand between cells -> their pattern.
_SEPARATORS: Final = {f" {sign} ": rf"\s{sign}\s" for sign in "-–—/"} | {"::": "::"}
#: Typographic quotes of several languages.
_OPENING: Final = "“”„‟«»‘’‚"
_CLOSING: Final = "“”«»‘’"
_LONGEST_QUOTED: Final = 1000
_LINK: Final = re.compile(r"!?\[([^\]]*)\]\([^)]*\)")
_TAG: Final = r"(?:tg\s*[#:.]?\s*|#\s*)?"
_BULLET: Final = r"\s*(?:[*•·–-]\s+)?"
_NUMBER_FIRST: Final = re.compile(rf"{_BULLET}{_TAG}(\d+)\s*(?:[=:–—-]\s*|\s)\s*(\S.*?)\s*", re.IGNORECASE)
_NUMBER_LAST: Final = re.compile(
    rf"{_BULLET}([^\W\d_].*?)\s*(?:[(\[]\s*{_TAG}(\d+)\s*[)\]]|(?:[=:–—]|\s-)\s*{_TAG}(\d+))\s*", re.IGNORECASE
)


class LineForm(Protocol):
    """How a line is cut into cells; a line that is drawn or does not fit has none, or one."""

    def cells(self, line: str) -> list[str]: ...


@dataclass(frozen=True, slots=True)
class Divided:
    """Cells between matches of a pattern, blanks and `ends` around the line left out; `is_marked_up`: without the marks of
    emphasis and links of Markdown."""

    pattern: str
    ends: str = ""
    is_marked_up: bool = False

    def cells(self, line: str) -> list[str]:
        """The cells of a line."""
        if RULE.fullmatch(line):
            return []
        text = line.strip()
        text = text.removeprefix(text[:1] if text[:1] in self.ends else "").strip()
        text = text[:-1].strip() if self.ends and text[-1:] in self.ends else text
        found = [cell.strip() for cell in re.split(self.pattern, text)]
        return [_LINK.sub(r"\1", cell).strip("*`").strip() for cell in found] if self.is_marked_up else found


@dataclass(frozen=True, slots=True)
class Barred:
    """Cells between bars, two of them beside a heading (`||Call||Name||`)."""

    def cells(self, line: str) -> list[str]:
        """The cells of a line."""
        return [cell.strip() for cell in re.split(r"\|\|?", line.strip().strip("|"))]


@dataclass(frozen=True, slots=True)
class Ampersand:
    """Cells of a table in LaTeX, between `&` up to `\\\\`; other lines have none."""

    def cells(self, line: str) -> list[str]:
        """The cells of a line."""
        text, end, _ = line.partition("\\\\")
        if not end or "&" not in text:
            return []
        text = re.sub(r"\\(?:hline|toprule|midrule|bottomrule)\b|\\textbf|\\emph", " ", text)
        return [cell.replace("\\&", "&").replace("\\_", "_").strip(" {}") for cell in re.split(r"(?<!\\)&", text)]


@dataclass(frozen=True, slots=True)
class Wrapped:
    """Lines that were put into quotes as a whole, cells between delimiters inside."""

    delimiter: str

    def cells(self, line: str) -> list[str]:
        """The cells of a line."""
        text = line.strip()
        inner = text[1:-1].replace('""', '"') if len(text) > 1 and text[0] == text[-1] == '"' else text
        try:
            return next(csv.reader([inner], delimiter=self.delimiter), [])
        except csv.Error:
            return [inner]


@dataclass(frozen=True, slots=True)
class Placed:
    """Columns that begin at the same place in every line. A line whose text runs across a beginning is one cell."""

    starts: tuple[int, ...]

    def cells(self, line: str) -> list[str]:
        """The cells of a line."""
        if RULE.fullmatch(line):
            return []
        if any(line[start - 1 : start].strip() and line[start : start + 1].strip() for start in self.starts[1:]):
            return [line.strip()]
        return [line[start:end].strip() for start, end in pairwise((*self.starts, None))]


@dataclass(frozen=True, slots=True)
class Numbered:
    """A number and a text, or a text and a number behind a sign: always the number first."""

    is_last: bool = False

    def cells(self, line: str) -> list[str]:
        """The cells of a line."""
        if self.is_last:
            found = _NUMBER_LAST.fullmatch(line)
            return [found[2] or found[3], found[1]] if found else [line.strip()]
        found = _NUMBER_FIRST.fullmatch(line)
        return [found[1], found[2]] if found else [line.strip()]


@dataclass(frozen=True, slots=True)
class Quoted:
    """Cells between typographic quotes, as word processors make them of plain ones, a delimiter between."""

    delimiter: str

    def cells(self, line: str) -> list[str]:
        """The cells of a line."""
        sign = re.escape(self.delimiter)
        found = re.findall(
            rf"\s*(?:[{_OPENING}]([^{_CLOSING}]{{0,{_LONGEST_QUOTED}}}+)[{_CLOSING}]|([^{sign}]*))\s*(?:{sign}|$)", line.strip()
        )
        found = found[:-1] if len(found) > 1 and not line.strip().endswith(self.delimiter) else found  # the end is found twice
        return [quoted or plain.strip() for quoted, plain in found]


_NUMBERED: Final = (Numbered(), Numbered(is_last=True))


def is_grid_line(line: str) -> bool:
    """Whether a line is drawn between the rows of a grid (`+---+---+`)."""
    return line.lstrip().startswith("+") and _GRID.fullmatch(line) is not None


def numbered(lines: Sequence[str]) -> LineForm | None:
    """The form of lines of which nearly all are a number and a text; the first may be a title."""
    lines = lines[1:] if len(lines) > 1 and not any(len(form.cells(lines[0])) > 1 for form in _NUMBERED) else lines
    for form in _NUMBERED:
        if lines and sum(len(form.cells(line)) > 1 for line in lines) >= _NEARLY_ALL * len(lines):
            return form
    return None


def rare_delimiters(lines: Sequence[str]) -> Iterator[str]:
    """Single signs that stand equally often in nearly every line, the most frequent first."""
    lines = [line for line in lines[:_LOOKED_AT] if any(map(str.isalnum, line))]
    counts = Counter("".join(lines))
    likely = [
        sign for sign, count in counts.items() if count >= len(lines) and not sign.isalnum() and sign not in _NO_DELIMITERS
    ]
    found = [(-usual, sign) for sign in likely if (usual := _usual(lines, sign))]
    yield from (sign for _, sign in sorted(found))


def _usual(lines: Sequence[str], sign: str) -> int:
    """How often a sign stands in nearly every line, 0 where that differs."""
    usual, times = Counter(line.count(sign) for line in lines).most_common(1)[0]
    return usual if times >= _MOST * len(lines) else 0


def wrapped(lines: Sequence[str], delimiters: Sequence[str]) -> Iterator[LineForm]:
    """The forms of lines that are in quotes as a whole, where nearly all are and hold a delimiter."""
    for sign in delimiters:
        apart = re.compile(rf'"\s*{re.escape(sign)}\s*"')
        if sum(
            line.strip()[:1] == line.strip()[-1:] == '"' and sign in line and not apart.search(line) for line in lines
        ) >= _MOST * len(lines):
            yield Wrapped(sign)


def typographic(lines: Sequence[str], delimiters: Sequence[str]) -> Iterator[LineForm]:
    """The forms of cells in typographic quotes, where most lines begin with such a quote or have one behind a delimiter."""
    for sign in delimiters:
        behind = re.compile(
            rf"(?:^|{re.escape(sign)})\s*[{_OPENING}][^{_CLOSING}]{{0,{_LONGEST_QUOTED}}}+[{_CLOSING}]\s*(?:{re.escape(sign)}|$)"
        )
        if 2 * sum(behind.search(line) is not None for line in lines[:_LOOKED_AT]) > len(lines[:_LOOKED_AT]):
            yield Quoted(sign)


def forms_of(lines: Sequence[str]) -> Iterator[LineForm]:
    """The forms that may fit some lines, none of them blank."""
    rows = [line for line in lines[:_LOOKED_AT] if not RULE.fullmatch(line)]
    if not rows:
        return
    if 2 * sum("&" in row and "\\\\" in row for row in rows) > len(rows):
        yield Ampersand()
    if any(map(_RULED_COLUMNS.fullmatch, lines[:_LOOKED_AT])):
        yield from map(Placed, _places(lines[:_LOOKED_AT]))
    yield from (Divided(pattern) for separator, pattern in _SEPARATORS.items() if _usual(rows, separator))
    if sum("  " in row.strip() for row in rows) >= _MOST * len(rows):
        blanks = Divided(r"\s{2,}|\t+")
        widths = Counter(len(blanks.cells(row)) for row in rows)
        is_even = widths.most_common(1)[0][1] == len(rows)
        if is_even:
            yield blanks
        yield from map(Placed, _places(lines[:_LOOKED_AT]))
        if not is_even:
            yield blanks
    else:
        yield from (Placed(starts) for starts in _aligned(rows))


def wikis(lines: Sequence[str]) -> Iterator[LineForm]:
    """The forms of tables between bars: with emphasis or links in their cells, with a circumflex beside each heading."""
    lines = lines[:_LOOKED_AT]
    if any(line.lstrip().startswith("||") for line in lines[:_HEADINGS]):
        yield Barred()
    is_ruled = any("|" in line and "-" in line and RULE.fullmatch(line) for line in lines)
    if is_ruled and re.search(r"\]\(|\*\*|`", "\n".join(lines)):
        yield Divided(r"(?<!\\)\|", "|", is_marked_up=True)
    bars = sum(line.lstrip().startswith(("|", "^")) for line in lines)
    if any(line.lstrip().startswith("^") for line in lines[:_HEADINGS]) and bars >= _MOST * len(lines):
        yield Divided(r"[|^]", "|^")


def _aligned(rows: Sequence[str]) -> Iterator[tuple[int, ...]]:
    """Where words begin in every line, one blank before: columns by place whose longest cells touch the next."""
    starts = [place for place in range(max(map(len, rows), default=0)) if _begins(rows, place)]
    if len(starts) > 1 and len(rows) > 2 and not any("\t" in row for row in rows):
        yield tuple(starts)


def _begins(rows: Sequence[str], place: int) -> bool:
    """Whether most lines have a word that begins at a place behind a blank and no delimiter, and the others nothing there."""
    begun = sum(bool(row[place : place + 1].strip()) for row in rows)
    before = [row[max(0, place - 2) : place] for row in rows]
    is_apart = not any(two[-1:].strip() or two[:1] in (",", ";", "|") for two in before)
    return (place == 0 or is_apart) and 2 * begun > len(rows)


def _places(lines: Sequence[str]) -> Iterator[tuple[int, ...]]:
    """Where columns begin: by a line drawn under the headings, else where all lines have blanks before."""
    ruled = next((line for line in lines if _RULED_COLUMNS.fullmatch(line)), "")
    if ruled:
        yield tuple(found.start() for found in re.finditer(r"[-=]+", ruled))
        return
    rows = [line for line in lines if "  " in line.strip() and "\t" not in line]
    width = max(map(len, rows), default=0)
    filled = [any(row[place : place + 1].strip() for row in rows) for place in range(width)]
    before: tuple[int, ...] = ()
    for apart in (_APART, 1):
        starts = tuple(
            place
            for place in range(width)
            if filled[place]
            and not any(filled[max(0, place - apart) : place])
            and (place == 0 or place >= apart)
            and (apart > 1 or rows[0][place : place + 1].strip() or _begins(rows, place))
        )
        if len(starts) > 1 and starts != before:
            yield starts
        before = starts
