"""Times as people and programs write them, against the standard library, python-dateutil and the IANA database."""

from __future__ import annotations

import datetime as dt
import email.utils
import time
import zoneinfo

import pyarrow as pa
import pytest
from dateutil import parser as dateutil_parser
from draws import draws
from hypothesis import given
from hypothesis import strategies as st

from pruner.read.date_texts import DAY_FIRST, MONTH_FIRST, YEAR_FIRST, ZONE_MINUTES
from pruner.read.durations import parse_seconds
from pruner.read.heard_times import TimeForm, dates_in, order_in, parse_times

EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)
MOMENTS = st.datetimes(dt.datetime(2000, 1, 1), dt.datetime(2037, 12, 31)).map(lambda moment: moment.replace(microsecond=0))


def milliseconds(moment: dt.datetime) -> int:
    return (moment.replace(tzinfo=moment.tzinfo or dt.UTC) - EPOCH) // dt.timedelta(milliseconds=1)


LAST = milliseconds(dt.datetime(2026, 11, 20))


def utc(text: object, order: str = "", zone: str = "UTC") -> dt.datetime | None:
    found, is_time = parse_times(pa.array([text]), zone, TimeForm(order, LAST))
    return EPOCH + dt.timedelta(milliseconds=int(found[0])) if is_time[0] else None


FORMS = [
    "%d.%m.%Y %H:%M:%S",
    "%d.%m.%y, %H:%M:%S",
    "%Y/%m/%d %H:%M:%S",
    "%Y-%m-%d, %I:%M:%S %p",
    "%d %b %Y %H:%M:%S",
    "%d-%b-%Y %H:%M:%S",
    "%B %d, %Y %I:%M:%S %p",
    "%A, %B %d, %Y %H:%M:%S",
    "[%d/%b/%Y:%H:%M:%S]",
    "%a %b %d %H:%M:%S %Y",
    "%H:%M:%S %d %B %Y",
    "%Y%m%dT%H%M%S",
    "%Y%m%d%H%M%S",
    "%G-W%V-%uT%H:%M:%S",
    "%Y-%jT%H:%M:%S",
    "%d.%m.%Y %H.%M.%S",
    "'%Y-%m-%d %H:%M:%S'",
]


@draws(40)
@given(st.lists(MOMENTS, min_size=1, max_size=6))
@pytest.mark.parametrize("form", FORMS)
def test_what_strftime_writes_is_read(form: str, moments: list[dt.datetime]) -> None:
    found, is_time = parse_times(pa.array([moment.strftime(form) for moment in moments]), "UTC")
    assert is_time.all()
    assert found.tolist() == [milliseconds(moment) for moment in moments]


@draws(60)
@given(MOMENTS, st.integers(-12 * 60, 14 * 60))
def test_rfc_2822_and_ctime_as_the_standard_library_has_them(moment: dt.datetime, minutes: int) -> None:
    zoned = moment.replace(tzinfo=dt.timezone(dt.timedelta(minutes=minutes)))
    text = email.utils.format_datetime(zoned)
    assert utc(text) == email.utils.parsedate_to_datetime(text) == zoned
    assert utc(f"{text} (EST)") == zoned  # a comment, RFC 2822, section 3.2.3
    assert utc(time.asctime(moment.timetuple())) == moment.replace(tzinfo=dt.UTC)
    assert utc(email.utils.formatdate(milliseconds(moment) / 1000, usegmt=True)) == moment.replace(tzinfo=dt.UTC)


@draws(80)
@given(
    MOMENTS,
    st.sampled_from(["{0:%d}/{0:%m}/{0:%Y}", "{0:%d}-{0:%m}-{0:%Y}", "{0.day}/{0.month}/{0:%y}"]),
    st.sampled_from([" {0:%H:%M:%S}", " {0:%I:%M:%S} {0:%p}", ", {0:%H:%M:%S}.250"]),
    st.booleans(),
)
def test_dates_in_numbers_as_dateutil_has_them(moment: dt.datetime, date: str, clock: str, is_day_first: bool) -> None:
    text = (date + clock).format(moment)
    try:
        expected = dateutil_parser.parse(text, dayfirst=is_day_first)
    except dateutil_parser.ParserError:
        return
    found = utc(text, DAY_FIRST if is_day_first else MONTH_FIRST)
    if found is None:  # dateutil exchanges day and month where the order asked for is impossible; a file has one order
        assert not is_day_first
        assert moment.day > 12
    else:
        assert found.replace(tzinfo=None) == expected


