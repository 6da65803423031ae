"""Every command says which column gave what: on the terminal, in the summary, in the report and in the log of a refresh."""

from __future__ import annotations

import html
import json
from pathlib import Path

import pytest

from pruner.cli.boundary import guarded
from pruner.words.errors import ExitCode

Capture = pytest.CaptureFixture[str]
ROWS = "".join(f"{2320001 + 7 * n};OE1AA{chr(65 + n)};Person{n};Town{n};x\n" for n in range(12))
STATIONS = f"Funk-ID;Rufzeichen;Name;Ort;<b>\x1b[2J\n{ROWS}"
LAYOUT = '[file]\n[[column]]\ntitle = "Id"\nvalue = "{id}"\n[[column]]\ntitle = "Call"\nvalue = "{callsign}"\n'


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    Path("stations.csv").write_text(STATIONS)
    Path("plain.layout.toml").write_text(LAYOUT)
    return tmp_path


def output(capsys: Capture, *words: str) -> str:
    assert guarded(list(words)) == ExitCode.DONE, capsys.readouterr().err
    return " ".join(capsys.readouterr().out.split())


def test_fit_says_it_everywhere(folder: Path, capsys: Capture) -> None:
    said = output(capsys, "fit", "stations.csv", "--contacts", "5")
    assert "stations.csv: id from 'Funk-ID', call sign from 'Rufzeichen', name from 'Name'" in said
    assert "town from 'Ort'; not used: <b>?[2J" in said
    summary = json.loads(Path("out/radio/summary.json").read_text(encoding="utf-8"))
    (one,) = summary["sources"][0]["understood"]
    assert one["columns"][0] == {"meaning": "id", "number": 1, "heading": "Funk-ID", "evidence": "heading and cells"}
    assert (one["file"], one["unused"], one["headings"], one["titles"], one["encoding"]) == (
        "stations.csv", ["<b>?[2J"], True, 0, "",
    )  # fmt: skip
    assert "Person" not in json.dumps(one)
    page = Path("out/radio/report.html").read_text(encoding="utf-8")
    table = page.partition("Which column gave what")[2].partition("</table>")[0]
    assert all(f"<bdi>{html.escape(word)}</bdi>" in table for word in ("Funk-ID", "Rufzeichen", "Ort", "<b>?[2J"))
    assert "<b>" not in table


def test_convert_and_talkgroups_say_it(folder: Path, capsys: Capture) -> None:
    said = output(capsys, "convert", "stations.csv", "--to", "plain.layout.toml", "--out", "new")
    assert "stations.csv: id from 'Funk-ID', call sign from 'Rufzeichen'" in said
    Path("groups.csv").write_text("TG;Titel\n232;Austria\n91;World\n262;Germany\n")
    said = output(capsys, "talkgroups", "groups.csv", "--limit", "2", "--out", "groups")
    assert "groups.csv: id from 'TG'" in said
    summary = json.loads(Path("groups/talkgroups/radio/summary.json").read_text(encoding="utf-8"))
    assert summary["lists"][0]["understood"][0]["columns"][0]["heading"] == "TG"


def test_a_file_described_by_its_layout_says_so(folder: Path, capsys: Capture) -> None:
    Path("old.csv").write_text("Id,Call\n2320001,OE1AAA\n2320008,OE1AAB\n")
    words = ["convert", "old.csv", "--from", "plain.layout.toml", "--to", "plain.layout.toml", "--out", "new"]
    assert "id from 'Id' (by its layout), call sign from 'Call' (by its layout)" in output(capsys, *words)


def test_lists_and_carried_entries_and_the_log_of_a_refresh(folder: Path, capsys: Capture) -> None:
    Path("club.csv").write_text("Mitglied;DMR ID\nAda;2320001\nBea;2320008\nCleo;2320015\n")
    Path("export.csv").write_text(STATIONS)
    Path("pruner.toml").write_text(
        '[[source]]\nname = "world"\nlocation = "stations.csv"\n'
        '[[keep]]\nname = "club"\nlist = "club.csv"\n[[keep]]\nname = "rest"\n'
        '[[radio]]\nname = "one"\ncontacts = 50\ncarried = "export.csv"\n'
    )
    said = output(capsys, "fit")
    assert "stations.csv and 1 more: id from 'Funk-ID'" in said
    assert "club.csv: 3 stations; id from 'DMR ID'" in said
    assert guarded(["refresh", "--log-json", "log.jsonl"]) == ExitCode.DONE, capsys.readouterr().err
    events = [json.loads(line) for line in Path("log.jsonl").read_text(encoding="utf-8").splitlines()]
    told = [event for event in events if event["event"] == "understood"]
    assert [event["source"] for event in told] == ["world", "carried entries"]
    assert "id from 'Funk-ID'" in told[0]["columns"]


