"""Times and seconds of heard logs, against RFC 3339, the standard library and the zones of the system."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pyarrow as pa
import pytest
from draws import draws
from hypothesis import example, given
from hypothesis import strategies as st

from pruner.read import heard_times
from pruner.read.durations import parse_seconds
from pruner.read.heard_times import parse_times

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def utc(text: object, zone: str = "UTC") -> datetime | None:
    time, is_time = parse_times(pa.array([text]), zone)
    return EPOCH + timedelta(milliseconds=int(time[0])) if is_time[0] else None


@pytest.mark.parametrize(
    ("text", "expected"),
    [  # RFC 3339, section 5.8, "Examples"; the equalities are stated there.
        ("1985-04-12T23:20:50.52Z", "1985-04-12T23:20:50.520+00:00"),
        ("1996-12-19T16:39:57-08:00", "1996-12-20T00:39:57+00:00"),
        ("1990-12-31T23:59:60Z", "1991-01-01T00:00:00+00:00"),
        ("1990-12-31T15:59:60-08:00", "1991-01-01T00:00:00+00:00"),
        ("1937-01-01T12:00:27.87+00:20", "1937-01-01T11:40:27.870+00:00"),
    ],
)
def test_examples_of_rfc_3339(text: str, expected: str) -> None:
    assert utc(text) == datetime.fromisoformat(expected)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("2026-11-20 10:00:00", "2026-11-20T10:00:00+00:00"),
        ("2026-11-20 10:00", "2026-11-20T10:00:00+00:00"),
        ("2026-11-20t10:00:00z", "2026-11-20T10:00:00+00:00"),  # RFC 3339, section 5.6: letters may be lower case
        (" 2026-11-20 10:00:00,25 UTC ", "2026-11-20T10:00:00.250+00:00"),  # ISO 8601 allows a decimal comma
        ("2026-11-20T10:00:00+0130", "2026-11-20T08:30:00+00:00"),
        ("2026-11-20T10:00:00-05", "2026-11-20T15:00:00+00:00"),
        ("2026-11-20T10:00:00.123999Z", "2026-11-20T10:00:00.123+00:00"),
        ("2024-02-29T00:00:00Z", "2024-02-29T00:00:00+00:00"),
        ("1700000000", "2023-11-14T22:13:20+00:00"),
        ("1700000000.5", "2023-11-14T22:13:20.500+00:00"),
        ("1700000000123", "2023-11-14T22:13:20.123+00:00"),
        ("99999999999", "5138-11-16T09:46:39+00:00"),  # the largest number of seconds
        ("100000000000", "1973-03-03T09:46:40+00:00"),  # the smallest number of milliseconds
    ],
)
def test_other_ways_to_write_a_time(text: str, expected: str) -> None:
    assert utc(text) == datetime.fromisoformat(expected)


@pytest.mark.parametrize(
    "text",
    [
        "",
        None,
        "yesterday",
        "2026-02-29T00:00:00Z",
        "2026-13-01T00:00:00Z",
        "2026-00-10T00:00:00Z",
        "2026-01-00T00:00:00Z",
        "2026-01-01T24:00:00Z",
        "2026-01-01T10:60:00Z",
        "2026-01-01T10:00:60Z",  # no leap second is at ten
        "2026-01-01T10:00:61Z",
        "2026-01-01T10:00:00+24:00",
        "2026-01-01T10:00.5Z",
        "2026-01-01",
        "2026-01-01T10:00:00 CST",  # of China, Cuba or the United States
        "01/13/2026 10:00:00",  # nobody said in which order
        "٢٠٢٦-01-01T10:00:00Z",
        "17000000000000000000",
        "2026-01-01T10:00:00." + "0" * 80 + "Z",
    ],
)
def test_what_is_no_time(text: str | None) -> None:
    assert utc(pa.scalar(text, pa.string()).as_py()) is None


@given(
    st.lists(st.datetimes(datetime(1, 1, 1), datetime(9999, 12, 31)), max_size=8),
    st.sampled_from("T "),
    st.integers(-1439, 1439),
)
def test_any_moment_with_an_offset(moments: list[datetime], separator: str, minutes: int) -> None:
    offset = f"{'-' if minutes < 0 else '+'}{abs(minutes) // 60:02}:{abs(minutes) % 60:02}"
    texts = [moment.isoformat(separator, timespec="milliseconds") + offset for moment in moments]
    time, is_time = parse_times(pa.array(texts, pa.string()), "UTC")
    assert is_time.all()
    expected = [(moment.replace(tzinfo=UTC) - EPOCH) // timedelta(milliseconds=1) - minutes * 60_000 for moment in moments]
    assert time.tolist() == expected


@draws(60)
@given(
    st.lists(st.datetimes(datetime(2000, 1, 1), datetime(2037, 1, 1)), min_size=1, max_size=20),
    st.sampled_from(["Europe/Vienna", "America/New_York", "Australia/Lord_Howe", "Asia/Kathmandu", "America/St_Johns", "UTC"]),
    st.booleans(),
)
@example([datetime(2026, 3, 29, 2, 30)], "Europe/Vienna", False)  # never came
@example([datetime(2026, 10, 25, 2, 30)], "Europe/Vienna", True)  # came twice
@example([datetime(2026, 10, 4, 2, 15)], "Australia/Lord_Howe", False)  # half an hour never came
def test_times_without_a_zone_as_zoneinfo_has_them(moments: list[datetime], zone: str, as_column: bool) -> None:
    """The outside source is `zoneinfo` (PEP 615) with `fold=0` (PEP 495): first of two, offset before a gap."""
    moments = [moment.replace(microsecond=0) for moment in moments]
    column = pa.array(moments, pa.timestamp("us")) if as_column else pa.array([str(moment) for moment in moments])
    time, is_time = parse_times(column, zone)
    assert is_time.all()
    assert time.tolist() == [int(moment.replace(tzinfo=ZoneInfo(zone)).timestamp()) * 1000 for moment in moments]


def test_columns_of_numbers_and_timestamps() -> None:
    moment = datetime(2026, 11, 20, 10, tzinfo=UTC)
    seconds = int(moment.timestamp())
    for column in (
        pa.array([seconds, None], pa.int64()),
        pa.array([seconds, None], pa.uint32()),
        pa.array([seconds * 1000, None], pa.int64()),
        pa.array([float(seconds), float("nan")]),
        pa.array([moment, None], pa.timestamp("ns", "UTC")),
        pa.array([moment, None], pa.timestamp("s", "America/New_York")),
        pa.array([moment.isoformat(), None]).dictionary_encode().dictionary_decode(),
    ):
        time, is_time = parse_times(column, "Europe/Vienna")
        assert time[0] == seconds * 1000, column.type
        assert is_time.tolist() == [True, False], column.type


def test_slices_are_read_where_they_begin() -> None:
    texts = pa.array(["x", "2026-11-20T10:00:00Z", "2026-11-20T10:00:01Z", "y"])
    time, is_time = parse_times(texts.slice(1, 2), "UTC")
    assert is_time.all()
    assert np.diff(time).tolist() == [1000]


def test_many_times_of_equal_form() -> None:
    texts = pa.array(["2026-11-20T10:00:00Z"] * 50_000)
    time, is_time = parse_times(texts, "UTC")
    assert is_time.all()
    assert (time == 1_795_168_800_000).all()


@pytest.mark.parametrize(
    ("value", "expected"),
    [("3.2", 3200), ("3,25", 3250), ("", 0), (None, 0), (" 7 ", 7000), ("86400", 86_400_000), (5, 5000), (0.0004, 0)],
)
def test_seconds_on_air(value: object, expected: int) -> None:
    milliseconds, is_readable = parse_seconds(pa.array([value]))
    assert is_readable.tolist() == [True]
    assert milliseconds.tolist() == [expected]


@pytest.mark.parametrize("value", ["x", "-1", "86401", "inf", "nan", -3, float("inf"), "1.2.3"])
def test_what_is_no_time_on_air(value: object) -> None:
    assert not parse_seconds(pa.array([value]))[1].any()


def test_iso_times_are_read_without_a_look_for_other_forms(monkeypatch: pytest.MonkeyPatch) -> None:
    """The quick way is taken where a log begins with an ISO time; what is none is then looked at alone."""
    looked_at: list[int] = []
    original = heard_times._mixed

    def watched(text: pa.Array, zone: str, form: heard_times.TimeForm) -> object:
        looked_at.append(len(text))
        return original(text, zone, form)

    monkeypatch.setattr(heard_times, "_mixed", watched)
    iso = [f"2026-11-20T12:00:{n:02}Z" for n in range(60)]
    time, is_time = heard_times.parse_times(pa.array(iso), "UTC")
    assert is_time.all()
    assert (time[-1] - time[0], looked_at) == (59_000, [])
    assert heard_times.parse_times(pa.array([*iso, "20 Nov 2026 12:00:00"]), "UTC")[1].all()
    assert looked_at == [1]
