"""Heard logs whose dates stand apart, and tables of other numbers, are no directories: neither for `fit` nor for `convert`."""

from __future__ import annotations

import zipfile
from pathlib import Path

import pytest

import pruner
from pruner.convert.old_list import old_list
from pruner.words.errors import InputRefusedError

CALLERS = [(2321100 + 17 * place + place % 5, f"OE{place + 1}KA{'ABCDEFG'[place]}") for place in range(7)]
AS_A_LOG = "come again and again, with times: this is a heard log"


def rows_of_a_day(day: int, count: int) -> list[tuple[str, str, str, str]]:
    """Clock, call sign, id and talkgroup of calls."""
    found = []
    for place in range(count):
        number, call = CALLERS[(place * 3 + day) % len(CALLERS)]
        found.append((f"{8 + place}:{(place * 7 + day) % 60:02d}:{place:02d}", call, str(number), "232"))
    return found


def refused(path: Path) -> str:
    with pytest.raises(InputRefusedError) as error:
        pruner.stations(path)
    with pytest.raises(InputRefusedError):
        old_list(path, None, {}, "dmr")
    return str(error.value)


@pytest.mark.parametrize("clock", ["{}", "{} Uhr", "at {}"])
def test_a_log_with_dates_in_a_column_of_their_own_or_in_lines(tmp_path: Path, clock: str) -> None:
    lines = [";".join((clock.format(row[0]), *row[1:])) for day in range(3) for row in rows_of_a_day(day, 12)]
    path = tmp_path / "log.csv"
    path.write_text("\n".join(["Zeit;Rufzeichen;ID;Sprechgruppe", *lines]) + "\n")
    assert AS_A_LOG in refused(path)
    dated = [f"2026-03-{3 + place // 12:02d};{line}" for place, line in enumerate(lines)]
    path.write_text("\n".join(["Tag;Zeit;Rufzeichen;ID;Sprechgruppe", *dated]) + "\n")
    assert AS_A_LOG in refused(path)


@pytest.mark.parametrize("counts", [(5, 5, 5, 5), (4, 16, 3)])
def test_a_page_with_a_table_for_each_day(tmp_path: Path, counts: tuple[int, ...]) -> None:
    """Each table, or some of them, are too short to be known as a log by themselves."""
    page = "<html><body>"
    for day, count in enumerate(counts):
        page += f"<h3>{3 + day} March 2026</h3><table><tr><th>Time<th>Call<th>ID<th>TG</tr>"
        page += "".join(f"<tr>{''.join(f'<td>{cell}' for cell in row)}</tr>" for row in rows_of_a_day(day, count)) + "</table>"
    (tmp_path / "heard.html").write_text(page)
    assert AS_A_LOG in refused(tmp_path / "heard.html")


def test_a_dump_of_a_log_and_of_some_nodes(tmp_path: Path) -> None:
    rows = "".join(f"2026-03-03 {row[0]}\t{row[2]}\t{row[3]}\n" for day in range(3) for row in rows_of_a_day(day, 12))
    dump = f"COPY heard (at, radio, tg) FROM stdin;\n{rows}\\.\n\nCOPY nodes (id, name) FROM stdin;\n"
    dump += "2321991\tHill\n2321992\tDale\n\\.\n"
    (tmp_path / "heard.sql").write_text(dump)
    assert AS_A_LOG in refused(tmp_path / "heard.sql")


def test_sheets_of_one_directory_that_overlap_stay_one(tmp_path: Path) -> None:
    """Copies are no log, although their ids come again and each row has a time."""
    rows = [f"{number};{call};Ann;{8 + place}:15" for place, (number, call) in enumerate(CALLERS)]
    with zipfile.ZipFile(tmp_path / "crew.zip", "w") as archive:
        for name in ("a.csv", "b.csv", "c.csv"):
            archive.writestr(name, "\n".join(["ID;Call;Name;Round at", *rows]))
    assert len(pruner.stations(tmp_path / "crew.zip").contacts) == len(CALLERS)


