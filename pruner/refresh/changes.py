"""What a new version changes, in one sentence per radio."""

from __future__ import annotations

from pathlib import Path

from pruner.ask.history import contacts_at
from pruner.history.compare import compare
from pruner.publish.versions import versions


def since_version(folder: Path, state: Path, radio: str) -> list[str]:
    """What the published version of a radio adds, removes and changes against the one before; nothing if there is none."""
    known = versions(folder, state)
    present = next((place for place, version in enumerate(known) if version.current), 0)
    if not present or radio not in known[present - 1].radios:
        return []
    old, new = (contacts_at(known[place].files / radio) for place in (present - 1, present))
    found = compare(old, new)
    if found.same:
        return [f"{radio}: the same contacts as in version {known[present - 1].number}"]
    aside = f"; not compared: {'; '.join(found.not_compared)}" if found.not_compared else ""
    counts = ", ".join(f"{count:,} {what}" for what, count in found.counts.items())
    return [f"{radio}: {counts} since version {known[present - 1].number}{aside}"]
