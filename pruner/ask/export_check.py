"""Whether a radio holds what was written: its fresh export against the files of the result.

Receives the contacts of a result and export files, hands on who is missing, cut, old, otherwise changed or extra. Columns are
matched by what they hold, so that an export may have other columns, in another order, than the file that was imported. Blanks
around a text, and how Unicode composes its accents, are no difference.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import Final

import polars as pl

from pruner.account.parts import FileMark
from pruner.ask.export_cells import cells_of_export, title_of
from pruner.ask.export_texts import ONLY, same_text, trimmed, what_alone_differs, without_blanks
from pruner.ask.written_files import CONSTANTS
from pruner.history.compare import ADDED, CHANGED, REMOVED, Difference, compare
from pruner.history.contacts import SYSTEM, ResultContacts, ordered
from pruner.history.written import compare_with_written, read_written
from pruner.layout.model import layout_of_document
from pruner.publish.folders import fingerprint
from pruner.read.open_table import Answers
from pruner.words import schema
from pruner.words.errors import InputRefusedError

#: What can be wrong: not in the radio; a text that ends early; as it was written the time before; another text; not written.
MISSING, CUT, OLD, OTHER, EXTRA = "missing", "cut", "old", "other text", "extra"
KINDS: Final = (MISSING, CUT, OLD, OTHER, EXTRA)
#: A column of the export is that of the result if at least so many of its texts agree; so many contacts are looked at.
_LEAST_AGREEING: Final = 0.5
_SAMPLE: Final = 5_000


@dataclass(frozen=True)
class Checked:
    """`difference`: contacts that differ, `what` one of `KINDS`, `fields` the columns with another text. `texts`: of those that
    have other texts, id, column, what was written, what the radio holds, whether it is the beginning of that, and what alone
    differs (one of `ONLY`, else ""). `trimmed`: texts that differ in blanks around them or in the composing of accents only,
    which is no difference. `repeated` and `unreadable` count rows of the export; `columns`: which of its columns was taken for
    which of the result; `files`: name, SHA-256 and size of the exports."""

    difference: Difference
    texts: pl.DataFrame
    trimmed: int
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
        """Whether the radio holds what was written, and nothing else; not where texts were written and none was compared."""
        return not self.difference.total and not self.is_blind

    @property
    def is_blind(self) -> bool:
        """Whether texts were written, and the export tells of none."""
        return bool(self.difference.old and self.difference.not_compared and not self.columns)

    @cached_property
    def only(self) -> dict[str, int]:
        """Contacts all of whose other texts differ in one thing alone, by that."""
        other = self.difference.changes.filter(pl.col("what") == OTHER)[schema.ID]
        alone = self.texts.filter(pl.col(schema.ID).is_in(other.implode())).group_by(schema.ID).agg(pl.col("only").unique())
        words = [sorted(found)[0] for (found,) in alone.select("only").iter_rows() if len(found) == 1]
        return {word: words.count(word) for word in ONLY}

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
            "differing_only_in": self.only,
            "differing_in_outer_blanks": self.trimmed,
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
    parts = [cells_of_export(path, system, described_by, columns or {}, own) for path in exports]
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
    alike = trimmed(expected.frame, pl.DataFrame({schema.ID: held[schema.ID], **texts}))
    expected = replace(expected, frame=expected.frame.with_columns(*(same_text(pl.col(field)) for field in written.fields)))
    frame = _filled(expected, pl.DataFrame({schema.ID: held[schema.ID], **texts}), slot)
    radio_holds = ResultContacts(", ".join(path.name for path in exports), frame, tuple(_fields(expected, found)))
    difference = compare(replace(expected, whole=False), radio_holds)
    different = _texts(expected, radio_holds, difference)
    old = _old(state, radio, radio_holds) if state is not None else pl.Series(schema.ID, [], pl.UInt32)
    changes = _named(difference.changes, different, old)
    return Checked(
        replace(difference, changes=changes, compared=tuple(field for field in difference.compared if field in found)),
        different,
        alike,
        cells.height - held.height,
        unreadable,
        {field: title_of(column) for field, column in found.items()},
        [fingerprint(path) for path in exports],
    )


def _matched(written: ResultContacts, held: pl.DataFrame) -> dict[str, str]:
    """For each text of the result the column of the export that holds it: the one whose texts agree most, wholly or as the
    beginning; the better pair first, then the order of the columns."""
    fields = [field for field in written.fields if field != CONSTANTS and field not in written.running]
    texts = [pl.col(field) for field in dict.fromkeys((*fields, *held.columns[1:]))]
    sample = written.frame.join(held, on=schema.ID, maintain_order="left").head(_SAMPLE)
    sample = sample.with_columns(*(without_blanks(same_text(text)).str.to_lowercase() for text in texts))
    pairs = []
    for first, field in enumerate(fields):
        some = sample.filter(pl.col(field) != "")
        for second, column in enumerate(held.columns[1:]):
            ours, text = pl.col(field), pl.col(column)
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
    texts = [same_text(pl.col(field)) for field in held.columns if field != schema.ID]
    return ordered(frame.with_columns(texts), tuple(written.fields))


def _texts(written: ResultContacts, held: ResultContacts, difference: Difference) -> pl.DataFrame:
    """Every text that differs: `id`, `field`, `written`, `in_radio`, `is_cut` (it begins what was written), `only`."""
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
    return texts.with_columns(begins.alias("is_cut"), what_alone_differs(texts).alias("only"))


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
