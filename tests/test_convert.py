"""A contact list carried from one radio to another: nothing is lost without an account."""

from __future__ import annotations

import hashlib
import json
import re
from pathlib import Path

import polars as pl
import pytest

from pruner.cli.boundary import guarded
from pruner.convert.convert import convert
from pruner.layout.model import load_layout
from pruner.layout.read import read_contacts
from pruner.words.errors import ExitCode, InputRefusedError, SettingsError

FIXTURES = Path(__file__).parent.parent / "fixtures" / "layouts"
HANDHELD, BASE, CAR = (FIXTURES / f"{name}.layout.toml" for name in ("loan-handheld", "base-station", "car-radio"))
OLD = """\
Kennung;Rufzeichen;Vorname;Nachname;Ort;Land
2320001;OE1AAA;Ada;Groß;Graz;Austria
2320002;OE1BBB;Zoë;Dvořák;Bad Ischl;Österreich
2320002;OE1BBB;Zoë;Dvořák;Bad Ischl am See;Österreich
2620003;;=Jürgen;Müßig;;Germany
16777000;OE1DDD;Dan;;;
x;OE1EEE;Eve;;;
2320009;OE1FFF\x1b[2J;Fay;;;Austria
"""
Capture = pytest.CaptureFixture[str]


@pytest.fixture
def old(tmp_path: Path) -> Path:
    path = tmp_path / "old radio.csv"
    path.write_text(OLD, encoding="utf-8")
    return path


def lines(path: Path) -> list[str]:
    return path.read_text(encoding="ascii").splitlines()


def test_every_row_is_accounted_for(old: Path, tmp_path: Path) -> None:
    result = convert(old, BASE, tmp_path / "new")
    summary = result.summary
    assert (summary.read, summary.kept, summary.rejected) == (7, 4, 1)
    assert summary.dropped == {"duplicate id": 1, "reserved id": 1}
    assert summary.limit.contacts == 4
    assert lines(tmp_path / "new" / "contacts.dat") == [
        "02320001 OE1AAA  Ada Gross           AT",
        "02320002 OE1BBB  Zoe Dvorak          AT",
        "02320009 OE1FFF  Fay                 AT",
        "02620003         Juergen Muessig     DE",
    ]
    ledger = pl.read_parquet(tmp_path / "new" / "ledger.parquet")
    assert ledger.height == 7
    assert ledger["outcome"].value_counts(sort=True)["count"].to_list() == [4, 2, 1]
    assert [path.name for path in result.files] == [
        "contacts.dat", "ledger.parquet", "rejected.csv", "report.html", "summary.json",
    ]  # fmt: skip
    assert all(path.is_file() for path in result.files)


def test_again_gives_the_same_bytes(old: Path, tmp_path: Path) -> None:
    first = {path.name: path.read_bytes() for path in convert(old, CAR, tmp_path / "new").files}
    second = {path.name: path.read_bytes() for path in convert(old, CAR, tmp_path / "new").files}
    third = {path.name: path.read_bytes() for path in convert(old, CAR, tmp_path / "other").files}
    assert first == second == third


def test_into_a_file_with_the_account_beside_it(old: Path, tmp_path: Path) -> None:
    out = tmp_path / "made" / "radio.dat"
    result = convert(old, BASE, out)
    names = ["radio.dat", *(f"radio.{end}" for end in ("ledger.parquet", "rejected.csv", "report.html", "summary.json"))]
    assert [path.name for path in result.files] == names
    assert sorted(path.name for path in out.parent.iterdir()) == sorted(names)
    assert len(lines(out)) == 4
    summary = json.loads((out.parent / "radio.summary.json").read_bytes())
    found = {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in result.files[:-1]}
    assert {file["name"]: file["sha256"] for file in summary["files"]} == found
    convert(old, BASE, out)
    assert sorted(path.name for path in out.parent.iterdir()) == sorted(names)


def test_split_files_beside_the_name(old: Path, tmp_path: Path) -> None:
    layout = tmp_path / "split.toml"
    layout.write_text('[file]\nrows_per_file = 3\n[[column]]\ntitle = "a"\nvalue = "{id}"\n')
    result = convert(old, layout, tmp_path / "x.txt")
    assert [path.name for path in result.files][:2] == ["x-01.txt", "x-02.txt"]
    assert (tmp_path / "x-02.txt").read_bytes() == b"a\r\n2620003\r\n"
    convert(old, layout, tmp_path / "x.txt")


@pytest.mark.parametrize("out", ["mine.dat", "mine"])
def test_what_is_not_ours_is_left_alone(old: Path, tmp_path: Path, out: str) -> None:
    path = tmp_path / out
    if path.suffix:
        path.write_text("mine")
    else:
        path.mkdir()
        (path / "letters.txt").write_text("mine")
    before = sorted(tmp_path.rglob("*"))
    with pytest.raises(SettingsError, match=r"choose another"):
        convert(old, BASE, path)
    assert sorted(tmp_path.rglob("*")) == before


