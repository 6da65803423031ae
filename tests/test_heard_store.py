"""Heard logs into the store: nothing twice, nothing lost, and a fold that is killed changes nothing."""

from __future__ import annotations

import bz2
import csv
import gzip
import hashlib
import json
import lzma
import os
import random
import shutil
import signal
import subprocess
import sys
import time
import zipfile
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import polars as pl
import pyarrow as pa
import pyarrow.parquet as parquet
import pytest
from draws import draws
from heard_weights import weights_in
from hypothesis import given
from hypothesis import strategies as st

from pruner.calls.calls import DAY
from pruner.calls.logs import load_logs, save_logs
from pruner.calls.parts import POLARS_ROW
from pruner.calls.store import commit, load_manifest, sweep, without_days
from pruner.calls.weights import load_weights
from pruner.logs import fold as pipeline
from pruner.logs import system_fold
from pruner.logs.files import FINISHED_AFTER, FoldResult, LogFiles
from pruner.logs.fold import fold_logs
from pruner.publish.lock import locked
from pruner.words.errors import InputRefusedError, LockedError, PrunerError, SourceMissingError

NOW = datetime(2026, 11, 25, 12, tzinfo=UTC).timestamp()
HEADING = "time,id,talkgroup,seconds\n"


def rows_text(count: int, seed: int = 1, first_day: int = 20_700, days: int = 3) -> list[str]:
    draw = random.Random(seed)
    lines = []
    for _ in range(count):
        moment = datetime.fromtimestamp(first_day * 86_400 + draw.randrange(days * 86_400), UTC)
        lines.append(
            f"{moment:%Y-%m-%dT%H:%M:%SZ},{draw.randint(2320001, 2320040)},{draw.choice([91, 232])},{draw.randint(0, 90)}\n"
        )
    return lines


def fold(state: Path, *paths: Path, now: float = NOW, keep_days: int = 730, **how: object) -> FoldResult:
    return fold_logs(state, [LogFiles(paths, **how)], now=now, keep_days=keep_days)  # type: ignore[arg-type]


def forget(folder: Path, before: int | None, *days: int) -> None:
    kept, logs = without_days(load_manifest(folder, "dmr"), before, days), load_logs(folder).without_days(before, days)
    commit(folder, kept)
    save_logs(folder, logs)
    sweep(folder, kept, logs.files)


def parts(state: Path, system: str = "dmr") -> dict[str, bytes]:
    folder = state / "heard" / system
    return {path.name: path.read_bytes() for path in folder.glob("*.parquet")} if folder.is_dir() else {}


def whole(state: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in (state / "heard" / "dmr").iterdir() if path.is_file()}


