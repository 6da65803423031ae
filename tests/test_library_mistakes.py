"""Wrong calls of the library: each is a PrunerError in the words of Python, one line per mistake, and nothing is ignored."""

from __future__ import annotations

import decimal
import inspect
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import polars as pl
import pyarrow as pa
import pytest
from draws import draws
from hypothesis import assume, given
from hypothesis import strategies as st

import pruner
from pruner.library.fitting import fit, stations
from pruner.words.printable import safe

ROWS = {
    "Radio ID": [2320001, 2320002, 2620003],
    "Callsign": ["OE1AAA", "OE1BBB", "DL1AAA"],
    "Name": ["Kelmar", "Orsina", "Bela"],
    "Country": ["Austria", "Austria", "Germany"],
}
FRAME = pl.DataFrame(ROWS)
RADIO = pruner.Radio(contacts=5)
DIRECTORY = "expected a path, a frame or a pruner.Source"


class Unprintable:
    """Whatever shows it fails."""

    def __str__(self) -> str:
        raise RuntimeError("not to be shown")

    __repr__ = __str__


def fitted(sources: Any = FRAME, **arguments: Any) -> pruner.Fit:
    return pruner.fit(sources, **{"radio": RADIO, **arguments})


def said(call: Callable[[], object]) -> str:
    with pytest.raises(pruner.PrunerError) as caught:
        call()
    return str(caught.value)


