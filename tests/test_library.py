"""`import pruner`: the main job in Python, from files and frames."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import polars as pl
import pyarrow as pa
import pyarrow.parquet as parquet
import pytest
from hypothesis import given
from hypothesis import strategies as st
from polars.testing import assert_frame_equal

import pruner
from pruner.settings.load import load_settings

ROWS = {
    "Number": [2320001, 2320002, 2320002, 2620003, 16_777_000, 2340007, 9],
    "Sign": ["OE1AAA", "OE1BBB", "OE1BBC", "DL1AAA", "DL9ZZZ", "G7QQQ", None],
    "Name": ["Kelmar", "Orsina", "Orsina", "Bela", "Nobody", "Iwo", None],
    "Country": ["Austria", "Austria", "Austria", "Germany", "Germany", "United Kingdom", None],
}
FRAME = pl.DataFrame(ROWS)


def table() -> pl.DataFrame:
    return FRAME.rename({"Number": "Radio ID", "Sign": "Callsign"})


def written(tmp_path: Path) -> Path:
    path = tmp_path / "frame.csv"
    table().write_csv(path)
    return path


def rules() -> list[pruner.Keep | pruner.Drop]:
    return [pruner.Keep(name="home", countries=["home"]), pruner.Drop(name="out", callsigns=["G*"]), pruner.Keep(name="rest")]


def fitted(sources: object, contacts: int = 2) -> pruner.Fit:
    return pruner.fit(sources, rules=rules(), radio=pruner.Radio(contacts=contacts), home=pruner.Home("AT"))


def test_names_are_loaded_when_they_are_asked_for() -> None:
    heavy = "[name for name in ('numpy', 'polars', 'pyarrow', 'pydantic') if name in sys.modules]"
    code = f"import sys, pruner; before = {heavy}; pruner.Radio; print(before, 'fit' in dir(pruner))"
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout == "[] True\n"
    assert all(getattr(pruner, name) is not None for name in pruner.__all__)
    with pytest.raises(AttributeError, match="no attribute 'fits'"):
        _ = pruner.fits  # type: ignore[attr-defined]


def test_a_room_never_hides_a_function() -> None:
    rooms = {path.name for path in Path(pruner.__file__).parent.iterdir() if path.is_dir()}
    assert not rooms & {*pruner.__all__}
    code = "import pruner; fit = pruner.fit; import pruner.choose, pruner.job, pruner.rules; print(pruner.fit is fit)"
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout == "True\n"


def test_the_fit_accounts_for_every_row() -> None:
    fit = fitted(table())
    assert fit.kept["callsign"].to_list() == ["OE1AAA", "OE1BBC"]
    assert fit.ledger["outcome"].to_list() == ["kept", "dropped", "kept", "dropped", "dropped", "dropped", "rejected"]
    assert fit.ledger["reason"].to_list()[1:] == [
        "duplicate id",
        None,
        "over limit",
        "reserved id",
        "left out",
        "unreadable row",
    ]
    assert fit.rejected["line"].to_list() == [7]
    assert fit.summary.read == 7
    assert fit.summary.files == ()


def test_a_frame_a_file_and_settings_give_the_same(tmp_path: Path) -> None:
    path = written(tmp_path)
    settings = tmp_path / "pruner.toml"
    settings.write_text(
        f"""
