"""What a page counts: the same from the rows of a ledger as from the file, and as a plain count."""

from __future__ import annotations

import tempfile
from collections import Counter
from pathlib import Path

import numpy as np
import pyarrow as pa
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pruner.account import ledger as ledger_module
from pruner.account.ledger import LedgerRows, write_ledger
from pruner.account.tallies import tally, tally_rows
from pruner.reference import countries
from pruner.words import pieces
from pruner.words.outcomes import REASON_WORDS, Reason

RULES = ["", "far away", "home", "the rest"]
EVIDENCE = ["", "text"]
RANKED = (Reason.NONE, Reason.OVER_LIMIT)


@st.composite
def ledgers(draw: st.DrawFn) -> list[LedgerRows]:
    """Rows of one or two sources; who is kept or over the limit has a rank of their own."""
    reasons = draw(st.lists(st.sampled_from(list(Reason)), min_size=1, max_size=60))
    kept = [place for place, reason in enumerate(reasons) if reason == Reason.NONE]
    over = [place for place, reason in enumerate(reasons) if reason == Reason.OVER_LIMIT]
    rank = np.zeros(len(reasons), dtype=np.uint32)
    for number, place in enumerate([*draw(st.permutations(kept)), *draw(st.permutations(over))], start=1):
        rank[place] = number
    reason = np.array(reasons, dtype=np.uint8)
    several = np.arange(len(reasons), dtype=np.uint32)
    country = np.array(
        draw(st.lists(st.integers(0, len(countries.CODES) - 1), min_size=len(reasons), max_size=len(reasons))), dtype=np.uint8
    )
    cut = draw(st.integers(0, len(reasons) - 1))
    return [
        LedgerRows(
            name,
            "dmr",
            2_000_000 + several[part],
            ~np.isin(reason[part], [Reason.UNREADABLE_ROW, Reason.INVALID_ID]),
            pa.chunked_array([pa.array([f"OE{number}X" if number % 3 else None for number in several[part]], pa.string())]),
            country[part],
            np.zeros(len(several[part]), dtype=np.uint8),
            reason[part],
            (several[part] % len(RULES)).astype(np.uint8),
            rank[part],
        )
        for name, part in (("one", slice(0, cut)), ("two", slice(cut, None)))
        if len(several[part])
    ]


@given(ledgers(), st.integers(1, 7), st.integers(1, 20))
def test_rows_and_file_tell_the_same(rows: list[LedgerRows], around: int, piece: int) -> None:
    with tempfile.TemporaryDirectory() as folder, pytest.MonkeyPatch.context() as patch:
        patch.setattr(pieces, "PIECE", piece)
        patch.setattr(ledger_module, "ROW_GROUP", piece + 1)
        path = Path(folder) / "ledger.parquet"
        write_ledger(path, rows, countries=countries.CODES, evidence=EVIDENCE, rules=RULES)
        told = tally_rows(rows, RULES, around)
        assert told == tally(path, around)
    reasons = [Reason(one) for part in rows for one in part.reason.tolist()]
    usable = [one for one in reasons if one not in (Reason.UNREADABLE_ROW, Reason.INVALID_ID)]
    assert sum(one.kept + sum(one.dropped.values()) for one in told.by_country) == len(usable)
    counted: Counter[str] = Counter()
    for one in told.by_country:
        counted.update(one.dropped)
    assert counted == Counter(REASON_WORDS[one] for one in usable if one != Reason.NONE)
    kept, over = (sum(one == reason for one in reasons) for reason in RANKED)
    expected = [*range(max(1, kept + 1 - around), kept + 1), *range(kept + 1, kept + 1 + min(over, around))] if over else []
    assert [row.rank for row in told.border] == expected
    assert [row.kept for row in told.border] == [number <= kept for number in expected]
