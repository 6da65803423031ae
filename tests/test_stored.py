"""What the tool wrote is read back as it was, and nothing else is taken for it."""

from __future__ import annotations

import dataclasses
import datetime
import json
from collections.abc import Mapping
from dataclasses import dataclass, field

import pytest
from draws import draws
from hypothesis import given
from hypothesis import strategies as st

from pruner.words.stored import StoredError, checked, stored


@dataclass(frozen=True, slots=True)
class Inner:
    name: str
    counts: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Outer:
    day: datetime.date
    number: int
    share: float
    done: bool
    limit: int | None = None
    inner: tuple[Inner, ...] = ()
    pairs: tuple[tuple[float, float | None], ...] | None = None


WHOLE = st.integers(-(1 << 63), (1 << 63) - 1)
DECIMAL = st.floats(-1e12, 1e12)
OUTER = st.builds(
    Outer,
    st.dates(),
    WHOLE,
    DECIMAL,
    st.booleans(),
    st.none() | WHOLE,
    st.lists(st.builds(Inner, st.text(), st.dictionaries(st.text(), WHOLE))).map(tuple),
    st.none() | st.lists(st.tuples(DECIMAL, st.none() | DECIMAL)).map(tuple),
)
JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(),
    lambda inner: st.lists(inner) | st.dictionaries(st.sampled_from([one.name for one in dataclasses.fields(Outer)]), inner),
    max_leaves=12,
)
WHOLE_OUTER = {"day": "2024-01-31", "number": 3, "share": 0.5, "done": True}


@given(OUTER)
@draws(60)
def test_what_was_written_comes_back(one: Outer) -> None:
    text = json.dumps({**dataclasses.asdict(one), "day": one.day.isoformat(), "of_a_later_release": [1]})
    assert stored(Outer, text.encode()) == one


@given(JSON)
@draws(100)
def test_any_other_value_is_an_instance_or_refused(value: object) -> None:
    try:
        found = checked(Outer, value)
    except StoredError as error:
        refusal = str(error)
        assert refusal.splitlines() == [refusal]
        return
    assert isinstance(found.day, datetime.date)
    assert (type(found.number), type(found.share)) == (int, float)
    assert all(isinstance(one, Inner) for one in found.inner)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"number": "3"}, "number: expected a whole number, found a text"),
        ({"number": True}, "number: expected a whole number, found true or false"),
        ({"number": 3.0}, "number: expected a whole number, found a decimal number"),
        ({"number": 1 << 63}, "number: expected a whole number, found one of more than 64 bits"),
        ({"share": float("nan")}, "share: expected a number, found no finite one"),
        ({"day": "tomorrow"}, "day: expected a date such as 2024-01-31, found a text"),
        ({"done": None}, "done: expected true or false, found nothing"),
        ({"inner": [{}]}, "expected 'name' in inner[0], found none"),
        ({"inner": [{"name": "a", "counts": {"b": []}}]}, "inner[0].counts: expected a whole number, found a list"),
        ({"pairs": [[1, 2], [1]]}, "pairs[1]: expected a list of 2, found one of 1"),
        ({"pairs": {}}, "pairs: expected a list, found a table"),
    ],
)
def test_a_refusal_says_where_and_what(change: dict, message: str) -> None:
    with pytest.raises(StoredError) as raised:
        checked(Outer, {**WHOLE_OUTER, **change})
    assert str(raised.value) == message


@pytest.mark.parametrize("text", [b"", b'{"day": "2024', b"\xff\xfe", b"[" * 100_000])
def test_text_that_is_no_json_is_refused(text: bytes) -> None:
    with pytest.raises(StoredError, match="expected JSON"):
        stored(Outer, text)


def test_a_field_that_no_file_holds_is_a_mistake_of_ours() -> None:
    @dataclass(frozen=True)
    class Odd:
        value: complex

    with pytest.raises(TypeError, match="complex"):
        checked(Odd, {"value": 1})
