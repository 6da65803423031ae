"""Heard logs with a column that names the system of each call. All data invented."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pytest

from pruner.logs.files import FileResult, LogFiles
from pruner.logs.fold import fold_logs
from pruner.read.system_words import system_in_cell, system_of
from pruner.words.errors import InputRefusedError

REASON = "call of another system"


def fold(folder: Path, systems: Sequence[str], heading: str = "Mode", system: str = "dmr") -> FileResult:
    lines = [f"2026-11-20 10:{k:02}:07,{2_321_001 + k},232,{k + 3},{systems[k % len(systems)]}" for k in range(30)]
    (folder / "log.csv").write_text("\n".join([f"time,id,talkgroup,seconds,{heading}", *lines]) + "\n")
    return fold_logs(folder / "state", [LogFiles([folder / "log.csv"], system)]).files[0]


@pytest.mark.parametrize("heading", ["Mode", "System", "Betriebsart", "Protocol"])
@pytest.mark.parametrize("others", [["P25"], ["NXDN", "analogue FM"], ["FM"], ["M17", "APCO-25"]])
def test_rows_of_another_system_are_set_aside(tmp_path: Path, heading: str, others: list[str]) -> None:
    systems = ["DMR Tier II", "DMR", *others]
    found = fold(tmp_path, systems, heading).account
    own = sum("DMR" in systems[k % len(systems)] for k in range(30))
    assert (found.read, found.folded, dict(found.set_aside)) == (30, own, {REASON: 30 - own})


@pytest.mark.parametrize("heading", ["Mode", "System", "Betriebsart"])
def test_unknown_words_of_a_column_of_systems_are_other_systems(tmp_path: Path, heading: str) -> None:
    systems = ["DMR slot 1", "Zonk", "Quellvox Phase 2", "P25", "DMR slot 2"]
    found = fold(tmp_path, systems, heading).account
    assert (found.read, found.folded, dict(found.set_aside)) == (30, 12, {REASON: 18})


@pytest.mark.parametrize("cells", [["voice", "data"], ["Zonk", "Mip"], ["group", "voice"]])
def test_a_column_that_names_no_known_system_is_none_of_systems(tmp_path: Path, cells: list[str]) -> None:
    assert REASON not in fold(tmp_path, cells).account.set_aside


@pytest.mark.parametrize("system", ["P25", "NXDN", "analogue FM"])
def test_a_log_of_another_system_is_refused(tmp_path: Path, system: str) -> None:
    with pytest.raises(InputRefusedError, match=r"all 30 rows name another system.*--system") as refusal:
        fold(tmp_path, [system])
    assert "\n" not in str(refusal.value)


@pytest.mark.parametrize(("cells", "system"), [(["P25"], "p25"), (["DMR"], "dmr"), (["P25 Phase 2", ""], "p25")])
def test_rows_of_the_own_system_are_folded(tmp_path: Path, cells: list[str], system: str) -> None:
    found = fold(tmp_path, cells, system=system).account
    assert (found.folded, found.set_aside.total()) == (30, 0)


@pytest.mark.parametrize(
    ("cell", "system"),
    [
        ("P25", "p25"),
        ("Project 25", "p25"),
        ("dmr slot 1", "dmr"),
        ("NXDN48", "nxdn"),
        ("TETRA", "other"),
        ("P25 bridge Vienna", None),
        ("DMR/NXDN", None),
        ("", None),
        ("25", None),
    ],
)
def test_cells_that_name_a_system(cell: str, system: str | None) -> None:
    assert system_of(cell) == system


@pytest.mark.parametrize(
    ("cell", "system"),
    [
        ("DMR via the bridge", "dmr"),
        ("Zonk", "other"),
        ("zonk 2", "other"),
        ("DMR/NXDN", None),
        ("digital voice", None),
        ("slot 2", None),
        ("group call", None),
        ("data", None),
        ("", None),
        ("7", None),
    ],
)
def test_what_a_cell_of_systems_tells(cell: str, system: str | None) -> None:
    assert system_in_cell(cell) == system
