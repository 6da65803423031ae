"""Counted calls of a day as a file that may be removed at any time, quick to write and to read.

Receives counted rows run by run, hands on some of their columns.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Final

import pyarrow as pa

from pruner.calls.parts import ROW, SHORT_ROW, of_day

#: Not packed: to pack it takes longer than to count.
_WRITE: Final = pa.ipc.IpcWriteOptions(use_threads=False)


def remember(path: Path, runs: Iterable[pa.Table], day: int, columns: Sequence[str]) -> pa.Table:
    """Writes rows of a day (`SHORT_ROW`) into a file that is there as a whole or not at all; nothing is lost where that is not
    possible. Hands on some columns of them (`ROW`)."""
    making = path.with_name(f"making-{os.getpid()}-{path.name}")
    wanted = [ROW.empty_table().select(list(columns))]
    with contextlib.ExitStack() as files:
        file = None
        try:
            path.parent.mkdir(exist_ok=True)
            sink = files.enter_context(pa.OSFile(str(making), "wb"))
            file = files.enter_context(pa.ipc.new_file(sink, SHORT_ROW, options=_WRITE))
        except OSError:
            pass
        for run in runs:
            wanted.append(of_day(run, day, columns))
            if file is not None:
                try:
                    file.write_table(run)
                except OSError:
                    file = None
    with contextlib.suppress(OSError):
        if file is not None:
            making.replace(path)
    with contextlib.suppress(OSError):
        making.unlink(missing_ok=True)
    return pa.concat_tables(wanted)


def remembered(path: Path, day: int, columns: Sequence[str]) -> pa.Table | None:
    """Some columns of what was written; None where that is not there or damaged."""
    kept = [name for name in columns if name != "day"]
    fields = [SHORT_ROW.get_field_index(name) for name in kept] or [0]
    options = pa.ipc.IpcReadOptions(included_fields=fields, use_threads=False)
    try:
        with pa.OSFile(str(path)) as file:
            table = pa.ipc.open_file(file, options=options).read_all()
    except (OSError, pa.ArrowInvalid):
        return None
    return of_day(table, day, columns)
