"""Two sets of contacts -> what was added, removed and changed, by country and by rule.

Receives `ResultContacts`, hands on a `Difference` and its file. Contacts are matched by system and id, on sorted numbers.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt
import polars as pl

from pruner.history.contacts import COUNTRY_CODE, RULE, SYSTEM, TEXT_COLUMNS, ResultContacts
from pruner.history.files import whole_file
from pruner.words import schema

ADDED, REMOVED, CHANGED = "added", "removed", "changed"
WHAT: Final = (ADDED, REMOVED, CHANGED)
#: Columns of `Difference.changes` and of the file, all but `system` in the file.
CHANGE_COLUMNS: Final = (schema.ID, schema.CALLSIGN, "what", "fields", schema.COUNTRY, RULE)
#: A cell that begins with one of these is run as a formula (OWASP "CSV Injection", from memory), or white space hides one.
_FORMULA_STARTS: Final = "=+-@＝＋－＠ \u00a0"
_INVISIBLE: Final = r"[\p{Cc}\p{Cf}\p{Zl}\p{Zp}]"


@dataclass(frozen=True, slots=True)
class Group:
    """How many contacts of one country or rule differ, and how."""

    name: str
    added: int
    removed: int
    changed: int
    total: int


@dataclass(frozen=True)
class Difference:
    """What differs between two results.

    `changes`: one row per contact that differs, by system and id: `system` uint8, `id` uint32, then text: `callsign`, `what`
    (added, removed, changed), `fields` (columns with another text, separated by a blank; empty where unknown or not changed),
    `country` (ISO 3166-1 code or "") and `rule`, both of the new side, of the old one for what was removed.
    `old` and `new` count all contacts, `compared` names the text columns that could be compared, `not_compared` says what could
    not, a sentence each. `layout_changed`: whether the two were written in different layouts.
    """

    changes: pl.DataFrame
    old: int
    new: int
    compared: tuple[str, ...] = TEXT_COLUMNS
    not_compared: tuple[str, ...] = ()
    layout_changed: bool = False

    @cached_property
    def counts(self) -> dict[str, int]:
        """Contacts added, removed and changed."""
        found = dict(self.changes["what"].value_counts().rows())
        return {what: int(found.get(what, 0)) for what in WHAT}

    @property
    def total(self) -> int:
        """How many contacts differ."""
        return self.changes.height

    @property
    def same(self) -> bool:
        """Whether nothing differs and nothing was left uncompared."""
        return not self.total and not self.not_compared

    def by(self, column: str) -> list[Group]:
        """Counts per `country` or `rule`, the most changes first, equal ones by name."""
        groups = self.changes.group_by(column).agg(
            *((pl.col("what") == what).sum().alias(what) for what in WHAT), pl.len().alias("total")
        )
        rows = groups.sort("total", column, descending=[True, False]).select(column, *WHAT, "total")
        return [Group(*row) for row in rows.iter_rows()]

    def by_field(self) -> dict[str, int]:
        """How many contacts changed in each text column, columns in their order."""
        names = self.changes.filter(pl.col("fields") != "")["fields"].str.split(" ").explode(empty_as_null=False)
        found = dict(names.value_counts().rows())
        return {field: int(found[field]) for field in self.compared if field in found}

    def plain(self) -> dict[str, object]:
        """The difference as plain values for JSON."""
        return {
            "old": self.old,
            "new": self.new,
            "same": self.same,
            **self.counts,
            "total": self.total,
            "compared": list(self.compared),
            "not_compared": list(self.not_compared),
            "layout_changed": self.layout_changed,
            "fields": self.by_field(),
            "countries": [asdict(group) for group in self.by(schema.COUNTRY)],
            "rules": [asdict(group) for group in self.by(RULE)],
        }


def compare(old: ResultContacts, new: ResultContacts) -> Difference:
    """Compares two sets of contacts on their written texts.

    Where all that was written is known of both, a text that one side does not write is empty there; else the texts that both
    know are compared. Running numbers and ranks are compared only where no contact came or went.
    """
    match = matched(old.frame, new.frame)
    moved = bool(len(match.gone) or len(match.fresh))
    compared, not_compared = comparable(old, new, moved=moved)
    before, after = old.frame[match.old], new.frame[match.new]
    differs = [
        _texts(before, column, old).ne_missing(_texts(after, column, new)).alias(f"{place}")
        for place, column in enumerate(compared)
    ]
    named = pl.concat_str(
        [pl.when(pl.col(f"{place}")).then(pl.lit(column)) for place, column in enumerate(compared)],
        separator=" ",
        ignore_nulls=True,
    )
    fields = pl.DataFrame(differs).select(fields=named)["fields"] if compared else pl.repeat("", after.height, eager=True)
    changed = after.with_columns(fields.alias("fields")).filter(pl.col("fields") != "")
    found = difference(old.frame[match.gone], new.frame[match.fresh], changed, len(old), len(new), compared)
    both_whole = old.whole and new.whole
    return replace(found, not_compared=not_compared, layout_changed=both_whole and old.layout != new.layout)


def comparable(old: ResultContacts, new: ResultContacts, *, moved: bool) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The text columns that can be compared, and what cannot, a sentence each. `moved`: contacts came or went."""
    every = dict.fromkeys((*old.fields, *new.fields))
    both = [column for column in every if column in old.fields and column in new.fields]
    known = list(every) if old.whole and new.whole else both
    running = {*old.running, *new.running} if moved else set()
    sentences = [f"{side.name}: {sentence}" for side in (old, new) for sentence in side.unknown]
    alone = [column for column in every if column not in known and (_holds_text(old, column) or _holds_text(new, column))]
    if alone:
        sentences.append(f"{', '.join(alone)}: known of one side only")
    aside = [column for column in known if column in running]
    if aside:
        sentences.append(f"{', '.join(aside)}: moves with every contact that comes or goes")
    return tuple(column for column in known if column not in running), tuple(sentences)


