"""A heard log of any kind -> runs of records with the columns of `kinds.HEARD`; date and time of day are one column, `time`.

Receives a file and what was taken of it before, hands on the records that are new. Delimited text and JSON lines may be packed
and may grow; any other JSON text, Parquet and Arrow files, workbooks, databases and pages are taken as a whole. Values stay as
they were written: text, numbers, timestamps.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import nullcontext, suppress
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Final, TypeVar

from pruner.read.columnar import is_columnar
from pruner.read.log_identity import WHOLE, Beginning, Growing, WholeFile, taken_before
from pruner.read.sample import HEAD_BYTES
from pruner.read.stream import beginning, refuse_no_table, text_blocks
from pruner.table.containers import is_tar, parts_of
from pruner.table.magic import OLD_OFFICE, SQLITE
from pruner.table.no_table import packing
from pruner.table.open_file import is_made_of_records, is_made_of_tables
from pruner.table.opened import TextTable
from pruner.table.unpack import faults
from pruner.words.errors import InputRefusedError, SourceMissingError
from pruner.words.threads import Future, Pool, Work

if TYPE_CHECKING:
    from pruner.read.heard_columns import LogColumns
    from pruner.read.records import Records

Result = TypeVar("Result")
Jobs = Iterator[Callable[[], "Records | None"]]
_PACKING_BYTES: Final = 512


@dataclass(slots=True)
class Log:
    """A log, looked at but not read. `before`: what was taken of it earlier; `taken`: what is, once all runs were read;
    `columns`: what was understood of it, None where it holds nothing new."""

    path: Path
    before: Beginning
    _growing: Growing | WholeFile
    _jobs: Jobs
    _ahead: int
    columns: LogColumns | None = None

    @property
    def taken(self) -> Beginning:
        """The beginning of the log that was handed out so far, with what was taken before."""
        return self._growing.beginning

    def runs(self, work: Callable[[Records], Result], pool: Pool) -> Iterator[tuple[int, Result]]:
        """(lines of the file before the run, work(records)) in the order of the log; `work` is done in the pool."""
        line = self.before.lines

        def run(job: Callable[[], Records | None]) -> tuple[int, Result] | None:
            records = job()
            return (records.lines, work(records)) if records is not None else None

        # The runs of a whole file are unpacked one after the other, in a thread of their own.
        with Pool(Work.UNPACKING) if self.before.kind == WHOLE else nullcontext() as reader:
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


def open_log(
    path: Path,
    columns: Mapping[str, str | int],
    known: Sequence[Beginning],
    *,
    is_finished: bool,
    system: str = "dmr",
    order: str = "",
    pattern: str = "",
) -> Log | None:
    """Looks at a log; None when it is empty or a whole file that was taken. A text with nothing new has no runs.

    `is_finished`: nobody writes to the file any more, so that a last line without line feed is a whole one; `order`: how dates
    in numbers are written, as the settings say (`date_texts.ORDERS`; "": the file decides). Raises InputRefusedError or
    SourceMissingError with one line.
    """
    try:
        if not path.stat().st_size:
            return None
    except OSError as error:
        raise SourceMissingError(f"{path}: cannot be read ({error.strerror}); check the location") from error
    if is_columnar(path):
        return _whole(path, known, partial(_columnar_log, path, columns, system, order))
    if holds_tables(path):
        return _whole(path, known, partial(_tables_log, path, columns, system, order))
    growing, has_more = taken_before(partial(text_blocks, path, None), known)
    before = growing.beginning
    if before.length and not has_more:
        return Log(path, before, growing, iter(()), 1)
    # For logs that hold something new.
    from pruner.read.heard_json import is_behind_text, is_json_lines, json_lines_log, json_value_log
    from pruner.read.heard_sections import sections_of
    from pruner.read.heard_text import delimited_log
    from pruner.read.json_records import looks_like_json

    head = beginning(path, HEAD_BYTES) if has_more else b""
    if not is_finished:
        # A last line that may not be whole yet is not looked at, unless the text is one JSON value or a page.
        head = head if looks_like_json(head) or is_made_of_tables(head.lstrip()) else head[: head.rfind(b"\n") + 1]
    if not head.strip():
        return None
    if not pattern and is_made_of_tables(head.lstrip()):
        return _whole(path, known, partial(_tables_log, path, columns, system, order))
    if not pattern:
        refuse_no_table(path, head)
    sections = [] if pattern or columns else sections_of(head, partial(text_blocks, path, None), path.stat().st_mtime)
    if sections:
        from pruner.read.heard_tables import log_of_tables  # for the few logs whose headings change

        opened_parts = partial(log_of_tables, path, sections, columns, system, order, are_sections=True)
        return _whole(path, known, opened_parts)
    is_json = not pattern and (looks_like_json(head) or is_behind_text(head))
    if is_json and not is_json_lines(head):
        return _whole(path, known, partial(json_value_log, path, columns, system, order))
    if pattern:
        from pruner.read.heard_pattern import pattern_log  # for logs that need one

        opened = pattern_log(path, head, pattern, system, order)
    else:
        try:
            opened = (json_lines_log if is_json else delimited_log)(path, head, columns, system, order)
        except InputRefusedError:
            again = None if is_json else _read_otherwise(path, head, columns, system, order)
            if again is None:
                raise
            return _whole(path, known, lambda: again)
    lines = _complete_lines(text_blocks(path, None), growing, before.length, is_finished)
    return Log(path, before, growing, opened.jobs(lines, before.lines), 3, opened.columns)


def _read_otherwise(
    path: Path, head: bytes, columns: Mapping[str, str | int], system: str, order: str
) -> tuple[LogColumns, Jobs] | None:
    """A text that is no table as it stands: records of names and values in lines, or a table whose day stands in a title; None
    where it is neither. Raises as `open_log`."""
    from pruner.read.dated_tables import with_date  # here and below: for the few logs that are so written
    from pruner.read.heard_tables import log_of_tables

    if is_made_of_records(head):
        return _tables_log(path, columns, system, order)
    written = path.stat().st_mtime
    if with_date(TextTable("", lambda: iter((head,))), written) is None:
        return None
    dated = with_date(TextTable("", partial(text_blocks, path, None)), written)
    with suppress(InputRefusedError):
        return log_of_tables(path, [dated], columns, system, order) if dated else None
    return None


def holds_tables(path: Path) -> bool:
    """Whether a file is a workbook, a database or an archive with several members. Raises as `open_log`."""
    with faults(path), path.open("rb") as file:
        head = file.read(_PACKING_BYTES)
    kind = packing(head)
    if not kind and not is_tar(head):
        return head.startswith((SQLITE, OLD_OFFICE))
    if kind == "zip":
        from pruner.table.open_workbook import kind_of_zip  # for the few logs that are zip files

        if kind_of_zip(path) == "workbook":
            return True
    return len(parts_of(path)) > 1


def _columnar_log(path: Path, columns: Mapping[str, str | int], system: str, order: str) -> tuple[LogColumns, Jobs]:
    from pruner.read.heard_columnar import columnar_log  # for those that hold something new

    return columnar_log(path, columns, system, order)


def _tables_log(path: Path, columns: Mapping[str, str | int], system: str, order: str) -> tuple[LogColumns, Jobs]:
    from pruner.read.heard_tables import tables_log  # for the few logs that are no text

    return tables_log(path, columns, system, order)


def _whole(path: Path, known: Sequence[Beginning], opened: Callable[[], tuple[LogColumns, Jobs]]) -> Log | None:
    """A file that is taken as a whole; None where it was."""
    whole = WholeFile(path)
    if whole.is_among(known):
        return None
    columns, jobs = opened()
    return Log(path, Beginning(WHOLE), whole, jobs, 3, columns)


def is_empty(path: Path) -> bool:
    """Whether nothing stands in a file, or nothing but white space where a text begins. Raises as `open_log`."""
    if not path.stat().st_size:
        return True
    return not is_columnar(path) and not holds_tables(path) and not beginning(path, HEAD_BYTES).strip()


def is_packed(path: Path) -> bool:
    """Whether a file is packed, and so has an end of its own."""
    with path.open("rb") as file:
        return bool(packing(file.read(_PACKING_BYTES)))


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