[home]
country = "AT"
[[source]]
name = "frame"
location = "{path.name}"
[[drop]]
name = "out"
callsigns = ["G*"]
[[keep]]
name = "home"
countries = ["home"]
[[keep]]
name = "rest"
[[radio]]
name = "radio"
contacts = 2
""",
        encoding="utf-8",
    )
    by_command = subprocess.run(
        [sys.executable, "-m", "pruner", "fit", "--settings", str(settings)], capture_output=True, check=False
    )
    assert by_command.returncode == 0
    out = load_settings(settings).output.folder / "radio"
    of_frame, of_file = fitted(table()), fitted(path)
    of_file.write(tmp_path / "library")
    for name in ("contacts.csv", "ledger.parquet", "rejected.csv"):
        assert (tmp_path / "library" / name).read_bytes() == (out / name).read_bytes()
    assert_frame_equal(of_frame.ledger, of_file.ledger)
    assert_frame_equal(of_frame.kept, of_file.kept)
    assert_frame_equal(of_frame.ledger, pl.read_parquet(out / "ledger.parquet"), check_dtypes=False, categorical_as_str=True)
    summary = json.loads((out / "summary.json").read_bytes())
    same = ("read", "kept", "rejected", "dropped", "rules", "cut", "countries", "changed")
    assert {key: summary[key] for key in same} == {key: of_frame.summary.document()[key] for key in same}


def test_columns_of_the_ledger_say_what_they_hold(tmp_path: Path) -> None:
    fitted(table()).write(tmp_path / "out")
    schema = parquet.read_schema(tmp_path / "out" / "ledger.parquet")
    assert schema.names == fitted(table()).ledger.columns
    for field in schema:
        assert len((field.metadata or {}).get(b"description", b"")) > 10, field.name


def test_frames_of_other_libraries() -> None:
    import pandas

    one = fitted(table())
    of_pandas = table().to_pandas()
    assert isinstance(of_pandas, pandas.DataFrame)
    for frame in (of_pandas, table().to_arrow(), table().lazy(), table().to_arrow().to_batches()[0]):
        other = fitted(frame)
        assert_frame_equal(one.kept, other.kept)
        assert_frame_equal(one.ledger, other.ledger)


def test_fitting_frames_touches_no_disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    fitted(table())  # what is loaded once is loaded
    monkeypatch.chdir(tmp_path)
    opened: list[str] = []

    def watch(event: str, arguments: tuple[object, ...]) -> None:
        if watching and event in ("open", "os.mkdir", "os.rename", "os.remove", "os.rmdir"):
            opened.append(f"{event} {arguments[0]}")

    watching = True
    sys.addaudithook(watch)
    fit = fitted(table())
    _ = fit.kept, fit.ledger, fit.rejected, fit.summary
    watching = False
    assert opened == []
    assert not os.listdir(tmp_path)  # noqa: PTH208


def test_several_directories_by_name_the_first_preferred() -> None:
    club = pl.DataFrame({"Radio ID": [2320002], "Callsign": ["OE1BBB"], "Name": ["Otto"], "Country": ["Austria"]})
    fit = pruner.fit({"club": club, "world": table()}, radio=pruner.Radio(contacts=10))
    own = fit.kept.filter(pl.col("id") == 2320002)
    assert own["first_name"].to_list() == ["Otto"]
    assert fit.ledger["source"].unique(maintain_order=True).to_list() == ["club", "world"]


def test_rules_without_names_are_numbered() -> None:
    fit = pruner.fit(
        table(),
        rules=[pruner.Keep(countries=["AT"]), pruner.Keep(name="keep 2", countries=["DE"]), pruner.Keep()],
        radio=pruner.Radio(contacts=10),
    )
    assert [rule.name for rule in fit.summary.rules] == ["keep 1", "keep 2", "keep 3"]
    taken = [pruner.Keep(), pruner.Keep(name="keep 1", countries=["DE"])]
    fit = pruner.fit(table(), rules=taken, radio=pruner.Radio(contacts=10))
    assert [rule.name for rule in fit.summary.rules] == ["keep 1'", "keep 1"]


def test_settings_by_the_names_of_fields() -> None:
    made = pruner.Settings(  # type: ignore[call-arg]
        sources=[pruner.Source(name="world", location="world.csv")],
        keep=[pruner.Keep(name="near", countries=["home"])],
        radios=[pruner.Radio(name="hand", contacts=5, rules=["near"])],
        home=pruner.Home("AT"),
    )
    assert made.sources[0].name == "world"
    assert made.radios[0].rules == ("near",)


def test_results_show_their_counts_and_no_text_of_a_directory(tmp_path: Path) -> None:
    hostile = table().with_columns(Name=pl.lit("Kelmar \x1b[31m"))
    assert repr(fitted(hostile)) == "Fit(radio='radio', read=7, kept=2)"
    (tmp_path / "export.csv").write_text("id,callsign,name\n2320001,OE1AAA,Kelmar\n5,BENCH,\n")
    carrying = pruner.Radio(contacts=3, carried=tmp_path / "export.csv")
    fit = pruner.fit(hostile, radio=carrying)
    assert (
        repr(fit)
        == f"Fit(radio='radio', read={fit.summary.read}, kept={fit.summary.kept})"
        == "Fit(radio='radio', read=9, kept=3)"
    )
    assert repr(pruner.stations(hostile)) == "Stations(read=7, contacts=5, rejected=0)"


def test_stations_are_cleaned_and_accounted_for() -> None:
    found = pruner.stations(table())
    assert found.read == len(found.contacts) + found.duplicates + found.reserved + found.groups + found.others + len(
        found.rejected
    )
    assert found.contacts["callsign"].to_list() == ["OE1AAA", "OE1BBC", "G7QQQ", "DL1AAA"]
    assert found.contacts["country_code"].to_list() == ["AT", "AT", "GB", "DE"]
    assert "id from 'Radio ID'" in found.understood[0]


@given(st.lists(st.integers(1, 40), min_size=1, max_size=60), st.integers(0, 30))
def test_read_is_kept_dropped_and_rejected(numbers: list[int], limit: int) -> None:
    ids = [2320000 + number for number in numbers]
    frame = pa.table({"DMR ID": ids, "Call sign": [f"OE1A{chr(65 + n % 26)}" for n in numbers], "Name": ["Kelmar"] * len(ids)})
    fit = pruner.fit(frame, radio=pruner.Radio(contacts=limit))
    outcomes = fit.ledger["outcome"].cast(pl.String).value_counts()
    counts = dict(outcomes.iter_rows())
    assert counts.get("kept", 0) == len(fit.kept) == min(limit, len(set(ids)))
    assert sum(counts.values()) == len(ids)
