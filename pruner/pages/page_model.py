"""What a page says of one radio, before it becomes HTML.

Receives a summary and the tallies of its ledger, hands on sentences, figures and rows, all as plain values.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from pruner.account.coverage import MissedStation
from pruner.account.limits import Lasts
from pruner.account.missed import gone_sentence, missed_sentence, rule_to_paste, warnings
from pruner.account.parts import Understood
from pruner.account.summary import Summary
from pruner.account.tallies import STATION_REASONS, CountryTally, Tallies
from pruner.account.to_come_text import calls_to_come, end_of_limits, share_to_come
from pruner.pages.limit_part import LimitPart, limit_part
from pruner.pages.page_text import number, percent
from pruner.pages.route_map import RouteMap, route_map
from pruner.pages.world_map import WorldMap, world_map
from pruner.reference import countries
from pruner.words.nouns import counted
from pruner.words.outcomes import REASON_SENTENCES, REASON_WORDS, Reason

UNKNOWN: Final = "unknown country"
_SENTENCE: Final = {REASON_WORDS[reason]: sentence for reason, sentence in REASON_SENTENCES.items()}
_DISAGREEMENT: Final = "disagreement: "
#: A share counts as reached when less than this is missing.
_REACHED: Final = 0.001
ON_YOURS: Final = "on your talkgroups"


@dataclass(frozen=True, slots=True)
class Room:
    """How full a radio is, in `unit`s; `kept_free` is asked for by the settings, `left` is the rest."""

    unit: str
    holds: int
    used: int
    kept_free: int
    left: int


@dataclass(frozen=True, slots=True)
class CoverageFigure:
    """A share of calls whose caller is kept; `best` is what no choice of as many contacts can exceed."""

    words: str
    calls: int
    named: int
    share: float
    best: float


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """What a limit would have covered. `here`: what this radio keeps, `beyond`: more than that; `left` and `width`: from
    this limit to the next, as parts of the whole width."""

    contacts: int
    share: float
    here: bool
    beyond: bool
    left: float
    width: float

    @property
    def from_here(self) -> bool:
        return self.here or self.beyond


@dataclass(frozen=True, slots=True)
class MissedPart:
    """Who was heard and has no place: how many, those heard most, the keep rule (TOML) that lets these in, and warnings."""

    sentence: str
    first: Sequence[MissedStation]
    rule: str
    warnings: list[str]


@dataclass(frozen=True, slots=True)
class RuleRow:
    """A keep rule with what it matched, owned and kept, what it owned and did not keep (`out`), and what the widest rule
    owned."""

    name: str
    order: str
    at_most: int | None
    matched: int
    owned: int
    kept: int
    out: int
    widest: int


@dataclass(frozen=True, slots=True)
class ReasonRow:
    """A reason with its rows; whether they are rejected, whether they are stations, and the rows of the most frequent
    reason."""

    word: str
    count: int
    sentence: str
    rejected: bool
    station: bool
    most: int


@dataclass(frozen=True, slots=True)
class RadioPage:
    """All that the template of one radio needs; `prefix` keeps the names of its parts apart from those of other radios."""

    prefix: str
    level: int
    radio: str
    sentence: str
    summary: Summary
    dropped: int
    room: Room
    to_come: list[str]
    to_come_short: str
    to_come_end: str
    missed: MissedPart | None
    gone: str
    figures: list[CoverageFigure]
    curve: list[CurvePoint]
    curve_sentence: str
    rules: list[RuleRow]
    reasons: list[ReasonRow]
    by_country: list[CountryTally]
    country_reasons: list[str]
    left_behind: list[CountryTally]
    tallies: Tallies
    map: WorldMap
    routes: RouteMap | None
    understood: list[Understood]
    repairs: list[tuple[str, int]]
    doubts: list[tuple[str, int]]
    date: str | None
    charts: dict[str, str]
    limits: LimitPart | None


def radio_page(
    summary: Summary,
    tallies: Tallies,
    *,
    date: str | None = None,
    level: int = 2,
    prefix: str = "",
    lasting: Sequence[Lasts] | None = None,
) -> RadioPage:
    """The page of one radio. `level` is that of its headings, from 1 to 6; `lasting`: until when each of the summary's
    limits lasts (None: not looked at)."""
    dropped = summary.dropped_rows
    stations = [one for one in tallies.by_country if one.stations]
    curve, figures = _curve(summary), coverage_figures(summary)
    occurring = {reason for one in tallies.by_country for reason in one.dropped}
    changed = summary.changed.items()
    gone = summary.nearly_gone
    ahead = summary.coverage.to_come if summary.coverage else None
    return RadioPage(
        prefix=prefix,
        level=level,
        radio=summary.radio,
        sentence=_sentence(summary),
        summary=summary,
        dropped=dropped,
        room=room_of(summary),
        to_come=calls_to_come(ahead) if ahead else [],
        to_come_end=end_of_limits(ahead, summary.contacts or 0) if ahead else "",
        missed=missed_part(summary),
        gone=gone_sentence(gone, [country_name(one.country) for one in gone]),
        to_come_short=share_to_come(ahead) if ahead else "no logs",
        figures=figures,
        curve=curve,
        curve_sentence=_curve_sentence(curve, figures[0].words) if curve else "",
        rules=_rules(summary),
        reasons=_reasons(summary),
        by_country=stations,
        country_reasons=[word for word in _SENTENCE if word in occurring],
        left_behind=sorted(
            (one for one in tallies.by_country if one.dropped),
            key=lambda one: (one.kept - one.stations, -sum(one.dropped.values()), one.code or "~"),
        ),
        tallies=tallies,
        map=world_map(tallies.by_country),
        routes=route_map(summary.routes),
        understood=summary.understood,
        repairs=[(word, count) for word, count in changed if not word.startswith(_DISAGREEMENT)],
        doubts=[(word.removeprefix(_DISAGREEMENT), count) for word, count in changed if word.startswith(_DISAGREEMENT)],
        date=date,
        charts={},
        limits=limit_part(summary, lasting),
    )


def missed_part(summary: Summary) -> MissedPart | None:
    """Who was heard and has no place; None without logs, or where everybody heard has one."""
    coverage = summary.coverage
    if coverage is None or coverage.missed is None or not coverage.missed.stations:
        return None
    missed = coverage.missed
    rule = rule_to_paste(missed.first, [rule.name for rule in summary.rules])
    return MissedPart(missed_sentence(coverage), missed.first, rule, warnings(coverage))


def country_name(code: str) -> str:
    """The display name of a country's code."""
    return countries.NAMES[countries.NUMBERS[code]] if code in countries.NUMBERS else UNKNOWN


