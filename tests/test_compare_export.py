"""`compare --export`: whether the radio holds what was written."""

from __future__ import annotations

import csv
import json
import shutil
import tempfile
import unicodedata
from pathlib import Path
from typing import Any

import polars as pl
import pytest
from commands import ran
from draws import draws
from history_samples import contacts_of
from hypothesis import given
from hypothesis import strategies as st
from test_compare_command import run

from pruner.ask.export_check import KINDS, check_export
from pruner.cli.boundary import guarded
from pruner.words.errors import ExitCode, InputRefusedError

Capture = pytest.CaptureFixture[str]
HOSTILE = "Eve\x1b[2J\u202egnp"
STATIONS = """\
id,callsign,first name,last name,town,country
2320001,OE1AAA,Ada,Auer,Linz,Austria
2320002,OE1BBB,Bea,Bichler,Wien,Austria
2320003,OE1CCC,Cleo,Conrad,Salzburg,Austria
2320004,OE1DDD,Dora,Dorn,Graz,Austria
2620001,DL1AAA,Gero,Gruber,Ulm,Germany
"""
SETTINGS = """\
[[source]]
name = "world"
location = "stations.csv"
[[radio]]
name = "small"
contacts = 9
"""
LAYOUT = """\
[file]
delimiter = ";"
[[column]]
title = "Number"
value = "{id}"
[[column]]
title = "Shown"
value = "{callsign} {first_name}"
width = 9
[[column]]
title = "Below"
value = "{town}"
[[column]]
title = "Kind"
value = "private"
"""


