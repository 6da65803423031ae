"""The stories of a contact as text."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from pruner.cli.text import paragraph, shortened


def why_text(stories: Sequence[dict[str, Any]], contact: str) -> str:
    """One paragraph per row that bears the contact."""
    if not stories:
        return paragraph(f"No row of the last run bears {contact}.")
    return "\n\n".join(_one(story) for story in stories)


def _one(story: dict[str, Any]) -> str:
    country = story["country"] or "unknown"
    by = f" (from its {story['country_from']})" if story["country_from"] else ""
    verdict = story["outcome"] if story["reason"] is None else f"{story['outcome']}: {story['reason']}"
    callsign = shortened(story["callsign"] or "no call sign", 40)
    lines = [
        f"{shortened(story['radio'], 40)}: {verdict}",
        f"  station  {callsign}, {story['system']} id {'unknown' if story['id'] is None else story['id']}",
        f"  row      {story['row']:,} of source {shortened(story['source'], 40)}",
        f"  country  {country}{by}",
    ]
    if story["rule"]:
        lines.append(f"  rule     {shortened(story['rule'], 60)}")
    if story["rank"]:
        lines.append(f"  rank     {story['rank']:,}" + (f", by order {story['order']}" if story.get("order") else ""))
    notes = [story["sentence"], story["to_change"], *([story["order_note"]] if story.get("order_note") else [])]
    return "\n".join([*lines, *(paragraph(note, "  ") for note in notes)])
