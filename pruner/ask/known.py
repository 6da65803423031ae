"""What is known of an id or a call sign that no row of a run bears.

Receives the words that a person typed, the folders of finished runs and, if they can be had, the settings; hands on sentences.
"""

from __future__ import annotations

import csv
import datetime
import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import numpy as np
import polars as pl

from pruner.account.rejected import escaped
from pruner.ask.find import words_of
from pruner.job.contact_calls import load_calls
from pruner.job.load import Loaded
from pruner.place.country import country_of_ids, kinds
from pruner.reference import callsigns, countries
from pruner.reference.callsign import clean_callsign, is_ordinary
from pruner.reference.fold import fold
from pruner.settings.models import Settings
from pruner.words import schema
from pruner.words.errors import PrunerError
from pruner.words.nouns import counted, last_days
from pruner.words.number import whole_number

#: So many rejected rows are shown, each cut to so many characters.
_REJECTED: Final = 3
_RAW: Final = 120
_SUFFIXED: Final = 9


def number_of(text: str) -> int | None:
    """The id that a text is, without a two-digit device suffix (common practice, no source); None where it is none."""
    number = whole_number(text.strip())
    if number < 0:
        return None
    return number // 100 if len(str(number)) == _SUFFIXED else number


def sentences(query: str, folders: list[Path], settings: Settings | None, loaded: Loaded | None) -> list[str]:
    """One sentence for each thing that is known."""
    number, system = number_of(query), settings.sources[0].system if settings else "dmr"
    found: list[str] = []
    if number is not None:
        found += _of_address(number, schema.SYSTEMS[system])
    elif is_ordinary(clean_callsign(query)):
        country = callsigns.country_of(clean_callsign(query))
        if country:
            found.append(f"By its beginning it is a call sign of {countries.NAMES[country]}.")
    if folders:
        found += _rejected(folders[0] / "rejected.csv", query, number)
    if number is not None and number < schema.ADDRESSES:
        if settings is not None:
            found += [*_of_rules(settings, loaded, number), *_of_logs(settings, system, number)]
        if loaded is not None:
            found += _in_directory(loaded, system, number)
    return found


def _of_address(number: int, system: schema.System) -> Iterator[str]:
    if number > system.highest:
        yield f"{number} is too large for an id of {system.name}: the highest is {system.highest}."
    elif not system.first <= number <= system.last:
        yield f"{number} is no station's id in {system.name}: those go from {system.first} to {system.last}."
    else:
        one = np.array([number], dtype=np.uint32)
        kind = schema.KINDS[int(kinds(one, system.name)[0])]
        country = int(country_of_ids(one)[0]) if system.name == "dmr" else 0
        of = f" of {countries.NAMES[country]}" if country else ""
        if kind != "other" or country:
            yield f"By its number it is {'an id' if kind == 'other' else f'a {kind}'}{of} (common practice, no source)."


def _rejected(path: Path, query: str, number: int | None) -> Iterator[str]:
    """The rows that could not be read and hold the id as a number, or all the words."""
    pattern = re.compile(rf"(?<!\d)0*{number}(?:\d\d)?(?!\d)") if number is not None else None
    words = [fold(word) for word in words_of(query)]
    found = 0
    try:
        with path.open(encoding="utf-8", newline="") as file:
            for row in csv.DictReader(file):
                raw = str(json.loads(row["raw"]))
                hit = pattern.search(raw) if pattern else words and all(f" {word}" in f" {fold(raw)}" for word in words)
                if hit and (found := found + 1) <= _REJECTED:
                    shown = escaped(raw if len(raw) <= _RAW else raw[: _RAW - 3] + "...")
                    where = f"a row of source {row['source']} (line {row['line']}) was rejected"
                    yield f"It may be meant: {where}, {row['reason']}, {row['detail']}: {shown}"
    except (OSError, ValueError, KeyError, TypeError, csv.Error):
        return
    if found > _REJECTED:
        yield f"{counted(found - _REJECTED, 'more rejected row holds', 'more rejected rows hold')} it; see rejected.csv."


def _of_rules(settings: Settings, loaded: Loaded | None, number: int) -> Iterator[str]:
    for rule in (*settings.drop, *settings.keep):
        listed = loaded.lists.get(rule.list) if loaded and rule.list else None
        if number in (rule.ids or ()) or (listed is not None and bool((listed.ids == number).any())):
            yield f"Rule {rule.name!r} names it, but no row that can be used bears it."


def _of_logs(settings: Settings, system: str, number: int) -> Iterator[str]:
    try:
        store = load_calls(settings, [system]).get(system)
    except PrunerError:
        return
    if store is None:
        return
    one, window = np.array([number], dtype=np.uint32), settings.calls.window_days
    last = int(store.last_heard(one)[0])
    if last:
        day = datetime.datetime.fromtimestamp(last / 1000, datetime.UTC).date()
        calls = int(store.calls(one, None, window)[0])
        yield f"It was heard: {counted(calls, 'call')} in {last_days(window)} of the heard logs, the last one on {day}."
    else:
        yield "It was never heard in the logs."


def _in_directory(loaded: Loaded, system: str, number: int) -> Iterator[str]:
    """Whether the sources have it by now; else the ids on both sides."""
    contacts = loaded.contacts
    slot = schema.SYSTEM_NAMES.index(system)
    low, high = np.searchsorted(contacts.system, np.array([slot, slot + 1], dtype=np.uint8)).tolist()
    place = low + int(np.searchsorted(contacts.number[low:high], np.uint32(number)))
    if place < high and int(contacts.number[place]) == number:
        yield "The sources have it now, so they changed since the last fit: run pruner fit again."
        return
    signs = pl.Series(pl.from_arrow(contacts.callsign.slice(max(place - 1, low), 2)), dtype=pl.String).fill_null("no call sign")
    beside = [at for at in (place - 1, place) if low <= at < high]
    if beside:
        named = [f"{contacts.number[at]} ({signs[at - max(place - 1, low)]})" for at in beside]
        yield f"The sources have no such id; the nearest in number: {' and '.join(named)}."
