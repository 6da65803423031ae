"""A layout learned from a sample writes the sample again."""

from __future__ import annotations

import json
import tempfile
from pathlib import Path
from typing import Any

import polars as pl
import pytest
from draws import draws
from hypothesis import given, settings
from hypothesis import strategies as st
from layout_samples import contacts, frame

from pruner.convert.learn import understand
from pruner.layout.learn import Learned, learn
from pruner.layout.letters import spell, spelling_of
from pruner.layout.model import Layout, layout_of
from pruner.layout.write import write_layout
from pruner.words.errors import InputRefusedError, SettingsError

# Headings that the synonyms know, per field, and headings that nothing knows.
KNOWN = {
    "id": ["DMR Id", "Number", "Kennung"],
    "callsign": ["Call Sign", "Rufzeichen"],
    "first_name": ["First Name", "Vorname"],
    "last_name": ["Surname", "Nachname"],
    "town": ["City", "Ort"],
    "state": ["State", "Kanton"],
    "country": ["Country", "Land"],
}
ODD = ["Quux", "Frob seven", "Zed & Co", "Ypsilon", "Wibble", "Kolumne K"]
TEXT = ["first_name", "last_name", "town", "state", "country"]
CONSTANTS = ["Blorp", "0-0-1", "7", "x y", "{brace}", "on; off", 'say "hi"', ""]


def titled(value: str, title: str) -> dict[str, Any]:
    return {"title": title, "value": value}


def toml_of(form: dict[str, Any], columns: list[dict[str, Any]]) -> str:
    def lines(table: dict[str, Any]) -> str:
        return "\n".join(f"{key} = {json.dumps(value, ensure_ascii=False)}" for key, value in table.items())

    return "\n".join(["[file]", lines(form), *(f"[[column]]\n{lines(column)}" for column in columns)])


@st.composite
def delimited_layouts(draw: st.DrawFn) -> Layout:
    """What a sample can show: every field alone under a heading that is understood (or, for ids and call signs, plain
    from its content), combinations of them, constants, one running number, padding of numbers with zeros; wide enough
    columns; quoting that some cell needs or that stands everywhere."""
    odd = iter(draw(st.permutations(ODD)))
    texts = draw(st.lists(st.sampled_from(TEXT), unique=True, min_size=1, max_size=4))
    columns = [titled(f"{{{name}}}", draw(st.sampled_from(KNOWN[name]))) for name in texts]
    ids = titled("{id}", draw(st.sampled_from([*KNOWN["id"], "Blip"])))
    if draw(st.booleans()):
        ids |= {"width": 8, "pad": "left", "pad_with": "0"}
    columns += [ids, titled("{callsign}", draw(st.sampled_from([*KNOWN["callsign"], "Blop"])))]
    if draw(st.booleans()):
        columns.append(titled("{number}", next(odd)))
    if draw(st.booleans()):
        columns.append(titled(json_free(draw(st.sampled_from(CONSTANTS))), next(odd)))
    if draw(st.booleans()):
        other = draw(st.sampled_from(texts))
        first, second = draw(st.sampled_from([("callsign", other), ("id", "callsign"), (other, "callsign")]))
        joint = draw(st.sampled_from([" ", ", ", " - ", " ("]))
        columns.append(titled(f"{{{first}}}{joint}{{{second}}}{')' if '(' in joint else ''}", next(odd)))
    columns = draw(st.permutations(columns))
    form = {
        "delimiter": draw(st.sampled_from([";", ",", "\t", "|"])),
        "quoting": draw(st.sampled_from(["as needed", "all", "texts"])),
        "encoding": draw(st.sampled_from(["utf-8", "ascii", "cp1252", "utf-16", "utf-16-be"])),
        "line_ending": draw(st.sampled_from(["lf", "crlf", "cr"])),
        "order": draw(st.sampled_from(["id", "callsign", "rank"])),
        "headings": True,
        "number_from": draw(st.sampled_from([0, 1, 501])),
        "ending": "csv",
    }
    if form["encoding"].startswith("utf"):
        form["byte_order_mark"] = draw(st.booleans())
    return layout_of(toml_of(form, columns))


def json_free(constant: str) -> str:
    """A constant as a template."""
    return constant.replace("{", "{{").replace("}", "}}")


def written_bytes(people: pl.DataFrame, layout: Layout) -> bytes:
    with tempfile.TemporaryDirectory() as folder:
        return write_layout(people, layout, Path(folder), "sample").files[0].read_bytes()


