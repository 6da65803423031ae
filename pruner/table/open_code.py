"""Program code around a value in JSON, as pages load their data (`var stations = [...];`, `load([...])`) -> the value alone.

Receives a text as blocks, hands on the value's text; no code is run.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from functools import partial
from typing import Final

from pruner.table.open_text import whole_text
from pruner.table.opened import Blocks
from pruner.words.errors import InputRefusedError

_LARGEST: Final = 64 << 20
_NAME: Final = rb"[A-Za-z_$][\w$.]{0,80}+"
#: How such a text begins: a comment, a word of the language, a value that is given to a name or a function.
_BEGINNING: Final = re.compile(
    rb"\s*+(?:/\*|//|['\"]use strict|(?:var|let|const|export|window|self|module|globalThis)\b|" + _NAME + rb"\s*+[=(]\s*+[\[{])"
)
#: Where a value begins that is given to a name or a function, or handed on.
_VALUE: Final = re.compile(
    rb"^[ \t]*+(?:(?:export\s++)?(?:(?:var|let|const)\s++)?" + _NAME + rb"\s*+(?:=|\()|export\s++default|return)\s*+(?=[\[{])",
    re.MULTILINE,
)
#: A text with more of them is made of lines.
_MOST_VALUES: Final = 20
#: So much of the text is the value.
_MOST: Final = 0.5


def is_code(start: bytes) -> bool:
    """Whether a text begins as code does and gives lists or objects to a few things."""
    return _BEGINNING.match(start) is not None and 0 < len(_VALUE.findall(start)) <= _MOST_VALUES


def value_in(text: Blocks, where: str) -> Blocks:
    """The largest value in a text of code. Raises InputRefusedError where none is JSON (RFC 8259) and most of the text."""
    whole = whole_text(text(), _LARGEST)
    if whole is None:
        raise InputRefusedError(f"{where}: program code of more than {_LARGEST >> 20} MiB; save its list as JSON")
    code = whole.decode(errors="replace")
    decoder = json.JSONDecoder()
    best, place = "", 0
    data = code.encode()
    for _ in range(_MOST_VALUES):
        found = _VALUE.search(data, place)
        if found is None:
            break
        rest = data[found.end() :].decode()
        try:
            end = decoder.raw_decode(rest)[1]
        except (ValueError, RecursionError):
            place = found.end()
            continue
        place = found.end() + len(rest[:end].encode())
        best = max(best, rest[:end], key=len)
    if len(best) < _MOST * len(code):
        raise InputRefusedError(f"{where}: this is program code whose list is no JSON; save the list itself as JSON or CSV")
    return partial(_block, best.encode())


def _block(value: bytes) -> Iterator[bytes]:
    yield value
