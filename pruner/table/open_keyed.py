"""Records whose values stand behind their names, one or several a line, and records of a value a line -> rows of cells.

Receives the text of a file, hands on one table where it is such records. Names must be words for columns, so that settings and
sentences with colons are none.
"""

from __future__ import annotations

import re
from base64 import b64decode
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import suppress
from functools import partial
from itertools import chain, pairwise, takewhile
from typing import Final

from pruner.table.cells import as_csv, by_name
from pruner.table.facts import country_of_id
from pruner.table.headings import sense_of
from pruner.table.open_text import whole_text
from pruner.table.opened import MOST_NAMES, Blocks, TextTable

_LARGEST: Final = 64 << 20
_NAME: Final = r"(?P<quote>['\"]?)(?P<name>[^\W\d_][\w .#-]{0,30}?)(?P=quote)\s*[:=]\s*"
#: A value behind its name; a dash or an asterisk before it begins a record.
_LINE: Final = re.compile(rf"\s*(?P<dash>[-*]\s+)?{_NAME}(?P<value>.*)", re.DOTALL)
_PAIR: Final = re.compile(rf"\s*{_NAME}(?P<value>.*)", re.DOTALL)
_WORD: Final = re.compile(r"(?P<name>[^\W\d_][\w.-]*)=(?P<value>\"[^\"]*\"|'[^']*'|\S*)\s*")
_PARTS: Final = re.compile(r"((?:[^,;|\t\"']++|(?<=\w)'|\"[^\"]*+\"|'[^']*+'|[\"'])++)(?:[,;|\t]|$)")
_SECTION: Final = re.compile(r"\s*\[+([^\[\]=]+)\]+\s*")
_BRACKETS: Final = re.compile(r"\s*(?:---|\.\.\.|[\[\]{}(),]+)\s*")
_COMMENT: Final = re.compile(r"\s*(?:#(?!\s*\d)|//|;)")
_ID_LINE: Final = re.compile(r"\d{6,7}", re.ASCII)
#: The name of what stands in brackets above a record.
_ABOVE: Final = "key"
#: Entries of a directory service (LDIF, RFC 2849) begin with their name; what their attributes are (RFC 4519, from memory).
_ENTRY: Final = "dn"
_MEANT: Final = {"sn": "surname", "l": "town", "st": "state", "c": "country", "co": "country", "o": "organisation"}
#: Names of which one is there; so many names are words for columns.
_KEYS: Final = frozenset({"id", "number", "callsign", "station", "talkgroup"})
_LONGEST_LINE: Final = 4000
_HEAD: Final = 1 << 14
_LOOKED_AT: Final = 200
_LEAST_NAMES: Final = 2
_LEAST_RECORDS: Final = 2
_MOST_LINES: Final = 0.6
_INLINE: Final = 0.8
#: Records of a value a line have so many lines.
_LONGEST_RECORD: Final = 12
_LEAST_STACKED: Final = 3


def tables_of_keyed(text: Blocks, label: str) -> list[TextTable]:
    """The table of such a text, none where it is another."""
    blocks = text()
    first = next(blocks, b"")
    if not _is_keyed(first[:_HEAD].decode(errors="replace").split("\n")):
        return []
    whole = whole_text(chain((first,), blocks), _LARGEST)
    if whole is None:
        return []
    lines = whole.decode(errors="replace").split("\n")
    if any(len(line) > _LONGEST_LINE for line in lines):
        return []
    rows = _of_records(*_in_lines(lines)) or _of_records(*_in_blocks(lines)) or _stacked(lines)
    return [TextTable(label, partial(as_csv, rows), is_exact=True)] if rows else []


def _is_keyed(lines: Sequence[str]) -> bool:
    """Whether the beginning of a text may be such records: most lines have a name before a value, or some are an id alone."""
    lines = [line for line in lines if line.strip()][:_LOOKED_AT]
    named = sum(_LINE.match(line.lstrip(" {")) is not None or _BRACKETS.fullmatch(line) is not None for line in lines)
    ids = sum(_ID_LINE.fullmatch(line.strip()) is not None for line in lines)
    return 2 * named > len(lines) or (ids > 0 and _LEAST_NAMES * ids <= len(lines) + 1)