def expected_rows(lines: Sequence[str]) -> list[tuple[int, ...]]:
    """In plain Python: (day, id, talkgroup, calls, milliseconds, first, last), sorted. Of what starts in one second the longest
    counts; what starts at most three seconds later is the same call if the earlier one goes on, or both last equally long."""
    longest: dict[tuple[int, int, int], int] = {}
    for text, number, talkgroup, seconds in csv.reader(lines):
        key = int(number), int(talkgroup), round(datetime.fromisoformat(text).timestamp())
        longest[key] = max(longest.get(key, 0), int(seconds))
    calls: list[list[int]] = []
    before = (0, 0, 0)
    for key, seconds in sorted(longest.items()):
        gap, earlier = key[2] - before[2], longest.get(before, 0)
        if key[:2] == before[:2] and gap <= 3 and (gap < earlier or earlier == seconds or not earlier or not seconds):
            calls[-1][3] = max(calls[-1][3], seconds)
        else:
            calls.append([*key, seconds])
        before = key
    found: dict[tuple[int, int, int], list[int]] = {}
    for number, talkgroup, start, seconds in calls:
        entry = found.setdefault((start * 1000 // DAY, number, talkgroup), [0, 0, start * 1000, 0])
        entry[:] = [entry[0] + 1, entry[1] + 1000 * seconds, entry[2], start * 1000]
    return [(*key, *entry) for key, entry in sorted(found.items())]


def stored_rows(state: Path) -> list[tuple[int, ...]]:
    columns = ["day", "id", "talkgroup", "calls", "milliseconds", "first", "last"]
    return weights_in(state).rows().select(pl.col(name).to_physical().cast(pl.Int64) for name in columns).rows()


def test_the_rows_of_a_log(tmp_path: Path) -> None:
    log = tmp_path / "log.csv"
    lines = rows_text(500)
    log.write_text(HEADING + "".join(lines))
    total = fold(tmp_path / "state", log).total
    assert (total.read, total.folded) == (500, 500)
    assert stored_rows(tmp_path / "state") == expected_rows(lines)
    frame = weights_in(tmp_path / "state").rows()
    assert frame.schema == POLARS_ROW
    assert frame.select(pl.struct("day", "id", "talkgroup").is_unique().all()).item()


def test_folding_again_changes_nothing(tmp_path: Path) -> None:
    log, state = tmp_path / "log.csv", tmp_path / "state"
    log.write_text(HEADING + "".join(rows_text(100)) + "2026-11-20T00:00:00Z,oops,91,1\n")
    fold(state, log)
    before = whole(state)
    assert fold(state, log).total.read == 0
    assert fold(state, log, log).total.read == 0
    assert whole(state) == before


def test_two_stores_of_the_same_logs_are_the_same_bytes(tmp_path: Path) -> None:
    log = tmp_path / "log.csv"
    log.write_text(HEADING + "".join(rows_text(300)) + "x,x,x,x\n")
    for state in ("one", "other"):
        fold(tmp_path / state, log)
    assert whole(tmp_path / "one") == whole(tmp_path / "other")


@draws(8)
@given(st.lists(st.integers(0, 12_000), max_size=4), st.integers(1, 3))
def test_a_growing_log_is_taken_from_where_it_ended(
    tmp_path_factory: pytest.TempPathFactory, cuts: list[int], line_end: int
) -> None:
    """Whatever the log looked like in between, cut anywhere, the store has the bytes of a single fold."""
    folder = tmp_path_factory.mktemp("growing")
    end = {1: "\n", 2: "\r\n", 3: "\r"}[line_end]
    text = (HEADING + "".join(rows_text(300))).replace("\n", end).encode()
    log = folder / "log.csv"
    for cut in sorted({max(cut, len(HEADING) + 2) for cut in cuts}):
        log.write_bytes(text[:cut])
        os.utime(log, (NOW, NOW))
        fold(folder / "grown", log)
    log.write_bytes(text)
    fold(folder / "grown", log)
    fold(folder / "once", log)
    assert parts(folder / "grown") == parts(folder / "once")
    (taken,) = load_logs(folder / "grown" / "heard" / "dmr").taken
    assert (taken.read, taken.folded, taken.length) == (300, 300, len(text.replace(b"\r\n", b"\n")))


@pytest.mark.parametrize("order", ["copies first", "log first", "one by one"])
def test_copies_of_the_beginning_of_a_log_beside_it_are_counted_once(tmp_path: Path, order: str) -> None:
    """Daily copies of a log that goes on, in any order of names, and also when they are taken in by hand."""
    state, lines = tmp_path / "state", rows_text(400)
    names = ["a.csv", "b.csv", "c.csv"] if order == "copies first" else ["z.csv", "y.csv", "b.csv"]
    logs = [tmp_path / name for name in names]
    for log, count in zip(logs, (100, 250, 300), strict=True):
        log.write_text(HEADING + "".join(lines[:count]))
    for _ in range(3):
        for chosen in [[log] for log in logs] if order == "one by one" else [sorted(logs)]:
            result = fold(state, *chosen)
            assert [file.path for file in result.files] == chosen
    assert stored_rows(state) == expected_rows(lines[:300])
    # Once more in the middle of things: the log goes on, and so does a copy.
    logs[1].write_text(HEADING + "".join(lines[:320]))
    logs[2].write_text(HEADING + "".join(lines[:400]))
    for _ in range(2):
        fold(state, *sorted(logs))
    assert stored_rows(state) == expected_rows(lines)


def test_a_log_that_grows_is_remembered_once(tmp_path: Path) -> None:
    state, lines, log = tmp_path / "state", rows_text(8), tmp_path / "log.csv"
    for count in range(1, 9):
        log.write_text(HEADING + "".join(lines[:count]))
        fold(state, log)
    assert len(load_logs(state / "heard" / "dmr").taken) == 1
    assert stored_rows(state) == expected_rows(lines)


def test_an_unfinished_last_line_waits_until_nobody_writes_any_more(tmp_path: Path) -> None:
    log, state = tmp_path / "log.csv", tmp_path / "state"
    log.write_text(HEADING + "2026-11-20T10:00:00Z,2320001,91,1\n2026-11-20T10:00:09Z,2320001,91,12")
    os.utime(log, (NOW - 5, NOW - 5))
    assert fold(state, log).total.folded == 1
    assert fold(state, log, now=NOW + FINISHED_AFTER).total.folded == 1
    assert stored_rows(state)[0][3:5] == (2, 13_000)


@pytest.mark.parametrize("kind", ["renamed", "gzip", "bzip2", "xz", "zip", "zstd", "utf-16", "windows lines"])
def test_the_same_log_under_another_name_is_known(tmp_path: Path, kind: str) -> None:
    log, state, other = tmp_path / "log.csv", tmp_path / "state", tmp_path / "log.csv.1"
    data = (HEADING + "".join(rows_text(400))).encode()
    log.write_bytes(data)
    fold(state, log)
    before = whole(state)
    if kind == "zip":
        with zipfile.ZipFile(other, "w") as archive:
            archive.writestr("log.csv", data)
    elif kind == "zstd":
        with pa.CompressedOutputStream(str(other), "zstd") as stream:
            stream.write(data)
    else:
        changed = {
            "gzip": gzip.compress(data),
            "bzip2": bz2.compress(data),
            "xz": lzma.compress(data),
            "utf-16": data.decode().encode("utf-16"),
            "renamed": data,
        }
        other.write_bytes(changed.get(kind, data.replace(b"\n", b"\r\n")))
    log.unlink()
    assert fold(state, other).total.read == 0
    assert whole(state) == before


def test_a_rotated_log_and_its_successor(tmp_path: Path) -> None:
    lines, state = rows_text(200), tmp_path / "state"
    log, rotated = tmp_path / "log.csv", tmp_path / "log.csv.1"
    log.write_text(HEADING + "".join(lines[:50]))
    fold(state, log)
    rotated.write_text(HEADING + "".join(lines[:120]))
    log.write_text(HEADING + "".join(lines[120:]))
    counts = [one.account.read for one in fold(state, log, rotated).files]
    assert counts == [80, 70]
    assert stored_rows(state) == expected_rows(lines)


def test_rotated_packed_and_headless_logs_are_known_for_what_they_are(tmp_path: Path) -> None:
    """Every night the log is renamed and packed, each time by another program, and the new one has no headings. Each fold
    reads only what no fold before it has read, whatever the file is called by then."""
    lines, state, log = sorted(rows_text(600)), tmp_path / "state", tmp_path / "log.csv"
    packers = [gzip.compress, bz2.compress, lzma.compress, lambda data: pa.compress(data, "gzip", asbytes=True)]
    heading = HEADING
    for night in range(5):
        today = lines[night * 100 : night * 100 + 100]
        log.write_text(heading + "".join(today[:60]))
        read = fold(state, *sorted(tmp_path.glob("log.csv*"))).total.read
        log.write_text(heading + "".join(today))
        read += fold(state, *sorted(tmp_path.glob("log.csv*"))).total.read
        assert read == 100
        older = sorted(tmp_path.glob("log.csv.*"), reverse=True)
        for path in older:
            path.rename(tmp_path / f"log.csv.{int(path.suffix[1:]) + 1}")
        data = log.read_bytes()
        if night == 3:
            with pa.CompressedOutputStream(str(tmp_path / "log.csv.1"), "zstd") as stream:
                stream.write(data)
        else:
            (tmp_path / "log.csv.1").write_bytes(packers[night % len(packers)](data))
        heading = ""
    log.unlink()
    assert fold(state, *sorted(tmp_path.glob("log.csv*"))).total.read == 0
    assert stored_rows(state) == expected_rows(lines[:500])


def test_two_logs_with_equal_rows_count_once(tmp_path: Path) -> None:
    lines, state = rows_text(200), tmp_path / "state"
    for name, delimiter in (("one", ","), ("other", ";")):
        (tmp_path / name).write_text((HEADING + "".join(lines)).replace(",", delimiter))
        account = fold(state, tmp_path / name).total
    assert (account.read, account.folded, account.new, account.known) == (200, 200, 0, 200)
    assert stored_rows(state) == expected_rows(lines)


@pytest.mark.parametrize("kind", ["parquet", "arrow", "text columns", "json", "semicolons", "positions", "other headings"])
def test_kinds_of_logs(tmp_path: Path, kind: str) -> None:
    lines = rows_text(300)
    log, how = tmp_path / "log", {}
    cells = list(csv.reader(lines))
    table = pa.table(
        {
            "Start": pa.array([datetime.fromisoformat(row[0]) for row in cells], pa.timestamp("us", "UTC")),
            "Source": pa.array([int(row[1]) for row in cells], pa.uint32()),
            "TG": pa.array([int(row[2]) for row in cells], pa.uint16()),
            "Duration": pa.array([float(row[3]) for row in cells]),
        }
    )
    if kind == "parquet":
        parquet.write_table(table, log, row_group_size=100)
    elif kind == "text columns":
        parquet.write_table(
            pa.table([pa.array(column).dictionary_encode() for column in zip(*cells, strict=True)], names=table.column_names),
            log,
        )
    elif kind == "arrow":
        with pa.OSFile(str(log), "wb") as sink, pa.ipc.new_file(sink, table.schema) as writer:
            writer.write_table(table, max_chunksize=70)
    elif kind == "json":
        records = ({"ts": row[0], "src": int(row[1]), "dst": row[2], "duration": float(row[3])} for row in cells)
        log.write_text("".join(json.dumps(record) + "\n" for record in records))
        how["columns"] = {"time": "ts"}
    elif kind == "semicolons":
        log.write_text("Zeitstempel;Kennung;Sprechgruppe;Dauer\n" + "".join(lines).replace(",", ";"))
    elif kind == "positions":
        log.write_text("".join(lines))
        how["columns"] = {"time": 1, "id": 2, "talkgroup": 3, "seconds": 4}
    else:
        log.write_text("a,b,c,d\n" + "".join(lines))
        how["columns"] = {"time": "A", "id": "b", "talkgroup": "c", "seconds": "d"}
    assert fold(tmp_path / "state", log, **how).total.folded == 300
    assert stored_rows(tmp_path / "state") == expected_rows(lines)
    assert fold(tmp_path / "state", log, **how).total.read == 0


BAD = [  # line, reason, kept apart as
    ("short", "unreadable row", "rejected"),
    ("2026-11-20T10:00:00Z,12x,91,1", "invalid id", "rejected"),
    ("2026-11-20T10:00:00Z,99999999,91,1", "invalid id", "rejected"),
    ("2026-11-20T10:00:00Z,2320001,0,1", "invalid talkgroup", "rejected"),
    ("2026-11-20T10:00:00Z,2320001,16777216,1", "invalid talkgroup", "rejected"),
    ("2026-11-20T10:00:00Z,2320001,,1", "invalid talkgroup", "rejected"),
    ("20 Nov 2026,2320001,91,1", "invalid time", "rejected"),
    ("2026-11-20T10:00:00Z,2320001,91,long", "invalid seconds on air", "rejected"),
    ("2026-11-20T10:00:00Z,16777215,91,1", "reserved id", "set-aside"),
    ("1970-01-01T00:00:07Z,2320001,91,1", "clock before the year 2000", "set-aside"),
    ("1999-12-31T23:59:59Z,2320001,91,1", "clock before the year 2000", "set-aside"),
    ("2026-11-26T12:00:01Z,2320001,91,1", "clock in the future", "set-aside"),
]


def test_every_row_is_folded_set_aside_or_rejected(tmp_path: Path) -> None:
    log, state = tmp_path / "log.csv", tmp_path / "state"
    lines = rows_text(40)
    edge = ["2026-11-26T12:00:00Z,2320001,91,1\n", "2000-01-01T00:00:00Z,232000177,16777215,\n"]
    log.write_text(HEADING + "".join(lines + [line + "\n" for line, _, _ in BAD] + edge))
    account = fold(state, log, keep_days=36_500).total
    assert (account.read, account.folded, account.new) == (54, 42, 42)
    assert account.read == account.folded + account.rejected.total() + account.set_aside.total()
    for kind, found in (("rejected", account.rejected), ("set-aside", account.set_aside)):
        wanted = [(str(42 + place), reason, line) for place, (line, reason, where) in enumerate(BAD) if where == kind]
        assert sorted(found.elements()) == sorted(reason for _, reason, _ in wanted)
        (path,) = (state / "heard" / "dmr").glob(f"{kind}-*.csv")
        with path.open(newline="") as file:
            rows = list(csv.DictReader(file))
        assert [(row["line"], row["reason"], json.loads(row["raw"])) for row in rows] == wanted
    suffixed = weights_in(state).rows().filter(pl.col("talkgroup") == 16_777_215)
    assert suffixed.select("id", "calls", "milliseconds").rows() == [(2_320_001, 1, 0)]


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("a,b,c\n1,2,3\n", "no column of ids or call signs and times or dates"),
        ("time,id\n2026-11-20T10:00:00Z,5\n", "no column of talkgroups"),
        ("<html><body>log in</body></html>\n", "this is a page (HTML)"),
        ('[{"id": 1}]', "no column of talkgroups"),
        (HEADING + "x,2320001,91,1\n", "no column of times"),
        (HEADING + "".join(rows_text(60)).replace(",23", ",26") + "x,2320001,91,1\n" * 70, "70 of 130 rows cannot be read"),
    ],
)
def test_a_file_that_is_no_log_is_refused_and_changes_nothing(tmp_path: Path, text: str, word: str) -> None:
    good, bad, state = tmp_path / "good.csv", tmp_path / "bad.csv", tmp_path / "state"
    good.write_text(HEADING + "".join(rows_text(50)))
    fold(state, good)
    before = whole(state)
    good.write_text(HEADING + "".join(rows_text(60)))
    bad.write_text(text)
    with pytest.raises(InputRefusedError) as caught:
        fold(state, bad)
    assert word in str(caught.value)
    assert "\n" not in str(caught.value)
    assert whole(state) == before
    for order in ((good, bad), (bad, good)):
        state = tmp_path / order[0].stem
        result = fold(state, *order)
        assert word in result.refused[str(bad)]
        assert result.exit_code == 3
        assert [file.path for file in result.files] == [good]
        assert result.total.read == 60
        alone = tmp_path / f"alone-{order[0].stem}"
        fold(alone, good)
        assert whole(state) == whole(alone)


