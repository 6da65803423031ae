"""One clock that is wrong changes hardly anything: neither who is chosen first nor the headline, in the demo's own world."""

from __future__ import annotations

import shutil
from pathlib import Path

import polars as pl
import pytest

from pruner.account.coverage import CoverageSummary
from pruner.account.summary import Summary
from pruner.demo import write_demo
from pruner.demo.calls import AHEAD, planted_calls
from pruner.demo.dirt import make_plan
from pruner.demo.draws import Draws
from pruner.demo.write import SEED
from pruner.history import first_seen
from pruner.job import run
from pruner.logs.fold import fold_all
from pruner.settings.load import load_settings

pytestmark = pytest.mark.long

STATIONS = 7_000
#: 10,000 of 330,000 contacts.
FIRST = STATIONS * 10_000 // 330_000
LAST_LOG = Path("heard", "calls-2026-07.csv")


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("made") / "tour"
    write_demo(folder, STATIONS)
    return folder


def fitted(demo: Path, folder: Path, change: str) -> tuple[set[int], Summary]:
    """The first contacts in the radio and the account of a fit of the demo, whose last log was changed in one way."""
    shutil.copytree(demo, folder)
    shutil.rmtree(folder / ".pruner" / first_seen.FOLDER)  # a first run: what is known of the calls to come is a lower bound
    settings = folder / "pruner.toml"
    text = settings.read_text().replace("contacts = 200_000", f"contacts = {STATIONS // 2}")
    # One rule for everybody: all depends on what is expected.
    begin, end = text.index("[[keep]]\nname"), text.index("[[radio]]")
    settings.write_text(f'{text[:begin]}[[keep]]\nname = "everybody"\norder = "expected"\n\n{text[end:]}')
    lines = (folder / LAST_LOG).read_text().splitlines()
    ahead = [line for line in lines if line.startswith("2026-08")]
    # What is told to be ahead is ahead, so that leaving it out is a change.
    assert len(ahead) == planted_calls(make_plan(Draws(SEED), STATIONS).stations, seed=SEED)[AHEAD] > 0
    if change == "none is wrong":
        lines = [line for line in lines if line not in ahead]
    elif change == "months ahead":
        lines.append("2026-10-30T21:00:07Z,2321234,232,3.0")
    (folder / LAST_LOG).write_text("\n".join(lines) + "\n")
    fold_all(load_settings(settings))
    (summary,) = run(load_settings(settings)).summaries
    ledger = pl.read_parquet(folder / "out" / "loan-handheld" / "ledger.parquet", columns=["id", "rank"])
    return set(ledger.filter(pl.col("rank") <= FIRST)["id"].to_list()), summary


def headline(coverage: CoverageSummary) -> float:
    """Of a first run: the lower bound."""
    assert coverage.to_come is not None
    assert coverage.to_come.low is not None
    return coverage.to_come.low


@pytest.fixture(scope="module")
def right(demo: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[set[int], Summary]:
    return fitted(demo, tmp_path_factory.mktemp("right") / "tour", "none is wrong")


@pytest.mark.parametrize("change", ["as the demo is", "months ahead"])
def test_one_false_clock(demo: Path, tmp_path: Path, right: tuple[set[int], Summary], change: str) -> None:
    """Under 5 % of the first contacts change, and no headline by more than a tenth of a point."""
    first, summary = fitted(demo, tmp_path / "tour", change)
    assert len(first) == len(right[0]) == FIRST
    assert len(first & right[0]) > 0.95 * FIRST
    one, other = summary.coverage, right[1].coverage
    assert one is not None
    assert other is not None
    assert headline(one) == pytest.approx(headline(other), abs=0.001)
    for looking_back in ("all", "mine"):
        assert getattr(one, looking_back).share == pytest.approx(getattr(other, looking_back).share, abs=0.001)
    assert one.calendar["dmr"].last_day == other.calendar["dmr"].last_day == "2026-07-31"
    assert {day[:7] for day in one.calendar["dmr"].left_out} <= {"2026-08", "2026-10"}
