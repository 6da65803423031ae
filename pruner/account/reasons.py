"""The account of rows: how many were kept, dropped and rejected, and why.

Receives one reason per row, hands on counts with their words.
"""

from __future__ import annotations

from collections import Counter

import numpy as np
import numpy.typing as npt

from pruner.account.parts import RowAccount
from pruner.words.outcomes import REASON_WORDS, Outcome, Reason, outcome_of


def account(reason: npt.NDArray[np.uint8]) -> RowAccount:
    """Rows per outcome and reason. The law read = kept + dropped + rejected is checked here."""
    by_reason = [int(np.count_nonzero(reason == which.value)) for which in Reason]
    by_outcome: Counter[Outcome] = Counter()
    for which in Reason:
        by_outcome[outcome_of(which)] += int(by_reason[which])
    read = len(reason)
    if read != sum(by_outcome.values()):
        raise AssertionError(f"{read} rows read, {sum(by_outcome.values())} accounted for")
    return RowAccount(
        read=read,
        kept=by_outcome[Outcome.KEPT],
        dropped=by_outcome[Outcome.DROPPED],
        rejected=by_outcome[Outcome.REJECTED],
        reasons={REASON_WORDS[which]: int(by_reason[which]) for which in Reason if which and by_reason[which]},
    )
