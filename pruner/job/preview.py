"""A few telling rows as the file to import holds them, beside what was read.

Receives what was written (or would be), hands on rows for the terminal, the summary and the page.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np
import pyarrow as pa

from pruner.account.summary import PreviewCell, PreviewRow
from pruner.job.choose import choose
from pruner.job.load import Loaded, load
from pruner.job.texts import texts_as_read
from pruner.job.write import RECORD, FileContents, planned
from pruner.layout.telling import TELLING, Mask, telling_rows
from pruner.settings.load import load_settings
from pruner.settings.models import Radio, Settings
from pruner.settings.short import short_settings
from pruner.settings.short_form import ShortForm
from pruner.words import schema
from pruner.words.errors import SettingsError
from pruner.words.progress import Progress, silent

if TYPE_CHECKING:
    from pruner.layout.model import Layout

#: So many rows are shown where the preview is not what was asked for.
FEW: Final = 3


def preview_of(loaded: Loaded, radio: Radio, count: int = TELLING) -> list[PreviewRow]:
    """What the file of a radio would hold, with nothing written. Raises PrunerError as a fit does."""
    return preview_rows(loaded, planned(loaded, choose(loaded, radio)), count)


def previews(settings: Settings, count: int = TELLING, progress: Progress = silent) -> dict[str, list[PreviewRow]]:
    """The same for every radio of some settings, by its name."""
    loaded = load(settings, progress)
    return {radio.name: preview_of(loaded, radio, count) for radio in settings.radios}


def preview_settings(path: Path, layout: Path | None, sources: Sequence[Path], radio: str | None) -> Settings:
    """The settings whose files are shown: those of the file at `path`, or, where `sources` are given, of these alone, all of
    whose contacts fit. A `layout` takes the place of that of the radio. Raises SettingsError with one line per problem."""
    if sources:
        settings = short_settings(sources, ShortForm(schema.ADDRESSES))
    else:
        settings = load_settings(path)
    chosen = [one for one in settings.radios if radio in (None, one.name)]
    if not chosen:
        known = ", ".join(one.name for one in settings.radios)
        raise SettingsError(f"layout preview: no radio is named {radio!r} (there are: {known})")
    if layout is not None:
        chosen = [chosen[0].model_copy(update={"layout": layout})]
    return settings.model_copy(update={"radios": tuple(chosen)})


def preview_rows(loaded: Loaded, contents: FileContents, count: int = TELLING) -> list[PreviewRow]:
    """The most telling rows of a file that was written, or planned."""
    if contents.layout is None:
        titles = dict(enumerate(schema.CONTACT_COLUMNS))
        shown = {place: title for place, title in titles.items() if title != schema.ID}
    else:
        titles = {place: column.title or f"column {place + 1}" for place, column in enumerate(contents.layout.columns)}
        shown = _text_titles(contents.layout, titles)
    told = telling_rows(contents.contacts, contents.cells, _words(contents), shown, count)
    places = [row.place for row in told]
    chosen = contents.cells.take(pa.array(places, pa.int64()))
    cells = list(zip(*(column.cast(pa.string()).to_pylist() for column in chosen.columns), strict=True))
    before = _as_read(loaded, contents, places)
    rows = []
    for index, row in enumerate(told):
        own = tuple(
            PreviewCell(title=titles[at], text=text or "", as_read=before[at][index]) for at, text in enumerate(cells[index])
        )
        because = row.because or (("tidied",) if any(cell.is_changed for cell in own) else ())
        file, line = contents.place(row.place)
        rows.append(PreviewRow(file=file, line=line, because=because, cells=own))
    return rows


def _text_titles(layout: Layout, titles: dict[int, str]) -> dict[int, str]:
    """The columns that hold text of a contact, not the same in every row and no number."""
    from pruner.layout.template import RUNNING, fields_of

    numbers = {schema.ID, "rank", *RUNNING}
    return {place: titles[place] for place, column in enumerate(layout.columns) if {*fields_of(column.value)} - numbers}


def _words(contents: FileContents) -> dict[str, Mask]:
    if not contents.marks:
        return {}
    from pruner.layout.cells import CHANGES  # layouts are for those who have one

    return {CHANGES[kind]: contents.marks[kind] for kind in CHANGES if kind in contents.marks}


def _as_read(loaded: Loaded, contents: FileContents, places: list[int]) -> list[list[str]]:
    """For each column the texts of some rows as their files said them; what no file says is as it was written."""
    contacts = contents.contacts.take(pa.array(places, pa.int64()))
    records = contacts[RECORD].to_numpy()
    own = texts_as_read(loaded.sources, records[records >= 0])
    names = [name for name in contacts.column_names if name != RECORD]
    fields = {name: contacts[name].cast(pa.string()).fill_null("").to_pylist() for name in names}
    for name, texts in own.items():
        for index, text in zip(np.flatnonzero(records >= 0).tolist(), texts, strict=True):
            fields[name][index] = text
    if contents.layout is None:
        return [fields[name] for name in schema.CONTACT_COLUMNS]
    return list(_templates(contents, fields, places))


def _templates(contents: FileContents, fields: dict[str, list[str]], places: list[int]) -> Iterator[list[str]]:
    from pruner.layout.guess import rendered
    from pruner.layout.template import fields_of

    assert contents.layout is not None
    for place, column in enumerate(contents.layout.columns):
        names = fields_of(column.value)
        if names and all(name in fields for name in names):
            yield rendered(column.value, fields, len(places), is_raw=True)
        else:
            yield contents.cells[place].take(pa.array(places, pa.int64())).to_pylist()
