"""Rules, entries of their lists and heard logs that match nobody: said, never an error, because a list of people who left the
directory rightly matches nobody.

Receives settings, rules and what they matched, hands on one sentence each.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Final

from pruner.job.load import Loaded
from pruner.rules.matching import Ownership, not_borne
from pruner.settings.models import KeepRule, Rule, Settings
from pruner.table.listed import Listed
from pruner.words.nouns import counted

#: So many entries are named.
_NAMED: Final = 5


def idle_rules(loaded: Loaded, keep: Sequence[KeepRule], ownership: Ownership) -> list[str]:
    """One sentence per drop rule that leaves nobody out, per keep rule of a radio that matches nobody or entries of whose list
    do, and per heard log of a system that no source is of."""
    settings, lists = loaded.settings, loaded.lists
    drops = zip(settings.drop, ownership.left_out, strict=True)
    matched = list(zip(keep, ownership.matched, strict=True))
    return [
        *(f"drop rule {rule.name!r}{_list(rule, lists)} leaves nobody out" for rule, count in drops if not count),
        *(f"keep rule {rule.name!r}{_list(rule, lists)} matches nobody" for rule, count in matched if not count),
        *(said for rule, count in matched if count and (said := _idle_entries(rule, loaded))),
        *_logs_of_another_system(settings),
    ]


def idle_in(loaded: Loaded) -> list[str]:
    """The same for all radios of a run, each sentence once."""
    found = [
        sentence
        for radio in loaded.settings.radios
        for sentence in idle_rules(loaded, loaded.keep_rules(radio), loaded.ownership(radio))
    ]
    return list(dict.fromkeys(found))


def _idle_entries(rule: KeepRule, loaded: Loaded) -> str:
    """Ids and call signs of a rule's list that no contact has, whatever else the rule asks for; "" where there are none.
    Patterns and ranges are not looked at."""
    if rule.list is None:
        return ""
    listed = loaded.lists[rule.list]
    idle = not_borne(loaded.contacts, listed)
    if not idle:
        return ""
    more = f" and {len(idle) - _NAMED:,} more" if len(idle) > _NAMED else ""
    match = "matches" if len(idle) == 1 else "match"
    count = f"{len(idle):,} of {counted(listed.entries, 'entry', 'entries')} of list {rule.list} {match} nobody"
    return f"keep rule {rule.name!r}: {count}: {', '.join(idle[:_NAMED])}{more}"


def _logs_of_another_system(settings: Settings) -> list[str]:
    known = sorted({source.system for source in settings.sources})
    found = [log for log in settings.heard if log.system not in known]
    if not found:
        return []
    from pruner.sources.location import shown  # for the few who have such logs

    return [
        f"the calls of heard log {shown(log.location) if log.is_remote else log.location} are of {log.system}, but every "
        f"source is of {' or '.join(known)}, so they count for nobody; 'system' under [[heard]] says of which system a log is"
        for log in found
    ]


def _list(rule: Rule, lists: Mapping[Path, Listed]) -> str:
    if rule.list is None:
        return ""
    return f" (list {rule.list}{'' if lists[rule.list].entries else ', which names no station'})"
