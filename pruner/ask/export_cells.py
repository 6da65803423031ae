"""The cells of a radio's export: every column of it, of which something is understood or not.

Receives the path of an export, hands on ids and texts.
"""

from __future__ import annotations

from pathlib import Path

import polars as pl
import pyarrow as pa

from pruner.clean.ids import parse_ids
from pruner.layout.model import Layout, load_layout
from pruner.layout.read import ids_in, read_columns
from pruner.read.directory import read_directory
from pruner.read.kinds import EXPORT
from pruner.read.open_table import BELOW, Answers, unused_name
from pruner.table.understanding import Understanding
from pruner.words import schema
from pruner.words.errors import InputRefusedError
from pruner.words.outcomes import Reason
from pruner.words.threads import Pool, Work


def cells_of_export(path: Path, system: str, described_by: Path | None, columns: Answers, own: Layout | None) -> pl.DataFrame:
    """`id` (uint32, null where it cannot be read) and one text column per column of the export that is understood."""
    if described_by is not None:
        return _by_layout(path, load_layout(described_by), str(described_by))
    if own is not None and not columns:
        try:
            return _by_layout(path, own, "the layout of the result")
        except InputRefusedError:
            pass
    frames = []
    headings: dict[str, str] = {}

    def understood(found: Understanding) -> None:
        headings.update({use.meaning: use.heading or use.meaning for use in found.columns})

    with Pool(Work.PARSING) as pool:
        read = read_directory(
            path,
            lambda records: records,
            pool,
            kind=EXPORT,
            system=system,
            columns=columns,
            understood=understood,
            with_unused=True,
        )
        for _, records in read:
            ids = parse_ids(records.columns[schema.ID], schema.SYSTEMS[system])
            number = pl.Series(schema.ID, ids.number, pl.UInt32).zip_with(
                pl.Series(ids.reason == Reason.NONE), pl.Series([None], dtype=pl.UInt32)
            )
            texts = {
                unused_name(headings[name], place) if name in headings else name: _strings(column)
                for place, (name, column) in enumerate(records.columns.items())
                if name in schema.MEANINGS or BELOW in name
                if name != schema.ID
            }
            frames.append(pl.DataFrame({schema.ID: number, **texts}))
    return pl.concat(frames, how="diagonal")


def _strings(column: pa.Array) -> pl.Series:
    return pl.Series(pl.from_arrow(column.cast(pa.string())), dtype=pl.String)


def _by_layout(path: Path, layout: Layout, where: str) -> pl.DataFrame:
    found = read_columns(path, layout, where)
    ids = ids_in(found, layout)
    if ids is None:
        raise InputRefusedError(f"{path}: by {where} no column holds the id, so its entries cannot be told apart")
    names = [unused_name(column.title or str(place + 1), place) for place, column in enumerate(layout.columns)]
    return found.rename(dict(zip(found.columns, names, strict=True))).insert_column(0, ids.alias(schema.ID))


def title_of(column: str) -> str:
    """The heading of a column of `cells_of_export`."""
    return column.partition(BELOW)[0]
