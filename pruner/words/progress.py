"""How long work says where it is."""

from __future__ import annotations

from typing import Protocol


class Progress(Protocol):
    """Hears of the stage, and on long work of the rows so far and the share that is done (0 where unknown)."""

    def __call__(self, stage: str, rows: int = 0, share: float = 0.0) -> None: ...


def silent(stage: str, rows: int = 0, share: float = 0.0) -> None:
    """Tells nobody."""
