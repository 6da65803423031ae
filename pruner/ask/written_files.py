"""The contacts of a result as its files say them, column by column of the layout in which they were written.

Receives the folder of a result and a layout, hands on `ResultContacts` with the texts as they stand in the files: cut,
transliterated, with fallbacks.
"""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from typing import Final

import polars as pl

from pruner.account.summary import Summary
from pruner.history.contacts import COUNTRY_CODE, RULE, SYSTEM, ResultContacts, ordered
from pruner.job.write import CONTACTS
from pruner.layout.model import Layout, layout_of_document, plain_document
from pruner.layout.read import ids_in, read_columns
from pruner.layout.template import RUNNING, constant_text, fields_of
from pruner.settings.cross import CARRIED
from pruner.words import schema
from pruner.words.errors import InputRefusedError

#: The constants of a layout, which stand in every row.
CONSTANTS: Final = "constants"
_RANK: Final = "rank"
#: Written fields whose names a frame of contacts has for what the ledger says.
_OTHER_NAMES: Final = {COUNTRY_CODE: "country_code_written", RULE: "rule_written"}


def recorded_layout(summary: Summary, folder: Path) -> Layout | None:
    """The layout that a summary records, None where it records none. Raises SettingsError where it cannot be read."""
    if summary.layout is None:
        return None
    return layout_of_document(summary.layout, str(folder / "summary.json"))


def written_in(known: ResultContacts, ranks: pl.Series, folder: Path, summary: Summary, layout: Layout) -> ResultContacts:
    """What the files of a result say, in place of the texts in `known`. `ranks`: of the contacts of `known`, in its order.

    Raises InputRefusedError where the files do not hold the contacts that the ledger names.
    """
    names = [file.name for file in summary.files if file.name.startswith(CONTACTS)]
    parts = [read_columns(folder / name, layout, "the layout that the result records") for name in names]
    if not parts:
        raise InputRefusedError(f"{folder}: holds no contact file; run pruner fit again")
    cells = pl.concat(parts)
    carried = any(rule.name == CARRIED for rule in summary.rules)
    try:
        places = _places(known.frame, ranks, cells, layout, carried=carried)
    except ValueError:
        refused = "does not hold the contacts that ledger.parquet names; run pruner fit again"
        raise InputRefusedError(f"{folder / names[0]}: {refused}") from None
    if places is None:
        unknown = (f"its texts, because the layout does not tell whose they are (order {layout.file.order})",)
        return ResultContacts(known.name, known.frame, (), unknown=unknown)
    texts, running = _texts(cells[places], layout)
    frame = ordered(known.frame.with_columns(pl.Series(name, text) for name, text in texts.items()), tuple(texts))
    return ResultContacts(known.name, frame, tuple(texts), whole=True, running=running, layout=plain_document(layout))


def _places(
    contacts: pl.DataFrame, ranks: pl.Series, cells: pl.DataFrame, layout: Layout, *, carried: bool
) -> pl.Series | None:
    """For each contact (by system and id) the row of the files that holds it; None where that cannot be told.

    Raises ValueError where the files hold other contacts.
    """
    if cells.height != contacts.height:
        raise ValueError("another number of rows")
    order = layout.file.order
    ids = ids_in(cells, layout)
    by_id = contacts.with_row_index("contact").sort(schema.ID, SYSTEM)
    if ids is not None and not ids.null_count() and (order == schema.ID or by_id[schema.ID].is_unique().all()):
        rows = pl.DataFrame({schema.ID: ids}).with_row_index("row").sort(schema.ID, maintain_order=True)
        if rows[schema.ID].equals(by_id[schema.ID]):
            return _at(by_id["contact"], rows["row"])
        if any(column.value == "{id}" for column in layout.columns):
            raise ValueError("the ids are not those of the ledger")
    if order == schema.ID:
        return _at(by_id["contact"] if carried else pl.int_range(contacts.height, eager=True), None)
    if order == _RANK and ranks.is_unique().all():
        return _at(ranks.arg_sort(), None)
    return None


def _at(contacts: pl.Series, rows: pl.Series | None) -> pl.Series:
    """Rows in the order of the contacts, from pairs of contact and row (None: 0, 1, ...)."""
    rows = pl.int_range(len(contacts), eager=True) if rows is None else rows
    return pl.DataFrame({"contact": contacts, "row": rows}).sort("contact")["row"]


def _texts(cells: pl.DataFrame, layout: Layout) -> tuple[dict[str, pl.Series], tuple[str, ...]]:
    """The texts by the fields that they hold, and which of them run through the file; the id itself is no text."""
    texts: dict[str, pl.Series] = {}
    running, constants = [], []
    times: Counter[str] = Counter()
    for place, column in enumerate(layout.columns):
        fields = fields_of(column.value)
        whole = constant_text(column.value)
        if whole is not None:
            constants.append(cells[:, place])
            continue
        if column.value == "{id}":
            continue
        name = "+".join(_OTHER_NAMES.get(field, field) for field in fields)
        times[name] += 1
        key = name if times[name] == 1 else f"{name}#{times[name]}"
        texts[key] = cells[:, place]
        if {*fields} & {*RUNNING, _RANK}:
            running.append(key)
    if constants:
        texts[CONSTANTS] = pl.DataFrame({f"{place}": text for place, text in enumerate(constants)}).select(
            pl.concat_str(pl.all(), separator="\x1f")
        )[:, 0]
    return texts, tuple(running)
