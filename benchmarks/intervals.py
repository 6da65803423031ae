"""Whether the interval of a forecast holds: many small invented worlds, the forecast of each, and what came.

    python -m benchmarks.intervals [--first-run [--home-first]] [--worlds 72] [--contacts 20000 40000] [--days 60 90 120 150]
        [--first-seed 1001] [--shares 0.1 0.3 0.6]

What is forecast: the share of the calls of the next 28 days, on the talkgroups that count, that the contacts kept under a
limit bear. A run four weeks before the end of the log remembers its directory, as those of a home server do; then the tool is
asked as `fit` asks it. `forecasts_of` is the only place that knows how; None is "no figure". Three limits per world, or others
(`--shares` of its directory). `--first-run`: nothing is remembered, so there is only a lower bound. `--home-first`: a rule puts
the home country before all else.
"""

from __future__ import annotations

import argparse
import json
import tempfile
from collections.abc import Callable, Iterable, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np

from benchmarks.worlds import LATER_DAYS, NATURES, World, make_world
from benchmarks.worlds_apart import APART, make_apart
from pruner.job.choose import choose
from pruner.job.earlier import remember_directory
from pruner.job.load import Loaded, load
from pruner.job.to_come import calls_to_come
from pruner.logs.fold import fold_all
from pruner.settings.load import load_settings

#: Limits, as shares of the directory.
SHARES: Final = (0.1, 0.3, 0.6)
Forecast = tuple[float, float, float]


def bounds_of(world: World, limits: list[int], home_first: bool = False) -> list[float | None]:
    """The tool's lower bounds on a first run, as shares; None where it gives no figure."""
    with tempfile.TemporaryDirectory() as folder:
        loaded = _loaded(_written(world, Path(folder), limits, home_first))
        told = calls_to_come(loaded, loaded.settings.radios[-1], limits)
    at = {one.contacts: one.low for one in (told.by_limit if told else ())}
    return [at.get(limit) for limit in limits]


def _written(world: World, folder: Path, limits: list[int], home_first: bool) -> Path:
    path = world.write(folder, limits=limits)
    if home_first:
        home = '[[keep]]\nname = "home"\ncountries = ["home"]\n[[keep]]\n'
        path.write_text(path.read_text(encoding="utf-8").replace("[[keep]]\n", home, 1), encoding="utf-8")
    return path


def forecasts_of(world: World, limits: list[int]) -> list[Forecast | None]:
    """Low, centre and high of the tool's forecast at the end of a world's log, as shares; None where it gives no figure."""
    with tempfile.TemporaryDirectory() as folder:
        then = world.days - LATER_DAYS
        remember_directory(_loaded(world.write(Path(folder), until=then, limits=limits)))
        loaded = _loaded(world.write(Path(folder), limits=limits))
        remember_directory(loaded)
        told = calls_to_come(loaded, loaded.settings.radios[-1], limits)
    at = {one.contacts: one for one in (told.by_limit if told else ())}
    found = [at[limit].interval if limit in at else None for limit in limits]
    return [one and (one[1], one[0], one[2]) for one in found]


def _loaded(settings_file: Path) -> Loaded:
    settings = load_settings(settings_file)
    fold_all(settings)
    return load(settings)


def kept_shares(world: World, limits: list[int], home_first: bool = False) -> list[float]:
    """What came: the share of the calls of the next 28 days that the contacts bear which the tool keeps under each limit."""
    later = world.calls(world.days, world.days + LATER_DAYS).id
    with tempfile.TemporaryDirectory() as folder:
        loaded = _loaded(_written(world, Path(folder), limits, home_first))
        kept = [loaded.contacts.number[choose(loaded, radio).kept] for radio in loaded.settings.radios]
    return [float(np.isin(later, ids).mean()) for ids in kept]


@dataclass(frozen=True, slots=True)
class Case:
    """One forecast and what came, as shares; low, centre and high are None where there was no figure. `calls`: in the log, on
    the talkgroups that count."""

    world: str
    nature: str
    contacts: int
    days: int
    limit: int
    calls: int
    came: float
    low: float | None
    centre: float | None
    high: float | None


def cases_of(
    world: World,
    forecasts: Callable[[World, list[int]], list[Forecast | None]] = forecasts_of,
    shares: Sequence[float] = SHARES,
) -> list[Case]:
    """The forecasts of a world at limits that are these shares of its directory, beside what came."""
    calls, listed, cases = len(world.calls(0, world.days)), len(world.listed(world.days)), []
    limits = [int(listed * share) for share in shares]
    for limit, came, told in zip(limits, kept_shares(world, limits), forecasts(world, limits), strict=True):
        low, centre, high = told or (None, None, None)
        nature = world.name.split()[0]
        cases.append(Case(world.name, nature, listed, world.days, limit, calls, came, low, centre, high))
    return cases


