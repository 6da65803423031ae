"""The rows of heard logs that were not folded, kept in files beside the store: rejected ones, and those that were set aside.

Receives judged runs, hands on the names of the files. The text is hostile and is escaped.
"""

from __future__ import annotations

import csv
import hashlib
from collections import Counter
from pathlib import Path
from types import TracebackType
from typing import IO, Final, Self

from pruner.account.rejected import escaped
from pruner.calls.marks import FIRST_SET_ASIDE, MARK_WORDS
from pruner.logs.rows import Judged

#: Of one log and fold, so many rows that were not folded are kept with their text; all are counted.
MOST_APART: Final = 10_000


class RowsApart:
    """Files of the rows that were not folded: rejected ones, and those that were set aside; the first `MOST_APART` of a log."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._files: dict[str, IO[str]] = {}
        self._written: Counter[Path] = Counter()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        for file in self._files.values():
            file.close()

    def write(self, path: Path, line: int, judged: Judged) -> None:
        """Writes the rows of a run that begins behind `line` lines of the file."""
        for own_line, mark, raw in judged.apart(MOST_APART - self._written[path]):
            self._written[path] += 1
            name = "set-aside" if mark >= FIRST_SET_ASIDE else "rejected"
            if name not in self._files:
                file = self._files[name] = (self._folder / f"making-{name}.csv").open("w", encoding="utf-8", newline="")
                csv.writer(file, lineterminator="\n").writerow(["log", "line", "reason", "raw"])
            row = [escaped(path.name), line + own_line, MARK_WORDS[mark], escaped(raw)]
            csv.writer(self._files[name], lineterminator="\n").writerow(row)

    def close(self) -> list[str]:
        """Names the files by their content; they are not part of the store before its next commit."""
        names = []
        for name, file in sorted(self._files.items()):
            file.close()
            making = self._folder / f"making-{name}.csv"
            with making.open("rb") as written:
                digest = hashlib.file_digest(written, "sha256").hexdigest()
            names.append(making.replace(self._folder / f"{name}-{digest[:16]}.csv").name)
        return names
