"""Who comes first where no calls are known: by distance, else one of each country in turn; never by number."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from pruner.account.summary import Summary
from pruner.ask.why import stories
from pruner.cli.summary_text import summary_text
from pruner.job import run
from pruner.reference import countries, geometry, middles
from pruner.settings.load import load_settings

STATIONS = """id,callsign,name,town,country
2321001,OE1AAA,Anna,Wien,Austria
2321002,OE9AAA,Bert,Nowhere at all,Austria
2621001,DL1AAA,Carl,Passau,Germany
2621002,DL2AAA,Dora,Hamburg,Germany
3021001,VE3AAA,Emil,Toronto,Canada
7241001,PY1AAA,Fritz,,Brazil
901001,,Gert,,
"""


def ranks(folder: Path, home: str, rule: str = "") -> list[int]:
    (folder / "s.csv").write_text(STATIONS)
    (folder / "p.toml").write_text(
        f'{home}\n[[source]]\nname = "w"\nlocation = "s.csv"\n[[keep]]\nname = "all"\n{rule}\n'
        '[[radio]]\nname = "r"\ncontacts = 3\n'
    )
    run(load_settings(folder / "p.toml"))
    ledger = pl.read_parquet(folder / "out" / "r" / "ledger.parquet")
    return ledger.sort("rank")["id"].to_list()


def test_the_middle_of_a_country_lies_between_its_places_even_across_the_180th_meridian() -> None:
    """The mean of directions, worked out by hand: on the equator, 170 E and 170 W have 180 between them."""
    assert abs(middles.middle_of([(0.0, 170.0), (0.0, -170.0)])[1]) == 180.0
    assert middles.middle_of([(10.0, 20.0), (-10.0, 20.0)]) == (0.0, 20.0)
    assert middles.middle_of([(48.123456, 11.987654)]) == (48.12, 11.99)


def test_middles_lie_near_the_capitals_of_small_countries() -> None:
    """Capitals (degrees from the CIA World Factbook, from memory); no place of these countries is 200 km from there."""
    for code, place in {
        "LU": (49.6, 6.1),
        "AD": (42.5, 1.5),
        "FJ": (-18.1, 178.4),
        "SG": (1.3, 103.8),
        "MT": (35.9, 14.5),
    }.items():
        latitude, longitude = middles.middles()[countries.NUMBERS[code]]
        metres = geometry.distance_metres(*place, np.array([latitude]), np.array([longitude]))[0]
        assert metres < 200_000, code


def test_by_distance_from_the_locator_with_the_middle_for_an_unknown_town(tmp_path: Path) -> None:
    """From Vienna: Vienna, Passau, the middle of Austria or the other way round, Hamburg, the far ones, the unknown last."""
    found = ranks(tmp_path, '[home]\nlocator = "JN88"')
    assert found[0] == 2321001
    assert set(found[1:3]) == {2321002, 2621001}
    assert found[3:] == [2621002, 3021001, 7241001, 901001]


def test_by_distance_from_the_middle_of_the_home_country(tmp_path: Path) -> None:
    assert ranks(tmp_path, '[home]\ncountry = "Brazil"')[0] == 7241001
    assert ranks(tmp_path, '[home]\ncountry = "Canada"')[0] == 3021001


@pytest.mark.parametrize("order", ["", 'order = "recent"', 'order = "often"', 'order = "expected"'])
def test_without_a_home_one_of_each_country_in_turn(tmp_path: Path, order: str) -> None:
    """Countries by code (AT, BR, CA, DE, then the unknown one), contacts by id; worked out by hand."""
    assert ranks(tmp_path, "", order) == [2321001, 7241001, 3021001, 2621001, 901001, 2321002, 2621002]


def test_explicit_orders_keep_their_meaning(tmp_path: Path) -> None:
    """`id` is the number; `nearest` has unknown places last, by id."""
    assert ranks(tmp_path, '[home]\ncountry = "Brazil"', 'order = "id"')[0] == 901001
    assert ranks(tmp_path, '[home]\nlocator = "JN88"', 'order = "nearest"')[-3:] == [901001, 2321002, 7241001]


def test_a_limit_takes_the_same_share_of_countries_of_any_number(tmp_path: Path) -> None:
    """Ten countries of 300 contacts each: a limit of 1,000 takes 100 of each."""
    codes = [202, 214, 222, 232, 262, 302, 440, 520, 724, 734]
    lines = [f"{code}{number:04},X{code}A,N" for code in codes for number in range(1000, 1300)]
    (tmp_path / "s.csv").write_text("id,callsign,name\n" + "\n".join(lines) + "\n")
    (tmp_path / "p.toml").write_text('[[source]]\nname = "w"\nlocation = "s.csv"\n[[radio]]\nname = "r"\ncontacts = 1000\n')
    run(load_settings(tmp_path / "p.toml"))
    ledger = pl.read_parquet(tmp_path / "out" / "r" / "ledger.parquet").filter(pl.col("outcome") == "kept")
    assert set(Counter(ledger["country"].to_list()).values()) == {100}


def test_terminal_page_and_why_tell_the_order_and_that_a_log_would_do_better(tmp_path: Path) -> None:
    ranks(tmp_path, '[home]\ncountry = "AT"')
    folder = tmp_path / "out" / "r"
    summary = Summary.load(folder)
    assert summary.rules[0].order == "distance"
    assert "the middle of Austria" in summary.order_note
    assert "log of heard calls" in " ".join(summary_text(summary, folder).split())
    assert "log of heard calls" in (folder / "report.html").read_text()
    story = stories(folder, "DL2AAA")[0]
    assert story.order == "distance"
    assert "log of heard calls" in (story.order_note or "")
