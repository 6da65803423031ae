"""Bytes in a radio's memory: the same as an encoder that really writes them; and the largest part of a queue that fits.

The encoder below shares nothing with the code under test: it writes each record bit by bit and lays records on pages one after
the other. The lengths of encoded text are those of Python's own codecs (UTF-8: RFC 3629, UTF-16: RFC 2781).
"""

from __future__ import annotations

import numpy as np
import pytest
from draws import draws
from hypothesis import given
from hypothesis import strategies as st
from memory_pages import laid_out

from pruner.choose.memory import (
    MemoryModel,
    TextField,
    count_units,
    largest_prefix,
    level_sizes,
    pages_needed,
    record_sizes,
    total_bytes,
)

ID_BYTES = 3


def encoded(text: str, field: TextField) -> bytes:
    """One text as the field's description says, character after character."""
    closing = "\0" if field.form == "terminated" else ""
    longest = {"fixed": field.characters, "terminated": field.characters, "prefixed": 256**field.prefix - 1}[field.form]
    longest = min(longest if longest is not None else 1 << 30, field.characters if field.characters is not None else 1 << 30)
    kept, units = "", 0
    for character in text:
        width = len(character.encode("utf-8")) if field.bits == "utf-8" else 1
        width = 2 if field.bits == 16 and ord(character) > 0xFFFF else width
        if units + width > longest:
            break
        kept, units = kept + character, units + width
    if field.form == "fixed":
        kept += "\0" * (longest - units)
    kept += closing
    if field.bits == "utf-8":
        data = kept.encode("utf-8")
    elif field.bits == 16:
        data = kept.encode("utf-16-be")
    else:
        bits = "".join(format(ord(character) % (1 << field.bits), f"0{field.bits}b") for character in kept)
        bits += "0" * (-len(bits) % 8)
        data = bytes(int(bits[start : start + 8], 2) for start in range(0, len(bits), 8))
    return (units.to_bytes(field.prefix, "little") if field.form == "prefixed" else b"") + data


def written(model: MemoryModel, rows: list[dict[str, str]]) -> tuple[bytes, list[int]]:
    """The whole memory, and the length of each record."""
    data = bytearray(b"H" * model.header)
    for number in range(len(rows)):
        data += number.to_bytes(model.index, "little") if model.index else b""
    area = bytearray()
    lengths = []
    for number, row in enumerate(rows):
        record = number.to_bytes(ID_BYTES, "little") + b"\xff" * (model.record - ID_BYTES)
        record += b"".join(encoded(row[field.name], field) for field in model.fields)
        if model.page is not None and len(area) % model.page + len(record) > model.page:
            area += b"\xff" * (-len(area) % model.page)
        area += record
        lengths.append(len(record))
    if model.page is not None:
        area += b"\xff" * (-len(area) % model.page)
    return bytes(data + area), lengths


NAMES = ("callsign", "first_name", "town")
TEXT = st.text(st.sampled_from("ABCZ09 aéß漢🎈"), max_size=12)


@st.composite
def models(draw: st.DrawFn) -> MemoryModel:
    fields = []
    for name in NAMES[: draw(st.integers(0, 3))]:
        form = draw(st.sampled_from(["fixed", "terminated", "prefixed"]))
        characters = draw(st.integers(1, 9))
        unlimited = form != "fixed" and draw(st.booleans())
        bits = draw(st.sampled_from([6, 7, 8, 16, "utf-8"]))
        fields.append(TextField(name, form, None if unlimited else characters, bits, draw(st.integers(1, 2))))
    longest = sum(max(len(encoded(text * 12, field)) for text in ("🎈", "a")) for field in fields)
    record = draw(st.integers(ID_BYTES, 9))
    page = draw(st.none() | st.integers(longest + record, longest + record + 60))
    return MemoryModel(tuple(fields), draw(st.integers(0, 20)), record, draw(st.integers(0, 4)), page)


@draws(200)
@given(models(), st.lists(st.fixed_dictionaries(dict.fromkeys(NAMES, TEXT)), max_size=30))
def test_computed_sizes_are_those_of_an_encoder(model: MemoryModel, rows: list[dict[str, str]]) -> None:
    characters = {field.name: count_units([row[field.name] for row in rows], field) for field in model.fields}
    sizes = record_sizes(model, characters, len(rows))
    data, lengths = written(model, rows)
    assert sizes.dtype == np.int64
    assert sizes.tolist() == lengths
    assert total_bytes(model, sizes) == len(data)


