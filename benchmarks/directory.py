"""The input of the benchmark: an invented directory, the same bytes for the same number of rows.

Receives a path and a number of rows; hands on a CSV file of `dmr` stations in canonical columns. Its text
needs no cleaning, so that every engine can write it as it stands. Above ten million rows nearly every
address of a station is there.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import polars as pl

#: Name in the cell, two-letter code, first three digits of ids, beginning of call signs.
COUNTRIES = (
    ("Austria", "AT", 232, "OE"),
    ("Germany", "DE", 262, "DL"),
    ("Italy", "IT", 222, "IK"),
    ("Spain", "ES", 214, "EA"),
    ("France", "FR", 208, "FA"),
    ("Japan", "JP", 440, "JA"),
    ("United States", "US", 310, "KA"),
)
NEIGHBOURS_OF_AUSTRIA = ("CH", "CZ", "DE", "HU", "IT", "LI", "SI", "SK")
_WHOLE_SPACE = 10_000_000
_PIECE = 1 << 20


def write_directory(path: Path, rows: int) -> None:
    """Write `rows` records; one in a hundred bears an id that another record bears too."""
    random = np.random.default_rng(1)
    distinct = rows - rows // 100
    low, high = (1, 16_776_416) if rows > _WHOLE_SPACE else (2_000_000, 9_999_999)
    ids = random.permutation(np.arange(low, high, dtype=np.int64))[:distinct]
    ids = random.permutation(np.concatenate([ids, random.choice(ids, rows - len(ids))]))
    partial = path.with_suffix(".partial")
    with partial.open("wb") as file:
        for start in range(0, rows, _PIECE):
            frame = _piece(random, ids[start : start + _PIECE])
            frame.write_csv(file, include_header=start == 0)
    partial.replace(path)


def _piece(random: np.random.Generator, ids: np.ndarray) -> pl.DataFrame:
    count = len(ids)
    letters = np.array(list("ABCDEFGHIJKLMNOPQRSTUVWXYZ"))
    country = random.integers(0, len(COUNTRIES), count)

    def numbered(word: str, distinct: int) -> pl.Series:
        return pl.Series([f"{word} {number}" for number in range(distinct)])[random.integers(0, distinct, count)]

    callsign = pl.Series([row[3] for row in COUNTRIES])[country] + pl.Series(random.integers(0, 10, count)).cast(pl.String)
    for _ in range(3):
        callsign = callsign + pl.Series(letters)[random.integers(0, 26, count)]
    return pl.DataFrame(
        {
            "callsign": callsign,
            "id": ids,
            "first_name": numbered("Given", 2_000),
            "last_name": numbered("Family", 30_000),
            "country": pl.Series([row[0] for row in COUNTRIES])[country],
            "state": numbered("State", 600),
            "town": numbered("Town", 40_000),
        }
    )
