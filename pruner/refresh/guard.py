"""A new directory against the last accepted one: whether it may take its place.

Receives the files of a source, hands on figures (`measure`) and what is suspicious in them (`suspicions`), each in a sentence
with both figures. What cannot be read at all is refused by the reading code itself.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Final

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from pruner.job.collect import SourceRows, collect
from pruner.job.rejections import beyond_share
from pruner.reference import countries
from pruner.settings.models import Source
from pruner.words import schema
from pruner.words.errors import InputRefusedError
from pruner.words.outcomes import Reason
from pruner.words.threads import Pool, Work

#: Of a country that had many rows, fewer than this share are as good as none.
_AS_GOOD_AS_NONE: Final = 0.1
#: A column that stands there without values counts as lost when it had at least this many before.
_MANY_VALUES: Final = 100
#: Fewer rows than this with one id are no fault of a whole directory.
_FEW_REPEATS: Final = 20
_NOT_PLAIN_TEXT: Final = (b"\x1f\x8b", b"\x28\xb5\x2f\xfd", b"PK\x03\x04", b"PAR1", b"ARROW1")


@dataclass(frozen=True, slots=True)
class Statistics:
    """Figures of one directory: `values` counts the filled cells per column, `countries` the rows per ISO 3166-1 code,
    `repeats` the rows of the id that stands there most often; `ends` says whether each text file ends a line."""

    rows: int
    rejected: int
    values: Mapping[str, int]
    countries: Mapping[str, int]
    repeats: int
    ends: bool

    def plain(self) -> dict[str, object]:
        """As plain values for JSON."""
        return asdict(self)


@dataclass(frozen=True, slots=True)
class Limits:
    """What is still believed; see `settings.refresh_models.Refresh`."""

    shrink_share_at_most: float = 0.1
    country_rows_many: int = 500
    repeat_share_at_most: float = 0.01


def measure(source: Source, files: Sequence[Path]) -> Statistics:
    """Reads a source with the code of the run itself. Raises InputRefusedError, one line, for what is no usable directory."""
    system = schema.SYSTEMS[source.system]
    columns = dict(source.columns) if source.columns else None
    with Pool(Work.PARSING) as pool:
        rows = collect(source.name, system, list(files), pool, columns=columns, encoding=source.encoding)
    if refused := beyond_share(source, rows):
        raise InputRefusedError(refused)
    numbered = (rows.reason != Reason.UNREADABLE_ROW) & (rows.reason != Reason.INVALID_ID)
    numbers = rows.number[numbered]
    per_country = np.bincount(rows.country[rows.station], minlength=len(countries.CODES))
    found = Statistics(
        rows=len(rows.number),
        rejected=len(rows.rejected),
        values=_filled(rows),
        countries={countries.CODES[index]: int(per_country[index]) for index in np.flatnonzero(per_country).tolist() if index},
        repeats=int(np.bincount(numbers).max()) if len(numbers) else 0,
        ends=all(_ends_a_line(path) for path in files),
    )
    pa.default_memory_pool().release_unused()
    return found


def _filled(rows: SourceRows) -> dict[str, int]:
    """Filled cells of each column that is there; a column that no file has is absent."""
    found = {schema.ID: len(rows.number), schema.CALLSIGN: len(rows.callsign) - rows.callsign.null_count}
    for texts in rows.texts:
        for name, column in texts.items():
            blank = pc.equal(pc.utf8_trim_whitespace(column.dictionary), "")
            blanks = pc.sum(pc.take(blank, column.indices)).as_py() or 0
            found[name] = found.get(name, 0) + len(column) - column.null_count - int(blanks)
    return dict(sorted(found.items()))


def _ends_a_line(path: Path) -> bool:
    """Whether a file of plain text ends with a line end; True for all other files, whose reader sees their end."""
    with path.open("rb") as file:
        head = file.read(64)
        file.seek(max(path.stat().st_size - 2, 0))
        tail = file.read()
    packed = head.startswith(_NOT_PLAIN_TEXT)
    json_text = head.lstrip(b"\xef\xbb\xbf \t\r\n")[:1] in (b"{", b"[")
    return packed or json_text or b"\n" in tail or b"\r" in tail


def suspicions(new: Statistics, last: Statistics | None, limits: Limits) -> list[str]:
    """What speaks against a new directory, a sentence each; `last` is the last accepted one (None: there is none)."""
    found = _repeats(new, last, limits)
    if last is None:
        return found
    if new.rows < last.rows * (1 - limits.shrink_share_at_most):
        allowed = f"more than shrink_share_at_most = {limits.shrink_share_at_most} allows"
        found.append(f"it has {new.rows:,} rows, the last accepted one had {last.rows:,}: {allowed}")
    if last.ends and not new.ends:
        found.append("it ends in the middle of a line, the last accepted one did not: it may be cut off")
    return [*found, *_lost_columns(new, last), *_lost_countries(new, last, limits)]


def _repeats(new: Statistics, last: Statistics | None, limits: Limits) -> list[str]:
    share = new.repeats / max(new.rows, 1)
    before = last.repeats / max(last.rows, 1) if last else 0.0
    if new.repeats < _FEW_REPEATS or share <= max(limits.repeat_share_at_most, 2 * before):
        return []
    was = f", in the last accepted one {last.repeats:,} of {last.rows:,}" if last else ""
    return [
        f"one id stands in {new.repeats:,} of {new.rows:,} rows{was}: "
        f"more than repeat_share_at_most = {limits.repeat_share_at_most} allows"
    ]


def _lost_columns(new: Statistics, last: Statistics) -> list[str]:
    found = []
    for name, filled in last.values.items():
        if filled and name not in new.values:
            found.append(f"the column {name!r} is gone; the last accepted one had {filled:,} values there")
        elif filled >= _MANY_VALUES and not new.values[name]:
            found.append(f"the column {name!r} has 0 values, in the last accepted one {filled:,}")
    return found


def _lost_countries(new: Statistics, last: Statistics, limits: Limits) -> list[str]:
    lost = [
        f"{code} {new.countries.get(code, 0):,} of {had:,}"
        for code, had in sorted(last.countries.items(), key=lambda pair: (-pair[1], pair[0]))
        if had >= limits.country_rows_many and new.countries.get(code, 0) < had * _AS_GOOD_AS_NONE
    ]
    if not lost:
        return []
    more = f" and {len(lost) - 3} more countries" if len(lost) > 3 else ""
    return [f"whole countries are gone (rows now, rows in the last accepted one): {', '.join(lost[:3])}{more}"]
