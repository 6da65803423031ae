"""The summary of one radio's talkgroups, as frozen models: what `summary.json` in a folder of talkgroups holds.

`SCHEMA` is its version; earlier ones can be read, as those of contacts can (`pruner.account.summary`). Its JSON Schema is
`talkgroup_summary.schema.json`.
"""

from __future__ import annotations

from typing import Final

from pydantic import Field

from pruner.account.parts import Part, RadioSummary, SourceSummary, Understood

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


class TalkgroupSummary(RadioSummary):
    """One radio: what was read, kept, dropped and rejected of the lists, and what is covered."""

    schema_: int = Field(default=SCHEMA, alias="schema")
    system: str
    limit: TalkgroupLimit
    rules: tuple[ClassCount, ...]
    mine: OwnTalkgroups
    heard: HeardTalkgroups | None = None
    lists: tuple[SourceSummary, ...]

    @property
    def understood(self) -> list[Understood]:
        """What was understood of each list."""
        return [one for lists in self.lists for one in lists.understood]
