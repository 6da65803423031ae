"""One table file -> its records, in order, each run worked on in a pool of threads.

Receives a path and what the settings say of it, hands on what was understood and the results of a function over Records.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Collection, Iterator
from pathlib import Path
from typing import TypeVar

from pruner.read.kinds import STATIONS
from pruner.read.open_table import Answers, open_table
from pruner.read.parts import Jobs
from pruner.read.records import Records
from pruner.table.kinds import Kind
from pruner.table.opened import Held
from pruner.table.understanding import Understanding
from pruner.words import schema
from pruner.words.errors import NoRowsError
from pruner.words.threads import Future, Pool

Result = TypeVar("Result")


def read_directory(
    path: Path | Held,
    work: Callable[[Records], Result],
    pool: Pool,
    *,
    kind: Kind = STATIONS,
    system: str = "dmr",
    columns: Answers | None = None,
    encoding: str | None = None,
    coded: Collection[str] = schema.REPEATED_TEXT,
    ahead: int = 3,
    reached: Callable[[int], None] | None = None,
    understood: Callable[[Understanding], None] | None = None,
    with_unused: bool = False,
) -> Iterator[tuple[int, Result]]:
    """Reads a file of any supported kind; yields (first line of the run, work(records)) in the order of the file.

    `kind` says what columns mean; of delimited files only the columns in `coded` get one code per distinct text, which
    takes time but less memory; `ahead` is how many runs may be under way at once; `reached` hears how many
    bytes of the file were taken, `understood` which column holds what; `with_unused`: records have the columns of which nothing
    is made too, by `unused_name`. Raises InputRefusedError or SourceMissingError with one line.
    """
    opened = open_table(path, kind, system, columns or {}, encoding, coded, reached, with_unused)
    if understood is not None:
        understood(opened.understanding)
    count = 0
    for line, records, result in _in_order(opened.jobs, work, pool, ahead):
        count += records
        yield line, result
    if not count:
        raise NoRowsError(f"{path}: headings but no rows; expected {kind.table}")


def _in_order(
    jobs: Jobs,
    work: Callable[[Records], Result],
    pool: Pool,
    ahead: int,
) -> Iterator[tuple[int, int, Result]]:
    def run(job: Callable[[], Records]) -> tuple[int, int, Result]:
        records = job()
        return records.lines, records.count, work(records)

    waiting: deque[tuple[int, Future[tuple[int, int, Result]]]] = deque()
    line = 0
    for skipped, job in jobs:
        waiting.append((skipped, pool.submit(run, job)))
        if len(waiting) >= ahead:
            before, future = waiting.popleft()
            lines, count, result = future.result()
            yield line + before, count, result
            line += before + lines
    while waiting:
        before, future = waiting.popleft()
        lines, count, result = future.result()
        yield line + before, count, result
        line += before + lines
