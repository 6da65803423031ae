"""The text around a time of day -> a date and an offset from UTC; and in which order a file writes day and month.

Receives distinct texts, such as "Sun, 01 Mar 2026 " and " +0100"; hands on days since 1970-01-01. Dates that are written in
numbers alone may be day first or month first: all dates of a file decide, never one.
"""

from __future__ import annotations

import datetime
import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from pruner.read.month_names import MONTH_OF
from pruner.words.days import date_of, day_number

DAY_FIRST, MONTH_FIRST, YEAR_FIRST = ORDERS = ("day first", "month first", "year first")
NO_ZONE: Final = 1 << 40
#: Minutes from UTC of abbreviations that all zones of the IANA database use alike since 2019 (a test compares them), and of the
#: German ones (common practice, no source). CST, PST, IST, BST and others name several zones and are not understood.
ZONE_MINUTES: Final = {
    **dict.fromkeys(("Z", "UTC", "GMT", "UT", "WET"), 0),
    **dict.fromkeys(("CET", "MET", "MEZ", "WEST", "WAT"), 60),
    **dict.fromkeys(("CEST", "MEST", "MESZ", "EET", "CAT", "SAST"), 120),
    **dict.fromkeys(("EEST", "MSK", "EAT"), 180),
    **{"PKT": 300, "WIB": 420, "WITA": 480, "HKT": 480, "AWST": 480, "JST": 540, "KST": 540, "WIT": 540},
    **{"ACST": 570, "ACDT": 630, "AEST": 600, "AEDT": 660, "NZST": 720, "NZDT": 780},
    **{"EST": -300, "EDT": -240, "MDT": -360, "PDT": -420, "AKDT": -480, "AKST": -540, "HST": -600},
}
_OFFSET: Final = re.compile(r"\s*(?:UTC|GMT|UT)?\s?([+-])(\d{1,2})(?::?(\d{2}))?(?!\d)(.*)", re.ASCII | re.IGNORECASE)
_LETTERS: Final = re.compile(r"\s*([A-Za-z]{1,5})\b(.*)")
_COMMENT: Final = re.compile(r"\([^()]*\)|\[[^\[\]]*\]")
_TOKEN: Final = re.compile(r"\d+|[^\W\d_]+|[^\w\s]")
_DIGIT: Final = re.compile(r"\d")
_WORD: Final = re.compile(r"[^\W\d_]+")
_WEEK: Final = re.compile(r"\s*(\d{4})-?W(\d{2})-?([1-7])T?\s*", re.ASCII)
_EAST: Final = str.maketrans({"年": "-", "月": "-", "日": " ", "년": "-", "월": "-", "일": " "})
#: Words for the half of a day: 1 before noon, 2 after.
HALVES: Final = {"上午": 1, "午前": 1, "오전": 1, "下午": 2, "午後": 2, "오후": 2}
#: Words around dates that say nothing: ordinals, links, names for the clock.
_LINKS: Final = frozenset(
    "t st nd rd th er of de del the at on um uhr uur h hr hrs hours ore alle las klo kl om op a à le la el il den der am as às "
    "saat godz o v г року в".split()
)
_WEEKDAY_LETTERS: Final = 14


@dataclass(frozen=True, slots=True)
class DateText:
    """What one text says.

    `year`, `month`, `day`: 0 where it does not say; `numbers`: those whose order it leaves open (two: day and month; three:
    the year too). `offset` from UTC in milliseconds, `NO_ZONE` without; `half`: 1 before noon, 2 after.
    """

    year: int = 0
    month: int = 0
    day: int = 0
    numbers: tuple[int, ...] = ()
    offset: int = NO_ZONE
    half: int = 0


