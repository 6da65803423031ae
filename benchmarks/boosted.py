"""Gradient boosted trees (scikit-learn) that learn from earlier cuts of a log who calls in the next 28 days: a rival for tests.

Every feature that a choice could use is there: the own history; heard elsewhere; another id of the call sign heard; country,
state, town and its distance, place of the id among its state's, kind, and how many of the same country, state and eighth of the
state's ids were heard. What is predicted at a cut is computed from the days before it and the directory of that day.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt
from threadpoolctl import threadpool_limits

from benchmarks.world_calls import Log
from benchmarks.world_people import Floats, Integers, towns
from benchmarks.worlds import LATER_DAYS, World

_NEVER: Final = 1e4
_SHARES: Final = (1 / 12, 1 / 6, 1 / 4, 5 / 12, 0.6)
#: Of contacts that were heard neither before a cut nor after it, about so many are learned from, with a weight to match.
_SILENT_LEARNED: Final = 30_000
#: Trees of a model.
ROUNDS = 120
#: Settings that are tried; the one that covers most on the latest cut, learned from the cuts before it, is taken.
CANDIDATES: Final[tuple[dict[str, Any], ...]] = (
    {"loss": "calls", "learning_rate": 0.08, "max_leaf_nodes": 15, "min_samples_leaf": 60, "l2_regularization": 2.0},
    {"loss": "calls", "learning_rate": 0.05, "max_leaf_nodes": 31, "min_samples_leaf": 200, "l2_regularization": 10.0},
    {"loss": "heard", "learning_rate": 0.08, "max_leaf_nodes": 15, "min_samples_leaf": 60, "l2_regularization": 2.0},
    {"loss": "heard", "learning_rate": 0.05, "max_leaf_nodes": 31, "min_samples_leaf": 200, "l2_regularization": 10.0},
)


def calls_per_row(world: World, log: Log) -> Integers:
    """Calls of each row of the directory."""
    return np.bincount(np.searchsorted(world.directory.id, log.id), minlength=len(world.directory))


def _history(world: World, log: Log, cut: int) -> tuple[Floats, Floats, Floats, Floats, Floats, Floats, Floats]:
    """Per row: calls a day, days with calls, calls in the last 7, 28 and 90 days, days since the last and the first call."""
    place, day, rows = np.searchsorted(world.directory.id, log.id), log.day, len(world.directory)
    last, first = np.full(rows, -_NEVER), np.full(rows, -_NEVER)
    np.maximum.at(last, place, day)
    first[place[::-1]] = day[::-1]
    pair = np.unique(place * 1_000 + day)
    days = np.bincount(pair // 1_000, minlength=rows)
    recent = [np.bincount(place[day >= cut - length], minlength=rows) for length in (7, 28, 90)]
    total = np.bincount(place, minlength=rows)
    return (total / cut, days / cut, *recent, cut - last, cut - first)  # type: ignore[return-value]


def features(world: World, cut: int) -> tuple[Floats, Integers]:
    """Features [rows, features] of the rows listed at a cut, and the rows. Column 0: calls a day on what counts."""
    directory, rows = world.directory, world.listed(cut)
    calls, mine = world.calls(0, cut, mine=False), world.calls(0, cut)
    own = _history(world, mine, cut)
    elsewhere = _history(world, calls.part(~np.isin(calls.talkgroup, world.mine)), cut)
    columns = [column[rows] for column in (*own, *elsewhere)]
    for history in (own, elsewhere):
        columns += [column[rows] for column in _other_ids(directory.person, history[0], history[5])]
    known = towns()
    town, state, country = directory.town[rows], directory.state[rows], directory.country[rows]
    columns += [country, state - known.first[country], known.latitude[town], known.longitude[town], _kilometres(world, town)]
    columns.append(directory.repeater[rows])
    heard, lately = own[0][rows] > 0, (own[6][rows] <= 3 * LATER_DAYS) & (own[0][rows] > 0)
    for group in (country, state):
        position, share = _positions(group * 2 + directory.repeater[rows])
        eighth = group * 8 + np.minimum((position * 8).astype(np.int64), 7)
        columns += [position, share]
        for cells in (group, eighth):
            size = np.bincount(cells)[cells]
            columns += [
                (np.bincount(cells, weights=one.astype(np.float64))[cells] - one) / np.maximum(size, 1)
                for one in (heard, lately)
            ]
    return np.stack([np.asarray(column, dtype=np.float64) for column in columns], axis=1), rows


def _kilometres(world: World, town: Integers) -> Floats:
    known, here = towns(), np.radians(world.home)
    north, east = np.radians(known.latitude[town]), np.radians(known.longitude[town])
    cosine = np.sin(here[0]) * np.sin(north) + np.cos(here[0]) * np.cos(north) * np.cos(east - here[1])
    return np.asarray(6371.0 * np.arccos(np.clip(cosine, -1, 1)))


def _other_ids(person: Integers, calls: Floats, since: Floats) -> tuple[Floats, Floats]:
    """Of the other ids of the same owner: calls a day, days since the last call."""
    total = np.bincount(person, weights=calls, minlength=len(person))[person] - calls
    order = np.lexsort((since, person))
    starts = np.flatnonzero(np.r_[True, np.diff(person[order]) > 0])
    size = np.diff(np.r_[starts, len(order)])
    nearest, second = since[order][starts], since[order][np.minimum(starts + 1, len(order) - 1)]
    second = np.where(size > 1, second, 2 * _NEVER)
    group = np.repeat(np.arange(len(starts)), size)
    other = np.empty(len(person))
    other[order] = np.where(np.arange(len(order)) == starts[group], second[group], nearest[group])
    return total, other


def _positions(group: Integers) -> tuple[Floats, Floats]:
    """Of rows that stand by id: the place among their group's from 0 to 1, and how many come after."""
    order = np.argsort(group, kind="stable")
    starts = np.flatnonzero(np.r_[True, np.diff(group[order]) > 0])
    size = np.diff(np.r_[starts, len(order)])
    place = np.arange(len(order)) - np.repeat(starts, size)
    position, after = np.empty(len(group)), np.empty(len(group))
    position[order], after[order] = place / np.repeat(size, size), np.repeat(size, size) - place
    return position, after