def _of_records(records: Sequence[dict[str, str]], others: Sequence[str]) -> list[list[str]]:
    """Headings and rows of records; none where their names are no headings. Of lines that belong to none each is a row of one
    cell, so that it counts as unreadable."""
    if any(_ENTRY in record for record in records):
        records = [{_MEANT.get(name, name): value for name, value in record.items()} for record in records]
    counts = Counter(name for record in records for name in record)
    names = [name for name, count in counts.items() if count >= _LEAST_RECORDS or name == _ABOVE]
    if len(names) > MOST_NAMES:
        return []
    senses = [set(sense_of(name).classes) for name in names if name != _ABOVE]
    is_table = (
        len(records) >= _LEAST_RECORDS
        and sum(map(bool, senses)) >= _LEAST_NAMES
        and any(_KEYS & sense for sense in senses)
        and 2 * sum(len(record) > 1 for record in records) > len(records)
    )
    rows = ([record.get(name, "") for name in names] for record in records)
    return [names, *rows, *([line.strip()] for line in others)] if is_table else []


def _in_lines(lines: Sequence[str]) -> tuple[list[dict[str, str]], list[str]]:
    """A record for each line of several names and values, and the lines between them that are none."""
    filled = [line for line in lines if line.strip() and not _BRACKETS.fullmatch(line) and not _COMMENT.match(line)]
    found = [_pairs(line) for line in filled]
    records = [record for record in found if len(record) > 1]
    others = [line for line, record in zip(filled, found, strict=True) if len(record) <= 1]
    return (records, _behind_title(filled, others)) if len(records) >= _INLINE * len(filled) else ([], [])


def _behind_title(lines: Sequence[str], others: list[str]) -> list[str]:
    """Lines of no record, but for those that a text begins with."""
    titles = sum(1 for _ in takewhile(lambda pair: pair[0] == pair[1], zip(lines, others, strict=False)))
    return others[titles:]


def _pairs(line: str) -> dict[str, str]:
    """The names and values of a line, none where it is not made of them."""
    line = line.strip().lstrip("-*{([ ").rstrip("})], ")
    parts = [part for part in _PARTS.findall(line) if part.strip()]
    found = [_PAIR.fullmatch(part) for part in parts]
    if len(found) < _LEAST_NAMES or not all(found):
        words = [_WORD.match(line, place) for place in _word_places(line)]
        found = words if words and words[-1] and words[-1].end() == len(line) else []
    return by_name((one["name"].strip(), _unquoted(one["value"])) for one in found if one)


def _word_places(line: str) -> Iterator[int]:
    place = 0
    while found := _WORD.match(line, place):
        yield place
        place = found.end()


def _in_blocks(lines: Sequence[str]) -> tuple[list[dict[str, str]], list[str]]:
    """A record for each block of lines of a name and a value: a blank line, a bracket, a dash before a name, one in brackets,
    or a name once more begins the next. And the lines that are neither that nor the value of the line before, gone on."""
    records: list[dict[str, str]] = [{}]
    others: list[str] = []
    matched = continued = 0
    for line in lines:
        section = _SECTION.fullmatch(line)
        if not line.strip() or _BRACKETS.fullmatch(line):
            records.append({})
        elif section:
            records.append({_ABOVE: section[1].strip()})
        elif (found := _LINE.fullmatch(line)) and not _COMMENT.match(line):
            name, value = found["name"].strip(), _value(found["value"].strip().rstrip(","))
            if found["dash"] or name in records[-1]:
                records.append({})
            if value:
                records[-1][name] = value
            matched += 1
        elif matched and line[0] in " \t":
            continued += 1
        elif not _COMMENT.match(line):
            others.append(line)
    is_made_of_them = matched >= _MOST_LINES * (matched + continued + len(others))
    filled = [line for line in lines if line.strip()]
    return ([record for record in records if record], _behind_title(filled, others)) if is_made_of_them else ([], [])


def _value(value: str) -> str:
    """A value behind its sign; behind two colons it is in Base64 (RFC 2849)."""
    if value.startswith(":"):
        with suppress(ValueError):
            return b64decode(value[1:].strip(), validate=True).decode()
    return _unquoted(value)


def _unquoted(value: str) -> str:
    value = value.strip()
    return value[1:-1] if len(value) > 1 and value[0] == value[-1] and value[0] in "\"'" else value


def _stacked(lines: Sequence[str]) -> list[list[str]]:
    """Rows of a table of which each cell stands in a line of its own: ids come at equal distances."""
    filled = [line.strip() for line in lines if line.strip()]
    places = [place for place, line in enumerate(filled) if _ID_LINE.fullmatch(line) and country_of_id(int(line))]
    steps = {after - before for before, after in pairwise(places)}
    if len(places) < _LEAST_STACKED or len(steps) != 1:
        return []
    width = steps.pop()
    offset = places[0] % width
    if not _LEAST_NAMES <= width <= _LONGEST_RECORD or len(filled) % width or places[-1] + width - offset != len(filled):
        return []
    first = places[0] // width
    if first > 1 or (first == 1 and not all(sense_of(cell).classes for cell in filled[:width])):
        return []
    return [filled[place : place + width] for place in range(0, len(filled), width)]
