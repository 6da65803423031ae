"""The contacts of a finished result as one frame, ready to be compared.

Receives the folder of a radio's result (ledger.parquet, contacts.csv, summary.json), hands on `ResultContacts`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import polars as pl

from pruner.account.parts import FILE, no_run
from pruner.account.summary import Summary
from pruner.words import schema
from pruner.words.errors import InputRefusedError, SettingsError
from pruner.words.outcomes import OUTCOME_WORDS, Outcome

SYSTEM, COUNTRY_CODE, RULE = "system", "country_code", "rule"
#: The text of a contact as it is written: what can change.
TEXT_COLUMNS: Final = tuple(column for column in schema.CONTACT_COLUMNS if column != schema.ID)
#: Why the texts of a result are not known.
NOT_RECORDED: Final = "its files are in a layout that it does not record"
#: Columns of a frame of contacts: `system` uint8 (position in `schema.SYSTEM_NAMES`), `id` uint32, else text ("" = empty).
COLUMNS: Final = (SYSTEM, schema.ID, *TEXT_COLUMNS, COUNTRY_CODE, RULE)


@dataclass(frozen=True, slots=True)
class ResultContacts:
    """Contacts of one result. `frame` has `system` and `id`, one row per pair, in that order, then `callsign`, the columns of
    `fields`, `country_code` and `rule`. `name` says where they come from, `unread` counts rows without a usable id.

    `fields` names the texts that are known, as they were written. With `whole` they are all: what is not among them was not
    written. Those of `running` (numbers through the file, ranks) change with other contacts. `unknown`: what could not be read,
    a sentence each. `layout`: the layout in which they were written, as plain values.
    """

    name: str
    frame: pl.DataFrame
    fields: tuple[str, ...] = TEXT_COLUMNS
    unread: int = 0
    whole: bool = False
    running: tuple[str, ...] = ()
    unknown: tuple[str, ...] = ()
    layout: Mapping[str, object] | None = None

    def __len__(self) -> int:
        return self.frame.height


def ordered(frame: pl.DataFrame, fields: Sequence[str] = TEXT_COLUMNS) -> pl.DataFrame:
    """A frame of contacts with the columns, dtypes and order of `ResultContacts.frame`; missing columns become empty."""
    texts = tuple(dict.fromkeys((schema.CALLSIGN, *fields, COUNTRY_CODE, RULE)))
    absent = [pl.lit("").alias(column) for column in texts if column not in frame.columns]
    if SYSTEM not in frame.columns:
        absent.append(pl.lit(0).alias(SYSTEM))
    return (
        frame.with_columns(absent)
        .select(
            pl.col(SYSTEM).cast(pl.UInt8),
            pl.col(schema.ID).cast(pl.UInt32),
            *(pl.col(column).cast(pl.String).fill_null("") for column in texts),
        )
        .sort(SYSTEM, schema.ID)
    )


def read_summary(folder: Path) -> Summary:
    """The summary of a finished run. Raises SettingsError when the folder holds none."""
    try:
        return Summary.load(folder)
    except InputRefusedError as error:
        if (folder / FILE).exists():
            raise SettingsError(f"{folder}: {no_run(folder)}") from error
        refused = "holds no finished run; name the folder of one radio, or run pruner fit first"
        raise SettingsError(f"{folder}: {refused}") from error


def read_result(folder: Path) -> ResultContacts:
    """The kept contacts of a result folder.

    Where the radio has a layout of its own and no plain contacts.csv, only the call sign (from the ledger) is known here.
    Raises SettingsError when there is no finished run, InputRefusedError when its files do not belong together.
    """
    read_summary(folder)
    known = kept_contacts(folder)
    path = folder / "contacts.csv"
    if not _is_plain(path):
        return known
    kept = known.frame
    written = _written(path)
    if not written[schema.ID].equals(kept[schema.ID]):
        # With carried entries the file stands by id alone.
        kept, written = kept.sort(schema.ID, SYSTEM), written.sort(schema.ID, maintain_order=True)
    if not written[schema.ID].equals(kept[schema.ID]):
        raise InputRefusedError(f"{path}: does not hold the contacts that ledger.parquet names; run pruner fit again")
    frame = pl.concat([kept.select(SYSTEM, schema.ID, COUNTRY_CODE, RULE), written.drop(schema.ID)], how="horizontal")
    return ResultContacts(str(folder), frame.select(COLUMNS).sort(SYSTEM, schema.ID), whole=True)


def _kept(folder: Path) -> pl.DataFrame:
    path = folder / "ledger.parquet"
    slots = pl.col(SYSTEM).replace_strict(list(schema.SYSTEM_NAMES), range(len(schema.SYSTEM_NAMES)), return_dtype=pl.UInt8)
    try:
        rows = pl.read_parquet(path, columns=[SYSTEM, schema.ID, schema.CALLSIGN, schema.COUNTRY, RULE, "outcome"])
        kept = rows.filter(pl.col("outcome") == OUTCOME_WORDS[Outcome.KEPT])
        return ordered(kept.select(slots, schema.ID, schema.CALLSIGN, pl.col(schema.COUNTRY).alias(COUNTRY_CODE), RULE))
    except (OSError, pl.exceptions.PolarsError):
        raise SettingsError(f"{path}: is not the ledger of a finished run; run pruner fit again") from None


def kept_contacts(folder: Path) -> ResultContacts:
    """The kept contacts of a result folder as its ledger knows them: of their texts only the call sign."""
    return ResultContacts(str(folder), _kept(folder), (schema.CALLSIGN,), unknown=(NOT_RECORDED,))


def kept_ranks(folder: Path) -> pl.Series:
    """The ranks of the kept contacts, in the order of `ResultContacts.frame`."""
    rows = pl.read_parquet(folder / "ledger.parquet", columns=[SYSTEM, schema.ID, "rank", "outcome"])
    kept = rows.filter(pl.col("outcome") == OUTCOME_WORDS[Outcome.KEPT])
    slots = pl.col(SYSTEM).replace_strict(list(schema.SYSTEM_NAMES), range(len(schema.SYSTEM_NAMES)), return_dtype=pl.UInt8)
    return kept.sort(slots, schema.ID)["rank"]


def _is_plain(path: Path) -> bool:
    try:
        with path.open("rb") as file:
            titles = file.readline().rstrip(b"\r\n").decode(errors="replace").split(",")
            return sorted(titles) == sorted(schema.CONTACT_COLUMNS)  # release 0.1 wrote them in another order
    except OSError:
        return False


def _written(path: Path) -> pl.DataFrame:
    try:
        text = pl.read_csv(path, infer_schema=False)
        return text.select(pl.col(schema.ID).cast(pl.UInt32), *(pl.col(column).fill_null("") for column in TEXT_COLUMNS))
    except (OSError, pl.exceptions.PolarsError):
        raise InputRefusedError(f"{path}: is not a contact file of a finished run; run pruner fit again") from None