def test_logs_that_are_not_there_harm_no_other(tmp_path: Path) -> None:
    good, state = tmp_path / "good.csv", tmp_path / "state"
    good.write_text(HEADING + "".join(rows_text(50)))
    result = fold(state, tmp_path / "none.csv", good)
    assert list(result.missing) == [str(tmp_path / "none.csv")]
    assert (result.exit_code, result.total.new) == (4, 50)
    with pytest.raises(SourceMissingError) as caught:
        fold(state, tmp_path / "none.csv", tmp_path / "gone.csv")
    assert len(str(caught.value).splitlines()) == 2


def test_columns_that_cannot_be_read_are_refused(tmp_path: Path) -> None:
    log = tmp_path / "log.parquet"
    parquet.write_table(pa.table({"id": [[5]], "talkgroup": [9], "time": [1_790_000_000]}), log)
    with pytest.raises(InputRefusedError, match="no column of ids"):
        fold(tmp_path / "state", log)
    parquet.write_table(pa.table({"id": [5.0, 5.5, None], "talkgroup": [9.0, 9.0, 9.0], "time": [1_790_000_000] * 3}), log)
    account = fold(tmp_path / "state", log).total
    assert (account.read, account.folded, account.rejected) == (3, 1, {"invalid id": 2})


def test_a_clock_that_was_not_set_refuses_the_fold(tmp_path: Path) -> None:
    """Small servers without a battery start in 1970; the calls of their logs must not be set aside for good."""
    log, state = tmp_path / "log.csv", tmp_path / "state"
    log.write_text(HEADING + "".join(rows_text(10)))
    with pytest.raises(PrunerError, match="shows 1970-01-01"):
        fold(state, log, now=7.0)
    assert fold(state, log).total.folded == 10
    with pytest.raises(PrunerError, match="shows 2026-08-01, before 2026-09-0"):
        fold(state, log, now=datetime(2026, 8, 1, tzinfo=UTC).timestamp())


