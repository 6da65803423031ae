"""`why` by name, town and part of a call sign; near matches; what is known of an id that no row bears."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Sequence
from pathlib import Path

import pytest
from commands import ran
from hypothesis import given
from hypothesis import strategies as st
from test_commands import run

from pruner.ask.find import find
from pruner.ask.known import number_of
from pruner.cli.boundary import guarded
from pruner.job.load import Loaded, load
from pruner.read.station_list import read_list
from pruner.reference.names import is_one_off
from pruner.settings.load import load_settings
from pruner.words.errors import ExitCode

Capture = pytest.CaptureFixture[str]
HOSTILE = "Eve\x1b[2J\u202egnp"
STATIONS = f"""\
id,callsign,first name,last name,town,country
2320001,OE6AAA,Anna,Kelmar,Graz,Austria
2320002,OE6AAB,Anna,Müller,Graz,Austria
2320003,OE1AAC,Anna,Muller,Wien,Austria
2320004,OE7AAD,Bert,Graz,Innsbruck,Austria
2320005,OE7AAD,Bert,Graz,Innsbruck,Austria
2320005,OE7AAD,Berta,Old,Linz,Austria
2320006,OE7AAE,{HOSTILE},Kelso,{HOSTILE},Austria
2620001,DL1XYZ,Carla,Annaberg,Passau,Germany
2620002,DL2XYZ,"Maria José","De la Cruz",Bad Tölz,Germany
x99,OE9BAD,Zacharias,Unreadable,Wels,Austria
16777000,OE9RES,Reserved,One,Wels,Austria
"""
SETTINGS = """\
[[source]]
name = "world"
location = "stations.csv"
rejected_share_at_most = 0.5
[[keep]]
name = "club"
ids = [2329998]
[[keep]]
name = "Austria"
countries = ["AT"]
[[radio]]
name = "one"
contacts = 3
[[radio]]
name = "two"
contacts = 9
"""


@pytest.fixture(scope="module")
def fitted(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("fitted")
    (folder / "stations.csv").write_text(STATIONS, encoding="utf-8")
    (folder / "pruner.toml").write_text(SETTINGS)
    assert ran(folder, "fit").returncode == ExitCode.DONE
    return folder


@pytest.fixture(scope="module")
def loaded(fitted: Path) -> Loaded:
    return load(load_settings(fitted / "pruner.toml"))


@pytest.fixture
def folder(fitted: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return Path(shutil.copytree(fitted, tmp_path, dirs_exist_ok=True))


FOUND: list[tuple[str, list[int]]] = [
    ("anna", [2320001, 2320002, 2320003, 2620001]),
    ("Anna, Graz", [2320001, 2320002]),
    ("graz anna", [2320001, 2320002]),
    ("Graz", [2320001, 2320002, 2320004]),
    ("MULLER", [2320002, 2320003]),
    ("Müller", [2320002, 2320003]),
    ("xyz", [2620001, 2620002]),
    ("OE7", [2320004, 2320005, 2320006]),
    ("Bad Tolz", [2620002]),
    ("cruz, Germany", [2620002]),
    ("Innsbruck", [2320004]),
    ("Kel", [2320001, 2320006]),
]


@pytest.mark.parametrize(("words", "ids"), FOUND)
def test_all_words_are_found_in_name_town_country_and_call_sign(loaded: Loaded, words: str, ids: list[int]) -> None:
    found = find(loaded, words, 20)
    assert (sorted(one.number for one in found.persons), found.total, found.is_near) == (ids, len(ids), False)


def test_whole_words_stand_before_beginnings(loaded: Loaded) -> None:
    assert [one.number for one in find(loaded, "anna", 20).persons] == [2320001, 2320002, 2320003, 2620001]
    assert find(loaded, "anna", 2).total == 4
    assert [one.number for one in find(loaded, "anna", 2).persons] == [2320001, 2320002]
    assert not find(loaded, " , ", 2).persons


@pytest.mark.parametrize(
    ("words", "ids"),
    [
        ("Kelmer", [2320001]),
        ("Ana Garz", []),
        ("Kelmar, Wien", [2320001, 2320003]),
        ("OE6ABA", [2320001, 2320002]),
        ("Nobody", []),
    ],
)
def test_near_matches(loaded: Loaded, words: str, ids: list[int]) -> None:
    found = find(loaded, words, 20)
    assert found.is_near
    assert set(ids) <= {one.number for one in found.persons}
    assert bool(found.persons) == bool(ids) or words == "Ana Garz"


@given(st.text("abcd", max_size=6), st.text("abcd", max_size=6))
def test_one_off_is_an_edit_distance_of_one(one: str, other: str) -> None:
    """Optimal string alignment (Damerau 1964), by its recurrence."""
    table = [[max(i, j) if not i * j else 0 for j in range(len(other) + 1)] for i in range(len(one) + 1)]
    for i in range(1, len(one) + 1):
        for j in range(1, len(other) + 1):
            change = table[i - 1][j - 1] + (one[i - 1] != other[j - 1])
            table[i][j] = min(table[i - 1][j] + 1, table[i][j - 1] + 1, change)
            if i > 1 and j > 1 and one[i - 1] == other[j - 2] and one[i - 2] == other[j - 1]:
                table[i][j] = min(table[i][j], table[i - 2][j - 2] + 1)
    assert is_one_off(one, other) == (table[-1][-1] <= 1)


def told(capsys: Capture, *words: str) -> tuple[int, str]:
    code, out, err = run(capsys, "why", *words)
    assert err == ""
    assert "--json" in words or all(len(line) <= 80 for line in out.splitlines())
    return code, out


def test_one_match_tells_its_story(folder: Path, capsys: Capture) -> None:
    code, out = told(capsys, "Kelmar")
    assert code == ExitCode.DONE
    assert "person   Anna Kelmar, Graz" in out
    assert out.count("station  OE6AAA, dmr id 2320001") == 2
    stories = json.loads(told(capsys, "Kelmar", "--json")[1])
    told_of = [(one["radio"], one["outcome"], one["name"]) for one in stories]
    assert told_of == [("one", "kept", "Anna Kelmar"), ("two", "kept", "Anna Kelmar")]


def test_several_are_listed_with_what_became_of_them(folder: Path, capsys: Capture) -> None:
    code, out = told(capsys, "Graz")
    assert code == ExitCode.DONE
    lines = [line.split() for line in out.splitlines()]
    assert "3 contacts bear it:" in out
    assert lines[3][0] == "2320001"
    assert lines[3][-1] == "kept"
    assert lines[5][0] == "2320004"
    assert " ".join(lines[5][-4:]) == "in 1 of 2"
    entries = json.loads(told(capsys, "Graz", "--json")[1])
    assert entries[2]["outcomes"] == {"one": "over limit", "two": "kept"}
    assert told(capsys, "Passau")[1].count("dropped: no rule") == 2


def test_what_is_listed_is_escaped(folder: Path, capsys: Capture) -> None:
    code, out = told(capsys, "Kel")
    assert code == ExitCode.DONE
    assert "Kelso" in out
    assert told(capsys, "Eve", "--json")[0] == ExitCode.DONE


KNOWN: list[tuple[Sequence[str], list[str]]] = [
    (["2320099"], ["a person of Austria", "nearest in number: 2320006 (OE7AAE) and 2620001 (DL1XYZ)"]),
    (["232009901"], ["a person of Austria"]),
    (["262999"], ["a repeater of Germany"]),
    (["2329998"], ["Rule 'club' names it, but no row that can be used bears it"]),
    (["16777100"], ["is no station's id in dmr: those go from 1 to 16776415"]),
    (["99999999"], ["is too large for an id of dmr: the highest is 16777215"]),
    (["OE9ZZZ"], ["a call sign of Austria"]),
    (["Unreadable, Zacharias"], ["a row of source world (line 11) was rejected, invalid id", '"x99,OE9BAD,Zacharias']),
    (["99"], ["a row of source world (line 11) was rejected"]),
]


@pytest.mark.parametrize(("words", "sentences"), KNOWN)
def test_what_is_known_of_nobody(folder: Path, capsys: Capture, words: list[str], sentences: list[str]) -> None:
    if words == ["99"]:
        Path("stations.csv").write_text(STATIONS.replace("x99", "x 99"), encoding="utf-8")
        assert guarded(["fit"]) == ExitCode.DONE
        capsys.readouterr()
    code, out = told(capsys, *words)
    assert code == ExitCode.NOTHING_TO_DO
    said = " ".join(out.split())
    assert "No row of the last run bears" in said
    for sentence in sentences:
        assert sentence in said
    entries = json.loads(told(capsys, *words, "--json")[1])
    assert entries[-1]["outcome"] == "absent"
    assert sentences[0] in " ".join(entries[-1]["known"])


def test_an_id_that_came_after_the_fit(folder: Path, capsys: Capture) -> None:
    with Path("stations.csv").open("a", encoding="utf-8") as file:
        file.write("2320050,OE1NEW,Newly,Come,Wien,Austria\n")
    assert "The sources have it now" in told(capsys, "2320050")[1]
    assert "not there" in told(capsys, "Newly")[1] or "Newly" in told(capsys, "Newly")[1]


def test_heard_but_in_no_directory(folder: Path, capsys: Capture) -> None:
    Path("log.csv").write_text("id,talkgroup,time,seconds\n2320077,232,2026-06-01T10:00:00Z,3\n" * 2)
    Path("pruner.toml").write_text(SETTINGS + '[[heard]]\nlocation = "log.csv"\n')
    assert guarded(["fit"]) == ExitCode.DONE
    capsys.readouterr()
    said = " ".join(told(capsys, "2320077")[1].split())
    assert "It was heard: 1 call in the last 90 days of the heard logs, the last one on 2026-06-01." in said
    assert "It was never heard in the logs." in told(capsys, "2320078")[1]


def test_sources_that_are_gone_leave_the_results_to_speak(folder: Path, capsys: Capture) -> None:
    Path("stations.csv").unlink()
    code, _, err = run(capsys, "why", "Kelmar")
    assert code == ExitCode.NOTHING_TO_DO
    assert err.startswith("pruner: names are not looked for: ")
    assert err.count("\n") == 1
    assert run(capsys, "why", "OE6AAA")[0] == ExitCode.DONE


def test_a_number_is_read_as_an_id() -> None:
    # The forms of ids: DEVELOPERS.md, "Id".
    assert [number_of(text) for text in ("2320001", " 0002320001 ", "2,320,001", "232000107")] == [2320001] * 4
    assert [number_of(text) for text in ("OE1ABC", "", "Anna", "1.5")] == [None] * 4


PATTERNS = [
    ("OE6*", [2320001, 2320002]),
    ("oe6aa?", [2320001, 2320002]),
    ("*XYZ", [2620001, 2620002]),
    ("OE6*, Graz", [2320001, 2320002]),
    ("OE6A", [2320001, 2320002]),
    ("OE?AAC", [2320003]),
    ("232000?", [2320001, 2320002, 2320003, 2320004, 2320005, 2320006]),
    ("262*", [2620001, 2620002]),
    ("M?ller", [2320002, 2320003]),
    ("Anna*", [2320001, 2320002, 2320003, 2620001]),
    ("OE9Q*", []),
]


@pytest.mark.parametrize(("words", "ids"), PATTERNS)
def test_patterns_as_in_lists(tmp_path: Path, loaded: Loaded, words: str, ids: list[int]) -> None:
    found = find(loaded, words, 20)
    assert (sorted(one.number for one in found.persons), found.is_near and bool(found.total)) == (ids, False)
    if "," not in words and set("*?") & set(words) and words[0] != "M" and words[0:4] != "Anna":
        (tmp_path / "list.txt").write_text(words + "\n")  # the same as a list of a rule says
        listed = read_list(tmp_path / "list.txt")
        numbers = loaded.contacts.number.tolist()
        signs = loaded.contacts.callsign.to_pylist()
        like = [re.compile("".join({"*": ".*", "?": "."}.get(sign, sign) for sign in one)) for one in listed.patterns]
        named = [
            number
            for number, sign in zip(numbers, signs, strict=True)
            if any(first <= number <= last for first, last in listed.ranges) or any(one.fullmatch(sign) for one in like)
        ]
        assert named == ids


def test_why_with_a_pattern(folder: Path, capsys: Capture) -> None:
    code, out, _ = run(capsys, "why", "OE6*")
    assert (code, "2 contacts bear it" in out) == (ExitCode.DONE, True)
    code, out, _ = run(capsys, "why", "OE9Q*")
    assert (code, "No row of the last run bears OE9Q*." in out) == (ExitCode.NOTHING_TO_DO, True)


def test_why_with_an_asterisk_alone_lists_all(folder: Path, capsys: Capture) -> None:
    code, out, _ = run(capsys, "why", "*")
    assert (code, "contacts bear it" in out, "2320001" in out) == (ExitCode.DONE, True, True)