@lru_cache(maxsize=1 << 16)
def read_date(before: str, after: str) -> DateText | None:
    """What stands before and after a time of day; None where that is no date."""
    if len(before) + len(after) > 80:
        return None
    found = _zone(after)
    if found is None:
        return None
    offset, rest = found
    if _DIGIT.search(before) and any(word.casefold() not in _LINKS for word in _WORD.findall(rest)):
        return None
    text = f"{before} {rest}"
    week = _WEEK.fullmatch(text)
    if week:
        return _of_week(int(week[1]), int(week[2]), int(week[3]), offset)
    half = 0
    for word, value in HALVES.items():
        if word in text:
            text, half = text.replace(word, " "), value
    tokens = _TOKEN.findall(text if text.isascii() else text.translate(_EAST))
    words = [folded for folded in map(_folded, (token for token in tokens if token.isalpha())) if folded not in _LINKS]
    digits = [token for token in tokens if token.isdecimal() and token.isascii()]
    marks = {token for token in tokens if not token.isalnum()}
    if sum(token.isnumeric() for token in tokens) != len(digits) or any(len(word) > _WEEKDAY_LETTERS for word in words):
        return None
    months = [word for word in words if word in MONTH_OF]
    if len(digits) == 3 and len(words) <= 1:
        return _of_three(digits, marks, offset, half)
    if len(words) > 2 or (words and not months):
        return None
    if months:
        is_leading = next(token for token in tokens if token.isalnum()).isalpha() and len(words) == 1
        return _with_month(digits, MONTH_OF[months[-1]], offset, half, is_leading=is_leading)
    return _of_digits(digits, marks, offset, half)


def _folded(word: str) -> str:
    plain = unicodedata.normalize("NFKD", word.casefold())
    return "".join(letter for letter in plain if not unicodedata.combining(letter)).translate(str.maketrans("łøı", "loi"))


def _zone(after: str) -> tuple[int, str] | None:
    """The offset that stands behind a time of day, and the text behind it; None where letters name no zone that is known."""
    text = _COMMENT.sub(" ", after) if _COMMENT.search(after) else after
    match = _OFFSET.fullmatch(text)
    if match:
        hours, minutes = int(match[2]), int(match[3] or 0)
        if hours > 23 or minutes > 59:
            return None
        return (hours * 60 + minutes) * (-60_000 if match[1] == "-" else 60_000), match[4]
    match = _LETTERS.fullmatch(text)
    if match and match[1].upper() in ZONE_MINUTES and (match[1].isupper() or match[1] == "z"):
        return ZONE_MINUTES[match[1].upper()] * 60_000, match[2]
    if not text.strip():
        comment = _COMMENT.search(after)
        name = comment[0][1:-1].strip().upper() if comment else ""
        return ZONE_MINUTES[name] * 60_000 if name in ZONE_MINUTES else NO_ZONE, ""
    return NO_ZONE, text


def _of_week(year: int, week: int, weekday: int, offset: int) -> DateText | None:
    try:
        day = datetime.date.fromisocalendar(year, week, weekday)
    except ValueError:
        return None
    return DateText(day.year, day.month, day.day, offset=offset)


def _with_month(digits: list[str], month: int, offset: int, half: int, *, is_leading: bool) -> DateText | None:
    """A date whose month is named. `is_leading`: the name stands first."""
    if len(digits) == 1 and len(digits[0]) <= 2:
        return DateText(0, month, int(digits[0]), offset=offset, half=half)
    if len(digits) != 2:
        return None
    first, second = digits
    is_year_first = len(first) == 4 or (len(second) != 4 and int(first) > 31 and not is_leading)
    year, day = (first, second) if is_year_first else (second, first)
    if len(year) not in (2, 4) or len(day) > 2:
        return None
    return DateText(_full_year(year), month, int(day), offset=offset, half=half)


def _of_three(digits: list[str], marks: set[str], offset: int, half: int) -> DateText | None:
    first, second, third = digits
    if len(second) > 2:
        return None
    if len(first) == 4 and len(third) <= 2:
        return DateText(int(first), int(second), int(third), offset=offset, half=half)
    if len(first) > 2 or len(third) not in (2, 4):
        return None
    if "." in marks and not marks & {"/", "-"}:
        return DateText(_full_year(third), int(second), int(first), offset=offset, half=half)
    if len(third) == 4:
        return DateText(int(third), numbers=(int(first), int(second)), offset=offset, half=half)
    return DateText(numbers=(int(first), int(second), int(third)), offset=offset, half=half)


