"""Files that layouts describe: golden cases, another reader, what is counted, faults that reading back must find."""

from __future__ import annotations

import csv
import io
import json
import tempfile
from pathlib import Path

import polars as pl
import pytest
from draws import draws
from hypothesis import given
from hypothesis import strategies as st
from layout_samples import frame

from pruner.layout import write
from pruner.layout.cells import FALLBACK, cells_of
from pruner.layout.model import layout_of, load_layout
from pruner.layout.read import read_contacts
from pruner.layout.verify import read_cells, verify_file
from pruner.layout.write import Written, write_layout
from pruner.words.errors import PrunerError, SettingsError

GOLDEN = Path(__file__).parent / "golden" / "layouts"
FIXTURES = Path(__file__).parent.parent / "fixtures" / "layouts"
CASES = sorted(path.parent for path in GOLDEN.glob("*/layout.toml"))
ENDINGS = {"lf": "\n", "crlf": "\r\n", "cr": "\r"}


def golden_people() -> pl.DataFrame:
    people = pl.read_csv(GOLDEN / "contacts.csv", schema_overrides={"id": pl.UInt32, "rank": pl.UInt32})
    return people.with_columns(pl.col(pl.String).fill_null(""))


def written(people: pl.DataFrame, text: str, folder: Path) -> Written:
    return write_layout(people, layout_of(text, draft=True), folder, "contacts")


def lines(people: pl.DataFrame, text: str, folder: Path) -> list[str]:
    """The lines of the one file that a layout without headings writes in UTF-8 with line feeds."""
    found = written(people, f'[file]\nheadings = false\nline_ending = "lf"\n{text}', folder)
    return found.files[0].read_text(encoding="utf-8").splitlines()


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_golden_cases(case: Path, tmp_path: Path) -> None:
    """Looked through by hand; "rfc4180" shows the rules of RFC 4180, section 2."""
    found = write_layout(golden_people(), load_layout(case / "layout.toml"), tmp_path, "contacts")
    expected = sorted(path for path in case.iterdir() if path.name not in ("layout.toml", "counts.json"))
    assert [path.name for path in found.files] == [path.name for path in expected]
    assert [path.read_bytes() for path in found.files] == [path.read_bytes() for path in expected]
    assert dict(found.counts) == json.loads((case / "counts.json").read_text())


@pytest.mark.parametrize("name", ["loan-handheld", "base-station", "car-radio"])
def test_the_examples_are_among_the_golden_cases(name: str) -> None:
    example = load_layout(FIXTURES / f"{name}.layout.toml")
    case = load_layout(GOLDEN / name / "layout.toml")
    same = {"rows_per_file": None}
    assert example.model_copy(update={"file": example.file.model_copy(update=same)}) == case.model_copy(
        update={"file": case.file.model_copy(update=same)}
    )


def test_the_example_of_the_standard(tmp_path: Path) -> None:
    """RFC 4180, section 2, rules 5 to 7: "aaa","b""bb","ccc"."""
    person = {"id": 1, "first_name": "aaa", "last_name": 'b"bb', "town": "ccc"}
    columns = "".join(f'[[column]]\nvalue = "{{{name}}}"\n' for name in ("first_name", "last_name", "town"))
    found = written(frame([person]), f'[file]\nheadings = false\nquoting = "all"\n{columns}', tmp_path)
    assert found.files[0].read_bytes() == b'"aaa","b""bb","ccc"\r\n'


ANY_CELL = st.one_of(
    st.sampled_from(["", " ", "a;b", 'say "x"', "tab\there", "two\nlines", "a,b", "=1", "Zoë", "花子", "🙂🇦🇹", "e\u0301x"]),
    st.text(st.characters(exclude_categories=["Cs"]), max_size=12),
)


