"""Is a larger radio worth it? What the radios of the settings would hold at other limits, until when, and what that names.

Receives what was loaded and how the directory grew, hands on one table. Radios that fill up alike share a queue, which is made
once for all limits.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from typing import Final

import numpy as np

from pruner.account.coverage import Ahead, CallsToCome
from pruner.account.limit_rows import rows_of, why_no_figure, why_no_more, with_gains
from pruner.account.limits import LEVEL, Lasts, LimitGroup, LimitRow, LimitTable
from pruner.account.limits_text import advice
from pruner.history.forecast import Forecast
from pruner.history.growth import Series
from pruner.history.limits import until_when
from pruner.history.wants import Owned, Part, parts_of, wants_of
from pruner.job.choose import Choice, choose, whole_queue
from pruner.job.limits import KNOWN, asked_for, held_at, rooms_of, sizes_of
from pruner.job.load import Loaded
from pruner.settings.models import Radio
from pruner.words.days import date_of
from pruner.words.progress import Progress, silent

_BYTES: Final = "how many bytes the contacts to come take is not known"


def limit_table(
    loaded: Loaded,
    radios: Sequence[Radio],
    series: Series,
    asked: Sequence[int] = (),
    level: float = LEVEL,
    progress: Progress = silent,
) -> LimitTable:
    """The table of some radios of the settings. `series`: how the directory grew; `asked`: more limits (contacts); `level`: the
    probability of the interval of a date."""
    alike: dict[Hashable, list[Radio]] = {}
    for radio in radios:
        alike.setdefault(_filling(loaded, radio), []).append(radio)
    groups: list[LimitGroup] = []
    ahead, found = None, None
    for together in alike.values():
        progress(f"trying limits of {together[0].name}")
        group, ahead, found = _group(loaded, together, series, asked, level)
        groups.append(group)
    return LimitTable(
        period_days=ahead.period_days if ahead else None,
        confidence=ahead.confidence if ahead else None,
        talkgroups=ahead.talkgroups if ahead else None,
        interval=level,
        recorded_until=_date(int(series.day[-1])) if len(series) else None,
        horizon=_date(found.horizon) if found and found.growth else None,
        why_no_dates=found.reason or None if found else None,
        groups=tuple(groups),
    )


def _date(day: int) -> str:
    return date_of(day).isoformat()


def _filling(loaded: Loaded, radio: Radio) -> Hashable:
    """What decides how a radio fills up, whatever its limit."""
    orders = tuple((rule.name, loaded.settings.order(rule, radio)) for rule in loaded.keep_rules(radio))
    return orders, radio.keep_free, radio.carried, radio.layout if radio.carried else None, tuple(radio.carried_columns.items())


def _group(
    loaded: Loaded, radios: Sequence[Radio], series: Series, asked: Sequence[int], level: float
) -> tuple[LimitGroup, CallsToCome | None, Forecast]:
    first = radios[0].model_copy(update={"memory": None})
    sizes = sorted({size for radio in radios for size in sizes_of(radio, asked)})
    rooms, queue = rooms_of(first, sizes), whole_queue(loaded, first)
    ahead = _ahead(loaded, first, rooms)
    wanted, carried = asked_for(queue), len(queue.carried.number) if queue.carried else 0
    wants = wants_of(_parts(queue, wanted), max(len(loaded.contacts), 1))
    found, lasting = until_when(series, wants, rooms, wanted, level)
    own: dict[int, list[str]] = {}
    for radio in radios:
        if radio.memory is None and radio.contacts is not None:
            own.setdefault(radio.contacts, []).append(radio.name)
    rows = rows_of(held_at(loaded, first, queue, sizes, ahead), lasting, own)
    rows += [_in_bytes(loaded, radio, wanted) for radio in radios if radio.memory]
    table = with_gains(rows)
    group = LimitGroup(
        radios=tuple(radio.name for radio in radios),
        rules=tuple(rule.name for rule in queue.rules),
        keep_free=first.keep_free,
        carried=carried,
        wanted=wanted,
        directory=len(loaded.contacts),
        why=why_no_figure(ahead, rows),
        end=why_no_more(ahead, rows, first.keep_free),
        rows=table,
        advice=advice(table, wanted),
    )
    return group, ahead, found


def _parts(queue: Choice, wanted: int) -> list[Part]:
    rules = [Owned(owned, rule.at_most, rule.grows) for rule, owned in zip(queue.rules, queue.ownership.owned, strict=True)]
    carried = [Owned(len(queue.carried.number), grows=False)] if queue.carried else []
    return parts_of([*carried, *rules], wanted)


def _ahead(loaded: Loaded, radio: Radio, rooms: Sequence[int]) -> CallsToCome | None:
    if loaded.calls is None:
        return None
    from pruner.job.to_come import calls_to_come  # for those who have heard logs

    return calls_to_come(loaded, radio, rooms)


def _in_bytes(loaded: Loaded, radio: Radio, wanted: int) -> LimitRow:
    """The row of a radio whose limit is bytes: what it keeps today; how many bytes later contacts take is not known."""
    choice = choose(loaded, radio)
    kept = int(np.count_nonzero(choice.kept)) + (choice.carried.kept if choice.carried else 0)
    there = loaded.contacts.country[choice.kept]
    ahead = _ahead(loaded, radio, ())
    return LimitRow(
        contacts=kept,
        kept=kept,
        countries=len(np.unique(there[KNOWN[there]])),
        to_come=Ahead(share=ahead.share, low=ahead.low, high=ahead.high) if ahead else Ahead(),
        radios=(radio.name,),
        bytes=radio.memory.bytes if radio.memory else None,
        lasts=Lasts(status="full") if kept < wanted else Lasts(status="unknown", why=_BYTES),
    )
