"""A heard log of any kind -> runs of records with the columns id, talkgroup, time and (if there) seconds.

Receives a file and what was taken of it before, hands on the records that are new. Delimited text and JSON lines may be packed
and may grow; Parquet and Arrow files are taken as a whole. Values stay as they were written: text, numbers, timestamps.
"""

from __future__ import annotations

import json
from collections import deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any, Final, TypeVar

from pruner.errors import InputRefusedError, SourceMissingError
from pruner.read.columnar import is_columnar
from pruner.read.delimited import parse, recode_lines, whole_records
from pruner.read.dialect import FALLBACK_ENCODING, Dialect, dialect_of
from pruner.read.directory import cut_table
from pruner.read.heard_columnar import WholeFile, columnar_runs
from pruner.read.heard_headings import needed
from pruner.read.json_records import JsonBlock, looks_like_json, parse_json
from pruner.read.kinds import HEARD
from pruner.read.log_identity import WHOLE, Beginning, Growing, taken_before
from pruner.read.records import Records
from pruner.read.stream import text_blocks

Result = TypeVar("Result")
_HEAD_BYTES: Final = 1 << 16


@dataclass(slots=True)
class Log:
    """A log, looked at but not read. `before`: what was taken of it earlier; `taken`: what is, once all runs were read."""

    path: Path
    before: Beginning
    _growing: Growing | WholeFile
    _jobs: Iterator[Callable[[], Records | None]]
    _ahead: int

    @property
    def taken(self) -> Beginning:
        """The beginning of the log that was handed out so far, with what was taken before."""
        return self._growing.beginning

    def runs(self, work: Callable[[Records], Result], pool: ThreadPoolExecutor) -> Iterator[tuple[int, Result]]:
        """(lines of the file before the run, work(records)) in the order of the log; `work` is done in the pool."""
        line = self.before.lines

        def run(job: Callable[[], Records | None]) -> tuple[int, Result] | None:
            records = job()
            return (records.lines, work(records)) if records is not None else None

        # The runs of a whole file are unpacked one after the other, in a thread of their own.
        reader = ThreadPoolExecutor(max_workers=1) if self.before.kind == WHOLE else None
        waiting: deque[Future[tuple[int, Result] | None]] = deque()
        for job in self._jobs:
            waiting.append(pool.submit(run, reader.submit(job).result if reader else job))
            if len(waiting) < self._ahead:
                continue
            done = waiting.popleft().result()
            if done is None:
                break
            yield line, done[1]
            line += done[0]
        while waiting:
            done = waiting.popleft().result()
            if done is not None:
                yield line, done[1]
                line += done[0]
        if reader:
            reader.shutdown()


def open_log(path: Path, columns: Mapping[str, str | int], known: Sequence[Beginning], *, is_finished: bool) -> Log | None:
    """Looks at a log; None when it is empty or a whole file that was taken. A text with nothing new has no runs.

    `is_finished`: nobody writes to the file any more, so that a last line without line feed is a whole one. Raises
    InputRefusedError or SourceMissingError with one line.
    """
    try:
        if not path.stat().st_size:
            return None
    except OSError as error:
        raise SourceMissingError(f"{path}: cannot be read ({error.strerror}); check the location") from error
    if is_columnar(path):
        found = columnar_runs(path, columns, known)
        return Log(path, Beginning(WHOLE), *found, 3) if found else None
    growing, has_more = taken_before(partial(text_blocks, path, None), known)
    before = growing.beginning
    if before.length and not has_more:
        return Log(path, before, growing, iter(()), 1)
    head = _head(path) if has_more else b""
    if not head.strip():
        return None
    lines = _complete_lines(text_blocks(path, None), growing, before.length, is_finished)
    text = recode_lines(head)[0].decode(errors="replace")
    jobs = (
        _json_jobs(text, lines, columns, path) if looks_like_json(head) else _delimited_jobs(text, lines, before, columns, path)
    )
    return Log(path, before, growing, jobs, 3)


def is_packed(path: Path) -> bool:
    """Whether a file is packed (gzip, zstd, zip), and so has an end of its own."""
    with path.open("rb") as file:
        return file.read(4).startswith((b"\x1f\x8b", b"\x28\xb5\x2f\xfd", b"PK\x03\x04"))


def _head(path: Path) -> bytes:
    head = b""
    for block in text_blocks(path, None):
        head += block[:_HEAD_BYTES]
        if len(head) >= _HEAD_BYTES:
            break
    return head


def _complete_lines(blocks: Iterator[bytes], growing: Growing, skipped: int, is_finished: bool) -> Iterator[bytes]:
    """Whole lines behind the first `skipped` bytes; everything up to the last of them is marked as taken."""
    held = b""
    for block in blocks:
        old = min(skipped, len(block))
        skipped -= old
        text = held + block[old:]
        end = text.rfind(b"\n") + 1
        held = text[end:]
        if end:
            growing.take(text[:end])
            yield text[:end]
    if held and is_finished:
        growing.take(held)
        yield held


def _delimited_jobs(
    head: str, lines: Iterator[bytes], before: Beginning, columns: Mapping[str, str | int], path: Path
) -> Iterator[Callable[[], Records]]:
    dialect = _dialect(head, columns, str(path))
    skipped = max(0, dialect.heading_lines - before.lines)
    for block in whole_records(_without_lines(lines, skipped), dialect.delimiter):
        yield partial(_parse_delimited, block, dialect, skipped)
        skipped = 0


def _parse_delimited(block: Any, dialect: Dialect, skipped: int) -> Records:
    records = parse(block, dialect)
    if skipped:
        origin = records.origin
        records.origin = lambda indices: [(line + skipped, text) for line, text in origin(indices)]
        records.lines += skipped
    return records


def _without_lines(blocks: Iterator[bytes], count: int) -> Iterator[bytes]:
    for block in blocks:
        while count and block:
            _, found, block = block.partition(b"\n")
            count -= 1 if found else 0
        if block:
            yield block


def _dialect(head: str, columns: Mapping[str, str | int], where: str) -> Dialect:
    return dialect_of(cut_table(head, [], HEARD, "dmr", columns, where), (), FALLBACK_ENCODING)


def _json_jobs(
    head: str, lines: Iterator[bytes], columns: Mapping[str, str | int], path: Path
) -> Iterator[Callable[[], Records]]:
    if head.lstrip().startswith("["):
        raise InputRefusedError(f"{path}: a JSON list; expected JSON lines, one object on each line")
    names: dict[str, None] = {}
    for line in head.split("\n")[:200]:
        try:
            record = json.loads(line)
        except ValueError:
            continue
        if isinstance(record, dict):
            names.update(dict.fromkeys(record))
    known = list(names)
    mapping = {meaning: known[place] for meaning, place in needed(known, columns, str(path)).items()}
    for block in lines:
        yield partial(_parse_json_lines, block, mapping)


def _parse_json_lines(block: bytes, mapping: dict[str, str]) -> Records:
    texts = block.split(b"\n")
    numbers = [number for number, text in enumerate(texts, start=1) if text.strip()]
    records = parse_json(JsonBlock([texts[number - 1] for number in numbers], numbers), mapping)
    records.lines = block.count(b"\n")
    return records
