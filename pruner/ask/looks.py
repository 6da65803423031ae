"""Every file that settings name, opened and looked at: which column gives what, with the first rows as understood.

Receives settings, hands on one `Look` per file. Nothing is raised: a file that cannot be read says why.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Final

from pruner.job.load import source_paths
from pruner.read.heard_log import open_log
from pruner.read.kinds import EXPORT, STATIONS, TALKGROUPS
from pruner.read.open_table import Answers, open_table
from pruner.read.station_list import read_list
from pruner.settings.models import Heard, Settings
from pruner.sources.local import expand
from pruner.sources.location import shown
from pruner.table.kinds import Kind
from pruner.table.listed import Listed
from pruner.words.errors import NoRowsError, PrunerError
from pruner.words.nouns import counted

_ROWS: Final = 3
_COLUMNS: Final = 8
#: What heard logs are called: a fit goes on without one that it refuses.
HEARD: Final = "heard log"
Found = tuple[str, tuple[dict[str, str], ...]]


@dataclass(frozen=True, slots=True)
class Look:
    """One file: `what` it is for the settings, its path, the sentence on its columns, its first rows (meaning -> cell), why it
    cannot be read ("" where it can), whether a person should say that it is right, and with which exit code a job refuses it
    (0: none does)."""

    what: str
    path: str
    sentence: str
    rows: tuple[Mapping[str, str], ...] = ()
    trouble: str = ""
    is_doubtful: bool = False
    refused: int = 0

    def plain(self) -> dict[str, object]:
        """For JSON."""
        return {
            "what": self.what,
            "file": self.path,
            "sentence": self.sentence,
            "rows": [dict(row) for row in self.rows],
            "trouble": self.trouble,
        }


def looks(settings: Settings) -> Iterator[Look]:
    """Looks at the files of sources, heard logs, lists, carried entries, routes and layouts, in this order, each once."""
    for source in settings.sources:
        where = shown(source.location) if source.is_remote else source.location
        table = partial(_table, kind=STATIONS, system=source.system, columns=source.columns, encoding=source.encoding)
        paths = partial(source_paths, source, settings.output.state)
        yield from _each(f"source {source.name}", paths, where, table, is_needed=not source.is_remote)
    for heard in settings.heard:
        table = partial(_log, heard=heard)
        where = shown(heard.location) if heard.is_remote else heard.location
        yield from _each(HEARD, partial(_logs, settings, heard), where, table, is_needed=False)
    columns = {rule.list: rule.list_columns for rule in (*settings.drop, *settings.keep) if rule.list is not None}
    for path, answers in columns.items():
        yield _look("list", path, partial(_list, columns=answers))
    groups = settings.talkgroups
    if groups.list is not None:
        yield _look("talkgroups", groups.list, partial(_table, kind=TALKGROUPS, system="dmr", columns=groups.list_columns))
    for radio in settings.radios:
        if radio.carried is not None:
            system, answers = settings.sources[0].system, radio.carried_columns
            table = partial(_table, kind=EXPORT, system=system, columns=answers)
            yield _look(f"carried by {radio.name}", radio.carried, table)
    for path in dict.fromkeys(rule.route for rule in (*settings.drop, *settings.keep) if rule.route is not None):
        yield _look("route", path, _route)
    for path in dict.fromkeys(radio.layout for radio in settings.radios if radio.layout is not None):
        yield _look("layout", path, _layout)


def look_at(what: str, path: Path, system: str = "dmr", columns: Answers | None = None) -> Look:
    """Looks at one directory of stations, with `is_doubtful`."""
    try:
        found = open_table(path, STATIONS, system, columns or {}).understanding
    except PrunerError as error:
        return Look(what, str(path), "", (), _one_line(error), is_doubtful=True)
    return Look(what, str(path), found.sentence(), found.rows, is_doubtful=found.is_doubtful)


def _each(
    what: str, paths: Callable[[], list[Path]], location: str, describe: Callable[[Path], Found], *, is_needed: bool
) -> Iterator[Look]:
    """The files of a location; with `is_needed` a fit refuses what it cannot have; what was not fetched yet may come later."""
    try:
        found = paths()
    except PrunerError as error:
        yield Look(what, location, "", (), _one_line(error), refused=error.exit_code if is_needed else 0)
        return
    for path in found:
        yield _look(what, path, describe, is_one_of_several=len(found) > 1)


def _look(what: str, path: Path, describe: Callable[[Path], Found], *, is_one_of_several: bool = False) -> Look:
    try:
        return Look(what, str(path), *describe(path))
    except NoRowsError as error:
        refused = 0 if is_one_of_several else error.exit_code  # where none of them has rows, a fit says so
        return Look(what, str(path), "", (), _one_line(error), refused=refused)
    except PrunerError as error:
        return Look(what, str(path), "", (), _one_line(error), refused=error.exit_code)


def _one_line(error: PrunerError) -> str:
    return "; ".join(str(error).splitlines())


def _logs(settings: Settings, heard: Heard) -> list[Path]:
    """The files of a heard log; of an address, the page that came last."""
    if heard.is_remote:
        from pruner.logs.pages import pages_of  # for those who have addresses

        return [pages_of(settings, heard).newest()]
    return expand(heard.location) or [Path(heard.location)]


def _table(path: Path, kind: Kind, system: str, columns: Answers, encoding: str | None = None) -> Found:
    understanding = open_table(path, kind, system, columns, encoding).understanding
    return understanding.sentence(), understanding.rows


def _log(path: Path, heard: Heard) -> Found:
    order, pattern = heard.dates or "", heard.pattern or ""
    log = open_log(path, heard.columns, (), is_finished=True, system=heard.system, order=order, pattern=pattern)
    if log is None or log.columns is None:
        return "holds nothing yet", ()
    understood = log.columns.understood(heard.stated_zone)
    return understood.sentence(), understood.rows


def _list(path: Path, columns: Answers) -> Found:
    listed = read_list(path, columns)
    return listed.sentence(), listed.understanding.rows if listed.understanding else _entries(listed)


def _entries(listed: Listed) -> tuple[dict[str, str], ...]:
    """The first entries of a plain list, by kind."""
    kinds = {
        "id": [str(number) for number in listed.ids[:_ROWS].tolist()],
        "ids": [f"{first} to {last}" for first, last in listed.ranges[:_ROWS]],
        "callsign": sorted(listed.callsigns)[:_ROWS],
        "pattern": list(listed.patterns[:_ROWS]),
    }
    filled = {kind: entries for kind, entries in kinds.items() if entries}
    count = max((len(entries) for entries in filled.values()), default=0)
    return tuple({kind: entries[row] for kind, entries in filled.items() if row < len(entries)} for row in range(count))


def _route(path: Path) -> Found:
    from pruner.read.route_file import read_route  # routes are for those who have one

    route = read_route(path)
    return f"{counted(route.points, 'point')} in {counted(len(route.lines), 'line')}", ()


def _layout(path: Path) -> Found:
    from pruner.layout.model import load_layout  # layouts are for those who have one

    titles = [column.title for column in load_layout(path).columns]
    more = f" and {len(titles) - _COLUMNS} more" if len(titles) > _COLUMNS else ""
    return f"writes {len(titles)} columns: {', '.join(titles[:_COLUMNS])}{more}", ()