def _of_digits(digits: list[str], marks: set[str], offset: int, half: int) -> DateText | None:
    """A date of one or two groups of digits, no month named."""
    if len(digits) == 1 and len(digits[0]) == 8:
        text = digits[0]
        return DateText(int(text[:4]), int(text[4:6]), int(text[6:]), offset=offset, half=half)
    if len(digits) == 1 and len(digits[0]) == 6:
        text = digits[0]
        return DateText(2000 + int(text[:2]), int(text[2:4]), int(text[4:]), offset=offset, half=half)
    if len(digits) != 2 or len(digits[1]) > 3:
        return None
    first, second = digits
    if len(first) == 4 and len(second) == 3:
        try:
            day = datetime.date(int(first), 1, 1) + datetime.timedelta(int(second) - 1)
        except (ValueError, OverflowError):
            return None
        return DateText(day.year, day.month, day.day, offset=offset, half=half) if day.year == int(first) else None
    if len(first) > 2 or len(second) > 2 or not marks:
        return None
    if "." in marks:
        return DateText(0, int(second), int(first), offset=offset, half=half)
    return DateText(numbers=(int(first), int(second)), offset=offset, half=half)


def _full_year(text: str) -> int:
    if len(text) == 4:
        return int(text)
    return int(text) + (2000 if int(text) < 70 else 1900)


def day_of(date: DateText, order: str, last: int | None) -> int | None:
    """The day of a date, counted from 1970-01-01; None where it is none.

    `order` is one of `ORDERS` or "" (a date in open numbers is none then); `last` is a day: without a year the latest date that
    is not more than a day behind it is meant (None: it is none).
    """
    year, month, day = date.year, date.month, date.day
    if date.numbers:
        if order not in ORDERS:
            return None
        if len(date.numbers) == 3:
            year, month, day = _ordered(date.numbers, order)
        else:
            day, month = date.numbers if order == DAY_FIRST else date.numbers[::-1]
    if year:
        return _day(year, month, day)
    if last is None:
        return None
    present = date_of(last).year
    found = (_day(present + 1 - back, month, day) for back in range(10))
    return next((value for value in found if value is not None and value <= last + 1), None)


def _ordered(numbers: tuple[int, ...], order: str) -> tuple[int, int, int]:
    first, second, third = numbers
    if order == YEAR_FIRST:
        return _full_year(f"{first:02}"), second, third
    day, month = (first, second) if order == DAY_FIRST else (second, first)
    return _full_year(f"{third:02}"), month, day


def _day(year: int, month: int, day: int) -> int | None:
    try:
        return day_number(datetime.date(year, month, day))
    except ValueError:
        return None


def order_of(dates: Iterable[DateText], last: int) -> str | None:
    """In which order a file writes dates in numbers: one of `ORDERS`, "" where no date leaves it open, None where the dates do
    not decide. No date lies more than a day behind `last` (a day), when the file was written.

    The order under which the fewest dates are impossible is meant. What else tells the place of a year of two digits: days of
    one year under one order are days of many years under another; and of several orders the one is meant whose dates lie
    nearest to `last` by years.
    """
    open_dates = sorted({(date.year, date.numbers) for date in dates if date.numbers})
    if not open_dates:
        return ""
    orders = ORDERS if any(len(numbers) == 3 for _, numbers in open_dates) else ORDERS[:2]
    days = {order: [day_of(DateText(year, numbers=numbers), order, last) for year, numbers in open_dates] for order in orders}
    faults = {order: sum(day is None or day > last + 1 for day in found) for order, found in days.items()}
    fewest = min(faults.values())
    left = _in_one_year([order for order in orders if faults[order] == fewest], days)
    far = {order: max((abs(last - day) for day in days[order] if day is not None), default=0) for order in left}
    nearest = min(far.values())
    left = [order for order in left if far[order] <= 4 * nearest + 366]
    if len(left) == 1 or all(days[order] == days[left[0]] for order in left):
        return left[0]
    return None


def _in_one_year(orders: list[str], days: Mapping[str, list[int | None]]) -> list[str]:
    """Without the orders under which no two dates are of one year, where all are under another."""
    found = {order: [day for day in days[order] if day is not None] for order in orders}
    years = {order: [date_of(day).year for day in found[order]] for order in orders}
    if not any(len(of_order) > 1 and len(set(of_order)) == 1 for of_order in years.values()):
        return orders
    return [order for order in orders if len(set(years[order])) < len(years[order])]
