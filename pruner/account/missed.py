"""What is said of stations that are heard and left out, and the rule that lets them in.

Receives entries as `coverage.missed.first` of a summary has them; hands on sentences and TOML.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from pruner.account.coverage import CoverageSummary, MissedStation
from pruner.account.parts import Cut
from pruner.account.summary import CountryGone
from pruner.words.nouns import counted, last_days, percent
from pruner.words.outcomes import REASON_WORDS, Reason

#: A share of all calls from which on a warning is worth it.
_WORTH: Final = 0.005
_NAME: Final = "heard most"
_COUNTRIES: Final = 5
#: What a table of keep rules counts.
OWNED: Final = (
    "matched: contacts that meet the rule. owned: those of them that no earlier rule has taken, drop rules included. kept: "
    "those of its own that fit."
)
_LEFT_OUT: Final = REASON_WORDS[Reason.LEFT_OUT]


def rule_to_paste(entries: Sequence[MissedStation], keep_rules: Sequence[str] = ()) -> str:
    """A keep rule that lets these in, as TOML; empty where it would be of no use. Those whom a drop rule leaves out are not in
    it. `keep_rules`: names that are taken."""
    ids = [str(one.id) for one in entries if one.reason != _LEFT_OUT]
    if not ids:
        return ""
    name = next(name for name in (_NAME, *(f"{_NAME} {n}" for n in range(2, 1000))) if name not in keep_rules)
    return f'[[keep]]\nname = "{name}"\nids = [{", ".join(ids)}]'


def kept_of_owned(cut: Cut) -> str:
    """How many of its contacts the rule inside which the limit fell keeps."""
    return f"{cut.kept:,} of the {counted(cut.matched, 'contact')} that it owns are kept"


def missed_sentence(coverage: CoverageSummary) -> str:
    """How many are heard and left out, and what share of which calls is theirs, from `coverage` of a summary; empty where that
    is of a version that told nothing of them."""
    missed, calls = coverage.missed, coverage.all.calls
    if missed is None:
        return ""
    stations = counted(missed.stations, "station that was heard is", "stations that were heard are")
    until = max((one.last_day for one in coverage.calendar.values()), default="")
    days = f"{last_days(missed.window_days)} of the logs{f' (to {until})' if until else ''}"
    share = f" ({percent(missed.calls / calls)})" if calls else ""
    theirs = f"{missed.calls:,} of the {counted(calls, 'call')}{share} on all talkgroups"
    return f"Looking back: {stations} left out, with {theirs} in {days}."


def warnings(coverage: CoverageSummary) -> list[str]:
    """What to change where an order passes by who is heard on other talkgroups, from `coverage` of a summary."""
    elsewhere = coverage.missed.elsewhere if coverage.missed else None
    if coverage.missed is None or not elsewhere or elsewhere.share < _WORTH:
        return []
    who = counted(elsewhere.stations, "station", "stations")
    days = coverage.missed.window_days
    return [
        f"{who} heard only on talkgroups that are not among yours had no room, because the orders of the rules look at yours: "
        f"{percent(elsewhere.share)} of all calls in {last_days(days)}. If you listen there too, name these talkgroups in "
        f"[talkgroups] mine, or put a keep rule with heard_within_days = {days} before the last ones."
    ]


def gone_sentence(gone: Sequence[CountryGone], names: Sequence[str]) -> str:
    """Countries of which hardly anybody is kept (`nearly_gone` of a summary, and their names); empty where there is none."""
    if not gone:
        return ""
    told = [f"{name} ({one.kept:,} of {one.stations:,})" for one, name in zip(gone, names, strict=True)]
    more = f" and {counted(len(told) - _COUNTRIES, 'more country', 'more countries')}" if len(told) > _COUNTRIES else ""
    return f"Nearly gone, less than a tenth of their stations kept: {', '.join(told[:_COUNTRIES])}{more}."
