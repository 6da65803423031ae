"""Who was heard and has no place, all of them, from the ledger of a finished run."""

from __future__ import annotations

from pathlib import Path

import polars as pl

from pruner.account.coverage import MissedStation
from pruner.words.errors import SettingsError
from pruner.words.outcomes import OUTCOME_WORDS, Outcome


def missed_in(folder: Path) -> list[MissedStation]:
    """All stations of a run that were heard and are not kept, most heard first. Raises SettingsError where the folder holds no
    finished run, or one without heard logs."""
    try:
        ledger = pl.scan_parquet(folder / "ledger.parquet")
        known = "calls" in ledger.collect_schema()
    except (OSError, pl.exceptions.PolarsError):
        raise SettingsError(f"{folder}: holds no finished run; run pruner fit first") from None
    if not known:
        raise SettingsError(f"{folder}: the run knew no heard calls; name logs in [[heard]] and run pruner fit")
    out = ledger.filter((pl.col("outcome") != OUTCOME_WORDS[Outcome.KEPT]) & (pl.col("calls") > 0))
    order = [pl.coalesce("calls_on_mine", "calls"), pl.col("calls"), pl.col("id"), pl.col("system")]
    columns = ("id", "system", "callsign", "country", "calls", "calls_on_mine", "reason", "rule")
    rows = out.sort(order, descending=[True, True, False, False]).select(columns).collect().to_dicts()
    return [MissedStation(**row) for row in rows]