def test_logs_that_are_not_there_or_empty(tmp_path: Path) -> None:
    with pytest.raises(SourceMissingError):
        fold(tmp_path / "state", tmp_path / "none.csv")
    (tmp_path / "empty.csv").touch()
    (tmp_path / "heading.csv").write_text(HEADING)
    assert fold(tmp_path / "state", tmp_path / "empty.csv", tmp_path / "heading.csv").total.read == 0


def test_systems_have_stores_and_ranges_of_their_own(tmp_path: Path) -> None:
    log = tmp_path / "log.csv"
    log.write_text(HEADING + "2026-11-20T10:00:00Z,5,65535,1\n2026-11-20T10:00:00Z,65520,1,1\n2026-11-20T10:00:00Z,5,65536,1\n")
    assert fold(tmp_path / "state", log, system="nxdn").total.plain() == {
        "read": 3,
        "folded": 1,
        "new": 1,
        "known": 0,
        "events": 0,
        "rejected": {"invalid talkgroup": 1},
        "set_aside": {"reserved id": 1},
    }
    assert fold(tmp_path / "state", log, system="dmr").total.folded == 3
    assert weights_in(tmp_path / "state", "nxdn").total_calls() == 1


def test_local_times_are_those_of_the_stated_zone(tmp_path: Path) -> None:
    log = tmp_path / "log.csv"
    log.write_text(HEADING + "2026-11-21 00:30:00,5,91,1\n")
    fold(tmp_path / "state", log, zone="Europe/Vienna")
    row = weights_in(tmp_path / "state").rows().row(0, named=True)
    assert str(row["day"]) == "2026-11-20"
    assert row["first"] == datetime(2026, 11, 20, 23, 30, tzinfo=UTC)