@draws(60)
@given(
    st.dates(dt.date(2024, 1, 1), dt.date(2026, 8, 1)),
    st.integers(2, 110),
    st.sampled_from([(DAY_FIRST, "%d/%m/%y"), (MONTH_FIRST, "%m/%d/%y"), (YEAR_FIRST, "%y-%m-%d"), (DAY_FIRST, "%d-%m-%y")]),
)
def test_the_place_of_a_year_of_two_digits_is_never_wrong(first: dt.date, count: int, written: tuple[str, str]) -> None:
    """Days that follow each other, in a file that is as old as its last date, or copied in November 2026."""
    order, form = written
    days = [first + dt.timedelta(number) for number in range(count)]
    dates = list(dates_in(pa.array([day.strftime(f"{form} 10:00:00") for day in days])))
    for last in (LAST, int(dt.datetime.combine(days[-1], dt.time(12), dt.UTC).timestamp() * 1000)):
        assert order_in(dates, last) in (order, None)


@draws(60)
@given(
    st.lists(st.dates(dt.date(2024, 1, 1), dt.date(2026, 11, 20)), min_size=1, max_size=30),
    st.sampled_from([(DAY_FIRST, "%d/%m/%Y"), (MONTH_FIRST, "%m/%d/%Y")]),
)
def test_the_order_of_a_file_is_never_wrong(days: list[dt.date], written: tuple[str, str]) -> None:
    order, form = written
    found = order_in(dates_in(pa.array([day.strftime(f"{form} 10:00:00") for day in days])), LAST)
    is_symmetric = all(day.day == day.month for day in days)
    assert found in (order, None) or is_symmetric
    if any(day.day > 12 for day in days):
        assert found == order


@pytest.mark.parametrize(
    ("texts", "order"),
    [
        (["2026-03-04 10:00", "1772366401", "04.03.2026 10:00", "4 Mar 2026 10:00"], ""),
        (["04/03/2026 10:00", "05/03/2026 10:00"], None),
        (["12/03/2026 10:00"], DAY_FIRST),  # the other reading lies behind the day on which the file was written
        (["03/03/2026 10:00"], DAY_FIRST),  # both readings are the same day
        (["13/03/2026 10:00", "1/32/2026 10:00"], DAY_FIRST),
        (["26/03/01 10:00", "26/03/02 10:00"], YEAR_FIRST),
        (["03-09-25 10:00", "03-09-26 10:00"], YEAR_FIRST),  # days of one year, not one day of many years
        (["03-09-25 10:00", "04-09-25 10:00", "13-09-25 10:00"], DAY_FIRST),
        (["9/1/26 10:00", "9/30/26 10:00"], MONTH_FIRST),
        (["01.09.26 10:00"], ""),  # points stand behind day and month
        (["10-11-12 10:00"], None),
    ],
)
def test_order_of_dates(texts: list[str], order: str | None) -> None:
    assert order_in(dates_in(pa.array(texts)), LAST) == order


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("1. März 2026, 12:00 Uhr", "2026-03-01T12:00:00+00:00"),
        ("domingo, 1 de marzo de 2026 12:00:01", "2026-03-01T12:00:01+00:00"),
        ("1 марта 2026 г. 12:00:01", "2026-03-01T12:00:01+00:00"),
        ("2026年3月1日 12時00分01秒", "2026-03-01T12:00:01+00:00"),
        ("2026. 3. 1. 오후 1:00:01", "2026-03-01T13:00:01+00:00"),
        ("2026-03-01 12:00:01 AM", "2026-03-01T00:00:01+00:00"),
        ("2026-03-01 1:00 p. m.", "2026-03-01T13:00:00+00:00"),
        ("2026-03-01 12:00:01 CET", "2026-03-01T11:00:01+00:00"),
        ("2026-03-01 12:00:01 UTC+1", "2026-03-01T11:00:01+00:00"),
        ("2026-03-01T12:00:01.5+01:00[Europe/Vienna]", "2026-03-01T11:00:01.500+00:00"),
        ("Mar  1 12:00:01", "2026-03-01T12:00:01+00:00"),  # without a year: the latest that the file can hold
        ("Dec  5 12:00:01", "2025-12-05T12:00:01+00:00"),
        ("05.12. 12:00", "2025-12-05T12:00:00+00:00"),
        ("Feb 29 12:00:01", "2024-02-29T12:00:01+00:00"),
        ("46082.5", "2026-03-01T12:00:00+00:00"),
        (46082.50001157, "2026-03-01T12:00:01+00:00"),
        ("46082,50001157", "2026-03-01T12:00:01+00:00"),
        (46082, "2026-03-01T00:00:00+00:00"),
        ("1772366401000000", "2026-03-01T12:00:01+00:00"),
        (1772366401000000123, "2026-03-01T12:00:01+00:00"),
        ("1.772366401E9", "2026-03-01T12:00:01+00:00"),
        (1772366401.25, "2026-03-01T12:00:01.250+00:00"),
    ],
)
def test_other_ways(text: object, expected: str) -> None:
    assert utc(text) == dt.datetime.fromisoformat(expected)


