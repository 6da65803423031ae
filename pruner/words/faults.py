"""A fault of ours, or of a library below: what is kept of it for whoever mends it, and what is said of it in one line.

Receives an exception, hands on a line of text. What ends a run on purpose is none.
"""

from __future__ import annotations

import tempfile
import traceback
from typing import Final

#: What ends a run on purpose and is never a fault. Panics of libraries derive from BaseException as these do.
ENDINGS: Final = (KeyboardInterrupt, SystemExit, GeneratorExit)
_LONGEST: Final = 200


def described(error: BaseException) -> str:
    """One line that names the fault and the crash file with its traceback, which is written here into the system's temporary
    folder."""
    text = "".join(character if character.isprintable() else " " for character in str(error))
    line = f"a fault of ours: {type(error).__name__}: {' '.join(text.split())[:_LONGEST]}"
    try:
        with tempfile.NamedTemporaryFile(
            "w", prefix="pruner-crash-", suffix=".txt", delete=False, encoding="utf-8", errors="backslashreplace"
        ) as file:
            traceback.print_exception(error, file=file)
    except OSError as unwritten:
        return f"{line}; details could not be written ({unwritten.strerror})"
    return f"{line}; details in {file.name}"
