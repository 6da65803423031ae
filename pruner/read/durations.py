"""Durations as logs write them -> whole milliseconds.

Receives Arrow arrays of text, numbers or durations, hands on arrays and which entries could be read. Texts are looked at
once per distinct text.
"""

from __future__ import annotations

import re
from typing import Final

import numpy as np
import numpy.typing as npt
import polars as pl
import pyarrow as pa
import pyarrow.compute as pc

MOST_MILLISECONDS: Final = 86_400_000
_CLOCK: Final = re.compile(r"(?:(\d{1,2}):)?(\d{1,4}):(\d{1,2})(?:[.,](\d+))?", re.ASCII)
_PRIMES: Final = re.compile(r"(?:(\d{1,4})\s*['′]\s*)?(\d{1,4}(?:[.,]\d+)?)\s*(?:\"|″|'')", re.ASCII)
#: ISO 8601, section 5.5.2 of the edition of 2019 (from memory): hours, minutes and seconds.
_ISO: Final = re.compile(r"P(?:0D)?T(?:(\d+)H)?(?:(\d+(?:[.,]\d+)?)M)?(?:(\d+(?:[.,]\d+)?)S)?", re.ASCII | re.IGNORECASE)
_PART: Final = re.compile(r"\s*(\d+(?:[.,]\d+)?)\s*([^\W\d_]+)\.?\s*,?", re.UNICODE)
#: Milliseconds of each unit, by its words in many languages.
UNITS: Final = {
    **dict.fromkeys(
        "ms msec msecs millis millisecond milliseconds millisekunden мс мсек ミリ秒 毫秒 밀리초".split(),
        1,
    ),
    **dict.fromkeys(
        (
            "s sec secs second seconds sek sekunde sekunden seg segundos segundo secondes seconde secondi secondo seconden "
            "sekund sekunda sekundę sekúnd sekúnda sekundy sekunder sekunnit sekuntia sekundit sekundes sekundi sekunti segons "
            "segon secunde secundă másodperc mp saniye sn detik giây sekundė sekundės sekundžių δευτ δευτερόλεπτα "
            "с сек секунд секунды секунда секунду секунди секунде วินาที 秒 秒間 초 초간 שניות ثانية ثواني"
        ).split(),
        1000,
    ),
    **dict.fromkeys(
        (
            "m min mins "
            "minute minutes minuten minutos minuto minuti minuty minut dakika dk мин минут минуты 分 分間 分钟 分鐘 분"
        ).split(),
        60_000,
    ),
    **dict.fromkeys("h hr hrs hour hours std stunde stunden ч".split(), 3_600_000),
}
_NOTHING: Final = frozenset(("", "-", "--", "n/a", "null", "none", "."))


def parse_seconds(values: pa.Array, unit: int = 1000) -> tuple[npt.NDArray[np.uint64], npt.NDArray[np.bool_]]:
    """Milliseconds on air (uint64, to the nearest), and which entries are readable; a missing one is 0. A number without a
    unit of its own is of `unit` milliseconds."""
    if pa.types.is_duration(values.type):
        values, unit = values.cast(pa.duration("ms"), safe=False).cast(pa.int64()), 1
    if pa.types.is_time(values.type):
        is_short = pa.types.is_time32(values.type)
        ticks = values.cast(pa.int32() if is_short else pa.int64()).cast(pa.float64())
        per_second = {"s": 1, "ms": 10**3, "us": 10**6, "ns": 10**9}[str(values.type).split("[")[1][:-1]]
        return _of_numbers(pc.divide(ticks, per_second), 1000)
    if pa.types.is_integer(values.type) or pa.types.is_floating(values.type) or pa.types.is_null(values.type):
        return _of_numbers(values.cast(pa.float64()), unit)
    text = pc.utf8_trim_whitespace(values.cast(pa.string())).fill_null("")
    encoded = text.dictionary_encode()
    table = _of_texts(encoded.dictionary, unit)
    found = table[encoded.indices.to_numpy(zero_copy_only=False)]
    is_readable = found >= 0
    return np.where(is_readable, found, 0).astype(np.uint64), is_readable


def _of_numbers(values: pa.Array, unit: int) -> tuple[npt.NDArray[np.uint64], npt.NDArray[np.bool_]]:
    scaled = values.fill_null(0).to_numpy() * unit
    is_readable = (scaled >= 0) & (scaled <= MOST_MILLISECONDS)
    if is_readable.all():
        return np.rint(scaled, out=scaled).astype(np.uint64), is_readable
    return np.rint(np.where(is_readable, scaled, 0)).astype(np.uint64), is_readable


def _of_texts(texts: pa.Array, unit: int) -> npt.NDArray[np.int64]:
    """Milliseconds of distinct texts, -1 where they are none."""
    dotted = pc.replace_substring(pc.if_else(pc.equal(texts, ""), "0", texts), ",", ".")
    number: pl.Series = pl.Series(values=dotted) if not len(dotted) else pl.Series(pl.from_arrow(dotted))
    scaled = number.cast(pl.Float64, strict=False).fill_null(float("nan")).to_numpy() * unit
    found = np.where((scaled >= 0) & (scaled <= MOST_MILLISECONDS), scaled, -1)
    for place in np.flatnonzero(np.isnan(scaled)).tolist():
        found[place] = duration(texts[place].as_py())
    return np.rint(found).astype(np.int64)


def duration(text: str) -> float:
    """Milliseconds of one text that is no plain number, -1 where it is no duration (or longer than a day)."""
    if len(text) > 40:
        return -1
    if text.casefold() in _NOTHING:
        return 0
    found = _clock(text)
    return found if found <= MOST_MILLISECONDS else -1


def _clock(text: str) -> float:
    clock = _CLOCK.fullmatch(text)
    if clock:
        hours, minutes, seconds, fraction = clock.groups()
        if int(seconds) > 59 or (hours and int(minutes) > 59):
            return -1
        return ((int(hours or 0) * 60 + int(minutes)) * 60 + int(seconds)) * 1000 + float(f"0.{fraction or 0}") * 1000
    iso = _ISO.fullmatch(text)
    if iso and any(iso.groups()):
        return sum(_number(part) * size for part, size in zip(iso.groups(), (3_600_000, 60_000, 1000), strict=True) if part)
    primes = _PRIMES.fullmatch(text)
    if primes:
        return int(primes[1] or 0) * 60_000 + _number(primes[2]) * 1000
    return _units(text)


def _units(text: str) -> float:
    total, position = 0.0, 0
    while position < len(text):
        part = _PART.match(text, position)
        size = UNITS.get(part[2].casefold()) if part else None
        if part is None or size is None:
            return -1
        total, position = total + _number(part[1]) * size, part.end()
    return total


def _number(text: str) -> float:
    return float(text.replace(",", "."))
