"""What was understood of each file, as text for a terminal of 80 columns."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from pruner.cli.text import WIDTH, number, paragraph, shortened, table

_LONGEST_NAME: Final = 40
_CELL: Final = 18


def understood_lines(summaries: Sequence[dict[str, Any]]) -> list[str]:
    """One sentence per file of the sources and lists of some summaries; files that were understood alike share one."""
    alike: dict[str, list[str]] = {}
    for summary in summaries:
        sources = [*summary.get("sources", ()), *summary.get("lists", ())]
        for source in sources:
            for one in source.get("understood", [source] if "sentence" in source else ()):
                names = alike.setdefault(one["sentence"], [])
                if one["file"] not in names:
                    names.append(one["file"])
    return [paragraph(f"{_named(names)}: {sentence}") for sentence, names in alike.items()]


def rows_table(rows: Sequence[dict[str, str]], indent: str = "  ") -> str:
    """Rows of meaning -> cell as they were understood, cut to the width of the terminal."""
    meanings = list(dict.fromkeys(meaning for row in rows for meaning in row))
    if not meanings:
        return ""
    width = max(6, min(_CELL, (WIDTH - len(indent)) // len(meanings) - 2))
    cells = [[shortened(meaning, width) for meaning in meanings]]
    cells += [[shortened(row.get(meaning, ""), width) for meaning in meanings] for row in rows]
    return "\n".join(indent + line for line in table(cells).split("\n"))


def _named(names: Sequence[str]) -> str:
    first = shortened(names[0], _LONGEST_NAME)
    return first if len(names) == 1 else f"{first} and {number(len(names) - 1)} more"
