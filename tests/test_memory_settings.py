"""The tables `[radio.memory]` and `[[radio.level]]`: what is accepted, and what is said of mistakes."""

from __future__ import annotations

import tomllib
from typing import Any

import numpy as np
import pytest
from pydantic import TypeAdapter, ValidationError

from pruner.choose.memory import MemoryModel, TextField, record_sizes
from pruner.settings.load import freeze
from pruner.settings.memory_models import Level, LevelList, Memory

GOOD = """
bytes = 4_000_000
header = 16
record = 8
index = 4
page = 2048
[[field]]
name = "callsign"
form = "fixed"
characters = 8
[[field]]
name = "name"
form = "terminated"
bits = 16
characters = 20
[[field]]
name = "town"
form = "prefixed"
prefix = 2
bits = 7
characters = 300
[[field]]
name = "state"
form = "prefixed"
bits = "utf-8"
"""


def read(text: str) -> dict[str, Any]:
    document: dict[str, Any] = freeze(tomllib.loads(text))
    return document


def said(text: str) -> dict[str, str]:
    with pytest.raises(ValidationError) as caught:
        Memory.model_validate(read(text), context={"in_file": True})
    return {".".join(map(str, problem["loc"])): problem["msg"] for problem in caught.value.errors()}


def test_a_memory_and_the_size_of_its_longest_record() -> None:
    memory = Memory.model_validate(read(GOOD))
    assert [field.prefix for field in memory.fields] == [None, None, 2, 1]
    sizes = [8, 2 * 21, 2 + 263, 1 + 255]  # 300 characters of 7 bits are 262.5 bytes
    assert [field.largest for field in memory.fields] == sizes
    model = MemoryModel(
        tuple(TextField(field.name, field.form, field.characters, field.bits, field.prefix or 1) for field in memory.fields),
        memory.header,
        memory.record,
        memory.index,
        memory.page,
    )
    full = {field.name: np.array([field.longest]) for field in model.fields if field.longest is not None}
    assert record_sizes(model, full).tolist() == [8 + sum(sizes)]
    exact = GOOD.replace("page = 2048", f"page = {8 + sum(sizes)}")
    assert Memory.model_validate(read(exact)).page == 8 + sum(sizes)


@pytest.mark.parametrize(
    ("old", "new", "where", "message"),
    [
        ("page = 2048", "page = 578", "page", "expected 579 or more, the bytes of the longest record"),
        ("header = 16", "header = 4_000_000", "header", "expected less than the bytes of the whole memory"),
        ("bits = 16\n", "bits = 5\n", "field.1.bits", 'expected 6, 7, 8 or 16 bits per character, or "utf-8"'),
        ("bits = 16\n", "bits = true\n", "field.1.bits", 'expected 6, 7, 8 or 16 bits per character, or "utf-8"'),
        ("bits = 16\n", "bits = 8.0\n", "field.1.bits", 'expected 6, 7, 8 or 16 bits per character, or "utf-8"'),
        ("bits = 16\n", "bits = [8]\n", "field.1.bits", 'expected 6, 7, 8 or 16 bits per character, or "utf-8"'),
        ("bits = 16\n", "prefix = 1\n", "field.1.prefix", 'needs form = "prefixed" in the same table'),
        ("characters = 8\n", "", "field.0.characters", 'expected the number of characters, which form = "fixed" needs'),
        ("prefix = 2", "prefix = 1", "field.2.characters", "expected 255 or less, as a length of 1 byte(s) can say"),
        ('name = "town"', 'name = "name"', "field", 'expected each text once, but "name" stands here twice'),
        ('"town"', '"twon"', "field.2.name", 'expected the name of a text column, got "twon"; did you mean "town"?'),
        ("bits = 16\ncharacters = 20\n", "", "page", 'needs characters = ... in the field "name": a record must fit on a page'),
    ],
)
def test_mistakes_in_a_memory(old: str, new: str, where: str, message: str) -> None:
    assert old in GOOD
    assert said(GOOD.replace(old, new)) == {where: message}


def test_a_record_must_take_some_bytes() -> None:
    assert list(said("bytes = 10").values()) == [
        "expected record = ... or [[radio.memory.field]] tables: contacts must take some bytes"
    ]
    assert Memory.model_validate(read("bytes = 10\nrecord = 1")).fields == ()


def test_mistakes_are_reported_together() -> None:
    text = GOOD.replace("bits = 7", "bits = 9").replace("bytes = 4_000_000", "bytes = 0").replace("index = 4", "index = -1")
    assert set(said(text)) == {"bytes", "index", "field.2.bits"}


LEVELS = """
[[level]]
name = "all"
fields = ["callsign", "first_name", "town"]
[[level]]
name = "without town"
fields = ["first_name", "callsign"]
worth = 0.98
[[level]]
name = "call sign"
fields = ["callsign"]
worth = 0.6
"""


def levels(text: str) -> tuple[Level, ...]:
    found: tuple[Level, ...] = TypeAdapter(LevelList).validate_python(read(text)["level"])
    return found


def test_levels_from_the_richest_to_the_leanest() -> None:
    assert [(level.name, level.worth) for level in levels(LEVELS)] == [("all", 1.0), ("without town", 0.98), ("call sign", 0.6)]


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("worth = 0.6", "worth = 0.99", 'level 3: expected a worth of 0.98 or less, as "without town" has'),
        (
            'fields = ["callsign"]',
            'fields = ["town"]',
            'level 3: expected fewer texts than "without town" has, and no other ones',
        ),
        ('["first_name", "callsign"]', '["callsign", "callsign"]', "level 2: expected each text once"),
        ('"call sign"', '"all"', 'level 3: expected a name of its own, but "all" stands before it'),
        ('["callsign"]', '["callsing"]', 'expected the name of a text column, got "callsing"; did you mean "callsign"?'),
        ("worth = 0.6", "worth = 1.6", "Input should be less than or equal to 1"),
    ],
)
def test_mistakes_in_levels(old: str, new: str, message: str) -> None:
    assert old in LEVELS
    with pytest.raises(ValidationError) as caught:
        levels(LEVELS.replace(old, new))
    assert [problem["msg"] for problem in caught.value.errors()] == [message]
