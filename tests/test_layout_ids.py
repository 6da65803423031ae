"""A layout writes ids or says that it means not to; what is in doubt is repeated."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pruner.cli.boundary import guarded
from pruner.convert.learn import learn_layout
from pruner.layout.model import layout_of, load_layout
from pruner.words.errors import ExitCode, SettingsError

Capture = pytest.CaptureFixture[str]
NO_IDS = '[[column]]\ntitle = "Sign"\nvalue = "{callsign}"\n'


def values(folder: Path, sample: str) -> list[str]:
    path = folder / "sample.csv"
    path.write_text(sample, encoding="utf-8")
    return [column.value for column in layout_of(learn_layout(path).text, draft=True).columns]


def test_a_layout_without_ids_is_a_mistake_unless_it_is_meant() -> None:
    with pytest.raises(SettingsError) as raised:
        layout_of(NO_IDS, "x.toml")
    [problem] = raised.value.problems
    assert problem.startswith("x.toml:1: column: no column holds {id}")
    assert "without_ids = true in [file]" in problem
    assert layout_of(f"[file]\nwithout_ids = true\n{NO_IDS}").file.without_ids
    assert layout_of(f'{NO_IDS}[[column]]\ntitle = "n"\nvalue = "{{number}} {{id}}"\n').columns


def test_an_id_as_a_fallback_only_is_none() -> None:
    with pytest.raises(SettingsError, match="no column holds"):
        layout_of(f'{NO_IDS}fallback = "{{id}}"\n')


def test_meaning_no_ids_and_writing_them_is_a_mistake() -> None:
    with pytest.raises(SettingsError, match=r"x\.toml:5: column\[1\]\.value: holds \{id\}, but \[file\] says without_ids"):
        layout_of('[file]\nwithout_ids = true\n[[column]]\ntitle = "n"\nvalue = "{id}"\n', "x.toml")


def test_a_mistake_in_the_id_itself_is_one_line() -> None:
    with pytest.raises(SettingsError) as raised:
        layout_of('[[column]]\ntitle = "n"\nvalue = "{ids}"\n')
    assert len(raised.value.problems) == 1


@pytest.mark.parametrize("heading", ["Number", "Wert", "Radio ID", "x"])
@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_two_stations_and_a_group(tmp_path: Path, heading: str, delimiter: str) -> None:
    rows = [[heading, "Call", "Name", "Sort"], ["2320001", "OE1AAA", "Ada", "P"], ["2320002", "OE1AAB", "Bea", "P"]]
    rows.append(["91", "", "World", "G"])
    found = values(tmp_path, "".join(delimiter.join(row) + "\n" for row in rows))
    assert found[0] == "{id}"


@given(
    st.lists(st.integers(1_000_000, 7_999_999), min_size=1, max_size=5, unique=True),
    st.lists(st.integers(1, 9999), max_size=5, unique=True),
    st.sampled_from(["Wert", "Number", "Code", ""]),
    st.booleans(),
)
def test_an_id_is_never_the_same_in_every_row(
    tmp_path_factory: pytest.TempPathFactory, stations: list[int], groups: list[int], heading: str, headings: bool
) -> None:
    rows = [[f"OE{place}AAA Ada", "Private", str(number)] for place, number in enumerate(stations)]
    rows += [["World", "Group", str(number)] for number in groups]
    made = io.StringIO()
    csv.writer(made, delimiter=";", lineterminator="\n").writerows([["Contact", "Type", heading]] * headings + rows)
    found = values(tmp_path_factory.mktemp("sample"), made.getvalue())
    assert found[-1] == "{id}"


@pytest.mark.parametrize(
    ("headings", "place"),
    [
        ("Radio ID,Callsign,Name,City", 0),
        ("Wert,Callsign,Name,City", 0),
        ("No.,Radio ID,Callsign,Name", 1),
        ("Callsign,Wibble,Number of it,Name", 2),
        ("id,callsign,name", 0),
    ],
)
def test_headings_alone_never_give_an_empty_id(tmp_path: Path, headings: str, place: int) -> None:
    for rows in ("", "," * headings.count(",") + "\n"):
        assert values(tmp_path, f"{headings}\n{rows}").index("{id}") == place


def test_an_id_that_is_said_stays(tmp_path: Path) -> None:
    path = tmp_path / "sample.csv"
    path.write_text("Wert,Other,Name\n2320001,5,Ada\n2320002,6,Bea\n91,9,World\n")
    told = learn_layout(path, {1: "{id}"})
    assert [column.value for column in layout_of(told.text).columns][:2] == ["", "{id}"]
    assert "neither the heading nor the rows say what stands here" in told.doubts[0].reason


def test_what_is_doubtful_knows_its_column(tmp_path: Path) -> None:
    path = tmp_path / "x.layout.toml"
    path.write_text(
        '# A layout. Look through what is marked DOUBTFUL.\n[file]\n# DOUBTFUL: the order.\n[[column]]\ntitle = "A"\n'
        'value = "{id}"\n\n[[column]]\n# DOUBTFUL: taken by its place only.\ntitle = "B"\nvalue = "{town}"\n'
    )
    assert load_layout(path).doubts == (
        "line 3: doubtful: the order.",
        'line 9: column 2 "B", value "{town}": doubtful: taken by its place only.',
    )


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    Path("stations.csv").write_text("id,callsign,name,country\n2320001,OE1AAA,Ada,Austria\n2320002,OE1AAB,Bea,Austria\n")
    Path("pruner.toml").write_text(
        '[[source]]\nname = "world"\nlocation = "stations.csv"\n[[keep]]\nname = "all"\n'
        '[[radio]]\nname = "one"\ncontacts = 9\nlayout = "l.toml"\n[[radio]]\nname = "two"\ncontacts = 9\nlayout = "l.toml"\n'
    )
    return tmp_path


def test_check_and_fit_repeat_what_is_doubtful(folder: Path, capsys: Capture) -> None:
    sample = folder / "sample.csv"
    sample.write_text("Wert,Call,Name\n2320001,OE1AAA,Ada\n2320002,OE1AAB,Bea\n91,,World\n")
    assert guarded(["layout", "learn", str(sample), "--out", "l.toml"]) == ExitCode.DONE
    capsys.readouterr()
    told = 'column 1 "Wert", value "{id}": doubtful: 2 of 3 cells are like ids.'
    for words in (["layout", "check", "l.toml"], ["layout", "check", "l.toml", "--json"], ["check"], ["fit"]):
        assert guarded(words) == ExitCode.DONE
        err = capsys.readouterr().err
        assert err.count(told) == 1, words
    text = (folder / "l.toml").read_text()
    (folder / "l.toml").write_text("\n".join(line for line in text.splitlines() if not line.startswith("# DOUBTFUL")))
    for words in (["layout", "check", "l.toml"], ["check"], ["fit"]):
        assert guarded(words) == ExitCode.DONE
        assert "doubtful" not in capsys.readouterr().err


@pytest.mark.parametrize("words", [["layout", "check", "l.toml"], ["check"], ["fit"]])
def test_no_ids_end_with_2(folder: Path, capsys: Capture, words: list[str]) -> None:
    (folder / "l.toml").write_text(NO_IDS)
    assert guarded(words) == ExitCode.SETTINGS
    out, err = capsys.readouterr()
    assert "no mistakes" not in out
    assert {"no column holds {id}" in line for line in err.splitlines()} == {True}
    assert not (folder / "out").exists()
    (folder / "l.toml").write_text(f"[file]\nwithout_ids = true\n{NO_IDS}")
    assert guarded(words) == ExitCode.DONE
