"""The account of a run: what became of every row, for the ledger and the summary.

Receives what was loaded and the fit of one radio, hands on the rows of the ledger and the summary.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from pruner.account.coverage import CoverageSummary
from pruner.account.ledger import LedgerCalls, LedgerRows
from pruner.account.limits import LimitHolds
from pruner.account.parts import Cut, FileMark, RowAccount, SourceSummary
from pruner.account.reasons import account as account_of
from pruner.account.rejected import RejectedRow
from pruner.account.summary import DropCount, Limit, RuleCount, Summary
from pruner.job.choose import Choice
from pruner.job.idle_rules import idle_rules
from pruner.job.limits import held_at, queue_behind, rooms_of, sizes_of
from pruner.job.load import Loaded, by_source
from pruner.job.missed import Heard, carried_calls, heard_contacts, missed, nearly_gone
from pruner.job.routes import route_summaries
from pruner.place.country import EVIDENCE
from pruner.publish.folders import fingerprint
from pruner.reference import countries
from pruner.rules.matching import note_without_calls, order_of
from pruner.settings.cross import CARRIED
from pruner.settings.models import Radio
from pruner.words.outcomes import REASON_WORDS, Reason
from pruner.words.threads import Pool, Work


def ledger_rows(loaded: Loaded, choice: Choice, heard: Heard | None = None) -> list[LedgerRows]:
    """Every row of every source with its outcome, in the order of the sources; then the entries that the radio carries.
    `heard`: what the logs say of the contacts, None to leave that out."""
    drops = len(loaded.settings.drop)
    ownership, fit = choice.ownership, choice.fit
    owner = ownership.owner
    rule_of = np.where(ownership.reason == Reason.LEFT_OUT, owner + 1, owner + 1 + drops).astype(np.uint8)
    rule_of[owner < 0] = 0
    ledger = []
    with Pool(Work.RANKS) as beside:  # rows stand elsewhere than contacts: most of the time waits for memory
        for rows, (inside, places) in zip(loaded.sources, by_source(loaded.sources, loaded.records), strict=True):
            count = len(rows.number)
            ranked = beside.submit(_put, np.zeros(count, dtype=np.uint32), places, fit.rank[inside])
            reason = _put(rows.reason.copy(), places, fit.reason[inside])
            rule = _put(np.zeros(count, dtype=np.uint8), places, rule_of[inside])
            has_number = (reason != Reason.UNREADABLE_ROW) & (reason != Reason.INVALID_ID)
            ledger.append(
                LedgerRows(
                    rows.name,
                    rows.system,
                    rows.number,
                    has_number,
                    rows.callsign,
                    rows.country,
                    rows.evidence,
                    reason,
                    rule,
                    ranked.result(),
                    None if heard is None else _heard_rows(heard, choice, count, inside, places),
                )
            )
    if choice.carried:
        carried = choice.carried.ledger_rows(drops + len(choice.rules) + 1)
        ledger.append(carried if heard is None else replace(carried, heard=carried_calls(loaded, choice.carried, heard)))
    return ledger


def _heard_rows(
    heard: Heard, choice: Choice, count: int, inside: slice | npt.NDArray[np.int64], places: npt.NDArray[np.int64]
) -> LedgerCalls:
    """Calls stand at one row of each id; those of an id that the radio carries stand there."""
    away = choice.fit.reason[inside] == Reason.DUPLICATE_ID

    def put(values: npt.NDArray[Any], empty: Any) -> npt.NDArray[Any]:
        return _put(np.full(count, empty, dtype=values.dtype), places, np.where(away, empty, values[inside]))

    on_mine = None if heard.on_mine is None else put(heard.on_mine, 0)
    return LedgerCalls(put(heard.calls, 0), on_mine, put(heard.expected, np.nan), put(heard.by_own, False))


def _put(into: npt.NDArray[Any], places: npt.NDArray[np.int64], values: npt.NDArray[Any]) -> npt.NDArray[Any]:
    into[places] = values
    return into


def rule_words(loaded: Loaded, choice: Choice) -> list[str]:
    """The names by which the ledger calls rules: none, the drop rules, the keep rules, the carried entries."""
    return ["", *(rule.name for rule in loaded.settings.drop), *(rule.name for rule in choice.rules), CARRIED]


def rejected_rows(loaded: Loaded, choice: Choice) -> Iterator[RejectedRow]:
    """The rows that could not be read, in the order of the sources."""
    for rows in loaded.sources:
        yield from rows.rejected
    if choice.carried:
        yield from choice.carried.rows.rejected


@dataclass(frozen=True, slots=True)
class Counts:
    """What rows are counted for: the account of all and of each source, contacts kept per country, records per evidence."""

    total: RowAccount
    sources: list[RowAccount]
    countries: dict[str, int]
    placed_by: dict[str, int]


def count_rows(loaded: Loaded, choice: Choice, ledger: Sequence[LedgerRows]) -> Counts:
    """Counts the rows of a ledger."""
    sources = [account_of(rows.reason) for rows in ledger]
    total = sources[0] if len(ledger) == 1 else account_of(np.concatenate([rows.reason for rows in ledger]))
    per_country = np.bincount(loaded.contacts.country[choice.kept], minlength=len(countries.CODES))
    return Counts(
        total,
        sources,
        {countries.CODES[number] or "unknown": int(per_country[number]) for number in np.flatnonzero(per_country).tolist()},
        {
            word or "unknown": sum(int(np.count_nonzero(r.station & (r.evidence == index))) for r in loaded.sources)
            for index, word in enumerate(EVIDENCE)
        },
    )


def summarise(
    loaded: Loaded,
    choice: Choice,
    counted: Counts,
    changes: Counter[str],
    source_files: list[list[FileMark]],
    files: Sequence[FileMark],
) -> Summary:
    """What summary.json holds; `files`: name, SHA-256 and size of all others that were written."""
    settings, ownership, fit, radio = loaded.settings, choice.ownership, choice.fit, choice.radio
    orders = [order_of(loaded.contacts, settings.order(rule, radio)) for rule in choice.rules]
    total = counted.total
    coverage = _coverage(loaded, choice)
    counts = sum((rows.counts for rows in loaded.sources), changes)
    cut = None
    if fit.cut is not None:
        rule = choice.rules[fit.cut[0]]
        at = fit.cut[0]
        cut = Cut(rule=rule.name, rank=fit.cut[1], matched=ownership.owned[at], kept=fit.kept[at])
    dropped = {
        word: number
        for word, number in total.reasons.items()
        if word not in (REASON_WORDS[Reason.UNREADABLE_ROW], REASON_WORDS[Reason.INVALID_ID])
    }
    return Summary(
        radio=radio.name,
        limit=Limit(contacts=radio.contacts, keep_free=radio.keep_free, bytes=radio.memory.bytes if radio.memory else None),
        contacts=len(loaded.contacts),
        read=total.read,
        kept=total.kept,
        rejected=total.rejected,
        dropped=dropped,
        rejected_reasons={word: count for word, count in total.reasons.items() if word not in dropped},
        drop_rules=tuple(
            DropCount(name=rule.name, matched=count) for rule, count in zip(settings.drop, ownership.left_out, strict=True)
        ),
        rules=(
            *_carried_rule(choice),
            *(
                RuleCount(
                    name=rule.name,
                    order=order,
                    at_most=rule.at_most,
                    matched=matched,
                    owned=owned,
                    kept=taken,
                    grows=rule.grows,
                )
                for rule, order, matched, owned, taken in zip(
                    choice.rules, orders, ownership.matched, ownership.owned, fit.kept, strict=True
                )
            ),
        ),
        matched_nobody=tuple(idle_rules(loaded, choice.rules, loaded.ownership(radio))),
        order_note=note_without_calls(loaded.contacts, orders),
        countries=counted.countries,
        nearly_gone=tuple(nearly_gone(loaded, choice)),
        placed_by=counted.placed_by,
        changed={word: number for word, number in sorted(counts.items()) if number},
        sources=(
            *(
                SourceSummary(
                    name=source.name,
                    rows=len(rows.number),
                    account=account,
                    files=tuple(marks),
                    understood=tuple(one.told(path.name) for one, path in zip(rows.understandings, paths, strict=False)),
                )
                for source, rows, account, marks, paths in zip(
                    settings.sources, loaded.sources, counted.sources, source_files, loaded.files, strict=False
                )
            ),
            *_carried_source(choice, counted.sources[-1]),
        ),
        lists=tuple(
            listed.told(path.name, [rule.name for rule in (*settings.drop, *choice.rules) if rule.list == path])
            for path, listed in loaded.lists.items()
        ),
        routes=tuple(route_summaries((*settings.drop, *choice.rules), loaded.routes)),
        layout=_layout(loaded, radio),
        cut=cut,
        memory=choice.memory,
        coverage=coverage,
        limits=_limits(loaded, choice, coverage),
        files=tuple(files),
    )


def _coverage(loaded: Loaded, choice: Choice) -> CoverageSummary | None:
    calls, settings = loaded.calls, loaded.settings
    heard = heard_contacts(loaded, choice)
    if calls is None or heard is None:
        return None
    from pruner.job.to_come import calls_to_come  # for those who have heard logs

    mine, window = settings.talkgroups.mine, settings.calls.window_days
    back = calls.coverage(choice.kept, mine, window, choice.carried)
    return back.model_copy(
        update={
            "to_come": calls_to_come(loaded, choice.radio, rooms_of(choice.radio, sizes_of(choice.radio))),
            "missed": missed(loaded, choice, heard),
            "by_limit": tuple(calls.coverage_by_limit(choice.fit.rank, mine or None, window, choice.carried)),
            "expected_by": dict(sorted(calls.notes.items())),
            "calendar": {system: store.calendar.told() for system, store in calls.stores.items()},
        }
    )


def _limits(loaded: Loaded, choice: Choice, coverage: CoverageSummary | None) -> tuple[LimitHolds, ...]:
    if choice.radio.memory:
        return ()
    radio, ahead = choice.radio, coverage.to_come if coverage else None
    return held_at(loaded, radio, queue_behind(loaded, choice), sizes_of(radio), ahead)


def _layout(loaded: Loaded, radio: Radio) -> dict[str, object] | None:
    """The layout in which the contacts are written, so that the files can be read without its own; None for the plain file."""
    if radio.name not in loaded.layouts:
        return None
    from pruner.layout.model import plain_document  # layouts are for those who have one

    return plain_document(loaded.layouts[radio.name])


def _carried_rule(choice: Choice) -> list[RuleCount]:
    if choice.carried is None:
        return []
    found = len(choice.carried.number)
    return [RuleCount(name=CARRIED, order="id", matched=found, owned=found, kept=choice.carried.kept, grows=False)]


def _carried_source(choice: Choice, account: RowAccount) -> list[SourceSummary]:
    if choice.carried is None:
        return []
    rows, path = choice.carried.rows, choice.carried.path
    understood = tuple(one.told(path.name) for one in rows.understandings)
    return [
        SourceSummary(name=rows.name, rows=len(rows.number), account=account, files=(fingerprint(path),), understood=understood)
    ]
