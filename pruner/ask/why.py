"""The story of one contact, from the ledger and the summary of a finished run.

Receives a result folder and an id or call sign, hands on one `Story` per row that bears it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import polars as pl

from pruner.account.parts import no_run
from pruner.account.summary import Summary
from pruner.ask.story import Story
from pruner.reference.callsign import clean_callsign
from pruner.settings.cross import CARRIED
from pruner.words.errors import InputRefusedError, SettingsError
from pruner.words.nouns import counted
from pruner.words.outcomes import REASON_SENTENCES, REASON_WORDS, Reason

_SENTENCE: Final = {REASON_WORDS[reason]: sentence for reason, sentence in REASON_SENTENCES.items()}
_KEPT: Final = "It is among the contacts that were written."
_COPY: Final = REASON_WORDS[Reason.DUPLICATE_ID]
_LONGEST_ID: Final = 8
_SUFFIXED_ID: Final = 9
_BORDER_ROWS: Final = 5
#: A row of the ledger as its reader gives it: column -> value, which `Story` checks.
LedgerRow = dict[str, Any]


def result_folders(out: Path, radio: str | None) -> list[Path]:
    """The result folders of one radio, or of all, below an output folder."""
    return sorted(
        path.parent
        for path in out.glob("*/summary.json")
        if not path.parent.name.startswith(".") and radio in (None, path.parent.name)
    )


def stories(folder: Path, contact: str) -> list[Story]:
    """Every row of a run that bears an id or a call sign, with the reason and the way to change it.

    Rows stand as in the ledger. Raises SettingsError when the folder holds no finished run.
    """
    summary, ledger = _opened(folder)
    wanted = contact.strip()
    if wanted.isascii() and wanted.isdigit():
        digits = wanted.lstrip("0") or "0"
        if len(digits) == _SUFFIXED_ID:
            digits = digits[:-2]  # an id with a two-digit device suffix (common practice, no source)
        if len(digits) > _LONGEST_ID:
            return []
        condition = pl.col("id") == int(digits)
    else:
        condition = pl.col("callsign") == clean_callsign(wanted)
    rows = ledger.filter(condition).collect().to_dicts()
    return [_story({**row, **_at_border(row, ledger)}, summary) for row in rows]


def outcomes(folder: Path, contacts: Sequence[tuple[str, int]]) -> dict[tuple[str, int], str]:
    """What became of contacts (system, id) in a run: "kept", or the reason why not; "not there" where no row bears the id."""
    _, ledger = _opened(folder)
    numbers = [number for _, number in contacts]
    rows = ledger.filter(pl.col("id").is_in(numbers)).select("system", "id", "outcome", "reason").collect()
    found: dict[tuple[str, int], str] = dict.fromkeys(contacts, "not there")
    for system, number, outcome, reason in rows.iter_rows():
        if (system, number) in found and (found[system, number] == "not there" or reason != _COPY):
            found[system, number] = reason or outcome
    return found


@dataclass(frozen=True, slots=True)
class Border:
    """A keep rule of a radio, how many contacts it owns and how many of them are in; `stories`: the last that are in and the
    first that are not, in order of their rank."""

    radio: str
    rule: str
    owned: int
    kept: int
    stories: list[Story]


def border(folder: Path, rule: str) -> Border:
    """Who stands at the border of a keep rule.

    Raises SettingsError when the folder holds no finished run, or one without such a rule.
    """
    summary, ledger = _opened(folder)
    known = next((one for one in summary.rules if one.name == rule), None)
    if known is None:
        legal = ", ".join(repr(one.name) for one in summary.rules)
        raise SettingsError(f"{folder}: the run has no keep rule {rule!r}; it has {legal}")
    ranked = ledger.filter((pl.col("rule") == rule) & pl.col("rank").is_not_null()).sort("rank")
    kept = ranked.filter(pl.col("outcome") == "kept").tail(_BORDER_ROWS).collect()
    over = ranked.filter(pl.col("outcome") != "kept").head(_BORDER_ROWS).collect()
    told = [_story({**row, **_at_border(row, ledger)}, summary) for row in (*kept.to_dicts(), *over.to_dicts())]
    return Border(summary.radio, rule, known.owned, known.kept, told)


def _at_border(row: LedgerRow, ledger: pl.LazyFrame) -> LedgerRow:
    """How many contacts of the same rule are in, and the calls to expect from the last of them (None where that is not known);
    nothing where no calls are expected of the contact itself."""
    if row.get("expected") is None:
        return {}
    of_rule = ledger.filter((pl.col("rule") == row["rule"]) & (pl.col("outcome") == "kept") & pl.col("rank").is_not_null())
    found = of_rule.select(pl.len().alias("kept"), pl.col("expected").sort_by("rank").last()).collect()
    return {"kept_of_rule": found["kept"].item(), "expected_at_border": found["expected"].item()}


def _opened(folder: Path) -> tuple[Summary, pl.LazyFrame]:
    try:
        summary = Summary.load(folder)
        ledger = pl.scan_parquet(folder / "ledger.parquet")
        ledger.collect_schema()
    except (InputRefusedError, OSError, pl.exceptions.PolarsError):
        raise SettingsError(f"{folder}: {no_run(folder)}") from None
    return summary, ledger


def _story(row: LedgerRow, summary: Summary) -> Story:
    """The story of a row of the ledger, with what else is known of it."""
    known = Story.model_validate(
        {
            "radio": summary.radio,
            **row,
            "period_days": summary.coverage.to_come.period_days if summary.coverage and summary.coverage.to_come else None,
            "window_days": summary.coverage.window_days if summary.coverage else None,
            "order": next((rule.order for rule in summary.rules if rule.name == row["rule"]), None) if row["rank"] else None,
            "order_note": summary.order_note if row["rank"] else None,
            "sentence": "",
            "to_change": "",
        }
    )
    sentence = _KEPT if known.reason is None else _SENTENCE[known.reason]
    return known.model_copy(update={"sentence": sentence, "to_change": _to_change(known, summary)})


def _to_change(row: Story, summary: Summary) -> str:
    reason = row.reason
    rule = next((rule for rule in summary.rules if rule.name == row.rule), None)
    earlier = "or name it in the list of a keep rule that stands further up"
    if reason is None or reason == "over limit":
        return _in_or_out(row, row.rank or 0, summary, earlier)
    if reason == "rule full" and rule:
        share = f"{rule.at_most:,} of {rule.owned:,}"
        cut = summary.cut
        also = " and the limit, which is used up" if cut is not None else ""
        return f"Rule {rule.name!r} takes at most {share}; raise at_most{also}, {earlier}."
    return {
        "left out": f"Take it out of drop rule {row.rule!r}, if the station agrees.",
        "no rule": "Add a keep rule that matches it, for instance by country, or a last rule for all.",
        "duplicate call sign": f"Take one_per_callsign off rule {row.rule!r}, {earlier}.",
        "duplicate id": "The preferred row of this id stands for it and is shown too. Entries that the radio carries are "
        "preferred to all; then comes the source that stands first in the settings, in it the last row.",
        "no station": "Correct the kind of the entry at the source, if it is a station.",
        "other system": "Correct the system of the entry at the source, or name the file as a source of that system too.",
        "reserved id": "Correct the id at the source: no station may use it.",
        "invalid id": "Correct the id at the source.",
        "unreadable row": "Correct the row at the source; rejected.csv holds its line and raw text.",
    }[reason]


def _in_or_out(row: Story, rank: int, summary: Summary, earlier: str) -> str:
    """What the limit means for a contact that has a rank."""
    limit, memory, inside = summary.limit, summary.memory, row.reason is None
    free = limit.keep_free
    if row.source == CARRIED:
        earlier = "or take entries that are needed less out of the radio"
    elif memory and memory.aim == "coverage":
        return (
            "It stays in as long as no choice without it names more of the expected calls."
            if inside
            else "What it takes names more of the expected calls elsewhere; more bytes, calls from it in the heard logs, or "
            'aim = "order" would let it in.'
        )
    if memory and (limit.contacts is None or summary.kept + free < limit.contacts):
        if inside:
            return "It stays in as long as the radio has as many bytes as now."
        return f"More bytes, or less text per contact, would take it in; {earlier}."
    holds = limit.contacts or 0
    room = max(holds - free, 0)
    if inside:
        behind, empty = summary.kept - rank, room - summary.kept
        last = "it is the last" if empty else "it is the last that fits"
        spare = f"{counted(behind, 'contact stands', 'contacts stand')} behind it" if behind else last
        spare += f", and {counted(empty, 'place is', 'places are')} free" if empty else ""
        return f"It stays in as long as the radio holds {counted(rank + free, 'contact')} or more; {spare}."
    return f"A limit of {counted(rank + free, 'contact')} (now {holds:,}) would take it in; {earlier}."
