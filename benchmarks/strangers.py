"""How much of the calls of the next 28 days a choice names, in invented worlds: the tool, boosted trees, the best possible.

    python -m benchmarks.strangers [--before CHECKOUT] [--contacts 120000] [--days 150] [--seeds 1] [--json FILE]

The tool gets a directory and a log as files, and is asked for the choice of a radio of each limit as `fit` makes it, with one
keep rule for everybody in the order `expected`. `--before` names a checkout of an earlier state of the tool that makes its
choice in the same run, in a process of its own; then the share of the gap to the trees is shown that was closed since.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from benchmarks.boosted import calls_per_row, covered, trees_order
from benchmarks.worlds import LATER_DAYS, NATURES, World, make_world
from benchmarks.worlds_apart import APART, make_apart

#: What a checkout is asked: settings and a file for the chosen ids of each radio. Only what every state of the tool has.
_CHOOSE: Final = """
import sys
from pathlib import Path
import numpy as np
from pruner.job.choose import choose
from pruner.logs.fold import fold_all
from pruner.job.load import load
from pruner.settings.load import load_settings
settings = load_settings(Path(sys.argv[1]))
fold_all(settings)
loaded = load(settings)
kept = {radio.name: loaded.contacts.number[choose(loaded, radio).kept] for radio in settings.radios}
np.savez(sys.argv[2], **kept)
"""


@dataclass(frozen=True, slots=True)
class Row:
    """Shares of the calls of the next 28 days on the talkgroups that count, for one world and limit. `before`: None where no
    earlier state was asked; `strangers`: share of these calls from ids not heard on the talkgroups before."""

    world: str
    contacts: int
    limit: int
    before: float | None
    tool: float
    trees: float
    best: float
    strangers: float


def chosen_ids(world: World, limits: list[int], checkout: Path) -> dict[int, npt.NDArray[np.uint32]]:
    """The ids that the tool in a checkout keeps under each limit."""
    with tempfile.TemporaryDirectory() as folder:
        settings = world.write(Path(folder), limits=limits)
        found = Path(folder) / "chosen.npz"
        environment = {**os.environ, "PYTHONPATH": str(checkout.resolve())}
        command = [sys.executable, "-P", "-c", _CHOOSE, settings.name, found.name]
        subprocess.run(command, check=True, cwd=folder, env=environment)
        with np.load(found) as kept:
            return {limit: kept[str(limit)] for limit in limits}


def judge(world: World, before: Path | None = None, tool: Path | None = None) -> list[Row]:
    """One row per limit. `before`, `tool`: checkouts (default of `tool`: this one)."""
    later = world.calls(world.days, world.days + LATER_DAYS)
    calls, limits, listed = calls_per_row(world, later), world.limits(), world.listed(world.days)
    strangers = float((~np.isin(later.id, world.calls(0, world.days).id)).mean())

    def share_of(checkout: Path) -> list[float]:
        kept = chosen_ids(world, limits, checkout)
        return [float(np.isin(later.id, kept[limit]).mean()) for limit in limits]

    shares = share_of(tool or Path(__file__).parents[1])
    earlier = share_of(before) if before else [None] * len(limits)
    trees = covered(trees_order(world), calls, limits)
    best = covered(listed[np.argsort(-calls[listed], kind="stable")], calls, limits)
    columns = zip(limits, earlier, shares, trees, best, strict=True)
    return [Row(world.name, len(listed), *column, strangers) for column in columns]


def closed(rows: list[Row]) -> float | None:
    """The share of the gap between the earlier state and the trees that the tool closes, summed over worlds and limits."""
    gap = sum(row.trees - row.before for row in rows if row.before is not None)
    won = sum(row.tool - row.before for row in rows if row.before is not None)
    return won / gap if gap > 0 else None


def table(rows: list[Row]) -> str:
    """The rows as text, and what they come to."""
    lines = [
        "| world | contacts | limit | strangers | before | tool | trees | best possible | tool / trees | closed |",
        "|---" * 10 + "|",
    ]
    for row in rows:
        share = closed([row]) if row.before is not None and row.trees - row.before >= 0.0005 else None
        lines.append(
            f"| {row.world} | {row.contacts:,} | {row.limit:,} | {row.strangers:.1%} | "
            f"{'' if row.before is None else f'{row.before:.2%}'} | {row.tool:.2%} | {row.trees:.2%} | {row.best:.2%} | "
            f"{row.tool / row.trees:.4f} | {'' if share is None else f'{share:.0%}'} |"
        )
    known = [row for row in rows if row.before is not None]
    lines.append(
        f"\nOf the way from the tool to the trees, on average: {100 * np.mean([r.trees - r.tool for r in rows]):+.2f} points"
    )
    if known:
        share, lost = (
            closed(known),
            min((row.tool - row.before, row.world, row.limit) for row in known if row.before is not None),
        )
        lines.append(f"Of the gap between before and trees, summed: {'none' if share is None else f'{share:.1%} closed'}")
        lines.append(f"Least against before: {100 * lost[0]:+.2f} points ({lost[1]}, {lost[2]:,})")
    return "\n".join(lines)


def main() -> None:
    """Measures and prints."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--before", type=Path, help="a checkout of an earlier state of the tool")
    parser.add_argument("--natures", nargs="+", default=list(NATURES), choices=(*NATURES, *APART))
    parser.add_argument("--contacts", nargs="+", type=int, default=[120_000])
    parser.add_argument("--days", nargs="+", type=int, default=[150])
    parser.add_argument("--seeds", nargs="+", type=int, default=[1])
    parser.add_argument("--json", type=Path, help="a file for the figures")
    asked = parser.parse_args()
    rows: list[Row] = []
    for contacts in asked.contacts:
        for days in asked.days:
            for nature in asked.natures:
                for seed in asked.seeds:
                    began = time.perf_counter()
                    make = make_apart if nature in APART else make_world
                    rows += judge(make(nature, contacts, days, seed), asked.before)
                    print(f"{nature} {seed}: {time.perf_counter() - began:.0f} s", file=sys.stderr, flush=True)
    print(table(rows))
    if asked.json:
        asked.json.write_text(json.dumps({"rows": [_plain(row) for row in rows], "closed": closed(rows)}, indent=1) + "\n")


def _plain(row: Row) -> dict[str, Any]:
    return {name: getattr(row, name) for name in Row.__slots__}


if __name__ == "__main__":
    main()
