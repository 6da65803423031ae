"""The rows of heard logs that were not folded, kept in files beside the store: rejected ones, and those that were set aside.

Receives judged runs, hands on the names of the files. The text is hostile and is escaped.
"""

from __future__ import annotations

import contextlib
import csv
import hashlib
from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import islice
from pathlib import Path
from types import TracebackType
from typing import IO, TYPE_CHECKING, Final, Self

from pruner.account.rejected import escaped
from pruner.calls.marks import FIRST_SET_ASIDE, MARK_WORDS

if TYPE_CHECKING:
    from pruner.logs.rows import Judged

#: Of one log and fold, so many rows that were not folded are kept with their text; all are counted.
MOST_APART: Final = 10_000


class RowsApart:
    """Files of the rows that were not folded: rejected ones, and those that were set aside; the first `MOST_APART` of a log.

    `earlier` names the files of the pages of an address that were folded before (None: of a log): pages overlap, so their rows
    lie in one file, each once and without a line. `replaced`: those of these files that new ones take the place of.
    """

    def __init__(self, folder: Path, earlier: Sequence[str] | None = None) -> None:
        self._folder = folder
        self._earlier = earlier
        self._known: set[tuple[str, ...]] | None = None
        self.replaced: list[str] = []
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
            name = "set-aside" if mark >= FIRST_SET_ASIDE else "rejected"
            is_page = self._earlier is not None
            where = ("", "") if is_page else (escaped(path.name), str(line + own_line))
            row = (*where, MARK_WORDS[mark], escaped(raw))
            if is_page and not self._is_new(row):
                continue
            self._written[path] += 1
            csv.writer(self._file(name), lineterminator="\n").writerow(row)

    def _is_new(self, row: tuple[str, ...]) -> bool:
        """Whether no earlier page had this row, and there is room for it."""
        if self._known is None:
            self._known = {known for name in self._earlier or () for known in self._rows(name)}
        if row in self._known or len(self._known) >= MOST_APART:
            return False
        self._known.add(row)
        return True

    def _rows(self, name: str) -> Iterator[tuple[str, ...]]:
        with contextlib.suppress(OSError), (self._folder / name).open(encoding="utf-8", newline="") as file:
            yield from map(tuple, islice(csv.reader(file), 1, None))

    def _file(self, name: str) -> IO[str]:
        """The file of a name, begun with what earlier ones hold."""
        if name not in self._files:
            self._files[name] = (self._folder / f"making-{name}.csv").open("w", encoding="utf-8", newline="")
            rows = csv.writer(self._files[name], lineterminator="\n")
            rows.writerow(["log", "line", "reason", "raw"])
            for earlier in self._earlier or ():
                if earlier.startswith(name):
                    rows.writerows(self._rows(earlier))
                    self.replaced.append(earlier)
        return self._files[name]

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
