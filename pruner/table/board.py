"""All columns of a sample side by side: what one column says of another.

Receives headings and cells, hands on facts, senses and how well ids agree with call signs and countries.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from typing import Final

from pruner.reference import callsigns
from pruner.reference.callsign import clean_callsign
from pruner.table.facts import Facts, call_and_name
from pruner.table.headings import Sense, sense_of

#: So many cells of a column must be call signs, or countries, for it to speak for or against ids.
_MOST: Final = 0.6
#: Countries that agree in no more rows than this contradict each other.
HARDLY: Final = 0.3
#: With fewer rows whose country is known twice, agreement says nothing.
ENOUGH_ROWS: Final = 3
_ID_CLASSES: Final = frozenset({"id", "station", "caller"})


class Board:
    """The columns of one way to cut a table. `headings` is None where there is no heading line; `system` is dmr, nxdn or
    p25."""

    def __init__(self, headings: Sequence[str] | None, rows: Sequence[Sequence[str]], system: str) -> None:
        self.has_headings = headings is not None
        width = max(len(headings or ()), max(map(len, rows), default=0))
        self.headings = [*(headings or ()), *[""] * (width - len(headings or ()))]
        self.rows = len(rows)
        self.system = system
        self.columns = [
            Facts([row[place] if place < len(row) else "" for row in rows], self.headings[place]) for place in range(width)
        ]

    @cached_property
    def senses(self) -> list[Sense]:
        """What each heading can mean."""
        return [sense_of(heading) for heading in self.headings]

    @cached_property
    def _known_countries(self) -> list[set[int]]:
        """Per row the countries of its call sign and of its text."""
        known: list[set[int]] = [set() for _ in range(self.rows)]
        for place in (self._best("callsign"), self._best("country")):
            if place is None:
                continue
            column = self.columns[place]
            calls = column.countries_of_calls if column.is_callsign >= _MOST else column.countries_of_texts
            for row, country in enumerate(calls):
                known[row] |= {country} - {0}
        if not any(known) and (place := self._named_calls()) is not None:
            calls = [callsigns.country_of(clean_callsign(call_and_name(cell)[0])) for cell in self.columns[place].cells]
            return [{country} - {0} for country in calls]
        return known

    def _best(self, words: str) -> int | None:
        """The column of call signs or countries that speaks for or against ids: by its cells, with its heading.

        A column whose heading and cells agree is better than any without heading; only then the others are not looked at.
        """
        headed = {place: self.senses[place].weight(((words, 1.0),)) for place in range(len(self.columns))}
        best: tuple[float, int] | None = None
        for place in sorted(headed, key=lambda place: (-headed[place], place)):
            if best and -best[0] > 1.0 + headed[place] * 0.5:
                break
            column = self.columns[place]
            share = column.is_callsign if words == "callsign" else column.names_countries
            if column.filled and share >= _MOST:
                found = (-(share + headed[place] * 0.5), place)
                best = min(best, found) if best else found
        return best[1] if best else None

    def _named_calls(self) -> int | None:
        """The column whose cells hold a call sign and a name."""
        for place, column in enumerate(self.columns):
            if column.filled >= ENOUGH_ROWS and column.share_of_texts(lambda cell: bool(call_and_name(cell)[0])) >= _MOST:
                return place
        return None

    def agreement(self, place: int) -> tuple[float, int]:
        """The share of rows whose id, in the column at `place`, has the country of their call sign or text; and how many rows
        tell. Ids with an unknown country code tell nothing."""
        return _agreement(self.columns[place].countries_of_ids, self._known_countries)

    def agreement_with_calls(self, place: int) -> tuple[float, int]:
        """The same of call signs alone."""
        calls = self._best("callsign")
        if calls is not None:
            known = self.columns[calls].countries_of_calls
        elif (named := self._named_calls()) is not None:
            known = [callsigns.country_of(clean_callsign(call_and_name(cell)[0])) for cell in self.columns[named].cells]
        else:
            return 0.0, 0
        return _agreement(self.columns[place].countries_of_ids, [{country} - {0} for country in known])

    def has_foreign_ids(self, place: int) -> bool:
        """Whether the ids of a column hardly ever have the country of their call sign or text."""
        agreement, rows = self.agreement(place)
        return rows >= ENOUGH_ROWS and agreement <= HARDLY

    def disagrees(self, place: int) -> bool:
        """Whether the countries that a column names are hardly ever those of the call signs in their rows."""
        calls = self._best("callsign")
        if calls is None:
            return False
        pairs = [
            pair
            for pair in zip(self.columns[place].countries_of_texts, self.columns[calls].countries_of_calls, strict=True)
            if all(pair)
        ]
        return len(pairs) >= ENOUGH_ROWS and sum(one == other for one, other in pairs) <= HARDLY * len(pairs)

    def has_other_ids(self, place: int) -> bool:
        """Whether another column than the one at `place` is headed as ids or stations and holds what can be ids."""
        return any(
            other != place and self.senses[other].classes.keys() & _ID_CLASSES and column.legal_share >= _MOST
            for other, column in enumerate(self.columns)
        )


def _agreement(ids: Sequence[int], known: Sequence[set[int]]) -> tuple[float, int]:
    pairs = [(country, others) for country, others in zip(ids, known, strict=True) if country and others]
    return sum(country in others for country, others in pairs) / max(len(pairs), 1), len(pairs)
