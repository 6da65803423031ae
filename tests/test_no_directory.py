"""Tables of other things are refused as directories, with one line that shows their columns. All of them are invented."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from pruner.read.directory import read_directory
from pruner.words.errors import InputRefusedError


def rows(count: int, line: str) -> str:
    """Lines with `n` filled in: the number of the line, a number that jumps, a letter."""
    return "".join(
        line.format(
            n=at,
            one=at + 1,
            far=(at * 7919 + 1217) % 9973,
            big=1_000_003 + at * 7919 * 37 % 8_999_000,
            letter=chr(65 + at % 26),
        )
        + "\n"
        for at in range(count)
    )


TABLES = {
    "prices": "Article no.;Description;Price\n" + rows(30, "{far};Washer {letter};{n}.95"),
    "prices of seven digits": "Artikelnummer;Bezeichnung;Preis\n" + rows(30, "{big};Schraube M{one};0,{far}"),
    "orders": "Order number,Customer,Total,Date\n" + rows(30, "{big},Cust {letter},{far}.50,2026-03-{one:02}"),
    "timetable": "line;stop;departure\n" + rows(30, "{one};Harbour {letter};{n:02}:15"),
    "departures without headings": rows(24, "{n:02}:40;Mill Lane;platform {one}"),
    "inventory": "Inventory no.;Item;Room;Bought\n" + rows(30, "{big};Desk {letter};{far};2019"),
    "sensor": "timestamp,celsius,humidity\n" + rows(30, "17711{far:05},{n}.5,{one}"),
    "counter readings": "Zählernummer;Stand;Datum\n" + rows(30, "{big};{far};0{one}.02.2026"),
    "members without ids": "Mitgliedsnummer;Nachname;Vorname;Beitrag\n" + rows(30, "{far};Muster{letter};Eva;40"),
    "members of seven digits": "Member number;Surname;First name;Fee\n" + rows(30, "{big};Sample{letter};Eve;40"),
    "telephone book": "Name;Phone\n" + rows(30, "Sample {letter};06{big}"),
    "birds seen": "Species;Count;Place\n" + rows(25, "Heron {letter};{one};Weir"),
    "books": "ISBN;Title;Year\n" + rows(25, "97831{big};On rivers {letter};19{one:02}"),
    "towns": "Postal code;Town;Inhabitants\n" + rows(30, "{far};Upper {letter};{big}"),
    "countries": "code;country;area\n" + "AT;Austria;83879\nDE;Germany;357588\nCH;Switzerland;41285\nIT;Italy;302073\n" * 4,
    "elevations": "lat;lon;metres\n" + rows(30, "47.{far};13.{far};{far}"),
    "accounts": "Konto;Soll;Haben\n" + rows(30, "{far};{n},00;0,00"),
    "race": "Start no.;Runner;Minutes\n" + rows(30, "{one};Runner {letter};{far}"),
    "tide": "day,high,low\n" + rows(28, "2026-02-{one:02},0{n}:12,1{n}:40"),
    "recipe": "ingredient;grams\n" + rows(20, "flour {letter};{far}"),
    "frequencies": "Channel;Frequency;Use\n" + rows(30, "{one};145.{far};simplex {letter}"),
    "tickets": "Ticket;Status;Opened;Assignee\n" + rows(30, "{big};open;2026-01-{one:02};Pat {letter}"),
    "parcels": "Tracking,Weight,Destination\n" + rows(30, "{big}{far},{n}.2,Depot {letter}"),
    "counted call signs": "id;callsign\n" + rows(25, "{one};OE{n}XA{letter}"),
    "ids of other countries": "id;callsign;country\n" + rows(25, "2620{far:03};OE1XA{letter};Austria").replace("2620", "3120"),
    "repeaters without ids": "Call sign;Output;Locator\n" + rows(25, "OE1XA{letter};438.{far};JN67{letter}A"),
    "votes": "Nr.;Kandidat;Stimmen\n" + rows(25, "{one};Person {letter};{far}"),
    "machine hours": "Maschine,Stunden,Prüfer\n" + rows(25, "M{far},{n}.5,Kim"),
    "exam": "Matrikelnummer;Note\n" + rows(25, "{big};{n},3"),
    "stock prices": "symbol,open,close,volume\n" + rows(25, "X{letter}Q,{n}.1,{n}.4,{big}"),
}


@pytest.mark.parametrize("name", TABLES)
def test_a_table_of_something_else_is_refused_in_one_line(tmp_path: Path, name: str) -> None:
    path = tmp_path / "table.csv"
    path.write_text(TABLES[name], encoding="utf-8")
    with ThreadPoolExecutor(1) as pool, pytest.raises(InputRefusedError) as refused:
        list(read_directory(path, lambda records: records.count, pool))
    message = str(refused.value)
    assert "\n" not in message
    assert message.startswith(str(path))
    assert "a table of stations" in message
    assert "columns = " in message


def test_there_are_at_least_25() -> None:
    assert len(TABLES) >= 25


def test_ids_in_two_parts_are_refused_without_the_advice_to_take_one_of_them(tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.write_text("MCC;Number;Call sign;Name\n232;1101;OE1AXA;Ada\n232;0007;OE1AXB;Bela\n222;5103;IK2AXC;Cleo\n")
    with ThreadPoolExecutor(1) as pool, pytest.raises(InputRefusedError) as refused:
        list(read_directory(path, lambda records: records, pool))
    assert "the code of a country in 'MCC' (232), the rest in 'Number' (1101); put both into one column" in str(refused.value)
    assert "--column" not in str(refused.value)
    joined = path.read_text().replace("MCC;Number", "Number").replace("232;", "232").replace("222;", "222")
    path.write_text(joined)
    with ThreadPoolExecutor(1) as pool:
        found = [records for _, records in read_directory(path, lambda records: records, pool)]
    assert [number for records in found for number in records.columns["id"].to_pylist()] == ["2321101", "2320007", "2225103"]
