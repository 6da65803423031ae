"""The file to import: text of the kept contacts, cleaned, joined with carried entries, in the radio's layout.

Receives a choice, writes into a folder, hands on what was changed.
"""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt
import polars as pl

from pruner.job.carried import Carried
from pruner.job.choose import Choice
from pruner.job.load import Loaded
from pruner.job.texts import WrittenColumns, written_columns
from pruner.layout.plain import write_plain
from pruner.place.country import country_of_ids, kinds
from pruner.reference import countries
from pruner.settings.cross import CARRIED
from pruner.settings.models import Radio
from pruner.words import schema

#: The name of the file to import, before the ending that a layout gives it.
CONTACTS: Final = "contacts"
#: Each text column and the names by which a level can keep it: `name` stands for both parts.
_TEXTS: Final = {
    column: {column, schema.NAME} if column in (schema.FIRST_NAME, schema.LAST_NAME) else {column}
    for column in schema.CONTACT_COLUMNS[1:]
}
#: So many contacts are made into text at once.
_PART: Final = 1 << 15


def write_contacts(loaded: Loaded, choice: Choice, folder: Path) -> Counter[str]:
    """Writes the contacts of a choice; returns what was changed in their text, in contacts."""
    layout = loaded.layouts.get(choice.radio.name)
    if layout is None and choice.carried is None and choice.level is None:
        columns, changes = _columns(loaded, choice)
        parts = (columns.frame(slice(start, start + _PART)) for start in range(0, len(columns.number), _PART))
        write_plain(parts, folder / f"{CONTACTS}.csv")
        return changes
    frame, changes = contact_frame(loaded, choice, everything=layout is not None)
    if layout is None:
        write_plain([frame], folder / f"{CONTACTS}.csv")
        return changes
    from pruner.layout.write import write_layout  # layouts are for those who have one

    written = write_layout(frame, layout, folder, CONTACTS)
    return changes + written.counts


def contact_frame(loaded: Loaded, choice: Choice, *, everything: bool) -> tuple[pl.DataFrame, Counter[str]]:
    """Kept contacts with cleaned text, by system and id, and what was changed; with `everything` also `country_code`, `kind`,
    `rank` and `rule`, which layouts may name."""
    columns, changes = _columns(loaded, choice)
    frame = columns.frame()
    contacts, kept = loaded.contacts, np.flatnonzero(choice.kept)
    if everything:
        names = pl.Series([rule.name for rule in choice.rules], dtype=pl.String)
        frame = frame.with_columns(
            pl.Series(countries.CODES)[contacts.country[kept].astype(np.uint32)].alias("country_code"),
            pl.Series(schema.KINDS)[contacts.kind[kept].astype(np.uint32)].alias("kind"),
            pl.Series("rank", choice.fit.rank[kept]),
            names[choice.ownership.owner[kept].astype(np.uint32)].alias("rule"),
        )
    if choice.level is not None:
        frame = _lean(frame, choice.radio, choice.level[kept])
    if choice.carried:
        own = _carried_frame(choice.carried, everything=everything)
        frame = pl.concat([own, frame]).sort(schema.ID, maintain_order=True)
    return frame, changes


def _lean(frame: pl.DataFrame, radio: Radio, level: npt.NDArray[np.int8]) -> pl.DataFrame:
    """The texts that each contact's level leaves out made empty."""
    from pruner.job.memory import level_fields  # for those whose limit is bytes

    levels = level_fields(radio)
    stored = {column: np.array([bool(names & fields) for fields in levels])[level] for column, names in _TEXTS.items()}
    return frame.with_columns(
        pl.when(pl.Series(mask)).then(pl.col(column)).otherwise(pl.lit("")).alias(column) for column, mask in stored.items()
    )


def _columns(loaded: Loaded, choice: Choice) -> tuple[WrittenColumns, Counter[str]]:
    kept = np.flatnonzero(choice.kept)
    contacts = loaded.contacts
    return written_columns(loaded.sources, loaded.records[kept], contacts.number[kept], contacts.country[kept])


def _carried_frame(carried: Carried, *, everything: bool) -> pl.DataFrame:
    frame = carried.texts()
    if not everything:
        return frame
    number = carried.number[: carried.kept]
    by_text = np.array([countries.find(text) for text in frame[schema.COUNTRY].to_list()], dtype=np.uint8)
    by_id = country_of_ids(number) if carried.rows.system == "dmr" else np.zeros(len(number), dtype=np.uint8)
    country = np.where(by_text > 0, by_text, by_id)
    return frame.with_columns(
        pl.Series(countries.CODES)[country.astype(np.uint32)].alias("country_code"),
        pl.Series(schema.KINDS)[kinds(number, carried.rows.system).astype(np.uint32)].alias("kind"),
        pl.Series("rank", np.arange(1, len(number) + 1, dtype=np.uint32)),
        pl.lit(CARRIED).alias("rule"),
    )
