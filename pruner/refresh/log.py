"""A log for machines: one JSON object a line, bounded, without secrets.

Receives events with plain values. Each line has `time` (UTC, ISO 8601), `run` (the same for all lines of a run) and `event`.
"""

from __future__ import annotations

import datetime
import json
import re
import secrets
from pathlib import Path
from typing import Any, Final

from pruner.sources.location import shown

#: A file that has grown beyond this is set aside (one older file is kept) before a run writes.
LOG_BYTES: Final = 1_000_000
_ADDRESS: Final = re.compile(r"https?://[^\s\"'<>]+", re.IGNORECASE)


def without_secrets(text: str) -> str:
    """A text whose addresses show no user, no password and no query."""
    return _ADDRESS.sub(lambda found: shown(found.group()), text)


class RunLog:
    """The log of one run; without a path nothing is written. A file that cannot be written becomes one of `warnings`."""

    def __init__(self, path: Path | None = None, *, bytes_at_most: int = LOG_BYTES) -> None:
        self.path = path
        self.run = secrets.token_hex(4)
        self.warnings: list[str] = []
        if path is not None:
            self._rotate(path, bytes_at_most)

    def event(self, event: str, **values: Any) -> None:
        """Adds a line in a single write, so that lines of two processes never mix."""
        if self.path is None:
            return
        now = datetime.datetime.now(datetime.UTC).isoformat(timespec="milliseconds")
        line = json.dumps({"time": now, "run": self.run, "event": event, **_clean(values)}, ensure_ascii=True)
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            with self.path.open("ab", buffering=0) as file:
                file.write(line.encode() + b"\n")
        except OSError as error:
            self._give_up(error)

    def _rotate(self, path: Path, bytes_at_most: int) -> None:
        try:
            if path.is_file() and path.stat().st_size > bytes_at_most:
                path.replace(path.with_name(f"{path.name}.1"))
        except OSError as error:
            self._give_up(error)

    def _give_up(self, error: OSError) -> None:
        self.warnings.append(f"{self.path}: the log cannot be written ({error.strerror})")
        self.path = None


def _clean(value: Any) -> Any:
    if isinstance(value, str):
        return without_secrets(value)
    if isinstance(value, dict):
        return {key: _clean(item) for key, item in value.items()}
    return [_clean(item) for item in value] if isinstance(value, list | tuple) else value