def test_forgotten_days_do_not_come_back(tmp_path: Path) -> None:
    lines, state, log = rows_text(300, days=5), tmp_path / "state", tmp_path / "log.csv"
    log.write_text(HEADING + "".join(lines[:200]) + "bad,2320001,91,1\n")
    fold(state, log)
    folder = state / "heard" / "dmr"
    forget(folder, 20_702)
    kept = [row for row in expected_rows(lines[:200]) if row[0] >= 20_702]
    assert stored_rows(state) == kept
    assert len(list(folder.glob("*.parquet"))) == 3
    assert list(folder.glob("rejected-*.csv")), "the same fold took days that stay"
    log.write_text(HEADING + "".join(lines))  # another text: the old rows are read once more
    account = fold(state, log).total
    gone = sum(1 for line in lines if line < "2026-09-06")
    assert account.set_aside == {"day was forgotten": gone}
    assert not list(folder.glob("set-aside-*.csv"))
    assert min(row[0] for row in stored_rows(state)) == 20_702
    forget(folder, 30_000)
    assert load_weights(folder) is None
    assert sorted(path.name for path in folder.iterdir() if path.is_file()) == ["logs.json", "manifest.json"]
    assert not list((folder / "counted").iterdir())
    assert load_manifest(folder, "dmr").floor == 30_000


