"""What a store of heard calls holds, where tests folded some."""

from __future__ import annotations

from pathlib import Path

from pruner.calls.weights import Weights, load_weights


def weights_in(state: Path, system: str = "dmr") -> Weights:
    """The opened store of a state folder."""
    weights = load_weights(state / "heard" / system)
    assert weights is not None
    return weights


def totals_in(state: Path) -> tuple[int, int]:
    """Counted calls, and their seconds on air."""
    rows = weights_in(state).rows()
    return int(rows["calls"].sum()), int(rows["milliseconds"].sum()) // 1000
