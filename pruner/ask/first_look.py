"""What would happen: settings tried on their sources, with nothing written.

Receives settings, hands on what each radio would hold.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pruner.account.summary import PreviewRow
from pruner.job.choose import choose
from pruner.job.load import load
from pruner.job.preview import FEW, preview_rows
from pruner.job.write import planned
from pruner.layout.model import Layout
from pruner.settings.models import Settings
from pruner.words.progress import Progress, silent


@dataclass(frozen=True, slots=True)
class FirstLook:
    """One radio: `rows` read, `contacts` with an id of their own, `kept` of them, per rule (name, kept), the rule inside
    which the limit would fall, and a few rows of the file to import."""

    radio: str
    rows: int
    contacts: int
    kept: int
    rules: list[tuple[str, int]]
    cut: str | None
    preview: list[PreviewRow]


def first_look(settings: Settings, layout: Layout | None = None, progress: Progress = silent) -> list[FirstLook]:
    """Reads all sources and chooses for every radio; a `layout` counts for all that name none. Raises PrunerError with one line
    per problem."""
    loaded = load(settings, progress)
    if layout is not None:
        loaded.layouts = {**dict.fromkeys((radio.name for radio in settings.radios), layout), **loaded.layouts}
    rows = sum(len(source.number) for source in loaded.sources)
    looks = []
    for radio in settings.radios:
        choice = choose(loaded, radio)
        kept = [(rule.name, number) for rule, number in zip(choice.rules, choice.fit.kept, strict=True)]
        cut = choice.rules[choice.fit.cut[0]].name if choice.fit.cut else None
        total = int(np.count_nonzero(choice.kept)) + (choice.carried.kept if choice.carried else 0)
        shown = preview_rows(loaded, planned(loaded, choice), FEW)
        looks.append(FirstLook(radio.name, rows, len(loaded.contacts), total, kept, cut, shown))
    return looks
