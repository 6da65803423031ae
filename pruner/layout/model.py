"""A layout as frozen models: how one kind of import file looks.

Receives the path of a TOML file, hands on a `Layout`, or all mistakes of the file at once, each with its line.
"""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Annotated, Final, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, PrivateAttr, ValidationError, ValidationInfo

from pruner.account.parts import thawed
from pruner.layout.encoding import TextEncoding, text_encoding
from pruner.layout.mistakes import cross_mistakes, id_mistakes, model_mistakes
from pruner.layout.template import RUNNING, TemplateError, parse_template
from pruner.settings.lines import TomlPath, line_numbers
from pruner.settings.load import freeze
from pruner.settings.values import complete, shown, suggestion, wrong
from pruner.words import schema
from pruner.words.errors import SettingsError

#: What a cell of a contact file can hold, besides the running numbers.
CONTACT_FIELDS: Final = (*schema.CONTACT_COLUMNS, "country_code", "kind", "rank", "rule")
_LINE_ENDINGS: Final = {"lf": "\n", "crlf": "\r\n", "cr": "\r"}
_DOUBT: Final = re.compile(r"\s*#+\s*DOUBTFUL\b:?(.*)")
_STEERING: Final = frozenset({"Cc", "Cf", "Cs", "Zl", "Zp"})


def _plain_text(text: str) -> str:
    if any(unicodedata.category(character) in _STEERING for character in text):
        raise wrong("expected text without line breaks and other control characters")
    return text


def _template(text: str, info: ValidationInfo) -> str:
    fields = (*(info.context or {}).get("fields", CONTACT_FIELDS), *RUNNING)
    try:
        pieces = parse_template(text)
    except TemplateError as error:
        raise wrong(str(error)) from None
    for piece in pieces:
        if piece.is_field and piece.text not in fields:
            near = suggestion(piece.text, fields) or f"; fields: {', '.join(fields)}"
            raise complete(f"there is no field {shown(piece.text)}{near}")
    return _plain_text(text)


def _delimiter(text: str) -> str:
    if len(text) != 1 or not (text == "\t" or " " <= text <= "~") or text.isalnum() or text in "\"'":
        raise wrong('expected one sign that is no letter, digit or quote, such as ";" or "\\t"')
    return text


def _encoding(text: str) -> str:
    try:
        text_encoding(text)
    except LookupError as error:
        raise wrong(str(error.args[0])) from None
    return text


def _ending(text: str) -> str:
    if not 1 <= len(text) <= 8 or not text.isascii() or not text.isalnum():
        raise wrong('expected the ending of a file name: up to 8 letters and digits, such as "csv"')
    return text


def _sign(text: str) -> str:
    if len(text) != 1 or not " " <= text <= "~":
        raise wrong("expected one printable ASCII character")
    return text


def _order(text: str, info: ValidationInfo) -> str:
    fields = (info.context or {}).get("fields", CONTACT_FIELDS)
    legal = [field for field in (schema.ID, schema.CALLSIGN, "rank") if field in fields]
    if text not in legal:
        raise complete(f"expected one of {', '.join(legal)}, got {shown(text)}{suggestion(text, legal)}")
    return text


TemplateText = Annotated[str, AfterValidator(_template)]
Size = Annotated[int, Field(ge=1, le=1_000_000_000)]


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class FileForm(_Table):
    """The dialect of a file. `quoting`: which cells are put into quotes (`texts`: all that are no digits and not empty).
    `width_unit`: what widths count: `units` of the encoding (a byte in cp1252 and UTF-8, two in UTF-16), `bytes`, or
    `characters` (extended grapheme clusters). `lines_above`: what stands above the headings in each file. `without_ids`:
    no column holds the id, and that is meant."""

    kind: Literal["delimited", "fixed"] = "delimited"
    delimiter: Annotated[str, AfterValidator(_delimiter)] = ","
    quoting: Literal["as needed", "all", "texts", "none"] = "as needed"
    encoding: Annotated[str, AfterValidator(_encoding)] = "utf-8"
    byte_order_mark: bool | None = None
    line_ending: Literal["lf", "crlf", "cr"] = "crlf"
    headings: bool = True
    lines_above: tuple[Annotated[str, AfterValidator(_plain_text)], ...] = ()
    rows_per_file: Size | None = None
    order: Annotated[str, AfterValidator(_order)] = "id"
    number_from: Annotated[int, Field(ge=0, le=1_000_000_000)] = 1
    width_unit: Literal["units", "bytes", "characters"] = "units"
    cut: Literal["letter", "word"] = "letter"
    ending: Annotated[str, AfterValidator(_ending)] | None = None
    without_ids: bool = False


class Column(_Table):
    """One column. `pad` is the side on which `pad_with` fills a cell up to its width; a fixed file pads right unless it
    says otherwise. `fallback` is written where no field of `value` holds text. With `capitals` the text of fields is written in
    capitals."""

    title: Annotated[str, AfterValidator(_plain_text)] = ""
    value: TemplateText
    width: Size | None = None
    fallback: TemplateText | None = None
    pad: Literal["left", "right"] | None = None
    pad_with: Annotated[str, AfterValidator(_sign)] = " "
    capitals: bool = False


