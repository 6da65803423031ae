"""Heard logs as people have them: what their columns hold, whatever the kind of file. All data invented."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable
from pathlib import Path

import pyarrow as pa
import pytest
from heard_weights import weights_in
from pyarrow import parquet

from pruner.logs.files import FileResult, LogFiles
from pruner.logs.fold import fold_logs
from pruner.read.event_words import event_of
from pruner.read.json_values import flat_records, value_of
from pruner.words.errors import InputRefusedError

CALLS = [
    (
        2_320_001 + 7 * (k % 5),
        (232, 91, 2328)[k % 3],
        dt.datetime(2026, 3, 1, 12, 0, 1) + dt.timedelta(hours=17 * k),
        2 + k * 7 % 50,
    )
    for k in range(30)
]
Row = Callable[[int, int, dt.datetime, int], str]


def fold(path: Path, tmp_path: Path, **answers: object) -> FileResult:
    log = LogFiles([path], **answers)  # type: ignore[arg-type]
    return fold_logs(tmp_path / "state", [log]).files[0]


def written(tmp_path: Path, heading: str, row: Row, name: str = "heard.csv") -> Path:
    path = tmp_path / name
    path.write_text(heading + "".join(row(*call) + "\n" for call in CALLS), encoding="utf-8")
    return path


def meanings(result: FileResult) -> set[str]:
    assert result.understanding is not None
    return {use.meaning for use in result.understanding.columns}


@pytest.mark.parametrize(
    ("heading", "row"),
    [
        ("Datum;Uhrzeit;Kennung;Sprechgruppe;Dauer\n", lambda i, g, t, s: f"{t:%d.%m.%Y};{t:%H:%M:%S};{i};TG {g};{s},0"),
        ("When,From,To,Length\n", lambda i, g, t, s: f"{t},OE1XYZ {i},{g} (Alps),0:{s:02}"),
        (
            "key,time,source id,group,airtime (ms)\n",
            lambda i, g, t, s: f"{int(t.timestamp())},{t:%m/%d/%Y %I:%M:%S %p},{i},#{g},{s}000",
        ),
        ("time|id|talkgroup|end\n", lambda i, g, t, s: f"[{t}]|{i}|1/{g}|[{t + dt.timedelta(seconds=s)}]"),
        ("", lambda i, g, t, s: f"{s},{g},{i},{t:%Y-%m-%dT%H:%M:%SZ}"),
        (
            "# written by the club's receiver\ntime,id,talkgroup,seconds\n",
            lambda i, g, t, s: f"{t:%a %b %d %H:%M:%S %Y},{i},{g},{s}s",
        ),
    ],
)
def test_any_table_is_understood(tmp_path: Path, heading: str, row: Row) -> None:
    result = fold(written(tmp_path, heading, row), tmp_path)
    assert (result.account.read, result.account.folded, result.account.rejected) == (30, 30, {})

    weights = weights_in(tmp_path / "state")
    rows = weights.rows()
    assert rows["milliseconds"].sum() == sum(call[3] for call in CALLS) * 1000
    assert set(rows["talkgroup"].to_list()) == {232, 91, 2328}
    assert rows["first"].min() == CALLS[0][2].replace(tzinfo=dt.UTC)
    assert "id" in meanings(result)


@pytest.mark.parametrize(
    "text",
    [
        "".join(
            json.dumps({"at": f"{t}Z", "source": {"id": i}, "target": {"talkgroup": g}, "seconds": s}) + "\n"
            for i, g, t, s in CALLS
        ),
        "".join(
            json.dumps(
                {"topic": "voice", "payload": json.dumps({"time": f"{t}", "caller": {"id": i}, "tg": g, "duration": f"{s} s"})}
            )
            + "\n"
            for i, g, t, s in CALLS
        ),
        json.dumps(
            {"page": 1, "calls": [{"start": f"{t}", "id": i, "talkgroup": str(g), "seconds": s} for i, g, t, s in CALLS]},
            indent=1,
        ),
        json.dumps([["time", "id", "talkgroup", "seconds"], *([f"{t}", i, g, s] for i, g, t, s in CALLS)]),
        json.dumps(
            {
                "time": [f"{c[2]}" for c in CALLS],
                "id": [c[0] for c in CALLS],
                "talkgroup": [c[1] for c in CALLS],
                "seconds": [c[3] for c in CALLS],
            }
        ),
        json.dumps({"calls": [{"time": f"{t}", "id": i, "talkgroup": g, "seconds": s} for i, g, t, s in CALLS[:10]]})
        + "\n"
        + json.dumps({"calls": [{"time": f"{t}", "id": i, "talkgroup": g, "seconds": s} for i, g, t, s in CALLS[10:]]})
        + "\n",
    ],
    ids=["nested lines", "payload as text", "list in an object", "rows", "columns", "lists on lines"],
)
def test_any_json_is_understood(tmp_path: Path, text: str) -> None:
    path = tmp_path / "heard.json"
    path.write_text(text)
    result = fold(path, tmp_path)
    assert (result.account.read, result.account.folded) == (30, 30)
    assert meanings(result) >= {"id", "talkgroup", "time", "seconds"}
    assert fold(path, tmp_path).account.read == 0


def test_a_bad_line_of_json_is_a_rejected_row(tmp_path: Path) -> None:
    path = tmp_path / "heard.jsonl"
    lines = [json.dumps({"time": f"{t}", "source": {"id": i}, "talkgroup": g}) for i, g, t, _ in CALLS]
    lines[7:7] = ['{"time": "2026-03-', "[" * 5000]
    path.write_text("".join(f"{line}\n" for line in lines))
    account = fold(path, tmp_path).account
    assert (account.read, account.folded, account.rejected) == (32, 30, {"unreadable row": 2})


@pytest.mark.parametrize(
    "times",
    [
        pa.array([c[2] for c in CALLS], pa.timestamp("ns")),
        pa.array([f"{c[2]:%d/%m/%Y %H:%M:%S}" for c in CALLS]),
        pa.array([int(c[2].replace(tzinfo=dt.UTC).timestamp()) * 1_000_000 for c in CALLS], pa.uint64()),
    ],
)
def test_parquet_with_odd_types(tmp_path: Path, times: pa.Array) -> None:
    path = tmp_path / "heard.parquet"
    columns = {
        "when": times,
        "caller": pa.array([float(c[0]) for c in CALLS]),
        "group": pa.array([c[1] for c in CALLS], pa.int16()),
        "airtime": pa.array([dt.timedelta(seconds=c[3]) for c in CALLS], pa.duration("us")),
        "extra": pa.array([[1]] * 30),
    }
    parquet.write_table(pa.table(columns), path)
    result = fold(path, tmp_path, columns={"seconds": "airtime"})
    assert (result.account.read, result.account.folded) == (30, 30)


def test_date_and_time_of_parquet_are_one_time_and_a_date_alone_is_refused(tmp_path: Path) -> None:
    days = pa.array([c[2].date() for c in CALLS])
    clocks = pa.array([c[2].time() for c in CALLS])
    others = {"id": pa.array([c[0] for c in CALLS]), "talkgroup": pa.array([c[1] for c in CALLS])}
    path = tmp_path / "heard.parquet"
    parquet.write_table(pa.table({"date": days, "time": clocks, **others}), path)
    assert fold(path, tmp_path).account.folded == 30
    parquet.write_table(pa.table({"date": days, **others}), path)
    with pytest.raises(InputRefusedError, match="dates without times of day"):
        fold(path, tmp_path)


@pytest.mark.parametrize("form", ["{0}:{1:02}", "{0}h{1:02}", "{0}h{1:02}m{2:02}"])
def test_clocks_in_a_column_of_their_own(tmp_path: Path, form: str) -> None:
    path = tmp_path / "heard.csv"
    rows = [(c[2].date(), form.format(c[2].hour, c[2].minute, c[2].second), c[0], c[1]) for c in CALLS]
    path.write_text("zozo,lulu,id,talkgroup\n" + "".join(f"{day},{clock},{who},{group}\n" for day, clock, who, group in rows))
    result = fold(path, tmp_path)
    assert {"date", "clock"} <= meanings(result)
    assert result.account.folded == 30


def test_day_or_month_first_is_decided_by_the_whole_file_or_asked_for(tmp_path: Path) -> None:
    rows = "".join(f"04/03/2026 10:{k % 60:02}:00,232000{k % 5 + 1},232\n" for k in range(3000))
    path = tmp_path / "heard.csv"
    path.write_text("time,id,talkgroup\n" + rows)
    with pytest.raises(InputRefusedError, match='dates = "day first"'):
        fold(path, tmp_path)
    day = fold(path, tmp_path, dates="month first")
    assert day.account.folded == 3000
    path.write_text("time,id,talkgroup\n" + rows + "13/03/2026 10:00:00,2320001,232\n" + rows)
    assert fold(path, tmp_path).account.rejected == {}


def test_private_calls_are_set_aside(tmp_path: Path) -> None:
    path = tmp_path / "heard.csv"
    rows = [f"{t},{i},{g},group" for i, g, t, _ in CALLS]
    rows[3] = rows[3].replace(",group", ",private")
    rows[5] = f"{CALLS[5][2]},{CALLS[5][0]},PC 2320008,group"
    path.write_text("time,id,talkgroup,type\n" + "\n".join(rows) + "\n")
    account = fold(path, tmp_path).account
    assert (account.read, account.folded, account.set_aside) == (30, 28, {"private call": 2})


def test_a_directory_is_no_log(tmp_path: Path) -> None:
    path = tmp_path / "stations.csv"
    path.write_text("id,call sign,town\n" + "".join(f"{2_320_000 + k},OE1A{chr(65 + k)}C,Graz\n" for k in range(20)))
    with pytest.raises(InputRefusedError):
        fold(path, tmp_path)


@pytest.mark.parametrize(
    ("text", "event"),
    [("Start", "start"), ("voice_end", "end"), ("Ende", "end"), ("PRIVATE", "private"), ("group call", None), ("", None)],
)
def test_events(text: str, event: str | None) -> None:
    assert event_of(text) == event


def test_json_values_are_flat_and_numbers_stay_as_written() -> None:
    value = value_of(b'{"a": {"b": 1.50, "c": null}, "d": "{\\"e\\": 12345678901234567890}", "f": true}')
    assert flat_records(value) == [{"a.b": "1.50", "a.c": None, "d.e": "12345678901234567890", "f": "true"}]


def test_durations_are_read_in_any_precision(tmp_path: Path) -> None:
    """Short floats, and numbers that were computed: 12.300000000000001."""
    count = 40
    seconds = [0.1 * (k % 7 + 123) for k in range(count)]
    columns = {"time": [1_790_000_000 + 100 * k for k in range(count)], "id": [2_320_001 + k % 5 for k in range(count)]}
    columns |= {"talkgroup": [91 + k % 2 for k in range(count)]}
    for kind in (pa.float32(), pa.float64()):
        path = tmp_path / f"{kind}.parquet"
        parquet.write_table(pa.table(columns | {"seconds": pa.array(seconds, kind)}), path)
        assert sum_of_seconds(path, tmp_path / str(kind)) == pytest.approx(sum(seconds), abs=0.01)
    path = tmp_path / "heard.csv"
    rows = zip(*columns.values(), seconds, strict=True)
    path.write_text("time,id,talkgroup,seconds\n" + "".join(",".join(map(str, row)) + "\n" for row in rows))
    assert sum_of_seconds(path, tmp_path / "text") == pytest.approx(sum(seconds), abs=0.01)


def sum_of_seconds(path: Path, state: Path) -> float:
    fold_logs(state, [LogFiles([path])])
    weights = weights_in(state)
    return float(weights.rows()["milliseconds"].sum()) / 1000


def test_a_row_with_a_time_is_no_heading_line(tmp_path: Path) -> None:
    """Cut at blanks, every word of these lines reads like a heading: rx, TG232."""
    path = tmp_path / "heard.log"
    path.write_text(
        "".join(f"2026-03-04 10:{k % 60:02}:07 rx 232000{k % 5 + 1} -> TG23{k % 3} {k % 30 + 2}.5s\n" for k in range(60))
    )
    assert fold(path, tmp_path).account.read == 60


@pytest.mark.parametrize("halves", [("AM", "PM"), ("a.m.", "p.m."), ("上午", "下午")])
def test_half_days_in_a_column_of_their_own_are_refused(tmp_path: Path, halves: tuple[str, str]) -> None:
    path = tmp_path / "heard.csv"
    rows = "".join(f"2026-03-04,{k % 12 + 1}:0{k % 10}:00,{halves[k % 24 // 12]},232000{k % 5 + 1},91\n" for k in range(60))
    path.write_text("date,time,half,id,talkgroup\n" + rows)
    with pytest.raises(InputRefusedError, match="'half' tells apart from the time which half of the day"):
        fold(path, tmp_path)