def test_members_without_headings_are_read_together(tmp_path: Path) -> None:
    with zipfile.ZipFile(tmp_path / "crew.zip", "w") as archive:
        for part in range(3):
            rows = [
                f"{2321100 + 91 * part + 13 * place},OE{part + 1}K{'ABCDEF'[place]}A,Ann,Kelm,Graz,Austria"
                for place in range(6)
            ]
            archive.writestr(f"part{part}.csv", "\n".join(rows))
        archive.writestr("other.csv", "Graz,OE1KZZ,2329999\nWels,OE2KZZ,2329998\nLinz,OE3KZZ,2329997\n")
    found = pruner.stations(tmp_path / "crew.zip")
    assert found.read == 18
    assert "part1.csv, part2.csv" in found.understood[0]
    assert "other.csv" in found.understood[0]


#: Numbers that begin as ids of the country in their rows do, and the word for them.
@pytest.mark.parametrize(
    ("heading", "why"),
    [
        ("Member no", "a number of a club's or a customer's list"),
        ("Telefon", "a telephone number"),
        ("Invoice", "a number of goods, of an account or of a paper"),
    ],
)
def test_other_numbers_of_members_are_no_ids(tmp_path: Path, heading: str, why: str) -> None:
    rows = [f"{2321001 + 31 * place + place % 7};Ann Kelm;Graz;Austria" for place in range(30)]
    path = tmp_path / "members.csv"
    path.write_text("\n".join([f"{heading};Name;Town;Country", *rows]) + "\n")
    assert f"holds no ids: it is {why}" in refused(path)
    called = [f"OE{place % 9 + 1}K{chr(65 + place // 6)}A;{row}" for place, row in enumerate(rows)]
    path.write_text("\n".join([f"Call;{heading};Name;Town;Country", *called]) + "\n")
    assert len(pruner.stations(path).contacts) == 30  # call signs of their country speak for them


def test_numbers_in_even_steps_count_where_no_call_sign_speaks_for_them(tmp_path: Path) -> None:
    path = tmp_path / "members.csv"
    rows = [f"{2321001 + 4 * place};Ann Kelm;Graz;Austria" for place in range(30)]
    path.write_text("\n".join(["ID;Name;Town;Country", *rows]) + "\n")
    assert "counts the rows" in refused(path)
    rows = [f"{2321001 + 4 * place + place % 3};Ann Kelm;Graz;Austria" for place in range(30)]
    path.write_text("\n".join(["ID;Name;Town;Country", *rows]) + "\n")
    assert len(pruner.stations(path).contacts) == 30


def test_a_dump_is_converted_from_its_rows_and_not_from_its_text(tmp_path: Path) -> None:
    rows = ",\n".join(f"({number},'{call}','Ann','x{place}')" for place, (number, call) in enumerate(CALLERS))
    (tmp_path / "crew.sql").write_text(f"INSERT INTO crew (radio_id, callsign, first_name, note) VALUES\n{rows};\n")
    found = old_list(tmp_path / "crew.sql", None, {}, "dmr")
    assert found.table == tmp_path / "crew.sql"
    assert found.doubts == ()


@pytest.mark.parametrize("headings", ["Date;UTC;Call;Sent;Rcvd;Name", "Day;At;Who;A;B;C"])
def test_a_logbook_is_no_contact_list(tmp_path: Path, headings: str) -> None:
    rows = [
        f"2026-05-02;{1400 + place};{call};{place + 1:03d};{place * 37 % 300 + 1:03d};Ann"
        for place, (_, call) in enumerate(CALLERS * 3)
    ]
    (tmp_path / "contest.csv").write_text("\n".join([headings, *rows]) + "\n")
    assert "contest.csv" in refused(tmp_path / "contest.csv")
