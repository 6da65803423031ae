"""Heard logs that lie on a cluster: their distinct rows are found there, brought here and folded as any log.

Receives an address and paths as the cluster knows them, hands on what became of the rows. Only rows that are alike in every
column that counts are made one on the cluster, and of a call with several durations the longest is kept, as `calls.calls` says;
all else is judged here, so the calls are those of a fold of the same files on this machine.
"""

from __future__ import annotations

import math
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import pyarrow as pa
import pyarrow.parquet as parquet

from pruner.logs.files import FoldResult, LogFiles
from pruner.logs.fold import KEEP_DAYS, fold_logs
from pruner.read.columnar import identify_names
from pruner.read.heard_columnar import cells_as_text
from pruner.read.heard_kind import HEARD
from pruner.read.heard_meanings import SECONDS, TIME
from pruner.sources.cluster import asking, cluster
from pruner.words.errors import InputRefusedError, SettingsError, SourceMissingError
from pruner.words.progress import Progress, silent

FORMATS: Final = ("parquet", "orc", "csv", "json")
_SAMPLED: Final = 200
#: Rows that are brought here at once.
_AT_ONCE: Final = 1 << 22
#: No call lasts longer than a day, in any unit.
_LONGEST_SECONDS: Final = 86_400
_APART: Final = "duration that tells calls apart"
_NUMBERS: Final = ("tinyint", "smallint", "int", "bigint", "float", "double")


@dataclass(frozen=True, slots=True)
class ClusterLogs:
    """Paths on a cluster that are written alike; `format` one of `FORMATS`, the others as in `LogFiles`."""

    paths: Sequence[str]
    format: str = "parquet"
    system: str = "dmr"
    zone: str = "UTC"
    columns: Mapping[str, str | int] | None = None
    dates: str = ""


@dataclass(frozen=True, slots=True)
class ClusterResult:
    """`rows` of the logs on the cluster, of which `brought` distinct ones were folded here."""

    rows: int
    brought: int
    folded: FoldResult

    @property
    def repeated(self) -> int:
        """Rows that say the same as another one."""
        return self.rows - self.brought

    def plain(self) -> dict[str, object]:
        """For JSON."""
        return {"rows": self.rows, "brought": self.brought, "repeated": self.repeated, **self.folded.plain()}


def fold_on_cluster(
    state: Path, address: str, logs: ClusterLogs, progress: Progress = silent, *, keep_days: int = KEEP_DAYS
) -> ClusterResult:
    """Folds logs on a cluster into the store under a state folder.

    Raises what `sources.cluster.cluster` and `logs.fold.fold_logs` raise, and SourceMissingError where nothing is at a path.
    """
    if logs.format not in FORMATS:
        raise SettingsError(f"heard cluster: --format {logs.format!r}: expected one of {', '.join(FORMATS)}")
    state.mkdir(parents=True, exist_ok=True)
    with cluster(address) as session, tempfile.TemporaryDirectory(prefix="cluster-", dir=state) as folder:
        files, rows, brought = [], 0, 0
        for number, path in enumerate(logs.paths, 1):
            progress(f"asking the cluster for {path}")
            with asking(path):
                frame = _frame(session, logs.format, path)
                count = int(frame.count())
            if not count:
                raise SourceMissingError(f"{path}: the cluster finds nothing there; check the path as the cluster knows it")
            with asking(path):
                here = Path(folder) / f"{number:04}.parquet"
                brought += _bring(_distinct(frame, logs, path), count, here)
            files.append(here)
            rows += count
        progress("folding")
        how = LogFiles(files, logs.system, logs.zone, dict(logs.columns or {}), logs.dates)
        try:
            folded = fold_logs(state, [how], progress, keep_days=keep_days)
        except InputRefusedError as error:
            text = str(error)
            for here, path in zip(files, logs.paths, strict=True):
                text = text.replace(str(here), path)
            raise InputRefusedError(text) from error
    return ClusterResult(rows, brought, folded)


def _frame(session: Any, form: str, path: str) -> Any:
    reader = session.read.format(form)
    return (reader.option("header", "true").option("inferSchema", "false") if form == "csv" else reader).load(path)


def _distinct(frame: Any, logs: ClusterLogs, path: str) -> Any:
    """The rows that differ in what counts: times of the cluster's own kind by the second, of numeric durations the longest."""
    from pyspark.sql.connect import functions

    kinds = dict(frame.dtypes)
    plain = [name for name, kind in kinds.items() if not kind.startswith(("array", "map", "struct", "binary"))]
    sample = frame.select(*(_quoted(name) for name in plain)).limit(_SAMPLED).toArrow()
    rows = list(map(list, zip(*map(cells_as_text, sample.columns), strict=True)))
    found, _ = identify_names(plain, rows, logs.columns or {}, path, HEARD, logs.system)
    names = {meaning: plain[place] for meaning, place in found.positions.items()}
    keys, own = [], None
    for meaning, name in names.items():
        column = frame[_quoted(name)]
        if meaning == TIME and kinds[name] == "timestamp":
            column = functions.date_trunc("second", column)
        elif kinds[name] in _NUMBERS[:4]:
            column = column.cast("long")
        if meaning == SECONDS and kinds[name] in _NUMBERS and kinds.get(names.get(TIME, "")) == "timestamp":
            own = (name, column)
        else:
            keys.append(column.alias(name))
    if own is None:
        return frame.select(*keys).distinct()
    name, duration = own
    # In whole minutes the duration tells calls apart; what is none shall not hide one.
    is_apart = (functions.second(frame[_quoted(names[TIME])]) == 0) | (duration < 0) | (duration > _LONGEST_SECONDS)
    keys.append(functions.when(is_apart, duration).alias(_APART))
    return frame.groupBy(*keys).agg(functions.max(duration).alias(name)).drop(_APART)


def _quoted(name: str) -> str:
    return "`" + name.replace("`", "``") + "`"


def _bring(frame: Any, count: int, here: Path) -> int:
    """Writes the rows of a frame into a file, in pieces that fit into memory; returns how many they are."""
    from pyspark.sql.connect import functions

    pieces, rows = math.ceil(count / _AT_ONCE), 0
    writer: parquet.ParquetWriter | None = None
    try:
        for piece in range(pieces):
            part = functions.pmod(functions.hash(*frame.columns), functions.lit(pieces)) == piece
            table: pa.Table = (frame if pieces == 1 else frame.where(part)).toArrow()
            writer = writer or parquet.ParquetWriter(here, table.schema)
            writer.write_table(table)
            rows += table.num_rows
    finally:
        if writer is not None:
            writer.close()
    return rows
