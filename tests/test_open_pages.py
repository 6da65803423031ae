"""Pages (HTML) with tables: what a browser would show in the cells is what is read. Invented stations and calls."""

from __future__ import annotations

import contextlib
import html
import itertools
import json
import re
import zipfile
from pathlib import Path

import lxml.html
import pytest
from draws import draws
from hypothesis import given
from hypothesis import strategies as st
from opened_tables import rows_of
from servers import RawServer, answer, in_turn, sends

import pruner
from pruner.cli.boundary import guarded
from pruner.logs.fetch import fetch_and_fold
from pruner.settings.load import load_settings
from pruner.table import open_page as pages
from pruner.table import page_scan
from pruner.table.open_file import open_file
from pruner.words.errors import ExitCode, InputRefusedError

Capture = pytest.CaptureFixture[str]


def tables_of(page: str | bytes) -> dict[str, list[list[str]]]:
    text = page.encode() if isinstance(page, str) else page
    return {table.label: rows_of(table) for table in pages.open_page(text, "", "page")}


def test_cells_are_what_a_browser_shows() -> None:
    """End tags of rows and cells may be left out (WHATWG HTML, 13.1.2.4), character references stand for characters (13.5), a
    comment, a script and a style are no text, and words on both sides of a block or a line break are apart."""
    page = """<!DOCTYPE html><html><head><title>Club</title><style>td > b { color: red }</style></head><body>
    <script>if (1 < 2) document.write("<table><tr><td>no");</script><!-- <table><tr><td>no</table> -->
    <TABLE class='a "b" > c'><thead><tr><th>Call<th scope=col>DMR&nbsp;ID<th>Name</thead>
    <tr><td><a href="/who?c=1&amp;d=2"><b>OE1</b>ABC</a><td> 2321234 <td>M&uuml;ller<br>Anna &lt;1&gt;
    <tr><td>OE1ABD</td><td>2321235</td><td><p>Bert</p><p>Berg</p> <select><option>no</select><img alt="Wien" src=x></td></tr>
    </table></body></html>"""
    assert tables_of(page) == {
        "": [["Call", "DMR ID", "Name"], ["OE1ABC", "2321234", "Müller Anna <1>"], ["OE1ABD", "2321235", "Bert Berg Wien"]]
    }


def test_cells_that_reach_over_rows_and_columns() -> None:
    """WHATWG HTML, 4.9.12 (forming a table): a cell that reaches down stands in each of its rows."""
    page = """<table><tr><th>Country<th colspan=2>Who<th>ID
    <tr><td rowspan="2">Austria<td>Anna<td>Berg<td>1
    <tr><td>Bert<td>Dorn<td>2
    <tr><td>Norway<td colspan="9999999">nobody</table>"""
    rows = tables_of(page)[""]
    assert rows[:3] == [["Country", "Who", "", "ID"], ["Austria", "Anna", "Berg", "1"], ["Austria", "Bert", "Dorn", "2"]]
    assert rows[3][:2] == ["Norway", "nobody"]
    assert len(rows[3]) <= 1001


def test_tables_are_named_by_number_and_by_what_stands_above_them() -> None:
    page = """<h2>Menu</h2><table><tr><td>Home</table><h2>Members &amp; guests</h2><p>All of them.</p>
    <table><tr><td>a<table><caption>Inner</caption><tr><td>x</table></td><td>b</table><table><tr><td>c</table>
    <table><tr><td></table><h2>Menu</h2><table><tr><td>Imprint</table>"""
    assert tables_of(page) == {
        "table 1 (Menu)": [["Home"]],
        "table 2 (Inner)": [["x"]],
        "table 3 (Members & guests)": [["a", "b"]],
        "table 4": [["c"]],
        "table 5 (Menu)": [["Imprint"]],
    }


def test_text_as_typed_is_read_where_there_is_no_table() -> None:
    (text,) = pages.open_page(b"<html><body><p>Last calls<pre>\nid;call\n2321001;<b>OE1QZZ</b>\n</pre></body>", "", "page")
    assert b"".join(text.blocks()) == b"id;call\n2321001;OE1QZZ\n"


