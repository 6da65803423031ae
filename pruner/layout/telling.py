"""Which rows of a written file show best what was done to text: cut, transliterated, of other scripts, longest, empty.

Receives contacts and the cells that the writer made of them, hands on few rows with the reasons why.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

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
#: In UTF-8 all characters that begin with a smaller byte, those before U+0280, are of the scripts Latin and Common (Unicode's
#: Scripts.txt).
_LATIN_END: Final = 0xCA
_OTHER_LETTER: Final = rf"[^\p{{Latin}}\p{{Common}}\p{{Inherited}}{_KNOWN}]"
_TEXTS: Final = (schema.FIRST_NAME, schema.LAST_NAME, schema.TOWN, schema.STATE, schema.CALLSIGN)
_SHOWN_EMPTY: Final = 3

Mask = npt.NDArray[np.bool_]


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
    contacts: pa.Table,
    cells: pa.Table,
    marks: Mapping[str, Mask],
    titles: Mapping[int, str],
    count: int = TELLING,
) -> list[TellingRow]:
    """At most `count` rows, the most telling first, each once.

    `contacts` and `cells` have one row per row of the file, in its order; `marks`: rows per kind of change, by its word;
    `titles`: what the columns of `cells` that hold text of their own are called, by position. Rows that show nothing fill up,
    evenly over the file.
    """
    if not cells.num_rows:
        return []
    kinds = list(_kinds(contacts, cells, marks, titles))
    chosen = list(dict.fromkeys(kind.best for kind in kinds))[:count]
    step = max(cells.num_rows // count, 1)
    chosen = list(dict.fromkeys([*chosen, *range(0, cells.num_rows, step)]))[: min(count, cells.num_rows)]
    return [TellingRow(place, tuple(_reasons(place, kinds))) for place in chosen]


def _kinds(contacts: pa.Table, cells: pa.Table, marks: Mapping[str, Mask], titles: Mapping[int, str]) -> Iterator[_Kind]:
    fields = [contacts[name] for name in _TEXTS if name in contacts.column_names]
    length = np.zeros(contacts.num_rows, dtype=np.int64)
    for texts in fields:
        length += _characters(texts)
    sizes = {place: _characters(cells[place]) for place in titles}
    marked = list(_marked(marks, length))
    scripts = list(_of_scripts(fields, length))
    yield from (*marked[:1], *scripts[:1], *_emptiest(cells, titles, sizes), *marked[1:], *scripts[1:])
    for place, title in titles.items():
        size = sizes[place]
        longest = int(size.max(initial=0))
        if longest:
            rows = np.flatnonzero(size == longest)[:1]
            yield _Kind(f"longest {title}", rows, size[rows])


def _characters(texts: pa.ChunkedArray) -> npt.NDArray[np.int64]:
    return pc.utf8_length(texts).to_numpy().astype(np.int64)


def _marked(marks: Mapping[str, Mask], length: npt.NDArray[np.int64]) -> Iterator[_Kind]:
    for word, mask in marks.items():
        rows = np.flatnonzero(mask)
        if len(rows):
            yield _Kind(word, rows, length[rows])


def _of_scripts(fields: Sequence[pa.ChunkedArray], length: npt.NDArray[np.int64]) -> Iterator[_Kind]:
    """The scripts other than Latin, those with most contacts first."""
    odd = np.unique(np.concatenate([_beyond(texts.combine_chunks()) for texts in fields]))
    if not len(odd):
        return
    texts = pc.binary_join_element_wise(*(texts.take(pa.array(odd)) for texts in fields), " ")
    kinds = []
    for word, pattern in (*_SCRIPTS.items(), (_OTHER, _OTHER_LETTER)):
        rows = odd[_matches(texts, pattern)]
        if len(rows):
            kinds.append(_Kind(word if word == _OTHER else f"{word} letters", rows, length[rows]))
    yield from sorted(kinds, key=lambda kind: -len(kind.rows))


def _beyond(texts: pa.StringArray) -> npt.NDArray[np.int64]:
    """The texts that may hold letters of other scripts: a look at single bytes, which leaves few texts to the patterns."""
    places = np.frombuffer(texts.buffers()[1], np.int32)[texts.offset : texts.offset + len(texts) + 1]
    letters = np.frombuffer(texts.buffers()[2] or b"", np.uint8)[places[0] : places[-1]]
    found = np.flatnonzero(letters >= _LATIN_END)
    return np.searchsorted(places - places[0], found, side="right") - 1


def _matches(texts: pa.ChunkedArray, pattern: str) -> Mask:
    found: Mask = pc.match_substring_regex(texts, pattern).to_numpy()
    return found


def _emptiest(cells: pa.Table, titles: Mapping[int, str], sizes: Mapping[int, npt.NDArray[np.int64]]) -> Iterator[_Kind]:
    empty = {title: _is_blank(cells[place], sizes[place]) for place, title in titles.items()}
    if not empty:
        return
    size = np.sum(list(empty.values()), axis=0)
    best = int(np.argmax(size))
    if size[best]:
        names = [title for title, mask in empty.items() if mask[best]]
        more = f" and {len(names) - _SHOWN_EMPTY} more" if len(names) > _SHOWN_EMPTY else ""
        yield _Kind(f"empty {', '.join(names[:_SHOWN_EMPTY])}{more}", np.array([best]), np.array([1]))


def _is_blank(texts: pa.ChunkedArray, size: npt.NDArray[np.int64]) -> Mask:
    """Which cells, of so many characters, hold nothing but what fills them up."""
    is_filled = pc.any(pc.starts_with(texts, " ")).as_py()
    return (_characters(pc.utf8_trim_whitespace(texts)) if is_filled else size) == 0


def _reasons(place: int, kinds: Sequence[_Kind]) -> Iterator[str]:
    for kind in kinds:
        at = int(np.searchsorted(kind.rows, place))
        if at < len(kind.rows) and kind.rows[at] == place:
            yield kind.word