def learned(data: bytes, ending: str = "csv", answers: dict[int, str] | None = None) -> Learned:
    return learn(data, "sample", ending, understand, answers)


@draws(40)
@given(layout=delimited_layouts(), people=contacts(4, 9))
def test_a_learned_layout_writes_the_sample_again(layout: Layout, people: pl.DataFrame) -> None:
    assert_learned(layout, people)


@pytest.mark.slow
@settings(max_examples=1500)
@given(layout=delimited_layouts(), people=contacts(4, 9))
def test_many_learned_layouts(layout: Layout, people: pl.DataFrame) -> None:
    assert_learned(layout, people)


def assert_learned(layout: Layout, people: pl.DataFrame) -> None:
    data = written_bytes(people, layout)
    again = layout_of(learned(data).text)
    assert written_bytes(people, again) == data


@st.composite
def fixed_layouts(draw: st.DrawFn) -> Layout:
    """Fixed columns with at least one free place between them; numbers stand right or are filled up with zeros."""
    odd = iter(draw(st.permutations(ODD)))
    texts = draw(st.lists(st.sampled_from(["first_name", "last_name", "town", "state"]), unique=True, min_size=1, max_size=3))
    width = st.integers(16, 20)
    groups = [[titled(f"{{{name}}}", KNOWN[name][0]) | {"width": draw(width)}] for name in texts]
    ids = titled("{id}", "DMR Id") | {"width": draw(st.integers(8, 10))}
    if draw(st.booleans()):
        ids |= {"pad": "left", "pad_with": draw(st.sampled_from("0 "))}
    groups.append([ids, titled(" ", "") | {"width": 1}])
    groups.append([titled("{callsign}", "Rufzeichen") | {"width": draw(width)}])
    if draw(st.booleans()):
        groups.append([titled("{number}", "No") | {"width": 5, "pad": "left"}, titled("", "") | {"width": 2}])
    if draw(st.booleans()):
        groups.append([titled(draw(st.sampled_from(["Blorp", "x y", "0-0-1"])), next(odd)) | {"width": draw(width)}])
    headings = draw(st.booleans())
    form = {
        "kind": "fixed",
        "encoding": draw(st.sampled_from(["utf-8", "ascii", "cp1252", "utf-16"])),
        "line_ending": draw(st.sampled_from(["lf", "crlf", "cr"])),
        "order": draw(st.sampled_from(["id", "callsign"])),
        "headings": headings,
        "width_unit": draw(st.sampled_from(["units", "characters"])),
    }
    columns = [column for group in draw(st.permutations(groups)) for column in group]
    return layout_of(toml_of(form, columns))


@draws(25)
@given(layout=fixed_layouts(), people=contacts(4, 9, one_word_towns=True))
def test_a_learned_layout_writes_a_fixed_sample_again(layout: Layout, people: pl.DataFrame) -> None:
    assert_learned_fixed(layout, people)


@pytest.mark.slow
@settings(max_examples=1000)
@given(layout=fixed_layouts(), people=contacts(4, 9, one_word_towns=True))
def test_many_learned_fixed_layouts(layout: Layout, people: pl.DataFrame) -> None:
    assert_learned_fixed(layout, people)


def assert_learned_fixed(layout: Layout, people: pl.DataFrame) -> None:
    data = written_bytes(people, layout)
    found = learned(data, "txt")
    # Without headings nothing tells names from towns: somebody has to say so.
    answers = {doubt.place: told(doubt.examples, people, layout) for doubt in found.doubts}
    again = layout_of(learned(data, "txt", answers).text)
    assert written_bytes(people, again) == data


def told(examples: tuple[str, ...], people: pl.DataFrame, layout: Layout) -> str:
    """Which text field the examples come from, as somebody who knows the contacts would say."""
    for name in ("first_name", "last_name", "town", "state"):
        pairs = people.select(name, "country_code").rows()
        if {*examples} <= {spell(text, spelling_of(code), layout.encoding) for text, code in pairs}:
            return f"{{{name}}}"
    raise AssertionError(examples)


