"""What the models of expected calls take for a large directory and a year of log, in processor seconds.

    python -m benchmarks.models [--contacts 330000] [--rows 6000000] [--heard 0.5] [--times 3] [--profile]

The calls are invented at random: some of the contacts (`--heard`) call, each on about as many days as a gamma distribution
says, about twice a day; on talkgroups that do not count another such part does. No file is read: what is measured are
the models alone, from the store's rows by id and day to the calls to expect of every contact. A fingerprint of the result is
printed too: two states that are to expect the same are compared by it.
"""

from __future__ import annotations

import argparse
import hashlib
import time
from dataclasses import dataclass

import numpy as np
import polars as pl

from pruner.calls.alike import Traits
from pruner.calls.expected import Expected, expected_calls
from pruner.calls.stations import calling_days
from pruner.calls.strangers import Strangers

DAYS = 365
LAST_DAY = 20_000
PERIOD = 28
_SHAPE = 0.5


@dataclass(frozen=True)
class Case:
    """Contacts and the rows of a store, on the talkgroups that count and on the others."""

    traits: Traits
    rows: pl.DataFrame
    others: pl.DataFrame


def _rows(random: np.random.Generator, ids: np.ndarray[tuple[int], np.dtype[np.uint32]], count: int) -> pl.DataFrame:
    """About so many rows of a store, by day, id and talkgroup."""
    rate = random.gamma(_SHAPE, size=len(ids))
    who = ids[np.searchsorted(np.cumsum(rate), random.random(count) * rate.sum())]
    frame = pl.DataFrame(
        {
            "id": who,
            "talkgroup": random.integers(1, 4, count).astype(np.uint32),
            "day": (LAST_DAY - random.integers(0, DAYS, count)).astype(np.int32),
            "calls": random.geometric(0.476, count).astype(np.uint32),
        }
    )
    return frame.with_columns(pl.col("day").cast(pl.Date)).sort("day", "id", "talkgroup")


def make_case(contacts: int, rows: int, share: float, seed: int = 1) -> Case:
    """The same case for the same arguments."""
    random = np.random.default_rng(seed)
    number = np.sort(random.choice(np.arange(2_000_000, 8_000_000, dtype=np.uint32), contacts, replace=False))
    country = (number // 60_000 % 100).astype(np.uint8)
    traits = Traits(
        number,
        country,
        (random.random(contacts) < 0.03).astype(np.uint8),
        random.integers(-1, 9, contacts) + country.astype(np.int64) * 10,
        random.integers(-1, 10, contacts),
        random.integers(0, contacts * 9 // 10, contacts),
        random.integers(-1, contacts // 30, contacts),
    )
    heard = random.random(contacts) < share
    elsewhere = random.random(contacts) < share
    return Case(traits, _rows(random, number[heard], rows // 2), _rows(random, number[elsewhere], rows - rows // 2))


def expected_of(case: Case) -> Expected:
    """As `job.contact_calls` asks for them."""
    elsewhere = calling_days(case.others, LAST_DAY)
    return expected_calls(case.rows, Strangers(case.traits, elsewhere), last_day=LAST_DAY, period_days=PERIOD)


def main() -> None:
    """Measures and prints."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--contacts", type=int, default=330_000)
    parser.add_argument("--rows", type=int, default=6_000_000)
    parser.add_argument("--heard", type=float, default=0.5)
    parser.add_argument("--times", type=int, default=3)
    parser.add_argument("--profile", action="store_true")
    asked = parser.parse_args()
    case = make_case(asked.contacts, asked.rows, asked.heard)
    calls = int(case.rows["calls"].sum()) + int(case.others["calls"].sum())
    print(f"{asked.contacts:,} contacts, {calls:,} calls in {len(case.rows) + len(case.others):,} rows")
    if asked.profile:
        import cProfile
        import pstats

        with cProfile.Profile() as profile:
            expected_of(case)
        pstats.Stats(profile).sort_stats("tottime").print_stats(35)
        return
    for _ in range(asked.times):
        began = time.process_time()
        found = expected_of(Case(Traits(*_columns(case.traits)), case.rows, case.others))
        print(f"{time.process_time() - began:.2f} processor seconds, {hashlib.sha256(found.calls.tobytes()).hexdigest()[:16]}")


def _columns(traits: Traits) -> tuple[object, ...]:
    """So that nothing is remembered from one time to the next."""
    return traits.number, traits.country, traits.kind, traits.state, traits.band, traits.person, traits.town


if __name__ == "__main__":
    main()
