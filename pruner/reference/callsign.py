"""One call sign as written -> as assigned: used for directories, for lists and for questions about a contact.

Receives a text, hands on a text. The contract stands in DEVELOPERS.md.
"""

from __future__ import annotations

import re
import unicodedata
from typing import Final

#: From ITU RR 19.68 (seen only as a quotation); one leading letter of any kind is let through. A mark, never a refusal.
ORDINARY_FORM: Final = r"^(?:[A-Z]|[A-Z][A-Z]|[A-Z][0-9]|[0-9][A-Z])[0-9][A-Z0-9]{0,3}[A-Z]$"
_ORDINARY: Final = re.compile(ORDINARY_FORM, re.ASCII)
_DASHED: Final = re.compile(r"(.+)-[A-Z0-9]{1,2}", re.ASCII)


def is_ordinary(value: str) -> bool:
    """Whether a cleaned call sign has the ordinary form."""
    return _ORDINARY.match(value) is not None


def clean_callsign(value: str) -> str:
    """One call sign without invisible characters, white space, portable parts and dashed suffix; may be empty."""
    parts = _visible(value).upper().split("/")
    chosen = next((part for part in parts if _ORDINARY.match(part)), None)
    if chosen is None:
        chosen = max(parts, key=len)
    dashed = _DASHED.fullmatch(chosen)
    return dashed[1] if dashed else chosen


def _visible(value: str) -> str:
    if value.isprintable():  # then the only white space in it is the plain space
        return value.replace(" ", "")
    return "".join(
        character
        for character in value
        if not character.isspace() and unicodedata.category(character) not in ("Cc", "Cf", "Zl", "Zp")
    )
