"""Logs that write seconds and know the minute only, beside logs of the same calls that know the second. All data invented."""

from __future__ import annotations

import datetime as dt
import random
from collections.abc import Callable, Sequence
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as parquet
import pytest
from heard_weights import totals_in

from pruner.logs.files import LogFiles
from pruner.logs.fold import fold_logs

UTC = dt.UTC
Call = tuple[dt.datetime, int, int, int]
HEADINGS = ["time", "id", "talkgroup", "seconds"]


def calls_made(count: int = 200) -> list[Call]:
    """Calls of several days, fewer than 30 on each; none begins in a whole minute."""
    by_seed = random.Random(3)
    at, calls = dt.datetime(2026, 10, 1, tzinfo=UTC), []
    for _ in range(count):
        at += dt.timedelta(minutes=by_seed.randint(60, 150))
        begun = at.replace(second=by_seed.randint(1, 59))
        calls.append((begun, 2_321_000 + by_seed.randint(1, 40), 232, by_seed.randint(1, 90)))
    return calls


CALLS = calls_made()
MINUTES = [(call[0].replace(second=0), *call[1:]) for call in CALLS]
SECONDS_ON_AIR = sum(call[3] for call in CALLS)


def as_csv(path: Path, calls: Sequence[Call], form: str = "%Y-%m-%d %H:%M:%S") -> None:
    rows = [",".join([call[0].strftime(form), *map(str, call[1:])]) for call in calls]
    path.write_text("\n".join([",".join(HEADINGS), *rows]) + "\n")


def as_epochs(path: Path, calls: Sequence[Call]) -> None:
    rows = [",".join([str(int(call[0].timestamp())), *map(str, call[1:])]) for call in calls]
    path.write_text("\n".join([",".join(HEADINGS), *rows]) + "\n")


def as_date_and_clock(path: Path, calls: Sequence[Call]) -> None:
    """Each date once, as spreadsheets have it."""
    lines, day = ["date;time;id;talkgroup;seconds"], ""
    for call in calls:
        own = call[0].strftime("%Y-%m-%d")
        lines.append(";".join(["" if own == day else own, call[0].strftime("%H:%M:%S"), *map(str, call[1:])]))
        day = own
    path.write_text("\n".join(lines) + "\n")


def as_parquet(path: Path, calls: Sequence[Call]) -> None:
    columns = [list(column) for column in zip(*calls, strict=True)]
    parquet.write_table(pa.table(dict(zip(HEADINGS, columns, strict=True))), path)


def as_workbook(path: Path, calls: Sequence[Call]) -> None:
    """A sheet for each half."""
    import openpyxl

    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, part in (("first", calls[: len(calls) // 2]), ("second", calls[len(calls) // 2 :])):
        sheet = book.create_sheet(name)
        sheet.append(HEADINGS)
        for call in part:
            sheet.append([call[0].replace(tzinfo=None), *call[1:]])
    book.save(path)


FORMS: dict[str, tuple[str, Callable[[Path, Sequence[Call]], None]]] = {
    "seconds of text": ("csv", as_csv),
    "fractions of a second": ("csv", lambda path, calls: as_csv(path, calls, "%Y-%m-%dT%H:%M:%S.000Z")),
    "seconds since 1970": ("csv", as_epochs),
    "dates and clocks": ("csv", as_date_and_clock),
    "timestamps": ("parquet", as_parquet),
    "a workbook": ("xlsx", as_workbook),
}


def fold(state: Path, *paths: Path) -> None:
    for path in paths:
        fold_logs(state, [LogFiles([path])])


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("is_first", [True, False])
def test_calls_of_a_log_of_whole_minutes_count_once_beside_their_seconds(tmp_path: Path, form: str, is_first: bool) -> None:
    exact, whole = tmp_path / "seconds.csv", tmp_path / f"minutes.{FORMS[form][0]}"
    as_csv(exact, CALLS)
    FORMS[form][1](whole, MINUTES)
    fold(tmp_path / "state", *([whole, exact] if is_first else [exact, whole]))
    assert totals_in(tmp_path / "state") == (len(CALLS), SECONDS_ON_AIR)


@pytest.mark.parametrize("form", FORMS)
def test_a_log_of_whole_minutes_alone_keeps_its_calls(tmp_path: Path, form: str) -> None:
    whole = tmp_path / f"minutes.{FORMS[form][0]}"
    FORMS[form][1](whole, MINUTES)
    fold(tmp_path / "state", whole)
    assert totals_in(tmp_path / "state") == (len(CALLS), SECONDS_ON_AIR)
    assert grains_in(tmp_path / "state") == {1}


def grains_in(state: Path) -> set[int]:
    """Of the calls in the store: 0 where the second is known, 1 where the minute is."""
    files = [path for path in (state / "heard" / "dmr").rglob("*.parquet") if "grain" in parquet.read_schema(path).names]
    assert files
    return {grain for path in files for grain in parquet.read_table(path)["grain"].to_pylist()}


@pytest.mark.parametrize("form", FORMS)
def test_a_call_in_a_whole_minute_among_others_is_exact(tmp_path: Path, form: str) -> None:
    log = tmp_path / f"log.{FORMS[form][0]}"
    FORMS[form][1](log, [*MINUTES[:5], *CALLS[5:]])
    fold(tmp_path / "state", log)
    assert grains_in(tmp_path / "state") == {0}


def test_one_sheet_with_seconds_speaks_for_its_workbook(tmp_path: Path) -> None:
    as_workbook(tmp_path / "log.xlsx", [*MINUTES[:100], *CALLS[100:]])
    fold(tmp_path / "state", tmp_path / "log.xlsx")
    assert grains_in(tmp_path / "state") == {0}


@pytest.mark.parametrize(("count", "grain"), [(1, 0), (2, 0), (3, 1)])
def test_fewer_than_three_whole_minutes_say_nothing(tmp_path: Path, count: int, grain: int) -> None:
    as_csv(tmp_path / "log.csv", [*MINUTES[:count], *MINUTES[:count]])
    fold(tmp_path / "state", tmp_path / "log.csv")
    assert grains_in(tmp_path / "state") == {grain}


def test_the_whole_file_decides_for_rows_that_came_later(tmp_path: Path) -> None:
    """A log with seconds grows by whole minutes: they are exact. One of whole minutes grows by seconds: no call counts
    twice, whichever way it was read."""
    state, log = tmp_path / "state", tmp_path / "log.csv"
    as_csv(log, CALLS[:5])
    fold(state, log)
    as_csv(log, [*CALLS[:5], *MINUTES[5:9]])
    fold(state, log)
    assert grains_in(state) == {0}
    state, log = tmp_path / "other", tmp_path / "other.csv"
    as_csv(log, MINUTES[:5])
    fold(state, log)
    as_csv(log, [*MINUTES[:5], *CALLS[5:9]])
    fold(state, log)
    assert grains_in(state) == {0, 1}
    as_csv(tmp_path / "copy.csv", [*CALLS[5:9], *MINUTES[:5]])
    fold(state, tmp_path / "copy.csv")
    assert totals_in(state) == (9, sum(call[3] for call in CALLS[:9]))
