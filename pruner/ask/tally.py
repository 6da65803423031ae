"""The tally behind a fit: from it the outcome of any order of the rules and any limit can be told, without the contacts.

Receives what was loaded and a radio, hands on counts and calls: per cell (the rules that a contact meets, and its country)
and, for each order that a rule uses, the cells in that order with the calls in bands. No id, call sign or name is in it.

Why it is exact: whichever way the rules stand, the owner of a contact is the first of the rules that it meets, so counts per
rule are sums over cells. Where a rule takes only its first contacts, walking the cells in its order gives their countries.
Calls are known per cell and band: inside the one band where a rule ends they are shared out evenly. A band holds one
contact, or so few calls that all rules that can end early are together less than `TOLERANCE` of all calls off.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from pruner.job.carried import Carried, read_carried, without_carried
from pruner.job.load import Loaded
from pruner.reference.routes import Route
from pruner.rules.matching import DISTANCE, NEAREST, TURNS, order_of, queue_of
from pruner.settings.models import KeepRule, Radio, Settings
from pruner.words.errors import SettingsError

#: How far the share of calls may be off, as one part of so many: 0.05 percentage points.
TOLERANCE: Final = 2000
#: Sets of rules are numbers with one bit per rule.
MOST_RULES: Final = 62
_LONGEST_RUN: Final = 255

Integers = npt.NDArray[np.int64]
OrderKey = tuple[str, tuple[int, ...] | None, Route | None]


@dataclass(frozen=True, slots=True)
class Cells:
    """What contacts have in common, one entry per cell (int64): `combination` (place in `Tally.combinations`), `country`,
    and how many `contacts`; `calls` is (2, cells): the calls in the window on all talkgroups and on the user's own."""

    combination: Integers
    country: Integers
    contacts: Integers
    calls: Integers


@dataclass(frozen=True, slots=True)
class Line:
    """The contacts of all rules that use one order, first in line first.

    `cell`, `length`: runs of contacts of one cell, of 255 at most; `band_end`: runs up to the end of each band; `row_band`,
    `row_cell`, `row_calls` (2, rows): the calls of each band and cell that has any. All int64.
    """

    cell: Integers
    length: Integers
    band_end: Integers
    row_band: Integers
    row_cell: Integers
    row_calls: Integers


@dataclass(frozen=True, slots=True)
class Tally:
    """`rules` are the keep rules of the radio, `orders` their orders, `line_of` the line that each waits in, `combinations`
    sets of rules (by number); `left_out` and `carried`: contacts that drop rules match, entries that the radio carries,
    `carried_calls` their calls (all, mine) summed up from the first on; `total_calls`: all
    calls in the window, on all talkgroups and on the user's own, also of callers in no directory (None without logs)."""

    rules: list[KeepRule]
    orders: list[str]
    line_of: list[int]
    combinations: list[tuple[int, ...]]
    cells: Cells
    lines: list[Line]
    left_out: int
    carried: int
    carried_calls: list[list[int]]
    total_calls: tuple[int, int] | None


def tally_of(loaded: Loaded, radio: Radio) -> Tally:
    """Counts what any order of the radio's rules needs. Raises SettingsError where counts cannot tell the outcome."""
    rules = loaded.keep_rules(radio)
    settings, contacts = loaded.settings, loaded.contacts
    refuse(settings, radio)
    carried = None
    if radio.carried:
        system, layout = settings.sources[0].system, loaded.layouts.get(radio.name)
        carried = read_carried(radio.carried, radio.carried_columns, system, len(contacts), layout)
    stays = np.ones(len(contacts), dtype=bool)
    for drop in settings.drop:
        stays &= ~loaded.rules.mask(drop)
    gone = without_carried(carried, contacts.number, contacts.system) if carried else np.zeros(len(contacts), dtype=bool)
    left_out = int(np.count_nonzero(~stays & ~gone))
    present = np.flatnonzero(stays & ~gone)
    met = np.zeros(len(present), dtype=np.int64)
    for bit, rule in enumerate(rules):
        met |= loaded.rules.mask(rule)[present].astype(np.int64) << bit
    calls, total = _calls(loaded, present)
    combinations, cell_of, cells = _cells(met, contacts.country[present].astype(np.int64), calls)
    keys = [order_key(loaded, rule, radio) for rule in rules]
    distinct = list(dict.fromkeys(keys))
    steps = 2 * TOLERANCE * (1 + sum(rule.at_most is not None for rule in rules))
    lines = []
    for order, talkgroups, route in distinct:
        users = sum(1 << bit for bit, key in enumerate(keys) if key == (order, talkgroups, route))
        queue = queue_of(contacts, present[(met & users) != 0], order, talkgroups, settings.calls.window_days, route)
        places = np.searchsorted(present, queue)
        lines.append(_line(cell_of[places], calls[:, places], total, steps, len(cells.contacts)))
    return Tally(
        rules=rules,
        orders=[order for order, *_ in keys],
        line_of=[distinct.index(key) for key in keys],
        combinations=combinations,
        cells=cells,
        lines=lines,
        left_out=left_out,
        carried=len(carried.number) if carried else 0,
        carried_calls=_carried_calls(loaded, carried),
        total_calls=total,
    )


