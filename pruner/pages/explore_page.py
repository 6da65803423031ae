"""One HTML file out of a tally: template, style and script in one, nothing fetched from anywhere.

Receives facts (plain values) and named arrays of whole numbers, hands on the text of the page. The script and the style are
named by their SHA-256 in the page's content security policy (W3C Content Security Policy Level 3), so nothing else can run.
"""

from __future__ import annotations

import base64
import hashlib
import json
import zlib
from collections.abc import Mapping
from importlib.resources import files
from typing import Any, Final

import numpy as np
import numpy.typing as npt

Numbers = Mapping[str, npt.NDArray[np.int64]]

#: How every page begins.
FIRST_LINE: Final = "<!DOCTYPE html><!-- a page of pruner explore -->"
_WHOLE: Final = ("u1", "u2", "u4")
_HOSTILE: Final = {ord(sign): f"\\u{ord(sign):04x}" for sign in "<>&\u2028\u2029"}


def explore_page(facts: Mapping[str, Any], numbers: Numbers) -> str:
    """The page. `facts` is what JSON can hold; `numbers` are not below 0. The same input gives the same text."""
    from jinja2 import Environment, PackageLoader, StrictUndefined
    from markupsafe import Markup

    style, script = _part("explore.css"), _part("explore.js")
    shapes, packed = pack(numbers)
    environment = Environment(
        loader=PackageLoader("pruner.pages", "explore"), autoescape=True, undefined=StrictUndefined, keep_trailing_newline=True
    )
    return environment.get_template("explore.html").render(
        first_line=Markup(FIRST_LINE),
        radio=facts["radio"],
        calls=facts["calls"],
        to_come=facts.get("to_come"),
        policy=_policy(style, script),
        style=Markup(style),
        script=Markup(script),
        facts=Markup(in_page({**facts, "arrays": shapes})),
        numbers=packed,
    )


def pack(numbers: Numbers) -> tuple[list[list[Any]], str]:
    """Shapes `[name, bytes per number, count]` and all arrays one behind the other: little-endian, each as narrow as its
    largest number allows (8 bytes: floating point), deflated (RFC 1950), in base64."""
    shapes: list[list[Any]] = []
    parts = []
    for name, array in numbers.items():
        largest = int(array.max(initial=0))
        dtype = np.dtype(next((f"<{one}" for one in _WHOLE if largest < 256 ** int(one[1])), "<f8"))
        shapes.append([name, dtype.itemsize, len(array)])
        parts.append(array.astype(dtype).tobytes())
    return shapes, base64.b64encode(zlib.compress(b"".join(parts), 9)).decode("ascii")


def in_page(facts: Any) -> str:
    """JSON in which no sign can end the script element that it stands in."""
    return json.dumps(facts, ensure_ascii=False, separators=(",", ":")).translate(_HOSTILE)


def _part(name: str) -> str:
    return files("pruner.pages").joinpath("explore", name).read_text(encoding="utf-8")


def _policy(style: str, script: str) -> str:
    return f"default-src 'none'; script-src {_hash(script)}; style-src {_hash(style)}; base-uri 'none'; form-action 'none'"


def _hash(text: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode('ascii')}'"
