"""How long choosing levels takes and how close it comes: `python -m benchmarks.knapsack [contacts ...]`.

Invented contacts: four levels with worths 1, 0.98, 0.9 and 0.6 of the expected calls; expected calls with many equal values
(most contacts were never heard), or all different, or partly zero.
"""

from __future__ import annotations

import sys
import time

import numpy as np

from pruner.choose.knapsack import choose_levels

SHARES = np.array([1.0, 0.98, 0.9, 0.6])
KINDS = ("different", "ties", "zeros")


def make_instance(contacts: int, kind: str, seed: int = 1) -> tuple[np.ndarray, np.ndarray]:
    """Worths and sizes [contacts, levels] of `contacts` invented contacts."""
    random = np.random.default_rng(seed)
    expected = random.lognormal(-2, 2, contacts)
    if kind == "ties":
        expected = np.where(random.random(contacts) < 0.8, 0.01, np.ceil(expected))
    elif kind == "zeros":
        expected = np.where(random.random(contacts) < 0.8, 0.0, expected)
    callsign, first, last = (random.integers(low, high, contacts) for low, high in ((4, 7), (2, 11), (3, 14)))
    town, rest = random.integers(3, 21, contacts), random.integers(5, 24, contacts)
    texts = np.stack(
        [callsign + first + last + town + rest, callsign + first + last + rest, callsign + first, callsign], axis=1
    )
    return expected[:, None] * SHARES, 12 + texts.astype(np.int64)


def main() -> None:
    for contacts in map(int, sys.argv[1:] or ("10000", "100000", "1000000")):
        for kind in KINDS:
            worth, sizes = make_instance(contacts, kind)
            for share in (0.05, 0.4, 0.9):
                capacity = int(sizes[:, 0].sum() * share)
                for limit in (None, int(contacts * min(share * 1.3, 0.95))):
                    start = time.perf_counter()
                    choice = choose_levels(worth, sizes, capacity, limit)
                    seconds = time.perf_counter() - start
                    kept = int(np.count_nonzero(choice.level >= 0))
                    print(
                        f"{contacts:>9,} contacts, {kind:9}, {share:4.0%} of the bytes, record limit {limit or '-':>7}: "
                        f"{seconds:6.3f} s, gap {choice.gap:.2e}, kept {kept:,}"
                    )


if __name__ == "__main__":
    main()
