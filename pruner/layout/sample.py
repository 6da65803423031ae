"""A file that some programming software wrote -> its dialect and its cells.

Receives bytes, hands on a `Sample`. Nothing is said yet of what the columns mean.
"""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from itertools import islice, takewhile
from typing import Final

from pruner.layout.encoding import first_clusters, text_encoding
from pruner.read.dialect import FALLBACK_ENCODING
from pruner.read.entry_kinds import is_group, kind_column
from pruner.read.sample import encoding_of
from pruner.reference.callsign import is_ordinary
from pruner.words.errors import InputRefusedError

#: How many rows are looked at.
MOST_ROWS: Final = 20_000
DELIMITERS: Final = (";", "\t", "|", ",")
#: Finds what headings mean: headings, rows below them -> position of each meaning.
Understand = Callable[[Sequence[str], Sequence[Sequence[str]]], dict[str, int]]

#: Quotings that the text itself shows, beside the usual one.
_QUOTED: Final = ("all", "texts")
_MARKS: Final = (
    (b"\xef\xbb\xbf", "utf-8"),
    (b"\xff\xfe\x00\x00", "utf-32-le"),
    (b"\x00\x00\xfe\xff", "utf-32-be"),
    (b"\xff\xfe", "utf-16-le"),
    (b"\xfe\xff", "utf-16-be"),
)
#: So many rows at most stand above a table.
_MOST_TITLES: Final = 6
#: So many lines of a sample may differ from the rest, and so many cells of a column.
_ODD_SHARE: Final = 0.1
_ID: Final = re.compile(r"0*[1-9][0-9]{4,7}", re.ASCII)


@dataclass(slots=True)
class Sample:
    """`rows`: cells as they stand in the file, padding included; `widths`: of the columns of a fixed file (None:
    delimited), in `width_unit`; `headings`: None for a file without heading line; `lines_above`: what stands above it;
    `doubts`: sentences; `groups`: rows
    that are no stations, by the column at `kinds` (None: no column tells)."""

    encoding: str
    mark: bool
    line_ending: str
    rows: list[list[str]] = field(default_factory=list)
    headings: list[str] | None = None
    lines_above: list[str] = field(default_factory=list)
    delimiter: str = ","
    quoting: str = "as needed"
    widths: list[int] | None = None
    width_unit: str = "units"
    doubts: list[str] = field(default_factory=list)
    groups: list[list[str]] = field(default_factory=list)
    kinds: int | None = None

    def column(self, place: int) -> list[str]:
        """The cells of one column."""
        return [row[place] for row in self.rows]


def read_sample(data: bytes, where: str, understand: Understand) -> Sample:
    """Raises InputRefusedError where the bytes are no table of text."""
    text, encoding, mark, doubts = _decoded(data, where)
    if not text.strip():
        raise InputRefusedError(f"{where}: the file is empty; export at least the heading line")
    if "\0" in text or text.lstrip().startswith(("<", "{")):
        raise InputRefusedError(f"{where}: this is no table of text; export contacts as CSV or text and give that file")
    ending = "crlf" if "\r\n" in text else "lf" if "\n" in text else "cr" if "\r" in text else "crlf"
    candidates = [
        candidate
        for delimiter in DELIMITERS
        if (candidate := _delimited(text, Sample(encoding, mark, ending, delimiter=delimiter)))
    ]
    fixed = _fixed(re.split(r"\r\n|\n|\r", text), Sample(encoding, mark, ending))
    candidates += [fixed] if fixed else []
    for candidate in candidates:
        _take_headings(candidate, understand)
    best = max(candidates, key=lambda candidate: _score(candidate, understand), default=None)
    if best is None:
        best = Sample(encoding, mark, ending, rows=[[line] for line in re.split(r"\r\n|\n|\r", text) if line][:MOST_ROWS])
        _take_headings(best, understand)
    best.doubts = [*doubts, *best.doubts]
    _set_groups_aside(best, understand)
    if not text.endswith(("\n", "\r")):
        best.doubts.append("The last line of the sample has no line ending; in written files it has one.")
    return best


