"""The pages of finished runs, made again without fitting again.

Receives the folders of finished runs, hands on one page and the figures by which radios compare. A published result is
read and never written into.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from pruner.account.parts import no_run
from pruner.account.summary import Summary
from pruner.ask.why import result_folders
from pruner.history.growth import Series
from pruner.history.limits import lasting_of
from pruner.pages.page import BEGINNING, GENERATOR, render_several
from pruner.pages.page_model import coverage_figures, room_of
from pruner.publish.folders import VERSIONS, fingerprint
from pruner.publish.versions import versions
from pruner.settings.models import Settings
from pruner.words.disk import write_whole
from pruner.words.errors import InputRefusedError, PrunerError, SettingsError

LEDGER: Final = "ledger.parquet"
#: How much of a file is looked at to tell whether it is a page of ours.
_HEAD: Final = 2000


@dataclass(frozen=True, slots=True)
class Run:
    """A finished run of one radio: its folder and its summary."""

    folder: Path
    summary: Summary


def runs_of_settings(settings: Settings, radio: str | None = None) -> list[Run]:
    """The finished runs of the settings' radios, in their order. Raises SettingsError where one is missing."""
    names = [one.name for one in settings.radios if radio in (None, one.name)]
    if not names:
        known = ", ".join(one.name for one in settings.radios)
        raise SettingsError(f"report: no radio is named {radio!r} (there are: {known})")
    return [_run(settings.output.folder / name) for name in names]


def runs_in(folder: Path, radio: str | None = None) -> list[Run]:
    """The finished runs in a folder: its own, or those of the folders in it, by name. Raises SettingsError without any."""
    if (folder / "summary.json").is_file():
        found = [_run(folder)]
        return [run for run in found if radio in (None, run.summary.radio)] or _none(folder, radio)
    return [_run(one) for one in result_folders(folder, radio)] or _none(folder, radio)


def published_on(settings: Settings) -> str | None:
    """The day (UTC, ISO 8601) on which the published version was made; None for a plain run."""
    known = versions(settings.output.folder, settings.output.state)
    return next((version.made_at[:10] for version in known if version.current), None)


def comparison(runs: Sequence[Run]) -> list[dict[str, Any]]:
    """One row per radio: what it holds and keeps, the room left, the rule inside which the limit fell, its coverage to come
    (as in summary.json) and looking back."""
    rows = []
    for run in runs:
        room, figures, cut = room_of(run.summary), coverage_figures(run.summary), run.summary.cut
        ahead = run.summary.coverage.to_come if run.summary.coverage else None
        rows.append(
            {
                "radio": run.summary.radio,
                "unit": room.unit,
                "holds": room.holds,
                "kept": run.summary.kept,
                "room_left": room.left,
                "cut": cut.rule if cut else None,
                "to_come": ahead.model_dump(mode="json") if ahead else None,
                "coverage": figures[0].share if figures else None,
                "coverage_of": figures[0].words if figures else None,
            }
        )
    return rows


def write_page(
    runs: Sequence[Run], target: Path, *, charts: bool = False, date: str | None = None, series: Series | None = None
) -> None:
    """Writes the page of these runs as one file. The same page that stands there already is left as it is. `series`: how the
    directory grew, for dates.

    Raises SettingsError where `target` belongs to a finished run, is a file of somebody else, or cannot be written.
    """
    lasting = [lasting_of(run.summary, series) for run in runs] if series is not None else ()
    try:
        text = render_several([(run.summary, run.folder / LEDGER) for run in runs], charts=charts, date=date, lasting=lasting)
    except PrunerError:
        raise
    except (OSError, KeyError, TypeError, ValueError) as error:
        folders = ", ".join(str(run.folder) for run in runs)
        raise SettingsError(f"{folders}: no whole run of this version of pruner ({error}); run pruner fit again") from error
    _refuse_mixed(runs)
    if _refuse(target, text):
        return
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        write_whole(target, text, of_user=True)
    except OSError as error:
        raise SettingsError(f"{target}: cannot be written ({error.strerror}); name another file with --out") from error


def _run(folder: Path) -> Run:
    try:
        summary = Summary.load(folder)
    except InputRefusedError as error:
        raise SettingsError(f"{folder}: {no_run(folder)}") from error
    if not (folder / LEDGER).is_file():
        raise SettingsError(f"{folder}: {no_run(folder)}")
    return Run(folder, summary)


def _none(folder: Path, radio: str | None) -> list[Run]:
    if radio is None:
        raise SettingsError(f"{folder}: {no_run(folder)}")
    raise SettingsError(f"{folder}: holds no finished run of a radio {radio!r}")


def _refuse_mixed(runs: Sequence[Run]) -> None:
    """Raises SettingsError where a ledger is not the summary's own: damaged, or another fit has just ended."""
    for run in runs:
        ledger = fingerprint(run.folder / LEDGER)
        if ledger not in run.summary.files:
            raise SettingsError(f"{run.folder}: the ledger is not the one that summary.json names; run pruner fit again")


def _refuse(target: Path, text: str) -> bool:
    """Whether the page stands there already. Raises SettingsError where it must not be written."""
    place = target.resolve()
    if place.is_dir():
        raise SettingsError(f"{target}: is a folder; name a file with --out")
    try:
        present = place.read_bytes()
    except OSError:
        present = None
    if present == text.encode():
        return True
    if VERSIONS in place.parts or (place.parent / "summary.json").exists():
        raise SettingsError(
            f"{target}: {place.parent.name} is a finished run, which nothing is written into; choose another --out"
        )
    if present is not None and not (present.startswith(BEGINNING.encode()) and GENERATOR.encode() in present[:_HEAD]):
        raise SettingsError(f"{target}: exists and is no page of pruner; name another file with --out")
    return False
