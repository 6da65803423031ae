"""What `compare` says of results in a layout: what was written, column by column, and what could not be compared."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from pruner.ask.history import contacts_at, present_contacts, since_written
from pruner.cli.boundary import guarded
from pruner.history.compare import Difference, compare
from pruner.job.run import run
from pruner.settings.load import load_settings
from pruner.words.errors import InputRefusedError

Capture = pytest.CaptureFixture[str]
PEOPLE = [("Adelheid", "Berg", "Linz"), ("Bartholomäus", "Groß", "Oberndorf"), ("Cora", "Tal", "Wien"), ("Dorothea", "", "")]
SETTINGS = """\
[[source]]
name = "world"
location = "stations.csv"
[[keep]]
name = "all"
[[radio]]
name = "r"
{room}
{layout}
"""
ID = '[[column]]\ntitle = "Wibble"\nvalue = "{id}"\n'
NAME = '[[column]]\ntitle = "Wobble"\nvalue = "{first_name} {last_name}"\nwidth = 16\n'
TOWN = '[[column]]\ntitle = "Where"\nvalue = "{town}"\nwidth = 5\n'
SIGN = '[[column]]\ntitle = "Sign"\nvalue = "{callsign}"\nwidth = 6\n'
KIND = '[[column]]\ntitle = "Sort"\nvalue = "Private"\n'
NUMBER = '[[column]]\ntitle = "No."\nvalue = "{number}"\nwidth = 4\n'
BYTES = """\
[radio.memory]
bytes = 100
[[radio.memory.field]]
name = "callsign"
form = "terminated"
[[radio.memory.field]]
name = "name"
form = "terminated"
[[radio.level]]
name = "all of it"
fields = ["callsign", "name"]
[[radio.level]]
name = "call sign"
fields = ["callsign"]
"""


def fitted(
    folder: Path, name: str, layout: str | None, people: list[tuple[str, ...]] = PEOPLE, room: str = "contacts = 9"
) -> Path:
    """The folder of a result that is fitted anew and moved to `name`."""
    rows = [f"{2320001 + place},OE1AA{chr(90 - place)},{','.join(one)},Austria" for place, one in enumerate(people)]
    (folder / "stations.csv").write_text("id,callsign,first name,last name,town,country\n" + "\n".join(rows) + "\n", "utf-8")
    (folder / "pruner.toml").write_text(
        SETTINGS.format(room="contacts = 9" if "memory" in room else room, layout='layout = "l.toml"' if layout else "")
        + (room if "memory" in room else "")
    )
    if layout:
        (folder / "l.toml").write_text(layout)
    run(load_settings(folder / "pruner.toml"))
    (folder / "out").rename(folder / name)
    return folder / name / "r"


def between(old: Path, new: Path) -> Difference:
    return compare(contacts_at(old), contacts_at(new))


@pytest.mark.parametrize(
    "form",
    [
        "",
        'order = "callsign"',
        'order = "rank"\nrows_per_file = 2',
        'kind = "fixed"\nencoding = "utf-16-le"',
        'kind = "fixed"\nheadings = false\nencoding = "ascii"',
        'quoting = "none"\ndelimiter = ";"\nline_ending = "cr"',
    ],
)
def test_every_changed_text_is_found(tmp_path: Path, form: str) -> None:
    layout = f"[file]\n{form}\n" + (ID + 'width = 9\npad = "left"\npad_with = "0"\n' + NAME + TOWN + SIGN)
    old = fitted(tmp_path, "old", layout)
    others = [("New" + first, last, "New" + town) for first, last, town in PEOPLE]
    new = fitted(tmp_path, "new", layout, others)
    found = between(old, new)
    assert found.counts == {"added": 0, "removed": 0, "changed": 4}
    assert found.by_field() == {"first_name+last_name": 4, "town": 4}
    assert (found.not_compared, found.layout_changed) == ((), False)
    assert between(old, old).same
    assert found.changes["callsign"].to_list() == ["OE1AAZ", "OE1AAY", "OE1AAX", "OE1AAW"]


def test_what_is_cut_off_or_transliterated_is_no_difference(tmp_path: Path) -> None:
    layout = '[file]\nencoding = "ascii"\n' + ID + NAME + TOWN
    old = fitted(tmp_path, "old", layout)
    people = [PEOPLE[0], ("Bartholomaeus", "Gross", "Oberndorf an der Salzach"), *PEOPLE[2:]]
    assert between(old, fitted(tmp_path, "same", layout, people)).same
    found = between(old, fitted(tmp_path, "wider", layout.replace("width = 5", "width = 9"), people))
    assert (found.by_field(), found.layout_changed) == ({"town": 1}, True)


def test_the_layout_itself_changed(tmp_path: Path, capsys: Capture) -> None:
    old = fitted(tmp_path, "old", ID + NAME)
    more = between(old, fitted(tmp_path, "more", ID + NAME + TOWN + KIND))
    assert more.by_field() == {"town": 3, "constants": 4}
    other = fitted(tmp_path, "other", ID + NAME.replace("Wobble", "Renamed"))
    assert between(old, other).layout_changed
    capsys.readouterr()
    assert guarded(["compare", str(old), str(other)]) == 0
    told = capsys.readouterr().out
    assert "nothing differs\n" in told
    assert "The layout itself was changed" in told
    plain = between(fitted(tmp_path, "plain", None), old)
    assert plain.by_field() == {
        "callsign": 4, "first_name": 4, "last_name": 3, "town": 3, "country": 4, "first_name+last_name": 4
    }  # fmt: skip
    assert plain.layout_changed


def test_columns_with_the_same_fields_are_told_apart(tmp_path: Path) -> None:
    two = ID + TOWN + TOWN.replace("width = 5", "width = 9")
    found = between(
        fitted(tmp_path, "old", two), fitted(tmp_path, "new", two, [("A", "B", "Oberndorf"), ("C", "D", "Obernberg")])
    )
    assert found.by_field() == {"town": 1, "town#2": 2}


def test_limits_in_bytes_and_levels_of_detail(tmp_path: Path) -> None:
    """The names do not fit, so that they are not written: a changed name is no difference, a name less is one."""
    layout = ID + NAME + SIGN
    old = fitted(tmp_path, "old", layout, room=BYTES)
    others = [("New" + first, *rest) for first, *rest in PEOPLE]
    few = fitted(tmp_path, "few", layout, room=BYTES.replace("bytes = 100", "bytes = 40"))
    assert between(old, few).by_field() == {"first_name+last_name": 4}
    assert between(few, fitted(tmp_path, "few others", layout, others, room=BYTES.replace("bytes = 100", "bytes = 40"))).same
    assert between(old, fitted(tmp_path, "others", layout, others, room=BYTES)).by_field() == {"first_name+last_name": 4}


@pytest.mark.parametrize(("order", "told"), [("id", True), ("rank", True), ("callsign", False)])
def test_files_without_ids(tmp_path: Path, order: str, told: bool) -> None:
    layout = f'[file]\nwithout_ids = true\norder = "{order}"\n' + SIGN + NAME
    old = fitted(tmp_path, "old", layout)
    new = fitted(tmp_path, "new", layout, [*PEOPLE[:2], ("Cora", "Berg", "Wien"), PEOPLE[3]])
    found = between(old, new)
    assert not found.same
    if told:
        assert (found.by_field(), found.changes["id"].to_list()) == ({"first_name+last_name": 1}, [2320003])
    else:
        assert found.total == 0
        assert "does not tell whose they are" in found.not_compared[0]


def test_running_numbers_are_compared_where_nobody_came_or_went(tmp_path: Path) -> None:
    layout = ID + NUMBER + SIGN
    old = fitted(tmp_path, "old", layout)
    assert between(old, old).same
    found = between(old, fitted(tmp_path, "new", layout, [("Eva", "New", "Wels"), *PEOPLE]))
    assert (found.counts["added"], "number" in found.by_field()) == (1, False)
    assert found.not_compared == ("number: moves with every contact that comes or goes",)
    shifted = between(old, fitted(tmp_path, "shifted", f"[file]\nnumber_from = 0\n{layout}"))
    assert shifted.by_field() == {"number": 4}


def forget_layout(result: Path) -> None:
    """As release 0.1.0 wrote it."""
    summary = json.loads((result / "summary.json").read_text("utf-8"))
    del summary["layout"]
    (result / "summary.json").write_text(json.dumps(summary), "utf-8")


def test_a_result_that_records_no_layout_is_never_said_to_be_the_same(tmp_path: Path, capsys: Capture) -> None:
    others = [("New" + first, last, "New" + town) for first, last, town in PEOPLE]
    old, new = fitted(tmp_path, "old", ID + NAME + TOWN), fitted(tmp_path, "new", ID + NAME + TOWN, others)
    forget_layout(old)
    for pair in ((old, new), (old, old)):
        capsys.readouterr()
        guarded(["compare", *map(str, pair)])
        told = capsys.readouterr().out
        assert "nothing differs in what could be compared: id" in told
        assert not re.search("nothing differs$", told, re.MULTILINE)
        assert "Not compared:" in told
        assert "in a layout that it does not record." in " ".join(told.split())
        guarded(["compare", *map(str, pair), "--json"])
        plain = json.loads(capsys.readouterr().out)
        assert (plain["same"], plain["total"], bool(plain["not_compared"])) == (False, 0, True)


def test_files_that_do_not_belong_to_the_ledger_are_refused(tmp_path: Path) -> None:
    result = fitted(tmp_path, "old", ID + NAME)
    lines = (result / "contacts.csv").read_bytes().split(b"\r\n")
    for wrong in (lines[:-2], [lines[0], lines[1].replace(b"2320001", b"2329999"), *lines[2:]]):
        (result / "contacts.csv").write_bytes(b"\r\n".join(wrong))
        with pytest.raises(InputRefusedError, match=r"contacts\.csv: does not hold the contacts that ledger\.parquet names"):
            contacts_at(result)


def test_since_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> None:
    monkeypatch.chdir(tmp_path)
    layout = ID + NUMBER + NAME + TOWN
    fitted(tmp_path, "out2", layout)
    (tmp_path / "out2").rename("out")
    assert guarded(["compare", "--mark"]) == 0
    settings = load_settings(Path("pruner.toml"))
    found = since_written(settings, "r").difference
    assert found is not None
    assert (found.total, found.compared) == (0, ("first_name+last_name", "town"))
    capsys.readouterr()
    assert guarded(["compare"]) == 0
    assert "nothing has changed in what could be compared: id, first_name+last_name," in capsys.readouterr().out
    for change, total in ((layout, 4), (layout + SIGN, 4), (ID + NAME, 3), (layout + KIND, 4)):
        (tmp_path / "out").rename("kept")
        others = [("New" + first, last, town) for first, last, town in PEOPLE] if change == layout else PEOPLE
        fitted(tmp_path, "new", change, others)
        (tmp_path / "new").rename("out")
        found = since_written(settings, "r").difference
        assert found is not None
        assert found.total == total
        for path in sorted((tmp_path / "out").rglob("*"), reverse=True):
            path.unlink() if path.is_file() else path.rmdir()
        (tmp_path / "out").rmdir()
        (tmp_path / "kept").rename("out")


def test_a_present_result_of_before_is_read_in_the_radio_s_layout(tmp_path: Path) -> None:
    result = fitted(tmp_path, "out2", ID + NAME + TOWN)
    forget_layout(result)
    (tmp_path / "out2").rename(tmp_path / "out")
    found = present_contacts(load_settings(tmp_path / "pruner.toml"), "r")
    assert (found.whole, found.fields) == (True, ("first_name+last_name", "town"))