#: What stands in no message of the library: the file's tables, the command's options, the names of what lies below.
FOREIGN = ("[home]", "[[", "[radio", "--", "pydantic", "_InPython", "(two brackets)", "in quotes")


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({"radio": 50}, "radio: expected a pruner.Radio, such as pruner.Radio(contacts=200_000), got 50"),
        ({"radio": None}, "radio: expected a pruner.Radio, such as pruner.Radio(contacts=200_000), got None"),
        ({"radio": {"contacts": 5}}, "radio: expected a pruner.Radio, such as pruner.Radio(contacts=200_000), got a dict"),
        (
            {"radio": pruner.Radio},
            "radio: expected a pruner.Radio, such as pruner.Radio(contacts=200_000), got the class Radio",
        ),
        ({"radio": pruner.Radio()}, "radio.contacts: expected, but not given"),
        ({"home": "AT"}, 'home: expected a pruner.Home, such as pruner.Home("AT"), got "AT"'),
        (
            {"talkgroups": [91]},
            "talkgroups: expected a pruner.Talkgroups, such as pruner.Talkgroups(mine=[91]), got a list",
        ),
        ({"calls": 90}, "calls: expected a pruner.Calls, such as pruner.Calls(window_days=90), got 90"),
        ({"one_per_callsign": "yes"}, 'one_per_callsign: expected True or False, got "yes"'),
        ({"system": "dmrr"}, 'system: expected one of dmr, nxdn, p25, got "dmrr"; did you mean "dmr"?'),
        ({"system": ["dmr"]}, "system: expected one of dmr, nxdn, p25, got a list"),
        ({"state": 5}, "state: expected the path of a file or folder, got 5"),
        ({"state": "a\0b"}, 'state: expected the path of a file or folder, got "a\\x00b"'),
        ({"progress": 5}, "progress: expected a function that is called as progress(stage, share), got 5"),
        ({"columns": 5}, "columns: expected a dict, got 5"),
        ({"columns": {"idd": "x"}}, 'columns.idd: unknown key; did you mean "id"?'),
        ({"columns": {"id": None}}, "columns.id: expected a heading, or a position counted from 1, got None"),
        (
            {"columns": {"id": "nope"}},
            "frame: no column is headed 'nope' (found: Radio ID, Callsign, Name, Country); correct columns",
        ),
        (
            {"columns": {"id": 99}},
            "frame: it has no column 99 (found: Radio ID, Callsign, Name, Country); correct columns",
        ),
        ({"rules": "AT"}, 'rules: expected a list of pruner.Keep and pruner.Drop, got "AT"'),
        ({"rules": 5}, "rules: expected a list of pruner.Keep and pruner.Drop, got 5"),
        ({"rules": None}, "rules: expected a list of pruner.Keep and pruner.Drop, got None"),
        ({"rules": {"a": 5}}, "rules: expected a list of pruner.Keep and pruner.Drop, got a dict"),
        (
            {"rules": pruner.Keep(countries=["AT"])},
            "rules: expected a list of pruner.Keep and pruner.Drop, such as rules=[pruner.Keep(...)], got a Keep",
        ),
        (
            {"rules": [{"name": "x"}, pruner.Keep(), "AT"]},
            "rules[0]: expected a pruner.Keep or a pruner.Drop, got a dict\n"
            'rules[2]: expected a pruner.Keep or a pruner.Drop, got "AT"',
        ),
        ({"rules": [pruner.Keep]}, "rules[0]: expected a pruner.Keep or a pruner.Drop, got the class Keep"),
        (
            {"rules": (one for one in [pruner.Keep(), pruner.Drop(countries=["home"])])},
            'rules[1].countries[0]: "home" needs home=pruner.Home(country=...)',
        ),
        (
            {"rules": [pruner.Keep(talkgroups="mine")]},
            'rules[0].talkgroups: "mine" needs talkgroups=pruner.Talkgroups(mine=[...])',
        ),
        (
            {"rules": [pruner.Keep(), pruner.Keep(order="nearest")]},
            'rules[1].order: "nearest" needs home=pruner.Home(locator=...), or route or locators in the rule, from which '
            "distances are measured",
        ),
        (
            {"rules": [pruner.Keep(name="a"), pruner.Drop(name="a", countries=["AT"])]},
            'rules[0].name: expected a name of its own, but "a" is also the name of another',
        ),
        ({"rules": [pruner.Keep(sources=["x"])]}, 'rules[0].sources[0]: expected the name of a source ("frame"), got "x"'),
        (
            {"radio": pruner.Radio(contacts=5, rules=["x"])},
            'radio.rules[0]: expected the name of a keep rule ("everything"), got "x"',
        ),
        (
            {"radio": pruner.Radio(contacts=5, levels=[{"name": "all", "fields": ["name"]}])},  # type: ignore[arg-type]
            "radio.levels: needs memory={...}, the bytes of the radio",
        ),
        (
            {"radio": pruner.Radio(contacts=5, aim="coverage", detail="per rule", memory={"bytes": 90, "record": 9})},  # type: ignore[arg-type]
            'radio.detail: needs aim = "order": with "coverage" each contact has a level of its own',
        ),
        (
            {"radio": pruner.Radio(contacts=5, carried_columns={"id": 1})},
            "radio.carried_columns: needs carried in the same radio",
        ),
        (
            {"rules": [pruner.Keep(name="carried entries")], "radio": pruner.Radio(contacts=5, carried=__file__)},  # type: ignore[arg-type]
            'radio.carried: expected no keep rule named "carried entries": these entries go by it',
        ),
        (
            {"rules": [pruner.Keep(list=__file__), pruner.Keep(list=__file__, list_columns={"id": 1})]},  # type: ignore[arg-type]
            "rules[1].list_columns: expected the same in all rules with this list",
        ),
        ({"rules": [pruner.Keep(list_columns={"id": 1})]}, "rules[0].list_columns: needs list in the same rule"),
        (
            {"talkgroups": pruner.Talkgroups(list_columns={"id": 1})},
            "talkgroups.list_columns: needs list in the same table",
        ),
        (
            {"radio": pruner.Radio(name="current", contacts=5)},
            'radio.name: expected another name: the link "current" leads to the published version',
        ),
    ],
)
def test_wrong_arguments_of_fit(arguments: dict[str, Any], message: str) -> None:
    assert said(lambda: fitted(**arguments)) == message


