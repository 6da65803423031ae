"""The main fit of a settings file, and what is known before it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pruner.library.lazy import lazily

if TYPE_CHECKING:
    from pruner.job import run
    from pruner.job.bench import CustomerResult, read_customers, run_bench
    from pruner.job.load import Loaded, doubts_of, load, load_layouts

__all__ = [
    "CustomerResult",
    "Loaded",
    "doubts_of",
    "load",
    "load_layouts",
    "read_customers",
    "run",
    "run_bench",
]

__getattr__ = lazily(
    __name__,
    {
        "pruner.job": ("run",),
        "pruner.job.bench": (
            "CustomerResult",
            "read_customers",
            "run_bench",
        ),
        "pruner.job.load": (
            "Loaded",
            "doubts_of",
            "load",
            "load_layouts",
        ),
    },
)
