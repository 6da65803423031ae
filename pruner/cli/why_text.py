"""The stories of contacts, and lists of them, as text."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from pruner.cli.text import paragraph, shortened, table
from pruner.words.nouns import counted, last_days, next_days

if TYPE_CHECKING:
    from pruner.library.questions import Found, Person
    from pruner.library.results import Border, Story


def why_text(stories: Sequence[Story]) -> str:
    """One paragraph per row."""
    return "\n\n".join(_one(story) for story in stories)


def border_text(borders: Sequence[Border]) -> str:
    """By radio how many of a rule's contacts are in, the last of them, and the first that are not."""
    return "\n\n".join(_border(one) for one in borders)


def _border(one: Border) -> str:
    rule, radio, owned = shortened(one.rule, 60), shortened(one.radio, 40), counted(one.owned, "contact")
    if not one.stories:
        return paragraph(f"{radio}: no contact stands at a place in rule {rule!r}, which owns {owned}.")
    if one.kept == one.owned:
        said = f"all {owned} that rule {rule!r} owns are kept, so it has no border here. The last of them:"
    elif not one.kept:
        said = f"nobody of the {owned} that rule {rule!r} owns is kept. The first of them:"
    else:
        said = f"{one.kept:,} of the {owned} that rule {rule!r} owns are kept. The last that are in, the first that are not:"
    days, order = one.stories[0].period_days, one.stories[0].order
    expects = any(story.expected is not None for story in one.stories)
    rows = [("rank", "id", "call sign", "country", "outcome", *(["calls to come"] if expects else []))]
    for story in one.stories:
        calls = "" if story.expected is None else _number(story.expected)
        rows.append(
            (
                f"{story.rank:,}",
                "-" if story.id is None else str(story.id),
                shortened(story.callsign or "-", 12),
                story.country or "-",
                story.reason or story.outcome,
                *([calls] if expects else []),
            )
        )
    notes = [f"rank: by order {order}"] if order else []
    if expects and days:
        notes.append(f"calls to come: expected in {next_days(days)}, on the talkgroups that count")
    lines = [paragraph(f"{radio}: {said}"), "", table(rows, right=(0, 5) if expects else (0,)), ""]
    return "\n".join([*lines, *([paragraph("; ".join(notes) + ".")] if notes else []), "The story of one: pruner why ID"])


def found_text(contact: str, found: Found, persons: Sequence[tuple[Person, list[str]]], known: Sequence[str]) -> str:
    """The contacts that were found by their words, or those that come near and what else is known."""
    lines = []
    if found.is_near or not found.total:
        lines = [paragraph(f"No row of the last run bears {contact}."), *(paragraph(sentence) for sentence in known)]
    if found.total:
        words = ("contact comes near", "contacts come near") if found.is_near else ("contact bears it", "contacts bear it")
        many = counted(found.total, *words)
        shown = f"; the first {len(persons)}" if found.total > len(persons) else ""
        lines += ["", f"{many}{shown}:"] if lines else [f"{many}{shown}:"]
        lines.append(_people(persons))
        lines.append("the story of one: pruner why ID")
    return "\n".join(lines)


def _people(persons: Sequence[tuple[Person, list[str]]]) -> str:
    rows = [
        (
            str(one.number),
            shortened(one.callsign or "-", 9),
            shortened(one.name or "-", 24),
            shortened(one.town or "-", 16),
            one.country or "-",
            _outcome(became),
        )
        for one, became in persons
    ]
    return table([("id", "call sign", "name", "town", "in", "outcome"), *rows])


def _outcome(became: Sequence[str]) -> str:
    """What became of a contact; in several radios, in how many it is."""
    if len(set(became)) == 1:
        return shortened(became[0], 12)
    return f"in {became.count('kept')} of {len(became)}"


def _one(story: Story) -> str:
    country = story.country or "unknown"
    by = f" (from its {story.country_from})" if story.country_from else ""
    verdict = story.outcome if story.reason is None else f"{story.outcome}: {story.reason}"
    callsign = shortened(story.callsign or "no call sign", 40)
    lines = [
        f"{shortened(story.radio, 40)}: {verdict}",
        f"  station  {callsign}, {story.system} id {'unknown' if story.id is None else story.id}",
    ]
    person = ", ".join(part for part in (story.name, story.town) if part)
    if person:
        lines.append(f"  person   {shortened(person, 60)}")
    lines += [
        f"  row      {story.row:,} of source {shortened(story.source, 40)}",
        f"  country  {country}{by}",
    ]
    if story.rule:
        lines.append(f"  rule     {shortened(story.rule, 60)}")
    if story.rank:
        lines.append(f"  rank     {story.rank:,}" + (f", by order {story.order}" if story.order else ""))
    if story.expected is not None:
        lines.append(paragraph(_expected(story, story.expected), "  "))
    notes = [story.sentence, story.to_change, *([story.order_note] if story.order_note else [])]
    return "\n".join([*lines, *(paragraph(note, "  ") for note in notes)])


def _expected(story: Story, calls: float) -> str:
    """How many calls are expected of a contact, from what, and of the last of its rule that is in."""
    days = f"in {next_days(story.period_days)}" if story.period_days else "in the next period"
    text = f"expected: {_calls(calls)} {days}, "
    if story.expected_from == "own calls":
        on_mine = "" if story.calls_on_mine is None else f", {story.calls_on_mine:,} of them on your talkgroups"
        text += f"from its own calls ({story.calls:,} in {last_days(story.window_days or 0)}{on_mine})"
    else:
        text += "from how often stations like it came to be heard (it was not heard on the talkgroups that count)"
    border = story.expected_at_border
    if border is not None:
        return f"{text}; of the last contact of its rule that is kept: {_calls(border)}."
    return f"{text}; nobody of its rule is kept." if story.kept_of_rule == 0 else f"{text}."


def _calls(expected: float) -> str:
    return f"{_number(expected)} calls"


def _number(expected: float) -> str:
    """Two digits that count, without an exponent."""
    places = 1 if expected >= 1 or not expected else 1 - math.floor(math.log10(expected))
    return f"{expected:,.{places}f}"