@pytest.mark.parametrize("read", [fitted, pruner.stations])
@pytest.mark.parametrize(
    ("sources", "message"),
    [
        (None, f"sources: {DIRECTORY}, or several of them in a list or dict, got None"),
        (5, f"sources: {DIRECTORY}, or several of them in a list or dict, got 5"),
        ({"a.csv"}, f"sources: {DIRECTORY}, or several of them in a list or dict, got a set"),
        (b"a.csv", f"sources: {DIRECTORY}, or several of them in a list or dict, got a bytes"),
        (FRAME["Name"], f"sources: {DIRECTORY}, or several of them in a list or dict, got a Series"),
        (pl.DataFrame, f"sources: {DIRECTORY}, or several of them in a list or dict, got the class DataFrame"),
        (Unprintable(), f"sources: {DIRECTORY}, or several of them in a list or dict, got an Unprintable"),
        ([], "sources: expected at least one directory (a path, a frame or a pruner.Source), got none"),
        ({}, "sources: expected at least one directory (a path, a frame or a pruner.Source), got none"),
        ([FRAME, None], f"sources[1]: {DIRECTORY}, got None"),
        ([[FRAME]], f"sources[0]: {DIRECTORY}, got a list"),
        ({"club": None}, f'sources["club"]: {DIRECTORY}, got None'),
        ({1: FRAME}, "sources: expected a dict of directories by name, got 1"),
        (
            ROWS,
            "sources: expected a dict of directories by name (a path, a frame or a pruner.Source), got lists; make a frame "
            "of them",
        ),
        (
            {"my club": FRAME},
            'sources["my club"].name: expected up to 64 letters, digits, dashes, underscores, got "my club"',
        ),
        ("", 'sources: expected the path of a file or folder, got ""'),
        ("a\0b", 'sources: expected the path of a file or folder, got "a\\x00b"'),
        ("\ud800.csv", 'sources: expected a path whose name is UTF-8, got "\\ud800.csv"; rename the file'),
        (
            ["https://example.org/world.csv"],
            "sources[0]: an address is fetched by pruner refresh, not here; get the file and give its path, or give a "
            "pruner.Source of that address, and the state folder that it was fetched to as state=...",
        ),
        (pl.DataFrame(), "frame: has no columns"),
        (FRAME.clear(), "frame: headings but no rows; expected a table of stations"),
        (
            FRAME.select("Country"),
            "frame: no column of ids (found: Country (Austria)); if it is a table of stations, name the columns: "
            'columns={"id": "its heading or position", "callsign": "its heading or position"}',
        ),
        (
            {"club": pl.DataFrame({"\x1b[31mid": [1, 2, 3], "b\n": ["x", "y", "z"]})},
            "club: the column '\\x1b[31mid' does not look like ids of dmr stations (found: ?[31mid (1), b (x)); if it is a "
            'table of stations, say so: columns={"id": 1}',
        ),
        (
            pa.table([[2320001], ["a"], ["b"]], names=["id", "n", "n"]),
            "frame: two columns have the same name; give each its own",
        ),
        (
            FRAME.with_columns(Name=pl.Series([Unprintable()] * 3, dtype=pl.Object)),
            "sources: the column 'Name' may hold values of several kinds; make them all text, or all numbers",
        ),
    ],
)
def test_wrong_directories(read: Callable[[object], object], sources: object, message: str) -> None:
    assert said(lambda: read(sources)) == message


def test_a_lazy_frame_that_fails() -> None:
    text = said(lambda: fitted(FRAME.lazy().select("nope")))
    assert text.startswith("sources: the LazyFrame cannot be read as a table (ColumnNotFoundError: unable to find column")
    assert text.endswith("; collect it first")
    assert text.isprintable()


def test_files_that_cannot_be_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert said(lambda: fitted("nowhere.csv")).endswith(
        "nowhere.csv: cannot be read (No such file or directory); check the location"
    )
    assert said(lambda: fitted(Path("x" * 5000))).endswith("x: cannot be read (File name too long); check the location")
    assert said(lambda: fitted("\x1b[31m*.csv")).startswith(f"{tmp_path}/\\x1b[31m*.csv: no file matches")
    Path("rows.csv").write_text("id,n\n" + "".join(f"{n},x\n" for n in range(50)))
    text = said(lambda: fitted("rows.csv"))
    assert "--column" not in text
    assert "name the columns: columns=" in text or "say so: columns=" in text
    FRAME.write_csv("world.csv")
    gone = fitted("world.csv")
    Path("world.csv").unlink()
    assert "world.csv: cannot be read any more (No such file or directory)" in said(lambda: gone.summary)


