"""Quick ways are taken where they can be: the slow way beside each is forbidden, and shown to be the one that is forbidden.

A quick way that silently never runs gives the same results, so that no other test would notice.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import polars as pl
import pyarrow as pa
import pytest
from heard_weights import weights_in
from test_heard_store import HEADING, NOW, fold, rows_text

import pruner
from pruner.calls.counted_days import CountedDays
from pruner.clean import callsigns, ids
from pruner.job import choose
from pruner.read import delimited, heard_times, open_table
from pruner.table import identify, json_rows
from pruner.words import schema

Patch = pytest.MonkeyPatch


class SlowWayError(Exception):
    """The way that was forbidden was taken."""


def forbid(patch: Patch, owner: object, name: str) -> None:
    def forbidden(*values: object, **named: object) -> None:
        raise SlowWayError(name)

    patch.setattr(owner, name, forbidden)


def read_ids(*texts: str | None) -> list[int]:
    numbers: list[int] = ids.parse_ids(pa.array(texts, pa.string()), schema.SYSTEMS["dmr"]).number.tolist()
    return numbers


def test_ids_of_up_to_eight_digits_are_read_as_words(monkeypatch: Patch) -> None:
    forbid(monkeypatch, ids, "_parse_longer")
    assert read_ids("2321234", "1", "00000007", "9999999") == [2321234, 1, 7, 9999999]
    for text in ("000000007", "232123a", None):
        with pytest.raises(SlowWayError):
            read_ids("2321234", text)


def test_longer_digits_are_read_together(monkeypatch: Patch) -> None:
    forbid(monkeypatch, ids, "whole_number")
    assert read_ids("232123401", "000002321234") == [2321234, 2321234]
    with pytest.raises(SlowWayError):
        read_ids("2.321.234")


def test_call_signs_of_the_ordinary_form_are_read_together(monkeypatch: Patch) -> None:
    forbid(monkeypatch, callsigns, "clean_callsign")
    text = pa.array(["OE1XYZ", "G7QQQ", "2E0ABC", "D23AB"])
    assert callsigns.clean_callsigns(text)[0] is text
    assert callsigns.clean_callsigns(pa.array(["OE1XYZ", " g7Qqq\t"]))[0].to_pylist() == ["OE1XYZ", "G7QQQ"]
    for other in ("OE1XYZ/P", "DL0", "ABCDEFGHI", "oe1 xyz"):
        with pytest.raises(SlowWayError):
            callsigns.clean_callsigns(pa.array(["OE1XYZ", other]))


PLAIN = "Radio ID,Callsign,Name,City,Country\n" + "".join(
    f"{2320000 + 7 * n},OE1AA{chr(65 + n)},Kelmar,Erlau,Austria\n" for n in range(20)
)


@pytest.mark.parametrize(
    ("owner", "name", "changed"),
    [
        (open_table, "formed", lambda text: text.replace("Erlau", "n/a")),
        (open_table, "common_text", lambda text: text.replace("Kelmar", ' "Kel, mar"')),
        (delimited, "quote_structure", lambda text: text.replace("Kelmar", '"Kel, mar"')),
        (delimited, "_without_aside", lambda text: text.replace("2320070", "# end of the club\n2320070")),
        (delimited, "_without", lambda text: text + '2320200,OE1BBB,"Kelmar,Erlau,Austria\n'),
    ],
)
def test_a_clean_table_is_parsed_as_it_stands(
    owner: object, name: str, changed: Callable[[str], str], tmp_path: Path, monkeypatch: Patch
) -> None:
    (tmp_path / "plain.csv").write_text(PLAIN)
    (tmp_path / "other.csv").write_text(changed(PLAIN))
    assert pruner.stations(tmp_path / "other.csv").read >= 20
    forbid(monkeypatch, owner, name)
    assert len(pruner.stations(tmp_path / "plain.csv").contacts) == 20
    with pytest.raises(SlowWayError):
        pruner.stations(tmp_path / "other.csv")


def test_columns_that_agree_are_not_scored_against_others(monkeypatch: Patch) -> None:
    scored: list[tuple[str, int]] = []
    score = identify.score

    def counting(board: identify.Board, meaning: identify.Meaning, place: int) -> float:
        scored.append((meaning.name, place))
        return score(board, meaning, place)

    monkeypatch.setattr(identify, "score", counting)
    clean = pl.read_csv(PLAIN.encode())
    pruner.stations(clean)
    for name, place in (("callsign", 1), ("town", 3), ("country", 4)):
        assert [one for one in scored if one[0] == name] == [(name, place)]
    scored.clear()
    pruner.stations(clean.rename({"Callsign": "what", "City": "where"}))
    assert len({place for name, place in scored if name == "callsign"}) > 1


def test_json_is_read_by_its_paths(tmp_path: Path, monkeypatch: Patch) -> None:
    records = [
        {"id": 2320000 + 7 * n, "callsign": f"OE1AA{chr(65 + n)}", "home": {"city": "Erlau", "country": "Austria"}}
        for n in range(20)
    ]
    odd = [*records[:-1], {**records[-1], "home": '{"city": "Erlau", "country": "Austria"}'}]
    (tmp_path / "plain.json").write_text(json.dumps(records))
    (tmp_path / "other.json").write_text(json.dumps(odd))
    assert pruner.stations(tmp_path / "other.json").contacts["country_code"].to_list() == ["AT"] * 20
    forbid(monkeypatch, json_rows, "record_of")
    assert pruner.stations(tmp_path / "plain.json").contacts["country_code"].to_list() == ["AT"] * 20
    with pytest.raises(SlowWayError):
        pruner.stations(tmp_path / "other.json")


def test_iso_times_are_read_by_their_bytes(monkeypatch: Patch) -> None:
    forbid(monkeypatch, heard_times, "_mixed")
    time, is_time = heard_times.parse_times(pa.array(["2026-11-25T12:00:00Z", "2026-11-25 12:00:01"]), "UTC")
    assert is_time.all()
    assert time.tolist() == [1_795_608_000_000, 1_795_608_001_000]
    for text in ("25.11.2026 12:00", "1795608000"):
        with pytest.raises(SlowWayError):
            heard_times.parse_times(pa.array([text]), "UTC")


def test_an_order_by_id_is_a_mask(monkeypatch: Patch) -> None:
    frame = pl.read_csv(PLAIN.encode())
    rules = [pruner.Keep(order="id")]
    expected = pruner.fit(frame, rules=rules, radio=pruner.Radio(contacts=7)).kept
    forbid(monkeypatch, choose, "queue_of")
    assert pruner.fit(frame, rules=rules, radio=pruner.Radio(contacts=7)).kept.equals(expected)
    for other in (pruner.Keep(order="id", ids=[2320000]), pruner.Keep()):
        with pytest.raises(SlowWayError):
            pruner.fit(frame, rules=[other], radio=pruner.Radio(contacts=7))


def test_what_was_folded_is_not_read_again(tmp_path: Path, monkeypatch: Patch) -> None:
    log = tmp_path / "calls.csv"
    log.write_text(HEADING + "".join(rows_text(300)))
    fold(tmp_path / "state", log)
    from pruner.logs import rows

    forbid(monkeypatch, rows, "judge")
    assert (weights_in(tmp_path / "state").total_calls() > 0, fold(tmp_path / "state", log).total.read) == (True, 0)
    with log.open("a") as file:
        file.write("".join(rows_text(3, seed=9)))
    with pytest.raises(SlowWayError):
        fold(tmp_path / "state", log)


def test_what_was_counted_is_not_counted_again(tmp_path: Path, monkeypatch: Patch) -> None:
    log = tmp_path / "calls.csv"
    log.write_text(HEADING + "".join(rows_text(300)))
    fold(tmp_path, log, now=NOW)
    first = weights_in(tmp_path).total_calls()
    forbid(monkeypatch, CountedDays, "_count")
    assert weights_in(tmp_path).total_calls() == first > 0
    for path in (tmp_path / "heard" / "dmr" / "counted").iterdir():
        path.unlink()
    with pytest.raises(SlowWayError):
        weights_in(tmp_path).total_calls()
