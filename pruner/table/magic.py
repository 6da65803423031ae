"""The first bytes by which files of some kinds are known.

Receives bytes, hands on whether they begin so. From memory; the tests write such files with the libraries that define them.
"""

from __future__ import annotations

import re
from typing import Final

PARQUET: Final = b"PAR1"
ARROW: Final = b"ARROW1"
#: A stream of Arrow messages begins with this mark of continuation (Arrow columnar format, encapsulated messages).
ARROW_STREAM: Final = b"\xff\xff\xff\xff"
SQLITE: Final = b"SQLite format 3\0"
OLD_OFFICE: Final = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"

_JSON: Final = re.compile(rb"\s*(?:\{\s*(?:[\"}]|$)|\[\s*(?:[\[{\"\]\d-]|(?:true|false|null|NaN)\b|$))")


def is_columnar(head: bytes) -> bool:
    """Whether a file that begins so is Parquet, Arrow or a stream of Arrow messages."""
    return head.startswith((PARQUET, ARROW, ARROW_STREAM))


def looks_like_json(start: bytes) -> bool:
    """Whether a text begins as a list or object of JSON (RFC 8259): behind the bracket stands a name or a value, or the end."""
    return _JSON.match(start) is not None
