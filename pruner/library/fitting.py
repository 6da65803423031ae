"""Directories into one radio, in Python: the main job without a settings file and, from frames, without a disk."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl

from pruner.account.ledger import LedgerRows, ledger_table
from pruner.account.rejected import escaped
from pruner.account.summary import Summary
from pruner.job.choose import Choice, choose
from pruner.job.contact_frame import contact_frame
from pruner.job.given import load_given
from pruner.job.load import Loaded
from pruner.job.run import write_choice
from pruner.job.summarise import count_rows, ledger_rows, rejected_rows, rule_words, summarise
from pruner.job.texts import written_contacts
from pruner.layout.model import CONTACT_FIELDS
from pruner.library.arguments import (
    argument_path,
    check_callable,
    check_flag,
    check_system,
    check_table,
    folder_of,
    in_python,
    rules_of,
    with_named_arguments,
)
from pruner.library.rules import Drop, Keep, Radio, named
from pruner.library.sources import Directory, given
from pruner.place.country import EVIDENCE
from pruner.publish.folders import new_folder
from pruner.reference import countries
from pruner.settings import models
from pruner.settings.terms import PYTHON
from pruner.words import schema
from pruner.words.outcomes import Reason
from pruner.words.progress import Progress, silent

_REJECTED = ("source", "line", "reason", "detail", "raw")


@dataclass(frozen=True, repr=False)
class Fit:
    """The result of a fit. Frames are made on first use."""

    loaded: Loaded
    choice: Choice

    def __repr__(self) -> str:
        carried = self.choice.carried
        sources = [*self.loaded.sources, *([carried.rows] if carried else [])]
        read = sum(len(rows.number) for rows in sources)
        kept = sum(self.choice.fit.kept) + (carried.kept if carried else 0)
        return f"Fit(radio={self.choice.radio.name!r}, read={read}, kept={kept})"

    @cached_property
    def kept(self) -> pl.DataFrame:
        """The contacts that the radio gets, by system and id: `schema.CONTACT_COLUMNS` as text (id: UInt32), `country_code`,
        `kind`, `rank` (from 1) and `rule`."""
        return self._written[0]

    @cached_property
    def ledger(self) -> pl.DataFrame:
        """Every row that was read, in the order of the sources: `source`, `row` (from 1), `system`, `id`, `callsign`,
        `country`, `country_from`, `outcome` (kept, dropped, rejected), `reason`, `rule`, `rank`."""
        rules = rule_words(self.loaded, self.choice)
        table = ledger_table(self._rows, countries=countries.CODES, evidence=EVIDENCE, rules=rules)
        return _frame(table)

    @cached_property
    def rejected(self) -> pl.DataFrame:
        """The rows that could not be read: `source`, `line` (from 1), `reason`, `detail`, `raw` (a JSON string)."""
        rows = [
            (row.source, row.line, row.reason, row.detail, escaped(row.raw)) for row in rejected_rows(self.loaded, self.choice)
        ]
        types = [pl.Int64 if name == "line" else pl.String for name in _REJECTED]
        return pl.DataFrame(rows, schema=dict(zip(_REJECTED, types, strict=True)), orient="row")

    @cached_property
    def summary(self) -> Summary:
        """What summary.json of a written fit holds, without the list of files. Raises PrunerError where a source that is a file
        is no longer there."""
        counts = count_rows(self.loaded, self.choice, self._rows)
        with in_python():
            return summarise(self.loaded, self.choice, counts, self._written[1], self.loaded.fingerprints(), [])

    def write(self, folder: str | Path) -> list[Path]:
        """Writes the file to import, ledger, rejected rows, report and summary into a folder of their own: all of them appear
        at once, or none. Returns the files. Raises SettingsError where the folder holds anything else."""
        with in_python():
            target = folder_of("folder", folder)
            with new_folder(target) as making:
                write_choice(self.loaded, self.choice, making)
            return sorted(target.iterdir())

    @cached_property
    def _rows(self) -> list[LedgerRows]:
        return ledger_rows(self.loaded, self.choice)

    @cached_property
    def _written(self) -> tuple[pl.DataFrame, Any]:
        frame, changes, _ = contact_frame(self.loaded, self.choice, everything=True)
        return frame.select(CONTACT_FIELDS), changes


@dataclass(frozen=True, slots=True, repr=False)
class Stations:
    """Cleaned directories. `contacts`: one row for each id, by system and id: the columns of `Fit.kept` without rank and rule,
    and `system`, `source`. read = contacts + duplicates + reserved + groups + others +
    rejected rows (`groups`: entries that are called as a whole; `others`: of other systems). `changed`: how often cleaning
    changed what; `understood`: one sentence per file, which column gave what."""

    contacts: pl.DataFrame
    rejected: pl.DataFrame
    read: int
    duplicates: int
    reserved: int
    groups: int
    others: int
    changed: dict[str, int]
    understood: list[str]

    def __repr__(self) -> str:
        return f"Stations(read={self.read}, contacts={self.contacts.height}, rejected={self.rejected.height})"


@with_named_arguments('pruner.fit("stations.csv", radio=pruner.Radio(contacts=200_000)), once for each radio')
@in_python()
def fit(
    sources: Directory | Iterable[Directory] | Mapping[str, Directory],
    *,
    radio: models.Radio,
    rules: Iterable[Keep | Drop] = (),
    home: models.Home | None = None,
    talkgroups: models.Talkgroups | None = None,
    calls: models.Calls | None = None,
    one_per_callsign: bool = False,
    system: str = "dmr",
    columns: Mapping[str, str | int] | None = None,
    state: str | Path | None = None,
    progress: Progress = silent,
) -> Fit:
    """Fits directories into one radio.

    `sources`: a path, a frame (polars, pandas, Arrow, ...) or a `Source`, several of them, or several by name. `rules`: drop
    rules are tried before keep rules, each in the order given; without a keep rule everybody is kept. `system` (dmr, nxdn or
    p25) and `columns` (meaning -> heading or position from 1, such as `{"id": "Radio ID"}`) hold for sources that are no
    `Source`; columns that are not named are found out. `state`: the folder in which `pruner heard fold` keeps calls;
    without it no calls count and, with frames, nothing is read from a disk. Raises PrunerError with one line per problem.
    """
    check_flag("one_per_callsign", one_per_callsign)
    for argument, table, model, example in (
        ("home", home, models.Home, 'pruner.Home("AT")'),
        ("talkgroups", talkgroups, models.Talkgroups, "pruner.Talkgroups(mine=[91])"),
        ("calls", calls, models.Calls, "pruner.Calls(window_days=90)"),
    ):
        if table is not None:
            check_table(argument, table, model, example)
    loaded = loaded_of(
        sources,
        rules=rules,
        radio=radio,
        system=system,
        columns=columns,
        state=state,
        progress=progress,
        home=home,
        talkgroups=talkgroups,
        calls=calls,
        clean=models.Clean(one_per_callsign=one_per_callsign),
    )
    return Fit(loaded, choose(loaded, loaded.settings.radios[0]))


@with_named_arguments('pruner.stations("stations.csv")')
@in_python()
def stations(
    sources: Directory | Iterable[Directory] | Mapping[str, Directory],
    *,
    system: str = "dmr",
    columns: Mapping[str, str | int] | None = None,
    progress: Progress = silent,
) -> Stations:
    """Reads and cleans directories: who stands in them, each id once, with the account of all rows. Arguments as of `fit`.
    Raises PrunerError."""
    loaded = loaded_of(sources, radio=Radio(contacts=0), system=system, columns=columns, progress=progress)
    contacts = loaded.contacts
    frame, changes = written_contacts(loaded.sources, loaded.records, contacts.number, contacts.country)
    names = [source.name for source in loaded.settings.sources]
    frame = frame.with_columns(
        pl.Series("country_code", countries.CODES)[contacts.country.astype(np.uint32)],
        pl.Series("kind", schema.KINDS)[contacts.kind.astype(np.uint32)],
        pl.Series("system", schema.SYSTEM_NAMES)[contacts.system.astype(np.uint32)],
        pl.Series("source", names)[contacts.source.astype(np.uint32)],
    )
    counts = np.bincount(np.concatenate([rows.reason for rows in loaded.sources]), minlength=len(Reason)).tolist()
    fit_of_all = Fit(loaded, choose(loaded, loaded.settings.radios[0]))
    changed = sum((rows.counts for rows in loaded.sources), changes)
    return Stations(
        frame,
        fit_of_all.rejected,
        sum(counts),
        counts[Reason.DUPLICATE_ID],
        counts[Reason.RESERVED_ID],
        counts[Reason.NO_STATION],
        counts[Reason.OTHER_SYSTEM],
        {word: number for word, number in sorted(changed.items()) if number},
        [one.sentence() for rows in loaded.sources for one in rows.understandings],
    )


def loaded_of(
    sources: Directory | Iterable[Directory] | Mapping[str, Directory],
    *,
    radio: models.Radio,
    rules: Iterable[Keep | Drop] = (),
    system: str = "dmr",
    columns: Mapping[str, str | int] | None = None,
    state: str | Path | None = None,
    progress: Progress = silent,
    **tables: Any,
) -> Loaded:
    """Directories read and rules made ready; `tables`: further tables of the settings. Raises PrunerError."""
    check_table("radio", radio, models.Radio, "pruner.Radio(contacts=200_000)")
    check_system(system)
    check_callable("progress", progress, "progress(stage, share)")
    found = rules_of(rules)
    directories = given(sources, system, columns)
    document = {
        "source": directories.tables,
        "drop": named(found.drop, "drop"),
        "keep": named(found.keep, "keep"),
        "radio": [radio.model_dump(by_alias=True, exclude_unset=True)],
        **{name: table for name, table in tables.items() if table is not None},
    }
    if state is not None:
        document["output"] = {"state": state}
    place = argument_path(found, directories.path)
    return load_given(document, directories.held, progress, with_calls=state is not None, place=place, terms=PYTHON)


def _frame(table: Any) -> pl.DataFrame:
    frame = pl.from_arrow(table)
    assert isinstance(frame, pl.DataFrame)
    return frame