@dataclass(frozen=True, slots=True)
class _Sample:
    features: Floats
    calls: Integers
    weight: Floats


def _sample(random: np.random.Generator, world: World, cuts: list[int]) -> _Sample:
    parts = []
    for cut in cuts:
        table, rows = features(world, cut)
        calls = calls_per_row(world, world.calls(cut, cut + LATER_DAYS))[rows]
        silent = (calls == 0) & (table[:, 0] == 0)
        share = min(1.0, _SILENT_LEARNED / max(int(silent.sum()), 1))
        taken = ~silent | (random.random(len(rows)) < share)
        weight = np.where(silent, 1 / share, 1.0)
        parts.append((table[taken], calls[taken], weight[taken]))
    return _Sample(*(np.concatenate(column) for column in zip(*parts, strict=True)))


class _Trees:
    """One model for the heard and one for strangers, both in calls to expect."""

    def __init__(self, sample: _Sample, settings: dict[str, Any]) -> None:
        # Loading scikit-learn takes seconds, which most who import this module do not need.
        from sklearn.ensemble import HistGradientBoostingClassifier, HistGradientBoostingRegressor

        settings = dict(settings)
        self._loss = settings.pop("loss")
        self._models = []
        for heard in (True, False):
            rows = (sample.features[:, 0] > 0) == heard
            table, calls, weight = sample.features[rows], sample.calls[rows], sample.weight[rows]
            common = {**settings, "max_iter": ROUNDS, "random_state": 1, "early_stopping": False}
            positive = calls > 0
            if self._loss == "heard" and not heard and positive.any() and not positive.all():
                model: Any = HistGradientBoostingClassifier(**common).fit(table, positive, sample_weight=weight)
                self._models.append((model, float(calls[positive].mean())))
            else:
                most = np.quantile(calls[positive], 0.98) if positive.any() else 1
                model = HistGradientBoostingRegressor(loss="poisson", **common)
                model.fit(table, np.minimum(calls, most) + (0 if positive.any() else 1e-6), sample_weight=weight)
                self._models.append((model, None))

    def expected(self, table: Floats) -> Floats:
        """Calls to expect of each row."""
        found, heard = np.zeros(len(table)), table[:, 0] > 0
        for rows, (model, calls) in zip((heard, ~heard), self._models, strict=True):
            if rows.any():
                part = table[rows]
                found[rows] = model.predict(part) if calls is None else calls * model.predict_proba(part)[:, 1]
        return found


def covered(order: Integers, calls: npt.NDArray[Any], limits: list[int]) -> list[float]:
    """Share of all calls that the first of an order bear, for each limit. `calls`: of each row, and of nobody listed last."""
    reached = np.cumsum(calls[order])
    return [float(reached[min(limit, len(order)) - 1] / max(calls.sum(), 1)) for limit in limits]


def trees_order(world: World, seed: int = 1) -> Integers:
    """The rows of the directory at the end of the log, best first, by trees learned from up to three cuts before it."""
    with threadpool_limits(1):  # on a busy machine the library's threads wait for each other
        return _trees_order(world, seed)


def _trees_order(world: World, seed: int) -> Integers:
    random = np.random.default_rng(seed)
    cuts = [cut for cut in (world.days - LATER_DAYS * back for back in (1, 2, 3)) if cut >= LATER_DAYS]
    table, rows = features(world, cuts[0])
    calls = calls_per_row(world, world.calls(cuts[0], cuts[0] + LATER_DAYS))[rows]
    limits = [max(int(len(rows) * share), 1) for share in _SHARES]
    best = CANDIDATES[0]
    if len(cuts) > 1:
        sample = _sample(random, world, cuts[1:])
        scores = []
        for settings in CANDIDATES:
            order = np.argsort(-_Trees(sample, settings).expected(table), kind="stable")
            scores.append(float(np.mean(covered(order, calls, limits))))
        best = CANDIDATES[int(np.argmax(scores))]
    model = _Trees(_sample(random, world, cuts), best)
    table, rows = features(world, world.days)
    return rows[np.argsort(-model.expected(table), kind="stable")]