@st.composite
def people_and_layouts(draw: st.DrawFn) -> tuple[pl.DataFrame, str]:
    names = ["callsign", "first_name", "last_name", "town"]
    rows = draw(st.lists(st.tuples(*[ANY_CELL] * 4), max_size=5))
    people = frame([{"id": 1000 + at, **dict(zip(names, row, strict=True))} for at, row in enumerate(rows)])
    kind = draw(st.sampled_from(["delimited", "delimited", "fixed"]))
    form = {
        "kind": kind,
        "encoding": draw(st.sampled_from(["utf-8", "cp1252", "ascii", "utf-16", "utf-16-be", "utf-32", "shift_jis"])),
        "line_ending": draw(st.sampled_from(list(ENDINGS))),
        "width_unit": draw(st.sampled_from(["units", "characters"] if kind == "delimited" else ["units"])),
        "cut": draw(st.sampled_from(["word", "letter"])),
        "order": draw(st.sampled_from(["id", "callsign", "rank"])),
    }
    if kind == "delimited":
        form |= {
            "delimiter": draw(st.sampled_from([",", ";", "\t", "|", "^"])),
            "quoting": draw(st.sampled_from(["as needed", "all", "none"])),
        }
    values = draw(
        st.lists(
            st.sampled_from(["{callsign}", "{first_name} {last_name}", "{town}", "{id}", "{number}", "x", "({town})", ""]),
            min_size=1,
            max_size=5,
        )
    )
    parts = ["[file]", *(f"{key} = {json.dumps(value)}" for key, value in form.items())]
    for place, value in enumerate(values):
        parts += ["[[column]]", f'title = "T{place}"', f"value = {json.dumps(value)}"]
        if kind == "fixed" or draw(st.booleans()):
            parts.append(f"width = {draw(st.integers(5, 12))}")
    return people, "\n".join(parts)


@draws(70)
@given(case=people_and_layouts())
def test_any_text_comes_back_through_another_reader(case: tuple[pl.DataFrame, str]) -> None:
    """Read by Python's csv module and codecs, which neither the writer nor the reading back uses for cells."""
    people, text = case
    layout = layout_of(text, draft=True)
    with tempfile.TemporaryDirectory() as folder:
        found = write_layout(people, layout, Path(folder), "contacts")
        data = found.files[0].read_bytes()
    own = write.cells_of(write._ordered(people, layout.file.order), layout).frame
    decoded = data.decode("utf-16" if "16" in layout.file.encoding else layout.file.encoding)
    ending = ENDINGS[layout.file.line_ending]
    assert decoded.endswith(ending)
    if layout.file.kind == "fixed":
        rows = decoded.split(ending)[1:-1]
        unit = {"utf-16": 2, "utf-16-be": 2, "utf-32": 4}.get(layout.file.encoding, 1)
        total = sum(column.width or 0 for column in layout.columns)
        assert all(len(row.encode(layout.encoding.codec)) == total * unit for row in rows)
        assert rows == ["".join(row) for row in own.rows()]
        return
    quoting = csv.QUOTE_NONE if layout.file.quoting == "none" else csv.QUOTE_MINIMAL
    rows = list(csv.reader(io.StringIO(decoded, newline=""), delimiter=layout.file.delimiter, quoting=quoting))
    wanted = [list(row) for row in own.rows()]
    if own.width == 1:  # csv gives an empty line as a row without cells
        rows = [row or [""] for row in rows]
    assert rows == [[column.title for column in layout.columns], *wanted]


def test_signs_that_begin_a_formula(tmp_path: Path) -> None:
    """OWASP "CSV Injection" names = + - @ (from memory)."""
    people = frame([{"id": at, "first_name": f"{sign}1+1", "town": "Graz"} for at, sign in enumerate("=+-@＝", 1)])
    assert lines(people, '[[column]]\nvalue = "{first_name}"\n', tmp_path) == ["1+1"] * 5
    assert lines(people, '[[column]]\nvalue = "{first_name} {town}"\n', tmp_path) == ["1+1 Graz"] * 5
    # Behind other text the sign is harmless, and a sign that the layout itself sets is meant.
    assert lines(people, '[[column]]\nvalue = "{town} {first_name}"\n', tmp_path)[0] == "Graz =1+1"
    assert lines(people, '[[column]]\nvalue = "+{id}"\n', tmp_path)[0] == "+1"
    quoted = frame([{"id": 1, "first_name": '"=1+1'}])
    assert lines(quoted, 'quoting = "none"\n[[column]]\nvalue = "{first_name}"\n', tmp_path) == ["1+1"]


