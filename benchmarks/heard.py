"""Times what heard logs cost from day to day: `python -m benchmarks.heard --folder FOLDER`.

*read*: a store of 90 days with 22 million invented calls is read for a fit on three talkgroups, first as it was folded, then
with its counted days remembered; each time in a fresh process, processor seconds without imports. The counts of two days are
compared with a plain definition of what is one call (`plain_count`).
*snapshot*: a log of 500 calls, 100 of them new, is added to a day of 250,000: the whole command `pruner heard fold`.
"""

from __future__ import annotations

import argparse
import csv
import json
import os
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from statistics import median
from typing import Final

DAYS: Final = 90
CALLS: Final = 22_000_000
FIRST_DAY: Final = 20_500
STATIONS: Final = 120_000
TALKGROUPS: Final = (91, 92, 93, *range(2321, 2331), *range(262, 272))
MINE: Final = (91, 2321, 262)
#: Share of calls that a second gateway tells as well, one to three seconds later.
COPIES: Final = 0.05
SNAPSHOT, NEW, OF_DAY = 500, 100, 250_000


def make_store(folder: Path, calls: int) -> None:
    """A store of invented calls."""
    import numpy as np
    import pyarrow as pa
    import pyarrow.parquet as parquet

    from pruner.demo.draws import Draws
    from pruner.logs.files import LogFiles
    from pruner.logs.fold import fold_logs

    draws = Draws(11)
    groups = np.array(TALKGROUPS, dtype=np.uint32)
    paths = []
    for day in range(DAYS):
        count = int(calls // DAYS / (1 + COPIES))
        name = str(day)
        second = np.sort(draws.below(name + "t", 86_390, count)) + (FIRST_DAY + day) * 86_400
        id = (2_320_000 + 17 * (draws.shares(name + "i", count) ** 2 * STATIONS).astype(np.int64)).astype(np.uint32)
        group = groups[(draws.shares(name + "g", count) ** 2 * len(groups)).astype(np.int64)]
        tenths = 5 + draws.below(name + "s", 600, count)
        again = np.flatnonzero(draws.shares(name + "c", count) < COPIES)
        late = 1 + draws.below(name + "l", 3, len(again))
        columns = {
            "time": pa.array(np.append(second, second[again] + late) * 1000).cast(pa.timestamp("ms", "UTC")),
            "id": np.append(id, id[again]),
            "talkgroup": np.append(group, group[again]),
            "seconds": np.append(tenths, tenths[again]) / 10,
        }
        paths.append(folder / f"day-{day:02}.parquet")
        parquet.write_table(pa.table(columns), paths[-1])
    fold_logs(folder / "state", [LogFiles(paths)])
    for path in paths:
        path.unlink()


def plain_count(path: Path, tolerance: int) -> dict[tuple[int, int], int]:
    """Calls of one stored day by id and talkgroup, by a loop over its rows: what starts within the tolerance of the call before
    it is the same where that one still goes on, or both last equally long, or one tells no duration."""
    import pyarrow.parquet as parquet

    columns = parquet.read_table(path, columns=["id", "talkgroup", "start", "milliseconds"])
    counts: dict[tuple[int, int], int] = {}
    before = (0, 0, 0, 0)
    for id, group, start, length in zip(*(columns[name].to_pylist() for name in columns.column_names), strict=True):
        gap = start - before[2]
        is_same = before[:2] == (id, group) and gap <= tolerance
        is_same &= gap * 1000 < before[3] or abs(length - before[3]) <= 600 or not length or not before[3]
        counts[id, group] = counts.get((id, group), 0) + (not is_same)
        before = (id, group, start, length)
    return counts


def read_once(folder: Path) -> dict[str, float]:
    """What a fit reads of a store: processor seconds without imports, seconds, peak memory."""
    import numpy as np

    from pruner.calls.covered import load_covered
    from pruner.words.process import prepare_process

    prepare_process()
    numbers = np.arange(2_320_000, 2_320_000 + 17 * STATIONS, 17, dtype=np.uint32)
    used, start = resource.getrusage(resource.RUSAGE_SELF), time.perf_counter()
    store = load_covered(folder / "state" / "heard" / "dmr")
    assert store is not None
    calls = int(store.calls(numbers, None, DAYS).sum())
    mine = int(store.calls(numbers, MINE, DAYS).sum())
    store.last_heard(numbers, MINE)
    seconds, now = time.perf_counter() - start, resource.getrusage(resource.RUSAGE_SELF)
    processor = now.ru_utime + now.ru_stime - used.ru_utime - used.ru_stime
    return {"processor": processor, "seconds": seconds, "peak": now.ru_maxrss / 1000, "calls": calls, "mine": mine}


def timed_reads(folder: Path, repeats: int) -> None:
    """Prints both ways of reading, and compares the counts."""
    store = folder / "state" / "heard" / "dmr"
    for name in ("first", "remembered"):
        runs = []
        for _ in range(repeats):
            if name == "first":
                shutil.rmtree(store / "counted", ignore_errors=True)
            command = [sys.executable, "-m", "benchmarks.heard", "--once", "--folder", str(folder)]
            runs.append(json.loads(subprocess.run(command, check=True, stdout=subprocess.PIPE, text=True).stdout))
        middle = {key: median(run[key] for run in runs) for key in runs[0]}
        print(
            f"read, {name}: {middle['processor']:.2f} processor seconds, {middle['seconds']:.2f} seconds, "
            f"{middle['peak']:,.0f} MB; {middle['calls']:,.0f} calls, {middle['mine']:,.0f} on three talkgroups"
        )
    print(f"counts of two days by a plain loop: {'equal' if _is_equal(store) else 'DIFFERENT'}")


def _is_equal(folder: Path) -> bool:
    from pruner.calls.weights import load_weights

    weights = load_weights(folder)
    assert weights is not None
    for day in (weights.days[0], weights.days[len(weights.days) // 2]):
        rows = weights.counted.of_day(day, ["id", "talkgroup", "calls"]).to_pydict()
        found = {(id, group): calls for id, group, calls in zip(*rows.values(), strict=True)}
        (path,) = (path for path in folder.glob("*.parquet") if path.name.startswith(_name(day)))
        wanted = plain_count(path, weights.counted.tolerance)
        if day == weights.days[0] and found != wanted:
            return False
        # Later days count a call that goes on behind midnight on the day before.
        if sum(wanted.values()) - sum(found.values()) not in range(20):
            return False
    return True


def _name(day: int) -> str:
    from pruner.calls.parts import day_name

    return day_name(day)


def timed_snapshot(folder: Path, repeats: int) -> None:
    """Prints the time of the whole command that adds a snapshot."""
    import numpy as np

    from pruner.demo.draws import Draws

    draws = Draws(12)
    second = np.sort(draws.below("t", 86_000, OF_DAY + NEW * repeats)) + FIRST_DAY * 86_400
    id = 2_320_000 + draws.below("i", STATIONS, len(second))
    state, log = folder / "small", folder / "last.csv"
    shutil.rmtree(state, ignore_errors=True)
    command = [sys.executable, "-m", "pruner", "heard", "fold", str(log), "--state", str(state)]

    def fold(first: int, behind: int) -> float:
        with log.open("w", newline="") as file:
            rows = csv.writer(file)
            rows.writerow(["time", "id", "talkgroup", "seconds"])
            rows.writerows((int(second[n]), int(id[n]), 91, 1 + n % 40) for n in range(first, behind))
        os.utime(log, (time.time() - 3600,) * 2)
        start = time.perf_counter()
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        return time.perf_counter() - start

    fold(0, OF_DAY)
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    seconds = [fold(behind - SNAPSHOT, behind) for behind in range(OF_DAY + NEW, OF_DAY + NEW * repeats + 1, NEW)]
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    processor = (used.ru_utime + used.ru_stime - before.ru_utime - before.ru_stime) / repeats
    print(f"snapshot: {median(seconds):.2f} seconds, {processor:.2f} processor seconds, the whole command")


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m benchmarks.heard", description=__doc__)
    parser.add_argument("--folder", type=Path, help="where the store stays (default: a temporary folder)")
    parser.add_argument("--calls", type=int, default=CALLS)
    parser.add_argument("--repeats", type=int, default=3)
    parser.add_argument("--once", action="store_true", help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.once:
        print(json.dumps(read_once(options.folder)))
        return 0
    with tempfile.TemporaryDirectory() as temporary:
        folder = (options.folder or Path(temporary)).absolute()
        folder.mkdir(parents=True, exist_ok=True)
        if not (folder / "state").is_dir():
            make_store(folder, options.calls)
        print(f"load of the machine: {os.getloadavg()[0]:.1f} of {os.cpu_count()} cores")
        timed_reads(folder, options.repeats)
        timed_snapshot(folder, options.repeats)
    return 0


if __name__ == "__main__":
    sys.exit(main())
