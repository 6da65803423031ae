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
#: Cyrillic and Greek capitals that look like Latin ones (as in Unicode Technical Standard 39; from memory), letters and digits
#: of full width -> what stands in call signs.
LOOK_ALIKES: Final = str.maketrans(
    "АВЕКМНОРСТУХІЈЅ"
    + "ΑΒΕΖΗΙΚΜΝΟΡΤΥΧ"
    + "ＡＢＣＤＥＦＧＨＩＪＫＬＭＮＯＰＱＲＳＴＵＶＷＸＹＺ"
    + "０１２３４５６７８９"
    + "／",
    "ABEKMHOPCTYXIJS" + "ABEZHIKMNOPTYX" + "ABCDEFGHIJKLMNOPQRSTUVWXYZ" + "0123456789" + "/",
)
_LEADING: Final = re.compile(r"[\W_]*([A-Z0-9/]+)(?:-[A-Z0-9]{1,2})?((?:[^\w/-]|[_¹²³]).*)?", re.DOTALL)


def is_ordinary(value: str) -> bool:
    """Whether a cleaned call sign has the ordinary form."""
    return _ORDINARY.match(value) is not None


def clean_callsign(value: str) -> str:
    """One call sign without invisible characters, white space, portable parts and dashed suffix; may be empty.

    What has no call sign of the ordinary form in it is looked at once more, with Latin letters for those that look like them (Ø
    is a zero where no letter is a small one), and only up to the first sign behind letters and digits.
    """
    return callsign_and_rest(value)[0]


def callsign_and_rest(value: str) -> tuple[str, str]:
    """The cleaned call sign, and what stands behind it that is no part of a call sign."""
    text = _visible(value).upper()
    if _ORDINARY.match(text):
        return text, ""
    parts = text.split("/")
    chosen, rest = next((part for part in parts if _ORDINARY.match(part)), ""), ""
    if not chosen:
        # Ø is a crossed zero, but a letter of names such as Søren.
        has_names = "Ø" in text and any(unicodedata.category(character) == "Ll" for character in value)
        chosen, rest = _leading(text if has_names else text.replace("Ø", "0"))
    if not chosen:
        chosen = max(parts, key=len)
    dashed = _DASHED.fullmatch(chosen)
    return (dashed[1] if dashed else chosen), rest


def _leading(text: str) -> tuple[str, str]:
    """The call sign of the ordinary form that an upper-case text begins with, signs before it left out, and what stands behind
    it; "" where it begins with none."""
    found = _LEADING.fullmatch(text if text.isascii() else text.translate(LOOK_ALIKES))
    call = next((part for part in found[1].split("/") if _ORDINARY.match(part)), "") if found else ""
    return (call, found[2] or "") if found and call else ("", "")


def _visible(value: str) -> str:
    text = "".join(value.split())
    if text.isprintable():
        return text
    return "".join(character for character in text if unicodedata.category(character) not in ("Cc", "Cf", "Zl", "Zp"))
