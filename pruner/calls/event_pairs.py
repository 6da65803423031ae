"""Events that tell starts and ends of calls -> calls.

Receives calls and events, sorted as the store is, hands on calls, and which of them stand near each other.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from pruner.calls.calls import Calls, Sort

#: An event of an end belongs to the event of a start at most so many seconds before.
LONGEST: Final = 3600

Marks = npt.NDArray[np.bool_]
Bits = npt.NDArray[np.uint8]


def is_near(calls: Calls, tolerance: int) -> Marks:
    """Which calls are of the same station and talkgroup as the one before them, and start within the tolerance."""
    is_near = np.zeros(len(calls), dtype=bool)
    near = is_near[1:]
    np.equal(calls.id[1:], calls.id[:-1], out=near)
    near &= calls.talkgroup[1:] == calls.talkgroup[:-1]
    near &= calls.start[1:] <= calls.start[:-1] + tolerance
    return is_near


def paired(calls: Calls, marks: Bits, tolerance: int) -> tuple[Calls, Bits]:
    """Events of starts and ends as calls: an end that tells its duration started so much earlier; one that does not belongs to
    the start before it, or to the call that ends then. Else each is a call of unknown duration."""
    repeated = is_near(calls, tolerance)
    repeated[1:] &= (calls.sorts[1:] == calls.sorts[:-1]) & (calls.sorts[1:] >= Sort.START)
    repeated[1:] &= (calls.milliseconds[1:] == 0) & (calls.milliseconds[:-1] == 0)
    calls, marks = calls.where(~repeated), marks[~repeated]
    start, milliseconds = calls.start.astype(np.int64), calls.milliseconds.copy()
    is_end = calls.sorts == Sort.END
    tells = is_end & (milliseconds > 0)
    start[tells] -= (milliseconds[tells].astype(np.int64) + 999) // 1000
    ends = np.flatnonzero(is_end & ~tells)
    ends = ends[ends > 0]
    earlier = ends - 1
    length = start[ends] - start[earlier]
    is_pair = (calls.id[ends] == calls.id[earlier]) & (calls.talkgroup[ends] == calls.talkgroup[earlier])
    opens = is_pair & (calls.sorts[earlier] == Sort.START) & (length <= LONGEST)
    milliseconds[earlier[opens]] = (length[opens] * 1000).astype(np.uint32)
    over = is_pair & (calls.sorts[earlier] != Sort.END) & (length <= milliseconds[earlier] // 1000 + 1 + tolerance)
    is_kept = np.ones(len(calls), dtype=bool)
    is_kept[ends[opens | over]] = False
    found = Calls(calls.id, calls.talkgroup, start, milliseconds, calls.sort).where(is_kept)
    order = np.lexsort((found.milliseconds, found.start, found.talkgroup, found.id))
    return found.where(order), marks[is_kept][order]