def test_what_is_empty(tmp_path: Path) -> None:
    people = frame(
        [{"id": 1, "first_name": "Ada"}, {"id": 2, "town": "Graz"}, {"id": 3}, {"id": 4, "first_name": "=", "callsign": "X"}]
    )
    whole = '[[column]]\nvalue = "{first_name}, {town}"\nfallback = "{callsign}?"\n[[column]]\nvalue = "."\n'
    assert lines(people, whole, tmp_path) == ["Ada,.", "Graz,.", ",.", "X?,."]
    found = written(people, f"[file]\nheadings = false\n{whole}", tmp_path)
    assert dict(found.counts) == {"fallback of the layout used": 1, "formula start removed for the layout": 1}


def test_nothing_but_the_start_of_a_formula_is_nothing() -> None:
    people = frame([{"id": 1, "callsign": "=", "first_name": "-"}, {"id": 2, "callsign": "OE1XYZ", "first_name": "=Ada"}])
    for value in ("{callsign}", "{callsign} {town}", "{first_name} {town}"):
        text = f'[file]\nheadings = false\n[[column]]\nvalue = "{value}"\nfallback = "none"\n[[column]]\nvalue = "{{id}}"\n'
        cells = cells_of(people, layout_of(text))
        assert cells.frame["0"].to_list() == ["none", "Ada" if "first" in value else "OE1XYZ"]
        assert cells.counts[FALLBACK] == 1


@pytest.mark.parametrize(
    ("form", "is_closed"),
    [
        ('kind = "fixed"\nwidth_unit = "characters"', True),
        ('kind = "fixed"\nwidth_unit = "bytes"', False),
        ('width_unit = "characters"', False),
    ],
)
def test_half_a_flag_stays_where_no_neighbour_is_counted_with_it(form: str, is_closed: bool) -> None:
    """UAX #29, GB12: two regional indicators beside each other are one character; only fixed columns counted in characters have
    neighbours and count them."""
    columns = '[[column]]\nvalue = "{town}"\nwidth = 12\n[[column]]\nvalue = "{id}"\nwidth = 8\n'
    text = f"[file]\nheadings = false\n{form}\n{columns}"
    cell = cells_of(frame([{"id": 1, "town": "Graz\U0001f1e6"}]), layout_of(text)).frame["0"].to_list()[0]
    assert cell.rstrip() == ("Graz" if is_closed else "Graz\U0001f1e6")


def test_counts_are_in_contacts(tmp_path: Path) -> None:
    people = frame([{"id": 1, "first_name": "Łucja", "last_name": "Łódź"}, {"id": 2, "first_name": "Ada", "last_name": "B"}])
    text = '[file]\nencoding = "ascii"\nheadings = false\n' + "".join(
        f'[[column]]\nvalue = "{{{name}}}"\nwidth = 2\n' for name in ("first_name", "last_name", "first_name")
    )
    assert dict(written(people, text, tmp_path).counts) == {
        "transliterated for the layout": 1,
        "shortened for the layout": 2,
    }


@pytest.mark.parametrize("value", ["{id}", "{number}"])
def test_a_number_is_never_shortened(value: str, tmp_path: Path) -> None:
    people = frame([{"id": 2320000 + at} for at in range(12)])
    width = 6 if value == "{id}" else 1
    text = f'[file]\nheadings = false\n[[column]]\nvalue = "{value}"\nwidth = {width}\n'
    with pytest.raises(SettingsError, match=r"column 1 '': (id 2320000|number 10) is longer than the width of [61]; widen"):
        written(people, text, tmp_path)


def test_an_id_in_place_of_a_call_sign_is_never_shortened(tmp_path: Path) -> None:
    people = frame([{"id": 2320000, "callsign": "OE1ABC"}, {"id": 2320001}])
    text = '[file]\nheadings = false\n[[column]]\nvalue = "{callsign}"\nfallback = "{id}"\nwidth = 4\n'
    with pytest.raises(SettingsError, match="id 2320001 is longer than the width of 4"):
        written(people, text, tmp_path)


