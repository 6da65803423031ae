"""Calls that name only a call sign: kept under it, joined to the directory's ids when they are counted."""

from __future__ import annotations

import json
import random
from collections import Counter
from itertools import pairwise
from pathlib import Path
from unittest import mock

import numpy as np
import polars as pl
import pyarrow as pa
import pytest
from draws import draws
from hypothesis import given
from hypothesis import strategies as st

from pruner.account.coverage import CallsignCalls
from pruner.calls import callsigns, counting
from pruner.calls.adding import add_days
from pruner.calls.calls import DAY_SECONDS, Calls
from pruner.calls.callsigns import FRAME, CallsignFolding, callsign_calls
from pruner.calls.covered import load_covered
from pruner.calls.folding import Folding
from pruner.calls.parts import CALLSIGN_CALL, write_part
from pruner.calls.show import callers
from pruner.calls.store import Manifest, commit
from pruner.calls.weights import Weights, load_weights
from pruner.cli.boundary import guarded
from pruner.logs.rows import Bounds, judge
from pruner.read.records import Records
from pruner.words import schema

DAY = 20_000
MIDNIGHT = DAY * DAY_SECONDS


def frame(*rows: tuple[str, int, int]) -> pl.DataFrame:
    """Calls on talkgroup 91: call sign, second of the day, milliseconds."""
    full = [(sign, 91, MIDNIGHT + second, milliseconds, 0, 0) for sign, second, milliseconds in rows]
    return pl.DataFrame(full, schema=FRAME, orient="row")


def by_id(*rows: tuple[int, int, int]) -> Calls:
    id, second, milliseconds = (np.array(column, dtype=np.int64) for column in zip(*rows, strict=True))
    return Calls(id.astype(np.uint32), np.full(len(id), 91, dtype=np.uint32), second + MIDNIGHT, milliseconds.astype(np.uint32))


def store(folder: Path, calls: Calls | None, named: pl.DataFrame) -> Weights:
    folding, signs = Folding(folder), CallsignFolding(folder)
    if calls is not None:
        folding.add(0, calls)
    signs.add(0, named)
    manifest, _, _ = add_days(folder, Manifest("dmr"), folding, signs)
    commit(folder, manifest)
    weights = load_weights(folder)
    assert weights is not None
    return weights


DIRECTORY = (
    np.array([2320001, 2320002, 2320003, 2320004], dtype=np.uint32),
    pa.array(["OE1AA", "OE1AA", "OE2BB", None]),
)


def counted(weights: Weights) -> dict[int, tuple[int, int]]:
    """Calls and milliseconds by id."""
    rows = weights.rows().group_by("id").agg(pl.col("calls", "milliseconds").sum())
    return {id: (calls, milliseconds) for id, calls, milliseconds in rows.rows()}


def test_which_id_a_call_sign_counts_for(tmp_path: Path) -> None:
    """OE1AA was heard most by 2320002, OE2BB has one id only, XX9X is in no directory."""
    calls = by_id((2320002, 100, 5000), (2320002, 200, 5000), (2320001, 300, 5000), (2320004, 400, 5000))
    named = frame(("OE1AA", 1000, 7000), ("OE1AA", 2000, 7000), ("OE2BB", 1000, 4000), ("XX9X", 50, 1000))
    weights = store(tmp_path, calls, named)
    assert counted(weights)[0] == (4, 19_000), "without a directory"
    joined = weights.joined(*DIRECTORY)
    assert counted(joined) == {
        0: (1, 1000),
        2320001: (1, 5000),
        2320002: (4, 24_000),
        2320003: (1, 4000),
        2320004: (1, 5000),
    }
    assert joined.total_calls() == 8
    assert joined.calls(np.array([2320002, 2320003], dtype=np.uint32)).tolist() == [4, 1]


def test_a_call_that_is_known_by_an_id_of_the_call_sign_counts_once(tmp_path: Path) -> None:
    calls = by_id((2320001, 100, 5000), (2320002, 500, 9000), (2320002, 600, 5000), (2320002, 700, 5000), (2320003, 900, 5000))
    named = frame(("OE1AA", 102, 5200), ("OE1AA", 498, 9000), ("OE1AA", 604, 5000), ("OE1AA", 900, 5000))
    joined = store(tmp_path, calls, named).joined(*DIRECTORY)
    # The first two are known; the third is four seconds off, the fourth is another station's call.
    assert counted(joined) == {2320001: (1, 5000), 2320002: (5, 29_000), 2320003: (1, 5000)}


