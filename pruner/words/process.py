"""What the process of the command tells the libraries below it, before they are loaded.

They ask their environment once. Programs that are started from here are told nothing of it (`as_it_was`), and who uses pruner
as a library decides for themselves.
"""

from __future__ import annotations

import ctypes
import gc
import os
import sys
from typing import Final

#: Arrow's own allocator gives large buffers back to the operating system between two blocks of a file and fetches them again,
#: cleared, for the next: up to a fifth of the time of long files. That of glibc keeps them; others were not measured.
_ALLOCATOR: Final = "ARROW_DEFAULT_MEMORY_POOL"
#: glibc gives threads heaps of their own, up to eight for each processor. In one for all, what a thread has touched no other
#: need touch for the first time again: a quarter of all page faults of a fit. (Names: its manual, "Malloc Tunable Parameters".)
_HEAPS: Final = ("MALLOC_ARENA_MAX", "GLIBC_TUNABLES")
_MOST_HEAPS: Final = -8  # M_ARENA_MAX
#: A thread for algebra that nothing here needs spins for a tenth of a second beside the start of everything else. Each of
#: these says how many there are.
_ALGEBRA: Final = ("OPENBLAS_NUM_THREADS", "GOTO_NUM_THREADS", "OMP_NUM_THREADS")

#: The library of models looks through everything that is installed for additions to itself; nothing here uses any.
_ADDITIONS: Final = "PYDANTIC_DISABLE_PLUGINS"

#: Modules are made of hundreds of thousands of objects, and all of them stay: the collector shall not walk over them while they
#: are imported, so it looks at new ones less often than its default (700).
_COLLECT_AFTER: Final = 200_000

#: Arrow loads this library, where it is installed, to see whether a list is a frame of it: a sixth of a second for nothing.
_FRAMES: Final = "pandas"


class _NotInstalled:
    """Finds no library of frames, as where none is installed."""

    def find_spec(self, name: str, path: object = None, target: object = None) -> None:
        if name == _FRAMES:
            raise ModuleNotFoundError(f"No module named {name!r}", name=name)


_NO_FRAMES: Final = _NotInstalled()
_told: list[str] = []


def prepare_process() -> None:
    """Has an effect before numpy and pyarrow are imported. What a user has said in the environment is left alone."""
    gc.set_threshold(_COLLECT_AFTER)
    if {"numpy", "pyarrow"} & sys.modules.keys():
        return
    sys.meta_path.insert(0, _NO_FRAMES)
    if not any(name in os.environ for name in _ALGEBRA):
        _tell(_ALGEBRA[0], "1")
    if _has_glibc():
        if _ALLOCATOR not in os.environ:
            _tell(_ALLOCATOR, "system")
        if not any(name in os.environ for name in _HEAPS):
            ctypes.CDLL(None).mallopt(_MOST_HEAPS, 1)
    if _ADDITIONS not in os.environ:
        _tell(_ADDITIONS, "__all__")


def leave_process() -> None:
    """What is still there goes with the process: the collector need not walk over it once more while it ends."""
    gc.freeze()


def with_frames() -> None:
    """Lets a library that needs frames load theirs."""
    if _NO_FRAMES in sys.meta_path:
        sys.meta_path.remove(_NO_FRAMES)


def as_it_was() -> None:
    """Takes back what the libraries were told: to be called before a program of the user is started."""
    while _told:
        os.environ.pop(_told.pop(), None)


def _tell(name: str, value: str) -> None:
    os.environ[name] = value
    _told.append(name)


def _has_glibc() -> bool:
    try:
        return bool(os.confstr("CS_GNU_LIBC_VERSION"))
    except (AttributeError, OSError, ValueError):
        return False
