"""Contacts and layouts drawn at random, for the tests of layouts. All invented."""

from __future__ import annotations

from typing import Any

import polars as pl
from hypothesis import strategies as st

FIRST = ["Ada", "Bea", "Zoë", "Jürgen", "Łucja", "Åse", "Øyvind", "Ines", "Omar", "Iván", "Ο'Neil", "Bartholomäus"]
LAST = ["Maier", "Groß", "Sørlie", "Čech", "Dvořák", "Papadopoulou", "Nakamura", "Quist", "Ávila"]
TOWN = ["Graz", "Bad Ischl", "Łódź", "Aalborg", "São Tomé", "Linz; Urfahr", "Oberndorf, West", "Nes", ""]
STATE = ["Tirol", "Kärnten", "Jylland", "Bern", ""]
COUNTRY = {"AT": "Austria", "DE": "Germany", "DK": "Denmark", "PL": "Poland", "SE": "Sweden", "": ""}
TEXT_COLUMNS = ["callsign", "first_name", "last_name", "town", "state", "country"]


def frame(rows: list[dict[str, Any]]) -> pl.DataFrame:
    """A contacts frame as `write_layout` wants it; missing texts are empty, rank and id follow the order."""
    columns = {name: [str(row.get(name, "")) for row in rows] for name in [*TEXT_COLUMNS, "country_code", "kind", "rule"]}
    return pl.DataFrame(
        {
            "id": pl.Series([row["id"] for row in rows], dtype=pl.UInt32),
            **{name: pl.Series(values, dtype=pl.String) for name, values in columns.items()},
            "rank": pl.Series([row.get("rank", place + 1) for place, row in enumerate(rows)], dtype=pl.UInt32),
        }
    )


@st.composite
def contacts(draw: st.DrawFn, least: int, most: int, one_word_towns: bool = False) -> pl.DataFrame:
    """Contacts by id: ordinary call signs of their own, a town or a state missing here and there."""
    ids = sorted(draw(st.sets(st.integers(1_000_000, 7_999_999), min_size=least, max_size=most)))
    signs = draw(
        st.lists(st.from_regex(r"[A-Z]{2}[0-9][A-Z]{2,3}", fullmatch=True), unique=True, min_size=len(ids), max_size=len(ids))
    )
    ranks = draw(st.permutations(range(1, len(ids) + 1)))
    towns = [town for town in TOWN if not one_word_towns or " " not in town]
    rows = []
    for number, rank, sign in zip(ids, ranks, signs, strict=True):
        code = draw(st.sampled_from(sorted(COUNTRY)))
        rows.append(
            {
                "id": number,
                "rank": rank,
                "callsign": sign,
                "first_name": draw(st.sampled_from(FIRST)),
                "last_name": draw(st.sampled_from(LAST)),
                "town": draw(st.sampled_from(towns)),
                "state": draw(st.sampled_from(STATE)),
                "country": COUNTRY[code],
                "country_code": code,
                "kind": "person",
                "rule": "the rest",
            }
        )
    return frame(rows)
