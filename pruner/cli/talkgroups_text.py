"""The account of a fitted talkgroup list as text for a terminal of 80 columns."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Final

from pruner.cli.text import number, paragraph, shortened, strong, table
from pruner.cli.understood_text import understood_lines
from pruner.library.results import TalkgroupSummary
from pruner.words.nouns import last_days

_NAMED: Final = 12


def talkgroups_text(summary: TalkgroupSummary, folder: Path) -> str:
    """What was read, kept, dropped and rejected, by class and reason; which of one's own are missing; where the files lie."""
    dropped, limit = summary.dropped_rows, number(summary.limit.talkgroups)
    lines = [
        strong(f"{shortened(summary.radio, 40)}: {number(summary.kept)} of {limit} talkgroups"),
        "",
        f"read {number(summary.read)} = kept {number(summary.kept)} + dropped {number(dropped)}"
        f" + rejected {number(summary.rejected)}",
        *understood_lines(summary.understood),
        "",
        table(
            [("talkgroups", "in the lists", "kept")]
            + [(shortened(rule.name, 40), number(rule.matched), number(rule.kept)) for rule in summary.rules],
            right=(1, 2),
        ),
    ]
    reasons = {**summary.dropped, **summary.rejected_reasons}
    if reasons:
        rows = [("not kept", "rows"), *((word, number(count)) for word, count in reasons.items())]
        lines += ["", table(rows, right=(1,))]
    mine, heard = summary.mine, summary.heard
    if mine.in_no_list:
        lines += ["", paragraph(f"Yours, but in no list: {_some(mine.in_no_list)}. Add them by hand.")]
    if mine.over_limit:
        lines += ["", paragraph(f"Yours, but over the limit: {_some(mine.over_limit)}.")]
    if heard:
        share = f"{number(heard.calls_on_kept)} of {number(heard.calls)}"
        told = f"{share} calls of {last_days(heard.window_days)} were on talkgroups that are kept"
        lines += ["", paragraph(f"{told}; {number(heard.in_no_list)} talkgroups that were heard are in no list.")]
    names = [*(file.name for file in summary.files), "summary.json"]
    lines += ["", paragraph(f"files in {folder}: " + ", ".join(names))]
    lines += ["", "Back up the radio before writing it."]
    return "\n".join(lines)


def _some(numbers: Sequence[int]) -> str:
    """The first numbers, and how many more there are."""
    shown = ", ".join(str(one) for one in numbers[:_NAMED])
    return shown if len(numbers) <= _NAMED else f"{shown} and {number(len(numbers) - _NAMED)} more"