@pytest.mark.parametrize("joint", ["{state}, {town}", "{town}/{state}", "{state}+{callsign}", "{town} ({state})"])
def test_joined_columns_with_holes(joint: str) -> None:
    rows = [("Graz", "Bern"), ("Linz", ""), ("", "Tirol"), ("", "")]
    people = frame(
        [{"id": 2320001 + at, "callsign": f"OE1A{at}A", "town": town, "state": state} for at, (town, state) in enumerate(rows)]
    )
    columns = [titled(f"{{{name}}}", KNOWN[name][0]) for name in ("id", "callsign", "town", "state")]
    layout = layout_of(toml_of({"encoding": "ascii", "ending": "csv"}, [*columns, titled(joint, "Quux")]))
    data = written_bytes(people, layout)
    found = learned(data)
    assert columns_of(found)[-1] == ("Quux", joint, None)
    assert written_bytes(people, layout_of(found.text)) == data


def columns_of(found: Learned) -> list[tuple[str, str, str | None]]:
    return [(column.title, column.value, column.fallback) for column in layout_of(found.text).columns]


def test_only_headings() -> None:
    found = learned(b"Rufzeichen;DMR Id;Vorname;Blorp\r\n")
    assert columns_of(found) == [
        ("Rufzeichen", "{callsign}", None),
        ("DMR Id", "{id}", None),
        ("Vorname", "{first_name}", None),
        ("Blorp", "", None),
    ]
    form = layout_of(found.text).file
    assert (form.delimiter, form.line_ending, form.headings, form.ending) == (";", "crlf", True, "csv")
    assert [(doubt.place, doubt.title) for doubt in found.doubts] == [(3, "Blorp")]


def test_three_rows_under_headings_that_nobody_knows() -> None:
    sample = (
        "Zap,Bing,Pow,Oof,Ugh,Eek,Hmm\n"
        "1,OE1AAA,2320001,Ada,Austria,0-0-1,OE1AAA Ada\n"
        "2,DL2BBB,2620002,Bea,Germany,0-0-1,DL2BBB Bea\n"
        "3,SP3CC,2600003,Cyd,Poland,0-0-1,SP3CC Cyd\n"
    )
    found = learned(sample.encode())
    assert [value for _, value, _ in columns_of(found)] == [
        "{number}",
        "{callsign}",
        "{id}",
        "{first_name}",
        "{country}",
        "0-0-1",
        "{callsign} {first_name}",
    ]
    assert [(doubt.place, doubt.value) for doubt in found.doubts] == [(6, "{callsign} {first_name}")]
    assert "# DOUBTFUL" in found.text
    settled = learned(sample.encode(), answers={3: "{town}"})
    assert [value for _, value, _ in columns_of(settled)][3:] == ["{town}", "{country}", "0-0-1", "{callsign} {town}"]
    assert not settled.doubts


def test_no_heading_line() -> None:
    found = learned(b"2320001\tOE1AAA\tAT\r2620002\tDL2BBB\tDE\r3100003\tK3CCC\tUS\r", "txt")
    layout = layout_of(found.text)
    assert not layout.file.headings
    assert (layout.file.delimiter, layout.file.line_ending, layout.file.order) == ("\t", "cr", "id")
    assert [column.value for column in layout.columns] == ["{id}", "{callsign}", "{country_code}"]


def test_a_fallback_that_the_sample_uses() -> None:
    sample = "Call;Number;First name\nOE1AAA;2320001;Ada\nOE2BBB;2320002;OE2BBB\n2320003;2320003;Cyd\nOE4DDD;2320004;Dan\n"
    assert columns_of(learned(sample.encode())) == [
        ("Call", "{callsign}", "{id}"),
        ("Number", "{id}", None),
        ("First name", "{first_name}", "{callsign}"),
    ]


def test_ids_filled_up_and_the_order_of_call_signs() -> None:
    sample = "Id,Call\n02620001,DL1AAA\n02320002,OE1AAA\n00232003,OE9ZZZ\n"
    layout = layout_of(learned(sample.encode()).text)
    first = layout.columns[0]
    assert (first.value, first.width, first.pad, first.pad_with) == ("{id}", 8, "left", "0")
    assert layout.file.order == "callsign"


def test_contacts_without_call_sign_stand_last() -> None:
    sample = "Id;Call\n2620001;DL1AAA\n2320002;OE1AAA\n2320001;\n2320003;\n"
    assert layout_of(learned(sample.encode()).text).file.order == "callsign"
    first = "Id;Call\n2320001;\n2320003;\n2620001;DL1AAA\n2320002;OE1AAA\n"
    assert layout_of(learned(first.encode()).text).file.order == "rank"