@pytest.fixture(scope="module")
def fitted(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("fitted")
    (folder / "stations.csv").write_text(STATIONS)
    (folder / "pruner.toml").write_text(SETTINGS)
    assert ran(folder, "fit").returncode == ExitCode.DONE
    return folder


@pytest.fixture
def folder(fitted: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return Path(shutil.copytree(fitted, tmp_path, dirs_exist_ok=True))


def export(rows: list[dict[str, str]], headings: dict[str, str], name: str = "radio.csv") -> str:
    """An export of the radio with columns of its own; `headings` by what they hold."""
    with Path(name).open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(headings)
        writer.writerows([row.get(column, column) for column in headings.values()] for row in rows)
    return name


def written() -> list[dict[str, str]]:
    with Path("out/small/contacts.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


OTHER = {"No.": "7", "City": "town", "Alias": "callsign", "Radio ID": "id", "Given name": "first_name", "Remark": "x"}


def told(capsys: Capture, *words: str) -> dict[str, Any]:
    code, out, err = run(capsys, "compare", "--export", *words, "--json")
    assert err == ""
    found: dict[str, Any] = json.loads(out)
    assert code == (ExitCode.DONE if found["holds"] else ExitCode.NOTHING_TO_DO)
    return found


def test_the_imported_file_is_held(folder: Path, capsys: Capture) -> None:
    found = told(capsys, "out/small/contacts.csv")
    assert (found["holds"], found["written"], found["as_written"]) == (True, 5, 5)
    assert found["compared"] == ["callsign", "first_name", "last_name", "country", "town"]
    assert found["not_compared"] == []
    code, out, _ = run(capsys, "compare", "--export", "out/small/contacts.csv")
    assert code == ExitCode.DONE
    assert "The radio holds what was written: 5 of 5 contacts as written." in out


def test_other_columns_in_another_order(folder: Path, capsys: Capture) -> None:
    found = told(capsys, export(written()[::-1], OTHER))
    assert (found["holds"], found["as_written"]) == (True, 5)
    assert found["compared"] == ["callsign", "first_name", "town"]
    assert found["not_compared"] == ["last_name, country: known of one side only"]


def test_missing_cut_other_and_extra(folder: Path, capsys: Capture) -> None:
    rows = written()
    rows[1]["town"], rows[2]["town"], rows[3]["callsign"] = "Wi", "Salzburg ", "OE9XXX"
    rows += [rows[0], {"id": "2329999", "callsign": HOSTILE, "first_name": "By", "town": "hand"}, {"id": "none", "town": "?"}]
    del rows[4]
    name = export(rows, OTHER)
    found = told(capsys, name)
    assert {kind: found[kind.replace(" ", "_")] for kind in KINDS} == {
        "missing": 1,
        "cut": 1,
        "old": 0,
        "other text": 1,
        "extra": 1,
    }
    assert (found["as_written"], found["in_radio"], found["repeated_rows"], found["unreadable_rows"]) == (2, 5, 1, 1)
    code, out, _ = run(capsys, "compare", "--export", name, "--out", "changes.csv")
    assert code == ExitCode.NOTHING_TO_DO
    assert "The radio does NOT hold what was written: 2 of 5 contacts as written." in " ".join(out.split())
    assert [line.split() for line in out.splitlines() if line.startswith("cut ")][1] == ["cut", "2320002", "town", "Wien", "Wi"]
    with Path("changes.csv").open(newline="", encoding="utf-8") as file:
        changes = [(row["id"], row["what"], row["fields"]) for row in csv.DictReader(file)]
    assert changes == [
        ("2320002", "cut", "town"),
        ("2320004", "other text", "callsign"),
        ("2329999", "extra", ""),
        ("2620001", "missing", ""),
    ]


def test_what_was_written_the_time_before_is_old(folder: Path, capsys: Capture) -> None:
    before = written()
    assert run(capsys, "compare", "--mark")[0] == ExitCode.DONE
    changed = STATIONS.replace("Ada", "Adele").replace("2620001,DL1AAA,Gero,Gruber,Ulm,Germany\n", "")
    Path("stations.csv").write_text(changed + "2320005,OE1EEE,Eva,Ender,Wels,Austria\n")
    assert guarded(["fit"]) == ExitCode.DONE
    capsys.readouterr()
    held = before  # the radio was not written again
    whole = dict(zip(before[0], before[0], strict=True))
    found = told(capsys, export(held, whole))
    assert (found["old"], found["missing"], found["other_text"], found["extra"], found["as_written"]) == (2, 1, 0, 0, 3)
    held[0]["first_name"] = "Someone"
    found = told(capsys, export(held, whole))
    assert (found["old"], found["missing"], found["other_text"], found["extra"]) == (1, 1, 1, 0)


def test_a_result_in_a_layout_and_an_export_in_its_own(folder: Path, capsys: Capture) -> None:
    Path("radio.layout.toml").write_text(LAYOUT)
    Path("pruner.toml").write_text(SETTINGS + 'layout = "radio.layout.toml"\n')
    assert guarded(["fit"]) == ExitCode.DONE
    capsys.readouterr()
    (path,) = Path("out/small").glob("contacts*")
    assert told(capsys, str(path))["compared"] == ["callsign+first_name", "town"]
    lines = path.read_text().splitlines()
    assert lines[1].split(";") == ["2320001", "OE1AAA Ad", "Linz", "private"]
    Path("export.layout.toml").write_text(
        '[file]\n[[column]]\ntitle = "Below"\nvalue = "{town}"\n[[column]]\ntitle = "Shown"\nvalue = "{callsign}"\n'
        '[[column]]\ntitle = "Number"\nvalue = "{id}"\n'
    )
    rows = [line.split(";") for line in lines[1:]]
    text = "\n".join(["Below,Shown,Number", *(f"{town},{shown},{number}" for number, shown, town, _ in rows)]) + "\n"
    Path("radio.csv").write_text(text)
    found = told(capsys, "radio.csv", "--layout", "export.layout.toml")
    assert (found["holds"], found["columns"]) == (True, {"callsign+first_name": "Shown", "town": "Below"})
    Path("radio.csv").write_text(text.replace("Salzburg", "Salz").replace("OE1BBB", "OE1BB"))
    assert told(capsys, "radio.csv", "--layout", "export.layout.toml")["cut"] == 1
    assert told(capsys, "radio.csv", "--column", "town=Below", "--column", "callsign=Shown")["cut"] == 1


def test_an_export_in_two_files(folder: Path, capsys: Capture) -> None:
    rows = written()
    names = [export(rows[:2], OTHER, "one.csv"), export(rows[2:], OTHER, "two.csv")]
    found = told(capsys, names[0], "--export", names[1])
    assert (found["holds"], [file["name"] for file in found["files"]]) == (True, names)


def test_a_result_folder_instead_of_settings(folder: Path, capsys: Capture) -> None:
    Path("pruner.toml").unlink()
    code, out, _ = run(capsys, "compare", "out/small", "--export", export(written(), OTHER), "--json")
    assert (code, json.loads(out)["holds"]) == (ExitCode.DONE, True)


WRONG = [
    ["--export", "radio.csv", "--mark"],
    ["--export", "radio.csv", "--threshold", "2"],
    ["--export", "radio.csv", "--radio", "nobody"],
    ["--export", "radio.csv", "a", "b"],
    ["--layout", "x.toml"],
    ["--column", "id=1"],
]


@pytest.mark.parametrize("words", WRONG)
def test_mistakes_in_use(folder: Path, capsys: Capture, words: list[str]) -> None:
    export(written(), OTHER)
    code, out, err = run(capsys, "compare", *words)
    assert (code, out, err.count("\n")) == (ExitCode.SETTINGS, "", 1)


def test_an_export_without_ids_is_refused(folder: Path, capsys: Capture) -> None:
    Path("radio.csv").write_text("Alias,City\nOE1AAA,Linz\nOE1BBB,Wien\n")
    code, out, err = run(capsys, "compare", "--export", "radio.csv")
    assert (code, out, err.count("\n")) == (ExitCode.INPUT_REFUSED, "", 1)


TEXTS = st.sampled_from(["", "OE1AAA", "Anna", "Annabel", "An"])
ROWS = st.dictionaries(st.integers(2320001, 2320012), st.tuples(TEXTS, TEXTS), min_size=1)


@pytest.mark.long
@draws(60)
@given(ROWS, ROWS)
def test_the_account_against_plain_dictionaries(ours: dict[int, tuple[str, str]], theirs: dict[int, tuple[str, str]]) -> None:
    contacts = contacts_of({(0, one): {"callsign": f"OE1{one}", "town": town} for one, (_, town) in ours.items()})
    entries = {one: (f"OE1{one}", town) for one, (_, town) in theirs.items()}
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "radio.csv"
        pl.DataFrame(
            [(one, sign, town) for one, (sign, town) in entries.items()], schema=["Number", "Call sign", "Town"], orient="row"
        ).write_csv(path)
        found = check_export(contacts, [path])
    both = ours.keys() & theirs.keys()
    counts = dict.fromkeys(KINDS, 0)
    counts["missing"], counts["extra"] = len(ours.keys() - theirs.keys()), len(theirs.keys() - ours.keys())
    if "town" in found.columns:
        for one in both:
            mine, held = ours[one][1], theirs[one][1]
            if mine != held:
                counts["cut" if mine.startswith(held) else "other text"] += 1
    assert found.counts == counts
    assert found.as_written + counts["missing"] + counts["cut"] + counts["other text"] == len(ours)
    assert found.difference.new == len(theirs)
    assert found.holds == (not sum(counts.values()))


def test_an_empty_export_is_refused(tmp_path: Path) -> None:
    (tmp_path / "radio.csv").write_text("Number,Call sign\nnone,OE1AAA\n")
    with pytest.raises(InputRefusedError):
        check_export(contacts_of({(0, 2320001): {"callsign": "OE1AAA"}}), [tmp_path / "radio.csv"])


def test_blanks_around_a_text_are_no_difference(folder: Path, capsys: Capture) -> None:
    """Entries made by hand keep the blanks that they were read with; a radio, a spreadsheet or its software may drop them."""
    Path("carried.csv").write_text('Name,Radio ID\n"Workshop ",2329990\n" Bench 2",2329991\n')
    Path("pruner.toml").write_text(SETTINGS + 'carried = "carried.csv"\n')
    assert guarded(["fit"]) == ExitCode.DONE
    capsys.readouterr()
    assert "Workshop ," in Path("out/small/contacts.csv").read_text()
    found = told(capsys, "out/small/contacts.csv")
    assert (found["holds"], found["as_written"], found["differing_in_outer_blanks"]) == (True, 7, 0)
    rows = written()
    for row in rows:
        row["first_name"], row["town"] = row["first_name"].strip(), f"{row['town']}\u00a0 "
    found = told(capsys, export(rows, OTHER))
    assert (found["holds"], found["as_written"], found["differing_in_outer_blanks"]) == (True, 7, 9)
    _, out, _ = run(capsys, "compare", "--export", "radio.csv")
    assert "9 texts differ in outer blanks" in out


def rewritten(text: str) -> dict[str, bytes]:
    """The same table as other software may write it (RFC 4180 and what is common besides)."""
    rows = [*csv.reader(text.splitlines())]
    plain = ["\t".join(row) for row in rows]
    swapped = [[row[place] for place in (6, 0, 2, 1, 4, 3, 5)] for row in rows]
    zeros = [[f"0{row[1]}" if row[1].isdigit() else row[1], *row[2:], row[0]] for row in rows]
    as_text = [[row[0], f'="{row[1]}"' if row[1].isdigit() else row[1], *row[2:]] for row in rows]
    return {
        "quoted": "\r\n".join(",".join(f'"{cell}"' for cell in row) for row in rows).encode(),
        "tabs, UTF-16": "\n".join(plain).encode("utf-16"),
        "rows upside down": "\n".join([",".join(rows[0]), *(",".join(row) for row in rows[:0:-1])]).encode(),
        "columns in another order": "\n".join(";".join(row) for row in swapped).encode("utf-8-sig"),
        "leading zeros": "\n".join(",".join(row) for row in zeros).encode(),
        "ids as text": "\n".join(";".join(row) for row in as_text).encode(),
        "decomposed": unicodedata.normalize("NFD", text).encode(),
        "a title above": f"Contacts of the radio\n{text}".encode(),
    }


@pytest.mark.parametrize("way", rewritten("a,1,b,c,d,e,f"))
def test_another_way_to_write_the_same_is_no_difference(folder: Path, capsys: Capture, way: str) -> None:
    Path("stations.csv").write_text(STATIONS.replace("Dora", "Dörte"))
    assert guarded(["fit"]) == ExitCode.DONE
    capsys.readouterr()
    Path("radio.csv").write_bytes(rewritten(Path("out/small/contacts.csv").read_text())[way])
    found = told(capsys, "radio.csv")
    assert (found["holds"], found["as_written"]) == (True, 5)
    assert found["compared"] == ["callsign", "first_name", "last_name", "country", "town"]


def test_what_alone_differs_is_said(folder: Path, capsys: Capture) -> None:
    Path("stations.csv").write_text(STATIONS.replace("Dora", "Jürgen").replace("Graz", "Bad Ischl"))
    assert guarded(["fit"]) == ExitCode.DONE
    capsys.readouterr()
    rows = written()
    rows[0]["town"], rows[1]["first_name"], rows[3]["first_name"], rows[4]["town"] = "LINZ", "B e a", "Juergen", "Augsburg"
    found = told(capsys, export(rows, OTHER))
    assert found["differing_only_in"] == {"capitals": 1, "blanks": 1, "spelling": 1}
    assert (found["other_text"], found["as_written"]) == (4, 1)
    _, out, _ = run(capsys, "compare", "--export", "radio.csv")
    assert "1 other text differs only in small and capital letters." in out
    every = [{**row, "town": row["town"].upper(), "first_name": row["first_name"].upper()} for row in written()]
    found = told(capsys, export(every, OTHER))
    assert (found["compared"], found["differing_only_in"]["capitals"]) == (["callsign", "first_name", "town"], 5)


def test_columns_that_nothing_understands_are_compared(folder: Path, capsys: Capture) -> None:
    Path("radio.layout.toml").write_text(LAYOUT)
    Path("pruner.toml").write_text(SETTINGS + 'layout = "radio.layout.toml"\n')
    assert guarded(["fit"]) == ExitCode.DONE
    capsys.readouterr()
    (path,) = Path("out/small").glob("contacts*")
    lines = [line.split(";") for line in path.read_text().splitlines()]
    Path("radio.csv").write_text("\n".join(",".join((row[2], row[0], row[1])) for row in lines) + "\n")
    found = told(capsys, "radio.csv")
    assert (found["holds"], found["columns"]) == (True, {"callsign+first_name": "Shown", "town": "Below"})


def test_ids_alone_prove_no_text(folder: Path, capsys: Capture) -> None:
    found = told(capsys, export(written(), {"Radio ID": "id", "Remark": "x"}))
    assert (found["holds"], found["missing"], found["compared"]) == (False, 0, [])
    _, out, _ = run(capsys, "compare", "--export", "radio.csv")
    assert "Every id is there, but the export tells no text that was written: 5 ids." in out


def test_ids_that_a_spreadsheet_rounded_are_named(folder: Path, capsys: Capture) -> None:
    rows = [row | {"id": f"{int(row['id']):.2E}"} for row in written()]
    code, _, err = run(capsys, "compare", "--export", export(rows, {"id": "id", "callsign": "callsign"}))
    assert code == ExitCode.INPUT_REFUSED
    assert "line 1: a spreadsheet rounded the ids in 'id' (2.32E+06)" in err
    assert err.rstrip().endswith("; export again with that column as text")


@pytest.mark.parametrize(("extra", "more"), [(5, ""), (7, "and 2 more")])
def test_what_is_not_shown_is_counted(folder: Path, capsys: Capture, extra: int, more: str) -> None:
    rows = [*written(), *({"id": str(2_620_100 + place), "callsign": f"DL2AA{place}"} for place in range(extra))]
    code, out, _ = run(capsys, "compare", "--export", export(rows, {"id": "id", "callsign": "callsign"}))
    assert code == ExitCode.NOTHING_TO_DO
    assert sum(line.split()[:1] == ["extra"] and "DL2AA" in line for line in out.splitlines()) == 5
    assert [line.strip() for line in out.splitlines() if " more" in line] == ([more] if more else [])
