"""What the process of the command tells the libraries below it, before they are loaded.

They ask their environment once. Programs that are started from here are told nothing of it, and who uses pruner as a library
decides for themselves.
"""

from __future__ import annotations

import os
import sys
from typing import Final

#: Arrow's own allocator gives large buffers back to the operating system between two blocks of a file and fetches them again,
#: cleared, for the next: up to a fifth of the time of long files. That of glibc keeps them; others were not measured.
_ALLOCATOR: Final = ("ARROW_DEFAULT_MEMORY_POOL", "system")
#: A thread for algebra that nothing here needs spins for a tenth of a second beside the start of everything else.
_ALGEBRA: Final = ("OPENBLAS_NUM_THREADS", "1")

_told: list[str] = []


def prepare_process() -> None:
    """Has an effect before numpy and pyarrow are imported. What a user has said in the environment is left alone."""
    variables = [_ALGEBRA]
    if "CS_GNU_LIBC_VERSION" in getattr(os, "confstr_names", {}):
        variables.append(_ALLOCATOR)
    for name, value in variables:
        if name not in os.environ and not {"numpy", "pyarrow"} & sys.modules.keys():
            os.environ[name] = value
            _told.append(name)


def environment_of_others() -> dict[str, str]:
    """The environment for a program of the user."""
    return {name: value for name, value in os.environ.items() if name not in _told}