class Layout(_Table):
    """A whole layout."""

    file: FileForm = FileForm()
    columns: Annotated[tuple[Column, ...], Field(min_length=1, alias="column")]
    _doubts: tuple[str, ...] = PrivateAttr(default=())

    @property
    def doubts(self) -> tuple[str, ...]:
        """What its file marks as doubtful, one sentence each."""
        return self._doubts

    @property
    def encoding(self) -> TextEncoding:
        """The encoding of the files."""
        return text_encoding(self.file.encoding)

    @property
    def mark(self) -> bytes:
        """The byte-order mark with which each file begins; if nothing is said: of UTF-16 and UTF-32 only."""
        encoding = self.encoding
        wanted = encoding.unit > 1 if self.file.byte_order_mark is None else self.file.byte_order_mark
        return encoding.mark if wanted else b""

    @property
    def line_ending(self) -> str:
        """The characters at the end of each line, the last included."""
        return _LINE_ENDINGS[self.file.line_ending]

    @property
    def ending(self) -> str:
        """The ending of the file names, without its point."""
        return self.file.ending or ("csv" if self.file.kind == "delimited" else "txt")

    @property
    def lines_before(self) -> int:
        """How many lines stand before the first row of a file."""
        return len(self.file.lines_above) + self.file.headings

    def padding(self, column: Column) -> Literal["left", "right"] | None:
        """The side on which a column is filled up, None if it is not."""
        return column.pad or ("right" if self.file.kind == "fixed" else None)


def load_layout(path: Path, fields: Sequence[str] = CONTACT_FIELDS) -> Layout:
    """Reads and checks a layout. `fields` are the columns of the frame that will be written.

    Raises SettingsError with one line per mistake, `file:line: key: expected ..., got ...`, in the order of the file.
    """
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except FileNotFoundError:
        raise SettingsError(f"{path}: no layout here; make one from a sample with: pruner layout learn SAMPLE") from None
    except OSError as error:
        raise SettingsError(f"{path}: the layout cannot be read ({error.strerror})") from None
    except UnicodeDecodeError:
        raise SettingsError(f"{path}: the text is not UTF-8; save the file as UTF-8") from None
    return layout_of(text, str(path), fields)


def layout_of(text: str, where: str = "layout", fields: Sequence[str] = CONTACT_FIELDS, *, draft: bool = False) -> Layout:
    """The layout of a TOML text; `where` begins each line of the SettingsError. A `draft` may still lack the id."""
    try:
        document = freeze(tomllib.loads(text))
    except (ValueError, RecursionError) as error:
        message = shown(str(error), 120)[1:-1].replace('\\"', '"')
        raise SettingsError(f"{where}: this is not TOML: {message}") from None
    found = []
    layout: Layout | None = None
    try:
        layout = Layout.model_validate(document, context={"fields": tuple(fields)})
    except ValidationError as error:
        found += model_mistakes(error, _legal_keys)
    wrong = {mistake.path for mistake in found}
    found += cross_mistakes(document, wrong)
    if not draft and schema.ID in fields:
        found += id_mistakes(document, wrong)
    if found or layout is None:
        lines = line_numbers(text)
        placed = sorted(((_line(lines, mistake.path), mistake) for mistake in found), key=lambda pair: pair[0])
        raise SettingsError(
            [f"{where}{f':{line}' if line else ''}: {mistake.key}: {mistake.sentence}" for line, mistake in placed]
        )
    layout._doubts = tuple(_doubtful(text, layout))
    return layout


def _doubtful(text: str, layout: Layout) -> Iterator[str]:
    """The comments `# DOUBTFUL: ...` of a layout, with the columns in which they stand."""
    place = 0
    for number, line in enumerate(text.splitlines(), 1):
        place += line.strip().replace(" ", "").startswith("[[column]]")
        found = _DOUBT.match(line)
        if found is None:
            continue
        what = ""
        if 1 <= place <= len(layout.columns):
            column = layout.columns[place - 1]
            what = f"column {place}{f' {shown(column.title)}' if column.title else ''}, value {shown(column.value)}: "
        yield f"line {number}: {what}doubtful: {found[1].strip() or 'look at it'}"


def _legal_keys(path: TomlPath) -> list[str]:
    if not path:
        return ["file", "column"]
    return list((FileForm if path[0] == "file" else Column).model_fields)


def _line(lines: dict[TomlPath, int], path: TomlPath) -> int:
    while path and path not in lines:
        path = path[:-1]
    return lines.get(path, 0)


def plain_document(layout: Layout) -> dict[str, object]:
    """The layout as plain values, for JSON; what was not set is left out."""
    return layout.model_dump(mode="json", exclude_none=True, by_alias=True)


def layout_of_document(document: Mapping[str, object], where: str) -> Layout:
    """The way back from `plain_document`. Raises SettingsError where the values are no layout."""
    try:
        return Layout.model_validate(freeze(thawed(document)), context={"fields": CONTACT_FIELDS})
    except ValidationError:
        raise SettingsError(f"{where}: the layout that it records cannot be read") from None