def test_frames_of_pandas_that_no_table_can_be_made_of() -> None:
    import pandas

    twice = pandas.DataFrame([[2320001, "OE1AAA", "x"]], columns=["Radio ID", "Callsign", "Callsign"])
    assert said(lambda: fitted(twice)).startswith("sources: the DataFrame cannot be read as a table (DuplicateError: ")
    assert said(lambda: fitted(twice)).endswith("; give each column a name of its own")
    mixed = pandas.DataFrame({"Radio ID": [2320001, "2320002"], "Callsign": ["OE1AAA", "OE1BBB"]})
    assert said(lambda: fitted({"club": mixed})).startswith('sources["club"]: the DataFrame cannot be read as a table (')
    assert said(lambda: fitted(mixed)).endswith(
        "; the column 'Radio ID' may hold values of several kinds; make them all text, or all numbers"
    )
    more = mixed.assign(Callsign=["OE1AAA", 5])
    assert said(lambda: fitted(more)).endswith(
        "; the columns 'Radio ID', 'Callsign' may hold values of several kinds; make each of them text or numbers"
    )
    missing = pandas.DataFrame({"Radio ID": [2320001, None, 2320003], "Callsign": ["OE1AAA", "OE1BBB", "OE1CCC"]})
    assert missing["Radio ID"].dtype == float
    assert fitted(missing).kept["id"].to_list() == [2320001, 2320003]


@pytest.mark.parametrize(
    ("ids", "kept"),
    [
        ([2320001.0, None, 2320003.0], [2320001, 2320003]),
        ([2320001.0, float("nan"), float("inf")], [2320001]),
        ([2320001.5, 2320002.0, -5.0], [2320002]),
        ([2**63 - 1, 2320002, 0], [2320002]),
        ([decimal.Decimal(2320001), None, None], [2320001]),
        (pl.Series([2**64 - 1, 2320002, 2320003], dtype=pl.UInt64), [2320002, 2320003]),
        (pl.Series([2**100, 2320002, -1], dtype=pl.Int128), [2320002]),
    ],
)
def test_numbers_that_are_no_ids_are_accounted_for(ids: Any, kept: list[int]) -> None:
    frame = FRAME.with_columns(pl.Series("Radio ID", ids, strict=False))
    frame = pl.concat([frame, FRAME.with_columns(pl.col("Radio ID") + 100)], how="vertical_relaxed")
    found = fitted(frame, columns={"id": "Radio ID"})
    assert found.kept["id"].to_list() == [*kept, 2320101, 2320102, 2620103]
    assert found.summary.read == 6


def test_directories_may_be_iterated_once() -> None:
    def frames() -> Iterator[pl.DataFrame]:
        yield FRAME
        yield FRAME.with_columns(pl.col("Radio ID") + 100)

    assert fitted(frames(), radio=pruner.Radio(contacts=9)).kept.height == 6
    assert fitted({"a": FRAME}.values(), rules=iter([pruner.Keep(countries=["AT"])])).kept.height == 2


def test_columns_are_named_where_headings_do_not_say_it() -> None:
    odd = FRAME.rename({"Radio ID": "17", "Callsign": "18"}).select("17", "18")
    named = fitted(odd, columns={"id": "17", "callsign": 2})
    assert named.kept["callsign"].to_list() == ["OE1AAA", "OE1BBB", "DL1AAA"]
    assert pruner.stations(odd, columns={"id": 1}).read == 3