def test_weights_against_sql(tmp_path: Path) -> None:
    import duckdb

    state, log = tmp_path / "state", tmp_path / "log.csv"
    lines = list({(line[:16], *line.split(",")[1:3]): line for line in rows_text(2000, days=40)}.values())
    log.write_text(HEADING + "".join(lines))
    fold(state, log)
    numbers = np.array([2_320_040, 5, *range(2_320_001, 2_320_040)], dtype=np.uint32)
    for days, groups, within in (
        (None, None, None),
        (None, [91], 7),
        (10, [91, 232, 5], None),
        (None, [], None),
        (30, None, 1),
    ):
        found = load_weights(state / "heard" / "dmr", days=days)
        assert found is not None
        last_day = 20_739
        oldest = max(last_day - (days or 99), last_day - (within or 99))
        chosen = "true" if groups is None else f"talkgroup in ({','.join(map(str, groups)) or 'null'})"
        log_rows = f"""(select id, talkgroup, epoch_ms(time) as moment, time::DATE - DATE '1970-01-01' as day
            from read_csv('{log}', types={{'time': 'TIMESTAMPTZ'}}))"""
        with duckdb.connect() as session:
            session.execute("set timezone = 'UTC'")
            calls = dict(
                session.execute(f"select id, count(*) from {log_rows} where day > {oldest} and {chosen} group by id").fetchall()
            )
            heard_since = last_day - (days or 99)
            heard = dict(
                session.execute(
                    f"select id, max(moment) from {log_rows} where day > {heard_since} and {chosen} group by id"
                ).fetchall()
            )
        assert found.last_day == last_day
        assert found.calls(numbers, groups, within).tolist() == [calls.get(number, 0) for number in numbers.tolist()]
        assert found.calls(numbers).dtype == np.uint32
        assert found.total_calls(groups, within) == sum(calls.values())
        assert found.rows(groups, within)["calls"].sum() == sum(calls.values())
        assert found.last_heard(numbers, groups).tolist() == [heard.get(number, 0) for number in numbers.tolist()]