@pytest.mark.parametrize(("count", "names"), [(0, ["01"]), (1, ["01"]), (3, ["01"]), (4, ["01", "02"]), (300, None)])
def test_split_files(count: int, names: list[str] | None, tmp_path: Path) -> None:
    people = frame([{"id": 1 + at} for at in range(count)])
    text = (
        '[file]\nrows_per_file = 3\nnumber_from = 0\n[[column]]\ntitle = "a"\nvalue = "{number}"\n'
        '[[column]]\ntitle = "b"\nvalue = "{number_in_file}"\n'
    )
    found = written(people, text, tmp_path)
    expected = names or [f"{at:03}" for at in range(1, 101)]
    assert [path.name for path in found.files] == [f"contacts-{name}.csv" for name in expected]
    tables = [path.read_text().splitlines() for path in found.files]
    assert all(table[0] == "a,b" and len(table) <= 4 for table in tables)
    rows = [row for table in tables for row in table[1:]]
    assert rows == [f"{at},{at % 3}" for at in range(count)]


def test_orders_end_in_the_order_given(tmp_path: Path) -> None:
    people = frame([{"id": 10 - at, "callsign": sign, "rank": 5 - at} for at, sign in enumerate(["B", "", "A", "B", ""])])
    ids = '[[column]]\nvalue = "{id}"\n'
    assert lines(people, f'order = "callsign"\n{ids}', tmp_path) == ["8", "10", "7", "9", "6"]
    assert lines(people, f'order = "rank"\n{ids}', tmp_path) == ["6", "7", "8", "9", "10"]
    assert lines(people, ids, tmp_path) == ["10", "9", "8", "7", "6"]


def test_the_input_frame_is_not_changed(tmp_path: Path) -> None:
    people = golden_people()
    before = people.clone()
    copies = [pl.Series(column.name, column.to_list(), dtype=column.dtype) for column in people]
    for case in CASES:
        write_layout(people, load_layout(case / "layout.toml"), tmp_path, "contacts")
    assert people.equals(before)
    assert [column.to_list() for column in people] == [column.to_list() for column in copies]


def test_a_field_in_two_columns(tmp_path: Path) -> None:
    people = frame([{"id": 1, "town": "Bad Ischl"}, {"id": 2, "town": "Łódź"}])
    text = "".join(f'[[column]]\nvalue = "{{town}}"\n{width}\n' for width in ("width = 3", "", "width = 4"))
    assert lines(people, text, tmp_path) == ["Bad,Bad Ischl,Bad", "Ł,Łódź,Łó"]


def test_an_empty_line_is_never_a_record(tmp_path: Path) -> None:
    """With one column, nothing between two line ends would be no record for most readers."""
    people = frame([{"id": 1, "town": "Graz"}, {"id": 2}])
    assert lines(people, '[[column]]\nvalue = "{town}"\n', tmp_path) == ["Graz", '""']
    assert lines(people, '[[column]]\nvalue = "{town}"\n[[column]]\nvalue = "{state}"\n', tmp_path) == ["Graz,", ","]


def test_a_mark_without_a_letter_does_not_bind_to_what_stands_before(tmp_path: Path) -> None:
    people = frame([{"id": 1, "town": "\u0301\u0308Graz"}])
    columns = "".join(f'[[column]]\nvalue = "{{{name}}}"\nwidth = {width}\n' for name, width in (("id", 3), ("town", 5)))
    text = f'kind = "fixed"\nwidth_unit = "characters"\n{columns}'
    assert lines(people, text, tmp_path) == ["1  Graz "]