def _decoded(data: bytes, where: str) -> tuple[str, str, bool, list[str]]:
    for mark, encoding in _MARKS:
        if data.startswith(mark):
            try:
                return data[len(mark) :].decode(encoding), encoding, True, []
            except UnicodeDecodeError:
                raise InputRefusedError(f"{where}: begins as {encoding} but is not; export the file again") from None
    if data[1:400:2].count(0) > len(data[1:400:2]) // 2:
        return data.decode("utf-16-le", errors="replace"), "utf-16-le", False, []
    if data[0:400:2].count(0) > len(data[0:400:2]) // 2:
        return data.decode("utf-16-be", errors="replace"), "utf-16-be", False, []
    if data.isascii():
        return data.decode("ascii"), "ascii", False, ["The sample holds ASCII only; if other letters may be written, say how."]
    try:
        return data.decode("utf-8"), "utf-8", False, []
    except UnicodeDecodeError:
        pass
    voted = _voted(data, where)
    if voted is not None:
        return data.decode(voted), voted, False, []
    for encoding in ("cp1252", "iso8859-1"):
        try:
            doubt = f"No sample tells {encoding} from its relatives: look at a letter that is not ASCII."
            return data.decode(encoding), encoding, False, [doubt]
        except UnicodeDecodeError:
            continue
    raise AssertionError("iso8859-1 decodes any bytes")


def _voted(data: bytes, where: str) -> str | None:
    """The code page on which the countries of the rows agree, None where that is the usual one of the West, or none."""
    try:
        found, _ = encoding_of(data.replace(b"\r\n", b"\n").replace(b"\r", b"\n"), [], where)
        data.decode(found)
    except (InputRefusedError, UnicodeDecodeError):
        return None
    return None if found == FALLBACK_ENCODING else found


def _set_groups_aside(sample: Sample, understand: Understand) -> None:
    """Takes out the rows that a column of kinds calls groups: no template holds for them."""
    taken = understand([cell.strip() for cell in sample.headings], sample.rows) if sample.headings is not None else {}
    width = len(sample.rows[0]) if sample.rows else 0
    place = kind_column([sample.column(place) for place in range(width)], taken.values())
    if place is not None:
        sample.kinds = place
        sample.groups = [row for row in sample.rows if is_group(row[place])]
        sample.rows = [row for row in sample.rows if not is_group(row[place])]


