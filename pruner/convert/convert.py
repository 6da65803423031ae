"""A contact list that was exported from one radio -> the layout of another.

Receives paths, hands on the files that were written. The list goes through the same account as a directory; the one rule keeps
everything, in the order of the list, and texts stay as they were read.
"""

from __future__ import annotations

import contextlib
import shutil
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt

from pruner.account.parts import FILE, Written
from pruner.account.summary import Summary
from pruner.convert.old_list import old_list
from pruner.job.choose import Choice, choose
from pruner.job.given import load_given
from pruner.job.run import write_choice
from pruner.layout.learn import Doubt
from pruner.layout.model import load_layout
from pruner.publish.folders import fingerprint, new_folder
from pruner.read.kinds import CONTACT_LIST
from pruner.settings.messages import key_path
from pruner.settings.names import source_names
from pruner.words.disk import keep_mode
from pruner.words.errors import SettingsError
from pruner.words.progress import Progress, silent

_RADIO: Final = "converted"
_RULE: Final = "everything"
#: A list of which more than this share cannot be read is taken for another kind of table.
_REJECTED_AT_MOST: Final = 0.5


@dataclass(frozen=True, slots=True)
class Converted:
    """`summary` as in summary.json; `files`: all that was written, the file to import first; `doubts`: of the layout of the old
    list, where it was learned from its rows."""

    summary: Summary
    files: tuple[Path, ...]
    doubts: tuple[Doubt, ...] = ()


def convert(
    old: Path,
    to: Path,
    out: Path,
    *,
    described_by: Path | None = None,
    columns: Mapping[str, str | int] | None = None,
    system: str = "dmr",
    progress: Progress = silent,
) -> Converted:
    """Carries the contacts of `old` into the layout `to`.

    `described_by` is the layout of the old file; without it, where its headings are not understood, a layout is learned from
    its rows. `columns`: which column holds what. `out` is a folder; or, if it has an ending, the file to import, with ledger,
    rejected rows and summary beside it.

    Raises SettingsError, InputRefusedError or SourceMissingError with one line per problem.
    """
    load_layout(to)
    out = _usable(old, out)
    source = old_list(old, described_by, columns or {}, system)
    name = source_names([str(old)])[0]
    loaded = load_given(
        {
            "source": [
                {
                    "name": name,
                    "location": str(old),
                    "system": system,
                    "columns": dict(source.columns),
                    "rejected_share_at_most": _REJECTED_AT_MOST,
                }
            ],
            "keep": [{"name": _RULE}],
            "radio": [{"name": _RADIO, "contacts": 0, "layout": to}],
        },
        {name: source.table},
        progress,
        kind=CONTACT_LIST,
        place=lambda path: f"convert: {key_path(path)}",
    )
    loaded.files, loaded.as_read = [[old]], True
    if source.understanding is not None:
        loaded.sources[0].understandings[:] = [source.understanding]
    radio = loaded.settings.radios[0].model_copy(update={"contacts": len(loaded.contacts)})
    choice = _in_order(choose(loaded, radio), loaded.records)
    if out.suffix and not out.is_dir():
        with _beside(out) as making:
            summary = write_choice(loaded, choice, making, progress)
        return _placed(summary, out, source.doubts)
    with new_folder(out) as making:
        summary = write_choice(loaded, choice, making, progress)
    return Converted(summary, tuple(out / name for name in _names(summary)), source.doubts)


def _in_order(choice: Choice, records: npt.NDArray[np.int64]) -> Choice:
    """All contacts ranked as they stand in the list, for layouts that write by rank."""
    rank = np.zeros(len(records), dtype=np.uint32)
    rank[np.argsort(records)] = np.arange(1, len(records) + 1, dtype=np.uint32)
    return replace(choice, fit=replace(choice.fit, rank=np.where(choice.kept, rank, choice.fit.rank).astype(np.uint32)))


