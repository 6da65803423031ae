"""Who was heard and has no place, all of them, from the account of a finished run."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import polars as pl

from pruner.account.coverage import CoverageSummary, MissedStation
from pruner.account.parts import no_run
from pruner.history.contacts import read_summary
from pruner.words.errors import SettingsError
from pruner.words.outcomes import OUTCOME_WORDS, Outcome


@dataclass(frozen=True, slots=True)
class MissedIn:
    """All `stations` of a run that were heard and are not kept, most heard first; `coverage` says of which days that is."""

    stations: list[MissedStation]
    coverage: CoverageSummary

    def plain(self, radio: str) -> list[dict[str, object]]:
        """For JSON; each with its radio and the days that its calls are of, the window up to the last day of the logs."""
        days = {
            "window_days": self.coverage.window_days,
            "last_day": max((one.last_day for one in self.coverage.calendar.values()), default=None),
        }
        return [{"radio": radio, **one.model_dump(mode="json"), **days} for one in self.stations]


def missed_in(folder: Path) -> MissedIn:
    """Who is missed in a run. Raises SettingsError where the folder holds no finished run, or one without heard logs."""
    try:
        ledger = pl.scan_parquet(folder / "ledger.parquet")
        known = "calls" in ledger.collect_schema()
    except (OSError, pl.exceptions.PolarsError):
        raise SettingsError(f"{folder}: {no_run(folder)}") from None
    coverage = read_summary(folder).coverage if known else None
    if coverage is None:
        raise SettingsError(f"{folder}: the run knew no heard calls; name logs in [[heard]] and run pruner fit")
    out = ledger.filter((pl.col("outcome") != OUTCOME_WORDS[Outcome.KEPT]) & (pl.col("calls") > 0))
    order = [pl.coalesce("calls_on_mine", "calls"), pl.col("calls"), pl.col("id"), pl.col("system")]
    columns = ("id", "system", "callsign", "country", "calls", "calls_on_mine", "reason", "rule")
    rows = out.sort(order, descending=[True, True, False, False]).select(columns).collect().to_dicts()
    return MissedIn([MissedStation(**row) for row in rows], coverage)
