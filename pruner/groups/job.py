"""What a run over talkgroup lists needs: from the settings, or from the options of the short form.

Receives `Settings` or plain values, hands on a `TalkgroupJob` in which everything is checked.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np
import polars as pl

from pruner.calls.covered import load_covered
from pruner.groups.order import HeardGroups
from pruner.logs.fold import store_folder
from pruner.read.talkgroup_list import GROUPS
from pruner.reference import countries
from pruner.settings.models import Settings
from pruner.settings.names import source_names
from pruner.settings.values import shown
from pruner.words.disk import PRIVATE
from pruner.words.errors import SettingsError


@dataclass(frozen=True, slots=True)
class TalkgroupJob:
    """`lists`: name and path, the first is preferred; `columns`: for each list which column holds what, as far as that was
    said; `home`: country number, 0 for none; `by_number`: whether a number that begins with a country code tells the country;
    `radios`: name and limit; `heard`: None where nothing was heard."""

    system: str
    lists: tuple[tuple[str, Path], ...]
    columns: tuple[Mapping[str, str | int], ...]
    mine: tuple[int, ...]
    home: int
    by_number: bool
    radios: tuple[tuple[str, int], ...]
    folder: Path
    state: Path
    heard: Callable[[], HeardGroups | None]
    mode: int = PRIVATE


def wants_talkgroups(settings: Settings) -> bool:
    """Whether the settings name a list of talkgroups and a radio that says how many it holds."""
    return settings.talkgroups.list is not None and any(radio.talkgroups is not None for radio in settings.radios)


def job_of_settings(settings: Settings) -> TalkgroupJob:
    """The job of a settings file. The system is that of the first source. Raises SettingsError with all that is missing."""
    system = settings.sources[0].system
    chosen = settings.talkgroups
    radios = tuple((radio.name, radio.talkgroups) for radio in settings.radios if radio.talkgroups is not None)
    problems = [f"talkgroups.mine: {problem}" for problem in _no_groups(chosen.mine, system)]
    if chosen.list is None:
        problems.append('talkgroups.list: not given; name the list of talkgroups: list = "talkgroups.csv"')
    if not radios:
        problems.append("radio.talkgroups: no radio says how many talkgroups it holds: talkgroups = 10_000")
    if problems or chosen.list is None:
        raise SettingsError(problems)
    return TalkgroupJob(
        system,
        _named([chosen.list]),
        (chosen.list_columns,),
        tuple(sorted(set(chosen.mine))),
        settings.home.country_number,
        chosen.countries,
        radios,
        settings.output.folder,
        settings.output.state,
        partial(
            heard_groups,
            store_folder(settings.output.state, system),
            settings.calls.window_days,
            settings.calls.tolerance_seconds,
        ),
        settings.output.mode,
    )


def short_job(
    files: Sequence[Path],
    limit: int,
    mine: Sequence[int] = (),
    country: str | None = None,
    system: str = "dmr",
    out: Path = Path("out"),
    name: str = "radio",
    columns: Sequence[Mapping[str, str | int]] = (),
) -> TalkgroupJob:
    """The job of the short form: one radio, nothing heard. Raises SettingsError with one line per option that is wrong."""
    problems = []
    if system not in GROUPS:
        problems.append(f"--system: expected one of {', '.join(GROUPS)}, got {shown(system)}")
    else:
        problems += [f"--mine: {problem}" for problem in _no_groups(mine, system)]
    home = countries.find(country) if country is not None else 0
    if country is not None and not home:
        near = ", ".join(f'"{name}"' for name in countries.nearest_names(country))
        expected = f"expected an ISO 3166-1 code or the name of a country, got {shown(country)}"
        problems.append(f"--country: {expected}{f'; did you mean {near}?' if near else ''}")
    if problems:
        raise SettingsError(problems)
    lists = _named(files)
    chosen = tuple(sorted(set(mine)))
    said = tuple(columns) or ({},) * len(lists)
    return TalkgroupJob(system, lists, said, chosen, home, True, ((name, limit),), out, out / ".pruner", _nothing_heard)


def heard_groups(store: Path, window_days: int, tolerance: int) -> HeardGroups | None:
    """Calls per talkgroup in the last covered days of a store; None without one. `tolerance`: as in `load_covered`."""
    weights = load_covered(store, tolerance=tolerance)
    if weights is None:
        return None
    rows = weights.rows(within_days=window_days).select("talkgroup", pl.col("calls").cast(pl.UInt64))
    calls = rows.group_by("talkgroup").agg(pl.col("calls").sum()).filter(pl.col("calls") > 0).sort("talkgroup")
    return HeardGroups(calls["talkgroup"].to_numpy().astype(np.uint32), calls["calls"].to_numpy(), window_days)


def _nothing_heard() -> HeardGroups | None:
    return None


def _named(files: Sequence[Path]) -> tuple[tuple[str, Path], ...]:
    return tuple(zip(source_names(map(str, files)), files, strict=True))


def _no_groups(mine: Sequence[int], system: str) -> list[str]:
    """One sentence per number that is no talkgroup of the system."""
    legal = GROUPS[system]
    return [
        f"expected a talkgroup of {system} ({legal.first} to {legal.last}), got {number}"
        for number in mine
        if not legal.first <= number <= legal.last
    ]
