"""One source -> its records, in order, each run worked on in a pool of threads.

Receives a path and what the settings say of it, hands on the results of a function over Records.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Collection, Iterator, Mapping
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import replace
from functools import partial
from itertools import chain
from pathlib import Path
from typing import TypeVar

from pruner import schema
from pruner.errors import InputRefusedError
from pruner.read.columnar import columnar_batches, is_columnar
from pruner.read.delimited import parse, recode_lines, whole_records
from pruner.read.dialect import sniff
from pruner.read.headings import STATIONS, Vocabulary
from pruner.read.json_records import json_blocks, looks_like_json, parse_json
from pruner.read.records import Records
from pruner.read.stream import text_blocks

Result = TypeVar("Result")
_HEAD_BYTES = 1 << 16


def read_directory(
    path: Path,
    work: Callable[[Records], Result],
    pool: ThreadPoolExecutor,
    *,
    columns: Mapping[str, str | int] | None = None,
    encoding: str | None = None,
    vocabulary: Vocabulary = STATIONS,
    coded: Collection[str] = schema.REPEATED_TEXT,
    ahead: int = 3,
    reached: Callable[[int], None] | None = None,
) -> Iterator[tuple[int, Result]]:
    """Reads a file of any supported kind; yields (first line of the run, work(records)) in the order of the file.

    `vocabulary` says what headings mean; of delimited files only the columns in `coded` get one code per distinct text, which
    takes time but less memory; `ahead` is how many runs may be under way at once; `reached` is told how many
    bytes of the file were taken. Raises InputRefusedError or SourceMissingError with one line.
    """
    count = 0
    jobs = _jobs(path, columns or {}, encoding, vocabulary, reached, coded)
    for line, records, result in _in_order(jobs, work, pool, ahead):
        count += records
        yield line, result
    if not count:
        raise InputRefusedError(f"{path}: headings but no rows; expected {vocabulary.table}")


def _jobs(
    path: Path,
    columns: Mapping[str, str | int],
    encoding: str | None,
    vocabulary: Vocabulary,
    reached: Callable[[int], None] | None,
    coded: Collection[str] = schema.REPEATED_TEXT,
) -> Iterator[tuple[int, Callable[[], Records]]]:
    if is_columnar(path):
        for batch in columnar_batches(path, columns, vocabulary):
            yield 0, partial(_same, batch)
        return
    blocks = text_blocks(path, encoding, reached)
    head = b""
    taken: list[bytes] = []
    for block in blocks:
        taken.append(block)
        head += block[:_HEAD_BYTES]
        if len(head) >= _HEAD_BYTES:
            break
    if not head.strip():
        raise InputRefusedError(f"{path}: the file is empty; expected {vocabulary.table}")
    stream = chain(taken, blocks)
    if looks_like_json(head):
        for json_block, mapping in json_blocks(stream, columns, str(path), vocabulary):
            yield 0, partial(parse_json, json_block, mapping)
        return
    dialect = replace(sniff(recode_lines(head)[0].decode(errors="replace"), columns, str(path), vocabulary), coded=coded)
    for number, whole in enumerate(whole_records(_skip_lines(stream, dialect.heading_lines), dialect.delimiter)):
        yield dialect.heading_lines if number == 0 else 0, partial(parse, whole, dialect)


def _same(records: Records) -> Records:
    return records


def _skip_lines(stream: Iterator[bytes], count: int) -> Iterator[bytes]:
    for block in stream:
        while count and block:
            _, found, block = block.partition(b"\n")
            count -= 1 if found else 0
        if block:
            yield block


def _in_order(
    jobs: Iterator[tuple[int, Callable[[], Records]]],
    work: Callable[[Records], Result],
    pool: ThreadPoolExecutor,
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
