"""Of which zone the times of logs are, where their cells do not say it; and of which day. All data invented."""

from __future__ import annotations

import datetime as dt
import os
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from heard_weights import weights_in

from pruner.logs.files import FileResult, LogFiles
from pruner.logs.fold import fold_logs
from pruner.read.heard_sections import day_named_in
from pruner.read.zone_words import zone_said_in
from pruner.words.days import day_number

#: Local times from 19:00 on 4 March 2026.
START = dt.datetime(2026, 3, 4, 19, 0, 7)
TIMES = [START + dt.timedelta(minutes=7 * k) for k in range(30)]
LAST_DAY = day_number(dt.date(2026, 11, 27))
NO_ZONE = "name no zone and are taken as UTC"


def fold(path: Path, text: str, zone: str = "") -> FileResult:
    path.write_text(text)
    return fold_logs(path.parent / "state", [LogFiles([path], zone=zone, is_finished=True)]).files[0]


def span(folder: Path) -> tuple[str, str]:
    rows = weights_in(folder / "state").rows()
    return tuple(str(one)[:19] for one in (rows["first"].min(), rows["last"].max()))  # type: ignore[return-value]


def utc(zone: str, times: list[dt.datetime] = TIMES) -> tuple[str, str]:
    place = ZoneInfo(zone)
    first, last = (one.replace(tzinfo=place).astimezone(dt.UTC).replace(tzinfo=None) for one in (times[0], times[-1]))
    return str(first), str(last)


def said(result: FileResult) -> str:
    assert result.understanding is not None
    return result.understanding.sentence()


def row(k: int) -> list[str]:
    return [str(2_320_100 + k % 9), str((232, 91)[k % 2]), str(k % 40 + 2)]


def lines(form: str = "%Y-%m-%d %H:%M:%S") -> str:
    return "time;id;talkgroup;seconds\n" + "".join(f"{at:{form}};{';'.join(row(k))}\n" for k, at in enumerate(TIMES))


def page(above: str, form: str = "%Y-%m-%d %H:%M:%S", below: str = "") -> str:
    cells = "".join(
        f"<tr>{''.join(f'<td>{cell}</td>' for cell in (f'{at:{form}}', *row(k)))}</tr>" for k, at in enumerate(TIMES)
    )
    heads = "<tr><th>Time</th><th>ID</th><th>TG</th><th>Seconds</th></tr>"
    return f"<html><body>{above}<table>{heads}{cells}</table>{below}</body></html>"


@pytest.mark.parametrize(
    ("text", "zone"),
    [
        ("All times UTC+2", "UTC+02:00"),
        ("Times are in UTC.", "UTC"),
        ("Alle Zeiten in MEZ/MESZ", "CET"),
        ("Zeiten: MEZ (UTC+1) / MESZ (UTC+2)", "CET"),
        ("Toutes les heures en UTC", "UTC"),
        ("Time zone: Europe/Vienna", "Europe/Vienna"),
        ("All times are CET; the net starts at 19:00 UTC.", "UTC+01:00"),
        ("Last heard (UTC)", "UTC"),
        ("Made at 2026-03-04 21:10 UTC. All times UTC-5.", "UTC-05:00"),
        ("Made at 2026-03-04 21:10 UTC", ""),
        ("The club of the valley, since 1991", ""),
        ("CAT control and MET office on 145.500", ""),
    ],
)
def test_sentences_about_zones(text: str, zone: str) -> None:
    assert zone_said_in(text).zone == zone


@pytest.mark.parametrize(
    "text",
    [
        "All times are local.",
        "Zeiten in Ortszeit",
        "Time zone: that of the valley",
        "All times CST",
        "Times UTC. Local times: UTC+2.",
    ],
)
def test_sentences_about_zones_that_are_not_understood_are_said(text: str) -> None:
    found = zone_said_in(text)
    assert (found.zone, bool(found.doubt)) == ("", True)


