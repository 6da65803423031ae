"""The summary of one radio's talkgroups, as frozen models: what `summary.json` in a folder of talkgroups holds.

`SCHEMA` is its version; earlier ones can be read, as those of contacts can (`pruner.account.summary`).
"""

from __future__ import annotations

import json
from typing import Final

from pydantic import Field

from pruner.account.summary import Cut, FileMark, Part, SourceSummary, Understood

SCHEMA: Final = 2


class TalkgroupLimit(Part):
    """What the radio holds."""

    talkgroups: int


class ClassCount(Part):
    """A class of talkgroups in the order in which they are kept: how many there are and how many are kept."""

    name: str
    matched: int
    kept: int


class OwnTalkgroups(Part):
    """What became of the user's own talkgroups; numbers that are over the limit or in no list are named."""

    named: int
    kept: int
    over_limit: tuple[int, ...] = ()
    in_no_list: tuple[int, ...] = ()


class HeardTalkgroups(Part):
    """Looking back over `window_days`: talkgroups heard, those in no list, calls on all and on kept talkgroups."""

    window_days: int
    talkgroups: int
    in_no_list: int
    calls: int
    calls_on_kept: int


class TalkgroupSummary(Part):
    """One radio: what was read, kept, dropped and rejected of the lists, and what is covered."""

    schema_: int = Field(default=SCHEMA, alias="schema")
    radio: str
    system: str
    limit: TalkgroupLimit
    read: int
    kept: int
    rejected: int
    dropped: dict[str, int]
    rejected_reasons: dict[str, int]
    rules: tuple[ClassCount, ...]
    cut: Cut | None = None
    mine: OwnTalkgroups
    heard: HeardTalkgroups | None = None
    countries: dict[str, int]
    changed: dict[str, int]
    lists: tuple[SourceSummary, ...]
    files: tuple[FileMark, ...]

    @property
    def dropped_rows(self) -> int:
        """Rows that were dropped, of all reasons."""
        return sum(self.dropped.values())

    @property
    def understood(self) -> list[Understood]:
        """What was understood of each list."""
        return [one for lists in self.lists for one in lists.understood]

    def document(self) -> dict[str, object]:
        """The summary as the tables of JSON."""
        return self.model_dump(mode="json", by_alias=True)

    def text(self) -> str:
        """The contents of summary.json."""
        return json.dumps(self.document(), ensure_ascii=False, indent=2) + "\n"
