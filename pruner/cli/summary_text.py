"""Results of a fit as text for a terminal of 80 columns."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from pruner.cli.preview_text import carried_lines, import_lines
from pruner.cli.text import number, paragraph, percent, shortened, strong, table
from pruner.cli.understood_text import understood_lines
from pruner.words.nouns import calls_to_come, counted, last_days, share_to_come

_CAUTIONS = ["A name on the screen is a claim, not an identification.", "Back up the radio before writing it."]


def summary_text(summary: dict[str, Any], folder: Path) -> str:
    """What was read, kept, dropped and rejected, by rule and reason, and where the files lie."""
    lines = [
        strong(f"{shortened(summary['radio'], 40)}: {number(summary['kept'])} of {_limit(summary)}"),
        "",
        _account(summary),
        *understood_lines([summary]),
        "",
        table(
            [("keep rule", "order", "matched", "kept")]
            + [
                (shortened(rule["name"], 36), rule["order"], number(rule["matched"]), number(rule["kept"]))
                for rule in summary["rules"]
            ],
            right=(2, 3),
        ),
    ]
    if summary.get("order_note"):
        lines += ["", paragraph(summary["order_note"])]
    if summary.get("memory"):
        lines += ["", *_memory_lines(summary["memory"])]
    if summary["cut"]:
        cut = summary["cut"]
        share = f"{number(cut['kept'])} of {number(cut['matched'])}"
        lines += ["", paragraph(f"The limit fell inside rule '{cut['rule']}': {share}.")]
    reasons = {**summary["dropped"], **summary["rejected_reasons"]}
    if reasons:
        rows = [("not kept", "rows"), *((word, number(count)) for word, count in reasons.items())]
        lines += ["", table(rows, right=(1,))]
    if summary["coverage"]:
        lines += ["", *_coverage_lines(summary)]
    names = [*(file["name"] for file in summary["files"]), "summary.json"]
    carried = carried_lines(summary)
    lines += ["", *carried] if carried else []
    lines += ["", *import_lines(summary, folder), paragraph(f"files in {folder}: " + ", ".join(names)), "", *_CAUTIONS]
    return "\n".join(lines)


def several_text(summaries: list[dict[str, Any]], folders: list[Path]) -> str:
    """Several radios side by side: kept, the rule inside which the limit fell, coverage, room left."""
    rows = [("radio", "limit", "kept", "cut inside rule", "named, to come", "room left")]
    for summary in summaries:
        limit = summary["limit"]["contacts"]
        cut = summary["cut"]
        rows.append(
            (
                shortened(summary["radio"], 20),
                number(limit) if limit is not None else f"{number(summary['limit']['bytes'])} B",
                number(summary["kept"]),
                shortened(cut["rule"], 20) if cut else "-",
                _to_come(summary["coverage"]),
                f"{number(summary['memory']['free'])} B" if summary.get("memory") else number(_left(summary)),
            )
        )
    lines = [table(rows, right=(1, 2, 4, 5)), "", _account(summaries[0], of_first=True), *understood_lines(summaries), ""]
    notes = dict.fromkeys(summary["order_note"] for summary in summaries if summary.get("order_note"))
    lines += [paragraph(note) for note in notes]
    for summary, folder in zip(summaries, folders, strict=True):
        lines += [paragraph(f"{summary['radio']}:"), *carried_lines(summary), *import_lines(summary, folder)]
    return "\n".join([*lines, "", *_CAUTIONS])


def what_if_text(radio: str, rows: list[dict[str, Any]]) -> str:
    """One line per limit, then what each rule would keep."""
    head = [("limit", "kept", "cut inside rule", "looking back", "file", "to send")]
    body = [
        (
            number(row["contacts"]),
            number(row["kept"]),
            shortened(row["cut"], 24) if row["cut"] else "-",
            _share(row["coverage"]),
            _size(row["bytes"]),
            _duration(row["seconds"]),
        )
        for row in rows
    ]
    rules = list(rows[0]["rules"]) if rows else []
    kept = [("kept by rule", *(number(row["contacts"]) for row in rows))]
    kept += [(shortened(rule, 28), *(number(row["rules"][rule]) for row in rows)) for rule in rules]
    right = tuple(range(1, len(rows) + 1))
    parts = [strong(shortened(radio, 60)), table(head + body, right=(0, 1, 3, 4, 5))]
    told = rows[0]["coverage"] if rows else None
    if told:
        where = "on your talkgroups" if told["mine"] else "on all talkgroups"
        parts.append(paragraph(f"looking back: calls named {where}, in {last_days(told['window_days'])}"))
        ahead = [("limit", "calls named, to come"), *((number(row["contacts"]), share_to_come(row["to_come"])) for row in rows)]
        parts += [table(ahead, right=(0, 1)), paragraph(f"to come: {where}, in the next {rows[0]['period_days']:,} days")]
    return "\n\n".join([*parts, table(kept, right=right)])


def _left(summary: dict[str, Any]) -> int:
    """Contacts that would still fit; places kept free are not among them."""
    limit = summary["limit"]
    return int(max(limit["contacts"] - limit.get("keep_free", 0) - summary["kept"], 0))


def _limit(summary: dict[str, Any]) -> str:
    limit, free = summary["limit"]["contacts"], summary["limit"].get("keep_free")
    text = f"{number(limit)} contacts" if limit is not None else "as many contacts as its bytes hold"
    return text + (f", {number(free)} kept free" if free else "")


def _memory_lines(memory: dict[str, Any]) -> list[str]:
    lines = [f"{number(memory['used'])} of {number(memory['bytes'])} bytes used, {number(memory['free'])} free"]
    if len(memory["levels"]) > 1:
        rows = [("level of detail", "contacts"), *((shortened(name, 40), number(n)) for name, n in memory["levels"].items())]
        lines += ["", table(rows, right=(1,))]
    if memory["expected_calls"]:
        told = memory["expected_calls"]
        text = f"Worth {told['value']:,.1f} expected calls; no choice is worth more than {told['upper_bound']:,.1f}."
        lines += ["", paragraph(text)]
    return lines


def _account(summary: dict[str, Any], *, of_first: bool = False) -> str:
    dropped = sum(summary["dropped"].values())
    text = (
        f"read {number(summary['read'])} = kept {number(summary['kept'])} + dropped {number(dropped)}"
        f" + rejected {number(summary['rejected'])}"
    )
    return f"{text} ({shortened(summary['radio'], 20)})" if of_first else text


def _to_come(coverage: dict[str, Any] | None) -> str:
    if not coverage:
        return "no logs"
    return share_to_come(coverage["to_come"]) if coverage.get("to_come") else "no figure"


def _share(coverage: dict[str, Any] | None) -> str:
    if not coverage:
        return "no logs"
    return percent((coverage["mine"] or coverage["all"])["share"])


def _coverage_lines(summary: dict[str, Any]) -> list[str]:
    coverage = summary["coverage"]
    days = coverage["window_days"]
    lines = calls_to_come(coverage["to_come"]) if coverage.get("to_come") else []
    ahead = len(lines)
    for part, words in (("mine", "on your talkgroups"), ("all", "on all talkgroups")):
        told = coverage[part]
        if told and told["share"] is not None:
            lines.append(
                f"Looking back: {percent(told['share'])} of the calls {words} in {last_days(days)} have a name"
                f" (best possible {percent(told['best_share'])})."
            )
    if len(lines) == ahead:
        lines.append(f"No calls in {last_days(days)} of the heard logs.")
    signs = coverage.get("by_callsign")
    if signs and len(lines) > ahead:
        lines.append(
            f"{counted(signs['calls'], 'of the calls names', 'of the calls name')} only a call sign; "
            f"{number(signs['in_directory'])} of them count for the id of that call sign that was heard most: which one "
            "called is not known."
        )
    lines += [note for days in coverage.get("calendar", {}).values() for note in days["notes"]]
    return [paragraph(line) for line in lines]


def _size(size: int) -> str:
    return f"{size / 1e6:.1f} MB" if size >= 1_000_000 else f"{size / 1e3:,.1f} kB"


def _duration(seconds: float) -> str:
    if seconds < 60:
        return f"{seconds:.0f} s"
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes} min {rest:02} s" if minutes < 60 else f"{minutes // 60} h {minutes % 60:02} min"
