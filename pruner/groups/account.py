"""The account of one fitted talkgroup list.

Receives the talkgroups and their fit, hands on the summary.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from pruner.account.ledger import LedgerRows
from pruner.account.parts import Cut, FileMark, SourceSummary
from pruner.account.reasons import account
from pruner.account.talkgroup_summary import (
    ClassCount,
    HeardTalkgroups,
    OwnTalkgroups,
    TalkgroupLimit,
    TalkgroupSummary,
)
from pruner.choose.by_number import Fit
from pruner.clean.text import CHANGE_WORDS
from pruner.groups.load import Groups
from pruner.groups.order import CLASSES
from pruner.reference import countries
from pruner.words.outcomes import REASON_WORDS, Outcome, Reason, outcome_of


def summarise(
    groups: Groups,
    radio: str,
    limit: int,
    fit: Fit,
    ledger: Sequence[LedgerRows],
    lists: Sequence[FileMark],
    files: Sequence[FileMark],
) -> TalkgroupSummary:
    """What summary.json holds; `lists`: marks of the lists, `files`: those of all other files that were written."""
    total = account(np.concatenate([rows.reason for rows in ledger]))
    kept = fit.reason == Reason.NONE
    matched = np.bincount(groups.group_class, minlength=len(CLASSES)).tolist()
    taken = np.bincount(groups.group_class[kept], minlength=len(CLASSES)).tolist()
    per_country = np.bincount(groups.country[kept], minlength=len(countries.CODES))
    cut = None
    if fit.cut is not None:
        which, rank = fit.cut
        cut = Cut(rule=CLASSES[which], rank=rank, matched=matched[which], kept=taken[which])
    rejected_words = [REASON_WORDS[why] for why in Reason if why and outcome_of(why) is Outcome.REJECTED]
    return TalkgroupSummary(
        radio=radio,
        system=groups.job.system,
        limit=TalkgroupLimit(talkgroups=limit),
        read=total.read,
        kept=total.kept,
        rejected=total.rejected,
        dropped={word: count for word, count in total.reasons.items() if word not in rejected_words},
        rejected_reasons={word: count for word, count in total.reasons.items() if word in rejected_words},
        rules=tuple(
            ClassCount(name=name, matched=count, kept=own) for name, count, own in zip(CLASSES, matched, taken, strict=True)
        ),
        cut=cut,
        mine=_mine(groups, kept),
        heard=_heard(groups, kept),
        countries={
            countries.CODES[number] or "unknown": int(per_country[number]) for number in np.flatnonzero(per_country).tolist()
        },
        changed=_changed(groups, kept),
        lists=tuple(
            SourceSummary(
                name=rows.list_name,
                rows=len(rows.number),
                account=account(own.reason),
                files=(file,),
                understood=tuple(one.told(file.name) for one in rows.understandings),
            )
            for rows, own, file in zip(groups.rows, ledger, lists, strict=True)
        ),
        files=tuple(files),
    )


def _mine(groups: Groups, kept: npt.NDArray[np.bool_]) -> OwnTalkgroups:
    """What became of the user's own talkgroups: those that no list holds are named, never invented."""
    mine = np.array(groups.job.mine, dtype=np.uint32)
    return OwnTalkgroups(
        named=len(mine),
        kept=int(np.isin(mine, groups.number[kept]).sum()),
        over_limit=tuple(mine[np.isin(mine, groups.number[~kept])].tolist()),
        in_no_list=tuple(mine[~np.isin(mine, groups.number)].tolist()),
    )


def _heard(groups: Groups, kept: npt.NDArray[np.bool_]) -> HeardTalkgroups | None:
    """How many of the calls in the window were on talkgroups that were kept; None where nothing was heard."""
    if groups.heard is None:
        return None
    return HeardTalkgroups(
        window_days=groups.heard.window_days,
        talkgroups=len(groups.heard.number),
        in_no_list=int((~np.isin(groups.heard.number, groups.number)).sum()),
        calls=int(groups.heard.calls.sum()),
        calls_on_kept=int(groups.calls[kept].sum()),
    )


def _changed(groups: Groups, kept: npt.NDArray[np.bool_]) -> dict[str, int]:
    """What cleaning changed in the names of kept talkgroups, and lines that were not UTF-8."""
    marks = np.concatenate([rows.changes for rows in groups.rows])[groups.record[kept]]
    counts = Counter({word: int(np.count_nonzero(marks & (1 << bit))) for bit, word in enumerate(CHANGE_WORDS)})
    counts["lines that were not UTF-8"] = sum(rows.recoded for rows in groups.rows)
    return {word: count for word, count in sorted(counts.items()) if count}