def refuse(settings: Settings, radio: Radio) -> None:
    """Raises SettingsError with every reason why counts cannot tell how a radio would be filled."""
    rules = [rule for rule in settings.keep if radio.rules is None or rule.name in radio.rules]
    problems = []
    if radio.memory is not None:
        problems.append(
            f"explore: the limit of radio {radio.name!r} is bytes; how many contacts fit depends on their texts, "
            "which counts do not tell: use pruner fit"
        )
    single = [repr(rule.name) for rule in rules if settings.one_per_callsign(rule)]
    if single:
        problems.append(
            f"explore: one_per_callsign is on for {', '.join(single)}; who bears the same call sign is nothing that counts "
            "tell: use pruner fit, or turn it off to explore"
        )
    if len(rules) > MOST_RULES:
        problems.append(f"explore: radio {radio.name!r} has {len(rules)} keep rules; expected {MOST_RULES} at most")
    if problems:
        raise SettingsError(problems)


def order_key(loaded: Loaded, rule: KeepRule, radio: Radio) -> OrderKey:
    """What decides the order of a rule; rules of the same key wait in the same line."""
    settings = loaded.settings
    order = order_of(loaded.contacts, settings.order(rule, radio))
    if order in ("id", NEAREST, DISTANCE, TURNS):
        return order, None, loaded.routes.get(rule.name) if order == NEAREST else None
    return order, settings.talkgroups_of(rule) or settings.talkgroups.mine or None, None


def _calls(loaded: Loaded, present: Integers) -> tuple[Integers, tuple[int, int] | None]:
    """Calls in the window, on all talkgroups and on the user's own, of the contacts present; and the calls of everybody."""
    calls = np.zeros((2, len(present)), dtype=np.int64)
    if loaded.calls is None:
        return calls, None
    mine, window = loaded.settings.talkgroups.mine, loaded.settings.calls.window_days
    nobody = np.zeros(len(loaded.contacts), dtype=bool)
    told = loaded.calls.coverage(nobody, mine, window)
    calls[0] = loaded.calls.calls(None, window)[present]
    if mine:
        calls[1] = loaded.calls.calls(mine, window)[present]
    return calls, (told.all.calls, told.mine.calls if told.mine else 0)


def _carried_calls(loaded: Loaded, carried: Carried | None) -> list[list[int]]:
    if loaded.calls is None or carried is None:
        return [[0], [0]]
    mine, window = loaded.settings.talkgroups.mine, loaded.settings.calls.window_days
    everywhere = loaded.calls.carried_calls(carried, None, window)
    on_mine = loaded.calls.carried_calls(carried, mine, window) if mine else np.zeros_like(everywhere)
    return [[0, *np.cumsum(calls).tolist()] for calls in (everywhere, on_mine)]


def _cells(met: Integers, country: Integers, calls: Integers) -> tuple[list[tuple[int, ...]], Integers, Cells]:
    sets, combination = np.unique(met, return_inverse=True)
    keys, cell_of = np.unique(combination << 8 | country, return_inverse=True)
    sums = np.zeros((2, len(keys)), dtype=np.int64)
    for row in range(2):
        np.add.at(sums[row], cell_of, calls[row])
    combinations = [tuple(bit for bit in range(MOST_RULES) if rules >> bit & 1) for rules in sets.tolist()]
    return combinations, cell_of, Cells(keys >> 8, keys & 0xFF, np.bincount(cell_of, minlength=len(keys)), sums)


def _line(cell: Integers, calls: Integers, total: tuple[int, int] | None, steps: int, cells: int) -> Line:
    band = band_of(calls, total, steps) if total else np.zeros(len(cell), dtype=np.int64)
    begins = np.ones(len(cell), dtype=bool)
    begins[1:] = (cell[1:] != cell[:-1]) | (band[1:] != band[:-1])
    start = np.flatnonzero(begins)
    whole = np.diff(np.append(start, len(cell)))
    pieces = -(-whole // _LONGEST_RUN)
    length = np.full(int(pieces.sum()), _LONGEST_RUN, dtype=np.int64)
    last = np.cumsum(pieces) - 1
    length[last] = whole - (pieces - 1) * _LONGEST_RUN
    band_end = np.cumsum(np.bincount(np.repeat(band[start], pieces))) if len(cell) else np.zeros(0, dtype=np.int64)
    heard = np.flatnonzero(calls.any(axis=0))
    keys, row = np.unique(band[heard] * cells + cell[heard], return_inverse=True)
    sums = np.zeros((2, len(keys)), dtype=np.int64)
    for part in range(2):
        np.add.at(sums[part], row, calls[part, heard])
    return Line(np.repeat(cell[start], pieces), length, band_end, keys // max(cells, 1), keys % max(cells, 1), sums)


def band_of(calls: Integers, total: tuple[int, int], steps: int) -> Integers:
    """The band of each contact in line, 0 first; `calls` is (2, contacts), `total` the calls of everybody.

    A band holds a single contact, or less than 2 / `steps` of each total.
    """
    begins = np.zeros(calls.shape[1] + 1, dtype=bool)
    for part, all_calls in zip(calls, total, strict=True):
        if all_calls:
            before = np.cumsum(part) - part
            step = before * steps // all_calls
            begins[1:-1] |= step[1:] != step[:-1]
            heavy = np.flatnonzero(part * steps >= all_calls)
            begins[heavy] = begins[heavy + 1] = True
    begins[0] = False
    band: Integers = np.cumsum(begins[:-1])
    return band
