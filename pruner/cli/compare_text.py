"""Differences between results as text for a terminal of 80 columns."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from pruner.cli.text import number, paragraph, shortened, table
from pruner.library.histories import ADDED, CHANGED, REMOVED, WHAT, Difference, Group, ResultContacts, SinceWritten
from pruner.words.nouns import counted

_ROWS: Final = 12


def pair_text(found: Difference, old: ResultContacts, new: ResultContacts) -> str:
    """What differs between two results."""
    lines = [
        paragraph(f"old: {old.name}, {counted(found.old, 'contact')}"),
        paragraph(f"new: {new.name}, {counted(found.new, 'contact')}"),
        "",
        paragraph(_counts(found) if found.total else _nothing(found, "nothing differs")),
    ]
    if found.layout_changed:
        lines += ["", paragraph("The layout itself was changed between the two: other columns, widths or signs.")]
    return "\n".join([*lines, *_details(found)])


def since_text(answer: SinceWritten) -> str:
    """How far a radio is behind, and whether writing it is worth the time."""
    radio, found = shortened(answer.radio, 40), answer.difference
    if found is None:
        return "\n".join(
            [
                f"{radio}: never marked as written; {counted(answer.contacts, 'contact waits', 'contacts wait')}",
                f"After writing the radio: pruner compare --mark --radio {radio}",
            ]
        )
    when = f"written on {answer.day}" if answer.day else "marked as written"
    what = _counts(found) if found.total else _nothing(found, "nothing has changed")
    lines = [f"{radio}: {when}; since then", paragraph(what, "  ")]
    verdict = "worth writing" if answer.worth else "not worth it yet"
    lines.append(
        f"{verdict}: {counted(found.total, 'contact differs', 'contacts differ')}, worth it from {number(answer.threshold)} on"
    )
    return "\n".join([*lines, *_details(found)])


def _counts(found: Difference) -> str:
    return ", ".join(f"{what} {number(found.counts[what])}" for what in WHAT)


def _nothing(found: Difference, words: str) -> str:
    """`nothing differs` only where everything was compared."""
    if not found.not_compared:
        return words
    compared = ", ".join(shortened(column, 40) for column in ("id", *found.compared))
    return f"{words} in what could be compared: {compared}"


def _details(found: Difference) -> list[str]:
    lines = [""] if found.not_compared else []
    lines += [paragraph(f"Not compared: {sentence}.") for sentence in found.not_compared]
    if not found.total:
        return lines
    lines += ["", _groups("country", found.by("country"))]
    by_rule = found.by("rule")
    if any(group.name for group in by_rule):
        lines += ["", _groups("rule", by_rule)]
    fields = found.by_field()
    if fields:
        lines += ["", table([("changed column", "contacts"), *((name, number(n)) for name, n in fields.items())], right=(1,))]
    return lines


def _groups(heading: str, groups: Sequence[Group]) -> str:
    shown, rest = groups[:_ROWS], groups[_ROWS:]
    rows = [(shortened(group.name or "unknown", 40), *map(number, _changes(group))) for group in shown]
    if rest:
        sums = (sum(counts) for counts in zip(*map(_changes, rest), strict=True))
        rows.append((f"{len(rest):,} more", *map(number, sums)))
    return table([(heading, ADDED, REMOVED, CHANGED), *rows], right=(1, 2, 3))


def _changes(group: Group) -> tuple[int, int, int]:
    return group.added, group.removed, group.changed
