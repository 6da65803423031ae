"""A radio whose limit is bytes: who is kept and with how much text.

Receives a queue without end, hands on the fit under the bytes, the level of each contact and what the summary says of it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import polars as pl

from pruner.account.summary import MemoryUse, Worth
from pruner.choose.by_number import Fit
from pruner.choose.knapsack import Choice, worth_of
from pruner.choose.levels import best_coverage, level_per_rule, one_level
from pruner.choose.memory import MemoryModel, TextField, count_units, largest_prefix, level_sizes, total_bytes
from pruner.job.carried import Carried
from pruner.job.load import Loaded
from pruner.job.texts import Coded, WrittenColumns, written_columns
from pruner.settings.memory_models import Level, Memory
from pruner.settings.models import Radio
from pruner.words import schema
from pruner.words.frames import array_of, series_of
from pruner.words.outcomes import Reason

Integers = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class InMemory:
    """`level`: int8 per contact, -1 where it is not kept; `carried`: with as many entries kept as the bytes allow; `told`: for
    the summary."""

    fit: Fit
    carried: Carried | None
    level: npt.NDArray[np.int8]
    told: MemoryUse


@dataclass(frozen=True, slots=True)
class _Queue:
    """Carried entries and contacts in one: `sizes` int64 [records, levels], `line` positions with the first in line first,
    `number` the ids by which records are laid out, `rules` the line cut by rule."""

    sizes: Integers
    line: Integers
    number: npt.NDArray[np.uint32]
    rules: list[Integers]
    carried: int


def fit_memory(loaded: Loaded, radio: Radio, endless: Fit, rule: npt.NDArray[np.int16], carried: Carried | None) -> InMemory:
    """Keeps what the bytes allow. `endless` is the fit without a limit: its ranks are the queue; `rule` owns each contact."""
    memory = radio.memory
    if memory is None:
        raise ValueError("the radio has no memory table")
    model = model_of(memory)
    levels = radio.levels or (Level(name="everything", fields=tuple(field.name for field in memory.fields)),)
    queue = _queue(loaded, model, levels, endless, rule, carried)
    room = memory.bytes - radio.keep_free * (_largest_record(memory) + memory.index)
    records = None if radio.contacts is None else max(radio.contacts - radio.keep_free, 0)
    bound = None
    if radio.aim == "coverage":
        choice = _best_coverage(model, _worth(loaded, [level.worth for level in levels]), queue, room, records)
        level = choice.level
        bound = Worth(value=round(choice.value, 6), upper_bound=round(choice.upper_bound, 6), gap=choice.gap)
    elif radio.detail == "per rule":
        level = level_per_rule(model, queue.sizes, queue.rules, queue.number, room, records).level
    else:
        level = one_level(model, queue.sizes, queue.line, queue.number, room, records).level
    used = _used(model, queue, level)
    told = MemoryUse(
        bytes=memory.bytes,
        used=used,
        free=memory.bytes - used,
        levels={one.name: int(np.count_nonzero(level == index)) for index, one in enumerate(levels)},
        aim=radio.aim,
        expected_calls=bound,
    )
    if carried is not None:
        carried = replace(carried, kept=int(np.count_nonzero(level[: queue.carried] >= 0)))
    level = level[queue.carried :]
    fit = _as_fit(endless, level, rule)
    return InMemory(replace(fit, cut=None) if radio.aim == "coverage" else fit, carried, level, told)


def model_of(memory: Memory) -> MemoryModel:
    """The settings' table as the model that counts bytes."""
    fields = tuple(TextField(f.name, f.form, f.characters, f.bits, f.prefix or 1) for f in memory.fields)
    return MemoryModel(fields, memory.header, memory.record, memory.index, memory.page)


def level_fields(radio: Radio) -> list[frozenset[str]]:
    """The texts that each level of a radio stores; without levels one that stores all."""
    return [frozenset(level.fields) for level in radio.levels] or [frozenset(schema.MEANINGS)]


def _queue(
    loaded: Loaded,
    model: MemoryModel,
    levels: tuple[Level, ...],
    endless: Fit,
    rule: npt.NDArray[np.int16],
    carried: Carried | None,
) -> _Queue:
    contacts = loaded.contacts
    ranked = np.flatnonzero(endless.rank)
    first = 0 if carried is None else carried.kept
    columns, _ = written_columns(loaded.sources, loaded.records[ranked], contacts.number[ranked], contacts.country[ranked])
    units = {field.name: _units(columns, field) for field in model.fields}
    fields = [level.fields for level in levels]
    sizes = np.zeros((first + len(contacts), len(levels)), dtype=np.int64)
    sizes[first + ranked] = level_sizes(model, units, fields, len(ranked))
    number = contacts.number
    line = ranked[np.argsort(endless.rank[ranked], kind="stable")]
    rules = [first + line[rule[line] == index] for index in range(int(rule.max(initial=-1)) + 1)]
    if carried is not None:
        frame = carried.texts()
        own = {field.name: count_units(_whole(frame, field.name), field) for field in model.fields}
        sizes[:first] = level_sizes(model, own, [[field.name for field in model.fields]], first)  # carried as they are
        number = np.concatenate([carried.number[:first], number])
        rules.insert(0, np.arange(first))
    return _Queue(sizes, np.concatenate([np.arange(first), first + line]), number, rules, first)