@pytest.mark.parametrize(
    ("encoding", "said"),
    [
        ("utf-8", "utf-8"),
        ("cp1252", "iso-8859-1"),
        ("cp1252", "windows-1252"),
        ("cp1251", "windows-1251"),
        ("cp1250", "windows-1250"),
        ("utf-16", "utf-16"),
        ("shift_jis", "shift_jis"),
    ],
)
def test_a_page_says_its_encoding(tmp_path: Path, encoding: str, said: str) -> None:
    """WHATWG HTML, 13.2.3.2 (a `meta` among the first bytes); what it calls ISO 8859-1 is windows-1252 (Encoding, 4.2)."""
    name = {"cp1251": "Зоя", "cp1250": "Žofie", "shift_jis": "花子"}.get(encoding, "Zoë")
    page = f'<html><head><meta charset="{said}"></head><table><tr><td>id<td>name<tr><td>1<td>{name}</table>'
    (tmp_path / "page.html").write_bytes(page.encode(encoding))
    (table,) = open_file(tmp_path / "page.html")
    assert b"".join(table.blocks()).decode().splitlines()[1] == f"1,{name}"  # type: ignore[union-attr]


TAGS = [
    "<table>",
    "</table>",
    "<tr>",
    "<td>",
    "</td>",
    "<th colspan=3 rowspan=2>",
    "<b>",
    "<p>",
    "<script>",
    "</script>",
    "<!--",
    "-->",
]
PIECES = st.lists(
    st.sampled_from([*TAGS, "a", " ", "&amp;", "&", "<", ">", "'", '"', "<pre>", "<h2>", "</h2>", "\x00", "\udce4"])
)


@draws(200)
@given(PIECES)
def test_any_page_is_read_or_refused(pieces: list[str]) -> None:
    text = "".join(pieces).encode(errors="surrogateescape")
    with contextlib.suppress(InputRefusedError):
        for table in pages.open_page(text, "", "page"):
            assert b"".join(table.blocks()).strip()  # type: ignore[union-attr]


CELLS = st.text(st.characters(codec="utf-8", exclude_categories=("Cc", "Cs", "Zl", "Zp", "Zs", "Cf")), min_size=1, max_size=6)


@draws(60)
@given(st.lists(st.tuples(CELLS, CELLS, CELLS), min_size=1, max_size=6), st.booleans())
def test_what_is_written_as_a_page_is_read_again(rows: list[tuple[str, str, str]], ends: bool) -> None:
    """Against the escaping of the standard library (`html.escape`) and what lxml, the parser of libxml2, reads."""
    row, cell = ("</tr>", "</td>") if ends else ("", "")
    page = "".join("<tr>" + "".join(f"<td>{html.escape(text)}{cell}" for text in texts) + row for texts in rows)
    found = tables_of(f"<html><table>{page}</table>")[""]
    assert found == [[" ".join(text.split()) for text in texts] for texts in rows]
    theirs = lxml.html.fromstring(f"<html><table>{page}</table>").iter("tr")
    assert found == [[" ".join(cell.text_content().split()) for cell in row.iter("td")] for row in theirs]


@pytest.mark.parametrize(
    "piece", ["<!--", "<", "<a ", '<td "', "<script>", "<td colspan=1000 rowspan=1000>x", "<h1>", "</", "&", "<table><tr><td>"]
)
def test_no_page_is_read_twice(monkeypatch: pytest.MonkeyPatch, piece: str) -> None:
    """Each part of a page is looked at once: a page of twice the length has at most so many more steps."""
    steps = []
    for times in (2000, 4000):
        count = itertools.count()
        monkeypatch.setattr(page_scan, "_TAG", Counted(page_scan._TAG, count))
        with contextlib.suppress(InputRefusedError):
            pages.open_page(f"<table><tr><td>{piece * times}".encode(), "", "page")
        monkeypatch.undo()
        steps.append(next(count))
    assert steps[1] <= 2 * steps[0] + 10


class Counted:
    """A pattern whose characters looked at are counted."""

    def __init__(self, pattern: re.Pattern[str], count: itertools.count[int]) -> None:
        self.pattern, self.count = pattern, count

    def match(self, text: str, place: int) -> re.Match[str] | None:
        found = self.pattern.match(text, place)
        for _ in range(1 if found else len(text) - place):
            next(self.count)
        return found


def test_too_many_tables_and_cells_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(InputRefusedError, match="more than 1000 tables"):
        pages.open_page(b"<table><tr><td>x</table>" * 1001, "", "page")
    monkeypatch.setattr(page_scan, "MOST_CELLS", 5000)
    with pytest.raises(InputRefusedError, match="more than 5,000 cells"):
        pages.open_page(b"<table>" + b"<tr><td colspan=1000>x" * 9, "", "page")


