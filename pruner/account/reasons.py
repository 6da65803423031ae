"""The account of rows: how many were kept, dropped and rejected, and why.

Receives one reason per row, hands on counts with their words.
"""

from __future__ import annotations

from collections import Counter
from typing import Any

import numpy as np
import numpy.typing as npt

from pruner.words.outcomes import OUTCOME_WORDS, REASON_WORDS, Outcome, Reason, outcome_of


def account(reason: npt.NDArray[np.uint8]) -> dict[str, Any]:
    """`read`, the outcomes and `reasons`, as counts. The law read = kept + dropped + rejected is checked here."""
    by_reason = [int(np.count_nonzero(reason == which.value)) for which in Reason]
    by_outcome: Counter[str] = Counter()
    for which in Reason:
        by_outcome[OUTCOME_WORDS[outcome_of(which)]] += int(by_reason[which])
    read = len(reason)
    if read != sum(by_outcome.values()):
        raise AssertionError(f"{read} rows read, {sum(by_outcome.values())} accounted for")
    return {
        "read": read,
        **{OUTCOME_WORDS[outcome]: by_outcome[OUTCOME_WORDS[outcome]] for outcome in Outcome},
        "reasons": {REASON_WORDS[which]: int(by_reason[which]) for which in Reason if which and by_reason[which]},
    }
