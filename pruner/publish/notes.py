"""What is known of versions beside their files: `<number>.json` and the last number given, in the folder of the versions.

Receives that folder, hands on notes; nothing of them enters the version itself.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from pruner.words.disk import write_whole
from pruner.words.stored import StoredError, reason_of, stored

_COUNTER: Final = "last-number"


@dataclass(frozen=True, slots=True)
class Details:
    """What the maker of a version noted: a digest of its `inputs` ("": of none), and how many contacts each radio `kept`."""

    inputs: str = ""
    kept: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Note:
    """A version: its number, when it was made (UTC, ISO 8601), whether it was published; `folder`: of release 0.1.0, where it
    was published, seen from the folder of the state."""

    number: int
    made_at: str
    radios: tuple[str, ...]
    details: Details
    published: bool
    folder: str = ""


def notes(home: Path) -> list[Note]:
    """The notes of all versions, by number; without those that are damaged: their versions stay, but nobody is sent back to
    them."""
    return sorted((note for note, _ in map(_read, _files(home)) if note), key=lambda note: note.number)


def damaged_notes(home: Path) -> list[str]:
    """A line for each note that is damaged."""
    return [trouble for _, trouble in map(_read, _files(home)) if trouble]


def _files(home: Path) -> list[Path]:
    return sorted(path for path in home.glob("*.json") if _is_number(path.stem))


def _read(path: Path) -> tuple[Note | None, str]:
    try:
        note = stored(Note, path.read_bytes())
        if str(note.number) != path.stem:
            raise StoredError(f"number: expected {path.stem}, found {note.number}")
    except FileNotFoundError:  # dropped by another run in the meantime
        return None, ""
    except (OSError, StoredError) as error:
        advice = f"rollback passes version {path.stem} over; remove note and folder, unless `current` leads there"
        return None, f"{path}: the note of a version is damaged ({reason_of(error)}); {advice}"
    return note, ""


def write_note(home: Path, note: Note) -> None:
    """Writes the note of a version, as it is beside its version."""
    inputs = {"inputs": note.details.inputs} if note.details.inputs else {}
    kept = {
        "number": note.number,
        "made_at": note.made_at,
        "radios": note.radios,
        "details": {**inputs, "kept": dict(note.details.kept)},
        "published": note.published,
    }
    write_whole(home / f"{note.number}.json", json.dumps(kept, indent=2) + "\n")


def next_number(home: Path) -> int:
    """A number that no version bore before, those that are gone included."""
    return 1 + max([_last_number(home), *(int(path.stem) for path in home.iterdir() if _is_number(path.stem))])


def take_number(home: Path, number: int) -> None:
    """Remembers that a number was given, also when its version is gone again."""
    if number > _last_number(home):
        write_whole(home / _COUNTER, f"{number}\n")


def take_numbers_of(old: Path, home: Path) -> None:
    """Goes on counting where another folder of versions ended."""
    take_number(home, _last_number(old))


def remove_if_empty(home: Path) -> None:
    """Removes a folder of versions in which nothing but the last number is left."""
    if [path.name for path in home.iterdir()] in ([], [_COUNTER]):
        (home / _COUNTER).unlink(missing_ok=True)
        home.rmdir()


def _last_number(home: Path) -> int:
    try:
        return int((home / _COUNTER).read_text(encoding="ascii"))
    except (OSError, ValueError):
        return 0


def _is_number(text: str) -> bool:
    return text.isascii() and text.isdigit()
