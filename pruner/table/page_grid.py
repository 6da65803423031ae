"""Cells of a table of a page, one after the other -> its rows; a cell may reach over columns and rows.

Source of the method: WHATWG HTML standard, "forming a table", from memory.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

_MOST_COLUMNS: Final = 1000
#: A longer text stands in the first row alone that its cell reaches into.
_LONGEST_REPEATED: Final = 1000


@dataclass(slots=True)
class Cell:
    """A cell that is open, with its text so far."""

    across: int
    down: int
    text: list[str] = field(default_factory=list)


@dataclass(slots=True)
class Grid:
    """A table that is open: `above`: what stands between it and the table before; `rows` as far as they are whole; `held`:
    columns that a cell of an earlier row reaches into, with its text and for how many rows more."""

    label: str
    above: str = ""
    rows: list[list[str]] = field(default_factory=list)
    row: list[Cell] | None = None
    cell: Cell | None = None
    held: dict[int, tuple[str, int]] = field(default_factory=dict)

    def open_cell(self, across: int, down: int) -> None:
        """Begins a cell that reaches over so many columns and rows."""
        self.close_cell()
        if self.row is None:
            self.row = []
        self.cell = Cell(across, down) if len(self.row) < _MOST_COLUMNS else None

    def close_cell(self) -> None:
        """Ends the open cell, where one is."""
        if self.cell is not None and self.row is not None:
            self.row.append(self.cell)
        self.cell = None

    def close_row(self) -> None:
        """Ends the open row, where one is, with the cells of earlier rows that reach into it."""
        self.close_cell()
        if self.row is None:
            return
        cells: list[str] = []
        held = self.held
        self.held = {place: (text, left - 1) for place, (text, left) in held.items() if left > 1}

        def pass_held() -> None:
            while len(cells) in held:
                cells.append(held[len(cells)][0])

        for cell in self.row:
            pass_held()
            if len(cells) >= _MOST_COLUMNS:
                break
            text = " ".join("".join(cell.text).split())
            for place in range(cell.across):
                if cell.down > 1 and len(text) <= _LONGEST_REPEATED:
                    self.held[len(cells)] = (text if place == 0 else "", cell.down - 1)
                cells.append(text if place == 0 else "")
        pass_held()
        for place in sorted(place for place in held if place >= len(cells)):
            cells += [""] * (place - len(cells)) + [held[place][0]]
        self.rows.append(cells)
        self.row = None
