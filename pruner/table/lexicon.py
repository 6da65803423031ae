"""The words that head columns, folded: what `lexicon_build` makes of the lists in `words_*`.

Hands on look-ups. The lists are thousands of words in 36 languages; a run reads the finished file instead of folding them.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Final

FILE: Final = Path(__file__).parent / "data" / "lexicon.tsv"


@cache
def _parts() -> dict[str, dict[str, str]]:
    """Name of each part of the file -> its words -> what each is."""
    found = {}
    for part in FILE.read_text(encoding="utf-8").split("\n\n"):
        name, _, lines = part.strip("\n").partition("\n")
        cells = iter(lines.replace("\n", "\t").split("\t"))
        found[name] = dict(zip(cells, cells, strict=True))
    return found


def classes_of(entry: str) -> frozenset[str]:
    """The classes of words (`table.words.WORDS`) of a folded entry, none where it is no entry."""
    return frozenset(_parts()["entries"].get(entry, "").split())


def qualifiers() -> dict[str, str]:
    """Kind of qualifier per folded word; words that only link others have the kind "link"."""
    return _parts()["qualifiers"]


def endings() -> dict[str, str]:
    """Folded endings of fused compounds with their class, the longest first."""
    return _parts()["endings"]


def beginnings() -> dict[str, str]:
    """The same of languages that put the head first."""
    return _parts()["beginnings"]


@cache
def joining_letters() -> tuple[str, ...]:
    """Letters that join the parts of a fused compound, no letter first."""
    return ("", *_parts()["joining letters"])
