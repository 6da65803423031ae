"""The account of one fitted talkgroup list.

Receives the talkgroups and their fit, hands on the summary as a plain table.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from pruner.account.ledger import LedgerRows
from pruner.account.reasons import account
from pruner.choose.by_number import Fit
from pruner.clean.text import CHANGE_WORDS
from pruner.groups.load import Groups
from pruner.groups.order import CLASSES
from pruner.reference import countries
from pruner.words.outcomes import OUTCOME_WORDS, REASON_WORDS, Outcome, Reason, outcome_of

SUMMARY_SCHEMA: Final = 1


def summarise(
    groups: Groups, radio: str, limit: int, fit: Fit, ledger: Sequence[LedgerRows], files: Sequence[dict[str, Any]]
) -> dict[str, Any]:
    """What summary.json holds, but for the files written; `files` are the prints of the lists."""
    total = account(np.concatenate([rows.reason for rows in ledger]))
    kept = fit.reason == Reason.NONE
    matched = np.bincount(groups.group_class, minlength=len(CLASSES)).tolist()
    taken = np.bincount(groups.group_class[kept], minlength=len(CLASSES)).tolist()
    per_country = np.bincount(groups.country[kept], minlength=len(countries.CODES))
    cut = None
    if fit.cut is not None:
        which, rank = fit.cut
        cut = {"rule": CLASSES[which], "rank": rank, "matched": matched[which], "kept": taken[which]}
    rejected_words = [REASON_WORDS[why] for why in Reason if why and outcome_of(why) is Outcome.REJECTED]
    return {
        "schema": SUMMARY_SCHEMA,
        "radio": radio,
        "system": groups.job.system,
        "limit": {"talkgroups": limit},
        **{word: total[word] for word in ("read", OUTCOME_WORDS[Outcome.KEPT], OUTCOME_WORDS[Outcome.REJECTED])},
        "dropped": {word: count for word, count in total["reasons"].items() if word not in rejected_words},
        "rejected_reasons": {word: count for word, count in total["reasons"].items() if word in rejected_words},
        "rules": [
            {"name": name, "matched": count, "kept": own} for name, count, own in zip(CLASSES, matched, taken, strict=True)
        ],
        "cut": cut,
        "mine": _mine(groups, kept),
        "heard": _heard(groups, kept),
        "countries": {
            countries.CODES[number] or "unknown": int(per_country[number]) for number in np.flatnonzero(per_country).tolist()
        },
        "changed": _changed(groups, kept),
        "lists": [
            {
                "name": rows.list_name,
                "rows": len(rows.number),
                "account": account(own.reason),
                "files": [file],
                "understood": [one.plain(str(file["name"])) for one in rows.understandings],
            }
            for rows, own, file in zip(groups.rows, ledger, files, strict=True)
        ],
    }


def _mine(groups: Groups, kept: npt.NDArray[np.bool_]) -> dict[str, Any]:
    """What became of the user's own talkgroups: those that no list holds are named, never invented."""
    mine = np.array(groups.job.mine, dtype=np.uint32)
    return {
        "named": len(mine),
        "kept": int(np.isin(mine, groups.number[kept]).sum()),
        "over_limit": mine[np.isin(mine, groups.number[~kept])].tolist(),
        "in_no_list": mine[~np.isin(mine, groups.number)].tolist(),
    }


def _heard(groups: Groups, kept: npt.NDArray[np.bool_]) -> dict[str, Any] | None:
    """How many of the calls in the window were on talkgroups that were kept; None where nothing was heard."""
    if groups.heard is None:
        return None
    return {
        "window_days": groups.heard.window_days,
        "talkgroups": len(groups.heard.number),
        "in_no_list": int((~np.isin(groups.heard.number, groups.number)).sum()),
        "calls": int(groups.heard.calls.sum()),
        "calls_on_kept": int(groups.calls[kept].sum()),
    }


def _changed(groups: Groups, kept: npt.NDArray[np.bool_]) -> dict[str, int]:
    """What cleaning changed in the names of kept talkgroups, and lines that were not UTF-8."""
    marks = np.concatenate([rows.changes for rows in groups.rows])[groups.record[kept]]
    counts = Counter({word: int(np.count_nonzero(marks & (1 << bit))) for bit, word in enumerate(CHANGE_WORDS)})
    counts["lines that were not UTF-8"] = sum(rows.recoded for rows in groups.rows)
    return {word: count for word, count in sorted(counts.items()) if count}
