"""What is known of versions beside their files: `<number>.json` and the last number given, in the folder of the versions.

Receives that folder, hands on plain tables. A note has `number`, `made_at` (UTC, ISO 8601), `radios`, `details` (what the maker
noted) and `published`; none of it enters the version itself.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, Final

from pruner.words.disk import write_whole

Note = dict[str, Any]
_COUNTER: Final = "last-number"
_KEYS: Final = ("number", "made_at", "radios", "details", "published")


def notes(home: Path) -> list[tuple[int, Note]]:
    """The notes of all versions, by number."""
    found = []
    for path in home.glob("*.json"):
        try:
            note = json.loads(path.read_bytes())
            if path.stem == str(note["number"]) and set(_KEYS) <= set(note):
                found.append((int(path.stem), note))
        except (OSError, ValueError, KeyError, TypeError):
            continue  # not ours, or damaged: its version stays, but nobody is sent back to it
    return sorted(found, key=lambda pair: pair[0])


def write_note(home: Path, note: Note) -> None:
    """Writes the note of a version."""
    kept = {key: note[key] for key in _KEYS}
    write_whole(home / f"{note['number']}.json", json.dumps(kept, indent=2) + "\n")


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
