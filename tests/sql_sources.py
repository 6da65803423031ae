"""Drawn directories, and exports of radios, of every shape that the contract of the main job knows; as files and as cells.

`tests/test_against_sql.py` compares what pruner and the SQL version make of them.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from hypothesis import strategies as st

from benchmarks.duckdb_records import Cells

NUMBERS: Final = [
    *(1, 12, 99999, 100000, 232123, 262001, 310123, 999999, 2320001, 2320002, 2321234, 2329999, 2621234, 2649999),
    *(3101234, 3401234, 9999999, 10000000, 16776415, 16776416, 16777215, 16777216, 65519, 65520, 65535, 65536, 0),
    *(100000000, 232000101, 232000102, 232123407, 262123499, 999999999, 1000000000, 2**32 + 2321234, 10**30),
]
STATIONS: Final = [232123, 262001, 2320001, 2320002, 2321234, 2329999, 2621234, 2649999, 3101234, 232123407]
ID_FORMS: Final = st.sampled_from(
    [
        *("{}", "{}", "{}", "{}", "0{}", "000{}", "{}.0", "{}.000", " {}", "{} ", "\u00a0{}", "\t{}", "{}\u2003"),
        *("{:,}", "{:_}", '="{}"', "'{}", "#{}", "{},0", "{:.6E}", "{:,}.00"),
    ]
)
BAD_IDS: Final = st.sampled_from(
    ["", " ", "-1", "+2321234", "1e6", "2321234.5", "2.32.1234", "2.32E+06", "0x10", "OE1ABC", "²", ".0", "1.0.0", "-", "n/a"]
)
SEVERAL_IDS: Final = [
    *("2320001 2321234", "2320001/2320002", "2321234, 262001", "232123407;2329999", "2320002 & 2320002 | 2649999"),
    *("2320001 und 2321234", "2320001, AND 2320002", "2320001 et 262001 et 2329999", "2320001 or", "2320001 with 2320002"),
    *("2320001 (car), 2321234 (home)", "2320001(a);2320002", "2320001 (1), 2320002 (2)"),
    *("2320001 12", "2320001, OE1ABC", "2320001 0000000", " 2620001+ 2621234 "),
]
IDS: Final = st.one_of(
    *[st.builds(str.format, ID_FORMS, st.one_of(*[st.sampled_from(STATIONS)] * 2, st.sampled_from(NUMBERS)))] * 5,
    BAD_IDS,
    st.sampled_from(SEVERAL_IDS),
    st.sampled_from(
        [
            *(
                "232 0001",
                "2 321 234",
                "2.321.234",
                "2’321’234",
                "２３２１２３４",
                "٢٣٢١٢٣٤",
                "2.321234e+6",
                "1e0",
                ' "2320002" ',
            ),
            *(
                "[2320001]",
                "DMR 2320001",
                "dmr-id: 2 320 001",
                "Nr. 232",
                "2320001*",
                "2320001 ¹",
                "\u200b2320001",
                "(2321234)",
            ),
            *("No", "ID"),
            *("232-0001", "262 \u2013 1234", "DMR 232\u20111234", "232-12345", "2321234-05", "2321234-5"),
            *("2321234 (car)", "2321234[at home]", "2321234 (no 2)", "232123 (x) (y)"),
        ]
    ),
)

SIGNS: Final = [
    *("OE1ABC", "OE1ABC", "OE9ZZ", "DB0ABC", "K1AB", "4U1ITU", "VP8XYZ", "VK9NA", "9A1A", "HB0ABC", "N0CALL", "Q0QQ"),
    *("SU9ABC", "É1A", "WØABC", "Bjørn", "OE1VBB¹", "ＯＥ１ＡＢＣ／Ｐ"),
    "\u041e\u04151\u0410\u0412\u0421",  # OE1ABC in Cyrillic letters
    "\u039f\u03951\u0391\u0392\u03a7",  # OE1ABX in Greek ones
    "\u041e\u04151\u0410\u0412\u0416",  # no Latin letter looks like the last one
]
SIGN_FORMS: Final = st.sampled_from(
    [
        *("{}", "{}", "{}", "{}", "{}/P", "{}/MM", "DL/{}", "F/{}/P", "LONGER99/{}", "{}-7", "{}-15", "{}-L"),
        *("{}-123", "-{}", "{}-", '"{}"', "{} (ex OE9OLD)", "{} *", "({})", "{}ж", "{}, DL1XYZ", "\u0415\u0410{}"),
    ]
)
SIGN_NOISE: Final = st.sampled_from(["{}", "{}", "{}", " {}", "{}\u200b", "\ufeff{}", "{}\u00a0", "{}\u202e"])
NO_SIGNS: Final = [
    "",
    " ",
    "\u200b",
    "\u00a0",
    "/",
    "-7",
    "/P",
    "A/B/CC/DD",
    "-",
    "unknown",
    "Total",
    "SUMME",
    "Total: 12",
    "Sum 1",
]


@st.composite
def callsigns(draw: st.DrawFn) -> str:
    if draw(st.integers(0, 6)) == 0:
        return draw(st.sampled_from(NO_SIGNS))
    text = draw(SIGN_NOISE).format(draw(SIGN_FORMS).format(draw(st.sampled_from(SIGNS))))
    if draw(st.booleans()):
        text = text.lower()
    return text[:3] + " " + text[3:] if draw(st.integers(0, 9)) == 0 else text


NAME_TEXTS: Final = [
    "",
    "",
    " ",
    "\u00a0",
    "Anna",
    "Zoë",
    'say "hi", Bob',
    "=1+1",
    "two\nlines",
    "\u200b",
    "-",
    "NULL",
    "Total",
]
COUNTRY_TEXTS: Final = [
    *("", "", "", " ", "Austria", "AUSTRIA ", "Österreich", "Germany", "deutschland", "U.S.A.", "USA", "Nowhere"),
    *("Guadeloupe", "at", "Germnay", "Austira", "Bayern", "Illinois", "Congo", "-", "NULL", "unknown", "040", "// gone"),
]
COUNTRY_NUMBERS: Final = ["040", "276", "276 ", "840", "", "-", "n/a"]
TOWN_TEXTS: Final = [
    *("", "", "Graz", "WIEN", "Linz ", "Salzburg", "Innsbruck", "Passau", "Berlin", "Springfield", "Nowhere", "Wien"),
    *("?", "unknown"),
]
STATE_TEXTS: Final = ["", "", "Illinois", "MO", "Tirol", "NULL", "-", "unknown"]
PLACE_TEXTS: Final = [
    *("Graz, Austria", "WIEN,Österreich", "Springfield, Illinois, USA", "A-6020, Innsbruck, Tirol, Austria", ", Germany"),
    *("Passau, Bayern, Germany ", "Berlin", "Linz, Nowhere", "Springfield, 62701 IL, U.S.A.", "", "-", "Salzburg,, Austria"),
]
NAMES, COUNTRIES, TOWNS, STATES = map(st.sampled_from, (NAME_TEXTS, COUNTRY_TEXTS, TOWN_TEXTS, STATE_TEXTS))
COLUMNS: Final = ("id", "callsign", "first_name", "last_name", "country", "town", "state")
FITS: Final = [*["fits"] * 5, "surplus empty", "surplus", "short"]
#: Lines that are no records, whatever the shape.
NO_RECORDS: Final = [
    *("comment", "comment over all columns", "headings", "headings, surplus empty", "blanks", "no blanks", "end mark"),
    "tagged number",
]
#: Its id is one of every system.
GOOD_LINE: Final = (("12", "OE1ABC", "Anna", "", "", "", ""), "fits")
Line = tuple[tuple[str, ...], str]


@dataclass(frozen=True)
class Source:
    """One CSV file: its headings, what they mean (as in `Cells`), and lines of (cells, how they fit). `is_named`: the settings
    say which column holds what."""

    name: str
    system: str
    columns: tuple[str, ...]
    lines: list[Line]
    meanings: Mapping[str, int] = field(default_factory=dict)
    more_ids: Sequence[int] = ()
    further: Sequence[Mapping[str, int]] = ()
    shape: str = "plain"

    @property
    def is_named(self) -> bool:
        return not self.meanings

    def texts(self) -> list[list[str]]:
        """The cells of each line as they stand in the file."""
        return [list(_line(cells, fit, self.columns)) for cells, fit in self.lines]

    def cells(self) -> Cells:
        """The source as text cells, with which column holds what."""
        meanings = self.meanings or {column: place for place, column in enumerate(self.columns, 1)}
        return Cells(self.name, self.system, self.columns, meanings, self.texts(), self.more_ids, self.further)

    def write(self, path: Path) -> None:
        with path.open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file)
            writer.writerow(self.columns)
            writer.writerows(self.texts())


def _line(cells: Sequence[str], fit: str, headings: Sequence[str]) -> Sequence[str]:
    match fit:
        case "surplus empty":
            return [*cells, ""]
        case "surplus":
            return [*cells, "x"]
        case "short":
            return cells[:-1]
        case "ragged":
            filled = [place for place, cell in enumerate(cells, 1) if cell.strip()]
            return cells[: max(filled, default=1)]
        case "comment":
            return ["# of last month"]
        case "comment over all columns":
            return ["// gone", *cells[1:]]
        case "headings":
            return headings
        case "headings, surplus empty":
            return [*headings, " "]
        case "blanks":
            return [" "] * len(headings)
        case "no blanks":
            return [""] * (len(headings) - 1)
        case "end mark":
            return ["\x1a"]
        case "tagged number":
            return ["#2320001"]
    return cells


@st.composite
def lines_of(
    draw: st.DrawFn, good: st.SearchStrategy[tuple[str, ...]], dirty: st.SearchStrategy[tuple[str, ...]]
) -> list[Line]:
    """Lines of which three in four are good, so that the reader takes the file; one in three of the others misfits."""
    bad = draw(st.lists(dirty, min_size=1, max_size=8))
    lines: list[Line] = [(draw(good), "fits") for _ in range(3 * len(bad) + 3)]
    for place, cells in enumerate(bad):
        fit = draw(st.sampled_from(FITS)) if place % 3 == 2 else "fits"
        lines.insert(draw(st.integers(0, len(lines))), (cells, fit))
    return _with_no_records(draw, lines)


def _with_no_records(draw: st.DrawFn, lines: list[Line]) -> list[Line]:
    """With lines that are no records. Headings once more stand below a record: directly below the headings, the reader takes
    them for a second line of these and does not count them."""
    for fit in draw(st.lists(st.sampled_from(NO_RECORDS), max_size=2)):
        lines.insert(draw(st.integers(2 if fit.startswith("headings") else 0, len(lines))), (lines[0][0], fit))
    return lines


#: Stations whose id, call sign and country agree.
GOOD: Final = [
    *(("2320001", "OE1ABC", "Austria"), ("2320002", "OE9ZZ", "Österreich"), ("2321234", "OE3XYZ", "Austria")),
    *(("2329999", "OE5AAA", "Austria"), ("2621234", "DB0ABC", "Germany"), ("2649999", "DL1ABC", "deutschland")),
    *(("3101234", "K1AB", "USA"), ("2628888", "DL9ZZ", "Germany"), ("232123407", "OE1ABC", "Austria")),
]
STATION: Final = st.sampled_from(GOOD)
SYSTEM_CELLS: Final = ["DMR", "P25 Phase 2", "NXDN", " P25 ", "DMR/NXDN", "analogue", "Tier 2", "all", "a new one", "P25"]
COUNTRY_OF_NUMBER: Final = {"Austria": "040", "Österreich": "040", "Germany": "276", "deutschland": "276", "USA": "840"}


@st.composite
def plain(draw: st.DrawFn, name: str) -> Source:
    """Columns in any order, of any system, named in the settings."""
    lines: list[Line] = []
    for place in range(draw(st.integers(1, 25))):
        cells = draw(st.tuples(IDS, callsigns(), NAMES, NAMES, COUNTRIES, TOWNS, STATES))
        lines += [(cells, draw(st.sampled_from(FITS)) if place % 3 == 2 else "fits")]
    lines = _with_no_records(draw, [*[GOOD_LINE] * (len(lines) + 4), *lines])
    system = draw(st.sampled_from(["dmr", "dmr", "dmr", "nxdn", "p25"]))
    order = draw(st.permutations(range(len(COLUMNS))))
    lines = [(tuple(cells[place] for place in order), fit) for cells, fit in lines]
    return Source(name, system, tuple(COLUMNS[place] for place in order), lines)


@st.composite
def columns_of_ids(draw: st.DrawFn, name: str) -> Source:
    """Each row has up to three ids in columns of their own."""
    second = st.sampled_from(["", " ", "{0}7777", "{0}1777", "{0}7777", "-"])
    good = st.tuples(STATION, second, NAMES).map(
        lambda drawn: (drawn[0][0], drawn[1].format(drawn[0][0][:3]), drawn[0][1], drawn[2], drawn[0][2])
    )
    dirty = st.tuples(IDS, st.sampled_from(["", "2327777", "12a", "-", "2321777 2327777"]), callsigns(), NAMES, COUNTRIES)
    lines = draw(lines_of(good, dirty))
    lines += [((GOOD[at][0], f"{GOOD[at][0][:3]}{at}777", GOOD[at][1], "Anna", GOOD[at][2]), "fits") for at in range(1, 8)]
    headings = ("DMR ID 1", "DMR ID 2", "Call sign", "Name", "Country")
    return Source(name, "dmr", headings, lines, {"id": 1, "callsign": 3, "name": 4, "country": 5}, (2,), shape="columns of ids")


@st.composite
def side_by_side(draw: st.DrawFn, name: str) -> Source:
    """Two or three tables under headings that repeat, with or without an empty column between, and a country for all."""
    tables, gap = draw(st.integers(2, 3)), draw(st.integers(0, 1))
    headings = ["Country", *(["DMR ID", "Call sign", "Name", *[""] * gap] * tables)][: 1 + tables * (3 + gap) - gap]
    empty = st.just(("", "", ""))
    good = st.tuples(STATION, st.sampled_from(["Anna", "", "Total"])).map(lambda drawn: (*drawn[0][:2], drawn[1]))
    dirty = st.tuples(IDS, callsigns(), NAMES)

    country = st.one_of(*[st.sampled_from(["Austria", "Germany", "USA", "", "-"])] * 4, COUNTRIES)

    def row(first: st.SearchStrategy[tuple[str, ...]]) -> st.SearchStrategy[tuple[str, ...]]:
        others = [st.one_of(*[good] * 5, empty, dirty) for _ in range(tables - 1)]
        return st.tuples(country, first, *others).map(
            lambda drawn: (drawn[0], *[cell for entry in drawn[1:] for cell in (*entry, *[""] * gap)][: len(headings) - 1])
        )

    lines = draw(lines_of(row(good), row(st.one_of(dirty, empty))))
    stations = [(*GOOD[at][:2], "Anna") for at in range(6)]  # each table is one of stations
    filler = [""] * gap
    lines += [
        (("Austria", *[cell for _ in range(tables) for cell in (*one, *filler)][: len(headings) - 1]), "fits")
        for one in stations
    ]
    lines = [(cells, "ragged" if fit in ("short", "surplus empty") else fit) for cells, fit in lines]
    starts = [2 + table * (3 + gap) for table in range(tables)]
    blocks = [{"id": start, "callsign": start + 1, "name": start + 2} for start in starts]
    return Source(name, "dmr", tuple(headings), lines, {**blocks[0], "country": 1}, (), blocks[1:], "side by side")


@st.composite
def places_in_one(draw: st.DrawFn, name: str) -> Source:
    """Town, state and country in one cell."""
    good = st.tuples(STATION, NAMES, st.sampled_from(PLACE_TEXTS[:4])).map(lambda drawn: (*drawn[0][:2], *drawn[1:]))
    dirty = st.tuples(IDS, callsigns(), NAMES, st.sampled_from(PLACE_TEXTS))
    headings = ("DMR ID", "Call sign", "Name", "Town")
    meanings = {"id": 1, "callsign": 2, "name": 3, "place": 4}
    return Source(name, "dmr", headings, draw(lines_of(good, dirty)), meanings, shape="places in one cell")


@st.composite
def calls_in_names(draw: st.DrawFn, name: str) -> Source:
    """A call sign and a name in one cell."""
    forms = st.sampled_from(["{} Annabella", "{}: Bertholdo", "{}, Carlotta", "{} (Dorothea)", "{} - Emilia Eva"])
    good = st.tuples(STATION, forms).map(lambda drawn: (drawn[0][0], drawn[1].format(drawn[0][1]), drawn[0][2]))
    odd = st.sampled_from(["Annabella", "OE1ABC", "OE1ABC 7", "oe1abc/p Annabella", "", "Total", "Summe: 7", "-", "ZZZZ Anna"])
    dirty = st.tuples(IDS, odd, COUNTRIES)
    meanings = {"id": 1, "call_and_name": 2, "country": 3}
    return Source(name, "dmr", ("DMR ID", "Name", "Country"), draw(lines_of(good, dirty)), meanings, shape="calls in names")


@st.composite
def calls_in_ids(draw: st.DrawFn, name: str) -> Source:
    """An id and a call sign in one cell. Good lines name the station's country: a column headed as countries of whose cells
    under a quarter name one is none ("Columns" in DEVELOPERS.md), and which column holds what the SQL version is given."""
    forms = st.sampled_from(["{0} {1}", "{1} ({0})", "{0}/{1}", "{1}: {0}"])
    good = st.tuples(STATION, forms, NAMES).map(lambda drawn: (drawn[1].format(*drawn[0]), drawn[2], drawn[0][2]))
    odd = st.sampled_from(
        ["2320001", "OE1ABC", "2320001 2321234 OE1ABC", "12a OE1ABC", "", "Total", "2320001 OE1ABC DL1ABC", "-"]
    )
    dirty = st.tuples(odd, NAMES, COUNTRIES)
    meanings = {"id_and_call": 1, "name": 2, "country": 3}
    return Source(name, "dmr", ("DMR ID", "Name", "Country"), draw(lines_of(good, dirty)), meanings, shape="calls in ids")


@st.composite
def numbered_countries(draw: st.DrawFn, name: str) -> Source:
    """Countries as their numbers (ISO 3166-1)."""
    good = st.tuples(STATION, NAMES).map(lambda drawn: (*drawn[0][:2], drawn[1], COUNTRY_OF_NUMBER[drawn[0][2]]))
    dirty = st.tuples(IDS, callsigns(), NAMES, st.sampled_from(COUNTRY_NUMBERS))
    headings = ("DMR ID", "Call sign", "Name", "Country")
    meanings = {"id": 1, "callsign": 2, "name": 3, "country": 4}
    return Source(name, "dmr", headings, draw(lines_of(good, dirty)), meanings, shape="numbered countries")


@st.composite
def systems_in_rows(draw: st.DrawFn, name: str) -> Source:
    """A column that says of which system a row is."""
    system = draw(st.sampled_from(["dmr", "dmr", "p25"]))
    good = st.tuples(STATION, NAMES, st.sampled_from(["DMR", "P25"])).map(lambda drawn: (*drawn[0], drawn[1], drawn[2]))
    dirty = st.tuples(IDS, callsigns(), COUNTRIES, NAMES, st.sampled_from([*SYSTEM_CELLS, ""]))
    lines = draw(lines_of(good, dirty))
    lines += [((*GOOD[0], "Anna", system.upper()), "fits")]
    headings = (f"{system.upper()} ID", "Call sign", "Country", "Name", "System")
    meanings = {"id": 1, "callsign": 2, "country": 3, "name": 4, "entry_system": 5}
    return Source(name, system, headings, lines, meanings, shape="systems in rows")


SHAPES: Final = {
    "plain": plain,
    "columns of ids": columns_of_ids,
    "side by side": side_by_side,
    "places in one cell": places_in_one,
    "calls in names": calls_in_names,
    "calls in ids": calls_in_ids,
    "numbered countries": numbered_countries,
    "systems in rows": systems_in_rows,
}


@st.composite
def source_lists(draw: st.DrawFn, shape: str | None = None) -> list[Source]:
    """One or two sources; the first of a shape (None: any)."""
    first = draw(st.sampled_from(["plain", *SHAPES])) if shape is None else shape
    others = draw(st.lists(st.sampled_from(["plain", "plain", *SHAPES]), max_size=1))
    return [draw(SHAPES[one](name)) for name, one in zip(["world", "club"], [first, *others], strict=False)]


@st.composite
def exports(draw: st.DrawFn, name: str, system: str) -> Source:
    """The export of a radio, in which a column says which entries are groups."""
    kinds = st.sampled_from(["Private", "Private", "Group", "all call"])
    dirty = st.tuples(IDS, callsigns(), NAMES, kinds, COUNTRIES)
    good = st.just(("12", "OE1ABC", "Anna", "Private", ""))
    lines = draw(lines_of(good, dirty))
    lines += [(("2321234", "OE1ABC", "Anna", "Private", "Austria"), "fits"), (("16777215", "", "All", "all call", ""), "fits")]
    headings = ("id", "callsign", "name", "kind of entry", "country")
    meanings = {"id": 1, "callsign": 2, "name": 3, "kind": 4, "country": 5}
    return Source(name, system, headings, lines, meanings, shape="export")
