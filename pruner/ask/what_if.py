"""What if the radio held more, or less: the same rules at limits that nobody configured.

Receives what was loaded and limits, hands on one row per limit: kept per rule, coverage, file size, time to send it.
"""

from __future__ import annotations

import csv
import io
import json
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from pruner.job.choose import choose
from pruner.job.load import Loaded
from pruner.job.write import write_contacts
from pruner.settings.cross import CARRIED
from pruner.settings.models import Radio
from pruner.words.progress import Progress, silent

#: A serial line sends a start bit, eight data bits and a stop bit (common practice, no source).
BITS_PER_BYTE = 10


def what_if(
    loaded: Loaded, radio: Radio, limits: Sequence[int], bits_per_second: int, progress: Progress = silent
) -> list[dict[str, Any]]:
    """One row per limit (ascending, each once), with the file written for real to measure it.

    `contacts`: the limit; `kept`; `rules`: name -> kept; `cut`: the rule inside which the limit fell or None;
    `coverage`: as in summary.json or None; `to_come`: `share`, `low`, `high` of the calls of the next `period_days`;
    `bytes` of the files to import; `seconds` to send them.
    """
    rows = []
    ahead = None
    if loaded.calls is not None:
        from pruner.job.to_come import calls_to_come  # for those who have heard logs

        ahead = calls_to_come(loaded, radio, [max(limit - radio.keep_free, 0) for limit in limits])
    for limit in sorted(set(limits)):
        progress(f"trying {limit:,} contacts")
        tried = radio.model_copy(update={"contacts": limit})
        choice = choose(loaded, tried)
        with tempfile.TemporaryDirectory() as folder:
            write_contacts(loaded, choice, Path(folder))
            size = sum(path.stat().st_size for path in Path(folder).iterdir())
        kept = {rule.name: number for rule, number in zip(choice.rules, choice.fit.kept, strict=True)}
        if choice.carried:
            kept = {CARRIED: choice.carried.kept, **kept}
        settings = loaded.settings
        rows.append(
            {
                "contacts": limit,
                "kept": sum(kept.values()),
                "rules": kept,
                "cut": choice.rules[choice.fit.cut[0]].name if choice.fit.cut else None,
                "coverage": loaded.calls.coverage(
                    choice.kept, settings.talkgroups.mine, settings.calls.window_days, choice.carried
                )
                if loaded.calls
                else None,
                "to_come": _ahead(ahead, limit - radio.keep_free),
                "period_days": loaded.settings.calls.period_days,
                "bytes": size,
                "seconds": round(size * BITS_PER_BYTE / bits_per_second, 1),
            }
        )
    return rows


def _ahead(ahead: dict[str, Any] | None, room: int) -> dict[str, Any]:
    """The share of calls to come at a limit; nulls where there is no figure."""
    found = [one for one in (ahead or {}).get("by_limit", []) if one["contacts"] <= max(room, 0)]
    return dict(found[-1] if found else dict.fromkeys(("contacts", "share", "low", "high")))


def write_what_if(results: Mapping[str, list[dict[str, Any]]], folder: Path) -> list[Path]:
    """`<radio>.json` with everything and `<radio>.csv` with one line per limit; returns the paths."""
    folder.mkdir(parents=True, exist_ok=True)
    paths = []
    for radio, rows in results.items():
        columns = ["contacts", "kept", "cut", "bytes", "seconds"]
        shares = {"coverage": "all", "coverage on mine": "mine"}
        table = io.StringIO()
        writer = csv.writer(table, lineterminator="\n")
        rules = list(rows[0]["rules"]) if rows else []
        writer.writerow([*columns, *shares, *(f"kept by {name}" for name in rules)])
        for row in rows:
            told = [((row["coverage"] or {}).get(key) or {}).get("share") for key in shares.values()]
            writer.writerow([*(row[column] for column in columns), *told, *(row["rules"][name] for name in rules)])
        contents = {f"{radio}.csv": table.getvalue(), f"{radio}.json": json.dumps(rows, ensure_ascii=True, indent=2) + "\n"}
        for name, text in contents.items():
            beside = folder / f".{name}.part"
            beside.write_text(text, encoding="utf-8")
            paths.append(beside.replace(folder / name))
    return paths
