"""Times the fold of a heard log in several engines: `python -m benchmarks.fold --rows 100000000 --folder FOLDER`.

Makes an invented log of five days as Parquet once, keeps its distinct calls with each engine in a fresh process (in turn,
as often as asked), checks that all kept the same calls, and prints a table of medians. Processor seconds are those of all
threads, and tell more than the time on a clock where the machine is shared. Peak memory is that of the process.
"""

from __future__ import annotations

import argparse
import json
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from statistics import median
from typing import Final

DAYS: Final = 5
FIRST_DAY: Final = 20_600
STATIONS: Final = 120_000
TALKGROUPS: Final = 23
_DAY: Final = 86_400_000
_CHUNK: Final = 1 << 20
#: Every call once (the maximum by key) with the rule of `calls.fold.distinct`, and then counted by day, id and talkgroup.
DISTINCT: Final = """
    select id, talkgroup, start, max(duration)::UINTEGER as milliseconds
    from (select id, talkgroup, epoch_ms(time) // 1000 as start, case when duration < 262144 then duration else
        duration // 500 * 500 end as duration
        from (select *, round(seconds * 1000)::BIGINT as duration from read_parquet({})))
    group by id, talkgroup, start, case when start % 60 = 0 then duration end"""
GROUP_BY: Final = """
    select (start // 86400)::INTEGER as day, id, talkgroup, count(*)::UINTEGER as calls,
    sum(milliseconds)::UBIGINT as milliseconds, min(start) as first, max(start) as last from calls group by all"""


def make_input(folder: Path, rows: int) -> None:
    """A file for each day, nearly in the order of time; some stations and talkgroups call more than others."""
    import numpy as np
    import pyarrow as pa
    import pyarrow.parquet as parquet

    from pruner.demo.draws import Draws

    draws = Draws(7)
    per_country = STATIONS // 40
    stations = np.concatenate([np.arange(2_020_000, 2_020_000 + per_country) + 91_000 * country for country in range(40)])
    talkgroups = np.array([91, 92, 93, *range(2321, 2331), *range(262, 272)])
    for day in range(DAYS):
        path = folder / f"day-{day}.parquet"
        if path.exists():
            continue
        count = rows // DAYS
        making = path.with_suffix(".making")
        with parquet.ParquetWriter(
            making,
            pa.schema(
                [
                    ("time", pa.timestamp("ms", "UTC")),
                    ("id", pa.uint32()),
                    ("talkgroup", pa.uint32()),
                    ("seconds", pa.float32()),
                ]
            ),
        ) as writer:
            for begin in range(0, count, _CHUNK):
                size = min(_CHUNK, count - begin)
                stream = f"{day}/{begin}"
                place = (np.arange(begin, begin + size) * (_DAY - 20_000)) // count + draws.below(stream + "t", 20_000, size)
                columns = [
                    pa.array((FIRST_DAY + day) * _DAY + place).cast(pa.timestamp("ms", "UTC")),
                    stations[(draws.shares(stream + "i", size) ** 2 * STATIONS).astype(np.int64)].astype(np.uint32),
                    talkgroups[(draws.shares(stream + "g", size) ** 2 * TALKGROUPS).astype(np.int64)].astype(np.uint32),
                    (draws.below(stream + "s", 1800, size) / 10).astype(np.float32),
                ]
                writer.write_batch(pa.record_batch(columns, schema=writer.schema))
        making.rename(path)


def pruner(files: list[Path], target: Path) -> None:
    """The whole command `heard fold` into an empty store, without reading settings, and its calls counted with no tolerance."""
    from pruner.calls.weights import load_weights
    from pruner.logs.files import LogFiles
    from pruner.logs.fold import fold_logs

    fold_logs(target, [LogFiles(files)])
    weights = load_weights(target / "heard" / "dmr", tolerance=0)
    if weights is None or not weights.total_calls():
        raise AssertionError("nothing was counted")


def duckdb(files: list[Path], target: Path) -> None:
    """The maximum by key in SQL, written as one Parquet file in no order, and the calls counted by id, talkgroup and day."""
    import duckdb

    names = [str(path) for path in files]
    with duckdb.connect() as session:
        session.execute(f"copy ({DISTINCT.format(names)}) to '{target / 'rows.parquet'}' (format parquet)")
        session.execute(f"create view calls as from read_parquet('{target / 'rows.parquet'}')")
        session.execute(f"copy ({GROUP_BY}) to '{target / 'counts'}' (format parquet)")


