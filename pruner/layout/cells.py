"""Contacts -> the cells of a layout, as text.

Receives contacts in the order in which they will be written, hands on one text column per column of the layout and what
was changed, counted in contacts.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from typing import Final

import numpy as np
import polars as pl

from pruner.layout.letters import spelled
from pruner.layout.model import Column, Layout
from pruner.layout.template import NUMBER, NUMBER_IN_FILE, constant_text, fields_of, only_field, parse_template
from pruner.layout.widths import closed, cut, padded
from pruner.words.errors import SettingsError

SHORTENED: Final = "shortened for the layout"
TRANSLITERATED: Final = "transliterated for the layout"
REPLACED: Final = "delimiters and quotes replaced for the layout"
FORMULA: Final = "formula start removed for the layout"
FALLBACK: Final = "fallback of the layout used"
#: The kinds of change, and each in a word or two.
CHANGES: Final = {
    SHORTENED: "cut",
    TRANSLITERATED: "transliterated",
    FALLBACK: "fallback",
    REPLACED: "delimiters replaced",
    FORMULA: "formula start removed",
}

#: Control characters and line breaks, and the mark that at the start of a file would be taken for its encoding.
_STEERING: Final = r"[\p{Cc}\p{Zl}\p{Zp}\x{FEFF}]"
_ORPHAN_MARKS: Final = r"^\p{M}+"
_JOINTS: Final = " ,;:/|-"
#: With these a spreadsheet begins a formula (OWASP "CSV Injection", from memory), here with their wide forms.
FORMULA_STARTS: Final = "=+-@＝＋－＠"


@dataclass(slots=True)
class Cells:
    """`frame`: columns "0", "1", ... in the order of the layout; `marks`: the contacts (bool) of each kind of change."""

    frame: pl.DataFrame
    marks: dict[str, pl.Series]

    @property
    def counts(self) -> Counter[str]:
        """Contacts per kind of change."""
        return Counter({kind: int(rows.sum()) for kind, rows in self.marks.items()})


@dataclass(slots=True)
class _Work:
    contacts: pl.DataFrame
    layout: Layout
    texts: dict[tuple[str, bool], pl.Series] = field(default_factory=dict)
    marks: dict[str, pl.Series] = field(default_factory=dict)

    def mark(self, kind: str, rows: pl.Series | None) -> None:
        if rows is not None and rows.any():
            self.marks[kind] = rows | self.marks[kind] if kind in self.marks else rows


def cells_of(contacts: pl.DataFrame, layout: Layout) -> Cells:
    """The cells of contacts that stand in the order in which they are written.

    Raises SettingsError where a number (an id) does not fit its column: it would be another number.
    """
    work = _Work(contacts, layout)
    columns = {str(place): _column(work, column, place) for place, column in enumerate(layout.columns)}
    return Cells(pl.DataFrame(columns, schema=dict.fromkeys(columns, pl.String)), work.marks)


def _column(work: _Work, column: Column, place: int) -> pl.Series:
    text, empty = _filled(work, column.value, column.capitals)
    _refuse_long_numbers(work, column, place, column.value, text)
    if empty is not None and column.fallback is not None and empty.any():
        other, other_empty = _filled(work, column.fallback, column.capitals)
        _refuse_long_numbers(work, column, place, column.fallback, other.filter(empty))
        text = other.zip_with(empty, text)
        work.mark(FALLBACK, empty if other_empty is None else empty & ~other_empty)
    layout = work.layout
    if as_read_column(place) in work.contacts.columns:
        given = work.contacts[as_read_column(place)]
        text = given.zip_with(given.is_not_null(), text)
    if column.width is None:
        return text
    encoding, unit = layout.encoding, layout.file.width_unit
    text, shortened = cut(text, column.width, encoding, unit, layout.file.cut)
    work.mark(SHORTENED, shortened)
    if layout.file.kind == "fixed" and unit == "characters":
        text = closed(text)
    side = layout.padding(column)
    return text if side is None else padded(text, column.width, side, column.pad_with, encoding, unit)


def as_read_column(place: int) -> str:
    """The column of a frame of contacts that holds, for the column of a layout at a place, texts that are written as they are
    (null: what the layout says)."""
    return f"as read {place}"


def _refuse_long_numbers(work: _Work, column: Column, place: int, template: str, texts: pl.Series) -> None:
    name = only_field(template)
    if name is None or column.width is None or not _is_number(work, name):
        return
    long = texts.filter(work.layout.encoding.lengths(texts, work.layout.file.width_unit) > column.width)
    if len(long):
        raise SettingsError(
            f"layout, column {place + 1} {column.title!r}: {name} {long[0]} is longer than the width of {column.width}; "
            "widen the column (a shortened number would be another number)"
        )


def _is_number(work: _Work, name: str) -> bool:
    return name in (NUMBER, NUMBER_IN_FILE) or work.contacts[name].dtype.is_integer()


def _filled(work: _Work, template: str, capitals: bool) -> tuple[pl.Series, pl.Series | None]:
    """The texts of a template, and where it holds nothing (None: nowhere). Where a field is empty, the spaces around it
    become one, and an end of the template that is a field loses the signs that joined it."""
    constant = constant_text(template)
    if constant is not None:
        return pl.Series([constant], dtype=pl.String).new_from_index(0, work.contacts.height), None
    names = fields_of(template)
    texts = [_field(work, name, capitals) for name in names]
    if only_field(template) is None:
        text, all_empty = _joined(template, texts)
    else:
        text = texts[0]
        all_empty = None if _is_number(work, names[0]) else text == ""
    starts = parse_template(template)[0]
    if starts.is_field and not _is_number(work, starts.text):
        formula = text.str.contains(rf"^[{FORMULA_STARTS.replace('-', '')}\-]")
        if formula.any():
            work.mark(FORMULA, formula)
            text = text.str.strip_chars_start(FORMULA_STARTS + " ").zip_with(formula, text)
            all_empty = text == "" if all_empty is None else all_empty | (text == "")
    return text, all_empty


def _joined(template: str, texts: list[pl.Series]) -> tuple[pl.Series, pl.Series | None]:
    frame = pl.DataFrame({str(place): text for place, text in enumerate(texts)})
    columns = iter(frame.columns)
    pieces = [pl.col(next(columns)) if piece.is_field else pl.lit(piece.text) for piece in parse_template(template)]
    some = pl.any_horizontal(pl.col(str(place)) == "" for place in range(len(texts)))
    every = pl.all_horizontal(pl.col(str(place)) == "" for place in range(len(texts)))
    made = frame.select(text=pl.concat_str(pieces), some=some, every=every)
    text = made["text"]
    if made["some"].any():
        begins, ends = loose_ends(template)
        tidy = text.str.replace_all(" {2,}", " ").str.strip_chars_start(begins).str.strip_chars_end(ends)
        text = tidy.zip_with(made["some"], text).set(made["every"], "")
    return text, made["every"] if made["every"].any() else None


def loose_ends(template: str) -> tuple[str, str]:
    """The signs that go at the beginning and at the end of a text where a field of its template is empty."""
    pieces = parse_template(template)
    return _JOINTS if pieces[0].is_field else " ", _JOINTS if pieces[-1].is_field else " "


def _field(work: _Work, name: str, capitals: bool) -> pl.Series:
    """The text of a field as the file can hold it; made once per field."""
    if (name, capitals) not in work.texts:
        work.texts[name, capitals] = _made(work, name, capitals)
    return work.texts[name, capitals]


def _made(work: _Work, name: str, capitals: bool) -> pl.Series:
    form = work.layout.file
    if name in (NUMBER, NUMBER_IN_FILE):
        place = np.arange(work.contacts.height, dtype=np.uint32)
        if name == NUMBER_IN_FILE and form.rows_per_file is not None:
            place %= form.rows_per_file
        return pl.Series(place.astype(np.uint64) + form.number_from).cast(pl.String)
    if _is_number(work, name):
        return work.contacts[name].cast(pl.String)
    codes = work.contacts["country_code"] if "country_code" in work.contacts.columns else None
    given = work.contacts[name].cast(pl.String).fill_null("")
    if capitals:
        given = given.str.to_uppercase().str.normalize("NFC")
    text, changed = spelled(given.str.replace(_ORPHAN_MARKS, ""), codes, work.layout.encoding)
    work.mark(TRANSLITERATED, changed)
    signs = _STEERING
    if form.kind == "delimited" and form.quoting == "none":
        signs = f'{_STEERING[:-1]}"\\x{{{ord(form.delimiter):X}}}]'
    found = text.str.contains(signs)
    if not found.any():
        return text
    work.mark(REPLACED, found)
    return text.str.replace_all(signs, " ").str.replace_all(" {2,}", " ").str.strip_chars(" ").zip_with(found, text)
