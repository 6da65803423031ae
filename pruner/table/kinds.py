"""What a kind of table holds: its meanings, which words and which cells speak for each, and how its refusals speak.

The declarations themselves lie in `read/`; this is their form.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pruner.table.board import Board
    from pruner.table.choices import Identified


#: What a column is called that says of each row what kind of entry it is.
ENTRY_KIND = "entry_kind"
#: And one that says of which system it is.
ENTRY_SYSTEM = "entry_system"


@dataclass(frozen=True, slots=True)
class Meaning:
    """One thing that a column can hold.

    `name` is the canonical column; `words`: classes of words (`table.words`) that speak for it, with a weight from 0 to 1;
    `cells` says from 0 to 1 how well the cells of the column at a position fit (None: text, of which cells say next to nothing,
    so that its heading must speak for it); `is_left_over`: the only column of text that nothing else is may be taken for it.
    """

    name: str
    words: tuple[tuple[str, float], ...]
    cells: Callable[[Board, int], float] | None = None
    is_left_over: bool = False


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of table.

    `meanings` stand in the order in which they are chosen where scores are equal. `needed`: those without which the table is
    refused, each a tuple of which one is enough. `rivals`: the meanings of which a wrong column does harm, so that a close
    second is asked about. `table`, `keys` and `plurals` (of meanings) are words for refusals, `hint` the meanings to name
    there, `setting` the key of the settings that names columns. `may_be_short`: rows may end before the last column;
    `may_be_lines`: a line may be a number and, behind blanks or a sign, a text; `has_places`: a cell may hold town, state and
    country, `takes_names_apart`: a call sign and a name, or a surname and a first name in this order; `may_be_side_by_side`:
    several tables may stand in one sheet, under repeated headings; `may_have_several_ids`: so may several ids in a row;
    `refuses_logs`: ids that come again and again, with times, are no such table. `judge`
    looks at the whole choice and says why it is refused, "" where it is not; `settle` corrects what was identified before.
    `kind_column` finds, among columns of cells and beside positions that are taken, the one that says of each row what kind of
    entry it is (`ENTRY_KIND`).
    """

    name: str
    meanings: tuple[Meaning, ...]
    needed: tuple[tuple[str, ...], ...]
    rivals: tuple[str, ...]
    table: str
    keys: str
    hint: tuple[str, ...]
    plurals: Mapping[str, str] = field(default_factory=dict)
    judge: Callable[[Board, dict[str, int]], str] = lambda board, chosen: ""
    setting: str = "columns"
    may_be_short: bool = False
    may_be_lines: bool = False
    may_be_side_by_side: bool = False
    may_have_several_ids: bool = False
    refuses_logs: bool = False
    has_places: bool = False
    takes_names_apart: bool = False
    settle: Callable[[Board, Identified], None] = lambda board, found: None
    kind_column: Callable[[Sequence[Sequence[str]], Collection[int]], int | None] = lambda columns, taken: None

    @property
    def names(self) -> tuple[str, ...]:
        """The canonical names of all meanings."""
        return tuple(meaning.name for meaning in self.meanings)

    def meaning(self, name: str) -> Meaning:
        """The meaning of a canonical name."""
        return next(meaning for meaning in self.meanings if meaning.name == name)
