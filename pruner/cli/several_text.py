"""Several radios of one fit as one table for a terminal of 80 columns."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Final

from pruner.cli.preview_text import carried_lines, import_lines
from pruner.cli.summary_text import CAUTIONS, room_left
from pruner.cli.text import WIDTH, number, paragraph, shortened, table
from pruner.cli.text import columns as columns_of
from pruner.cli.understood_text import lines_aside, understood_lines
from pruner.library.results import Summary
from pruner.words.nouns import next_days

#: So many radios stand side by side; further ones in another table of the same kind.
_BESIDE: Final = 4
_LABEL: Final = 20
_GAP: Final = 2


def several_text(summaries: list[Summary], folders: list[Path]) -> str:
    """Every radio with its account, the rule inside which its limit fell, calls to come, and the reasons of what was dropped;
    then what was understood of the files, and the files to import."""
    reasons = list(dict.fromkeys(word for one in summaries for word in {**one.dropped, **one.rejected_reasons}))
    blocks = [summaries[at : at + _BESIDE] for at in range(0, len(summaries), _BESIDE)]
    tables = "\n\n".join(_block(block, reasons) for block in blocks)
    understood = [one for summary in summaries for one in summary.understood]
    lines = [tables, "", *of_what(summaries), *lines_aside(summaries[0].changed), *understood_lines(understood), ""]
    notes = dict.fromkeys(summary.order_note for summary in summaries if summary.order_note)
    lines += [paragraph(note) for note in notes]
    for summary, folder in zip(summaries, folders, strict=True):
        lines += [paragraph(f"{summary.radio}:"), *carried_lines(summary), *import_lines(summary, folder)]
    return "\n".join([*lines, "", *CAUTIONS])


def _block(summaries: Sequence[Summary], reasons: Sequence[str]) -> str:
    width = (WIDTH - _LABEL) // len(summaries) - _GAP
    columns = [dict(_column(summary, reasons, width)) for summary in summaries]
    labels = list(dict.fromkeys(label for column in columns for label in column))
    names = ("radio", *(shortened(summary.radio, width) for summary in summaries))
    rows = [(label, *(column.get(label, "-") for column in columns)) for label in labels]
    return table([names, *rows], right=range(1, len(names)))


def _column(summary: Summary, reasons: Sequence[str], width: int) -> Iterator[tuple[str, str]]:
    limit, cut, memory = summary.limit, summary.cut, summary.memory
    yield "limit", number(limit.contacts) if limit.contacts is not None else f"{number(limit.bytes or 0)} B"
    yield "kept", number(summary.kept)
    yield "+ dropped", number(summary.dropped_rows)
    yield "+ rejected", number(summary.rejected)
    yield "= rows read", number(summary.read)
    yield "room left", f"{number(memory.free)} B" if memory else number(room_left(summary))
    yield "cut inside rule", shortened(cut.rule, width) if cut else "-"
    told = summary.coverage.to_come if summary.coverage else None
    if told:
        yield "named, to come", share_of_calls(told.share, told.low)
        if told.interval:
            _, low, high = told.interval
            yield "  interval", f"{100 * low:.1f} to {100 * high:.1f}"
    counts = {**summary.dropped, **summary.rejected_reasons}
    for word in reasons:
        yield f"  {word}", number(counts.get(word, 0))


def share_of_calls(share: float | None, low: float | None) -> str:
    """A share of calls to come in few characters, without its interval."""
    if share is not None:
        return f"{100 * share:.1f} %"
    return f">= {100 * low:.1f} %" if low is not None else "no figure"


def of_what(summaries: Sequence[Summary]) -> list[str]:
    """What the share of calls is a share of, and why there is none."""
    ahead = [one.coverage.to_come for one in summaries if one.coverage and one.coverage.to_come]
    return [*of_share(summaries, "named, to come"), *map(paragraph, dict.fromkeys(one.why for one in ahead if one.why))]


def of_share(summaries: Sequence[Summary], label: str) -> list[str]:
    """What the share of calls is a share of. `label`: what the table calls it."""
    ahead = [one.coverage.to_come for one in summaries if one.coverage and one.coverage.to_come]
    if not ahead:
        return []
    told = next((one for one in ahead if one.share is not None), ahead[0])
    where = "on your talkgroups" if told.talkgroups == "mine" else "on all talkgroups"
    confidence = f", with its {100 * told.confidence:.0f} % interval" if told.share is not None else ""
    days = next_days(told.period_days)
    return [paragraph(f"{label}: of the calls {where} in {days}, those whose caller has a name{confidence}.")]


def widths_within(columns: Sequence[Sequence[str]], room: int) -> list[int]:
    """How wide columns of texts may be that share so much room; the widest give way."""
    widths = [max(map(columns_of, column), default=0) for column in columns]
    while sum(widths) > room:
        widths[widths.index(max(widths))] -= 1
    return widths
