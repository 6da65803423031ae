"""What earlier runs of the demo would have seen: an invented history, so that `forecast` has something to go by.

Receives the history folder and how many stations the demo's directory has; hands on the file. The directory grows
steadily, with weeks above and below the mean, and ends at that number on the last Sunday of the logs. The runs of the weeks
that the logs cover also remember which ids the directory had.
"""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import Final

import numpy as np

from pruner.account.parts import RowAccount, SourceSummary
from pruner.account.summary import Limit, Summary
from pruner.demo import calls
from pruner.demo.draws import Draws, Integers
from pruner.demo.persons import issued_on
from pruner.history.files import whole_file
from pruner.history.first_seen import remember
from pruner.history.record import run_line
from pruner.history.runs import history_file

WEEKS: Final = 104
LAST_DAY: Final = datetime.date(2026, 7, 26)
#: One station in so many is new in a mean week.
_GROWTH: Final = 600


def write_history(folder: Path, stations: int, radio: str, limit: int, source: str, seed: int) -> Path:
    """Writes the invented history, in place of an earlier one. The same arguments give the same bytes."""
    mean = max(stations // _GROWTH, 2)
    steps = mean // 2 + Draws(seed).below("history", mean + 1, WEEKS - 1)
    counts = stations - np.concatenate([np.cumsum(steps[::-1])[::-1], [0]])
    days = [LAST_DAY - datetime.timedelta(weeks=back) for back in range(WEEKS - 1, -1, -1)]
    runs = [run_line(day, [_summary(count, radio, limit, source)]) for day, count in zip(days, counts.tolist(), strict=True)]
    with whole_file(history_file(folder)) as making:
        making.write_bytes(b"".join(run + b"\n" for run in runs))
    return history_file(folder)


def write_first_seen(folder: Path, source: str, ids: Integers) -> Path:
    """Writes since when ids (ascending) stand in a source, as weekly runs saw it from the first week of the logs on."""
    (folder / f"{source}.parquet").unlink(missing_ok=True)
    issued = issued_on(ids, calls.DAYS)
    for day in range(7, calls.DAYS, 7):
        there = ids[issued <= day].astype(np.uint32)
        remember(folder, source, there, calls.FIRST_DAY + day - 1)
    return folder / f"{source}.parquet"


def _summary(stations: int, radio: str, limit: int, source: str) -> Summary:
    kept = min(stations, limit)
    over = {"over limit": stations - kept} if stations > kept else {}
    account = RowAccount(read=stations, kept=kept, dropped=stations - kept, rejected=0, reasons=over)
    return Summary(
        radio=radio,
        limit=Limit(contacts=limit),
        read=stations,
        kept=kept,
        rejected=0,
        dropped=over,
        rejected_reasons={},
        drop_rules=(),
        rules=(),
        countries={},
        placed_by={},
        changed={},
        sources=(SourceSummary(name=source, rows=stations, account=account),),
        files=(),
    )
