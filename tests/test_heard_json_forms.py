"""Heard logs of JSON in the forms that programs leave: behind other text, one value after the other, under keys; and texts
with the colours of a terminal. All data invented."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from heard_weights import totals_in, weights_in
from hypothesis import given
from hypothesis import strategies as st

from pruner.logs.files import FileResult, LogFiles
from pruner.logs.fold import fold_logs
from pruner.read.json_values import KEY, flat_records, values_of
from pruner.read.stream import without_colours
from pruner.words.errors import InputRefusedError

COUNT = 24


def records(day: int = 3) -> list[dict[str, Any]]:
    return [
        {"at": f"2026-03-{day:02}T10:{k:02}:07Z", "radio": 2_320_010 + k % 7, "tg": (232, 91)[k % 2], "seconds": k + 2}
        for k in range(COUNT)
    ]


def fold(folder: Path, text: str) -> FileResult:
    (folder / "calls.json").write_text(text)
    return fold_logs(folder / "state", [LogFiles([folder / "calls.json"])]).files[0]


TOTALS = (COUNT, sum(k + 2 for k in range(COUNT)))


@pytest.mark.parametrize(
    "before",
    [
        lambda k: f"site/{k % 3}/heard",
        lambda k: f"Mar  3 10:{k:02}:09 hut relayd[{700 + k}]:",
        lambda k: f"[2026-03-03 10:{k:02}:09.120] INFO",
        lambda k: f"{k} >>",
    ],
    ids=["topic", "system log", "level", "number"],
)
def test_objects_behind_other_text_are_read(tmp_path: Path, before: Callable[[int], str]) -> None:
    lines = [f"{before(k)} {json.dumps(record)}" for k, record in enumerate(records())]
    lines.insert(5, "listener connected again")
    account = fold(tmp_path, "\n".join(lines) + "\n").account
    assert totals_in(tmp_path / "state") == TOTALS
    assert account.rejected == {"unreadable row": 1}


def test_the_time_may_stand_before_the_object_alone(tmp_path: Path) -> None:
    lines = []
    for record in records():
        at = record.pop("at")
        lines.append(f"{at.replace('T', ' ').removesuffix('Z')} hut relayd: {json.dumps(record)}")
    fold(tmp_path, "\n".join(lines) + "\n")
    assert totals_in(tmp_path / "state") == TOTALS
    assert str(weights_in(tmp_path / "state").rows()["first"].min()).startswith("2026-03-03 10:00:07")


def test_a_topic_tells_starts_and_ends(tmp_path: Path) -> None:
    lines = []
    for k, record in enumerate(records()):
        told = {name: record[name] for name in ("radio", "tg")}
        for word, second in (("start", 7), ("end", 7 + record["seconds"])):
            lines.append(f"site/{word} {json.dumps(told | {'at': f'2026-03-03T10:{k:02}:{second:02}Z'})}")
    fold(tmp_path, "\n".join(lines) + "\n")
    assert totals_in(tmp_path / "state") == TOTALS


@pytest.mark.parametrize("between", ["\n", "", "\n\n", ",\n", "\n\x1e"])
@pytest.mark.parametrize("indent", [2, None])
def test_values_may_follow_each_other(tmp_path: Path, between: str, indent: int | None) -> None:
    fold(tmp_path, between.join(json.dumps(record, indent=indent) for record in records()) + "\n")
    assert totals_in(tmp_path / "state") == TOTALS


def test_values_that_end_early_are_refused(tmp_path: Path) -> None:
    text = "\n".join(json.dumps(record, indent=2) for record in records())
    with pytest.raises(InputRefusedError, match="damaged or ends early"):
        fold(tmp_path, text[:-20])


@given(st.lists(st.dictionaries(st.text(max_size=3), st.integers(), max_size=3), max_size=5), st.sampled_from(["", " ", "\n"]))
def test_values_are_those_that_were_written(values: list[dict[str, int]], between: str) -> None:
    text = between.join(map(json.dumps, values))
    assert values_of(text) == [{key: str(number) for key, number in one.items()} for one in values]


@pytest.mark.parametrize(
    "wrap",
    [
        lambda some: {"hut": some[:5], "tower": some[5:20], "cellar": some[20:]},
        lambda some: {"sites": {"hut": {"calls": some[:9]}, "tower": {"calls": some[9:]}}, "version": 2},
        lambda some: {f"c{k}": record for k, record in enumerate(some)},
        lambda some: {"calls": {str(k): record for k, record in enumerate(some)}, "count": COUNT},
        lambda some: [{"site": "hut", "calls": some[:9]}, {"site": "tower", "calls": some[9:]}],
    ],
    ids=["arrays by site", "deeper", "records by key", "records by key in a field", "sites in a list"],
)
def test_records_under_several_keys_are_all_read(tmp_path: Path, wrap: Callable[[list[dict[str, Any]]], Any]) -> None:
    fold(tmp_path, json.dumps(wrap(records())))
    assert totals_in(tmp_path / "state") == TOTALS


def test_a_day_may_be_the_key(tmp_path: Path) -> None:
    days = {}
    for day in (3, 4):
        days[f"2026-03-{day:02}"] = [record | {"at": record["at"][11:19]} for record in records(day)]
    fold(tmp_path, json.dumps({"days": days}))
    assert totals_in(tmp_path / "state") == (2 * COUNT, 2 * TOTALS[1])
    assert set(weights_in(tmp_path / "state").rows()["day"].cast(str)) == {"2026-03-03", "2026-03-04"}


def test_arrays_of_another_kind_are_no_records() -> None:
    value = {"calls": records(), "links": [{"name": "north", "up": True}]}
    assert len(flat_records(value)) == COUNT
    assert all(KEY not in record for record in flat_records(value))


def test_parties_of_one_call_are_no_records() -> None:
    value = {"source": {"id": 1, "name": "a"}, "target": {"id": 2, "name": "b"}, "gateway": {"id": 3, "name": "c"}}
    assert flat_records(value) == [
        {"source.id": "1", "source.name": "a", "target.id": "2", "target.name": "b", "gateway.id": "3", "gateway.name": "c"}
    ]


@pytest.mark.parametrize("cut", [1, 3, 7, 1000])
def test_colours_of_a_terminal_are_no_part_of_a_text(cut: int) -> None:
    text = b"\x1b[1;32mheard\x1b[0m OE1ZZA\x1b[K\n\x1b]0;title\x07next \x1b(Bline\n" * 3
    blocks = [text[start : start + cut] for start in range(0, len(text), cut)]
    assert b"".join(without_colours(blocks)) == b"heard OE1ZZA\nnext line\n" * 3


@given(st.binary(max_size=60), st.integers(1, 9))
def test_however_a_text_with_escapes_is_cut(text: bytes, cut: int) -> None:
    blocks = [text[start : start + cut] for start in range(0, len(text), cut)]
    assert b"".join(without_colours(blocks)) == b"".join(without_colours([text] if text else []))


def test_a_coloured_table_is_read(tmp_path: Path) -> None:
    lines = ["\x1b[1mtime,id,tg,seconds\x1b[0m"]
    lines += [f"\x1b[36m{one['at']}\x1b[0m,{one['radio']},\x1b[33m{one['tg']}\x1b[0m,{one['seconds']}" for one in records()]
    fold(tmp_path, "\n".join(lines) + "\n")
    assert totals_in(tmp_path / "state") == TOTALS
