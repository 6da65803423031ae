"""The contacts as the rules see them: narrow columns, with text fetched only when a rule asks for it."""

from __future__ import annotations

import copy
import math
from dataclasses import dataclass, field
from functools import cached_property
from typing import Protocol

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from pruner.reference import countries, geometry, middles, places
from pruner.reference.routes import Route
from pruner.words import short_texts
from pruner.words.dense import dense_pair

Floats = npt.NDArray[np.float64]


class Calls(Protocol):
    """What heard logs say of the contacts; one entry per contact. `talkgroups` None: on any."""

    def last_heard(self, talkgroups: tuple[int, ...] | None) -> npt.NDArray[np.int64]:
        """Time of the last call in milliseconds since 1970, 0 for never."""

    def calls(self, talkgroups: tuple[int, ...] | None, within_days: int | None) -> npt.NDArray[np.uint32]:
        """Calls in the last days of the log (None: in all of it)."""

    def expected(self, talkgroups: tuple[int, ...] | None) -> npt.NDArray[np.float64]:
        """Calls to expect in the next period."""


class Texts(Protocol):
    """Texts of contacts, read where they are asked for; one entry per contact."""

    def callsigns(self) -> pa.Array:
        """Call signs as they were cleaned, null where there is none."""

    def text(self, column: str) -> pa.DictionaryArray:
        """A text column as it was read, one code per distinct value."""

    def part(self, low: int, high: int) -> Texts:
        """Those of the contacts at the positions `low` to `high`."""