def test_numbers_at_the_right_of_their_places() -> None:
    rows = [f"{at:>5}  {2320000 + at}  OE1A{at}A  " for at in (1, 2, 3)]
    layout = layout_of(learned("\n".join([*rows, ""]).encode(), "txt").text)
    assert [(column.value, column.width, column.pad) for column in layout.columns] == [
        ("{number}", 5, "left"),
        ("", 2, None),
        ("{id}", 9, None),
        ("{callsign}", 8, None),
    ]


@pytest.mark.parametrize(
    ("data", "encoding", "mark"),
    [
        ("Id,Ort\n2320001,Graz\n".encode("ascii"), "ascii", False),
        ("Id,Ort\n2320001,Łódź\n".encode(), "utf-8", False),
        ("Id,Ort\n2320001,Łódź\n".encode("utf-8-sig"), "utf-8", True),
        ("Id,Ort\n2320001,Würzburg\n".encode("cp1252"), "cp1252", False),
        ("Id,Ort\n2320001,W\x81rzburg\xfc\n".encode("latin-1"), "iso8859-1", False),
        ("Id,Ort\n2320001,Łódź\n".encode("utf-16"), "utf-16-le", True),
        ("Id,Ort\n2320001,Łódź\n".encode("utf-16-be"), "utf-16-be", False),
        (b"\xfe\xff" + "Id,Ort\n2320001,Łódź\n".encode("utf-16-be"), "utf-16-be", True),
        ("Id,Ort\n2320001,Łódź\n".encode("utf-32"), "utf-32-le", True),
    ],
)
def test_encodings(data: bytes, encoding: str, mark: bool) -> None:
    layout = layout_of(learned(data).text)
    assert (layout.file.encoding, bool(layout.mark)) == (encoding, mark)
    assert [column.value for column in layout.columns] == ["{id}", "{town}"]


@pytest.mark.parametrize(
    ("data", "quoting"),
    [
        (b'"Id";"City"\n"2320001";"Graz"\n', "all"),
        (b'Id;City\n2320001;"Graz; West"\n', "as needed"),
        (b"Id;City\n2320001;Graz\n", "as needed"),
    ],
)
def test_quoting(data: bytes, quoting: str) -> None:
    assert layout_of(learned(data).text).file.quoting == quoting


@pytest.mark.parametrize(
    "data", [b"", b"\n\n", b"<html><body>", b'{"id": 1}', b"PK\x03\x04\x00\x00ab", b"\xff\xfe\x00", b" \r\n \r\n"]
)
def test_what_is_no_table_is_refused(data: bytes) -> None:
    with pytest.raises(InputRefusedError, match=r"^sample: "):
        learned(data)


@draws(100)
@given(data=st.one_of(st.binary(max_size=60), st.text(max_size=60).map(str.encode)))
def test_any_bytes_give_a_layout_or_one_line(data: bytes) -> None:
    try:
        outcome: object = layout_of(learned(data).text).columns
    except (InputRefusedError, SettingsError) as refusal:
        outcome = all(": " in line for line in str(refusal).splitlines()) and str(refusal)
    assert outcome


def test_names_of_people_stay_out_of_the_layout() -> None:
    """Only headings and what stands in every row are written into a layout, which people pass on."""
    sample = "Quux,Wibble,Number\nAda,Graz,2320001\nBea,Linz,2320002\nCyd,Wels,2320003\n"
    found = learned(sample.encode())
    assert not any(name in found.text for name in ("Ada", "Bea", "Graz", "2320001"))
    assert any("Ada" in doubt.examples for doubt in found.doubts)


def test_a_few_odd_lines_do_not_hide_the_table() -> None:
    rows = [f"{2320000 + at},OE1A{chr(65 + at)}A,Graz" for at in range(20)]
    rows[7] = 'nobody knows, what "this'
    found = learned("\n".join(["Id,Call,Town", *rows, ""]).encode())
    assert [value for _, value, _ in columns_of(found)] == ["{id}", "{callsign}", "{town}"]
    assert "1 of 21 lines have another number of cells" in found.notes[1]


def test_rows_that_end_in_a_delimiter() -> None:
    found = learned(b"Id;Call\n2320001;OE1AAA;\n2320002;OE1BBB;\n")
    assert [value for _, value, _ in columns_of(found)] == ["{id}", "{callsign}", ""]
