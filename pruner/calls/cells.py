"""In which cells contacts lie on the evening of a day, by which their rates are told.

Receives what is known of the contacts and who was heard when; hands on the cells of any contacts, and the runs of contacts that
lie in the same cells because nothing was heard of them. So what all contacts ask for is looked up once per run.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from pruner.calls.alike import Groups, Integers, Traits
from pruner.calls.stations import CallingDays, heard_by
from pruner.words.dense import dense

Mask = npt.NDArray[np.bool_]
#: Bounds of days since a call elsewhere, and of calls elsewhere.
_LATELY: Final = (28, 90)
_OFTEN: Final = (5, 30)
#: Into how many equal parts the ids of a country or state are cut, and into how many bands towards the newest: its older half,
#: half of the rest, and so on.
PARTS: Final = 8
NEWEST: Final = 2 ** np.arange(1, 8)
#: How many strata, bands of distance and ways of being heard elsewhere there are room for.
STRATA: Final = 32
BANDS: Final = 16
_IN_COUNTRY: Final = 12
#: Ways of being heard elsewhere by how lately alone, with never.
_LATELY_CELLS: Final = len(_LATELY) + 2
#: The highest id heard says which ids there were where so many of the country and kind were heard.
_FEWEST_HEARD: Final = 20


def sizes_of(traits: Traits) -> dict[str, int]:
    """How many cells each partition of `Day.cells` has."""
    own = traits.count
    ages = {"age in country": own["country"] * PARTS, "age in state": own["state"] * PARTS, "newest": len(NEWEST) + 1}
    ages["newest by elsewhere"] = ages["newest"] * _LATELY_CELLS
    return {"stratum": STRATA, "stratum in country": own["country"] * _IN_COUNTRY, **own, **ages}


@dataclass(frozen=True, slots=True)
class Day:
    """The evening of a day. Per contact: `elsewhere` (0 for those not heard elsewhere, else 1 to 9 by how often and how lately)
    and `other_id` (0: no other id of the call sign was heard, 1: elsewhere only, 2: on the talkgroups that count), both int64.
    Per cell of `country`: the `highest` position in it that stood in the directory by then, as far as the ids heard tell.
    `size`: per cell of `country` and `state`, how many contacts stood there, at least 1."""

    traits: Traits
    elsewhere: Integers
    other_id: Integers
    highest: Integers
    size: dict[str, Integers]

    @property
    def stratum(self) -> Integers:
        """The cell of each contact in the partition of that name."""
        return self.elsewhere * 3 + self.other_id

    def stood(self, which: Integers) -> Mask:
        """Which of some contacts (positions) stood in the directory."""
        country = self.traits.fixed["country"][which]
        return self.traits.positions["country"][which] <= self.highest[country]

    def cells(self, which: Integers, *, unheard: bool = False) -> dict[str, Integers]:
        """The cell of some contacts (positions) in every partition; `unheard`: as if nothing were heard of them."""
        heard = (self.elsewhere, self.other_id)
        elsewhere, other_id = (np.zeros(len(which), dtype=np.int64) if unheard else one[which] for one in heard)
        fixed = {name: cell[which] for name, cell in self.traits.fixed.items()}
        cells = {
            "stratum": elsewhere * 3 + other_id,
            "stratum in country": fixed["country"] * _IN_COUNTRY + np.minimum(elsewhere, 3) * 3 + other_id,
            **fixed,
        }
        for name in ("country", "state"):
            group, position = fixed[name], self.traits.positions[name][which]
            size = self.size[name][group]
            cells[f"age in {name}"] = group * PARTS + np.minimum(position * PARTS // size, PARTS - 1)
        # Of the state, which is the last of both.
        cells["newest"] = np.searchsorted(NEWEST, size // np.maximum(size - position, 1), side="right")
        lately = (elsewhere + len(_OFTEN)) // (len(_OFTEN) + 1)
        cells["newest by elsewhere"] = cells["newest"] * _LATELY_CELLS + lately
        return cells

    def runs(self, groups: Groups) -> Integers:
        """Where in the order of `groups` the runs of contacts begin that lie in the same cells as long as nothing is heard of
        them, and of which either all stood in the directory or none did."""
        bounds = self._bounds()
        state = self.traits.fixed["state"][groups.order[groups.begin[:-1]]]
        group = np.arange(len(state))
        inside = groups.found(np.repeat(group, bounds.shape[1]), bounds[state].reshape(-1))
        return np.unique(np.concatenate([groups.begin[:-1], inside[inside < len(groups.order)]]))

    def _bounds(self) -> Integers:
        """Positions in the country from which on a contact of a state (rows) may lie in other cells than those before it."""
        states, size = self.traits.states, self.size
        country = self.traits.fixed["country"][states.order[states.begin[:-1]]]
        parts = np.arange(1, PARTS)
        of_country = -(-parts * size["country"][country][:, None] // PARTS)
        of_state = -(-parts * size["state"][:, None] // PARTS)
        newest = size["state"][:, None] // NEWEST
        newest = np.where(newest > 0, size["state"][:, None] - newest, len(states.order))
        place = states.begin[:-1, None] + np.concatenate([of_state, newest], axis=1)
        there = place < states.begin[1:, None]
        position = self.traits.positions["country"][states.order[np.where(there, place, 0)]]
        in_state = np.where(there, position, len(states.order))
        return np.concatenate([of_country, self.highest[country][:, None] + 1, in_state], axis=1)


def day_of(traits: Traits, first: Integers, elsewhere: CallingDays | None, day: int) -> Day:
    """What was known on the evening of a day. `first`: the day on which each contact was first heard on the talkgroups that
    count (later than `day` where never); `elsewhere`: calls on the others, None where all count."""
    called = _elsewhere(traits, elsewhere, day)
    heard = np.flatnonzero((first <= day) | (called > 0))
    country, position = traits.fixed["country"], traits.positions["country"]
    highest = np.full(traits.count["country"], -1, dtype=np.int64)
    np.maximum.at(highest, country[heard], position[heard])
    some = np.bincount(country[heard], minlength=len(highest)) >= _FEWEST_HEARD
    highest[~some] = len(first)
    states = traits.states
    of_state = country[states.order[states.begin[:-1]]]
    stood = states.found(np.arange(len(of_state)), highest[of_state] + 1) - states.begin[:-1]
    size = {"country": np.minimum(highest + 1, np.bincount(country)), "state": stood}
    return Day(traits, called, _other_id(traits, first <= day, called), highest, {k: np.maximum(v, 1) for k, v in size.items()})


def _elsewhere(traits: Traits, days: CallingDays | None, day: int) -> Integers:
    """0 for contacts not heard elsewhere, else 1 to 9 by how often and how lately."""
    called = np.zeros(len(traits.number), dtype=np.int64)
    if days is None:
        return called
    ids, last, calls = heard_by(days, day)
    lately = np.searchsorted(_LATELY, day - last, side="left")
    often = len(_OFTEN) - np.searchsorted(_OFTEN, calls, side="left")
    place, known = traits.found(ids)
    called[place[known]] = (1 + lately * (len(_OFTEN) + 1) + often)[known]
    return called


def _other_id(traits: Traits, counted: Mask, elsewhere: Integers) -> Integers:
    """0: no other id of the call sign was heard, 1: elsewhere only, 2: on the talkgroups that count (`counted`)."""
    found = np.zeros(len(counted), dtype=np.int64)
    which = traits.namesakes
    if traits.person is None or not len(which):
        return found
    person = dense(traits.person[which])
    own = np.where(counted[which], 2, np.where(elsewhere[which] > 0, 1, 0))
    of_person = [np.bincount(person, weights=own >= least) for least in (1, 2)]
    anywhere, there = (total[person] - (own >= least) > 0 for least, total in enumerate(of_person, 1))
    found[which] = np.where(there, 2, anywhere)
    return found