def _holds_text(side: ResultContacts, column: str) -> bool:
    return column in side.fields and bool((side.frame[column] != "").any())


def _texts(rows: pl.DataFrame, column: str, side: ResultContacts) -> pl.Series:
    return rows[column] if column in side.fields else pl.repeat("", rows.height, eager=True)


def difference(
    removed: pl.DataFrame, added: pl.DataFrame, changed: pl.DataFrame, old: int, new: int, compared: tuple[str, ...]
) -> Difference:
    """A `Difference` from frames of contacts (`changed` also with `fields`)."""
    parts = [
        frame.select(
            SYSTEM,
            schema.ID,
            schema.CALLSIGN,
            pl.lit(what).alias("what"),
            (pl.col("fields") if what == CHANGED else pl.lit("")).alias("fields"),
            pl.col(COUNTRY_CODE).alias(schema.COUNTRY),
            RULE,
        )
        for what, frame in ((ADDED, added), (REMOVED, removed), (CHANGED, changed))
    ]
    return Difference(pl.concat(parts).sort(SYSTEM, schema.ID), old, new, compared)


@dataclass(frozen=True, slots=True)
class Match:
    """Positions: `old` and `new` of contacts on both sides, `gone` on the old side only, `fresh` on the new side only."""

    old: npt.NDArray[np.int64]
    new: npt.NDArray[np.int64]
    gone: npt.NDArray[np.int64]
    fresh: npt.NDArray[np.int64]


def matched(old: pl.DataFrame, new: pl.DataFrame) -> Match:
    """Matches two frames, both ordered by system and id without repetition."""
    ours, theirs = _keys(old), _keys(new)
    place = np.searchsorted(ours, theirs)
    place_inside = np.minimum(place, max(len(ours) - 1, 0))
    both = ours[place_inside] == theirs if len(ours) else np.zeros(len(theirs), dtype=bool)
    known = np.zeros(len(ours), dtype=bool)
    known[place[both]] = True
    return Match(place[both], np.flatnonzero(both), np.flatnonzero(~known), np.flatnonzero(~both))


def _keys(frame: pl.DataFrame) -> npt.NDArray[np.int64]:
    keys = frame[SYSTEM].to_numpy().astype(np.int64) * schema.ADDRESSES + frame[schema.ID].to_numpy()
    if len(keys) > 1 and not bool((keys[1:] > keys[:-1]).all()):
        raise ValueError("contacts must be ordered by system and id and hold each once")
    return keys


def write_changes(found: Difference, path: Path) -> None:
    """Writes the changes as CSV; control and direction characters and what a spreadsheet would run are taken out of texts."""
    text = [
        pl.col(column).str.replace_all(_INVISIBLE, "").str.strip_chars_start(_FORMULA_STARTS).replace("", None)
        for column in CHANGE_COLUMNS
        if column != schema.ID
    ]
    with whole_file(path) as making:
        found.changes.select(schema.ID, *text).write_csv(making)
