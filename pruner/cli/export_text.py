"""Whether a radio holds what was written, as text for a terminal of 80 columns."""

from __future__ import annotations

from typing import Final

import polars as pl

from pruner.cli.text import number, paragraph, shortened, table
from pruner.library.histories import BLANKS, CAPITALS, EXTRA, KINDS, MISSING, SPELLING, Checked
from pruner.words import schema
from pruner.words.nouns import counted

_ROWS: Final = 5
_MEANS: Final = dict(
    zip(
        KINDS,
        (
            "written, but not in the radio",
            "a text in the radio ends early",
            "as it was written the time before",
            "another text than was written",
            "in the radio, but not written",
        ),
        strict=True,
    )
)

_ONLY: Final = {
    CAPITALS: "small and capital letters",
    BLANKS: "blanks inside",
    SPELLING: "how letters are spelled (accents, other scripts)",
}


def export_text(found: Checked, result: str) -> str:
    """What the export says of the result, with the first contacts of each kind that differ."""
    difference = found.difference
    verdict = "The radio holds what was written" if found.holds else "The radio does NOT hold what was written"
    if difference.not_compared and found.holds:
        verdict = "As far as it was compared, the radio holds what was written"
    share = f"{number(found.as_written)} of {counted(difference.old, 'contact')} as written"
    if found.is_blind and not difference.total:
        verdict, share = "Every id is there, but the export tells no text that was written", f"{number(difference.new)} ids"
    lines = [
        paragraph(f"written: {result}"),
        *(paragraph(f"export:  {one.name}, SHA-256 {one.sha256[:16]}...") for one in found.files),
        "",
        paragraph(f"{verdict}: {share}."),
    ]
    columns = ", ".join(f"{field} ({column!r})" for field, column in found.columns.items())
    lines.append(paragraph(f"Compared: id{', ' if columns else ' alone'}{columns}."))
    lines += [paragraph(f"Not compared: {sentence}.") for sentence in difference.not_compared]
    if found.trimmed:
        differ = counted(found.trimmed, "text differs", "texts differ")
        lines.append(paragraph(f"{differ} in outer blanks or in how accents are composed, which is no difference."))
    if found.repeated:
        lines.append(paragraph(f"{counted(found.repeated, 'entry repeats', 'entries repeat')} an id; the last one counts."))
    if found.unreadable:
        lines.append(paragraph(f"{counted(found.unreadable, 'row')} of the export have no id that can be read."))
    if not found.holds:
        rows = [(kind, number(found.counts[kind]), _MEANS[kind]) for kind in KINDS if found.counts[kind]]
        lines += ["", table([("differs", "contacts", "what it means"), *rows], right=(1,)), ""]
        for word, contacts in found.only.items():
            if contacts:
                lines.append(
                    paragraph(f"{counted(contacts, 'other text differs', 'other texts differ')} only in {_ONLY[word]}.")
                )
        lines += [*([""] if any(found.only.values()) else []), _examples(found)]
    return "\n".join(lines)


def _examples(found: Checked) -> str:
    rows = [("differs", "id", "column", "written", "in the radio")]
    by_id = {key[0]: part.row(0, named=True) for key, part in found.texts.group_by(schema.ID, maintain_order=True)}
    for kind in KINDS:
        of_kind = found.difference.changes.filter(pl.col("what") == kind)
        for contact in of_kind.head(_ROWS).to_dicts():
            text = by_id.get(contact[schema.ID])
            whole = (contact[schema.CALLSIGN] or "-", "")
            shown = (text["written"], text["in_radio"]) if text else whole if kind == MISSING else ("", whole[0])
            field = text["field"] if text else "" if kind in (MISSING, EXTRA) else schema.CALLSIGN
            rows.append((kind, str(contact[schema.ID]), shortened(field, 12), shortened(shown[0], 20), shortened(shown[1], 20)))
        if of_kind.height > _ROWS:
            rows.append((f"and {number(of_kind.height - _ROWS)} more", "", "", "", ""))
    return table(rows)
