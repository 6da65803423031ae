"""What `heard fold` and `heard show` print."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, Final

from pruner.cli.text import number, paragraph, safe, shortened, table
from pruner.library.logs import MARK_WORDS, Account, Mark
from pruner.words.nouns import counted

if TYPE_CHECKING:
    from pruner.library.logs import Caller, ClusterResult, FetchResult, FoldResult, Learned, Line, Overview


_NAME_WIDTH: Final = 36
_NAME_SHOWN: Final = 20
_SIGN_WIDTH: Final = 20
_MOST_GAPS: Final = 5
_MOST_FILES: Final = 20
_SHOWN_LINES, _LINE_WIDTH = 5, 100


def fold_text(result: FoldResult) -> str:
    """The account of a fold: files with new rows, reasons, and where the store lies."""
    total = result.total
    new = [file for file in result.files if file.account.read]
    rows = [["log", "read", "new", "known", "set aside", "rejected"]]
    for file in new[:_MOST_FILES]:
        account = file.account
        rows.append([shortened(file.name, _NAME_WIDTH), *_counts(account)])
    if len(new) > _MOST_FILES:
        rows.append([f"and {len(new) - _MOST_FILES} more", "", "", "", "", ""])
    rows.append(["in all", *_counts(total)])
    lines = [table(rows, right=(1, 2, 3, 4, 5))] if new else []
    empty = [shortened(file.name, _NAME_WIDTH) for file in result.files if file.is_empty]
    known = sum(file.account.read == file.account.known for file in result.files if not file.is_empty)
    if empty:
        more = f" and {len(empty) - _MOST_FILES} more" if len(empty) > _MOST_FILES else ""
        lines.append(paragraph(f"empty, with no calls in them: {', '.join(empty[:_MOST_FILES])}{more}"))
    if known:
        lines.append(f"{number(known)} of {number(len(result.files))} logs hold nothing new")
    if total.events:
        told = counted(total.events, "row tells", "rows tell")
        lines.append(paragraph(f"  {told} starts or ends: a start and its end count as one call"))
    lines += [f"  set aside, {word}: {number(count)}" for word, count in sorted(total.set_aside.items())]
    lines += [f"  rejected, {word}: {number(count)}" for word, count in sorted(total.rejected.items())]
    for system, parts in result.changed.items():
        lines.append(f"{system}: {counted(len({part.day for part in parts}), 'day')} changed")
        if total.rejected or set(total.set_aside) - {MARK_WORDS[Mark.FORGOTTEN], MARK_WORDS[Mark.TOO_OLD]}:
            lines.append(paragraph(f"the rows themselves: {result.stores[system]}", "  "))
    for system, parts in result.forgotten.items():
        days = counted(len({part.day for part in parts}), "day")
        lines.append(paragraph(f"{system}: {days} forgotten, older than calls are kept ([calls] keep_days)"))
    return "\n".join(lines)


def cluster_text(result: ClusterResult) -> str:
    """What came of a fold on a cluster."""
    told = f"{counted(result.rows, 'row')} on the cluster, {number(result.brought)} of them distinct and brought here"
    return "\n".join([paragraph(told), fold_text(result.folded)])


def fetch_text(result: FetchResult) -> str:
    """What came of every address, and of what waited."""
    lines = []
    for one in result.asked:
        note = f" ({safe(one.note)})" if one.note else ""
        lines.append(paragraph(f"{safe(one.address)}: {one.what}{note}"))
    return "\n".join([*lines, fold_text(result.folded)] if result.folded.files else lines)


def _counts(account: Account) -> list[str]:
    counts = (account.read, account.new, account.known, account.set_aside.total(), account.rejected.total())
    return [number(count) for count in counts]


def understood(result: FoldResult) -> list[str]:
    """One line for each log with new rows: which column gave what."""
    new = [file for file in result.files if file.understanding is not None]
    lines = [f"{file.name}: {file.understanding.sentence()}" for file in new[:_MOST_FILES] if file.understanding]
    if len(new) > _MOST_FILES:
        lines.append(f"and {len(new) - _MOST_FILES} more logs")
    return [safe(line) for line in lines]


def learned_text(learned: Learned, table_text: str) -> str:
    """What was learned of a log: each part with an example, lines that are explained, lines that are not, and the settings."""
    count, others = len(learned.explained), len(learned.others)
    rows = [["part", "example"], *([name, safe(text or "")] for name, text in learned.examples.items())]
    lines = [
        f"{number(count)} of {counted(count + others, 'line')} looked at are explained as calls",
        *_events(learned),
        "",
        table(rows),
        *(
            [paragraph(safe(f"not used: {', '.join(shortened(text, _NAME_WIDTH) for text in learned.unused)}"))]
            if learned.unused
            else []
        ),
        "",
    ]
    lines += [f"explained: {safe(shortened(line, _LINE_WIDTH))}" for line in learned.explained[:_SHOWN_LINES]]
    lines += [f"not a call: {safe(shortened(line, _LINE_WIDTH))}" for line in learned.others[:_SHOWN_LINES]]
    return "\n".join([*lines, "", safe_block(table_text)])


def _events(learned: Learned) -> list[str]:
    """Which words tell starts and ends of calls, or that nobody knows."""
    found = learned.events
    if found is None:
        return []
    start, end = (" or ".join(repr(word) if word else "no such word" for word in words) for words in (found.starts, found.ends))
    if found.is_sure:
        said = f"They tell starts of calls ({start}) and ends ({end}); a start and its end count as one call."
    else:
        said = (
            f"In doubt: lines with {start} are often followed by one of the same caller with {end}. If these are starts and "
            "ends of calls, put the words into the pattern as (?P<start_event>...) and (?P<end_event>...); else each is a call."
        )
    return [paragraph(safe(said))]


def safe_block(text: str) -> str:
    """Several lines for a terminal."""
    return "\n".join(safe(line) for line in text.rstrip().split("\n"))


def overview_text(
    found: Overview, known: Mapping[int, Caller], has_directory: bool, talkgroups: Sequence[int] | None = None
) -> str:
    """The days, and tables of stations, talkgroups and call signs with most calls; shares are of all these calls."""
    on = f" on talkgroup{'s' * (len(talkgroups) > 1)} {', '.join(map(str, talkgroups))}" if talkgroups else ""
    heard = f"{counted(found.calls, 'call')} of {counted(found.stations, 'station')}"
    if found.callsigns_heard:
        heard += f" known by id and {number(found.callsigns_heard)} by call sign only"
    not_counted = f"In fits and coverage (the figures here count all days): {' '.join(found.notes)}"
    lines = [
        paragraph(f"{found.first_day} to {found.last_day}{on}: {heard} (days in UTC; shares are of these calls)"),
        *_gaps(found),
        *([paragraph(not_counted)] if found.notes else []),
    ]
    about = ["call sign", "name", "country"] if has_directory else []
    figures = ["calls", "share", "on air", "since", "last heard"]
    stations = [["id", *about, *figures, "most on"]]
    for line in found.most_heard:
        cells = _cells(line, found.calls)
        told = _about(known.get(int(line.number))) if has_directory else []
        stations.append([cells[0], *told, *cells[1:], " ".join(map(str, line.talkgroups))])
    groups = [["talkgroup", *figures], *(_cells(line, found.calls) for line in found.busiest)]
    right = (0, *(len(about) + place for place in (1, 2, 3)))
    lines += [
        "",
        "Stations heard most",
        table(stations, right=right),
        "",
        "Busiest talkgroups",
        table(groups, right=(0, 1, 2, 3)),
    ]
    if found.callsigns:
        signs = [["call sign", *figures, "most on"]]
        signs += [[*_cells(line, found.calls), " ".join(map(str, line.talkgroups))] for line in found.callsigns]
        head = "Heard by call sign only, in no directory" if has_directory else "Heard by call sign only"
        lines += ["", head, table(signs, right=(1, 2, 3))]
    return "\n".join(lines)


def overview_plain(found: Overview, known: Mapping[int, Caller]) -> dict[str, Any]:
    """The same for JSON; what no directory says is null."""
    plain = found.plain()
    for station in plain["most_heard"]:
        caller = known.get(station["id"])
        station |= {name: getattr(caller, name, None) or None for name in ("callsign", "name", "country")}
    return plain


def callers_plain(rows: Sequence[dict[str, Any]], known: Mapping[int, Caller]) -> list[dict[str, Any]]:
    """Every caller on every talkgroup, for JSON."""
    return [
        row
        | {
            "callsign": row["callsign"] or _callsign(known, row["id"]) or None,
            "first": _time(row["first"]),
            "last": _time(row["last"]),
        }
        for row in rows
    ]


def callers_text(rows: Sequence[dict[str, Any]], known: Mapping[int, Caller]) -> str:
    """Every caller on every talkgroup, as a table."""
    cells = [["id", "call sign", "talkgroup", "calls", "on air", "since", "last heard"]]
    for row in rows:
        sign = row["callsign"] or _callsign(known, row["id"])
        number_ = "" if row["id"] is None else str(row["id"])
        times = _time(row["first"])[:10], _time(row["last"])[:16].replace("T", " ")
        on_air = _on_air(row["milliseconds"] / 1000)
        cells.append([number_, shortened(sign, _SIGN_WIDTH), str(row["talkgroup"]), number(row["calls"]), on_air, *times])
    return table(cells, right=(0, 2, 3, 4))


def _callsign(known: Mapping[int, Caller], id: int | None) -> str:
    return known[id].callsign if id is not None and id in known else ""


def _about(caller: Caller | None) -> list[str]:
    if caller is None:
        return ["not in the directory", "", ""]
    return [
        shortened(caller.callsign, _SIGN_WIDTH),
        shortened(caller.name, _NAME_SHOWN),
        shortened(caller.country, _NAME_SHOWN),
    ]


def _gaps(found: Overview) -> list[str]:
    if not found.gaps:
        return []
    shown = [first if first == last else f"{first} to {last}" for first, last in found.gaps[:_MOST_GAPS]]
    more = f" and {len(found.gaps) - _MOST_GAPS} more gaps" if len(found.gaps) > _MOST_GAPS else ""
    return [paragraph(f"calls on {counted(found.days, 'day')} of these; none on {', '.join(shown)}{more}")]


def _time(moment: datetime.datetime) -> str:
    return moment.strftime("%Y-%m-%dT%H:%M:%SZ")


def _on_air(seconds: float) -> str:
    """Hours, minutes and seconds; without any duration it is not known how long that was."""
    if not seconds:
        return "not known"
    whole = round(seconds)
    return f"{whole // 3600}:{whole // 60 % 60:02}:{whole % 60:02}"


def _cells(line: Line, calls: int) -> list[str]:
    name, share = shortened(str(line.number), _SIGN_WIDTH), f"{100 * line.calls / calls:.1f} %"
    return [name, number(line.calls), share, _on_air(line.seconds), line.first[:10], line.last[:16].replace("T", " ")]
