"""The contacts of a finished result as one frame, ready to be compared.

Receives the folder of a radio's result (ledger.parquet, contacts.csv, summary.json), hands on `ResultContacts`.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import polars as pl

from pruner import schema
from pruner.errors import InputRefusedError, SettingsError
from pruner.outcomes import OUTCOME_WORDS, Outcome

SYSTEM, COUNTRY_CODE, RULE = "system", "country_code", "rule"
#: The text of a contact as it is written: what can change.
TEXT_COLUMNS: Final = tuple(column for column in schema.CONTACT_COLUMNS if column != schema.ID)
#: Columns of a frame of contacts: `system` uint8 (position in `schema.SYSTEM_NAMES`), `id` uint32, else text ("" = empty).
COLUMNS: Final = (SYSTEM, schema.ID, *TEXT_COLUMNS, COUNTRY_CODE, RULE)


@dataclass(frozen=True, slots=True)
class ResultContacts:
    """Contacts of one result. `frame` has `COLUMNS`, one row per system and id, in that order. `fields` names the text
    columns that are known; the others are empty. `name` says where they come from, `unread` counts rows without a usable id."""

    name: str
    frame: pl.DataFrame
    fields: tuple[str, ...] = TEXT_COLUMNS
    unread: int = 0

    def __len__(self) -> int:
        return self.frame.height


def ordered(frame: pl.DataFrame) -> pl.DataFrame:
    """A frame of contacts with the columns, dtypes and order of `ResultContacts.frame`; missing columns become empty."""
    absent = [pl.lit("").alias(column) for column in COLUMNS[2:] if column not in frame.columns]
    if SYSTEM not in frame.columns:
        absent.append(pl.lit(0).alias(SYSTEM))
    return (
        frame.with_columns(absent)
        .select(
            pl.col(SYSTEM).cast(pl.UInt8),
            pl.col(schema.ID).cast(pl.UInt32),
            *(pl.col(column).cast(pl.String).fill_null("") for column in COLUMNS[2:]),
        )
        .sort(SYSTEM, schema.ID)
    )


def read_summary(folder: Path) -> dict[str, Any]:
    """The summary of a finished run. Raises SettingsError when the folder holds none."""
    try:
        summary = json.loads((folder / "summary.json").read_bytes())
    except (OSError, ValueError):
        summary = None
    if not isinstance(summary, dict):
        raise SettingsError(f"{folder}: holds no finished run; name the folder of one radio, or run pruner fit first")
    return summary


def read_result(folder: Path) -> ResultContacts:
    """The kept contacts of a result folder.

    Where the radio has a layout of its own and no plain contacts.csv, only the call sign (from the ledger) is known. Raises
    SettingsError when there is no finished run, InputRefusedError when its files do not belong together.
    """
    read_summary(folder)
    kept = _kept(folder)
    path = folder / "contacts.csv"
    if not _is_plain(path):
        return ResultContacts(str(folder), kept, (schema.CALLSIGN,))
    written = _written(path)
    if not written[schema.ID].equals(kept[schema.ID]):
        # With carried entries the file stands by id alone.
        kept, written = kept.sort(schema.ID, SYSTEM), written.sort(schema.ID, maintain_order=True)
    if not written[schema.ID].equals(kept[schema.ID]):
        raise InputRefusedError(f"{path}: does not hold the contacts that ledger.parquet names; run pruner fit again")
    frame = pl.concat([kept.select(SYSTEM, schema.ID, COUNTRY_CODE, RULE), written.drop(schema.ID)], how="horizontal")
    return ResultContacts(str(folder), frame.select(COLUMNS).sort(SYSTEM, schema.ID))


def _kept(folder: Path) -> pl.DataFrame:
    path = folder / "ledger.parquet"
    slots = pl.col(SYSTEM).replace_strict(list(schema.SYSTEM_NAMES), range(len(schema.SYSTEM_NAMES)), return_dtype=pl.UInt8)
    try:
        rows = pl.read_parquet(path, columns=[SYSTEM, schema.ID, schema.CALLSIGN, schema.COUNTRY, RULE, "outcome"])
        kept = rows.filter(pl.col("outcome") == OUTCOME_WORDS[Outcome.KEPT])
        return ordered(kept.select(slots, schema.ID, schema.CALLSIGN, pl.col(schema.COUNTRY).alias(COUNTRY_CODE), RULE))
    except (OSError, pl.exceptions.PolarsError):
        raise SettingsError(f"{path}: is not the ledger of a finished run; run pruner fit again") from None


def _is_plain(path: Path) -> bool:
    try:
        with path.open("rb") as file:
            return file.readline().rstrip(b"\r\n") == ",".join(schema.CONTACT_COLUMNS).encode()
    except OSError:
        return False


def _written(path: Path) -> pl.DataFrame:
    try:
        text = pl.read_csv(path, infer_schema=False)
        return text.select(pl.col(schema.ID).cast(pl.UInt32), *(pl.col(column).fill_null("") for column in TEXT_COLUMNS))
    except (OSError, pl.exceptions.PolarsError):
        raise InputRefusedError(f"{path}: is not a contact file of a finished run; run pruner fit again") from None