def test_no_store_and_a_damaged_one(tmp_path: Path) -> None:
    assert load_weights(tmp_path) is None
    log, state = tmp_path / "log.csv", tmp_path / "state"
    log.write_text(HEADING + "".join(rows_text(50)))
    fold(state, log)
    part = next((state / "heard" / "dmr").glob("*.parquet"))
    part.write_bytes(part.read_bytes()[:100])
    with pytest.raises(InputRefusedError, match="damaged"):
        weights_in(state).calls(np.array([5], dtype=np.uint32))
    part.unlink()
    with pytest.raises(InputRefusedError, match="damaged"):
        weights_in(state).rows()
    (state / "heard" / "dmr" / "manifest.json").write_text("{}")
    with pytest.raises(InputRefusedError, match="damaged"):
        load_weights(state / "heard" / "dmr")


@pytest.mark.parametrize(
    ("name", "place", "value", "reason"),
    [
        ("manifest.json", ("parts", 0, "rows"), "50", r"parts\[0\].rows: expected a whole number, found a text"),
        ("manifest.json", ("parts", 0, "day"), "2026-02-30", r"parts\[0\].day: expected a date"),
        ("manifest.json", ("forgotten",), None, "forgotten: expected a list, found nothing"),
        ("manifest.json", ("schema",), 9, r"another version \(schema 9\)"),
        ("logs.json", ("taken", 0, "lines"), 1.5, r"taken\[0\].lines: expected a whole number, found a decimal number"),
        ("logs.json", ("apart",), {}, "apart: expected a list, found a table"),
    ],
)
def test_what_the_store_remembers_is_checked(
    tmp_path: Path, name: str, place: tuple[str | int, ...], value: object, reason: str
) -> None:
    log, state = tmp_path / "log.csv", tmp_path / "state"
    log.write_text(HEADING + "".join(rows_text(50)))
    fold(state, log)
    path = state / "heard" / "dmr" / name
    content = json.loads(path.read_bytes())
    inner = content
    for key in place[:-1]:
        inner = inner[key]
    inner[place[-1]] = value
    path.write_text(json.dumps(content))
    with pytest.raises(InputRefusedError, match=reason) as raised:
        fold(state, log)
    assert str(raised.value).startswith(f"{path}: ")


