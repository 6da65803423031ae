"""Invented worlds for tests of expected calls: contacts and the rows that their heard logs would fold to."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
import numpy.typing as npt
import polars as pl

from pruner.calls.alike import Traits
from pruner.calls.strangers import Strangers
from pruner.demo.callers import Overs
from pruner.demo.calls import invented_calls
from pruner.demo.draws import Draws
from pruner.demo.persons import World
from pruner.demo.stations import make_stations
from pruner.demo.world import COUNTRIES
from pruner.place.country import kinds
from pruner.reference import countries
from pruner.rules.contacts import Contacts


@dataclass(frozen=True)
class Invented:
    """Ids, country numbers and kinds of contacts, and rows of a store."""

    number: npt.NDArray[np.uint32]
    country: npt.NDArray[np.uint8]
    kind: npt.NDArray[np.uint8]
    rows: pl.DataFrame

    @property
    def days(self) -> tuple[int, int]:
        numbers = self.rows["day"].to_physical()
        return int(numbers.min()), int(numbers.max())  # type: ignore[arg-type]

    @property
    def strangers(self) -> Strangers:
        return Strangers(Traits(self.number, self.country, self.kind))

    def contacts(self) -> Contacts:
        nothing = np.zeros(len(self.number), dtype=np.uint8)
        return Contacts(self.number, nothing, nothing, self.kind, self.country, texts=None)  # type: ignore[arg-type]


def folded(overs: Overs) -> pl.DataFrame:
    """Rows as the store has them, in the plainest way."""
    time = pl.from_epoch("time")
    return (
        pl.DataFrame({"id": overs.id, "talkgroup": overs.talkgroup, "time": overs.time, "tenths": overs.tenths})
        .group_by(pl.col("id").cast(pl.UInt32), pl.col("talkgroup").cast(pl.UInt32), time.dt.date().alias("day"))
        .agg(
            pl.len().cast(pl.UInt32).alias("calls"),
            (pl.col("tenths").sum() * 100).cast(pl.UInt64).alias("milliseconds"),
            time.min().cast(pl.Datetime("ms")).alias("first"),
            time.max().cast(pl.Datetime("ms")).alias("last"),
        )
        .sort("day", "id", "talkgroup")
    )


@cache
def invented(world: World, stations: int, seed: int, about: int | None = None) -> Invented:
    """A world of so many stations."""
    proper = make_stations(Draws(seed), stations)
    code = np.array([countries.NUMBERS[country.code] for country in COUNTRIES], dtype=np.uint8)
    number = proper.ids.astype(np.uint32)
    rows = folded(invented_calls(proper, seed=seed, world=world, about=about))
    return Invented(number, code[proper.country], kinds(number, "dmr"), rows)
