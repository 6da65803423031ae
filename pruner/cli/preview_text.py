"""Rows of a file to import, beside what was read, as text for a terminal of 80 columns."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Final

from pruner.cli.text import number, paragraph, safe, shortened, table
from pruner.library.results import PreviewRow, Summary
from pruner.words.nouns import counted

_TITLE: Final = 16
_CELL: Final = 28
#: So many carried entries are named, and so long is the text of one that could not be read.
_NAMED: Final = 20
_ENTRY: Final = 40
#: The changes for a layout that are said after every fit, and how.
_CHANGED: Final = {"shortened for the layout": "cut", "transliterated for the layout": "transliterated"}


def preview_lines(rows: Sequence[PreviewRow], indent: str = "") -> list[str]:
    """Some lines per row : where it stands, what it shows, and its cells; what was read stands beside those
    that differ."""
    lines: list[str] = []
    for row in rows:
        because = ", ".join(row.because) or "an ordinary row"
        lines.append(paragraph(f"{row.file} line {number(row.line)}: {because}", indent))
        cells = [
            (shortened(cell.title, _TITLE), _cell(cell.text), _cell(cell.as_read) if cell.is_changed else "")
            for cell in row.cells
        ]
        width = 80 - len(indent) - 2 - _TITLE - 2 - _CELL - 2
        told = [("column", "in the file", "as it was read")]
        told += [(title, shortened(text, _CELL), shortened(before, width)) for title, text, before in cells]
        lines += [indent + "  " + line for line in table(told).split("\n")]
    return lines


def import_lines(summary: Summary, folder: Path) -> list[str]:
    """Which file to import, and how many of its texts were changed for the layout."""
    names = [file.name for file in summary.files if file.name.startswith("contacts")]
    many = f" to {names[-1]} (all {counted(len(names), 'file')}, in this order)" if len(names) > 1 else ""
    lines = [f"import: {folder / names[0]}{many}"] if names else []
    changed = [f"{number(summary.changed[word])} {said}" for word, said in _CHANGED.items() if summary.changed.get(word)]
    if changed:
        of = counted(summary.kept, "contact")
        said = f"Of {of} {' and '.join(changed)} for the layout, whose encoding is {_encoding(summary)}"
        lines.append(f"{said}; to see some: pruner layout preview")
    return [paragraph(line) for line in lines]


def _encoding(summary: Summary) -> str:
    """The encoding of the layout that a summary records."""
    file = (summary.layout or {}).get("file")
    return str(file.get("encoding", "utf-8")) if isinstance(file, Mapping) else "utf-8"


def carried_lines(summary: Summary) -> list[str]:
    """How many carried entries stay as they were, and by name those that do not, or that are not carried."""
    told = summary.carried
    if told is None:
        return []
    lines = [
        f"Of {counted(told.rows, 'entry', 'entries')} of the export {number(told.unchanged)} are carried unchanged, "
        f"{number(len(told.changed))} changed, {number(len(told.not_carried))} not."
    ]
    named = [f"  {shortened(one.entry, _ENTRY)} ({one.id}): {'; '.join(one.changes)}" for one in told.changed]
    named += [
        f"  {shortened(one.entry, _ENTRY)} ({one.id if one.id is not None else f'line {one.line:,}'}): {one.reason}"
        for one in told.not_carried
    ]
    lines += named[:_NAMED]
    if len(named) > _NAMED:
        lines.append(f"  and {number(len(named) - _NAMED)} more, all in summary.json")
    if told.columns_left:
        lines.append(f"Columns of the export that are not carried: {', '.join(told.columns_left)}.")
    return [paragraph(line.lstrip(), "  " if line.startswith(" ") else "") for line in lines]


def _cell(text: str) -> str:
    """A text, in quotes where it is empty or spaces stand at its ends."""
    clear = safe(text)
    return f'"{clear}"' if clear != clear.strip() or not clear else clear