def room_of(summary: Summary) -> Room:
    """How full the radio of a summary is."""
    memory, limit = summary.memory, summary.limit
    if memory:
        return Room("bytes", memory.bytes, memory.used, 0, memory.free)
    holds = limit.contacts or 0
    free = min(limit.keep_free, holds)
    return Room("contacts", holds, summary.kept, free, max(holds - free - summary.kept, 0))


def _wanted_but_out(summary: Summary) -> int:
    return summary.dropped.get(REASON_WORDS[Reason.OVER_LIMIT], 0)


def _sentence(summary: Summary) -> str:
    kept, out, room = summary.kept, _wanted_but_out(summary), room_of(summary)
    if not kept and not out:
        return "The rules keep nobody: the file to import is empty."
    missed = summary.coverage.missed.stations if summary.coverage and summary.coverage.missed else 0
    if not out:
        left = f"{counted(room.left, 'place')} left" if room.unit == "contacts" else f"{number(room.left)} bytes left"
        if missed:
            heard = counted(missed, "station that was heard stays", "stations that were heard stay")
            return f"The limit keeps nobody out: {counted(kept, 'contact')}, with {left}. But {heard} out by the rules."
        return f"Everybody whom the rules let in fits: {counted(kept, 'contact')}, with {left}."
    in_file, stay_out = counted(kept, "contact"), counted(out, "station")
    full = f"full but for {counted(room.kept_free, 'place')} kept free" if room.kept_free else "full"
    return f"The file fits: {in_file}. The radio is {full}, so {stay_out} had to stay out."


def coverage_figures(summary: Summary) -> list[CoverageFigure]:
    """The shares of named calls, the user's own talkgroups first; none without heard logs or calls."""
    if summary.coverage is None:
        return []
    told = ((summary.coverage.mine, ON_YOURS), (summary.coverage.all, "on all talkgroups"))
    return [
        CoverageFigure(words, one.calls, one.named, one.share, one.share if one.best_share is None else one.best_share)
        for one, words in told
        if one and one.share is not None
    ]


def _curve(summary: Summary) -> list[CurvePoint]:
    """The points of other limits, and what this radio keeps among them; none where it does not keep by rank."""
    if summary.memory and summary.memory.aim == "coverage":
        return []
    points = {one.contacts: one.share for one in summary.coverage.by_limit} if summary.coverage else {}
    figures, own = coverage_figures(summary), summary.kept
    if not points or not figures:
        return []
    points[own] = figures[0].share
    limits = sorted(points)
    most = max(limits[-1], 1)
    return [
        CurvePoint(limit, points[limit], limit == own, limit > own, limit / most, (following - limit) / most)
        for limit, following in zip(limits, [*limits[1:], limits[-1]], strict=True)
    ]


def _curve_sentence(curve: Sequence[CurvePoint], words: str) -> str:
    here = next(point for point in curve if point.here)
    least = next(point for point in curve if point.share >= here.share - _REACHED)
    most = curve[-1]
    if most.share > here.share + _REACHED:
        all_in = f"room for {number(most.contacts)} contacts would have named {percent(most.share)} of the calls"
        return f"With the same rules, {all_in}, this radio names {percent(here.share)}."
    if least.contacts < here.contacts:
        as_many = f"{counted(least.contacts, 'contact')} would have named as many"
        where = f" {words}" if words == ON_YOURS else ""
        return f"{as_many}: the places behind are held by stations that were hardly heard{where} in this time."
    return "More room would not have named more callers."


def _rules(summary: Summary) -> list[RuleRow]:
    widest = max([rule.owned for rule in summary.rules], default=0)
    return [
        RuleRow(rule.name, rule.order, rule.at_most, rule.matched, rule.owned, rule.kept, rule.owned - rule.kept, widest)
        for rule in summary.rules
    ]


def _reasons(summary: Summary) -> list[ReasonRow]:
    counts = {**summary.dropped, **summary.rejected_reasons}
    most = max(counts.values(), default=0)
    return [
        ReasonRow(word, counts[word], sentence, word in summary.rejected_reasons, word in STATION_REASONS, most)
        for word, sentence in _SENTENCE.items()
        if word in counts
    ]
