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

from pruner.account.coverage import Ahead, CoverageSummary
from pruner.account.parts import Part
from pruner.account.to_come_text import end_of_limits, why_no_share
from pruner.job.choose import choose
from pruner.job.load import Loaded
from pruner.job.write import write_contacts
from pruner.settings.cross import CARRIED
from pruner.settings.models import Radio
from pruner.words.progress import Progress, silent

#: A serial line sends a start bit, eight data bits and a stop bit (common practice, no source).
BITS_PER_BYTE = 10


class LimitTried(Part):
    """One limit: kept contacts, in all and per rule; the rule inside which the limit fell; coverage looking back; the share of
    the calls of the next `period_days`, why there is none or only a lower bound, and why it is that of a smaller limit where
    it is; bytes of the files to import and seconds to send them."""

    contacts: int
    kept: int
    rules: dict[str, int]
    cut: str | None = None
    coverage: CoverageSummary | None = None
    to_come: Ahead = Ahead()
    to_come_why: str | None = None
    to_come_end: str | None = None
    period_days: int
    bytes: int
    seconds: float


def plain(rows: Sequence[LimitTried]) -> list[dict[str, object]]:
    """For JSON."""
    return [row.model_dump(mode="json") for row in rows]


def what_if(
    loaded: Loaded, radio: Radio, limits: Sequence[int], bits_per_second: int, progress: Progress = silent
) -> list[LimitTried]:
    """One row per limit (ascending, each once), with the file written for real to measure it."""
    rows = []
    ahead = None
    if loaded.calls is not None:
        from pruner.job.to_come import calls_to_come  # for those who have heard logs

        ahead = calls_to_come(loaded, radio, [max(limit - radio.keep_free, 0) for limit in limits])
    for limit in sorted(set(limits)):
        room = max(limit - radio.keep_free, 0)
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
        back = None
        if loaded.calls:
            back = loaded.calls.coverage(choice.kept, settings.talkgroups.mine, settings.calls.window_days, choice.carried)
        rows.append(
            LimitTried(
                contacts=limit,
                kept=sum(kept.values()),
                rules=kept,
                cut=choice.rules[choice.fit.cut[0]].name if choice.fit.cut else None,
                coverage=back,
                to_come=ahead.at(room) if ahead else Ahead(),
                to_come_why=why_no_share(ahead, [ahead.at(room)]) if ahead else None,
                to_come_end=end_of_limits(ahead, room) or None if ahead else None,
                period_days=settings.calls.period_days,
                bytes=size,
                seconds=round(size * BITS_PER_BYTE / bits_per_second, 1),
            )
        )
    return rows


def write_what_if(results: Mapping[str, list[LimitTried]], folder: Path) -> list[Path]:
    """`<radio>.json` with everything and `<radio>.csv` with one line per limit; returns the paths."""
    folder.mkdir(parents=True, exist_ok=True)
    paths = []
    for radio, rows in results.items():
        columns = ["contacts", "kept", "cut", "bytes", "seconds"]
        table = io.StringIO()
        writer = csv.writer(table, lineterminator="\n")
        rules = list(rows[0].rules) if rows else []
        writer.writerow([*columns, "coverage", "coverage on mine", *(f"kept by {name}" for name in rules)])
        for row in rows:
            coverages = (row.coverage.all, row.coverage.mine) if row.coverage else (None, None)
            told = [one.share if one else None for one in coverages]
            writer.writerow([*(getattr(row, column) for column in columns), *told, *(row.rules[name] for name in rules)])
        document = json.dumps(plain(rows), ensure_ascii=True, indent=2) + "\n"
        contents = {f"{radio}.csv": table.getvalue(), f"{radio}.json": document}
        for name, text in contents.items():
            beside = folder / f".{name}.part"
            beside.write_text(text, encoding="utf-8")
            paths.append(beside.replace(folder / name))
    return paths
