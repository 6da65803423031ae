"""The stored bodies: `<store>/<source>/body` and what is known of it in `state.json`.

A body and its record appear together: the record of a new body is written before the body itself, and of the records the
one counts whose hash the body has. So a crash at any moment leaves either the old body or the new one, with its record.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import re
import tempfile
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, BinaryIO, Final, cast

from pruner.words.disk import sync as _sync_folder
from pruner.words.errors import LockedError, SettingsError
from pruner.words.locks import close_folder, open_folder, take

_ARRIVING: Final = ".arriving-"
BODY: Final = "body"
STATE: Final = "state.json"


@dataclass(frozen=True, slots=True)
class Record:
    """A body and its validators (RFC 9110, section 8.8). Addresses are kept as fingerprints only."""

    sha256: str
    bytes: int
    location: str
    answered_by: str
    etag: str | None
    last_modified: str | None
    fetched_at: float
    checked_at: float


@dataclass(frozen=True, slots=True)
class Asked:
    """When a location last answered, and for how long the server then asked to be left alone (None: it did not).

    `failure` is what went wrong when it was asked once more after that, None if nothing did; `refused`: something came.
    """

    location: str
    at: float
    wait: float | None
    failure: str | None = None
    refused: bool = False


def folder_name(name: str) -> str:
    """A file name for any source name; different names give different ones."""
    if re.fullmatch(r"[A-Za-z0-9_-]{1,64}", name, re.ASCII):
        return name
    digest = hashlib.sha256(name.encode("utf-8", "surrogatepass")).hexdigest()
    return re.sub(r"[^A-Za-z0-9_-]", "_", name, flags=re.ASCII)[:40] + "~" + digest[:16]


class Shelf:
    """The place of one source in the store. Make it with `open_shelf`."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.body = folder / BODY
        records, self.asked = _read_state(folder / STATE)
        digest = sha256_of(self.body) if records else None
        self.record = next((record for record in records if record.sha256 == digest), None)
        """What is known of the stored body; None when there is none or when its bytes are not those recorded."""

    def remember(self, record: Record | None, asked: Asked | None) -> None:
        """Writes what is known of the body that stands there."""
        self.record, self.asked = record, asked
        self._write([record] if record else [])

    @contextlib.contextmanager
    def arriving(self) -> Iterator[BinaryIO]:
        """A new file in the folder to write a body into; it is gone at the end of the block unless it was taken."""
        with tempfile.NamedTemporaryFile("wb", prefix=_ARRIVING, dir=self.folder, delete=False) as file:
            try:
                yield cast(BinaryIO, file)
            finally:
                Path(file.name).unlink(missing_ok=True)

    def take(self, file: BinaryIO, record: Record, asked: Asked) -> None:
        """Puts a written file in the place of the body."""
        file.flush()
        os.fsync(file.fileno())
        self.asked = asked
        self._write([record] if self.record is None else [record, self.record])
        Path(file.name).replace(self.body)
        _sync_folder(self.folder)
        self.remember(record, asked)

    def sweep(self) -> None:
        """Removes what a killed run left."""
        for left in self.folder.glob(_ARRIVING + "*"):
            left.unlink(missing_ok=True)

    def _write(self, records: list[Record]) -> None:
        state = {
            "schema": 1,
            "records": [asdict(record) for record in records],
            "asked": asdict(self.asked) if self.asked else None,
        }
        with self.arriving() as file:
            file.write(json.dumps(state, indent=1).encode() + b"\n")
            file.flush()
            os.fsync(file.fileno())
            Path(file.name).replace(self.folder / STATE)
        _sync_folder(self.folder)


@contextlib.contextmanager
def open_shelf(store: Path, name: str) -> Iterator[Shelf]:
    """The place of a source, locked for the block. Raises LockedError, and SettingsError when it cannot be written."""
    folder = store / folder_name(name)
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        descriptor = open_folder(folder)
    except OSError as error:
        raise SettingsError(f"{folder}: cannot be written ({error.strerror}); choose another state folder") from error
    try:
        _lock(descriptor, name)
        yield _opened(folder)
    except OSError as error:
        raise SettingsError(f"{folder}: cannot be written ({error.strerror}); make room or correct its permissions") from error
    finally:
        close_folder(descriptor)


def sha256_of(path: Path) -> str | None:
    """SHA-256 of a file, None if there is none."""
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except FileNotFoundError:
        return None


def _opened(folder: Path) -> Shelf:
    shelf = Shelf(folder)
    shelf.sweep()
    return shelf


def _lock(descriptor: int, name: str) -> None:
    try:
        take(descriptor)
    except BlockingIOError:
        raise LockedError(f"source {name!r}: another run is fetching it; try again when it has ended") from None


def _read_state(path: Path) -> tuple[list[Record], Asked | None]:
    """What the state file says; nothing if it is absent or damaged, for all of it can be had again."""
    try:
        state = json.loads(path.read_bytes())
        asked = state["asked"]
        return [_record(entry) for entry in state["records"]], _asked(asked) if asked else None
    except (OSError, ValueError, KeyError, TypeError, ArithmeticError):
        return [], None


def _record(entry: dict[str, Any]) -> Record:
    return Record(
        sha256=str(entry["sha256"]),
        bytes=int(entry["bytes"]),
        location=str(entry["location"]),
        answered_by=str(entry["answered_by"]),
        etag=_text(entry["etag"]),
        last_modified=_text(entry["last_modified"]),
        fetched_at=_moment(entry["fetched_at"]),
        checked_at=_moment(entry["checked_at"]),
    )


def _asked(entry: dict[str, Any]) -> Asked:
    wait = entry["wait"]
    return Asked(
        str(entry["location"]),
        _moment(entry["at"]),
        None if wait is None else _moment(wait),
        _text(entry.get("failure")),  # absent before 0.2
        bool(entry.get("refused")),
    )


def _moment(value: object) -> float:
    """A number that the clock can show, else ValueError."""
    if isinstance(value, int | float) and 0 <= value < 1e11:
        return float(value)
    raise ValueError(value)


def _text(value: object) -> str | None:
    return value if isinstance(value, str) else None
