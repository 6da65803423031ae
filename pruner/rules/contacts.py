"""The contacts as the rules see them: narrow columns, with text fetched only when a rule asks for it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Protocol

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from pruner.reference import countries, geometry, places
from pruner.reference.routes import Route

Floats = npt.NDArray[np.float64]


class Calls(Protocol):
    """What heard logs say of the contacts; one entry per contact. `talkgroups` None: on any."""

    def last_heard(self, talkgroups: tuple[int, ...] | None) -> npt.NDArray[np.int64]:
        """Time of the last call in milliseconds since 1970, 0 for never."""

    def calls(self, talkgroups: tuple[int, ...] | None, within_days: int | None) -> npt.NDArray[np.uint32]:
        """Calls in the last days of the log (None: in all of it)."""

    def expected(self, talkgroups: tuple[int, ...] | None) -> npt.NDArray[np.float64]:
        """Calls to expect in the next period."""


@dataclass
class Contacts:
    """One entry per contact, ordered by system and id.

    `number` uint32, `system`, `source` and `kind` uint8, `country` uint8. `callsign` and `text(column)` give Arrow string
    arrays of the same length and are fetched on first use. `home` is (latitude, longitude) in degrees; `calls` is None
    where there is no heard log.
    """

    number: npt.NDArray[np.uint32]
    system: npt.NDArray[np.uint8]
    source: npt.NDArray[np.uint8]
    kind: npt.NDArray[np.uint8]
    country: npt.NDArray[np.uint8]
    fetch_callsign: Callable[[], pa.Array]
    fetch_text: Callable[[str], pa.DictionaryArray]
    home: tuple[float, float] | None = None
    calls: Calls | None = None
    _texts: dict[str, pa.DictionaryArray] = field(default_factory=dict)
    _metres: dict[Route | None, Floats] = field(default_factory=dict)

    def __len__(self) -> int:
        return len(self.number)

    @cached_property
    def callsign(self) -> pa.Array:
        """Call signs as they were cleaned, null where there is none."""
        return self.fetch_callsign()

    @cached_property
    def callsign_codes(self) -> npt.NDArray[np.int64]:
        """One code per distinct call sign, -1 where there is none."""
        return codes(self.callsign.dictionary_encode())

    def text(self, column: str) -> pa.DictionaryArray:
        """A text column, one code per distinct value."""
        if column not in self._texts:
            self._texts[column] = self.fetch_text(column)
        return self._texts[column]

    def metres(self, route: Route | None = None) -> Floats:
        """Distance from a route (None: from home) in whole metres; infinite where the place of a contact is unknown. Not to
        be changed by the caller."""
        if route not in self._metres:
            latitude, longitude, place = self._places
            if route is not None:
                metres = route.metres(latitude, longitude)
            elif self.home is not None:
                metres = geometry.distance_metres(*self.home, latitude, longitude)
            else:
                raise ValueError("distances need a home locator or a route")
            metres = np.round(metres)
            self._metres[route] = np.where(np.isnan(metres), np.inf, metres)[place]
        return self._metres[route]

    def part(self, low: int, high: int) -> Contacts:
        """The contacts at the positions `low` to `high`, without their texts."""
        metres = {route: metres[low:high] for route, metres in self._metres.items()}
        return Contacts(
            self.number[low:high],
            self.system[low:high],
            self.source[low:high],
            self.kind[low:high],
            self.country[low:high],
            _no_text,
            _no_text,
            self.home,
            self.calls,
            _metres=metres,
        )

    @cached_property
    def _places(self) -> tuple[Floats, Floats, npt.NDArray[np.int64]]:
        """Latitude and longitude of each distinct place (NaN where it is not known), and which one is each contact's."""
        town, state = codes(self.text("town")), codes(self.text("state"))
        town_values, state_values = values(self.text("town")), values(self.text("state"))
        key = (self.country.astype(np.int64) << 50) | ((town + 1) << 25) | (state + 1)
        _, first, inverse = np.unique(key, return_index=True, return_inverse=True)
        latitude, longitude = places.locate(
            self.country[first].tolist(),
            [town_values[code] if code >= 0 else "" for code in town[first].tolist()],
            [state_values[code] if code >= 0 else "" for code in state[first].tolist()],
        )
        return latitude, longitude, inverse.reshape(-1)


def _no_text(*_column: str) -> Any:
    raise ValueError("a part of the contacts has no texts")


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