def test_another_set_of_fields(tmp_path: Path) -> None:
    groups = pl.DataFrame({"number_on_air": pl.Series([91, 232], dtype=pl.UInt32), "name": ["World", "Österreich"]})
    text = (
        '[file]\nencoding = "ascii"\n[[column]]\ntitle = "Group"\nvalue = "{number_on_air}"\n'
        '[[column]]\ntitle = "Label"\nvalue = "{name}"\n'
    )
    layout = layout_of(text, fields=groups.columns)
    data = write_layout(groups, layout, tmp_path, "groups").files[0].read_bytes()
    assert data == b"Group,Label\r\n91,World\r\n232,Osterreich\r\n"
    with pytest.raises(SettingsError, match='there is no field "callsign"'):
        layout_of('[[column]]\ntitle = "x"\nvalue = "{callsign}"', fields=groups.columns)
    with pytest.raises(SettingsError, match=r"file\.order: expected one of"):
        layout_of('[file]\norder = "callsign"\n' + text.partition("\n")[2], fields=groups.columns)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
@pytest.mark.parametrize("fault", ["one letter", "a row less", "two rows changed about", "cut off", "a row more"])
def test_reading_back_finds_faults(case: Path, fault: str, tmp_path: Path) -> None:
    layout = load_layout(case / "layout.toml")
    path = write_layout(golden_people(), layout, tmp_path, "contacts").files[0]
    rows = cells_of(write._ordered(golden_people(), layout.file.order), layout).frame[: layout.file.rows_per_file]
    verify_file(path, rows, layout)
    text = path.read_bytes()[len(layout.mark) :].decode(layout.encoding.codec)
    lines = text.removesuffix(layout.line_ending).split(layout.line_ending)
    if fault == "one letter":
        lines[-1] = lines[-1].replace("2", "3")
    elif fault == "a row less":
        del lines[-2]
    elif fault == "two rows changed about":
        lines[-1], lines[-2] = lines[-2], lines[-1]
    elif fault == "cut off":
        lines[-1] = lines[-1][:-1]
    else:
        lines.append(lines[-1])
    changed = layout.line_ending.join([*lines, ""])
    assert changed != text
    path.write_bytes(layout.mark + changed.encode(layout.encoding.codec))
    with pytest.raises(PrunerError, match="read"):
        verify_file(path, rows, layout)


@pytest.mark.parametrize("fault", ["heading", "mark", "encoding"])
def test_reading_back_looks_at_the_beginning(fault: str, tmp_path: Path) -> None:
    layout = load_layout(FIXTURES / "car-radio.layout.toml")
    path = write_layout(golden_people(), layout, tmp_path, "contacts").files[0]
    rows = read_cells(path, layout)[1]
    data = path.read_bytes()
    broken = {"heading": data.replace(b"S\0h", b"s\0h", 1), "mark": data[2:], "encoding": data[:-1]}[fault]
    path.write_bytes(broken)
    with pytest.raises(PrunerError, match=r"headings|byte-order mark|not text in utf-16"):
        verify_file(path, rows, layout)