def test_a_source_in_a_dict_bears_its_key(tmp_path: Path) -> None:
    FRAME.write_csv(tmp_path / "world.csv")
    source = pruner.Source(name="other", location=str(tmp_path / "world.csv"))
    assert fitted({"club": source}).ledger["source"].unique().to_list() == ["club"]
    assert fitted([source]).ledger["source"].unique().to_list() == ["other"]


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: pruner.Keep("AT"), "Keep: expected fields by name, such as Keep(name=...)"),
        (lambda: pruner.Keep(countrys=["AT"]), 'Keep: countrys: unknown field; did you mean "countries"?'),
        (lambda: pruner.Keep(**{"\x1b[31m": 1}), 'Keep: "\\x1b[31m": unknown field; legal here: name, list,'),
        (lambda: pruner.Keep(countries="AT"), 'Keep: countries: expected a list, got "AT"'),
        (lambda: pruner.Keep(countries=[]), "Keep: countries: expected at least one element"),
        (lambda: pruner.Keep(countries=[["AT"]]), "Keep: countries[0]: expected a text, got a list"),
        (
            lambda: pruner.Keep(countries=["AT", "Atlantis"]),
            'Keep: countries[1]: expected an ISO 3166-1 code or the name of a country, got "Atlantis"',
        ),
        (lambda: pruner.Keep(ids=(one for one in [1])), "Keep: ids: expected a list, got a generator"),
        (lambda: pruner.Keep(ids=[0, 10**400]), "Keep: ids[0]: expected 1 or more, got 0\nKeep: ids[1]: expected less than"),
        (lambda: pruner.Keep(within_km=float("nan")), "Keep: within_km: expected a finite number, got nan"),
        (lambda: pruner.Keep(name=Unprintable()), "Keep: name: expected a text, got an Unprintable"),
        (lambda: pruner.Keep(name="\ud800"), "Keep: name: expected a name of 1 to 80 printable characters"),
        (lambda: pruner.Keep(list=FRAME), "Keep: list: expected the path of a file or folder, got a DataFrame"),
        (lambda: pruner.Drop(order="id"), "Drop: order: unknown field"),
        (lambda: pruner.Radio(5), "Radio: expected fields by name, such as Radio(name=...)"),
        (lambda: pruner.Radio(contacts="5"), 'Radio: contacts: expected a whole number, got "5"'),
        (lambda: pruner.Radio(contacts=True), "Radio: contacts: expected a whole number, got True"),
        (lambda: pruner.Radio(contacts=5.0), "Radio: contacts: expected a whole number, got 5.0"),
        (lambda: pruner.Radio(contacts=-1), "Radio: contacts: expected 0 or more, got -1"),
        (lambda: pruner.Radio(contacts=10**30), "Radio: contacts: expected less than 2147483648, got 1000000"),
        (lambda: pruner.Radio(memory=5), "Radio: memory: expected a dict or Memory, got 5"),
        (
            lambda: pruner.Radio(memory={"bytes": 5}),
            "Radio: memory.fields: expected record = ... or fields=[...]: contacts must take some bytes",
        ),
        (
            lambda: pruner.Radio(levels=[{"name": "all", "fields": ["naem"]}]),
            'Radio: levels[0].fields[0]: expected the name of a text column, got "naem"; did you mean "name"?',
        ),
        (lambda: pruner.Home(5), "Home: country: expected a text, got 5"),
        (lambda: pruner.Home(locator="XX99"), "Home: locator: expected a Maidenhead locator of 4, 6 or 8 characters"),
        (lambda: pruner.Source(), "Source: name: expected, but not given\nSource: location: expected, but not given"),
        (lambda: pruner.Source(name="a b", location="x"), "Source: name: expected up to 64 letters, digits, dashes"),
        (lambda: pruner.Talkgroups(mine=91), "Talkgroups: mine: expected a list, got 91"),
        (lambda: pruner.Calls(90), "Calls: expected fields by name, such as Calls(window_days=...)"),
        (lambda: pruner.Calls(window_days=0), "Calls: window_days: expected 1 or more, got 0"),
        (
            lambda: pruner.Settings(),
            "Settings: sources: expected, but not given\nSettings: radios: expected, but not given",
        ),
        (
            lambda: pruner.Settings(sources=[5], radios=[RADIO], keep=[pruner.Keep(name="a", countries=["home"])]),
            "Settings: sources[0]: expected a dict or Source, got 5\n"
            'Settings: keep[0].countries[0]: "home" needs home=pruner.Home(country=...)',
        ),
    ],
)
def test_wrong_fields(call: Callable[[], object], message: str) -> None:
    text = said(call)
    assert text.startswith(message)
    assert all(line.isprintable() for line in text.split("\n"))


