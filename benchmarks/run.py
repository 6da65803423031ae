"""Times the same job in several engines: `python -m benchmarks.run --rows 330000`.

Makes the input once, runs every engine in a fresh process (in turn, as often as asked), checks that all wrote
the same contacts and the same ledger, and prints a table of medians.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from statistics import median

#: Rows above which pandas is left out: it would need more memory than the machine has.
LARGE = 5_000_000


def measure(engine: str, folder: Path, rows: int, limit: int) -> dict[str, float]:
    """`wall`: seconds of the whole process; `seconds`: after imports; `cpu`: processor seconds; `peak`: memory in bytes."""
    shutil.rmtree(folder / engine, ignore_errors=True)
    if engine not in ("make_input", "pruner"):
        (folder / engine).mkdir()
    command = [sys.executable, "-m", "benchmarks.engine", engine, str(folder), str(rows), str(limit)]
    start = time.perf_counter()
    # Python keeps compiled modules unless it is told not to; all engines start as they do for a user, from the second time on.
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    done = subprocess.run(command, check=True, stdout=subprocess.PIPE, text=True, env=environment)
    wall = time.perf_counter() - start
    return {"wall": wall} | json.loads(done.stdout)


def differences(folder: Path, engine: str) -> list[str]:
    """Where the output of an engine is not that of pruner, column by column."""
    import polars

    found = []
    for name, read in (("contacts.csv", polars.scan_csv), ("ledger.parquet", polars.scan_parquet)):
        options = {"infer_schema": False} if name.endswith("csv") else {}
        one, other = (read(folder / which / name, **options) for which in ("pruner", engine))
        columns = one.collect_schema().names()
        if columns != other.collect_schema().names():
            found.append(f"{name}: columns {columns} and {other.collect_schema().names()}")
            continue
        for column in columns:
            as_text = polars.col(column).cast(polars.String)
            if not one.select(as_text).collect().equals(other.select(as_text).collect()):
                found.append(f"{name}: {column}")
    return found


def table(results: dict[str, list[dict[str, float]]]) -> str:
    """The medians as a Markdown table; ratios are those of the time in all, and of the processor's time to the floor's."""
    middle = {engine: {key: median(run[key] for run in runs) for key in runs[0]} for engine, runs in results.items()}
    lines = [
        "| engine | seconds in all | after imports | to DuckDB | to the floor | CPU seconds | to the floor | peak memory, MB |",
        "|---|---|---|---|---|---|---|---|",
    ]
    for engine, figures in middle.items():
        compared = (("wall", "duckdb"), ("wall", "floor"), ("cpu", "floor"))
        ratios = [figures[key] / middle[base][key] if base in middle else 0 for key, base in compared]
        shown = [f"{ratio:.2f}" if ratio else "" for ratio in ratios]
        lines.append(
            f"| {engine} | {figures['wall']:.2f} | {figures['seconds']:.2f} | {shown[0]} | {shown[1]} "
            f"| {figures['cpu']:.2f} | {shown[2]} | {figures['peak'] / 1e6:,.0f} |"
        )
    return "\n".join(lines)


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m benchmarks.run", description=__doc__)
    parser.add_argument("--rows", type=int, default=330_000)
    parser.add_argument("--limit", type=int, help="contacts that are kept (default: 3 in 5 rows, at most 500000)")
    parser.add_argument("--repeats", type=int, default=3)
    parser.add_argument("--folder", type=Path, help="where the files stay (default: a temporary folder)")
    parser.add_argument("--engines", nargs="+", default=["pruner", "duckdb", "pandas", "floor"])
    options = parser.parse_args()
    limit = options.limit or min(500_000, options.rows * 3 // 5)
    engines = [name for name in options.engines if name != "pandas" or options.rows <= LARGE]
    with tempfile.TemporaryDirectory() as temporary:
        folder = (options.folder or Path(temporary)).absolute()
        folder.mkdir(parents=True, exist_ok=True)
        measure("make_input", folder, options.rows, limit)
        results: dict[str, list[dict[str, float]]] = {engine: [] for engine in engines}
        for _ in range(options.repeats):
            for engine in engines:
                results[engine].append(measure(engine, folder, options.rows, limit))
        load = os.getloadavg()[0]
        print(f"{options.rows:,} rows, {limit:,} kept, median of {options.repeats}, load {load:.1f}\n\n{table(results)}")
        is_same = True
        for engine in (name for name in engines if name not in ("pruner", "floor")):
            wrong = differences(folder, engine) if "pruner" in engines else ["pruner was not run"]
            print(f"\n{engine}: " + ("same contacts and ledger as pruner" if not wrong else "; ".join(wrong)))
            is_same = is_same and not wrong
    return 0 if is_same else 1


if __name__ == "__main__":
    sys.exit(main())