def _delimited(text: str, sample: Sample) -> Sample | None:
    """The sample cut at a delimiter, None where that gives no table of two columns or more."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=sample.delimiter)
    try:
        numbered = [(row, reader.line_num) for row in islice(reader, MOST_ROWS + 1) if row]
    except csv.Error:
        return None
    width = Counter(len(row) for row, _ in numbered[:1000]).most_common(1)[0][0] if numbered else 0
    above = _titles([row for row, _ in numbered[:_MOST_TITLES]], width)
    if above:
        lines = re.split(r"\r\n|\n|\r", text)
        sample.lines_above = lines[: numbered[above - 1][1]]
        sample.lines_above += takewhile(lambda line: not line, lines[len(sample.lines_above) :])
    rows = [row for row, _ in numbered[above:]]
    if rows and len(rows[0]) == width - 1 and not any(row[-1] for row in rows[1:] if len(row) == width):
        rows[0].append("")  # rows that end in a delimiter under headings that do not
    regular = [row for row in rows if len(row) == width]
    odd = len(rows) - len(regular)
    if width < 2 or odd > _ODD_SHARE * len(rows):
        return None
    if odd:
        sample.doubts.append(f"{odd} of {len(rows)} lines have another number of cells than the rest; they were left out.")
    rows = regular
    sample.rows = rows
    if '"' in text:
        sample.quoting = next((name for name in _QUOTED if text.startswith(_as_quoted(sample, rows, name))), "as needed")
    return sample


def _as_quoted(sample: Sample, rows: Sequence[Sequence[str]], quoting: str) -> str:
    """The text of rows with all cells, or all texts, in quotes."""
    ending = {"crlf": "\r\n", "lf": "\n", "cr": "\r"}[sample.line_ending]

    def cell(text: str) -> str:
        is_plain = quoting == "texts" and (not text or (text.isascii() and text.isdigit()))
        return text if is_plain else '"' + text.replace('"', '""') + '"'

    lines = [*sample.lines_above, *(sample.delimiter.join(map(cell, row)) for row in rows)]
    return ending.join(lines)


def _titles(rows: list[list[str]], width: int) -> int:
    """How many rows above the table have less text than its rows, and no number."""
    first = next((place for place, row in enumerate(rows) if sum(map(bool, row)) > max(1, len(row) // 3)), 0)
    odd = next((place for place, row in enumerate(rows) if len(row) == width), 0)
    above = max(first, odd)
    return above if width > 1 and not any(_is_of_station(cell) for row in rows[:above] for cell in row) else 0


def _fixed(lines: list[str], sample: Sample) -> Sample | None:
    """The sample cut where columns of spaces end, None where its lines are not of one length."""
    lines = [line for line in lines if line][: MOST_ROWS + 1]
    for unit in ("units", "characters"):
        places = [_places(line, sample.encoding, unit) for line in lines]
        if len(places) < 2 or len(set(map(len, places))) > 1:
            continue
        body = places[1:] if _is_heading_line(lines) else places
        blank = [all(line[at] == " " for line in body) for at in range(len(body[0]))]
        starts = [0] + [at for at in range(1, len(blank)) if blank[at - 1] and not blank[at] and not all(blank[:at])]
        ends = [*starts[1:], len(blank)]
        sample.width_unit = unit
        sample.widths = [end - start for start, end in zip(starts, ends, strict=True)]
        sample.rows = [["".join(line[start:end]) for start, end in zip(starts, ends, strict=True)] for line in places]
        return sample
    return None


def _places(line: str, encoding: str, unit: str) -> list[str]:
    """One entry per unit of width; a character of several units is followed by empty entries."""
    if unit == "characters":
        return list(first_clusters(line))
    codec = text_encoding(encoding)
    if line.isascii() or codec.one_unit:
        return list(line)
    return [part for character in line for part in (character, *[""] * (codec.length(character, "units") - 1))]


def _is_heading_line(lines: list[str]) -> bool:
    return not _ID.search(lines[0]) and all(_ID.search(line) for line in lines[1:])


def _is_of_station(cell: str) -> bool:
    return looks_like_id(cell) or is_ordinary(cell.strip())


def looks_like_id(text: str) -> bool:
    """Whether a cell can be an id of five to eight digits."""
    return _ID.fullmatch(text.strip()) is not None


def _take_headings(sample: Sample, understand: Understand) -> None:
    """Takes the first row as headings where it is not like the others."""
    first, others = sample.rows[0], sample.rows[1:]
    if any(map(looks_like_id, first)):
        return
    understood = bool(understand([cell.strip() for cell in first], others))
    numbers = any(_mostly(str.isdigit, others, place) and not first[place].strip().isdigit() for place in range(len(first)))
    callsigns = any(
        _mostly(is_ordinary, others, place) and not is_ordinary(first[place].strip()) for place in range(len(first))
    )
    words = not others and not any(cell.strip().isdigit() for cell in first)
    if understood or numbers or callsigns or words:
        sample.headings, sample.rows = first, others[:MOST_ROWS]


def _mostly(test: Callable[[str], bool], rows: list[list[str]], place: int) -> bool:
    cells = [row[place].strip() for row in rows]
    return bool(cells) and sum(map(test, cells)) >= (1 - _ODD_SHARE) * len(cells)


def _score(sample: Sample, understand: Understand) -> tuple[int, int, int, int]:
    """Which way of cutting gives the better table: columns that are ids or call signs, then headings, then columns."""
    width = len(sample.headings or sample.rows[0])
    ids = any(_mostly(looks_like_id, sample.rows, place) for place in range(width))
    callsigns = any(_mostly(is_ordinary, sample.rows, place) for place in range(width))
    understood = len(understand([cell.strip() for cell in sample.headings], sample.rows)) if sample.headings else 0
    return ids + callsigns, understood, int(sample.widths is None), width
