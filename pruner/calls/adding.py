"""A fold that is over -> the files of its days, with what the store held of them.

Receives what was folded, hands on the manifest that is to become true and how many calls each log brought that were new.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Final

import pyarrow as pa

from pruner.calls.callsigns import CallsignFolding
from pruner.calls.folding import Folding
from pruner.calls.parts import CALL, CALLSIGN_CALL, write_part
from pruner.calls.store import Manifest, Part, with_days
from pruner.words.threads import Pool, Work

#: Behind so many calls what was used for them is given back to the system: days differ, and threads keep what they had.
_MANY: Final = 1 << 20
#: Days that are put together at the same time.


def add_days(
    folder: Path, manifest: Manifest, folding: Folding, callsigns: CallsignFolding
) -> tuple[Manifest, list[Part], Counter[int]]:
    """Writes the days of a fold; they become true with `commit`. Also returns the parts that differ from the old ones, and
    the new calls of each log."""
    new: Counter[int] = Counter()
    pa.default_memory_pool().release_unused()
    parts = _written(folder, manifest.parts, folding.days(), folding.merged, CALL, new)
    named = _written(folder, manifest.callsigns, callsigns.days(), callsigns.merged, CALLSIGN_CALL, new)
    old = {part.file for part in manifest.all_parts}
    changed = [part for part in (*parts, *named) if part.file not in old]
    merged = replace(manifest, parts=with_days(manifest.parts, parts), callsigns=with_days(manifest.callsigns, named))
    return merged, changed, new


def _written(
    folder: Path,
    old: Sequence[Part],
    days: Sequence[int],
    merged: Callable[[int, Path | None, Counter[int]], Iterator[pa.Table]],
    schema: pa.Schema,
    new: Counter[int],
) -> list[Part]:
    stored = {part.day: folder / part.file for part in old}

    def write(day: int) -> tuple[Part, Counter[int]]:
        of_day: Counter[int] = Counter()
        path, rows = write_part(merged(day, stored.get(day), of_day), folder, day, schema)
        if rows > _MANY:
            pa.default_memory_pool().release_unused()
        return Part(day, path.name, rows, rows), of_day

    parts = []
    with Pool(Work.MERGING) as pool:
        for part, of_day in pool.map(write, days):
            parts.append(part)
            new.update(of_day)
    return parts
