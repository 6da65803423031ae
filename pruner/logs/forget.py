"""Days that go for good: out of the heard stores, and what else may hold calls of them.

Receives settings and days, hands on what was removed.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from pruner.calls.calls import DAY_SECONDS
from pruner.calls.logs import load_logs, save_logs
from pruner.calls.parts import day_name
from pruner.calls.store import Manifest, Part, commit, load_manifest, sweep, without_days
from pruner.logs.fold import store_folder, store_locked
from pruner.logs.pages import FETCHED
from pruner.publish.lock import locked
from pruner.sources.pages import Pages
from pruner.words import schema
from pruner.words.errors import LockedError, NothingToDoError, SettingsError

#: Seconds given to those who read a store.
_READERS_SECONDS: Final = 60.0
_NO_STORE: Final = "holds no heard store; nothing to forget"


def forget_days(state: Path, before: int | None, days: Sequence[int] = ()) -> dict[str, list[Part]]:
    """Removes all days before a day and single days (counted from 1970-01-01) from all stores of a state folder; returns the
    removed parts by system.

    Raises NothingToDoError when there is no store, SettingsError for a day to come: calls of all days until then would be
    set aside, for good.
    """
    if not (state / "heard").is_dir():
        raise NothingToDoError(f"{state}: {_NO_STORE}")
    removed = {}
    read: list[str] = []
    with locked(state, "heard forget"), store_locked(state, "heard forget"):
        for system in schema.SYSTEM_NAMES:
            folder = store_folder(state, system)
            if not folder.is_dir():
                continue
            manifest = load_manifest(folder, system)
            _check_past(before, days, manifest)
            kept = without_days(manifest, before, days)
            logs = load_logs(folder).without_days(before, tuple(days))
            commit(folder, kept)
            save_logs(folder, logs)
            if not sweep(folder, kept, logs.files, wait_seconds=_READERS_SECONDS):
                read.append(f"{folder}: another run reads the heard store; when it has ended: pruner heard fold")
            removed[system] = [part for part in manifest.all_parts if part not in kept.all_parts]
        for one in (state / FETCHED).iterdir() if (state / FETCHED).is_dir() else ():
            if one.is_dir():
                Pages(one).purge()
    if read:
        raise LockedError("\n".join(read))
    if not removed:
        raise NothingToDoError(f"{state}: {_NO_STORE}")
    return removed


def _check_past(before: int | None, days: Sequence[int], manifest: Manifest) -> None:
    last = max([int(time.time()) // DAY_SECONDS, *manifest.days])
    if before is not None and before > last + 1:
        raise SettingsError(
            f"heard forget: --before {day_name(before)}: lies in the future; to forget all calls so far, "
            f"name {day_name(last + 1)}"
        )
    if days and max(days) > last:
        raise SettingsError(f"heard forget: --day {day_name(max(days))}: lies in the future; name a day that is over")
