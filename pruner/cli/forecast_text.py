"""A forecast as text for a terminal of 80 columns, and as plain values for JSON."""

from __future__ import annotations

from typing import Any, Final

from pruner.cli.text import number, paragraph, shortened, table
from pruner.library.histories import DIRECTORY, LATER, OUTGROWN, UNKNOWN, Forecast, Outlook
from pruner.library.limits import share_words
from pruner.words.days import date_of
from pruner.words.nouns import counted

_NAME: Final = 24
_OF_RADIOS: Final = "Of a radio: the day from which on its rules ask for more than it holds."
_WORD: Final = {LATER: "later", UNKNOWN: "unknown"}
_OF_COVERAGE: Final = (
    "Coverage, looking back: the share of the calls before the last run, in its window, whose caller is kept; then the same "
    "where the radio holds a smaller share of the directory. The last run told no figure of the calls to come; pruner limits "
    "says why."
)
#: In words, how the directory grows by each model of `history.growth`.
_GROWS: Final = {
    "steady, drift": "about as many new stations every week, where good and bad weeks add up",
    "steady, line": "a straight line, to which counts come back",
    "exponential, drift": "about the same share of new stations every week, where good and bad weeks add up",
    "exponential, line": "a curve of equal shares, to which counts come back",
}


def forecast_plain(found: Forecast, aside: int) -> dict[str, Any]:
    """Everything that is known, dates as ISO 8601, shares as numbers from 0 to 1."""
    series = found.series
    return {
        "recorded_days": len(series),
        "first_day": _date(int(series.day[0])) if len(series) else None,
        "last_day": _date(int(series.day[-1])) if len(series) else None,
        "stations": int(series.count[-1]) if len(series) else None,
        "runs_left_aside": aside,
        "reason": found.reason or None,
        "models": [
            {"name": one.model.name, "per_year": round(one.per_year), "score": round(one.score, 6), "tested": one.tested}
            for one in found.growth
        ],
        "interval": found.level,
        "horizon": _date(found.horizon) if found.growth else None,
        "limits": [_plain(one) for one in found.outlooks],
    }


def _plain(one: Outlook) -> dict[str, Any]:
    return {
        "name": one.limit.name,
        "contacts": one.limit.contacts,
        "status": one.status,
        "day": _date(one.day),
        "earliest": _date(one.earliest),
        "latest": _date(one.latest),
        "coverage_now": one.limit.coverage,
        "coverage_then": one.coverage_then,
        "coverage_in_a_year": one.coverage_in_a_year,
        "calls_to_come": _plain_ahead(one),
    }


def _plain_ahead(one: Outlook) -> dict[str, object] | None:
    """Shares of the calls of the next `period_days`, with low and high ends (only low: a lower bound); null where not known."""
    if one.limit.ahead is None:
        return None
    told = {"now": one.ahead_now, "then": one.ahead_then, "in_a_year": one.ahead_in_a_year}
    shares = {name: ahead.model_dump(mode="json") if ahead else None for name, ahead in told.items()}
    return {"period_days": one.limit.ahead.period_days, "talkgroups": one.limit.ahead.talkgroups, **shares}


def forecast_text(found: Forecast, aside: int) -> str:
    """The state of the directory, when it outgrows what, and how that was found."""
    lines = [*_state(found, aside), "", _dates(found)]
    ahead = [one for one in found.outlooks if one.limit.ahead is not None]
    coverage = [one for one in found.outlooks if one.limit.coverage is not None and one.limit.ahead is None]
    if ahead:
        lines += ["", _ahead(ahead), *(paragraph(line) for line in _of_ahead(ahead))]
    if coverage:
        lines += ["", _coverage(coverage), paragraph(_OF_COVERAGE)]
    if not ahead and not coverage:
        lines += ["", "Calls to come: unknown; pruner limits says why."]
    if found.growth:
        lines += ["", paragraph(_method(found))]
    return "\n".join(lines)


