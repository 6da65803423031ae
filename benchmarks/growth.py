"""Whether the interval of a date holds: invented directories whose growth persists, the forecast of each, and what came.

    python -m benchmarks.growth [--worlds 200] [--first-seed 1]

A directory is recorded once a week for half a year to two years. Its weekly steps are a mean and a deviation that lasts: an
autoregressive process of first order, so that fast and slow times go on for weeks or months. Asked is when the directory
outgrows what it holds in the half and in the whole span of the record, at the mean rate; the day that came is known.
"""

from __future__ import annotations

import argparse
from collections import defaultdict

import numpy as np

from pruner.history.forecast import EXPECTED, LATER, Limit, forecast
from pruner.history.growth import Series

#: How much of a week's deviation lasts to the next.
PERSISTENCE = (0.0, 0.5, 0.8, 0.9, 0.95)
#: Weeks of record, and the deviation of a week's step as a share of the mean step.
WEEKS, DEVIATIONS = (26, 52, 104), (0.3, 1.0)
_START, _STEP, _AHEAD = 300_000, 400.0, 6


def counts_of(persistence: float, deviation: float, weeks: int, seed: int) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Stations at the end of each week, many weeks beyond the record."""
    random = np.random.default_rng(seed)
    total = weeks * _AHEAD
    shocks = random.normal(0, deviation * np.sqrt(1 - persistence**2), total)
    lasting, value = np.empty(total), random.normal(0, deviation)
    for week in range(total):
        value = persistence * value + shocks[week]
        lasting[week] = value
    return np.round(_START + np.cumsum(_STEP * (1 + lasting)))


def judged(persistence: float, deviation: float, weeks: int, seed: int) -> list[bool]:
    """For each limit whether the day that came lies in the interval; limits that are not ahead, or never came, are left out."""
    counts = counts_of(persistence, deviation, weeks, seed)
    days = 20_000 + 7 * np.arange(len(counts))
    series = Series(days[:weeks].astype(np.int64), counts[:weeks])
    limits = [Limit(str(ahead), int(series.count[-1] + _STEP * weeks * ahead)) for ahead in (0.5, 1.0)]
    found = []
    for outlook in forecast(series, limits).outlooks:
        over = np.flatnonzero(counts > outlook.limit.contacts)
        if outlook.status not in (EXPECTED, LATER) or not len(over) or over[0] < weeks:
            continue
        came = int(days[over[0]])
        found.append((outlook.earliest or 0) <= came <= (outlook.latest or came))
    return found


def main() -> None:
    """Prints, for each persistence, the share of days inside their interval."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--worlds", type=int, default=200)
    parser.add_argument("--first-seed", type=int, default=1)
    given = parser.parse_args()
    inside: dict[tuple[float, int], list[bool]] = defaultdict(list)
    for world in range(given.worlds):
        for persistence in PERSISTENCE:
            weeks = WEEKS[world % len(WEEKS)]
            deviation = DEVIATIONS[world // len(WEEKS) % len(DEVIATIONS)]
            inside[persistence, weeks] += judged(persistence, deviation, weeks, given.first_seed * 1_000_003 + world)
    print("persistence  " + "".join(f"{weeks:>6} weeks" for weeks in WEEKS) + "         all   (days inside; nominal 90 %)")
    for persistence in PERSISTENCE:
        cells = [inside[persistence, weeks] for weeks in WEEKS]
        every = [one for cell in cells for one in cell]
        print(f"{persistence:>11}  " + "".join(f"{np.mean(cell):>12.1%}" for cell in (*cells, every)) + f"   of {len(every)}")


if __name__ == "__main__":
    main()
