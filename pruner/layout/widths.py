"""Texts cut and filled to a width, counted in units of the encoding, bytes or characters.

Receives a column of texts, hands on one. A character (extended grapheme cluster, UAX #29) is never cut through.
"""

from __future__ import annotations

from typing import Final, Literal

import polars as pl

from pruner.layout.encoding import TextEncoding, WidthUnit, clusters, first_clusters

Cut = Literal["letter", "word"]
#: A character of each kind that joins some that stand behind it, and of each that joins some before it (UAX #29).
_BEFORE: Final = ("0", "\N{HANGUL SYLLABLE GA}")
_BEHIND: Final = (*_BEFORE, "\N{WOMAN}", "\N{REGIONAL INDICATOR SYMBOL LETTER A}", "\N{DEVANAGARI LETTER KA}")


def cut(
    texts: pl.Series, width: int, encoding: TextEncoding, unit: WidthUnit, where: Cut
) -> tuple[pl.Series, pl.Series | None]:
    """The texts at most `width` long, without space at the new end, and which were cut (None: no text).

    `word` cuts at the last space, if the text has one early enough; else at the last letter that fits.
    """
    long = encoding.lengths(texts, unit) > width
    if not long.any():
        return texts, None
    plain = texts.str.len_bytes() == texts.str.len_chars()
    ascii_rows, other_rows = (long & plain).arg_true(), (long & ~plain).arg_true()
    result = texts.clone()  # scatter writes into its series
    if len(ascii_rows):
        room = width // encoding.unit if unit == "bytes" else width
        result = result.scatter(ascii_rows, _cut_ascii(texts.gather(ascii_rows), room, where))
    if len(other_rows):
        found = texts.gather(other_rows)
        distinct = found.unique(maintain_order=True)
        short = pl.Series([cut_one(text, width, encoding, unit, where) for text in distinct.to_list()], dtype=pl.String)
        result = result.scatter(other_rows, found.replace_strict(distinct, short, return_dtype=pl.String))
    return result, long


def _cut_ascii(texts: pl.Series, room: int, where: Cut) -> pl.Series:
    by_letter = texts.str.head(room).str.strip_chars_end(" ")
    if where == "letter":
        return by_letter
    head = texts.str.head(room + 1)
    by_word = head.str.replace(r" [^ ]*$", "").str.strip_chars_end(" ")
    whole_word = head.str.contains(" ", literal=True) & (by_word.str.len_bytes() > 0)
    return by_word.zip_with(whole_word, by_letter)


def cut_one(text: str, width: int, encoding: TextEncoding, unit: WidthUnit, where: Cut) -> str:
    """One text that is too long, cut."""
    taken, used = "", 0
    for cluster in first_clusters(text):
        used += encoding.length(cluster, unit)
        if used > width:
            if where == "word" and cluster != " " and taken.rstrip(" ").rfind(" ") > 0:
                taken = taken if taken.endswith(" ") else taken[: taken.rfind(" ")]
            return taken.rstrip(" ")
        taken += cluster
    return taken


def closed(texts: pl.Series) -> pl.Series:
    """The texts without characters at their ends that would be counted as one with those of a neighbouring cell."""
    odd = (texts.str.len_bytes() != texts.str.len_chars()).arg_true()
    if not len(odd):
        return texts
    found = texts.gather(odd)
    distinct = found.unique(maintain_order=True)
    shut = pl.Series([_closed_one(text) for text in distinct.to_list()], dtype=pl.String)
    return texts.clone().scatter(odd, found.replace_strict(distinct, shut, return_dtype=pl.String))


def _closed_one(text: str) -> str:
    while text and any(clusters(other + text)[0] != other for other in _BEFORE):
        text = text[1:]
    while text and any(clusters(text + other)[-1] != other for other in _BEHIND):
        text = text[:-1]
    return text


def padded(
    texts: pl.Series, width: int, side: Literal["left", "right"], sign: str, encoding: TextEncoding, unit: WidthUnit
) -> pl.Series:
    """The texts, none longer than `width`, filled up to it on a side; `sign` is one ASCII character."""
    missing = (width - encoding.lengths(texts, unit).cast(pl.Int64)) // (encoding.unit if unit == "bytes" else 1)
    frame = pl.DataFrame({"text": texts, "length": texts.str.len_chars() + missing})
    filled = pl.col("text").str.pad_start if side == "left" else pl.col("text").str.pad_end
    return frame.select(filled(pl.col("length"), sign))["text"]
