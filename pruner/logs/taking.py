"""The runs of one log on their way into a fold.

Receives judged runs in the order of the log, hands them on. Rows in an hour that the clocks told twice wait until the log
was read, because its order says which of the two they mean.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from pruner.calls.callsigns import CallsignFolding
from pruner.calls.folding import Folding
from pruner.logs.apart import RowsApart
from pruner.logs.double_hour import seconds_later

if TYPE_CHECKING:
    from pruner.logs.rows import Double, Judged


@dataclass(slots=True)
class Waiting:
    """Rows of a log that wait for its end, and the first and last start of the log."""

    runs: list[Double] = field(default_factory=list)
    first: int | None = None
    last: int = 0

    @property
    def count(self) -> int:
        """How many rows wait."""
        return sum(len(run.start) for run in self.runs)

    def add(self, judged: Judged) -> None:
        """Looks at a run."""
        if judged.double is not None:
            self.runs.append(judged.double)
        if len(judged.calls):
            self.first = int(judged.calls.start[0]) if self.first is None else self.first
            self.last = int(judged.calls.start[-1])


@dataclass(slots=True)
class Taking:
    """One log, `number` in its fold."""

    number: int
    path: Path
    folding: Folding
    callsigns: CallsignFolding
    rows_apart: RowsApart
    waiting: Waiting = field(default_factory=Waiting)
    is_begun: bool = False

    def take(self, line: int, judged: Judged) -> None:
        """Takes a run that begins behind `line` lines of the file."""
        self.is_begun = True
        self.folding.add(self.number, judged.calls)
        if judged.callsigns is not None:
            self.callsigns.add(self.number, judged.callsigns)
        self.rows_apart.write(self.path, line, judged)
        self.waiting.add(judged)

    def finish(self, waiting: Waiting, zone: str) -> None:
        """Takes the rows that waited; `waiting` has seen the log from its beginning."""
        if not waiting.runs:
            return
        start = np.concatenate([run.start for run in waiting.runs])
        later = seconds_later(start, zone, is_ascending=waiting.first is None or waiting.last >= waiting.first)
        ends = np.cumsum([len(run.start) for run in waiting.runs])[:-1]
        for run, seconds in zip(waiting.runs, np.split(later, ends), strict=True):
            calls, named = run.later(seconds)
            self.folding.add(self.number, calls)
            if named is not None:
                self.callsigns.add(self.number, named)
