"""Heard logs of the settings -> the heard stores, one for each system.

Receives settings (or files), hands on what became of every row. A fold becomes true in one step, at its end.
"""

from __future__ import annotations

import contextlib
import time
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final

from pruner.logs.files import FoldResult, LogFiles, written_as
from pruner.logs.pages import fold_waiting
from pruner.logs.system_fold import SystemFold
from pruner.publish.lock import locked
from pruner.sources.local import expand
from pruner.words import schema
from pruner.words.errors import SettingsError, SourceMissingError
from pruner.words.progress import Progress, silent

if TYPE_CHECKING:
    from pruner.settings.models import Settings


#: Seconds for which a fold waits for another one.
WAIT_SECONDS: Final = 60.0
#: Calls so many days before the last one are forgotten, where the settings say nothing; no model looks back further.
KEEP_DAYS: Final = 730


def store_folder(state: Path, system: str) -> Path:
    """The folder of a system's heard store in a state folder."""
    return state / "heard" / system


def store_locked(state: Path, command: str) -> contextlib.AbstractContextManager[None]:
    """Holds the lock of the heard stores, which is apart from that of the results. Whoever folds just now is waited for."""
    return locked(state / "heard", command, wait_seconds=WAIT_SECONDS)


def settings_logs(settings: Settings) -> tuple[list[LogFiles], FoldResult]:
    """The files of all [[heard]] tables that name files; and those tables that no file matches, as left out. Raises
    SettingsError without tables."""
    if not settings.heard:
        raise SettingsError("heard: the settings name no heard logs; add a table [[heard]] with a location, or name files")
    logs, result = [], FoldResult()
    for heard in settings.heard:
        if heard.is_remote:
            continue
        location = heard.location
        found = expand(location)
        if found:
            logs.append(written_as(heard, found))
        else:
            error = SourceMissingError(f"{location}: no file matches; check the location of the heard log")
            result.leave_out(location, error)
    return logs, result


def fold_all(settings: Settings, progress: Progress = silent) -> FoldResult:
    """Folds all logs of the settings that hold anything new, and the pages of addresses that wait. Raises PrunerError where
    there are logs and none can be read."""
    logs, result = settings_logs(settings)
    with store_locked(settings.output.state, "heard fold"):
        result.add(fold_pages(settings, progress))
        result.add(fold_files(settings.output.state, logs, progress, None, settings.calls.keep_days))
    return result.checked()


def fold_pages(settings: Settings, progress: Progress = silent) -> FoldResult:
    """Folds the pages of addresses that wait, for a caller that holds the lock of the stores."""
    state, keep_days = settings.output.state, settings.calls.keep_days
    return fold_waiting(settings, lambda page: fold_logs_locked(state, [page], progress, keep_days=keep_days))


def fold_logs(
    state: Path,
    logs: Sequence[LogFiles],
    progress: Progress = silent,
    *,
    now: float | None = None,
    keep_days: int = KEEP_DAYS,
) -> FoldResult:
    """Folds logs into the stores under a state folder. `now`: seconds since 1970 (default: the clock); `keep_days`: for how
    many days up to the last one with calls they are kept.

    A log that cannot be read is left out. Raises PrunerError with one line for each where none can be; the stores are then what
    they were.
    """
    with store_locked(state, "heard fold"):
        return fold_logs_locked(state, logs, progress, now=now, keep_days=keep_days)


def fold_logs_locked(
    state: Path,
    logs: Sequence[LogFiles],
    progress: Progress = silent,
    *,
    now: float | None = None,
    keep_days: int = KEEP_DAYS,
) -> FoldResult:
    """As `fold_logs`, for a caller that holds the lock of the stores."""
    return fold_files(state, logs, progress, now, keep_days).checked()


def fold_files(
    state: Path,
    logs: Sequence[LogFiles],
    progress: Progress = silent,
    now: float | None = None,
    keep_days: int = KEEP_DAYS,
) -> FoldResult:
    """As `fold_logs_locked`; nothing is raised where no log can be read."""
    result = FoldResult()
    for system in (name for name in schema.SYSTEM_NAMES if any(one.system == name for one in logs)):
        folder = store_folder(state, system)
        try:
            folder.mkdir(parents=True, exist_ok=True)
            fold = SystemFold(folder, system, time.time() if now is None else now, keep_days, progress)
            fold.run([one for one in logs if one.system == system])
        except OSError as error:
            raise SettingsError(
                f"{folder}: cannot be written ({error.strerror or error}); make room or choose another state"
            ) from error
        result.files.extend(fold.files)
        for path, refusal in fold.refused.items():
            result.leave_out(str(path), refusal)
        result.changed[system] = fold.changed
        result.stores[system] = folder
        if fold.forgotten:
            result.forgotten[system] = fold.forgotten
    return result
