"""What was understood of each file, as text for a terminal of 80 columns."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Final

from pruner.cli.text import WIDTH, columns, number, paragraph, safe, shortened, table
from pruner.words.nouns import counted
from pruner.words.outcomes import NO_ROWS

if TYPE_CHECKING:
    from pruner.library.questions import Look
    from pruner.library.results import Understood

_LONGEST_NAME: Final = 40
_CELL: Final = 40
_SHORTEST: Final = 5


def understood_lines(files: Iterable[Understood]) -> list[str]:
    """One sentence per file; files that were understood alike share one."""
    alike: dict[str, list[str]] = {}
    for one in files:
        names = alike.setdefault(one.sentence, [])
        if one.file not in names:
            names.append(one.file)
    return [paragraph(f"{_named(names)}: {sentence}") for sentence, names in alike.items()]


def lines_aside(changed: Mapping[str, int]) -> list[str]:
    """What stands in the files beside rows: comments, headings once more and the like; `changed` as in a summary."""
    found = [f"{what.removesuffix(NO_ROWS)} {number(count)}" for what, count in changed.items() if what.endswith(NO_ROWS)]
    return [paragraph(f"lines that are no rows, not among those read: {', '.join(found)}")] if found else []


def looks_text(found: Sequence[Look]) -> str:
    """What each file holds, its first rows below; files of one kind that were understood alike share one entry."""
    lines = []
    alike: dict[tuple[str, str], list[Look]] = {}
    for look in found:
        alike.setdefault((look.what, look.sentence or look.trouble), []).append(look)
    for (what, _), same in alike.items():
        first = same[0]
        more = f" and {counted(len(same) - 1, 'file')} more, alike" if len(same) > 1 else ""
        lines.append(f"  {safe(what)}: {safe(first.path)}{more}")
        lines.append(paragraph(first.sentence or f"cannot be read: {first.trouble}", "    "))
        if first.rows:
            lines.append(rows_table(first.rows, "      "))
    return "\n".join(lines)


def rows_table(rows: Sequence[Mapping[str, str]], indent: str = "  ") -> str:
    """Rows of meaning -> cell as they were understood, cut to the width of the terminal."""
    meanings = list(dict.fromkeys(meaning for row in rows for meaning in row))
    if not meanings:
        return ""
    widths = [max(len(meaning), *(min(columns(safe(row.get(meaning, ""))), _CELL) for row in rows)) for meaning in meanings]
    while sum(widths) + 2 * (len(widths) - 1) > WIDTH - len(indent) and max(widths) > _SHORTEST:
        widths[widths.index(max(widths))] -= 1
    cells = [
        [shortened(text, width) for text, width in zip(texts, widths, strict=True)]
        for texts in (meanings, *([row.get(meaning, "") for meaning in meanings] for row in rows))
    ]
    return "\n".join(indent + line for line in table(cells).split("\n"))


def _named(names: Sequence[str]) -> str:
    first = shortened(names[0], _LONGEST_NAME)
    return first if len(names) == 1 else f"{first} and {number(len(names) - 1)} more"
