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
#: A name before a value; the first so many lines show whether a text has them, so many must; lines as long as an id.
_NAMED: Final = re.compile(r"(?:[-*]\s+)?['\"]?[^\W\d_][\w .#-]{0,30}?['\"]?\s*[:=]")
_FIRST_LINES, _SEEN = 14, 2
_IDS: Final = (6, 7)


def is_columnar(head: bytes) -> bool:
    """Whether a file that begins so is Parquet, Arrow or a stream of Arrow messages."""
    return head.startswith((PARQUET, ARROW, ARROW_STREAM))


def looks_like_json(start: bytes) -> bool:
    """Whether a text begins as a list or object of JSON (RFC 8259): behind the bracket stands a name or a value, or the end."""
    return _JSON.match(start) is not None


def may_be_keyed(start: str) -> bool:
    """Whether the beginning of a text has names before values, or lines that are an id and nothing else."""
    lines = [line.strip() for line in start.split("\n") if line.strip()][:_FIRST_LINES]
    named = sum(line[0] in "{[" or _NAMED.match(line) is not None for line in lines)
    return named >= _SEEN or any(len(line) in _IDS and line.isdigit() for line in lines)
