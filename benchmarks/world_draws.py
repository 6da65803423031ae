"""What the worlds kept apart draw with: distances, choices by weight, calls of rows."""

from __future__ import annotations

import numpy as np

from benchmarks.world_calls import Log
from benchmarks.world_people import Directory, Floats, Integers, towns


def kilometres_from(directory: Directory, home: tuple[float, float]) -> Floats:
    """Distances of all rows from a place in degrees, on a flat map around it."""
    known = towns()
    north = known.latitude[directory.town] - home[0]
    east = ((known.longitude[directory.town] - home[1] + 180) % 360 - 180) * np.cos(np.radians(home[0]))
    return np.asarray(111.2 * np.hypot(north, east))


def drawn(random: np.random.Generator, weight: Floats, count: int) -> Integers:
    """So many places, with replacement, by weight."""
    steps = np.cumsum(weight)
    return np.minimum(np.searchsorted(steps, random.random(count) * steps[-1]), len(weight) - 1)


def log_of(random: np.random.Generator, directory: Directory, who: Integers, talkgroup: Integers, second: Floats) -> Log:
    """Calls of rows of a directory, in seconds from the first day of the log, each a few seconds long."""
    duration = 3.0 + random.exponential(15.0, len(who))
    return Log(directory.id[who], talkgroup.astype(np.uint32), second.astype(np.int64), duration.astype(np.float32))
