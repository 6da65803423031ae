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

from pruner.calls.parts import SHORT_ROW

#: Not packed: to pack it takes longer than to count.
_WRITE: Final = pa.ipc.IpcWriteOptions(use_threads=False)


def remember(path: Path, runs: Iterable[pa.Table], columns: Sequence[str]) -> pa.Table:
    """Writes rows of a day (`SHORT_ROW`) into a file that is there as a whole or not at all; nothing is lost where that is not
    possible. Hands on some columns of them, where it can be as they lie in the file."""
    making = path.with_name(f"making-{os.getpid()}-{path.name}")
    wanted = [SHORT_ROW.empty_table().select(list(columns))]
    with contextlib.ExitStack() as files:
        file = None
        try:
            path.parent.mkdir(exist_ok=True)
            sink = files.enter_context(pa.OSFile(str(making), "wb"))
            file = files.enter_context(pa.ipc.new_file(sink, SHORT_ROW, options=_WRITE))
        except OSError:
            pass
        for run in runs:
            wanted.append(run.select(list(columns)))
            if file is not None:
                try:
                    file.write_table(run)
                except OSError:
                    file = None
    mapped = None
    with contextlib.suppress(OSError):
        if file is not None:
            making.replace(path)
            mapped = remembered(path, columns)
    with contextlib.suppress(OSError):
        making.unlink(missing_ok=True)
    return pa.concat_tables(wanted) if mapped is None else mapped


def remembered(path: Path, columns: Sequence[str]) -> pa.Table | None:
    """Some columns of what was written (`SHORT_ROW`), as they lie in the file: no copy is made, and they stay where the file is
    removed. None where it is not there or damaged."""
    fields = [SHORT_ROW.get_field_index(name) for name in columns]
    options = pa.ipc.IpcReadOptions(included_fields=fields, use_threads=False)
    try:
        with pa.memory_map(str(path)) as file:
            return pa.ipc.open_file(file, options=options).read_all().select(list(columns))
    except (OSError, pa.ArrowInvalid):
        return None
