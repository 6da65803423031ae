"""Text that lost its letters on the way -> what it may have been.

Receives a text, hands on better readings, for look-ups in a table that decides: none is a claim.
"""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from typing import Final

#: Encodings for which UTF-8 is mistaken.
_MISTAKEN: Final = ("cp1252", "cp1251", "cp1250", "cp437", "cp850", "mac_roman")

#: Every letter beyond ASCII takes two bytes or more in UTF-8; a no-break space may have become a plain one, or been cut off.
_MISREAD: Final = re.compile(r"[^\x00-\x7f](?:[^\x00-\x7f]| |$)")


def mended(text: str) -> Iterator[str]:
    """What a text says if it was written in HTML entities, or in UTF-8 that was taken for another encoding."""
    if "&" in text and ";" in text:
        yield html.unescape(text)
    if not _MISREAD.search(text):
        return
    lost = (f"{text}\u00a0",) if text[-1] > "\x7f" else ()
    for spaced in dict.fromkeys((text, *lost, text.replace(" ", "\u00a0"))):
        for encoding in _MISTAKEN:
            once = _as_utf_8(spaced, encoding)
            if once:
                yield once
                twice = _as_utf_8(once, encoding)
                if twice:
                    yield twice


def _as_utf_8(text: str, encoding: str) -> str:
    """The text that was written in UTF-8 and read in `encoding`, "" if it was not.

    Bytes that the encoding leaves open are taken for the character of the same number, as in ISO 8859-1.
    """
    try:
        if encoding == "cp1252":
            return b"".join(map(_byte, text)).decode("utf-8")
        return text.encode(encoding).decode("utf-8")
    except UnicodeError:
        return ""


def _byte(character: str) -> bytes:
    try:
        return character.encode("cp1252")
    except UnicodeEncodeError:
        return character.encode("latin-1")
