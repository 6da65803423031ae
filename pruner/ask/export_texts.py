"""Which differences between what was written and what a radio holds are differences.

Receives texts as polars expressions and frames, hands on normal forms and what alone differs. Blanks around a text, and how
Unicode composes its accents, are no difference.
"""

from __future__ import annotations

from typing import Final

import polars as pl

from pruner.layout.encoding import text_encoding
from pruner.layout.letters import spell, spelling_of
from pruner.read.open_table import BELOW
from pruner.words import schema

#: Of another text, what alone may differ: letters in capitals, blanks inside, accents and other scripts spelled out.
CAPITALS, BLANKS, SPELLING = "capitals", "blanks", "spelling"
ONLY: Final = (CAPITALS, BLANKS, SPELLING)
#: Countries that spell letters each in a way of its own, and one that does not.
_SPELLING: Final = ("", "AT", "DK")


def same_text(text: pl.Expr) -> pl.Expr:
    """Texts in a form in which those that are no different are equal."""
    return text.str.normalize("NFC").str.strip_chars()


def without_blanks(text: pl.Expr) -> pl.Expr:
    """Texts without any blanks."""
    return text.str.replace_all(r"\s", "")


def trimmed(written: pl.DataFrame, held: pl.DataFrame) -> int:
    """How many texts are the same but for what is no difference."""
    fields = held.columns[1:]
    both = written.select(schema.ID, *fields).join(held, on=schema.ID, suffix=BELOW)
    return sum(
        both.select(
            ((pl.col(field) != pl.col(field + BELOW)) & (same_text(pl.col(field)) == same_text(pl.col(field + BELOW)))).sum()
        ).item()
        for field in fields
    )


def what_alone_differs(texts: pl.DataFrame) -> pl.Series:
    """What alone differs in each pair of texts, "" where it is more."""
    pairs = texts.select("written", "in_radio").unique(maintain_order=True)
    words = []
    for ours, theirs in pairs.iter_rows():
        is_one = [
            ours.casefold() == theirs.casefold(),
            "".join(ours.split()) == "".join(theirs.split()),
            _are_spelled_alike(ours, theirs),
        ]
        words.append(next((word for word, same in zip(ONLY, is_one, strict=True) if same), ""))
    joined = texts.join(pairs.with_columns(pl.Series("only", words, dtype=pl.String)), on=["written", "in_radio"], how="left")
    return joined["only"]


def _are_spelled_alike(ours: str, theirs: str) -> bool:
    plain = text_encoding("ascii")
    spellings = [spelling_of(country) for country in _SPELLING]
    return bool(theirs) and any(
        spell(ours, own, plain).casefold() == spell(theirs, other, plain).casefold() for own in spellings for other in spellings
    )
