"""A contact list in another layout."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pruner.library.lazy import lazily

if TYPE_CHECKING:
    from pruner.convert.convert import convert

__all__ = [
    "convert",
]

__getattr__ = lazily(
    __name__,
    {
        "pruner.convert.convert": ("convert",),
    },
)