@dataclass
class Contacts:
    """One entry per contact, ordered by system and id.

    `number` uint32, `system`, `source` and `kind` uint8, `country` uint8. `callsign` and `text(column)` give Arrow string
    arrays of the same length and are read from `texts` on first use. `home` is (latitude, longitude) in degrees,
    `home_country` a country number (0: none is named); `calls` is None where there is no heard log.
    """

    number: npt.NDArray[np.uint32]
    system: npt.NDArray[np.uint8]
    source: npt.NDArray[np.uint8]
    kind: npt.NDArray[np.uint8]
    country: npt.NDArray[np.uint8]
    texts: Texts
    home: tuple[float, float] | None = None
    calls: Calls | None = None
    home_country: int = 0
    _texts: dict[str, pa.DictionaryArray] = field(default_factory=dict)
    _metres: dict[Route | None, Floats] = field(default_factory=dict)

    def __len__(self) -> int:
        return len(self.number)

    def with_calls(self, calls: Calls | None) -> Contacts:
        """The same contacts with other calls; what is known of their texts and places stays known."""
        other = copy.copy(self)
        other.calls = calls
        return other

    def with_home(self, home: tuple[float, float] | None, home_country: int) -> Contacts:
        """The same contacts seen from another home, without calls; their texts and places stay known."""
        other = copy.copy(self)
        other.home, other.home_country, other.calls = home, home_country, None
        other._metres = {route: metres for route, metres in self._metres.items() if route is not None}
        for measured in ("distance", "origin"):
            other.__dict__.pop(measured, None)
        return other

    def part(self, low: int, high: int) -> Contacts:
        """The contacts at the positions `low` to `high`, without calls. Their turns are those among all."""
        cut = slice(low, high)
        part = Contacts(
            self.number[cut],
            self.system[cut],
            self.source[cut],
            self.kind[cut],
            self.country[cut],
            self.texts.part(low, high),
            self.home,
            home_country=self.home_country,
            _metres={route: metres[cut] for route, metres in self._metres.items()},
        )
        part.turn = self.turn[cut]
        if self.origin is not None:
            part.distance = self.distance[cut]
        return part

    @cached_property
    def callsign(self) -> pa.Array:
        """Call signs as they were cleaned, null where there is none."""
        return self.texts.callsigns()

    @cached_property
    def callsign_codes(self) -> npt.NDArray[np.int64]:
        """One code per distinct call sign, -1 where there is none."""
        short = short_texts.codes_of(self.callsign)
        return codes(self.callsign.dictionary_encode()) if short is None else short

    def text(self, column: str) -> pa.DictionaryArray:
        """A text column, one code per distinct value."""
        if column not in self._texts:
            self._texts[column] = self.texts.text(column)
        return self._texts[column]

    def metres(self, route: Route | None = None) -> Floats:
        """Distance from a route (None: from home) in whole metres; infinite where the place of a contact is unknown. Not to
        be changed by the caller."""
        if route not in self._metres:
            latitude, longitude, place = self._located
            if route is not None:
                metres = _whole(route.metres(latitude, longitude))
            elif self.home is not None:
                metres = _metres_from(self.home, latitude, longitude)
            else:
                raise ValueError("distances need a home locator or a route")
            self._metres[route] = metres[place]
        return self._metres[route]

    @cached_property
    def distance(self) -> npt.NDArray[np.float64]:
        """Distance from `origin` in whole metres; a contact whose place is unknown is taken to be in the middle of its
        country, and infinitely far where that is unknown too."""
        if self.origin is None:
            raise ValueError("distances need a home locator or country")
        latitude, longitude, inverse = self._located
        towns = _metres_from(self.origin, latitude, longitude)[inverse]
        of_middles = _metres_from(self.origin, *middles.middles().T)
        return np.where(np.isinf(towns), of_middles[self.country], towns)

    @cached_property
    def origin(self) -> tuple[float, float] | None:
        """What distances are measured from where no order is asked for: home, else the middle of the home country."""
        if self.home is not None or not self.home_country:
            return self.home
        latitude, longitude = middles.middles()[self.home_country].tolist()
        return None if math.isnan(latitude) else (latitude, longitude)

    @cached_property
    def turn(self) -> npt.NDArray[np.int64]:
        """Which contact of its country each is, the first by system and id is 0."""
        by_country = np.argsort(self.country, kind="stable")
        begins = np.searchsorted(self.country[by_country], self.country)
        turn = np.empty(len(self), dtype=np.int64)
        turn[by_country] = np.arange(len(self))
        return turn - begins

    @cached_property
    def towns(self) -> npt.NDArray[np.int64]:
        """One code per distinct country, town and state, by their texts; a town that is not named has one in each state."""
        in_country = dense_pair(self.country.astype(np.int64), codes(self.text("town")) + 1)
        return dense_pair(in_country, codes(self.text("state")) + 1)

    @cached_property
    def _located(self) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64], npt.NDArray[np.int64]]:
        """Latitude and longitude (NaN: unknown) of each distinct place, and the place of each contact."""
        town, state = codes(self.text("town")), codes(self.text("state"))
        town_values, state_values = values(self.text("town")), values(self.text("state"))
        first = np.empty(int(self.towns.max(initial=-1)) + 1, dtype=np.int64)
        first[self.towns[::-1]] = np.arange(len(self))[::-1]
        latitude, longitude = places.locate(
            self.country[first].tolist(),
            [town_values[code] if code >= 0 else "" for code in town[first].tolist()],
            [state_values[code] if code >= 0 else "" for code in state[first].tolist()],
        )
        return latitude, longitude, self.towns


def _metres_from(origin: tuple[float, float], latitude: Floats, longitude: Floats) -> Floats:
    return _whole(geometry.distance_metres(*origin, latitude, longitude))


def _whole(metres: Floats) -> Floats:
    """Whole metres; infinite where the place is unknown."""
    return np.where(np.isnan(metres), np.inf, np.round(metres))


def codes(column: pa.DictionaryArray) -> npt.NDArray[np.int64]:
    """The code of each entry, -1 where missing."""
    filled: npt.NDArray[np.int64] = column.indices.fill_null(-1).to_numpy(zero_copy_only=False).astype(np.int64)
    return filled


def values(column: pa.DictionaryArray) -> list[str]:
    """The distinct values of a column, by code."""
    return [str(value) for value in column.dictionary.to_pylist()]


def country_name(number: int) -> str:
    """Display name of a country number, empty for unknown."""
    return countries.NAMES[number]