def test_a_bad_source_leaves_nothing(tmp_path: Path) -> None:
    bad = tmp_path / "bad.csv"
    bad.write_text("colour,size\nred,1\n")
    for out in ("new", "new.dat"):
        with pytest.raises(InputRefusedError, match=r"bad\.csv"):
            convert(bad, BASE, tmp_path / out)
    assert [path.name for path in tmp_path.iterdir()] == ["bad.csv"]


@pytest.mark.parametrize("between", [HANDHELD, BASE, CAR], ids=lambda path: path.name)
def test_there_and_back_by_layouts(old: Path, tmp_path: Path, between: Path) -> None:
    """Through a layout and back: all ids stay, and what the layout holds of them."""
    first = convert(old, between, tmp_path / "first")
    second = convert(first.files[0], HANDHELD, tmp_path / "second", described_by=between)
    assert second.summary.read == first.summary.kept == second.summary.kept == 4
    ids = {
        name: set(read_contacts(result.files[0], load_layout(layout), name)["id"])
        for name, result, layout in (("first", first, between), ("second", second, HANDHELD))
    }
    assert ids["first"] == ids["second"] == {"2320001", "2320002", "2320009", "2620003"}
    third = convert(first.files[0], between, tmp_path / "third", described_by=between)
    if between == BASE:  # in the others a cell may hold a town or a country, and nothing tells which
        assert third.files[0].read_bytes() == first.files[0].read_bytes()
    assert first.files[0].name in third.summary.sources[0].files[0].name


def test_a_file_that_is_not_what_its_layout_says(old: Path, tmp_path: Path) -> None:
    for layout in (HANDHELD, BASE, CAR):
        with pytest.raises(InputRefusedError, match=r"old radio\.csv"):
            convert(old, BASE, tmp_path / "new", described_by=layout)
    nothing = tmp_path / "nothing.toml"
    nothing.write_text('[file]\nwithout_ids = true\n[[column]]\ntitle = "a"\nvalue = "{callsign}"\n')
    with pytest.raises(SettingsError, match=r"nothing\.toml: no column holds \{id\}"):
        convert(old, BASE, tmp_path / "new", described_by=nothing)
    assert not (tmp_path / "new").exists()


def test_lines_of_another_length_or_ending_are_refused(old: Path, tmp_path: Path) -> None:
    data = convert(old, BASE, tmp_path / "first").files[0].read_bytes()
    file = tmp_path / "file.dat"
    file.write_bytes(data.removesuffix(b"\n"))
    assert convert(file, BASE, tmp_path / "second", described_by=BASE).summary.kept == 4
    for other in (data.replace(b"\n", b"\r"), data.replace(b"AT\n", b"AT and more\n", 1)):
        file.write_bytes(other)
        with pytest.raises(InputRefusedError, match=r"line 1 is longer than the columns of .*base-station"):
            convert(file, BASE, tmp_path / "third", described_by=BASE)
    renamed = tmp_path / "renamed.csv"
    renamed.write_bytes(convert(old, HANDHELD, tmp_path / "fourth").files[0].read_bytes().replace(b"Beep", b"Peep"))
    with pytest.raises(InputRefusedError, match="headings are not those of"):
        convert(renamed, BASE, tmp_path / "fifth", described_by=HANDHELD)


