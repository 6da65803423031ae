"""The job of the benchmark in pandas, as one would write it by hand: read, parse, sort, cut, write.

Receives the CSV file of `benchmarks.directory`; writes `contacts.csv` and `ledger.parquet`. It does what that
input needs and no more: no unreadable rows, no drop rules, no lists, country from the text only.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np
import pandas as pd


def run_file(
    source: Path,
    countries_by_text: Mapping[str, str],
    keep: Sequence[tuple[str, Sequence[str] | None]],
    limit: int,
    folder: Path,
) -> None:
    """`keep` holds the name of each rule and its countries (None: all)."""
    table = pd.read_csv(source, dtype=str, keep_default_na=False)
    cells = table["id"].str.replace(r"\s", "", regex=True)
    number = pd.to_numeric(cells.where(cells.str.fullmatch(r"\d+(\.0+)?"), None))
    is_suffixed = number.between(100_000_000, 999_999_999)
    number = number.where(~is_suffixed, number // 100).astype("int64")
    part = table["callsign"].str.replace(r"\s", "", regex=True).str.upper()
    callsign = part.str.split("/").map(lambda parts: max(parts, key=len))
    callsign = callsign.str.replace(r"^(.+)-[A-Z0-9]{1,2}$", r"\1", regex=True)
    country = table["country"].map(countries_by_text)
    frame = pd.DataFrame({"row": np.arange(1, len(table) + 1), "id": number, "is_suffixed": is_suffixed})
    stays = frame.sort_values(["is_suffixed", "row"], ascending=[True, False]).drop_duplicates("id").index
    is_contact = pd.Series(False, index=frame.index)
    is_contact[stays] = True
    owner = np.select([is_contact & (country.isin(c) if c else True) for _, c in keep], range(len(keep)), -1)
    queue = frame.assign(owner=owner)[owner >= 0].sort_values(["owner", "id"]).index
    rank = pd.Series(np.arange(1, len(queue) + 1), index=queue, dtype="Int64").reindex(frame.index)
    kept = queue[:limit]
    reason = np.select([~is_contact, owner < 0, rank.fillna(0) > limit], ["duplicate id", "no rule", "over limit"], "")
    contacts = table.loc[kept].assign(id=number[kept], callsign=callsign[kept]).sort_values("id")
    contacts.to_csv(folder / "contacts.csv", index=False)
    ledger = pd.DataFrame(
        {
            "source": "world",
            "row": frame["row"],
            "system": "dmr",
            "id": number,
            "callsign": callsign,
            "country": country,
            "country_from": "text",
            "outcome": np.where(reason == "", "kept", "dropped"),
            "reason": pd.Series(reason).where(reason != "", None),
            "rule": np.array([*(name for name, _ in keep), None], dtype=object)[owner],
            "rank": rank,
        }
    )
    ledger.to_parquet(folder / "ledger.parquet", index=False)
