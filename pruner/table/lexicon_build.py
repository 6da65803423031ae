"""Lists of words -> `data/lexicon.tsv`: `python -m pruner.table.lexicon_build` after a change of a list."""

from __future__ import annotations

from collections.abc import Mapping

from pruner.table.fold import fold
from pruner.table.lexicon import FILE
from pruner.table.words import WORDS
from pruner.table.words_compound import FULL_STOP_ABBREVIATIONS, LINKS, QUALIFIERS
from pruner.table.words_endings import JOINING_LETTERS, PREFIXES, SUFFIXES

#: Words that link others beside those of LINKS, in many languages.
_ARTICLES = "a an the der die das le la les il lo el los las o os de"


def lexicon() -> str:
    """The file: parts, each with its name, one line per word."""
    joining = sorted({letters for text in JOINING_LETTERS.values() for letters in text.split()})
    parts = {
        "entries": _entries(),
        "qualifiers": _qualifiers(),
        "endings": _heads(SUFFIXES),
        "beginnings": _heads(PREFIXES),
        "joining letters": dict.fromkeys(joining, "-"),
    }
    return "\n".join(
        f"{name}\n" + "".join(f"{word}\t{what}\n" for word, what in words.items()) for name, words in parts.items()
    )


def _entries() -> dict[str, str]:
    """Classes per entry."""
    found: dict[str, set[str]] = {}
    for name, languages in WORDS.items():
        for entry in " ".join(languages.values()).split():
            found.setdefault(fold(entry), set()).add(name)
    for name, text in FULL_STOP_ABBREVIATIONS.items():
        for entry in text.split():
            found.setdefault(fold(entry), {name})
    found.pop("", None)
    return {entry: " ".join(sorted(names)) for entry, names in sorted(found.items())}


def _qualifiers() -> dict[str, str]:
    found = {fold(word): kind for kind, text in reversed(QUALIFIERS.items()) for word in text.split()}
    found |= dict.fromkeys(map(fold, " ".join([*LINKS.values(), _ARTICLES]).split()), "link")
    return dict(sorted(found.items()))


def _heads(lists: Mapping[str, Mapping[str, str]]) -> dict[str, str]:
    """The longest first, and of one word the class whose name comes first."""
    found = {(fold(entry), name) for name, languages in lists.items() for text in languages.values() for entry in text.split()}
    heads: dict[str, str] = {}
    for entry, name in sorted(found, key=lambda pair: (-len(pair[0]), pair)):
        heads.setdefault(entry, name)
    return heads


if __name__ == "__main__":
    FILE.write_text(lexicon(), encoding="utf-8", newline="\n")
