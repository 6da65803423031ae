"""Words and figures of a page: what a directory says is made harmless here, and numbers get one form.

Receives values, hands on text for the templates, which escape it once more (Jinja2 with autoescape).
"""

from __future__ import annotations

import contextlib
import sys
import unicodedata
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from jinja2 import BytecodeCache, Environment

TEMPLATES: Final = Path(__file__).parent / "templates"
_HIDDEN: Final = ("Cc", "Cf", "Cs", "Zl", "Zp")


def clear(text: str) -> str:
    """A text whose control, invisible and direction characters are shown as what they are (`\\u202e`)."""
    if text.isascii() and text.isprintable():
        return text
    return "".join(_shown(character) if unicodedata.category(character) in _HIDDEN else character for character in text)


def _shown(character: str) -> str:
    number = ord(character)
    return f"\\u{number:04x}" if number < 0x10000 else f"\\U{number:08x}"


def number(value: int) -> str:
    """A whole number with thousands separated."""
    return f"{value:,}"


def percent(share: float | None) -> str:
    """A share as percent, with as many places as keep it from looking whole when it is not; a dash for none."""
    if share is None:
        return "–"
    text = "100"
    for places in (1, 2, 3, 4):
        text = f"{share * 100:.{places}f}"
        if share in (0, 1) or 0 < float(text) < 100:
            break
    return f"{text}\N{NO-BREAK SPACE}%"


def size(count: int) -> str:
    """Bytes in the largest decimal unit that leaves at least one before the point."""
    value = float(count)
    for unit in ("bytes", "kB", "MB"):
        if value < 1000:
            return f"{count} bytes" if unit == "bytes" else f"{value:.1f} {unit}"
        value /= 1000
    return f"{value:.1f} GB"


def environment() -> Environment:
    """The templates' environment. An undefined name is an error; every value is escaped."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    made = Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
        auto_reload=False,
        bytecode_cache=_compiled(),
    )
    made.filters.update(clear=clear, number=number, percent=percent, size=size)
    return made


def _compiled() -> BytecodeCache | None:
    """Compiled templates are kept beside them, as Python keeps its modules: read where they are, written where it may write;
    None where there is no folder for them."""
    from jinja2 import FileSystemBytecodeCache

    class Compiled(FileSystemBytecodeCache):
        def dump_bytecode(self, bucket: Any) -> None:
            if not sys.dont_write_bytecode:
                with contextlib.suppress(OSError):
                    super().dump_bytecode(bucket)

    folder = TEMPLATES / "__pycache__"
    if not sys.dont_write_bytecode:
        with contextlib.suppress(OSError):
            folder.mkdir(exist_ok=True)
    return Compiled(str(folder)) if folder.is_dir() else None
