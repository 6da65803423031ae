"""The stories of a contact as text."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from pruner.cli.text import safe


def why_text(stories: Sequence[dict[str, Any]], contact: str) -> str:
    """One paragraph per row that bears the contact."""
    if not stories:
        return f"No row of the last run bears {safe(contact)}."
    return "\n\n".join(_one(story) for story in stories)


def _one(story: dict[str, Any]) -> str:
    country = story["country"] or "unknown"
    by = f" (from its {story['country_from']})" if story["country_from"] else ""
    verdict = story["outcome"] if story["reason"] is None else f"{story['outcome']}: {story['reason']}"
    lines = [
        f"{story['radio']}: {safe(story['callsign'] or 'no call sign')}, {story['system']} id {story['id']}: {verdict}",
        f"  row      {story['row']:,} of source {safe(story['source'])}",
        f"  country  {country}{by}",
    ]
    if story["rule"]:
        lines.append(f"  rule     {safe(story['rule'])}")
    if story["rank"]:
        lines.append(f"  rank     {story['rank']:,}")
    return "\n".join([*lines, f"  {safe(story['sentence'])}", f"  {safe(story['to_change'])}"])
