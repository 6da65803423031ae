"""A list of stations: one id or call sign a line, or a table with such columns.

Receives the path of a list file, hands on its ids and its call signs, both in the form that contacts have
after cleaning (DEVELOPERS.md, "Id" and "Call sign").
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt

from pruner import schema
from pruner.callsign import clean_callsign
from pruner.errors import InputRefusedError, SourceMissingError

Row = tuple[int, str, str]

_DELIMITERS: Final = ",;\t|"
_ID_WORDS: Final = frozenset({"id", "ids", "dmrid", "nxdnid", "p25id", "stationid", "unitid", "number", "nummer", "kennung"})
_CALLSIGN_WORDS: Final = frozenset({"callsign", "callsigns", "call", "calls", "station", "stations", "rufzeichen", "indicatif"})
_ID: Final = re.compile(r"0*([0-9]{1,9})(?:\.0+)?", re.ASCII)
_CALLSIGN: Final = re.compile(r"(?=.*[A-Z])(?=.*[0-9])[A-Z0-9-]{3,10}", re.ASCII)


def read_list(path: Path) -> tuple[npt.NDArray[np.uint32], frozenset[str]]:
    """The ids (uint32, sorted, distinct) and call signs of a list; a row of a table may give both.

    `#` begins a comment. Raises InputRefusedError, one line, for the first bad line, and SourceMissingError
    if there is no such file.
    """
    ids: set[int] = set()
    callsigns: set[str] = set()
    for number, identifier, callsign in _rows(path, _text(path)):
        if not identifier and not callsign:
            raise InputRefusedError(f"{path}:{number}: the row has neither an id nor a call sign; complete or delete it")
        if identifier:
            ids.add(_id(path, number, identifier))
        if callsign:
            callsigns.add(_callsign(path, number, callsign))
    return np.array(sorted(ids), dtype=np.uint32), frozenset(callsigns)


def _text(path: Path) -> str:
    try:
        data = path.read_bytes()
    except OSError as error:
        raise SourceMissingError(f"{path}: the list cannot be read ({error.strerror})") from None
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        encoding = "utf-16"
    else:
        encoding = "utf-8-sig" if _is_utf8(data) else "cp1252"
    text = data.decode(encoding, errors="replace").replace("\r\n", "\n").replace("\r", "\n")
    if "\0" in text:
        line = text.count("\n", 0, text.index("\0")) + 1
        raise InputRefusedError(f"{path}:{line}: this is not a text file; expected ids or call signs, one a line")
    return text


def _is_utf8(data: bytes) -> bool:
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return False
    return True


def _without_comment(line: str) -> str:
    return line.split("#", 1)[0].strip(" \t")


def _rows(path: Path, text: str) -> Iterator[Row]:
    """Every row as line number, id cell, call sign cell."""
    lines = [(number, line) for number, line in enumerate(text.split("\n"), 1) if _without_comment(line)]
    if not lines:
        return
    number, first = lines[0]
    heading_line = _without_comment(first)
    delimiter = next((mark for mark in _DELIMITERS if mark in heading_line), None)
    headings = [_fold(cell) for cell in _cells(path, number, heading_line, delimiter)]
    id_column = next((index for index, word in enumerate(headings) if word in _ID_WORDS), None)
    callsign_column = next((index for index, word in enumerate(headings) if word in _CALLSIGN_WORDS), None)
    if id_column is None and callsign_column is None:
        if delimiter is not None:
            raise InputRefusedError(
                f"{path}:{number}: expected a heading line with a column id or call sign, got {_shown(first)}"
            )
        yield from (_single(number, _without_comment(line)) for number, line in lines)
        return
    for number, line in lines[1:]:
        cells = _cells(path, number, _without_comment(line) if delimiter is None else line, delimiter)
        yield number, _cell(cells, id_column), _cell(cells, callsign_column)


def _cell(cells: list[str], column: int | None) -> str:
    return cells[column].strip() if column is not None and column < len(cells) else ""


def _single(number: int, text: str) -> Row:
    text = text.strip().strip('"')
    return (number, text, "") if re.fullmatch(r"[0-9.\s]+", text) else (number, "", text)


def _cells(path: Path, number: int, line: str, delimiter: str | None) -> list[str]:
    if delimiter is None:
        return [line.strip().strip('"')]
    try:
        return next(csv.reader([line], delimiter=delimiter))
    except csv.Error:
        raise InputRefusedError(f"{path}:{number}: the line is far too long for a row of a list") from None


def _fold(heading: str) -> str:
    return re.sub(r"[^a-z0-9]", "", heading.casefold())


def _id(path: Path, number: int, text: str) -> int:
    match = _ID.fullmatch("".join(text.split()))
    if match:
        digits = match[1].lstrip("0")
        value = int(digits[:7] if len(digits) == 9 else digits or "0")
        if 1 <= value < schema.ADDRESSES:
            return value
    raise InputRefusedError(
        f"{path}:{number}: expected an id (1 to {schema.ADDRESSES - 1}), got {_shown(text)}; correct or delete the line"
    )


def _callsign(path: Path, number: int, text: str) -> str:
    cleaned = clean_callsign(text)
    if not _CALLSIGN.fullmatch(cleaned):
        raise InputRefusedError(
            f"{path}:{number}: expected an id or a call sign, got {_shown(text)}; correct or delete the line"
        )
    return cleaned


def _shown(text: str) -> str:
    cut = text.strip()
    cut = cut if len(cut) <= 40 else cut[:37] + "..."
    return '"' + "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in cut) + '"'
