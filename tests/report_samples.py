"""A finished run made by hand, with names that try to act on whoever reads the page."""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
from summary_samples import altered

from pruner.account.ledger import LedgerRows, write_ledger
from pruner.account.summary import Summary
from pruner.place.country import EVIDENCE
from pruner.publish.folders import fingerprint
from pruner.reference import countries
from pruner.words.outcomes import OUTCOME_WORDS, REASON_WORDS, Reason, outcome_of

#: Markup, script, style, direction of writing, control sequences, formulas: shown, never obeyed.
HOSTILE = [
    "<script>window.owned=1;alert(1)</script>",
    "<img src=x onerror=alert(1)>",
    "</title></style></svg><svg onload=alert(1)>",
    '" onmouseover="alert(1)" x="',
    "{{ 7*7 }}{% raw %}",
    "&lt;b&gt;&amp;#x41;",
    "javascript:alert(1)//<a href=https://example.org>",
    '=HYPERLINK("https://example.org","x")',
    "@import url(https://example.org/a.css)",
    "]]><!--<style>body{display:none}</style>",
    "a\u202eb\u2066c\u200fd\u2029e",
    "\x1b[2J\x07\x00tab\there",
    "שלום OE1ABC",
]
LIMIT = 12


def sample_run(folder: Path, *, hostile: bool = False, radio: str = "bench", coverage: bool = True) -> Summary:
    """Writes ledger.parquet and summary.json of an invented run of 40 rows and returns the summary.

    The limit of 12 falls inside the second rule: ranks 1 to 12 are kept, 13 to 24 are over the limit.
    """
    words = HOSTILE if hostile else [f"OE{n}XYZ" for n in range(13)]
    folder.mkdir(parents=True, exist_ok=True)
    reason = np.zeros(40, dtype=np.uint8)
    reason[12:24] = Reason.OVER_LIMIT
    reason[24:27] = Reason.LEFT_OUT
    reason[27:30] = Reason.DUPLICATE_ID
    reason[30:32] = Reason.RESERVED_ID
    reason[32:35] = Reason.NO_RULE
    reason[35:38] = Reason.UNREADABLE_ROW
    reason[38:] = Reason.INVALID_ID
    rank = np.zeros(40, dtype=np.uint32)
    rank[:24] = np.arange(1, 25)
    rule = np.zeros(40, dtype=np.uint8)
    rule[:4], rule[4:24], rule[24:27] = 2, 3, 1
    country = np.array([countries.NUMBERS[code] for code in ("AT", "DE", "US", "JP")], dtype=np.uint8)[np.arange(40) % 4]
    country[reason == Reason.RESERVED_ID] = 0
    country[7] = 0
    signs: list[str | None] = [words[n % len(words)] for n in range(40)]
    signs[14] = None
    names = [words[0], words[1], words[2]] if hostile else ["asked", "club", "the rest"]
    ledger = folder / "ledger.parquet"
    rows = LedgerRows(
        words[3],
        "dmr",
        np.arange(2_320_001, 2_320_041, dtype=np.uint32),
        reason != Reason.INVALID_ID,
        pa.chunked_array([pa.array(signs)]),
        country,
        np.ones(40, dtype=np.uint8),
        reason,
        rule,
        rank,
    )
    write_ledger(ledger, [rows], countries=countries.CODES, evidence=EVIDENCE, rules=["", *names])
    counts = Counter(REASON_WORDS[Reason(one)] for one in reason.tolist() if one)
    rejected = {word: counts[word] for word in ("unreadable row", "invalid id")}
    account = Counter(OUTCOME_WORDS[outcome_of(Reason(one))] for one in reason.tolist())
    (folder / "rejected.csv").write_text("source,line,reason,detail,raw\n")
    figures = {"calls": 1000, "named": 625, "in_directory": 900, "share": 0.625, "best_share": 0.75}
    document: dict[str, Any] = {
        "schema": 1,
        "radio": words[10] + words[4] if hostile else radio,
        "limit": {"contacts": LIMIT, "keep_free": 0, "bytes": None},
        "read": 40,
        "kept": 12,
        "rejected": sum(rejected.values()),
        "dropped": {word: n for word, n in sorted(counts.items()) if word not in rejected},
        "rejected_reasons": rejected,
        "drop_rules": [{"name": names[0], "matched": 3}],
        "rules": [
            {"name": names[1], "order": "id", "at_most": 4, "matched": 6, "owned": 4, "kept": 4},
            {"name": names[2], "order": "id", "at_most": None, "matched": 24, "owned": 20, "kept": 8},
        ],
        "countries": {"AT": 3, "DE": 3, "US": 3, "JP": 2, "unknown": 1},
        "placed_by": {"unknown": 3, "text": 37, "id": 0, "call sign": 0},
        "changed": {"call signs tidied": 5, "disagreement: text against id": 2, **({words[8]: 1} if hostile else {})},
        "sources": [
            {
                "name": words[5] if hostile else "world",
                "rows": 40,
                "account": {"read": 40, "reasons": dict(counts), **account},
                "files": [{"name": words[7] if hostile else "stations.csv", "sha256": "ab" * 32, "bytes": 1234}],
            }
        ],
        "cut": {"rule": names[2], "rank": 13, "matched": 20, "kept": 8},
        "memory": None,
        "coverage": {
            "window_days": 90,
            "all": figures,
            "mine": {**figures, "calls": 400, "named": 300, "share": 0.75, "best_share": 0.875},
            "by_limit": [{"contacts": n, "share": min(n / 16, 0.9)} for n in range(2, 25, 2)],
            "expected_by": {words[9] if hostile else "a method": words[11] if hostile else "A note."},
        }
        if coverage
        else None,
        "files": [fingerprint(path).model_dump() for path in (ledger, folder / "rejected.csv")],
    }
    summary = Summary.model_validate(document)
    (folder / "summary.json").write_text(summary.text(), encoding="utf-8")
    return summary


def in_bytes(summary: Summary, aim: str = "rules") -> Summary:
    """The same radio, as if its limit were bytes."""
    words = [rule.name for rule in summary.rules]
    memory = {
        "bytes": 1000,
        "used": 990,
        "free": 10,
        "levels": {words[0]: 5, words[1]: 7},
        "aim": aim,
        "expected_calls": {"value": 12.5, "upper_bound": 13.25, "gap": 0.05} if aim == "coverage" else None,
    }
    limit = {"contacts": None, "keep_free": 0, "bytes": 1000}
    whole = altered(summary, limit=limit, memory=memory)
    return altered(whole, cut=None) if aim == "coverage" else whole