def test_an_id_that_is_found_later_needs_no_new_fold(tmp_path: Path) -> None:
    weights = store(tmp_path, None, frame(("OE5NEW", 100, 5000), ("OE5NEW", 102, 5000)))
    assert counted(weights.joined(*DIRECTORY)) == {0: (1, 5000)}
    later = np.append(DIRECTORY[0], np.uint32(2320009)), pa.array([*DIRECTORY[1].to_pylist(), "OE5NEW"])
    assert counted(weights.joined(*later)) == {2320009: (1, 5000)}


def test_covered_days_count_call_signs_as_the_store_does(tmp_path: Path) -> None:
    """The calendar and the totals of windows are those of the log; callers without an id are one each."""
    calls = by_id((2320001, 100, 5000), (2320002, 500, 9000))
    named = frame(("OE1AA", 102, 5200), ("XX9X", 50, 1000), ("XX9X", 900, 1000), ("YY9Y", 60, 1000), ("OE2BB", 70, 1000))
    weights = store(tmp_path, calls, named).joined(*DIRECTORY)
    covered = load_covered(tmp_path)
    assert covered is not None
    joined = covered.joined(*DIRECTORY)
    assert joined.calendar == covered.calendar
    assert joined.total_calls(within_days=1) == weights.total_calls() == 6
    assert joined.callsign_calls(1) == weights.callsign_calls() == (4, 1)
    assert joined.nameless_calls().tolist() == [2.0, 1.0]
    assert joined.nameless_calls([92]).tolist() == []


def test_showing_callers_without_id(tmp_path: Path) -> None:
    weights = store(tmp_path, by_id((2320001, 100, 5000)), frame(("OE2BB", 1000, 4000), ("XX9X", 50, 1000)))
    columns = ["id", "callsign", "talkgroup", "calls", "milliseconds"]
    assert callers(weights).select(columns).rows() == [
        (2320001, None, 91, 1, 5000),
        (None, "OE2BB", 91, 1, 4000),
        (None, "XX9X", 91, 1, 1000),
    ]
    assert callers(weights.joined(*DIRECTORY)).select(columns).rows() == [
        (2320001, None, 91, 1, 5000),
        (2320003, None, 91, 1, 4000),
        (None, "XX9X", 91, 1, 1000),
    ]


rows_of_a_log = st.lists(
    st.tuples(
        st.sampled_from(["OE1AA", "OE2BB"]),
        st.sampled_from([91, 232]),
        st.builds(
            lambda day, second: MIDNIGHT + day * DAY_SECONDS + second, st.integers(0, 2), st.sampled_from([0, 1, 60, 61])
        ),
        st.integers(0, 3),
        st.integers(0, 1),
        st.integers(0, 2),
    ),
    max_size=30,
)


