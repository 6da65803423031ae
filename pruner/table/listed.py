"""What a list in a rule names: ids, call signs, and patterns of both.

Receives nothing; read by `read.station_list`, applied by `rules.matching`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from pruner.account.parts import Understood
from pruner.table.understanding import Understanding


@dataclass(frozen=True, slots=True)
class Listed:
    """`ids`: uint32, sorted, distinct; `callsigns` as contacts have them after cleaning; `patterns` of call signs with `*` and
    `?`; `ranges`: first and last id of each, both included; `understanding`: of a table, None for a plain list; `unusable`: how
    many rows name nobody, and `first_unusable`: one of them, "" where there is none; `doubt`: what speaks against it, in
    words."""

    ids: npt.NDArray[np.uint32]
    callsigns: frozenset[str]
    patterns: tuple[str, ...] = ()
    ranges: tuple[tuple[int, int], ...] = ()
    understanding: Understanding | None = None
    unusable: int = 0
    first_unusable: str = ""
    entries: int = field(default=0)
    doubt: str = ""

    def sentence(self) -> str:
        """What was understood, in one line."""
        if not self.entries and not self.unusable:
            return "no stations: the list is empty, or holds comments only"
        said = self.understanding.sentence() if self.understanding else "one or more stations a line"
        bad = f"; {self.unusable:,} rows name nobody (the first: {self.first_unusable})" if self.unusable else ""
        doubt = f"; {self.doubt}" if self.doubt else ""
        return f"{self.entries:,} stations; {said}{bad}{doubt}"

    def told(self, file: str, rules: Sequence[str]) -> Understood:
        """For the summary; `rules` name the list. A plain list has no columns."""
        known = self.understanding.told(file) if self.understanding else Understood(file=file, sentence="")
        return known.model_copy(update={"sentence": self.sentence(), "rules": tuple(rules)})