def _usable(old: Path, out: Path) -> Path:
    """The place of the result, with a name. Raises SettingsError for names that no result can have."""
    for path in (old, out):
        if any("\ud800" <= character <= "\udfff" for character in str(path)):
            raise SettingsError(f"{path}: this name is not UTF-8; rename it or choose another one")
    try:
        out.lstat()
        out = out if out.name and out.name != ".." else out.resolve()
    except (FileNotFoundError, NotADirectoryError):
        pass
    except OSError as error:
        raise SettingsError(f"{out}: cannot be written ({error.strerror}); choose another name") from error
    if not out.name:
        raise SettingsError(f"{out}: cannot be replaced by a result; choose a new folder or a file")
    return out


def _names(summary: Summary) -> list[str]:
    """The names of the files of a result, those to import first."""
    names = [file.name for file in summary.files]
    return [*sorted(names, key=lambda name: (not name.startswith("contacts"), name)), "summary.json"]


def _own_name(name: str, out: Path) -> str:
    """What a file of a result is called beside the file to import."""
    stem, _, ending = name.partition(".")
    if stem.startswith("contacts"):
        return f"{out.stem}{stem.removeprefix('contacts')}{out.suffix}"
    return f"{out.stem}.{stem}.{ending}"


@contextlib.contextmanager
def _beside(out: Path) -> Iterator[Path]:
    """A folder whose files take their places beside `out` when the block ends well, the file to import last. What an earlier
    conversion to `out` made and this one does not is removed."""
    before = _earlier(out)
    _refuse_foreign([out], before)
    try:
        out.parent.mkdir(parents=True, exist_ok=True)
        making = out.with_name(f".making-{out.name}")
        shutil.rmtree(making, ignore_errors=True)  # of a conversion that was killed
        making.mkdir(mode=0o700)
    except OSError as error:
        raise SettingsError(f"{out}: cannot be written ({error.strerror}); choose another file") from error
    try:
        yield making
        (making / FILE).write_text(_renamed(Summary.load(making), out).text(), encoding="utf-8")
        made = sorted(making.iterdir(), key=lambda made: (made.name.startswith("contacts"), made.name))
        places = {one: out.with_name(_own_name(one.name, out)) for one in made}
        _refuse_foreign(places.values(), before)
        for one, place in places.items():
            keep_mode(place, one)
            one.replace(place)
        for name in before - {place.name for place in places.values()}:
            out.with_name(name).unlink(missing_ok=True)
    except OSError as error:
        raise SettingsError(
            f"{out}: cannot be written ({error.strerror or error}); make room or choose another file"
        ) from error
    finally:
        shutil.rmtree(making, ignore_errors=True)


def _earlier(out: Path) -> frozenset[str]:
    """The names of the files that an earlier conversion to `out` wrote and nobody has changed since."""
    summary = _own_name("summary.json", out)
    try:
        digests = {file.name: file.sha256 for file in Written.model_validate_json(out.with_name(summary).read_bytes()).files}
    except (OSError, ValueError):
        return frozenset()
    ours = {
        name
        for name, digest in digests.items()
        if name.startswith((f"{out.stem}.", f"{out.stem}-")) and "/" not in name
        if not out.with_name(name).is_file() or fingerprint(out.with_name(name)).sha256 == digest
    }
    return frozenset({*ours, summary})


def _refuse_foreign(places: Iterable[Path], ours: frozenset[str]) -> None:
    """Raises SettingsError when a file to be written exists and no earlier conversion wrote it."""
    for place in places:
        if place.name not in ours and (place.exists() or place.is_symlink()):
            raise SettingsError(f"{place}: exists already, and no conversion wrote it as it is now; choose another file")


def _renamed(summary: Summary, out: Path) -> Summary:
    """The summary with the names that its files have beside `out`."""
    files = tuple(file.model_copy(update={"name": _own_name(file.name, out)}) for file in summary.files)
    return summary.model_copy(update={"files": files})


def _placed(summary: Summary, out: Path, doubts: tuple[Doubt, ...]) -> Converted:
    names = [_own_name(name, out) for name in _names(summary)]
    return Converted(_renamed(summary, out), tuple(out.with_name(name) for name in names), doubts)
