"""Kept contacts as a frame: for layouts, for texts that a level leaves out, and joined with carried entries.

Receives a choice, hands on the frame that a layout is written from.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Final

import numpy as np
import numpy.typing as npt
import polars as pl

from pruner.job.carried import Carried
from pruner.job.carried_texts import CarriedTexts, carried_texts
from pruner.job.choose import Choice
from pruner.job.load import Loaded
from pruner.job.write import RECORD, kept_columns
from pruner.place.country import country_of_ids, kinds
from pruner.reference import countries
from pruner.settings.cross import CARRIED
from pruner.settings.models import Radio
from pruner.words import schema

if TYPE_CHECKING:
    from pruner.layout.model import Layout

#: Each text column and the names by which a level can keep it: `name` stands for both parts.
_TEXTS: Final = {
    column: {column, schema.NAME} if column in (schema.FIRST_NAME, schema.LAST_NAME) else {column}
    for column in schema.CONTACT_COLUMNS
    if column != schema.ID
}


def contact_frame(
    loaded: Loaded, choice: Choice, *, everything: bool
) -> tuple[pl.DataFrame, Counter[str], CarriedTexts | None]:
    """Kept contacts with cleaned text, by system and id, what was changed, and where the texts of carried entries went.

    With `everything` also `country_code`, `kind`, `rank` and `rule`, which layouts may name.
    """
    columns, changes = kept_columns(loaded, choice)
    frame = columns.frame()
    contacts, kept = loaded.contacts, np.flatnonzero(choice.kept)
    frame = frame.with_columns(pl.Series(RECORD, loaded.records[kept], dtype=pl.Int64))
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
    own: CarriedTexts | None = None
    if choice.carried:
        own = _carried(choice.carried, loaded.layouts.get(choice.radio.name), everything=everything)
        frame = pl.concat([own.frame, frame], how="diagonal").sort(schema.ID, maintain_order=True)
    return frame, changes, own


def _lean(frame: pl.DataFrame, radio: Radio, level: npt.NDArray[np.int8]) -> pl.DataFrame:
    """The texts that each contact's level leaves out made empty."""
    from pruner.job.memory import level_fields  # for those whose limit is bytes

    levels = level_fields(radio)
    stored = {column: np.array([bool(names & fields) for fields in levels])[level] for column, names in _TEXTS.items()}
    return frame.with_columns(
        pl.when(pl.Series(mask)).then(pl.col(column)).otherwise(pl.lit("")).alias(column) for column, mask in stored.items()
    )


def _carried(carried: Carried, layout: Layout | None, *, everything: bool) -> CarriedTexts:
    number = carried.number[: carried.kept]
    fields = pl.DataFrame({RECORD: pl.Series([-1], dtype=pl.Int64).new_from_index(0, len(number))})
    return carried_texts(carried, _with_fields(carried, fields) if everything else fields, layout)


def _with_fields(carried: Carried, frame: pl.DataFrame) -> pl.DataFrame:
    """The fields that layouts may name, of the kept entries."""
    number = carried.number[: carried.kept]
    texts = carried.texts()[schema.COUNTRY].to_list()
    by_text = np.array([countries.find(text) for text in texts], dtype=np.uint8)
    by_id = country_of_ids(number) if carried.rows.system == "dmr" else np.zeros(len(number), dtype=np.uint8)
    country = np.where(by_text > 0, by_text, by_id)
    return frame.with_columns(
        pl.Series(countries.CODES)[country.astype(np.uint32)].alias("country_code"),
        pl.Series(schema.KINDS)[kinds(number, carried.rows.system).astype(np.uint32)].alias("kind"),
        pl.Series("rank", np.arange(1, len(number) + 1, dtype=np.uint32)),
        pl.lit(CARRIED).alias("rule"),
    )