CLUB = """<!doctype html><html><head><title>Club</title></head><body><table><tr><td><a href=/>Home</a><td>News</table>
<h2>Members</h2><table><tr><th>Call sign<th>ID<th>Name<th>Country
<tr><td><a href="/OE1QZZ">OE1QZZ</a><td>2321001<td>Anna<td>Austria<tr><td>OE1QZY<td>2321002<td>Bert<td>Austria
<tr><td>OE1QZX<td>2321003<td>&lt;b&gt;Carl<td>Austria</table></body></html>"""


def test_a_directory_in_a_page(tmp_path: Path) -> None:
    (tmp_path / "club.html").write_text(CLUB)
    found = pruner.stations(tmp_path / "club.html")
    assert found.contacts["callsign"].to_list() == ["OE1QZZ", "OE1QZY", "OE1QZX"]


def test_a_menu_below_the_title_is_not_mistaken_for_the_table_that_was_read(tmp_path: Path, capsys: Capture) -> None:
    """The title stands above the menu, so it names the menu; numbers say which table is which."""
    (tmp_path / "club.html").write_text(CLUB.replace("<body>", "<body><h1>Members</h1>").replace("<h2>Members</h2>", ""))
    assert guarded(["fit", str(tmp_path / "club.html"), "--contacts", "3", "--out", str(tmp_path / "out")]) == ExitCode.DONE
    captured = capsys.readouterr()
    said = " ".join((captured.out + captured.err).split())
    assert "not read, because no table of this kind is found there: table 1 (Members) " in said


def test_a_page_without_a_table_is_refused(tmp_path: Path, capsys: Capture) -> None:
    (tmp_path / "club.html").write_text("<!doctype html><title>Club</title><p>Please sign in")
    assert (
        guarded(["fit", str(tmp_path / "club.html"), "--contacts", "3", "--out", str(tmp_path / "out")])
        == ExitCode.INPUT_REFUSED
    )
    assert "club.html: this is a page (HTML) without a table; get the table itself" in capsys.readouterr().err


def last_calls(first: int, count: int) -> str:
    rows = "".join(
        f"<tr><td>2026-03-01 12:{at:02}:00<td><a href=x>OE1QZ{chr(65 + at)}</a><td>{2321001 + at}<td>TG 232<td>3.5 s"
        for at in reversed(range(first, first + count))
    )
    return f"<html><h1>Last calls</h1><table><tr><th>Time (UTC)<th>Call sign<th>ID<th>TG<th>Duration{rows}</table></html>"


def shown_calls(state: Path, capsys: Capture) -> int:
    capsys.readouterr()
    assert guarded(["heard", "show", "--all", "--json", "--state", str(state)]) == ExitCode.DONE
    return sum(row["calls"] for row in json.loads(capsys.readouterr().out))


def test_a_heard_log_in_a_page(tmp_path: Path, capsys: Capture) -> None:
    log, state = tmp_path / "last.html", tmp_path / "state"
    log.write_text(last_calls(0, 8))
    assert guarded(["heard", "fold", str(log), "--state", str(state)]) == ExitCode.DONE
    assert guarded(["heard", "fold", str(log), "--state", str(state)]) == ExitCode.DONE
    assert "nothing new" in capsys.readouterr().out
    log.write_text(last_calls(4, 8))
    assert guarded(["heard", "fold", str(log), "--state", str(state)]) == ExitCode.DONE
    assert shown_calls(state, capsys) == 12
    assert guarded(["heard", "learn", str(log)]) == ExitCode.NOTHING_TO_DO
    assert "tables need no pattern" in capsys.readouterr().err


def test_a_page_of_last_calls_at_an_address(tmp_path: Path) -> None:
    """What wants people to sign in is a page too: it is refused, and nothing of it waits."""
    page = "Content-Type: text/html; charset=utf-8"
    answers = [answer(text.encode(), page) for text in (last_calls(0, 8), "<!doctype html><p>Sign in", last_calls(4, 8))]
    with RawServer(in_turn(*map(sends, answers))) as server:
        (tmp_path / "stations.csv").write_text("id,call sign\n2321001,OE1QZA\n")
        (tmp_path / "pruner.toml").write_text(
            '[[source]]\nname = "world"\nlocation = "stations.csv"\n[[radio]]\nname = "r"\ncontacts = 5\n'
            f'[[heard]]\nlocation = "{server.url("/last")}"\n'
        )
        settings = load_settings(tmp_path / "pruner.toml")
        results = [fetch_and_fold(settings, force=True) for _ in answers]
    assert [result.folded.total.new for result in results] == [8, 0, 4]
    assert [result.asked[0].what for result in results] == ["new", "failed", "new"]
    assert "sent a page (text/html)" in results[1].asked[0].trouble