def test_the_command(old: Path, tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    code = guarded(["convert", "old radio.csv", "--to", str(BASE), "--out", "new"])
    told = capsys.readouterr()
    assert (code, told.err) == (ExitCode.DONE, "")
    assert "read 7 = written 4 + dropped 2 + rejected 1" in told.out
    assert "new/contacts.dat" in told.out
    assert max(map(len, told.out.splitlines())) <= 80
    assert not re.search("[\x00-\x09\x0b-\x1f]", told.out)
    assert guarded(["convert", "old radio.csv", "--to", str(BASE), "--out", "new", "--json"]) == ExitCode.DONE
    assert json.loads(capsys.readouterr().out)["kept"] == 4


@pytest.mark.parametrize(
    ("arguments", "code", "message"),
    [
        (["old radio.csv", "--to", "none.toml", "--out", "new"], ExitCode.SETTINGS, "no layout here"),
        (["none.csv", "--to", str(BASE), "--out", "new"], ExitCode.SOURCE_MISSING, "none.csv"),
        (["old radio.csv", "--to", str(BASE), "--out", "new", "--system", "morse"], ExitCode.SETTINGS, "expected one of"),
        (["none.dat", "--from", str(BASE), "--to", str(BASE), "--out", "new"], ExitCode.SOURCE_MISSING, "none.dat"),
    ],
)
def test_mistakes_are_one_line(
    old: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture, arguments: list[str], code: ExitCode, message: str
) -> None:
    monkeypatch.chdir(old.parent)
    assert guarded(["convert", *arguments]) == code
    told = capsys.readouterr()
    assert told.out == ""
    assert message in told.err
    assert len(told.err.splitlines()) == 1
    assert sorted(path.name for path in old.parent.iterdir()) == ["old radio.csv"]


@pytest.mark.parametrize("name", ["radio-02.csv", "radio.ledger.parquet", "radio.summary.json"])
def test_no_foreign_file_beside_the_result_is_replaced(old: Path, tmp_path: Path, name: str) -> None:
    folder = tmp_path / "mine"
    folder.mkdir()
    (folder / name).write_text("precious")
    with pytest.raises(SettingsError, match=f"{name}: exists already, and no conversion wrote it"):
        convert(old, two_rows_a_file(tmp_path), folder / "radio.csv")
    assert {path.name: path.read_text() for path in folder.iterdir()} == {name: "precious"}


def test_a_result_that_somebody_changed_by_hand_is_not_replaced(old: Path, tmp_path: Path) -> None:
    out = tmp_path / "radio.csv"
    convert(old, two_rows_a_file(tmp_path), out)
    first = convert(old, two_rows_a_file(tmp_path), out).files[0]
    with first.open("a") as file:
        file.write("by hand\n")
    changed = first.read_bytes()
    with pytest.raises(SettingsError, match="no conversion wrote it as it is now"):
        convert(old, two_rows_a_file(tmp_path), out)
    assert first.read_bytes() == changed


def test_files_that_a_shorter_list_no_longer_needs_are_removed(old: Path, tmp_path: Path) -> None:
    folder, layout = tmp_path / "made", two_rows_a_file(tmp_path)
    first = convert(old, layout, folder / "radio.csv")
    assert folder / "radio-02.csv" in first.files
    (folder / "other.csv").write_text("mine")
    old.write_text("id,callsign\n2321001,OE1AAA\n")
    second = convert(old, layout, folder / "radio.csv")
    assert sorted(path.name for path in folder.iterdir()) == sorted(["other.csv", *(path.name for path in second.files)])
    assert folder / "radio-02.csv" not in second.files


def test_odd_places_are_one_line(old: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    for out in ("", "/", "x" * 300, "x" * 250 + ".csv", "a\udcff", "a\udcff.csv"):
        with pytest.raises(SettingsError) as caught:
            convert(old, BASE, Path(out))
        assert len(str(caught.value).splitlines()) == 1
    with pytest.raises(SettingsError, match="this name is not UTF-8"):
        convert(Path("b\udcff.csv"), BASE, Path("out"))
    assert not [path.name for path in tmp_path.iterdir() if path.name.startswith((".", "x", "a"))]


def two_rows_a_file(folder: Path) -> Path:
    path = folder / "two.layout.toml"
    path.write_text('[file]\nrows_per_file = 2\nheadings = false\n[[column]]\nvalue = "{id}"\n')
    return path


@pytest.mark.parametrize("headings", ["true", "false"])
def test_lines_and_names_are_those_of_the_old_file(tmp_path: Path, headings: str) -> None:
    layout = tmp_path / "old.layout.toml"
    layout.write_text(
        f"[file]\nheadings = {headings}\n"
        '[[column]]\ntitle = "a"\nvalue = "{id}"\n[[column]]\ntitle = "b"\nvalue = "{callsign}"\n'
    )
    above = "a,b\r\n" if headings == "true" else ""
    path = tmp_path / "radio.txt"
    path.write_text(f"{above}2320001,OE1AAA\r\nnine,OE1BBB\r\n2320003,OE1CCC\r\n")
    result = convert(path, BASE, tmp_path / "new", described_by=layout)
    assert result.summary.kept == 2
    assert result.files[2].read_text().splitlines()[1].startswith(f"radio,{2 + (headings == 'true')},invalid id,")
    path.write_text(f"{above}nine,OE1BBB\r\nten,OE1CCC\r\n")
    with pytest.raises(InputRefusedError) as caught:
        convert(path, BASE, tmp_path / "new", described_by=layout)
    assert str(caught.value).startswith(f"{path}: 2 of 2 rows cannot be read")


def test_what_a_killed_conversion_left_behind_goes_with_the_next(old: Path, tmp_path: Path) -> None:
    folder = tmp_path / "made"
    (folder / ".making-radio.csv").mkdir(parents=True)
    (folder / ".making-radio.csv" / "contacts.csv").write_text("half")
    result = convert(old, BASE, folder / "radio.csv")
    assert sorted(path.name for path in folder.iterdir()) == sorted(path.name for path in result.files)
    assert "half" not in (folder / "radio.csv").read_text()