def _units(columns: WrittenColumns, field: TextField) -> npt.NDArray[np.int64]:
    if field.name == schema.CALLSIGN:
        coded = columns.callsign.dictionary_encode()
        counts = np.append(count_units(coded.dictionary.to_pylist(), field), 0)
        return counts[coded.indices.fill_null(len(counts) - 1).to_numpy(zero_copy_only=False)]
    if field.name == schema.NAME:
        return _coded_units(_joined(columns.texts[schema.FIRST_NAME], columns.texts[schema.LAST_NAME]), field)
    return _coded_units(columns.texts[field.name], field)


def _coded_units(coded: Coded, field: TextField) -> npt.NDArray[np.int64]:
    return count_units(coded.values.to_pylist(), field)[coded.codes]


def _joined(first: Coded, last: Coded) -> Coded:
    """First and last name with a space between, once per distinct pair."""
    pairs, codes = np.unique(first.codes.astype(np.int64) << 32 | last.codes, return_inverse=True)
    frame = pl.DataFrame({"first": series_of(first.values)[pairs >> 32], "last": series_of(last.values)[pairs & 0xFFFFFFFF]})
    return Coded(array_of(frame.select(_name())["name"]), codes.astype(np.uint32))


def _name() -> pl.Expr:
    first, last = pl.col("first"), pl.col("last")
    return pl.concat_str([first, last], separator=" ").str.strip_chars(" ").alias("name")


def _whole(frame: pl.DataFrame, name: str) -> list[str]:
    if name == schema.NAME:
        both = frame.select(pl.col(schema.FIRST_NAME).alias("first"), pl.col(schema.LAST_NAME).alias("last"))
        return both.select(_name())["name"].to_list()
    return frame[name].to_list()


def _largest_record(memory: Memory) -> int:
    """Bytes of the longest record; a text without an end counts as empty."""
    return memory.record + sum(field.largest or 0 for field in memory.fields)


def _worth(loaded: Loaded, worths: list[float]) -> npt.NDArray[np.float64]:
    calls = np.zeros(len(loaded.contacts))
    if loaded.calls is not None:
        calls = loaded.calls.expected(loaded.settings.talkgroups.mine or None)
    return calls[:, None] * np.array(worths)[None, :]


def _best_coverage(model: MemoryModel, worth: npt.NDArray[np.float64], queue: _Queue, room: int, records: int | None) -> Choice:
    """The choice that is worth most behind all carried entries; what it is worth and its bound are without them.

    `worth`: of the contacts, without the entries. Without pages the bytes of the entries are simply taken. With pages they lie
    between the contacts; then they are given a worth that beats any contact's, and the bound is that without pages.
    """
    first = queue.carried
    if not first:
        return best_coverage(model, worth, queue.sizes, queue.line, queue.number, room, records)
    entries = np.arange(first)
    level = np.full(len(queue.sizes), -1, dtype=np.int8)
    fitting = largest_prefix(model, queue.sizes[:, 0], entries, queue.number, room, records)
    level[:fitting] = 0
    if fitting < first:
        return Choice(level, 0.0, 0.0, 0.0)
    taken = int(queue.sizes[:first, 0].sum()) + first * model.index
    behind = None if records is None else records - first
    rest = best_coverage(
        replace(model, header=model.header + taken, page=None),
        worth,
        queue.sizes[first:],
        queue.line[first:] - first,
        queue.number[first:],
        room,
        behind,
    )
    if model.page is None:
        level[first:] = rest.level
        return replace(rest, level=level)
    own = _more_than_any(worth[queue.line[first:] - first], queue, model.index)
    found = best_coverage(model, np.concatenate([own, worth]), queue.sizes, queue.line, queue.number, room, records).level
    if (found[:first] >= 0).all():
        level = found
    value = worth_of(worth, level[first:])
    bound = max(rest.upper_bound, value)
    return Choice(level, value, bound, (bound - value) / bound if bound > 0 else 0.0)


def _more_than_any(worth: npt.NDArray[np.float64], queue: _Queue, index: int) -> npt.NDArray[np.float64]:
    """A worth for each carried entry for whose bytes no contacts in line are worth as much."""
    entries, others = queue.sizes[: queue.carried] + index, queue.sizes[queue.line[queue.carried :]] + index
    dearest = float((worth / np.maximum(others, 1)).max(initial=0.0)) or 1.0
    times = 2.0 + float(others.max(initial=0)) / max(int(entries.min()), 1)
    return (times * dearest * entries + 2.0 * float(worth.max(initial=0.0))).astype(np.float64)


def _used(model: MemoryModel, queue: _Queue, level: npt.NDArray[np.int8]) -> int:
    kept = np.flatnonzero(level >= 0)
    written = kept[np.argsort(queue.number[kept], kind="stable")]
    return total_bytes(model, queue.sizes[written, level[written]])


def _as_fit(endless: Fit, level: npt.NDArray[np.int8], rule: npt.NDArray[np.int16]) -> Fit:
    kept = level >= 0
    reason = endless.reason.copy()
    reason[(endless.rank > 0) & ~kept] = Reason.OVER_LIMIT
    over = np.flatnonzero((endless.rank > 0) & ~kept)
    cut = None
    if len(over):
        foremost = over[np.argmin(endless.rank[over])]
        cut = int(rule[foremost]), int(endless.rank[foremost])
    return Fit(reason, endless.rank, [int(np.count_nonzero(kept & (rule == index))) for index in range(len(endless.kept))], cut)