@pytest.mark.parametrize(
    ("folder", "message"),
    [
        (None, "folder: expected the path of a folder, got None"),
        ("", 'folder: expected the path of a folder, got ""'),
        ("a\0b", 'folder: expected the path of a folder, got "a\\x00b"'),
        ("\ud800", 'folder: expected the path of a folder, got "\\ud800"'),
        ("/", "/: cannot be replaced by a result; choose a new folder"),
        (".", "{tmp}: exists and is not the result of a run; choose another output folder"),
        ("..", "{parent}: exists and is not the result of a run; choose another output folder"),
        ("file/below", "file/below: cannot be written (File exists); choose another output folder"),
        ("x" * 300, "x: cannot be written (File name too long); choose another output folder"),
    ],
)
def test_folders_that_cannot_be_written(folder: Any, message: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("file").write_text("mine")
    assert said(lambda: fitted().write(folder)).endswith(message.format(tmp=tmp_path, parent=tmp_path.parent))
    assert Path("file").read_text() == "mine"


ANYTHING = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.floats(),
    st.binary(max_size=4),
    st.text(st.characters(exclude_characters="/*?["), max_size=5),
    st.sampled_from(
        [Unprintable(), FRAME, FRAME.lazy(), FRAME.to_arrow(), RADIO, pruner.Home("AT"), pruner.Keep(), object, len]
    ),
    st.lists(st.one_of(st.none(), st.text(max_size=3), st.just(FRAME), st.just(pruner.Drop())), max_size=2),
    st.dictionaries(
        st.one_of(st.integers(0, 3), st.sampled_from(["id", "club", "\x1b"])), st.sampled_from(["a", 1, None]), max_size=2
    ),
)
ARGUMENTS = [*inspect.signature(fit).parameters]


@draws(200)
@given(st.sampled_from(ARGUMENTS), ANYTHING)
def test_any_argument_is_taken_or_refused_in_clear_lines(argument: str, value: object) -> None:
    """Whatever is handed over, nothing but a result or a PrunerError comes back."""
    assume(argument != "progress" or not callable(value))  # what a function of the caller raises is theirs
    arguments = {"sources": FRAME, "radio": RADIO, argument: value}
    calls: list[Callable[[], object]] = [lambda: fit(**arguments)]  # type: ignore[arg-type]
    if argument in inspect.signature(stations).parameters:
        calls.append(lambda: stations(**{name: one for name, one in arguments.items() if name != "radio"}))  # type: ignore[arg-type]
    for call in calls:
        try:
            assert isinstance(call(), pruner.Fit | pruner.Stations)
        except pruner.PrunerError as error:
            lines = str(error).split("\n")
            assert all(line and safe(line) == line and len(line) < 600 for line in lines)
            assert not any(word in line for line in lines for word in FOREIGN)


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: pruner.fit(), "fit: missing a required argument: 'sources'; expected a call such as pruner.fit("),  # type: ignore[call-arg]
        (lambda: pruner.fit(FRAME), "fit: missing a required"),  # type: ignore[call-arg]
        (lambda: pruner.fit(FRAME, radios=[RADIO], radio=RADIO), "'radios'; did you mean \"radio\"?; expected"),  # type: ignore[call-arg]
        (lambda: pruner.fit(FRAME, RADIO), "once for each radio"),  # type: ignore[misc]
        (lambda: pruner.stations(), 'expected a call such as pruner.stations("stations.csv")'),  # type: ignore[call-arg]
    ],
)
def test_a_call_with_other_arguments_says_what_is_wanted(call: Callable[[], object], said: str) -> None:
    with pytest.raises(TypeError) as caught:
        call()
    assert isinstance(caught.value, pruner.PrunerError)
    assert said in str(caught.value)
    assert "\n" not in str(caught.value)
