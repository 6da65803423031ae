"""How much room records take on pages, one after the other."""

from __future__ import annotations

from pruner.choose.memory import MemoryModel


def laid_out(model: MemoryModel, sizes: list[int]) -> int:
    """Total bytes, records laid on pages one after the other."""
    pages, left = 0, 0
    for size in sizes:
        if pages == 0 or size > left:
            pages, left = pages + 1, model.page or 0
        left -= size
    area = sum(sizes) if model.page is None else pages * model.page
    return model.header + model.index * len(sizes) + area
