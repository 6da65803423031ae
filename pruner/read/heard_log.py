"""A heard log of any kind -> runs of records with the columns id, talkgroup, time and (if there) seconds.

Receives a file and what was taken of it before, hands on the records that are new. Delimited text and JSON lines may be packed
and may grow; Parquet and Arrow files are taken as a whole. Values stay as they were written: text, numbers, timestamps.
"""

from __future__ import annotations

import csv
import json
from collections import deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any, Final, TypeVar

import pyarrow as pa
import pyarrow.ipc
import pyarrow.parquet as parquet

from pruner.errors import InputRefusedError, SourceMissingError
from pruner.read.columnar import is_columnar
from pruner.read.delimited import parse, recode_lines, whole_records
from pruner.read.dialect import DELIMITERS, Dialect, sniff
from pruner.read.heard_headings import needed, understand
from pruner.read.json_records import JsonBlock, looks_like_json, parse_json
from pruner.read.log_identity import WHOLE, Beginning, Growing, taken_before
from pruner.read.records import Indices, Records
from pruner.read.stream import text_blocks

Result = TypeVar("Result")
_HEAD_BYTES: Final = 1 << 16
_ROWS: Final = 1 << 18
_FILE_BLOCK: Final = 1 << 22


@dataclass(slots=True)
class Log:
    """A log, looked at but not read. `before`: what was taken of it earlier; `taken`: what is, once all runs were read."""

    path: Path
    before: Beginning
    _growing: Growing
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

        waiting: deque[Future[tuple[int, Result] | None]] = deque()
        for job in self._jobs:
            waiting.append(pool.submit(run, job))
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


def open_log(path: Path, columns: Mapping[str, str | int], known: Sequence[Beginning], *, is_finished: bool) -> Log | None:
    """Looks at a log; None when it is empty or holds nothing new.

    `is_finished`: nobody writes to the file any more, so that a last line without line feed is a whole one. Raises
    InputRefusedError or SourceMissingError with one line.
    """
    try:
        if not path.stat().st_size:
            return None
    except OSError as error:
        raise SourceMissingError(f"{path}: cannot be read ({error.strerror}); check the location") from error
    if is_columnar(path):
        return _columnar(path, columns, known)
    growing, has_more = taken_before(partial(text_blocks, path, None), known)
    before = growing.beginning
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
    """The dialect of a log: the headings are understood here, the rest is found as for directories."""
    if columns and all(isinstance(value, int) for value in columns.values()):
        dialect = sniff(head, columns, where)
        return replace(dialect, positions={name: dialect.positions[name] for name in columns})
    first = next((line for line in head.split("\n") if line.strip() and not line.startswith("sep=")), "")
    best: list[str] = []
    most = -1
    for delimiter in DELIMITERS:
        names = next(csv.reader([first], delimiter=delimiter), [])
        try:
            found = len(understand(names, columns))
        except KeyError:
            continue
        if found > most or (found == most and len(names) > len(best)):
            best, most = names, found
    if first.lstrip().startswith("<"):
        raise InputRefusedError(f"{where}: this is a page or markup, not a log; get the log itself")
    positions = needed(best or next(csv.reader([first]), []), columns, where)
    dialect = sniff(head, {meaning: best[place] for meaning, place in positions.items()}, where)
    return replace(dialect, positions=positions)


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


def _columnar(path: Path, columns: Mapping[str, str | int], known: Sequence[Beginning]) -> Log | None:
    growing = Growing(WHOLE)
    for block in _file_blocks(path):
        growing.take(block)
    beginning = growing.beginning
    if any(one.kind == WHOLE and one.digest == beginning.digest for one in known):
        return None
    try:
        is_parquet = next(_file_blocks(path)).startswith(b"PAR1")
        reader: Any = (
            parquet.ParquetFile(path, pre_buffer=False) if is_parquet else pyarrow.ipc.open_file(pa.memory_map(str(path)))
        )
    except (pa.ArrowInvalid, OSError) as error:
        raise _damaged(path) from error
    names = (reader.schema_arrow if is_parquet else reader.schema).names
    if any(isinstance(value, int) for value in columns.values()):
        raise InputRefusedError(f"{path}: columns gives positions, but the file names its columns; give their names")
    positions = needed(names, columns, str(path))
    types = (reader.schema_arrow if is_parquet else reader.schema).types
    for place in positions.values():
        if not _is_readable(types[place]):
            raise InputRefusedError(f"{path}: column {names[place]!r} holds neither numbers, text nor times; write it as text")
    batches = _batches(reader, {meaning: names[place] for meaning, place in positions.items()}, path)
    # One run at a time is unpacked, in another thread than that which folds the one before it.
    return Log(path, Beginning(WHOLE), growing, _serial(batches), 2)


def _is_readable(kind: pa.DataType) -> bool:
    if pa.types.is_dictionary(kind):
        kind = kind.value_type
    tests = (pa.types.is_integer, pa.types.is_floating, pa.types.is_timestamp, pa.types.is_string, pa.types.is_large_string)
    return kind in (pa.null(), pa.date32(), pa.string_view()) or any(test(kind) for test in tests)


def _serial(batches: Iterator[Records]) -> Iterator[Callable[[], Records | None]]:
    is_over = False

    def job() -> Records | None:
        nonlocal is_over
        records = next(batches, None)
        is_over = records is None
        return records

    while not is_over:
        yield job


def _file_blocks(path: Path) -> Iterator[bytes]:
    try:
        with path.open("rb") as file:
            while block := file.read(_FILE_BLOCK):
                yield block
    except OSError as error:
        raise SourceMissingError(f"{path}: cannot be read ({error.strerror}); check the location") from error


def _batches(reader: Any, names: dict[str, str], path: Path) -> Iterator[Records]:
    wanted = list(names.values())
    try:
        if isinstance(reader, parquet.ParquetFile):
            found: Iterator[pa.RecordBatch] = reader.iter_batches(batch_size=_ROWS, columns=wanted, use_threads=False)
        else:
            found = (reader.get_batch(index).select(wanted) for index in range(reader.num_record_batches))
        for batch in found:
            yield _as_records({meaning: batch.column(name) for meaning, name in names.items()}, batch.num_rows)
    except (pa.ArrowInvalid, OSError) as error:
        raise _damaged(path) from error
    finally:
        if isinstance(reader, parquet.ParquetFile):
            reader.close()


def _as_records(columns: dict[str, pa.Array], count: int) -> Records:
    plain = {
        name: array.dictionary_decode() if pa.types.is_dictionary(array.type) else array for name, array in columns.items()
    }

    def origin(indices: Indices) -> list[tuple[int, str]]:
        rows = pa.table(plain).take(pa.array(indices)).to_pylist()
        texts = [",".join("" if value is None else str(value) for value in row.values()) for row in rows]
        return list(zip((indices + 1).tolist(), texts, strict=True))

    return Records(count, plain, origin=origin, lines=count)


def _damaged(path: Path) -> InputRefusedError:
    return InputRefusedError(f"{path}: the file is damaged or ends early; get it again")
