"""What is remembered of logs, so that nothing is read twice. (Nothing is counted twice in any case.)

Receives what was remembered and what is taken of each file, hands on what is remembered after the fold.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from pruner.calls.logs import Taken
from pruner.calls.marks import MARK_WORDS, Account, Mark
from pruner.read.log_identity import Beginning
from pruner.words.errors import InputRefusedError

_GUARDED_ROWS: Final = 100


@dataclass(slots=True)
class TakenLogs:
    """What is remembered while files are folded. A beginning that its log outgrew is known until the end of the fold, and
    for good where a file ends there: else that file, a copy of the beginning, would be taken once more."""

    known: list[Taken]
    outgrown: set[Beginning] = field(default_factory=set)
    ends: set[Beginning] = field(default_factory=set)

    def beginnings(self) -> list[Beginning]:
        """What logs may begin with."""
        return [_beginning(one) for one in self.known]

    def remember(self, path: Path, before: Beginning, taken: Beginning, account: Account, *, lasts: bool = True) -> None:
        """Adds what was taken of a file that began with `before`; under another name that may be a log of its own. One that
        does not last is only looked at.

        Raises InputRefusedError where its rows are not understood.
        """
        earlier = next((one for one in self.known if before.length and _beginning(one) == before), None)
        remembered = _remembered(path, taken, account, earlier)
        _guard(path, account, remembered)
        if not lasts:
            return
        self.known.append(remembered)
        if earlier and earlier.name == path.name:
            self.outgrown.add(before)

    def lasting(self) -> tuple[Taken, ...]:
        """What is remembered after the fold."""
        gone = self.outgrown - self.ends
        return tuple(one for one in self.known if _beginning(one) not in gone)


def _beginning(taken: Taken) -> Beginning:
    return Beginning(taken.kind, taken.length, taken.lines, taken.digest, taken.head_length, taken.head)


def _remembered(path: Path, beginning: Beginning, account: Account, earlier: Taken | None) -> Taken:
    set_aside = account.set_aside.copy()
    read, folded, rejected = account.read, account.folded, account.rejected.total()
    if earlier:
        set_aside.update(earlier.set_aside)
        read, folded, rejected = read + earlier.read, folded + earlier.folded, rejected + earlier.rejected
    return Taken(
        path.name,
        beginning.kind,
        beginning.length,
        beginning.lines,
        beginning.digest,
        beginning.head_length,
        beginning.head,
        read,
        folded,
        rejected,
        dict(sorted(set_aside.items())),
    )


def _guard(path: Path, account: Account, taken: Taken) -> None:
    """Refuses a file whose rows are not understood, or all of another system, rather than remembering it as taken."""
    foreign = taken.set_aside.get(MARK_WORDS[Mark.OTHER_SYSTEM], 0)
    if foreign and foreign == taken.read:
        raise InputRefusedError(
            f"{path}: all {taken.read:,} rows name another system than that of the log; nothing was folded; "
            "set system to the one they name, in the settings or with --system"
        )
    if account.rejected and (
        taken.rejected == taken.read or (taken.read >= _GUARDED_ROWS and taken.rejected > taken.read // 2)
    ):
        reason, count = account.rejected.most_common(1)[0]
        raise InputRefusedError(
            f"{path}: {taken.rejected:,} of {taken.read:,} rows cannot be read (most often: {reason}, {count:,} rows); "
            "nothing was folded; check the columns and the zone of this log in the settings"
        )
