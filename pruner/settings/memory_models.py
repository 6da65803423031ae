"""The tables `[radio.memory]` and `[[radio.level]]`: how a radio stores contacts in bytes, and how text may be left out.

Receives the tables as the TOML reader gives them (lists as tuples), hands on frozen models. `choose.memory` says what the
numbers mean byte for byte.
"""

from __future__ import annotations

from typing import Annotated, Final, Literal

from pydantic import AfterValidator, BeforeValidator, Field, ValidationInfo, field_validator

from pruner.settings import values
from pruner.settings.table import Table
from pruner.settings.terms import terms_of
from pruner.words import schema

Bits = Literal[6, 7, 8, 16, "utf-8"]
TEXTS: Final = tuple(meaning for meaning in schema.MEANINGS if meaning != schema.ID)
_BITS: Final = (6, 7, 8, 16, "utf-8")


def _text(text: str) -> str:
    if text not in TEXTS:
        near = values.suggestion(text, TEXTS) or f"; known: {', '.join(TEXTS)}"
        raise values.complete(f"expected the name of a text column, got {values.shown(text)}{near}")
    return text


def _bits(value: object) -> Bits:
    if value not in _BITS or isinstance(value, bool | float):
        raise values.wrong('expected 6, 7, 8 or 16 bits per character, or "utf-8"')
    return value


Text = Annotated[str, AfterValidator(_text)]
Bytes = Annotated[int, Field(ge=0, lt=1 << 40)]
Characters = Annotated[int, Field(ge=1, lt=1 << 16)]


class MemoryField(Table):
    """How one text of a contact is stored: `[[radio.memory.field]]`.

    `form`: "fixed" always takes `characters`; "terminated" has one closing character behind the text; "prefixed" has the length
    of the text in `prefix` bytes before it. `bits` per character, or "utf-8" (then `characters` counts bytes).
    `characters` is the most that is stored; it may be absent where the form is not "fixed".
    """

    name: Text
    form: Literal["fixed", "terminated", "prefixed"]
    bits: Annotated[Bits, BeforeValidator(_bits)] = 8
    prefix: Annotated[int, Field(ge=1, le=4)] | None = None
    characters: Characters | None = None

    @field_validator("prefix")
    @classmethod
    def _belongs(cls, prefix: int | None, info: ValidationInfo) -> int | None:
        form = info.data.get("form")
        if prefix is not None and form not in (None, "prefixed"):
            raise values.complete('needs form = "prefixed" in the same table')
        return 1 if prefix is None and form == "prefixed" else prefix

    @field_validator("characters")
    @classmethod
    def _fits(cls, characters: int | None, info: ValidationInfo) -> int | None:
        if characters is None and info.data.get("form") == "fixed":
            raise values.complete('expected the number of characters, which form = "fixed" needs')
        prefix = info.data.get("prefix")
        if characters is not None and prefix is not None and characters >= 256**prefix:
            raise values.wrong(f"expected {256**prefix - 1} or less, as a length of {prefix} byte(s) can say")
        return characters

    @property
    def largest(self) -> int | None:
        """The greatest number of bytes that a text can take here, None if there is no end to it."""
        units = self.characters
        if units is None and self.prefix is not None:
            units = 256**self.prefix - 1
        if units is None:
            return None
        units += self.form == "terminated"
        return (self.prefix or 0) + (units * (8 if self.bits == "utf-8" else self.bits) + 7) // 8


class Memory(Table):
    """The bytes that a radio has for contacts: `[radio.memory]`.

    `bytes` in all; `header` bytes at the beginning; `index` bytes per contact in an area of their own; `record` bytes per
    contact that hold no text (the id among them); the texts; `page`: no contact's record lies across the end of a page of so
    many bytes, counted from the first record.
    """

    bytes: Annotated[int, Field(ge=1, lt=1 << 40)]
    header: Bytes = 0
    index: Bytes = 0
    record: Bytes = 0
    fields: Annotated[tuple[MemoryField, ...], Field(alias="field")] = ()
    page: Annotated[int, Field(ge=1, lt=1 << 40)] | None = None

    @field_validator("header")
    @classmethod
    def _leaves_room(cls, header: int, info: ValidationInfo) -> int:
        if header >= info.data.get("bytes", header + 1):
            raise values.wrong("expected less than the bytes of the whole memory")
        return header

    @field_validator("fields")
    @classmethod
    def _distinct(cls, fields: tuple[MemoryField, ...], info: ValidationInfo) -> tuple[MemoryField, ...]:
        names = [field.name for field in fields]
        for position, name in enumerate(names):
            if name in names[:position]:
                raise values.complete(f"expected each text once, but {values.shown(name)} stands here twice")
        if not fields and info.data.get("record") == 0:
            raise values.complete(f"expected record = ... or {terms_of(info).memory_fields}: contacts must take some bytes")
        return fields

    @field_validator("page")
    @classmethod
    def _holds_a_record(cls, page: int | None, info: ValidationInfo) -> int | None:
        if page is None or "fields" not in info.data or "record" not in info.data:
            return page
        sizes = [(field.name, field.largest) for field in info.data["fields"]]
        for name, size in sizes:
            if size is None:
                raise values.complete(f"needs characters = ... in the field {values.shown(name)}: a record must fit on a page")
        largest = info.data["record"] + sum(size or 0 for _, size in sizes)
        if page < largest:
            raise values.wrong(f"expected {largest} or more, the bytes of the longest record")
        return page


class Level(Table):
    """How much of a contact may be stored: `[[radio.level]]`. `fields` hold text at this level, the others are empty; a call
    whose caller is shown so is worth `worth` of one that shows everything."""

    name: values.Label
    fields: tuple[Text, ...]
    worth: Annotated[float, Field(ge=0, le=1)] = 1.0


def _in_order(levels: tuple[Level, ...]) -> tuple[Level, ...]:
    for position, level in enumerate(levels):
        where = f"level {position + 1}"
        if len(set(level.fields)) < len(level.fields):
            raise values.complete(f"{where}: expected each text once")
        if level.name in [other.name for other in levels[:position]]:
            raise values.complete(f"{where}: expected a name of its own, but {values.shown(level.name)} stands before it")
        if position == 0:
            continue
        richer = levels[position - 1]
        if not set(level.fields) < set(richer.fields):
            raise values.complete(f"{where}: expected fewer texts than {values.shown(richer.name)} has, and no other ones")
        if level.worth > richer.worth:
            raise values.complete(f"{where}: expected a worth of {richer.worth} or less, as {values.shown(richer.name)} has")
    return levels


#: All levels of a radio, from the richest to the leanest.
LevelList = Annotated[tuple[Level, ...], AfterValidator(_in_order)]
