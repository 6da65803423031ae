"""Cleaning of written text: names, towns, states and countries.

Receives the distinct texts of a column; hands on the cleaned text of each, and a bit mask per text that
says what was changed, so that the caller can weight the changes by rows.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from typing import Final

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from pruner.clean.case import eased

#: What a mark means: bit `i` of a mark stands for `CHANGE_WORDS[i]`.
CHANGE_WORDS: Final[tuple[str, ...]] = (
    "invisible characters removed",
    "double encoding repaired",
    "white space trimmed",
    "shouted text eased",
    "formula start removed",
    "unreadable characters replaced",
)
INVISIBLE, DOUBLE_ENCODED, WHITE_SPACE, SHOUTED, FORMULA, UNREADABLE = (1 << bit for bit in range(6))

#: ASCII text that needs nothing: printable, single inner spaces, no formula start.
_FINE_TEXT: Final = r"[!-*,./-<>?A-~][!-~]*(?: [!-~]+)*"
_FINE: Final = re.compile(_FINE_TEXT)
#: A cell that begins with one of these is run as a formula (OWASP "CSV Injection", from memory).
_FORMULA_STARTS: Final = "=+-@＝＋－＠"
#: The beginning of a letter that UTF-8 writes in several bytes, and one more of them, as Windows-1252 and ISO 8859-1 show both.
_DOUBLE: Final = re.compile("[\u00c2-\u00f4][^\0-\x7f]")
_UNREADABLE: Final = re.compile("[\ufffd\ud800-\udfff]")
_INVISIBLE: Final = frozenset({"Cc", "Cf", "Zl", "Zp"})


def clean_texts(texts: pa.StringArray, *, name_like: bool) -> tuple[pa.StringArray, npt.NDArray[np.uint8]]:
    """What `clean_values` does, for a column: texts that need nothing are told apart many at a time."""
    fine = _matches(texts, f"^{_FINE_TEXT}$")
    if name_like:
        fine &= _matches(texts, "[a-z]") | ~_matches(texts, "[A-Z]")
    marks = np.zeros(len(texts), dtype=np.uint8)
    if fine.all():
        return texts, marks
    cleaned, marks[~fine] = clean_values(texts.filter(pa.array(~fine)).to_pylist(), name_like=name_like)
    return pc.replace_with_mask(texts, pa.array(~fine), pa.array(cleaned, pa.string())), marks


def _matches(texts: pa.StringArray, pattern: str) -> npt.NDArray[np.bool_]:
    """Whether a pattern fits each text; a missing one never."""
    found: npt.NDArray[np.bool_] = pc.match_substring_regex(texts, pattern).fill_null(False).to_numpy(zero_copy_only=False)
    return found


def clean_values(values: Sequence[str | None], *, name_like: bool) -> tuple[list[str], npt.NDArray[np.uint8]]:
    """Clean each text; return the texts (missing: `""`) and one uint8 mask of `CHANGE_WORDS` per text.

    The result is in Unicode normal form C, holds no character of the categories Cc, Cf, Zl, Zp and Cs,
    no white space but single inner spaces, and no formula start. With `name_like`, text all in capitals
    is eased to normal case. Cleaning what is already clean changes nothing. Never raises.
    """
    marks = np.zeros(len(values), dtype=np.uint8)
    cleaned: list[str] = []
    is_fine = _FINE.fullmatch
    for position, value in enumerate(values):
        if not value:
            cleaned.append("")
        elif value.isascii() and is_fine(value):
            text = eased(value) if name_like and value.isupper() else value
            cleaned.append(text)
            if text != value:
                marks[position] = SHOUTED
        else:
            text, mark = _clean_one(value, name_like)
            cleaned.append(text)
            marks[position] = mark
    return cleaned, marks


def _clean_one(text: str, name_like: bool) -> tuple[str, int]:
    """Apply the steps until none changes anything: removing one flaw can uncover another."""
    mark = 0
    while True:
        before = text
        text = unicodedata.normalize("NFC", text)
        text, mark = _step(text, _without_double_encoding(text), mark, DOUBLE_ENCODED)
        text, mark = _step(text, _without_unreadable(text), mark, UNREADABLE)
        text, mark = _step(text, " ".join(text.split()), mark, WHITE_SPACE)
        text, mark = _step(text, _without_invisible(text), mark, INVISIBLE)
        text, mark = _step(text, text.lstrip(_FORMULA_STARTS), mark, FORMULA)
        if name_like:
            text, mark = _step(text, eased(text), mark, SHOUTED)
        if text == before:
            return text, mark


def _step(before: str, after: str, mark: int, bit: int) -> tuple[str, int]:
    return after, mark if after == before else mark | bit


def _without_double_encoding(text: str) -> str:
    """Undo UTF-8 that was read as Windows-1252 (or ISO 8859-1), as often as it was done.

    Certain only if the whole text is made of such bytes and they are valid UTF-8 (strict: RFC 3629).
    """
    while _DOUBLE.search(text):
        try:
            repaired = b"".join(map(_western_byte, text)).decode("utf-8")
        except UnicodeError:
            break
        text = repaired
    return text


def _western_byte(character: str) -> bytes:
    """The byte that Windows-1252 shows as `character`; controls 80 to 9F (hex) stand for themselves."""
    if "\x80" <= character <= "\x9f":
        return character.encode("latin-1")
    return character.encode("cp1252")


def _without_unreadable(text: str) -> str:
    return text if text.isascii() else _UNREADABLE.sub("?", text)


def _without_invisible(text: str) -> str:
    if text.isprintable():
        return text
    return "".join(c for c in text if unicodedata.category(c) not in _INVISIBLE)