def bound_lines(worlds: Iterable[World], home_first: bool, shares: Sequence[float] = SHARES) -> Iterable[str]:
    """Rows of a table: for each part of the directory, how often a first run's lower bound was one, and how far below what came
    it lay, in points."""
    yield "| limit | cases | no figure | came at least so much | mean below what came, points | largest |"
    yield "|---" * 6 + "|"
    found: dict[str, list[tuple[float, float | None]]] = {"all": []}
    for world in worlds:
        limits = [int(len(world.listed(world.days)) * share) for share in shares]
        pairs = zip(kept_shares(world, limits, home_first), bounds_of(world, limits, home_first), strict=True)
        for share, pair in zip(shares, pairs, strict=True):
            found["all"].append(pair)
            found.setdefault(f"{share:.0%} of the directory", []).append(pair)
    for name, cases in found.items():
        below = np.array([100 * (came - low) for came, low in cases if low is not None])
        silent = 1 - len(below) / len(cases)
        if len(below):
            yield (
                f"| {name} | {len(cases)} | {silent:.1%} | {(below >= 0).mean():.1%} | {below.mean():.1f} | {below.max():.1f} |"
            )


@dataclass(frozen=True, slots=True)
class Verdict:
    """Of cases with a figure: share inside the interval, mean width and bias (centre less what came), in points; share of
    intervals narrower than 15 points. `silent`: share of cases without a figure."""

    cases: int
    silent: float
    inside: float
    width: float
    bias: float
    narrow: float

    def line(self, name: str) -> str:
        """As a row of a table."""
        if self.silent == 1:
            return f"| {name} | {self.cases} | {self.silent:.1%} |  |  |  |  |"
        return (
            f"| {name} | {self.cases} | {self.silent:.1%} | {self.inside:.1%} | {self.width:.1f} | {self.bias:+.2f} "
            f"| {self.narrow:.0%} |"
        )


def verdict(cases: Iterable[Case]) -> Verdict:
    """What cases come to; not a number where none has a figure."""
    cases = list(cases)
    told = [case for case in cases if case.low is not None]
    low, centre, high, came = (
        np.array([getattr(one, name) for one in told], float) for name in ("low", "centre", "high", "came")
    )
    if not told:
        return Verdict(len(cases), 1.0, *[float("nan")] * 4)
    width = 100 * (high - low)
    return Verdict(
        len(cases),
        1 - len(told) / len(cases),
        float(((low <= came) & (came <= high)).mean()),
        float(width.mean()),
        float(100 * (centre - came).mean()),
        float((width < 15).mean()),
    )


def table(cases: list[Case], shares: Sequence[float] = SHARES) -> str:
    """The verdict on all cases, by nature, days and limit. `shares`: the limits of each world."""
    lines = [
        "| cases of | cases | no figure | inside | mean width, points | bias, points | under 15 points |",
        "|---" * 7 + "|",
    ]
    lines.append(verdict(cases).line("all"))
    for nature in sorted({case.nature for case in cases}):
        lines.append(verdict(case for case in cases if case.nature == nature).line(nature))
    for days in sorted({case.days for case in cases}):
        lines.append(verdict(case for case in cases if case.days == days).line(f"{days} days"))
    for place, share in enumerate(shares):
        lines.append(verdict(cases[place :: len(shares)]).line(f"{share:.0%} of the directory"))
    return "\n".join(lines)


def main() -> None:
    """Measures and prints."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--worlds", type=int, default=72)
    parser.add_argument("--contacts", nargs="+", type=int, default=[20_000, 40_000])
    parser.add_argument("--days", nargs="+", type=int, default=[60, 90, 120, 150])
    parser.add_argument("--natures", nargs="+", default=list(NATURES), choices=(*NATURES, *APART))
    parser.add_argument("--first-seed", type=int, default=1001)
    parser.add_argument("--first-run", action="store_true", help="nothing is remembered: lower bounds")
    parser.add_argument("--home-first", action="store_true", help="with --first-run: the home country before all else")
    parser.add_argument("--shares", nargs="+", type=float, default=list(SHARES), help="limits, as shares of the directory")
    parser.add_argument("--json", type=Path, help="a file for the cases")
    asked = parser.parse_args()
    worlds = _worlds(asked.worlds, asked.natures, asked.days, asked.contacts, asked.first_seed)
    if asked.first_run:
        for line in bound_lines(worlds, asked.home_first, asked.shares):
            print(line)
        return
    cases = [case for world in worlds for case in cases_of(world, shares=asked.shares)]
    print(table(cases, asked.shares))
    if asked.json:
        plain: list[dict[str, Any]] = [asdict(case) for case in cases]
        asked.json.write_text(json.dumps(plain, indent=1) + "\n", encoding="utf-8")


def _worlds(count: int, natures: list[str], of_days: list[int], sizes: list[int], first_seed: int) -> Iterable[World]:
    for number in range(count):
        nature, rest = natures[number % len(natures)], number // len(natures)
        days, rest = of_days[rest % len(of_days)], rest // len(of_days)
        make = make_apart if nature in APART else make_world
        yield make(nature, sizes[rest % len(sizes)], days, first_seed + number)


if __name__ == "__main__":
    main()
