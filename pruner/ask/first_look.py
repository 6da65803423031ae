"""What would happen: settings tried on their sources, with nothing written.

Receives settings, hands on what each radio would hold.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pruner.job.choose import choose
from pruner.job.load import load
from pruner.settings.models import Settings
from pruner.words.progress import Progress, silent


@dataclass(frozen=True, slots=True)
class FirstLook:
    """One radio: `rows` read, `contacts` with an id of their own, `kept` of them, per rule (name, kept), and the rule inside
    which the limit would fall."""

    radio: str
    rows: int
    contacts: int
    kept: int
    rules: list[tuple[str, int]]
    cut: str | None


def first_look(settings: Settings, progress: Progress = silent) -> list[FirstLook]:
    """Reads all sources and chooses for every radio. Raises PrunerError with one line per problem."""
    loaded = load(settings, progress)
    rows = sum(len(source.number) for source in loaded.sources)
    looks = []
    for radio in settings.radios:
        choice = choose(loaded, radio)
        kept = [(rule.name, number) for rule, number in zip(choice.rules, choice.fit.kept, strict=True)]
        cut = choice.rules[choice.fit.cut[0]].name if choice.fit.cut else None
        total = int(np.count_nonzero(choice.kept)) + (choice.carried.kept if choice.carried else 0)
        looks.append(FirstLook(radio.name, rows, len(loaded.contacts), total, kept, cut))
    return looks