def polars(files: list[Path], target: Path) -> None:
    """The narwhals definition on a lazy polars frame, eight passes over the ids to bound the memory."""
    import polars

    from pruner.calls.fold import distinct

    for part in range(8):
        log = polars.scan_parquet(files).filter(polars.col("id") % 8 == part)
        duration = (polars.col("seconds") * 1000).round().cast(polars.Int64)
        rows = distinct(log.select("id", "talkgroup", start=polars.col("time").to_physical() // 1000, milliseconds=duration))
        rows.sink_parquet(target / f"rows-{part}.parquet")


ENGINES = {engine.__name__: engine for engine in (pruner, duckdb, polars)}


def once(engine: str, folder: Path, target: Path) -> None:
    """The work of one process: folds and prints seconds and peak memory."""
    if engine == "pruner":
        from pruner.words.process import prepare_process

        prepare_process()
    files = sorted(folder.glob("day-*.parquet"))
    start = time.perf_counter()
    ENGINES[engine](files, target)
    seconds = time.perf_counter() - start
    used = resource.getrusage(resource.RUSAGE_SELF)
    print(json.dumps({"seconds": seconds, "processor": used.ru_utime + used.ru_stime, "peak": used.ru_maxrss * 1024}))


def measure(engine: str, folder: Path) -> dict[str, float]:
    """Runs an engine in a process of its own: seconds in all, seconds of the work (with imports), peak bytes."""
    target = folder / engine
    shutil.rmtree(target, ignore_errors=True)
    target.mkdir()
    start = time.perf_counter()
    command = [sys.executable, "-m", "benchmarks.fold", "--once", engine, "--folder", str(folder)]
    done = subprocess.run(command, check=True, stdout=subprocess.PIPE, text=True)
    return {"wall": time.perf_counter() - start} | json.loads(done.stdout)


def differing_rows(folder: Path, engine: str) -> tuple[int, int]:
    """Calls in the store of pruner, and how many are not the same in both results."""
    import duckdb

    columns = "id, talkgroup, start, milliseconds"
    store = f"select {columns} from read_parquet('{folder}/pruner/heard/dmr/*.parquet')"
    other = f"select {columns} from read_parquet('{folder}/{engine}/rows*.parquet')"
    with duckdb.connect() as session:
        session.execute("set memory_limit = '6GB'")
        count = session.execute(f"select count(*) from ({store})").fetchone()
        # In eight passes: the difference of 100 million rows does not fit otherwise.
        wrong = 0
        for part in range(8):
            one, two = (f"{rows} where id % 8 = {part}" for rows in (store, other))
            found = session.execute(
                f"select (select count(*) from (({one}) except all ({two}))) + "
                f"(select count(*) from (({two}) except all ({one})))"
            ).fetchone()
            wrong += (found or (1,))[0]
    return (count or (0,))[0], wrong


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m benchmarks.fold", description=__doc__)
    parser.add_argument("--rows", type=int, default=10_000_000)
    parser.add_argument("--repeats", type=int, default=1)
    parser.add_argument("--folder", type=Path, help="where the files stay (default: a temporary folder)")
    parser.add_argument("--engines", nargs="+", default=["pruner", "duckdb"], choices=list(ENGINES))
    parser.add_argument("--once", choices=list(ENGINES), help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.once:
        once(options.once, options.folder, options.folder / options.once)
        return 0
    with tempfile.TemporaryDirectory() as temporary:
        folder = (options.folder or Path(temporary)).absolute()
        folder.mkdir(parents=True, exist_ok=True)
        make_input(folder, options.rows)
        results: dict[str, list[dict[str, float]]] = {engine: [] for engine in options.engines}
        for _ in range(options.repeats):
            for engine in options.engines:
                results[engine].append(measure(engine, folder))
        middle = {engine: {key: median(run[key] for run in runs) for key in runs[0]} for engine, runs in results.items()}
        base = middle.get("duckdb")
        print(
            "| engine | seconds in all | to DuckDB | processor seconds | to DuckDB | peak memory, MB | million rows a second |"
        )
        print("|---|---|---|---|---|---|---|")
        for engine, figures in middle.items():
            ratio = {key: f"{figures[key] / base[key]:.2f}" if base else "" for key in ("wall", "processor")}
            rate = options.rows / figures["wall"] / 1e6
            print(
                f"| {engine} | {figures['wall']:.2f} | {ratio['wall']} | {figures['processor']:.2f} | {ratio['processor']} "
                f"| {figures['peak'] / 1e6:,.0f} | {rate:.1f} |"
            )
        is_same = True
        for engine in (name for name in options.engines if name != "pruner"):
            count, wrong = differing_rows(folder, engine)
            print(f"\n{engine}: {count:,} calls in the store, {wrong:,} differ")
            is_same = is_same and not wrong
        if "pruner" in results:
            size = sum(path.stat().st_size for path in (folder / "pruner" / "heard" / "dmr").glob("*.parquet"))
            print(f"pruner: {size / count:.2f} bytes a call" if len(results) > 1 else f"pruner: {size:,} bytes")
    return 0 if is_same else 1


if __name__ == "__main__":
    sys.exit(main())
