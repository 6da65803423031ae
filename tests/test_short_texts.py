"""The quick way of reading short ids and call signs says the same as the plain way, whatever stands in the text."""

from __future__ import annotations

import re
from unittest import mock

import pyarrow as pa
from hypothesis import given
from hypothesis import strategies as st

from pruner.clean import ids
from pruner.clean.callsigns import have_ordinary_form
from pruner.clean.ids import parse_ids
from pruner.reference.callsign import ORDINARY_FORM
from pruner.words import schema
from pruner.words.number import whole_number
from pruner.words.outcomes import Reason
from pruner.words.short_texts import codes_of, words_of

DIGITS = st.text("0123456789", max_size=10)
NEARLY_DIGITS = st.text("0123456789/:+-. e\0\u0661\u00b2", max_size=10)
ALMOST_CALLSIGNS = st.text("AZMaz09/@[`:\0\x7f\x80Ä", max_size=10)
CALLSIGNS = st.from_regex(ORDINARY_FORM.replace("$", r"\Z"))
TEXTS = st.lists(st.one_of(st.none(), DIGITS, NEARLY_DIGITS, CALLSIGNS, ALMOST_CALLSIGNS), max_size=40)


def plainly(text: str | None, system: schema.System) -> tuple[int, Reason]:
    """The contract of DEVELOPERS.md without the device suffix, which other systems than dmr do not have."""
    number = whole_number(text or "")
    if not 0 <= number <= system.highest:
        return 0, Reason.INVALID_ID
    return number, Reason.NONE if system.first <= number <= system.last else Reason.RESERVED_ID


@given(TEXTS, st.integers(0, 5))
def test_ids(texts: list[str | None], start: int) -> None:
    system = schema.SYSTEMS["p25"]
    read = parse_ids(pa.array(texts, pa.string()).slice(start), system)
    found = list(zip(read.number.tolist(), read.reason.tolist(), strict=True))
    assert found == [plainly(text, system) for text in texts[start:]]
    assert not read.suffixed.any()


@given(TEXTS, st.integers(0, 5))
def test_the_ordinary_form_of_call_signs(texts: list[str | None], start: int) -> None:
    found = have_ordinary_form(pa.array(texts, pa.string()).slice(start)).tolist()
    pattern = re.compile(ORDINARY_FORM.replace("$", ""), re.ASCII)
    assert found == [text is not None and pattern.fullmatch(text) is not None for text in texts[start:]]


def test_all_orders_of_letters_and_digits() -> None:
    orders = [bin(number)[3:].replace("0", "A").replace("1", "7") for number in range(2, 1 << 10)]
    found = have_ordinary_form(pa.array(orders, pa.string())).tolist()
    assert found == [re.fullmatch(ORDINARY_FORM, order) is not None for order in orders]
    assert 0 < sum(found) < len(orders)


def test_missing_texts_with_something_in_their_place() -> None:
    offsets, letters = pa.array([0, 2, 6], pa.int32()).buffers()[1], pa.py_buffer(b"42OE1A")
    text = pa.StringArray.from_buffers(2, offsets, letters, pa.py_buffer(b"\x00"), 2)
    assert text.to_pylist() == [None, None]
    assert parse_ids(text, schema.SYSTEMS["dmr"]).reason.tolist() == [Reason.INVALID_ID] * 2
    assert not have_ordinary_form(text).any()


def test_more_texts_than_a_piece_holds() -> None:
    texts = pa.array([str(number) for number in range(1, 70_000)], pa.string())
    assert parse_ids(texts, schema.SYSTEMS["dmr"]).number.tolist() == list(range(1, 70_000))
    assert [part.start for part, _, _ in words_of(texts)] == list(range(0, 69_999, 1 << 14))


@given(TEXTS, st.integers(0, 5))
def test_codes_tell_the_same_texts_apart_as_a_dictionary(texts: list[str | None], start: int) -> None:
    column = pa.array(texts, pa.string()).slice(start)
    codes = codes_of(column)
    if codes is None:
        assert any(len(text.encode()) > 8 or text.endswith("\0") for text in texts[start:] if text)
        return
    numbers: dict[str | None, int] = {None: -1}
    for text, code in zip(texts[start:], codes.tolist(), strict=True):
        assert numbers.setdefault(text, code) == code
    assert len(set(numbers.values())) == len(numbers)


def test_codes_of_call_signs_of_an_ordinary_directory_are_made_without_a_dictionary() -> None:
    assert codes_of(pa.array(["OE1ABC", None, "OE1ABC", "2E0ABC/P"])) is not None
    assert codes_of(pa.array(["OE1ABC", "OE1ABC/QRP"])) is None


def test_up_to_eight_digits_are_read_in_the_quick_way_alone() -> None:
    """Zeros too; all other texts are left to the longer way."""
    with mock.patch.object(ids, "_parse_longer") as longer:
        numbers = parse_ids(pa.array(["0", "00000000", "7", "99999999"]), schema.SYSTEMS["p25"]).number
    assert numbers.tolist() == [0, 0, 7, 0]
    longer.assert_not_called()
    others = pa.array(["", "x", "+1", None, "123456789", "1234567x", "0"], pa.string())
    assert ids._parse_short(others).tolist() == [-1, -1, -1, -1, -1, -1, 0]