def test_settings_take_headings_and_positions_together(folder: Path, capsys: Capture) -> None:
    Path("odd.csv").write_text("a,b,c\n17,2320001,Ada\n23,2320008,Bea\n31,2320015,Cleo\n")
    Path("pruner.toml").write_text(
        '[[source]]\nname = "world"\nlocation = "odd.csv"\ncolumns = { name = "c", id = 2 }\n'
        '[[drop]]\nname = "gone"\nlist = "odd.csv"\nlist_columns = { id = 2 }\n'
        '[[radio]]\nname = "one"\ncontacts = 50\ncarried = "odd.csv"\ncarried_columns = { id = "b", name = 3 }\n'
    )
    said = output(capsys, "fit")
    assert "odd.csv: id from 'b' (as set), name from 'c' (as set); not used: a" in said
    assert "odd.csv: 3 stations; id from 'b' (as set); not used: a, c" in said


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ('[[drop]]\nname = "d"\nlist_columns = { id = 1 }\n', "drop[1].list_columns: needs list in the same rule"),
        ('[[radio]]\nname = "r"\ncontacts = 1\ncarried_columns = { id = 1 }\n', "needs carried in the same radio"),
        ("[talkgroups]\nlist_columns = { id = 1 }\n", "talkgroups.list_columns: needs list in the same table"),
        ('[[drop]]\nname = "d"\nlist = "stations.csv"\nlist_columns = { nme = 1 }\n', "list_columns.nme: unknown key"),
        (
            '[[drop]]\nname = "d"\nlist = "stations.csv"\nlist_columns = { id = 1 }\n'
            '[[keep]]\nname = "k"\nlist = "stations.csv"\n',
            "keep[1].list_columns: expected the same in all rules with this list",
        ),
    ],
)
def test_columns_that_belong_to_no_file_are_a_mistake(folder: Path, capsys: Capture, text: str, line: str) -> None:
    radio = "" if "[[radio]]" in text else '[[radio]]\nname = "one"\ncontacts = 5\n'
    Path("pruner.toml").write_text(f'[[source]]\nname = "world"\nlocation = "stations.csv"\n{text}{radio}')
    assert guarded(["check"]) == ExitCode.SETTINGS
    assert line in capsys.readouterr().err


def test_several_ids_in_one_cell_are_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    rows = '"2320001, 2320009",OE1AAA,Ada\n2320002,OE1BBB,Bea\n2320003,OE1CCC,Cleo\n'
    Path("two.csv").write_text(f"Radio ID,Call,Name\n{rows}")
    assert guarded(["fit", "two.csv", "--contacts", "9", "--out", "out"]) == ExitCode.DONE
    said = " ".join(capsys.readouterr().out.split())
    assert "several ids in a row are a contact each, with the same call sign and name" in said


@pytest.mark.parametrize("coding", ["utf-8", "utf-16"])
def test_where_nobody_has_a_name_the_option_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], coding: str
) -> None:
    monkeypatch.chdir(tmp_path)
    rows = [f"23200{row:02d};OE1A{chr(65 + row)}A;Ada Kelm;Graz" for row in range(12)]
    Path("bare.csv").write_text("\n".join(rows), encoding=coding)
    assert guarded(["fit", "bare.csv", "--contacts", "20", "--out", "out"]) == ExitCode.DONE
    said = " ".join(capsys.readouterr().out.split())
    assert "nobody has a name: where a column holds them, say which, such as --column name=3" in said
    assert guarded(["fit", "bare.csv", "--contacts", "20", "--out", "out", "--column", "name=3"]) == ExitCode.DONE
    assert "nobody has a name" not in capsys.readouterr().out
    assert "Ada,Kelm" in Path("out/radio/contacts.csv").read_text()
