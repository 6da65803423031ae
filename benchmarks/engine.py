"""One engine, once, in a process of its own (`python -m benchmarks.engine NAME FOLDER ROWS LIMIT`).

Receives the files that `benchmarks.run` made in FOLDER; writes into FOLDER/NAME and prints one line of JSON:
seconds after imports, processor seconds of the whole process (all cores, imports included) and the peak of its memory in
bytes.
"""

from __future__ import annotations

import json
import resource
import sys
import time
from collections.abc import Callable
from pathlib import Path

Work = Callable[[], object]


def make_input(folder: Path, rows: int, limit: int) -> Work:
    """Not an engine: the input, the settings, and the reference tables as the other engines get them."""
    from benchmarks.directory import COUNTRIES, NEIGHBOURS_OF_AUSTRIA, write_directory

    def work() -> None:
        if not (folder / "stations.csv").exists():
            write_directory(folder / "stations.csv", rows)
        reference = {
            "text": {name: code for name, code, _, _ in COUNTRIES},
            "digits": {str(digits): code for _, code, digits, _ in COUNTRIES},
            "prefix": {prefix: code for _, code, _, prefix in COUNTRIES},
            "keep": [["home", ["AT"]], ["neighbours", NEIGHBOURS_OF_AUSTRIA], ["the rest", None]],
        }
        (folder / "reference.json").write_text(json.dumps(reference))
        (folder / "pruner.toml").write_text(
            f"""[home]
country = "AT"
[[source]]
name = "world"
location = "stations.csv"
[[keep]]
name = "home"
countries = ["home"]
order = "id"
[[keep]]
name = "neighbours"
neighbours_of = ["home"]
order = "id"
[[keep]]
name = "the rest"
order = "id"
[[radio]]
name = "pruner"
contacts = {limit}
[output]
folder = "."
"""
        )

    return work


def pruner(folder: Path, rows: int, limit: int) -> Work:
    """One library call, in a process prepared as that of the command."""
    from pruner.words.process import prepare_process

    prepare_process()
    from pruner.job import run
    from pruner.settings.load import load_settings

    return lambda: run(load_settings(folder / "pruner.toml"))


def duckdb(folder: Path, rows: int, limit: int) -> Work:
    """The SQL version that the tests compare with."""
    from benchmarks.duckdb_job import Tables, run_file
    from benchmarks.duckdb_rules import Rule

    reference = json.loads((folder / "reference.json").read_text())
    digits = {int(key): code for key, code in reference["digits"].items()}
    tables = Tables(reference["text"], digits, reference["prefix"])
    keep = [Rule(name, countries=countries, order="id") for name, countries in reference["keep"]]
    return lambda: run_file(folder / "stations.csv", tables, [], keep, limit, folder / "duckdb")


def pandas(folder: Path, rows: int, limit: int) -> Work:
    """The job by hand."""
    from benchmarks.pandas_job import run_file

    reference = json.loads((folder / "reference.json").read_text())
    keep = [(name, countries) for name, countries in reference["keep"]]
    return lambda: run_file(folder / "stations.csv", reference["text"], keep, limit, folder / "pandas")


def floor(folder: Path, rows: int, limit: int) -> Work:
    """No job at all: the cells read and written again."""
    import polars

    source, target = folder / "stations.csv", folder / "floor" / "contacts.csv"
    return lambda: polars.scan_csv(source, infer_schema=False).sink_csv(target)


ENGINES = {work.__name__: work for work in (make_input, pruner, duckdb, pandas, floor)}


def main() -> None:
    name, folder, rows, limit = sys.argv[1], Path(sys.argv[2]), int(sys.argv[3]), int(sys.argv[4])
    work = ENGINES[name](folder, rows, limit)
    start = time.perf_counter()
    work()
    seconds = time.perf_counter() - start
    used = resource.getrusage(resource.RUSAGE_SELF)
    print(json.dumps({"seconds": seconds, "cpu": used.ru_utime + used.ru_stime, "peak": used.ru_maxrss * 1024}))


if __name__ == "__main__":
    main()