def test_a_fold_waits_for_another_one_only(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    log = tmp_path / "log.csv"
    log.write_text(HEADING + "".join(rows_text(50)))
    with locked(tmp_path, "fit"):
        fold(tmp_path, log)
    before = whole(tmp_path)
    log.write_text(HEADING + "".join(rows_text(60)))
    with monkeypatch.context() as patient, locked(tmp_path / "heard", "heard fold"):
        patient.setattr(pipeline, "WAIT_SECONDS", 0.2)
        with pytest.raises(LockedError, match="heard fold"):
            fold(tmp_path, log)
    assert whole(tmp_path) == before
    with ThreadPoolExecutor(1) as pool:
        with locked(tmp_path / "heard", "heard fold"):
            waiting = pool.submit(fold, tmp_path, log)
            time.sleep(0.3)
            assert not waiting.done()
        assert waiting.result().total.new == 10


def test_files_stay_while_somebody_reads(tmp_path: Path) -> None:
    """A reader that began before a fold reads on; the files go with the first fold that finds nobody."""
    log, state = tmp_path / "log.csv", tmp_path / "state"
    log.write_text(HEADING + "".join(rows_text(200)))
    fold(state, log)
    reader = weights_in(state)
    log.write_text(HEADING + "".join(rows_text(300)))
    fold(state, log)
    assert reader.total_calls() == 200
    del reader
    assert weights_in(state).total_calls() == 300
    fold(state, log)
    kept = {part.file for part in load_manifest(state / "heard" / "dmr", "dmr").all_parts}
    assert {path.name for path in (state / "heard" / "dmr").glob("*.parquet")} == kept


@pytest.mark.parametrize("stage", ["add_days", "commit"])
def test_a_fold_that_fails_leaves_the_old_store(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, stage: str) -> None:
    log, state = tmp_path / "log.csv", tmp_path / "state"
    log.write_text(HEADING + "".join(rows_text(100)))
    fold(state, log)
    before = stored_rows(state)
    log.write_text(HEADING + "".join(rows_text(300)))

    def fail(*_: object) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as broken:
        broken.setattr(system_fold, stage, fail)
        with pytest.raises(PrunerError, match="No space left"):
            fold(state, log)
    assert stored_rows(state) == before
    fold(state, log)
    assert stored_rows(state) == expected_rows(rows_text(300))
    assert set(whole(state)) == {
        "logs.json",
        "manifest.json",
        *(part.file for part in load_manifest(state / "heard" / "dmr", "dmr").parts),
    }


@pytest.mark.long
@pytest.mark.parametrize("tries", [3, pytest.param(25, marks=pytest.mark.slow)])
def test_killed_at_any_moment(tmp_path: Path, tries: int) -> None:
    """SIGKILL in a fold: the store is the old one or the new one, and the next fold makes it whole."""
    log, state, saved = tmp_path / "log.csv", tmp_path / "state", tmp_path / "saved"
    lines = rows_text(60_000, days=12)
    log.write_text(HEADING + "".join(lines[:30_000]))
    fold(state, log)
    shutil.copytree(state, saved)
    old = parts(state)
    log.write_text(HEADING + "".join(lines))
    shutil.copytree(saved, tmp_path / "new")
    fold(tmp_path / "new", log)
    new = parts(tmp_path / "new")
    command = [sys.executable, "-m", "pruner", "heard", "fold", str(log), "--state", str(state)]
    draw = random.Random(tries)
    longest = 1.0
    for _ in range(tries):
        shutil.rmtree(state)
        shutil.copytree(saved, state)
        began = time.monotonic()
        process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
        try:
            process.wait(timeout=draw.uniform(0.4, 1.0) * longest)
            longest = time.monotonic() - began
        except subprocess.TimeoutExpired:
            longest *= 1.2
            process.send_signal(signal.SIGKILL)
        process.communicate(timeout=60)
        named = {part.file for part in load_manifest(state / "heard" / "dmr", "dmr").parts}
        found = {name: data for name, data in parts(state).items() if name in named}
        assert found in (old, new)
        fold(state, log)
        assert parts(state) == new


def test_what_is_not_ours_in_the_folder_stays(tmp_path: Path) -> None:
    log, state = tmp_path / "log.csv", tmp_path / "state"
    log.write_text(HEADING + "".join(rows_text(10)))
    fold(state, log)
    folder = state / "heard" / "dmr"
    (folder / "notes.txt").write_text("mine")
    (folder / f"2026-09-04-{'0' * 16}.parquet").write_text("left behind")
    (folder / "making-3.parquet").write_text("left behind")
    fold(state, log)
    manifest = load_manifest(folder, "dmr")
    ours = {"logs.json", "manifest.json", *(part.file for part in manifest.parts)}
    assert {path.name for path in folder.iterdir()} == {"notes.txt", *ours}
    for part in manifest.parts:
        assert hashlib.sha256((folder / part.file).read_bytes()).hexdigest()[:16] in part.file