@draws(40)
@given(
    rows_of_a_log, st.lists(st.integers(0, 30), max_size=3), st.randoms(use_true_random=False), st.sampled_from([1, 1 << 20])
)
def test_any_order_any_cut_leaves_the_same_calls(
    tmp_path_factory: pytest.TempPathFactory, rows: list[tuple[object, ...]], cuts: list[int], draw: random.Random, held: int
) -> None:
    folder = tmp_path_factory.mktemp("signs")
    edges = [0, *sorted(cuts), len(rows)]
    logs = [rows[begin:end] for begin, end in pairwise(edges)] + [rows[: len(rows) // 2]]
    draw.shuffle(logs)
    kept: list[dict[int, bytes]] = []
    counts = []
    for runs in ([rows], logs):
        files: dict[int, Path] = {}
        new: Counter[int] = Counter()
        for half in (runs[:1], runs[1:]):
            with mock.patch.object(callsigns, "_HELD", held):
                folding = CallsignFolding(folder)
            for log, run in enumerate(half):
                folding.add(log, pl.DataFrame(run, schema=FRAME, orient="row"))
            for day in folding.days():
                files[day], _ = write_part(folding.merged(day, files.get(day), new), folder, day, CALLSIGN_CALL)
        kept.append({day: path.read_bytes() for day, path in files.items()})
        counts.append((new.total(), sum(len(callsign_calls(path)) for path in files.values())))
    assert kept[0] == kept[1]
    assert counts[0] == counts[1]
    assert counts[0][0] == counts[0][1]


def test_records_without_an_id_count_under_their_call_sign() -> None:
    columns = {
        "id": pa.array(["2320001", "", None, " ", "x", None]),
        "callsign": pa.array(["OE1AA", " oe1aa/p", "OE2BB", None, "OE2BB", "not one"]),
        "talkgroup": pa.array(["91"] * 6),
        "time": pa.array(["2026-11-20T10:00:00Z", "2026-11-20T10:00:01Z", "2026-11-20 10:00", *["2026-11-20T10:00:00Z"] * 3]),
        "event": pa.array([None, "end", "start", None, "", None]),
    }
    judged = judge(Records(6, columns), Bounds(schema.SYSTEMS["dmr"], "UTC", 1_800_000_000_000, None))
    assert judged.account.plain() == {
        "read": 6,
        "folded": 3,
        "new": 0,
        "known": 3,
        "events": 2,
        "rejected": {"invalid id": 3},
        "set_aside": {},
    }
    assert judged.calls.id.tolist() == [2320001]
    assert judged.callsigns is not None
    assert judged.callsigns.select("callsign", "grain", "kind").rows() == [("OE1AA", 0, 2), ("OE2BB", 0, 1)]
    del columns["id"]
    judged = judge(Records(6, columns), Bounds(schema.SYSTEMS["dmr"], "UTC", 1_800_000_000_000, None))
    assert (judged.account.folded, len(judged.calls)) == (4, 0)


def test_a_fit_counts_callers_of_whom_only_the_call_sign_is_known(tmp_path: Path) -> None:
    from pruner.job.run import run
    from pruner.settings.load import load_settings

    (tmp_path / "stations.csv").write_text("id,callsign\n2320001,OE1AA\n2320003,OE2BB\n2620001,DL1AA\n")
    (tmp_path / "log.csv").write_text("id,talkgroup,time\n2620001,91,2024-10-04T00:00:05Z\n")
    (tmp_path / "pruner.toml").write_text(
        '[[source]]\nname = "world"\nlocation = "stations.csv"\n[[heard]]\nlocation = "log.csv"\n[[keep]]\nname = "all"\n'
        'order = "often"\n[[radio]]\nname = "r"\ncontacts = 1\n'
    )
    folder = tmp_path / ".pruner" / "heard" / "dmr"
    folder.mkdir(parents=True)
    store(folder, None, frame(("OE2BB", 1000, 4000), ("OE2BB", 2000, 4000), ("XX9X", 50, 1000)))
    summary = run(load_settings(tmp_path / "pruner.toml")).summaries[0]
    assert (summary.coverage.all.calls, summary.coverage.all.named) == (4, 2)
    assert summary.coverage.by_callsign == CallsignCalls(calls=3, in_directory=2)
    assert json.loads((tmp_path / "out/r/summary.json").read_text())["coverage"]["by_callsign"]["calls"] == 3


def test_logs_that_name_only_call_signs_the_directory_has_are_shown_and_fitted(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """No call is nameless, and no id was ever heard by its number: every part of what is counted may be empty."""
    (tmp_path / "stations.csv").write_text("id,callsign,name\n2320001,OE1AAA,Anna\n2320002,OE2BBB,Bert\n")
    (tmp_path / "heard.csv").write_text(
        "time,callsign,talkgroup,seconds\n2026-11-01 10:00,OE1AAA,232,5\n2026-11-02 10:00,OE1AAA,232,5\n"
    )
    (tmp_path / "pruner.toml").write_text(
        '[[source]]\nname = "club"\nlocation = "stations.csv"\n[[heard]]\nlocation = "heard.csv"\n'
        '[[keep]]\nname = "heard"\nheard_within_days = 90\n[[radio]]\nname = "r"\ncontacts = 1\n'
    )
    asked = ["--settings", str(tmp_path / "pruner.toml")]
    assert guarded(["fit", *asked]) == 0
    assert "OE1AAA" in (tmp_path / "out" / "r" / "contacts.csv").read_text()
    capsys.readouterr()
    assert guarded(["heard", "show", "--all", "--json", *asked]) == 0
    rows = json.loads(capsys.readouterr().out)
    assert [(row["id"], row["callsign"], row["calls"], row["milliseconds"]) for row in rows] == [(2320001, "OE1AAA", 2, 10_000)]
    assert guarded(["heard", "show", *asked]) == 0
    assert "2 calls of 1 station" in capsys.readouterr().out


def test_no_calls_are_no_rows() -> None:
    none = counting.Counted(*(np.zeros(0, dtype=np.uint32) for _ in range(4)))
    assert counting.rows(none, DAY).num_rows == 0
