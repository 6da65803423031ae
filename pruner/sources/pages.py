"""What an address of heard logs has answered: pages that wait until they are folded.

Receives the folder in which `sources.fetch` keeps one address, hands on files. A page of last calls scrolls away, so each one
waits in a file of its own until somebody says that it is done; whatever is killed, none is lost.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterable
from pathlib import Path
from typing import Final

from pruner.sources.store import BODY, STATE, sha256_of
from pruner.words.disk import write_whole
from pruner.words.errors import SourceMissingError

#: Of pages that nobody could read so many bytes are kept, and so many pages; the oldest go first.
MOST_BYTES: Final = 64 << 20
MOST_PAGES: Final = 1000
_WAITING, _REFUSED, _QUEUED = "waiting", "refused", "queued"


class Pages:
    """The pages of one address; the caller sees to it that nobody else changes them."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.refused = folder / _REFUSED

    def queue(self) -> bool:
        """Lets the body that was fetched last wait, if it has not yet; whether it does now."""
        body = self.folder / BODY
        digest = sha256_of(body)
        if digest is None or digest == self._last_queued():
            return False
        numbers = [int(page.name) for page in self.waiting()]
        numbers += [int(page.name) for page in _pages(self.refused)]
        folder = self.folder / _WAITING
        folder.mkdir(exist_ok=True)
        page = folder / f"{max(numbers, default=0) + 1:08}"
        try:
            os.link(body, page)  # a body is replaced, never written to
        except OSError:
            making = page.with_name("making")
            shutil.copyfile(body, making)
            making.replace(page)
        write_whole(self.folder / _QUEUED, digest)
        return True

    def waiting(self) -> list[Path]:
        """The pages that wait, the newest first."""
        return _pages(self.folder / _WAITING)

    def newest(self) -> Path:
        """The page that came last. Raises SourceMissingError where none is there."""
        for page in (self.folder / BODY, *self.waiting()):
            if page.is_file():
                return page
        raise SourceMissingError("nothing was fetched yet from its address; run pruner heard fetch first")

    def done(self, page: Path) -> None:
        """A page was folded."""
        page.unlink(missing_ok=True)

    def refuse(self, page: Path) -> None:
        """A page cannot be read although later ones can: it is laid aside."""
        self.refused.mkdir(exist_ok=True)
        page.replace(self.refused / page.name)

    def trim(self) -> int:
        """Drops the oldest of too many pages; how many of those that waited are gone."""
        _too_many(_pages(self.refused))
        return _too_many(self.waiting())

    def purge(self) -> None:
        """Drops everything but what waits."""
        shutil.rmtree(self.refused, ignore_errors=True)
        for name in (BODY, STATE):
            (self.folder / name).unlink(missing_ok=True)

    def _last_queued(self) -> str:
        try:
            return (self.folder / _QUEUED).read_text(encoding="ascii")
        except (OSError, UnicodeError):
            return ""


def _pages(folder: Path) -> list[Path]:
    try:
        return sorted((path for path in folder.iterdir() if path.name.isdigit()), reverse=True)
    except FileNotFoundError:
        return []


def _too_many(pages: Iterable[Path]) -> int:
    held = gone = 0
    for count, page in enumerate(pages, 1):
        held += page.stat().st_size
        if count > 1 and (held > MOST_BYTES or count > MOST_PAGES):
            page.unlink()
            gone += 1
    return gone