@given(models(), st.lists(st.fixed_dictionaries(dict.fromkeys(NAMES, TEXT)), max_size=10))
def test_a_text_left_out_by_a_level_is_an_empty_one(model: MemoryModel, rows: list[dict[str, str]]) -> None:
    characters = {field.name: count_units([row[field.name] for row in rows], field) for field in model.fields}
    sizes = level_sizes(model, characters, [NAMES, NAMES[:2], NAMES[:1], ()], len(rows))
    assert sizes.shape == (len(rows), 4)
    for level in range(4):
        cut = [{name: text if name in NAMES[: 3 - level] else "" for name, text in row.items()} for row in rows]
        assert sizes[:, level].tolist() == written(model, cut)[1]


def test_packed_bits_by_hand() -> None:
    """Seven bits per character: eight characters in seven bytes (3GPP TS 23.038 packs so; from memory)."""
    field = TextField("callsign", "prefixed", bits=7)
    assert field.stored(np.array([0, 1, 7, 8, 9])).tolist() == [1, 2, 8, 8, 9]
    six = TextField("callsign", "terminated", bits=6)
    assert six.stored(np.array([0, 1, 3, 4])).tolist() == [1, 2, 3, 4]


@pytest.mark.parametrize(
    ("bits", "longest", "units"), [("utf-8", 4, 3), ("utf-8", 6, 6), (16, 1, 1), (16, 2, 2), (16, 3, 2), (16, 4, 4), (8, 9, 3)]
)
def test_text_is_never_cut_inside_a_character(bits: int | str, longest: int, units: int) -> None:
    text = {"utf-8": "漢漢", 16: "ab🎈", 8: "漢漢é"}[bits]
    assert count_units([text], TextField("town", "terminated", longest, bits)).tolist() == [units]


def test_nonsense_is_refused() -> None:
    model = MemoryModel((TextField("town", "terminated", 5),), record=3, page=8)
    with pytest.raises(ValueError, match="no field twon"):
        record_sizes(model, {"twon": np.array([1])})
    with pytest.raises(ValueError, match="longer than the 5"):
        record_sizes(model, {"town": np.array([6])})
    with pytest.raises(ValueError, match="number of contacts"):
        record_sizes(model, {})
    with pytest.raises(ValueError, match="does not fit on a page of 8"):
        total_bytes(model, np.array([9]))
    with pytest.raises(ValueError, match="needs its number"):
        TextField("town", "fixed")


@given(st.lists(st.integers(0, 30), max_size=400), st.integers(30, 200))
def test_pages_are_those_of_records_laid_one_after_the_other(sizes: list[int], page: int) -> None:
    model = MemoryModel((), page=page)
    assert pages_needed(np.array(sizes, dtype=np.int64), page) * page == laid_out(model, sizes)


def test_many_small_pages() -> None:
    sizes = np.tile([7, 5, 3, 11, 2], 40_000)
    assert pages_needed(sizes, 11) * 11 == laid_out(MemoryModel((), page=11), sizes.tolist())


@st.composite
def lines(draw: st.DrawFn) -> tuple[MemoryModel, list[int], list[int], list[int], int, int | None]:
    sizes = draw(st.lists(st.integers(0, 20), max_size=25))
    order = draw(st.permutations(range(len(sizes))))[: draw(st.integers(0, 25))]
    key = draw(st.permutations(range(len(sizes))))
    page = draw(st.none() | st.sampled_from([20, 21, 33, 64, 500]))
    model = MemoryModel((), draw(st.integers(0, 30)), 0, draw(st.integers(0, 3)), page)
    return model, sizes, list(order), list(key), draw(st.integers(0, 420)), draw(st.none() | st.integers(0, 25))


@draws(300)
@given(lines())
def test_the_largest_part_of_a_line_that_fits(
    line: tuple[MemoryModel, list[int], list[int], list[int], int, int | None],
) -> None:
    model, sizes, order, key, limit_bytes, limit_records = line

    def needed(count: int) -> int:
        return laid_out(model, [sizes[position] for position in sorted(order[:count], key=lambda position: key[position])])

    count = largest_prefix(
        model,
        np.array(sizes, dtype=np.int64),
        np.array(order, dtype=np.int64),
        np.array(key, dtype=np.int64),
        limit_bytes,
        limit_records,
    )
    assert count == 0 or needed(count) <= limit_bytes
    assert limit_records is None or count <= limit_records
    if count < len(order) and count != limit_records:
        assert needed(count + 1) > limit_bytes
