"""What `heard fold` and `heard show` print."""

from __future__ import annotations

from typing import Final

from pruner.cli.text import number, paragraph, shortened, table
from pruner.heard.marks import MARK_WORDS, Account, Mark
from pruner.heard.show import Line, Overview
from pruner.pipeline.heard import FoldResult

_NAME_WIDTH: Final = 36
_MOST_FILES: Final = 20


def fold_text(result: FoldResult) -> str:
    """The account of a fold: files with new rows, reasons, and where the store lies."""
    total = result.total
    new = [file for file in result.files if file.account.read]
    rows = [["log", "read", "new", "known", "set aside", "rejected"]]
    for file in new[:_MOST_FILES]:
        account = file.account
        rows.append([shortened(file.path.name, _NAME_WIDTH), *_counts(account)])
    if len(new) > _MOST_FILES:
        rows.append([f"and {len(new) - _MOST_FILES} more", "", "", "", "", ""])
    rows.append(["in all", *_counts(total)])
    lines = [table(rows, right=(1, 2, 3, 4, 5))] if new else []
    known = len(result.files) - len(new)
    if known:
        lines.append(f"{number(known)} of {number(len(result.files))} logs hold nothing new")
    lines += [f"  set aside, {word}: {number(count)}" for word, count in sorted(total.set_aside.items())]
    lines += [f"  rejected, {word}: {number(count)}" for word, count in sorted(total.rejected.items())]
    for system, parts in result.changed.items():
        lines.append(f"{system}: {counted(len({part.day for part in parts}), 'day')} changed")
        if total.rejected or set(total.set_aside) - {MARK_WORDS[Mark.FORGOTTEN], MARK_WORDS[Mark.TOO_OLD]}:
            lines.append(paragraph(f"the rows themselves: {result.stores[system]}", "  "))
    for system, parts in result.forgotten.items():
        days = counted(len({part.day for part in parts}), "day")
        lines.append(paragraph(f"{system}: {days} forgotten, older than calls are kept ([calls] keep_days)"))
    return "\n".join(lines)


def _counts(account: Account) -> list[str]:
    counts = (account.read, account.new, account.known, account.set_aside.total(), account.rejected.total())
    return [number(count) for count in counts]


def counted(count: int, word: str) -> str:
    """A number and what it counts."""
    return f"{number(count)} {word}" if count == 1 else f"{number(count)} {word}s"


def overview_text(found: Overview) -> str:
    """Two tables: stations and talkgroups with most calls."""
    heard = f"{counted(found.calls, 'call')} of {counted(found.stations, 'station')}"
    head = f"{found.first_day} to {found.last_day}: {heard} (days in UTC)"
    stations = [["id", "calls", "on air", "since", "last heard", "most on"]]
    stations += [[*_cells(line), " ".join(map(str, line.talkgroups))] for line in found.most_heard]
    groups = [["talkgroup", "calls", "on air", "since", "last heard"], *(_cells(line) for line in found.busiest)]
    return "\n".join(
        [
            head,
            "",
            "Stations heard most",
            table(stations, right=(0, 1, 2)),
            "",
            "Busiest talkgroups",
            table(groups, right=(0, 1, 2)),
        ]
    )


def _cells(line: Line) -> list[str]:
    seconds = round(line.seconds)
    on_air = f"{seconds // 3600}:{seconds // 60 % 60:02}:{seconds % 60:02}"
    return [str(line.number), number(line.calls), on_air, line.first[:10], line.last[:16].replace("T", " ")]