def _state(found: Forecast, aside: int) -> list[str]:
    series = found.series
    lines = []
    if len(series):
        first, last = _date(int(series.day[0])), _date(int(series.day[-1]))
        lines.append(
            f"{counted(int(series.count[-1]), 'station')} on {last}; {counted(len(series), 'recorded day')} since {first}"
        )
    if aside:
        lines.append(paragraph(f"{counted(aside, 'earlier run')} had other sources: left aside."))
    if found.growth:
        lines.append(f"growth: {number(round(found.growth[0].per_year))} stations in the next year")
    else:
        lines.append(paragraph(f"No forecast: {found.reason}."))
    return lines


def _dates(found: Forecast) -> str:
    rows: list[tuple[str, ...]] = [("what", "grows past", "on", "earliest", "latest")]
    for one in found.outlooks:
        name, contacts = shortened(one.limit.name, _NAME), number(one.limit.contacts)
        if one.status == OUTGROWN:
            since = "since" if one.earliest is not None else "already"  # it may have been so before the records begin
            rows.append((name, contacts, f"{since} {_date(one.day)}", "", ""))
        else:
            day = _date(one.day) or _WORD[one.status]
            ends = ("", "") if one.status == UNKNOWN else (_date(one.earliest) or "later", _date(one.latest) or "later")
            rows.append((name, contacts, day, *ends))
    radios = any(one.limit.name != DIRECTORY for one in found.outlooks)
    return table(rows, right=(1,)) + (f"\n{_OF_RADIOS}" if radios else "")


def _ahead(outlooks: list[Outlook]) -> str:
    """Calls to come, each share with its interval below it."""
    rows: list[tuple[str, ...]] = [("calls to come, named", "last run", "when full", "in a year")]
    for one in outlooks:
        told = (one.ahead_now, one.ahead_then, one.ahead_in_a_year)
        shares = [share_words(ahead) if ahead else ("unknown", "") for ahead in told]
        rows.append((shortened(one.limit.name, _NAME), *(share for share, _ in shares)))
        rows.append(("", *(interval for _, interval in shares)))
    return table(rows, right=(1, 2, 3))


def _of_ahead(outlooks: list[Outlook]) -> list[str]:
    """What the shares are of, once for each period and talkgroups."""
    curves = [one.limit.ahead for one in outlooks if one.limit.ahead]
    return [
        f"Calls to come: the share of the calls on {'your' if talkgroups == 'mine' else 'all'} talkgroups in the "
        f"{counted(days, 'day')} after the last run whose caller will have a name; then the same where the radio holds a "
        "smaller share of the directory, if newcomers call as much as those who are there now." + _ends_of_ahead(outlooks)
        for days, talkgroups in dict.fromkeys((curve.period_days, curve.talkgroups) for curve in curves)
    ]


def _ends_of_ahead(outlooks: list[Outlook]) -> str:
    """What stands below the shares: intervals, or that these are lower bounds."""
    told = [one.ahead_now for one in outlooks if one.ahead_now]
    text = ""
    if any(one.interval for one in told):
        text += " Below each its interval, which does not allow for how the directory may grow."
    if any(one.interval is None and one.low is not None for one in told):
        text += " Shares without an interval are lower bounds; pruner limits says why."
    if any(one.low is None for one in told):
        text += " Why there is no figure is told by pruner limits."
    return text


def _coverage(outlooks: list[Outlook]) -> str:
    rows: list[tuple[str, ...]] = [("coverage, looking back", "last run", "when full", "in a year")]
    for one in outlooks:
        shares = (one.limit.coverage, one.coverage_then, one.coverage_in_a_year)
        rows.append((shortened(one.limit.name, _NAME), *("unknown" if s is None else f"{s:.1%}" for s in shares)))
    return table(rows, right=(1, 2, 3))


def _method(found: Forecast) -> str:
    chosen, *others = found.growth
    text = f"Earliest and latest bound {round(found.level * 100)} % of what can be expected. "
    text += f"How it grows: {_GROWS[chosen.model.name]}; that would have foretold {chosen.tested:,} recorded counts best, each "
    text += "from those before it. "
    if others:
        kinds = "; or ".join(_GROWS[one.model.name] for one in others)
        text += f"The bounds also allow for what would have done nearly as well: {kinds}. "
    text += f"Later: after {_date(found.horizon)}; the record is too short to look further."
    return text + " All this holds as long as the directory and the rules go on as they did."


def _date(day: int | None) -> str | None:
    return None if day is None else date_of(day).isoformat()
