"""Whether a radio holds what was written: its fresh export against the files of the result.

Receives the contacts of a result and export files, hands on who is missing, cut, old, otherwise changed or extra. Columns are
matched by what they hold, so that an export may have other columns, in another order, than the file that was imported.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import Final

import polars as pl
import pyarrow as pa

from pruner.account.parts import FileMark
from pruner.ask.written_files import CONSTANTS
from pruner.clean.ids import parse_ids
from pruner.history.compare import ADDED, CHANGED, REMOVED, Difference, compare
from pruner.history.contacts import SYSTEM, ResultContacts, ordered
from pruner.history.written import compare_with_written, read_written
from pruner.layout.model import Layout, layout_of_document, load_layout
from pruner.layout.read import ids_in, read_columns
from pruner.publish.folders import fingerprint
from pruner.read.directory import Answers, read_directory
from pruner.read.kinds import EXPORT
from pruner.words import schema
from pruner.words.errors import InputRefusedError
from pruner.words.outcomes import Reason
from pruner.words.threads import Pool, Work

#: What can be wrong: not in the radio; a text that ends early; as it was written the time before; another text; not written.
MISSING, CUT, OLD, OTHER, EXTRA = "missing", "cut", "old", "other text", "extra"
KINDS: Final = (MISSING, CUT, OLD, OTHER, EXTRA)
#: A column of the export is that of the result if at least so many of its texts agree; so many contacts are looked at.
_LEAST_AGREEING: Final = 0.5
_SAMPLE: Final = 5_000
_BELOW: Final = "\x1f"


@dataclass(frozen=True)
class Checked:
    """`difference`: contacts that differ, `what` one of `KINDS`, `fields` the columns with another text. `texts`: of those that
    have other texts, id, column, what was written and what the radio holds. `repeated` and `unreadable` count rows of the
    export; `columns`: which column of the export was taken for which of the result; `files`: name, SHA-256 and size of the
    exports."""

    difference: Difference
    texts: pl.DataFrame
    repeated: int
    unreadable: int
    columns: dict[str, str]
    files: list[FileMark]

    @cached_property
    def counts(self) -> dict[str, int]:
        """Contacts by what is wrong."""
        found = dict(self.difference.changes["what"].value_counts().rows())
        return {kind: int(found.get(kind, 0)) for kind in KINDS}

    @property
    def holds(self) -> bool:
        """Whether the radio holds what was written, and nothing else."""
        return not self.difference.total

    @property
    def as_written(self) -> int:
        """How many contacts are in the radio as they were written."""
        return self.difference.old - sum(self.counts[kind] for kind in (MISSING, CUT, OTHER)) - self._old_of_result

    @cached_property
    def _old_of_result(self) -> int:
        """How many of the old ones are contacts of the result too."""
        old = self.difference.changes.filter(pl.col("what") == OLD)
        return int((old["fields"] != "").sum())

    def plain(self) -> dict[str, object]:
        """For JSON."""
        return {
            "holds": self.holds,
            "written": self.difference.old,
            "in_radio": self.difference.new,
            "as_written": self.as_written,
            **{kind.replace(" ", "_"): number for kind, number in self.counts.items()},
            "repeated_rows": self.repeated,
            "unreadable_rows": self.unreadable,
            "columns": self.columns,
            "compared": list(self.difference.compared),
            "not_compared": list(self.difference.not_compared),
            "files": [mark.model_dump() for mark in self.files],
        }


def check_export(
    written: ResultContacts,
    exports: Sequence[Path],
    *,
    system: str = "dmr",
    described_by: Path | None = None,
    columns: Answers | None = None,
    state: Path | None = None,
    radio: str = "",
) -> Checked:
    """Compares the exports of a radio with the contacts that were written to it.

    `described_by`: a layout of the exports, where their headings are not understood; `columns`: which of their columns holds
    what. `state`, `radio`: where an earlier marking tells what is old. Raises InputRefusedError with one line.
    """
    own = layout_of_document(written.layout, written.name) if written.layout else None
    parts = [_cells(path, system, described_by, columns or {}, own) for path in exports]
    cells = pl.concat(parts, how="diagonal").with_columns(pl.selectors.string().fill_null(""))
    unreadable = cells[schema.ID].null_count()
    cells = cells.drop_nulls(schema.ID)
    if not cells.height:
        raise InputRefusedError(f"{exports[0]}: holds no entry with an id; expected an export of the radio")
    held = cells.unique(schema.ID, keep="last", maintain_order=True)
    slot = schema.SYSTEM_NAMES.index(system)
    expected = replace(written, frame=written.frame.filter(pl.col(SYSTEM) == slot), unknown=())
    found = _matched(expected, held)
    texts = {field: held[column] for field, column in found.items()}
    frame = _filled(expected, pl.DataFrame({schema.ID: held[schema.ID], **texts}), slot)
    radio_holds = ResultContacts(", ".join(path.name for path in exports), frame, tuple(_fields(expected, found)))
    difference = compare(replace(expected, whole=False), radio_holds)
    different = _texts(expected, radio_holds, difference)
    old = _old(state, radio, radio_holds) if state is not None else pl.Series(schema.ID, [], pl.UInt32)
    changes = _named(difference.changes, different, old)
    return Checked(
        replace(difference, changes=changes, compared=tuple(field for field in difference.compared if field in found)),
        different,
        cells.height - held.height,
        unreadable,
        {field: _title(column) for field, column in found.items()},
        [fingerprint(path) for path in exports],
    )


def _cells(path: Path, system: str, described_by: Path | None, columns: Answers, own: Layout | None) -> pl.DataFrame:
    """`id` (uint32, null where it cannot be read) and one text column per column of the export that is understood."""
    if described_by is not None:
        return _by_layout(path, load_layout(described_by), str(described_by))
    if own is not None and not columns:
        try:
            return _by_layout(path, own, "the layout of the result")
        except InputRefusedError:
            pass
    frames = []
    with Pool(Work.PARSING) as pool:
        for _, records in read_directory(path, lambda records: records, pool, kind=EXPORT, system=system, columns=columns):
            ids = parse_ids(records.columns[schema.ID], schema.SYSTEMS[system])
            number = pl.Series(schema.ID, ids.number, pl.UInt32).zip_with(
                pl.Series(ids.reason == Reason.NONE), pl.Series([None], dtype=pl.UInt32)
            )
            texts = {
                name: pl.Series(pl.from_arrow(column.cast(pa.string())), dtype=pl.String)
                for name, column in records.columns.items()
                if name in schema.MEANINGS and name != schema.ID
            }
            frames.append(pl.DataFrame({schema.ID: number, **texts}))
    return pl.concat(frames, how="diagonal")


def _by_layout(path: Path, layout: Layout, where: str) -> pl.DataFrame:
    found = read_columns(path, layout, where)
    ids = ids_in(found, layout)
    if ids is None:
        raise InputRefusedError(f"{path}: by {where} no column holds the id, so its entries cannot be told apart")
    names = [f"{column.title or place + 1}{_BELOW}{place}" for place, column in enumerate(layout.columns)]
    return found.rename(dict(zip(found.columns, names, strict=True))).insert_column(0, ids.alias(schema.ID))


def _title(column: str) -> str:
    return column.partition(_BELOW)[0]


def _matched(written: ResultContacts, held: pl.DataFrame) -> dict[str, str]:
    """For each text of the result the column of the export that holds it: the one whose texts agree most, wholly or as the
    beginning; the better pair first, then the order of the columns."""
    sample = written.frame.join(held, on=schema.ID, suffix=_BELOW, maintain_order="left").head(_SAMPLE)
    fields = [field for field in written.fields if field != CONSTANTS and field not in written.running]
    pairs = []
    for first, field in enumerate(fields):
        some = sample.filter(pl.col(field) != "")
        for second, column in enumerate(held.columns[1:]):
            theirs = column if column not in written.frame.columns else f"{column}{_BELOW}"
            ours, text = pl.col(field).str.strip_chars(), pl.col(theirs).str.strip_chars()
            agreeing = some.select(
                pl.when(ours == text).then(1.0).when((text != "") & ours.str.starts_with(text)).then(0.9).otherwise(0.0).mean()
            ).item()
            if some.height and agreeing >= _LEAST_AGREEING:
                pairs.append((-agreeing, first, second, field, column))
    found: dict[str, str] = {}
    for _, _, _, field, column in sorted(pairs):
        if field not in found and column not in found.values():
            found[field] = column
    return {field: found[field] for field in fields if field in found}


def _fields(written: ResultContacts, found: dict[str, str]) -> list[str]:
    """The texts that the radio tells: those with a column, and what nobody has or all have alike."""
    return [field for field in written.fields if field in found or written.frame[field].n_unique() <= 1]


def _filled(written: ResultContacts, held: pl.DataFrame, slot: int) -> pl.DataFrame:
    """The entries of the radio as a frame of contacts; country and rule as in the result, texts that are all alike too."""
    alike = {
        field: written.frame[field][0]
        for field in written.fields
        if field not in held.columns and written.frame.height and written.frame[field].n_unique() == 1
    }
    known = written.frame.select(schema.ID, "country_code", "rule", pl.col(schema.CALLSIGN).alias("known_callsign"))
    frame = held.join(known, on=schema.ID, how="left").with_columns(
        pl.lit(slot).alias(SYSTEM), *(pl.lit(text).alias(field) for field, text in alike.items())
    )
    if schema.CALLSIGN not in frame.columns:
        frame = frame.with_columns(pl.col("known_callsign").alias(schema.CALLSIGN))
    stripped = [pl.col(field).str.strip_chars_end() for field in held.columns if field != schema.ID]
    return ordered(frame.with_columns(stripped), tuple(written.fields))


def _texts(written: ResultContacts, held: ResultContacts, difference: Difference) -> pl.DataFrame:
    """Every text that differs: `id`, `field`, `written`, `in_radio`, and whether it is the beginning of what was written."""
    changed = difference.changes.filter(pl.col("what") == CHANGED)
    wanted = changed.select(schema.ID, pl.col("fields").str.split(" ").alias("field")).explode("field", empty_as_null=False)
    parts = []
    for field in difference.compared:
        of_field = wanted.filter(pl.col("field") == field)
        ours = written.frame.select(schema.ID, pl.col(field).alias("written"))
        theirs = held.frame.select(schema.ID, pl.col(field).alias("in_radio"))
        parts.append(of_field.join(ours, on=schema.ID, how="left").join(theirs, on=schema.ID, how="left"))
    none = pl.DataFrame(schema={schema.ID: pl.UInt32, "field": pl.String, "written": pl.String, "in_radio": pl.String})
    texts = pl.concat([none, *parts]).sort(schema.ID, "field", maintain_order=True)
    begins = pl.col("written").str.starts_with(pl.col("in_radio"))
    return texts.with_columns(begins.alias("is_cut"))


def _old(state: Path, radio: str, held: ResultContacts) -> pl.Series:
    """The ids whose entries are as they were marked as written: of those that the marking does not know, none."""
    since = compare_with_written(state, radio, held)
    marked = read_written(state, radio)
    if since is None or marked is None:
        return pl.Series(schema.ID, [], pl.UInt32)
    differing = since.changes.filter(pl.col("what") != REMOVED)[schema.ID]
    known = marked.frame.join(held.frame.select(SYSTEM, schema.ID), on=[SYSTEM, schema.ID])[schema.ID]
    # Without texts to compare, only that an id was written before is known.
    return known if not since.compared else known.filter(~known.is_in(differing.implode()))


def _named(changes: pl.DataFrame, texts: pl.DataFrame, old: pl.Series) -> pl.DataFrame:
    """The changes with what is wrong in the words of `KINDS`."""
    cut = texts.group_by(schema.ID).agg(pl.col("is_cut").all()).filter("is_cut")[schema.ID]
    is_old, is_cut = pl.col(schema.ID).is_in(old.implode()), pl.col(schema.ID).is_in(cut.implode())
    what = (
        pl.when(pl.col("what") == REMOVED)
        .then(pl.lit(MISSING))
        .when(is_old)
        .then(pl.lit(OLD))
        .when(pl.col("what") == ADDED)
        .then(pl.lit(EXTRA))
        .when(is_cut)
        .then(pl.lit(CUT))
        .otherwise(pl.lit(OTHER))
    )
    return changes.with_columns(what.alias("what"))