@pytest.mark.parametrize(
    "text",
    [
        "3 PM",
        "yesterday 12:00",
        "12:00:01",
        "01.03.2026",
        "2026-03-01 12:00 IST",
        "31.02.2026 10:00",
        "1 Foo 2026 10:00",
        "x" * 200,
    ],
)
def test_what_is_no_time(text: str) -> None:
    assert utc(text) is None


def test_serials_are_local_times() -> None:
    assert utc("46082.5", zone="Europe/Vienna") == dt.datetime(2026, 3, 1, 11, tzinfo=dt.UTC)


def test_letters_of_zones_mean_one_offset_in_all_zones_of_the_iana_database() -> None:
    found: dict[str, set[int]] = {}
    for name in zoneinfo.available_timezones():
        zone = zoneinfo.ZoneInfo(name)
        for month in range(12 * 8):
            moment = dt.datetime(2019 + month // 12, month % 12 + 1, 15, tzinfo=dt.UTC).astimezone(zone)
            offset = moment.utcoffset() or dt.timedelta()
            found.setdefault(moment.tzname() or "", set()).add(int(offset.total_seconds()) // 60)
    # Z and UT are of RFC 2822 and RFC 3339; MEZ and MESZ are German.
    ours = {name: {minutes} for name, minutes in ZONE_MINUTES.items() if name not in ("Z", "UT", "MEZ", "MESZ")}
    assert {name: found.get(name, minutes) for name, minutes in ours.items()} == ours


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("00:01:23", 83_000),
        ("1:23", 83_000),
        ("0:01.5", 1500),
        ("3.2s", 3200),
        ("3,2 s", 3200),
        ("3200 ms", 3200),
        ("2 min 3 s", 123_000),
        ("1m23s", 83_000),
        ("PT3.2S", 3200),
        ("PT1M3,5S", 63_500),
        ("1'23\"", 83_000),
        ("5 Sek.", 5000),
        ("-", 0),
    ],
)
def test_durations(text: str, expected: int) -> None:
    found, is_readable = parse_seconds(pa.array([text, "x"]))
    assert (found.tolist(), is_readable.tolist()) == ([expected, 0], [True, False])


@pytest.mark.parametrize("text", ["1:75", "90000", "PT", "3 apples", "PT30H", "-4 s"])
def test_what_is_no_duration(text: str) -> None:
    assert not parse_seconds(pa.array([text]))[1].any()


@pytest.mark.parametrize(
    ("values", "unit"),
    [
        (pa.array([1500], pa.int16()), 1),
        (pa.array(["1500"]), 1),
        (pa.array(["1500 ms"]), 60_000),
        (pa.array([1.5]), 1000),
        (pa.array([dt.timedelta(seconds=1.5)], pa.duration("us")), 1000),
        (pa.array([dt.time(0, 0, 1, 500_000)], pa.time64("us")), 1000),
        (pa.array([dt.time(0, 0, 1, 500_000)], pa.time32("ms")), 1),
    ],
)
def test_units_of_durations(values: pa.Array, unit: int) -> None:
    assert parse_seconds(values, unit)[0].tolist() == [1500]
