"""Text that may be hostile, made fit for a terminal."""

from __future__ import annotations

import unicodedata


def safe(text: str) -> str:
    """A text in which no character can act on a terminal or turn the direction of writing."""
    return "".join(
        f"\\x{ord(character):02x}" if unicodedata.category(character) in ("Cc", "Cf", "Cs", "Zl", "Zp") else character
        for character in text
    )
