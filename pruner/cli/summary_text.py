"""Results of a fit as text for a terminal of 80 columns."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from pruner.cli.preview_text import carried_lines, import_lines
from pruner.cli.text import number, paragraph, percent, shortened, strong, table
from pruner.cli.understood_text import lines_aside, understood_lines
from pruner.library.places import name_of_code
from pruner.library.results import (
    BEST_POSSIBLE,
    OWNED,
    CoverageSummary,
    MemoryUse,
    MissedStation,
    Summary,
    calls_to_come,
    gone_sentence,
    kept_of_owned,
    missed_sentence,
    rule_to_paste,
    share_to_come,
    warnings,
)
from pruner.words.nouns import counted, last_days, next_days

if TYPE_CHECKING:
    from pruner.library.questions import LimitTried

#: So many of those who are heard and left out are named.
_MISSED = 5
CAUTIONS = ["A name on the screen is a claim, not an identification.", "Back up the radio before writing it."]


def summary_text(summary: Summary, folder: Path) -> str:
    """What was read, kept, dropped and rejected, by rule and reason, and where the files lie."""
    lines = [
        strong(f"{shortened(summary.radio, 40)}: {number(summary.kept)} of {_limit(summary)}"),
        *(paragraph(line) for line in _ahead_lines(summary.coverage)),
        "",
        _account(summary),
        *lines_aside(summary.changed),
        *understood_lines(summary.understood),
        "",
        table(
            [("keep rule", "order", "matched", "owned", "kept")]
            + [
                (shortened(rule.name, 36), rule.order, number(rule.matched), number(rule.owned), number(rule.kept))
                for rule in summary.rules
            ],
            right=(2, 3, 4),
        ),
        paragraph(OWNED),
    ]
    if summary.order_note:
        lines += ["", paragraph(summary.order_note)]
    if summary.memory:
        lines += ["", *_memory_lines(summary.memory)]
    if summary.cut:
        cut = summary.cut
        lines += ["", paragraph(f"The limit fell inside rule '{cut.rule}': {kept_of_owned(cut)}.")]
    reasons = {**summary.dropped, **summary.rejected_reasons}
    if reasons:
        rows = [("not kept", "rows"), *((word, number(count)) for word, count in reasons.items())]
        lines += ["", table(rows, right=(1,))]
    if summary.coverage:
        lines += ["", *_back_lines(summary.coverage), *missed_lines(summary, summary.coverage)]
    if summary.nearly_gone:
        names_gone = [name_of_code(one.country) for one in summary.nearly_gone]
        lines += ["", paragraph(gone_sentence(summary.nearly_gone, names_gone))]
    names = [*(file.name for file in summary.files), "summary.json"]
    carried = carried_lines(summary)
    lines += ["", *carried] if carried else []
    lines += ["", *import_lines(summary, folder), paragraph(f"files in {folder}: " + ", ".join(names)), "", *CAUTIONS]
    return "\n".join(lines)


def missed_lines(summary: Summary, coverage: CoverageSummary) -> list[str]:
    """Who was heard most and has no place, the rule that lets them in, and a warning where an order passes others by."""
    missed = coverage.missed
    if not missed or not missed.stations:
        return []
    first = missed.first[:_MISSED]
    rule = rule_to_paste(first, [rule.name for rule in summary.rules])
    lines = ["", paragraph(missed_sentence(coverage)), "", missed_table(first)]
    if rule:
        lines += ["", "This keep rule, before the others, lets them in:", *(f"  {line}" for line in rule.splitlines())]
    for warning in warnings(coverage):
        lines += ["", paragraph(warning)]
    return [*lines, "", "pruner why --missed names all of them."]


def missed_table(stations: Sequence[MissedStation]) -> str:
    """Stations that were heard and are left out, with their calls in the window of `missed_sentence`."""
    rows = [("heard most, left out", "id", "country", "calls on yours", "on all", "why")]
    rows += [
        (
            shortened(one.callsign or "no call sign", 20),
            str(one.id),
            shortened(name_of_code(one.country) or "unknown", 18),
            "" if one.calls_on_mine is None else number(one.calls_on_mine),
            number(one.calls),
            one.reason,
        )
        for one in stations
    ]
    return table(rows, right=(1, 3, 4))


def what_if_text(radio: str, rows: list[LimitTried]) -> str:
    """Calls to come and looking back at each limit, what it holds, then what each rule would keep."""
    head = [("limit", "kept", "cut inside rule", "file", "to send")]
    body = [
        (
            number(row.contacts),
            number(row.kept),
            shortened(row.cut, 24) if row.cut else "-",
            _size(row.bytes),
            _duration(row.seconds),
        )
        for row in rows
    ]
    rules = list(rows[0].rules) if rows else []
    kept = [("kept by rule", *(number(row.contacts) for row in rows))]
    kept += [(shortened(rule, 28), *(number(row.rules[rule]) for row in rows)) for rule in rules]
    right = tuple(range(1, len(rows) + 1))
    capacity = table(head + body, right=(0, 1, 3, 4))
    return "\n\n".join([strong(shortened(radio, 60)), *_named(rows), capacity, table(kept, right=right)])


def _named(rows: Sequence[LimitTried]) -> list[str]:
    """The share of calls named at each limit, to come first."""
    told = rows[0].coverage if rows else None
    if not told:
        return []
    where = "on your talkgroups" if told.mine else "on all talkgroups"
    shares = [("limit", "named, to come", "named, looking back")]
    shares += [(number(row.contacts), share_to_come(row.to_come), _share(row.coverage)) for row in rows]
    days = next_days(rows[0].period_days)
    return [
        table(shares, right=(0, 1, 2)),
        paragraph(
            f"to come: of the calls {where} in {days}, those whose caller will have a name (and its interval). "
            f"looking back: of those in {last_days(told.window_days)}, which the choice knows."
        ),
        *(paragraph(why) for why in dict.fromkeys(row.to_come_why for row in rows) if why),
        *(paragraph(row.to_come_end) for row in rows[-1:] if row.to_come_end),
    ]


def room_left(summary: Summary) -> int:
    """Contacts that would still fit; places kept free are not among them."""
    limit = summary.limit
    return max((limit.contacts or 0) - limit.keep_free - summary.kept, 0)


def _limit(summary: Summary) -> str:
    limit, free = summary.limit.contacts, summary.limit.keep_free
    text = f"{number(limit)} contacts" if limit is not None else "as many contacts as its bytes hold"
    return text + (f", {number(free)} kept free" if free else "")


def _memory_lines(memory: MemoryUse) -> list[str]:
    lines = [f"{number(memory.used)} of {number(memory.bytes)} bytes used, {number(memory.free)} free"]
    if len(memory.levels) > 1:
        rows = [("level of detail", "contacts"), *((shortened(name, 40), number(n)) for name, n in memory.levels.items())]
        lines += ["", table(rows, right=(1,))]
    if memory.expected_calls:
        told = memory.expected_calls
        text = f"Worth {told.value:,.1f} expected calls; no choice is worth more than {told.upper_bound:,.1f}."
        lines += ["", paragraph(text)]
    return lines


def _account(summary: Summary) -> str:
    return (
        f"read {number(summary.read)} = kept {number(summary.kept)} + dropped {number(summary.dropped_rows)}"
        f" + rejected {number(summary.rejected)}"
    )


def _share(coverage: CoverageSummary | None) -> str:
    if not coverage:
        return "no logs"
    return percent(coverage.own.share) if coverage.own.share is not None else "no calls"


def _ahead_lines(coverage: CoverageSummary | None) -> list[str]:
    """The headline: calls to come."""
    return calls_to_come(coverage.to_come) if coverage and coverage.to_come else []


def _back_lines(coverage: CoverageSummary) -> list[str]:
    days = coverage.window_days
    lines = []
    for told, words in ((coverage.mine, "on your talkgroups"), (coverage.all, "on all talkgroups")):
        if told and told.share is not None and told.best_share is not None:
            lines.append(
                f"Looking back: {percent(told.share)} of the calls {words} in {last_days(days)} have a name"
                f" (best possible {percent(told.best_share)})."
            )
    if lines:
        lines.append(BEST_POSSIBLE)
    else:
        lines.append(f"No calls in {last_days(days)} of the heard logs.")
    signs = coverage.by_callsign
    if signs and signs.calls:
        lines.append(
            f"{counted(signs.calls, 'of the calls names', 'of the calls name')} only a call sign; "
            f"{number(signs.in_directory)} of them count for the id of that call sign that was heard most: which one "
            "called is not known."
        )
    lines += coverage.day_notes
    return [paragraph(line) for line in lines]


def _size(size: int) -> str:
    return f"{size / 1e6:.1f} MB" if size >= 1_000_000 else f"{size / 1e3:,.1f} kB"


def _duration(seconds: float) -> str:
    if seconds < 60:
        return f"{seconds:.0f} s"
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes} min {rest:02} s" if minutes < 60 else f"{minutes // 60} h {minutes % 60:02} min"
