"""The demo's entry: an invented event, its world directory, its heard logs and its lists, written into a folder.

Receives a folder, a number of stations and a seed; hands on the paths written. All ids, calls, call signs and
names are generated at random; whoever is met under one of them on the air has nothing to do with it.
"""

from __future__ import annotations

import hashlib
import json
import shutil
from collections.abc import Mapping
from pathlib import Path
from typing import Final

from pruner.demo import calls
from pruner.demo.cells import HEADINGS, clean_cells, directory_bytes
from pruner.demo.dirt import KINDS, make_plan
from pruner.demo.draws import Draws
from pruner.demo.history import write_first_seen, write_history
from pruner.demo.lists import (
    LEFT_OUT_HEADING,
    MARSHAL_HEADINGS,
    SETTINGS,
    SETTINGS_HEADING,
    choose_rows,
    left_out_text,
    marshals_text,
)
from pruner.demo.route import ROUTE_HEADING, route_bytes
from pruner.demo.talkgroups import TALKGROUP_HEADINGS, talkgroup_bytes
from pruner.history.first_seen import FOLDER as FIRST_SEEN
from pruner.words.errors import SettingsError

STATIONS: Final = 330_000
SEED: Final = 20_260_614
#: As in the settings of the demo: where the state lies, and the radio, its limit and the source of the earlier runs.
_STATE: Final = ".pruner"
#: In the state: what each file of the demo was when it was written.
_WRITTEN: Final = "demo.json"
_RADIO: Final = ("loan-handheld", 200_000, "world")

#: The first line by which the demo knows each of its files again; the settings come last.
FIRST_LINES: Final[dict[str, str]] = {
    "stations.csv": ",".join(HEADINGS),
    "marshals.csv": ",".join(MARSHAL_HEADINGS),
    "left-out.txt": LEFT_OUT_HEADING,
    "talkgroups.csv": ",".join(TALKGROUP_HEADINGS),
    "tour.gpx": ROUTE_HEADING,
    **{f"{calls.FOLDER}/{name}": ",".join(calls.HEADINGS) for name in calls.file_names()},
    "pruner.toml": SETTINGS_HEADING,
}


def _is_own(folder: Path, name: str) -> bool:
    first, path = FIRST_LINES.get(name), folder / name
    if first is None or not path.is_file():
        return False
    with path.open("rb") as file:
        return file.read(len(first.encode()) + 1) == f"{first}\n".encode()


def _names(folder: Path) -> list[str]:
    """What lies in the folder; of the folder of heard logs, what lies in it."""
    logs = folder / calls.FOLDER
    inside = [f"{calls.FOLDER}/{path.name}" for path in logs.iterdir()] if logs.is_dir() else []
    return [path.name for path in folder.iterdir() if path != logs or not inside] + inside


def _check_folder(folder: Path) -> None:
    """Raise SettingsError unless the folder is missing, empty or an earlier demo (with what a run added)."""
    if not folder.exists():
        return
    if not folder.is_dir():
        raise SettingsError(f"{folder}: is a file, expected a folder; name a new folder for the demo")
    foreign = [name for name in _names(folder) if not _is_own(folder, name)]
    if _is_own(folder, "pruner.toml"):
        foreign = [name for name in foreign if name in (*FIRST_LINES, calls.FOLDER)]
    if foreign:
        shown = ", ".join(repr(name) for name in sorted(foreign)[:3]) + (", ..." if len(foreign) > 3 else "")
        raise SettingsError(f"{folder}: holds files that are not of the demo ({shown}); name a new or empty folder")


def _check_changes(folder: Path) -> None:
    """Raise SettingsError where a file of an earlier demo has been changed since it was written."""
    try:
        written = json.loads((folder / _STATE / _WRITTEN).read_bytes())
    except (OSError, ValueError):
        return
    known = written.items() if isinstance(written, dict) else ()
    changed = [name for name, digest in known if (folder / name).is_file() and _digest((folder / name).read_bytes()) != digest]
    if changed:
        raise SettingsError(f"{folder}: {changed[0]!r} has been changed since the demo was written; name another folder")


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def _digests(contents: Mapping[str, bytes]) -> bytes:
    return json.dumps({name: _digest(content) for name, content in contents.items()}, indent=1).encode() + b"\n"


def write_demo(folder: Path, stations: int = STATIONS, seed: int = SEED) -> list[Path]:
    """Write the invented scenario: `stations.csv`, `marshals.csv`, `left-out.txt`, `talkgroups.csv`, `tour.gpx`,
    `heard/`, `pruner.toml`, and in the state folder two years of earlier runs and what the last of them saw.

    `stations` is the exact number of records of `stations.csv` (1000 to 500 000). The same arguments give
    the same bytes. An earlier demo in the folder is rewritten. Returns the paths written.

    Raises SettingsError for a number out of range, if the folder holds files that are not the demo's own or that have been
    changed, or if it cannot be written.
    """
    folder = Path(folder)
    _check_folder(folder)
    _check_changes(folder)
    draws = Draws(seed)
    plan = make_plan(draws, stations)
    cells = clean_cells(plan, draws)
    marshals, left_out = choose_rows(plan, draws, cells)
    contents = {
        "stations.csv": directory_bytes(plan, draws),
        "marshals.csv": marshals_text(marshals, cells).encode(),
        "left-out.txt": left_out_text(left_out, cells).encode(),
        "talkgroups.csv": talkgroup_bytes(seed),
        "tour.gpx": route_bytes(),
        **{f"{calls.FOLDER}/{name}": content for name, content in calls.calls_files(plan.stations, seed=seed).items()},
        "pruner.toml": SETTINGS.encode(),
    }
    try:
        (folder / calls.FOLDER).mkdir(parents=True, exist_ok=True)
        shutil.rmtree(folder / _STATE / "heard", ignore_errors=True)  # of an earlier demo, perhaps of another size
        history = write_history(folder / _STATE / "history", len(plan.stations.ids), *_RADIO, seed)
        seen = write_first_seen(folder / _STATE / FIRST_SEEN, _RADIO[2], plan.stations.ids)
        written = [_replace(folder / name, content) for name, content in contents.items()]
        return [*written, history, seen, _replace(folder / _STATE / _WRITTEN, _digests(contents))]
    except OSError as error:
        raise SettingsError(f"{folder}: cannot be written ({error.strerror}); name another folder") from error


def _replace(path: Path, content: bytes) -> Path:
    beside = path.with_name(f".{path.name}.part")
    try:
        beside.write_bytes(content)
        beside.replace(path)
    finally:
        beside.unlink(missing_ok=True)
    return path


def planted(stations: int = STATIONS, seed: int = SEED) -> dict[str, int]:
    """What `write_demo` with the same arguments plants in the directory: rows per kind of dirt, `rows`, `different ids`.

    `different ids` counts the valid ids that remain when all dirt is dealt with as DEVELOPERS.md says.
    """
    plan = make_plan(Draws(seed), stations)
    counts = {kind: len(plan.rows(kind)) for kind in KINDS}
    return {"rows": stations, "different ids": len(plan.stations.ids), **counts}