def test_a_fault_while_writing_is_found(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = write._text
    monkeypatch.setattr(write, "_text", lambda rows, layout: real(rows.reverse(), layout))
    with pytest.raises(PrunerError, match="read back, row 1 of column"):
        write_layout(golden_people(), load_layout(FIXTURES / "base-station.layout.toml"), tmp_path, "contacts")


def test_reading_by_a_layout_gives_the_fields(tmp_path: Path) -> None:
    text = (
        '[file]\nkind = "fixed"\nencoding = "utf-8"\nheadings = false\n'
        '[[column]]\nvalue = "{id}"\nwidth = 9\npad = "left"\npad_with = "0"\n'
        '[[column]]\nvalue = " {callsign} {first_name} {last_name}"\nwidth = 34\n'
        '[[column]]\nvalue = "{town} ({country})"\nwidth = 40\n'
    )
    people = golden_people()
    path = written(people, text, tmp_path).files[0]
    found = read_contacts(path, layout_of(text), "layout")
    assert found["id"].to_list() == [str(number) for number in people["id"]]
    assert found.columns == ["callsign", "id", "first_name", "last_name", "country", "town"]
    full = people.with_row_index("row").filter(
        pl.all_horizontal(pl.col("callsign", "first_name", "last_name", "town", "country") != "") & (pl.col("kind") == "person")
    )
    for row in full.iter_rows(named=True):
        got = found.row(row["row"], named=True)
        assert {name: got[name] for name in ("callsign", "town", "country")} == {
            name: row[name] for name in ("callsign", "town", "country")
        }
        assert f"{got['first_name']} {got['last_name']}" == f"{row['first_name']} {row['last_name']}"


def test_a_field_is_read_from_the_column_that_holds_it_alone(tmp_path: Path) -> None:
    text = (
        '[file]\nheadings = false\n[[column]]\nvalue = "{callsign} {first_name}"\nwidth = 8\n'
        '[[column]]\nvalue = "{first_name}"\n[[column]]\nvalue = "{id}"\n[[column]]\nvalue = "{country_code}"\n'
    )
    path = written(frame([{"id": 7, "callsign": "OE1AA", "first_name": "Ada", "country_code": "AT"}]), text, tmp_path).files[0]
    assert path.read_text() == "OE1AA Ad,Ada,7,AT\n"
    found = read_contacts(path, layout_of(text), "layout")
    assert found.rows(named=True) == [{"id": "7", "callsign": "OE1AA", "first_name": "Ada", "country": "AT"}]


def test_a_cell_with_fewer_words_than_its_template_keeps_them_apart(tmp_path: Path) -> None:
    text = '[file]\nheadings = false\n[[column]]\nvalue = "{id}"\n[[column]]\nvalue = "{callsign} {first_name} {last_name}"\n'
    path = tmp_path / "old.csv"
    path.write_text("1,OE1AAA Ada Lind\n2,OE1BBB Bo\n3,OE1CCC\n4,OE1DDD Eva Maria Holm\n")
    found = read_contacts(path, layout_of(text), "layout")
    assert found.rows() == [
        ("OE1AAA", "1", "Ada", "Lind"),
        ("OE1BBB", "2", "Bo", ""),
        ("OE1CCC", "3", "", ""),
        ("OE1DDD", "4", "Eva", "Maria Holm"),
    ]


@pytest.mark.parametrize(
    ("town", "name"),
    [
        ("Graz", "\N{THAI CHARACTER SARA AM}x"),
        ("Graz\N{ZERO WIDTH JOINER}", "\N{WOMAN}"),
        ("\N{REGIONAL INDICATOR SYMBOL LETTER A}", "\N{REGIONAL INDICATOR SYMBOL LETTER T}"),
        ("\N{WOMAN}\N{ZERO WIDTH JOINER}", "\N{WOMAN}"),
        ("\N{HANGUL CHOSEONG KIYEOK}", "\N{HANGUL JUNGSEONG A}"),
        ("\N{HANGUL SYLLABLE GA}", "\N{HANGUL SYLLABLE GA}"),
    ],
)
def test_characters_of_neighbouring_fixed_columns_never_become_one(tmp_path: Path, town: str, name: str) -> None:
    text = (
        '[file]\nkind = "fixed"\nwidth_unit = "characters"\nheadings = false\n'
        '[[column]]\nvalue = "{town}"\nwidth = 1\n'
        '[[column]]\nvalue = "{first_name}"\nwidth = 2\n'
        '[[column]]\nvalue = "{id}"\nwidth = 3\n'
    )
    people = frame([{"id": 7, "town": town, "first_name": name}, {"id": 8, "town": "", "first_name": name}])
    cells = read_cells(written(people, text, tmp_path).files[0], layout_of(text, draft=True))[1]
    assert cells["2"].to_list() == ["7  ", "8  "]


def test_the_name_of_a_picture_is_not_written_for_it(tmp_path: Path) -> None:
    text = 'encoding = "ascii"\n[[column]]\nvalue = "{first_name}"\nfallback = "{id}"\n'
    people = frame([{"id": 7, "first_name": "\N{GRINNING FACE}"}, {"id": 8, "first_name": "Zoë \N{GRINNING FACE}"}])
    assert lines(people, text, tmp_path) == ["7", "Zoe"]
