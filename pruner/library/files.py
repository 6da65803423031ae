"""Files that a location names."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pruner.library.lazy import lazily

if TYPE_CHECKING:
    from pruner.sources.local import expand

__all__ = [
    "expand",
]

__getattr__ = lazily(
    __name__,
    {
        "pruner.sources.local": ("expand",),
    },
)