def test_a_heard_log_of_several_sheets(tmp_path: Path, capsys: Capture) -> None:
    """A sheet for each month, and one of notes: the months are read, the notes are named."""
    import openpyxl

    book = openpyxl.Workbook()
    for month, name in ((3, "March"), (4, "April"), (5, "notes")):
        sheet = book.create_sheet(name)
        if name == "notes":
            sheet.append(["no calls in May"])
            continue
        sheet.append(["Time", "Call sign", "ID", "TG", "Seconds"])
        for day in range(1, 6):
            sheet.append([f"2026-{month:02}-{day:02} 12:00:00", f"OE1QZ{chr(64 + day)}", 2321000 + day, 232, 3])
    book.remove(book["Sheet"])
    book.save(tmp_path / "log.xlsx")
    words = ["heard", "fold", str(tmp_path / "log.xlsx"), "--state", str(tmp_path / "state")]
    assert guarded(words) == ExitCode.DONE
    said = " ".join(capsys.readouterr().err.split())
    assert "read with it, of the same columns: April; not read, because no table of this kind is found there: notes" in said
    assert shown_calls(tmp_path / "state", capsys) == 10
    assert guarded(words) == ExitCode.DONE
    assert shown_calls(tmp_path / "state", capsys) == 10
    assert guarded(["heard", "learn", str(tmp_path / "log.xlsx")]) == ExitCode.NOTHING_TO_DO


def test_an_archive_of_pages_is_read(tmp_path: Path) -> None:
    """Beside a table with the name of one a page explains; alone it is the table."""
    path = tmp_path / "pages.zip"
    with zipfile.ZipFile(path, "w") as archive:
        for number in range(2):
            archive.writestr(f"{number}.html", f"<table><tr><td>id<td>call<tr><td>232100{number}<td>OE1KAA</table>")
    assert [table.label for table in open_file(path)] == ["0.html", "1.html"]
    with zipfile.ZipFile(path, "a") as archive:
        archive.writestr("list.csv", "id,call\n2321001,OE1KAA\n")
    assert [table.label for table in open_file(path)] == ["list.csv", "0.html (not looked at)", "1.html (not looked at)"]
    assert "0.html (not looked at), 1.html (not looked at)" in pruner.stations(path).understood[0]


@pytest.mark.parametrize("opening", ["<!-- adverts", "<!-- <b>"])
def test_rows_that_a_comment_without_end_hides_are_said(tmp_path: Path, opening: str) -> None:
    rows = "".join(f"<tr><td>{2321001 + 57 * place}<td>OE{place + 1}KAA<td>Ann</tr>" for place in range(4))
    page = f"<html><body><table><tr><th>DMR ID<th>Call<th>Name</tr>{rows}"
    (tmp_path / "page.html").write_text(f"{page}{opening} {rows.replace('232', '262')}</table>")
    said = pruner.stations(tmp_path / "page.html")
    assert (said.read, "never ends" in said.understood[0]) == (4, True)
    (tmp_path / "page.html").write_text(f"{page}{opening} adverts")
    assert "never ends" not in pruner.stations(tmp_path / "page.html").understood[0]
    (tmp_path / "page.html").write_text(f"<html><body>{opening} {rows}</table>")
    with pytest.raises(InputRefusedError, match="never ends"):
        pruner.stations(tmp_path / "page.html")


def test_a_heading_between_angles_is_one(tmp_path: Path) -> None:
    """The first cell of a table that was taken out of a page or a workbook is no tag."""
    path = tmp_path / "page.html"
    rows = "".join(f"<tr><td>OE1KA{chr(65 + number)}<td>{2321001 + number}" for number in range(5))
    path.write_text(f"<table><tr><th>&lt;call&gt;<th>&lt;id&gt;{rows}</table>")
    assert guarded(["fit", str(path), "--contacts", "9", "--out", str(tmp_path / "out")]) == ExitCode.DONE
