"""Which rows of a written file show best what was done to text: cut, transliterated, of other scripts, longest, empty.

Receives contacts and the cells that the writer made of them, hands on few rows with the reasons why.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import polars as pl

from pruner.words import schema

#: How many rows `telling_rows` gives if nothing else is said.
TELLING: Final = 10
#: What a script is called, and the pattern of its letters (Unicode script property).
_SCRIPTS: Final = {
    "Cyrillic": r"\p{Cyrillic}",
    "Greek": r"\p{Greek}",
    "Han": r"\p{Han}",
    "kana": r"[\p{Hiragana}\p{Katakana}]",
    "Hangul": r"\p{Hangul}",
    "Arabic": r"\p{Arabic}",
    "Hebrew": r"\p{Hebrew}",
    "Thai": r"\p{Thai}",
}
_OTHER: Final = "another script"
_KNOWN: Final = "".join(_SCRIPTS.values()).replace("[", "").replace("]", "")
_NOT_LATIN: Final = r"[^\p{Latin}\p{Common}\p{Inherited}]"
_OTHER_LETTER: Final = rf"[^\p{{Latin}}\p{{Common}}\p{{Inherited}}{_KNOWN}]"
_TEXTS: Final = (schema.FIRST_NAME, schema.LAST_NAME, schema.TOWN, schema.STATE, schema.CALLSIGN)
_SHOWN_EMPTY: Final = 3


@dataclass(frozen=True, slots=True)
class TellingRow:
    """A row of the file, from 0 over all its parts, and what it shows ("" of an ordinary one)."""

    place: int
    because: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Kind:
    """Rows that show one thing, and how much of it: the greatest `size` is taken, of equal ones the first."""

    word: str
    rows: npt.NDArray[np.int64]
    size: npt.NDArray[np.int64]

    @property
    def best(self) -> int:
        return int(self.rows[np.argmax(self.size)])


def telling_rows(
    contacts: pl.DataFrame,
    cells: pl.DataFrame,
    marks: Mapping[str, pl.Series],
    titles: Mapping[int, str],
    count: int = TELLING,
) -> list[TellingRow]:
    """At most `count` rows, the most telling first, each once.

    `contacts` and `cells` have one row per row of the file, in its order; `marks`: rows per kind of change, by its word;
    `titles`: what the columns of `cells` that hold text of their own are called, by position. Rows that show nothing fill up,
    evenly over the file.
    """
    if not cells.height:
        return []
    kinds = list(_kinds(contacts, cells, marks, titles))
    chosen = list(dict.fromkeys(kind.best for kind in kinds))[:count]
    step = max(cells.height // count, 1)
    chosen = list(dict.fromkeys([*chosen, *range(0, cells.height, step)]))[: min(count, cells.height)]
    return [TellingRow(place, tuple(_reasons(place, kinds))) for place in chosen]


def _kinds(
    contacts: pl.DataFrame, cells: pl.DataFrame, marks: Mapping[str, pl.Series], titles: Mapping[int, str]
) -> Iterator[_Kind]:
    fields = [name for name in _TEXTS if name in contacts.columns]
    whole = contacts.select(pl.concat_str(fields, separator=" "))[:, 0]
    length = whole.str.len_chars().to_numpy().astype(np.int64)
    marked = list(_marked(marks, length))
    scripts = list(_of_scripts(whole, length))
    yield from (*marked[:1], *scripts[:1], *_emptiest(cells, titles), *marked[1:], *scripts[1:])
    for place, title in titles.items():
        size = cells[:, place].str.len_chars().to_numpy()
        longest = int(size.max(initial=0))
        if longest:
            rows = np.flatnonzero(size == longest)[:1]
            yield _Kind(f"longest {title}", rows, size[rows].astype(np.int64))


def _marked(marks: Mapping[str, pl.Series], length: npt.NDArray[np.int64]) -> Iterator[_Kind]:
    for word, mask in marks.items():
        rows = mask.arg_true().to_numpy().astype(np.int64)
        if len(rows):
            yield _Kind(word, rows, length[rows])


def _of_scripts(texts: pl.Series, length: npt.NDArray[np.int64]) -> Iterator[_Kind]:
    """The scripts other than Latin, those with most contacts first."""
    odd = np.flatnonzero(texts.str.len_bytes().to_numpy() != length)
    odd = odd[texts.gather(odd).str.contains(_NOT_LATIN).to_numpy()] if len(odd) else odd
    if not len(odd):
        return
    texts = texts.gather(odd)
    kinds = []
    for word, pattern in (*_SCRIPTS.items(), (_OTHER, _OTHER_LETTER)):
        rows = odd[texts.str.contains(pattern).to_numpy()].astype(np.int64)
        if len(rows):
            kinds.append(_Kind(word if word == _OTHER else f"{word} letters", rows, length[rows]))
    yield from sorted(kinds, key=lambda kind: -len(kind.rows))


def _emptiest(cells: pl.DataFrame, titles: Mapping[int, str]) -> Iterator[_Kind]:
    empty = {title: _is_blank(cells[:, place]) for place, title in titles.items()}
    if not empty:
        return
    size = np.sum(list(empty.values()), axis=0)
    best = int(np.argmax(size))
    if size[best]:
        names = [title for title, mask in empty.items() if mask[best]]
        more = f" and {len(names) - _SHOWN_EMPTY} more" if len(names) > _SHOWN_EMPTY else ""
        yield _Kind(f"empty {', '.join(names[:_SHOWN_EMPTY])}{more}", np.array([best]), np.array([1]))


def _is_blank(texts: pl.Series) -> npt.NDArray[np.bool_]:
    """Which cells hold nothing but what fills them up."""
    filled = texts.str.starts_with(" ")
    bare = texts.str.strip_chars() if filled.any() else texts
    blank: npt.NDArray[np.bool_] = (bare == "").to_numpy()
    return blank


def _reasons(place: int, kinds: Sequence[_Kind]) -> Iterator[str]:
    for kind in kinds:
        at = int(np.searchsorted(kind.rows, place))
        if at < len(kind.rows) and kind.rows[at] == place:
            yield kind.word