@pytest.mark.parametrize(
    "text",
    [
        page("<h1>Last heard</h1><p>All times <b>UTC+1</b>. The net is open to all.</p>"),
        page("<h1>Last heard</h1>", below="<p>All times UTC+1</p>"),
        page("<h1>Heard</h1>").replace("<table>", "<table><caption>All times UTC+1</caption>"),
        f"# all times UTC+1\n{lines()}",
        f"Heard in the valley;;;\nAll times UTC+1;;;\n{lines()}",
        "== Heard ==\nAll times UTC+1.\n{| class=x\n! Time !! ID !! TG !! Seconds\n"
        + "".join(f"|-\n| {at} || {' || '.join(row(k))}\n" for k, at in enumerate(TIMES))
        + "|}\n",
    ],
    ids=["page", "page below", "caption", "comment", "title", "wiki"],
)
def test_the_zone_that_a_file_says_is_that_of_its_times(tmp_path: Path, text: str) -> None:
    result = fold(tmp_path / "heard.txt", text)
    assert result.account.folded == 30
    assert span(tmp_path) == utc("Etc/GMT-1")
    assert "times are those of UTC+01:00, as the file says" in said(result)
    assert NO_ZONE not in said(result)


@pytest.mark.parametrize("text", [lines(), page("<p>All times are local.</p>"), lines("%d.%m.%Y %H:%M:%S")])
def test_a_log_without_a_zone_says_so_with_the_setting(tmp_path: Path, text: str) -> None:
    result = fold(tmp_path / "heard.txt", text)
    assert NO_ZONE in said(result)
    assert 'zone = "Europe/Vienna"' in said(result)
    assert "--zone Europe/Vienna" in said(result)
    assert ("'All times are local' names no zone" in said(result)) == ("local" in text)


@pytest.mark.parametrize(
    ("text", "zone"),
    [
        (lines(), "Europe/Vienna"),
        (lines(), "UTC"),
        (page("<p>All times are local.</p>"), "Europe/Vienna"),
        (lines("%Y-%m-%dT%H:%M:%SZ"), ""),
        (lines("%a, %d %b %Y %H:%M:%S +0100"), ""),
        (lines("%s"), ""),
        (lines().replace("time;", "time (UTC);"), ""),
    ],
)
def test_nothing_is_said_of_zones_that_are_known(tmp_path: Path, text: str, zone: str) -> None:
    assert "zone" not in said(fold(tmp_path / "heard.txt", text, zone)).replace("time zone", "")


@pytest.mark.parametrize(
    ("title", "day"),
    [
        ("Calls of 2026-03-04", dt.date(2026, 3, 4)),
        ("Thursday, 5 March 2026", dt.date(2026, 3, 5)),
        ("Gehört am 3. Jänner 2026 am Relais", dt.date(2026, 1, 3)),
        ("Net no. 7 of 4 March", dt.date(2026, 3, 4)),
        ("From 2026-03-04 to 2026-03-09", None),
        ("Version 3.4", None),
        ("Calls of 05/06/2026", None),
        ("Page 2", None),
        ("Made 2026-03-04 20:10", None),
    ],
)
def test_days_in_titles(title: str, day: dt.date | None) -> None:
    assert day_named_in(title, LAST_DAY) == (None if day is None else day_number(day))


@pytest.mark.parametrize("title", ["Calls of 2026-03-04", "Wednesday, 4 March 2026"])
@pytest.mark.parametrize("form", ["page", "wiki", "workbook", "text", "bars"])
def test_the_day_of_a_title_is_that_of_the_clocks_below(tmp_path: Path, form: str, title: str) -> None:
    cells = [[f"{at:%H:%M:%S}", *row(k)] for k, at in enumerate(TIMES)]
    path = tmp_path / "heard.xlsx"
    if form == "workbook":
        import openpyxl

        book = openpyxl.Workbook()
        for line in ([title], ["Time", "ID", "TG", "Seconds"], *cells):
            book.active.append(line)
        book.save(path)
    elif form in ("text", "bars"):
        around, between = ("", ";") if form == "text" else ("|", " | ")
        table = [around + between.join(line) + around for line in (["Time", "ID", "TG", "Seconds"], *cells)]
        path.write_text("\n".join([title, "", *table]) + "\n")
    elif form == "page":
        path.write_text(page(f"<h2>{title}</h2>", "%H:%M:%S"))
    else:
        table = "".join(f"|-\n| {' || '.join(line)}\n" for line in cells)
        path.write_text(f"== {title} ==\n{{| class=x\n! Time !! ID !! TG !! Seconds\n{table}|}}\n")
    written = dt.datetime(2026, 11, 27, tzinfo=dt.UTC).timestamp()
    os.utime(path, (written, written))
    fold_logs(tmp_path / "state", [LogFiles([path], is_finished=True)])
    assert span(tmp_path) == utc("UTC")
