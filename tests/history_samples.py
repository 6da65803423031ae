"""Contacts, results and summaries for the tests of compare and forecast. All invented."""

from __future__ import annotations

import datetime
from typing import Any

import polars as pl
from hypothesis import strategies as st

from pruner.account.summary import Summary
from pruner.history.contacts import RULE, SYSTEM, TEXT_COLUMNS, ResultContacts, ordered

# Few values, so that two sets of contacts often agree.
WORDS = st.sampled_from(["", "Ada", "Bea", "Ötz", "=1+1", "a b"])
CONTACT = st.fixed_dictionaries(
    {
        **dict.fromkeys(TEXT_COLUMNS, WORDS),
        "country_code": st.sampled_from(["", "AT", "DE", "JP"]),
        RULE: st.sampled_from(["home", "the rest"]),
    }
)
KEYS = st.tuples(st.integers(0, 2), st.integers(1, 12))
CONTACTS = st.dictionaries(KEYS, CONTACT, max_size=20)


def contacts_of(rows: dict[tuple[int, int], dict[str, str]], **more: Any) -> ResultContacts:
    """Contacts from `(system, id) -> texts`; texts that are not given are empty."""
    frame = pl.DataFrame(
        [{SYSTEM: system, "id": number, **texts} for (system, number), texts in rows.items()],
        schema={SYSTEM: pl.UInt8, "id": pl.UInt32, **dict.fromkeys((*TEXT_COLUMNS, "country_code", RULE), pl.String)},
    )
    return ResultContacts("invented", ordered(frame), **more)


def summary(stations: int, *, radio: str = "one", limit: int = 1000, source: str = "world", **more: Any) -> Summary:
    """A summary as a run writes it, with ten rows for which there is no station."""
    kept = min(stations, limit)
    dropped = {"reserved id": 1, "duplicate id": 4} | ({"over limit": stations - kept} if stations > kept else {})
    reasons = {"unreadable row": 2, "invalid id": 3, **dropped}
    account = {"read": stations + 10, "kept": kept, "dropped": sum(dropped.values()), "rejected": 5, "reasons": reasons}
    document = {
        "schema": 1,
        "radio": radio,
        "limit": {"contacts": limit, "keep_free": 0},
        "read": stations + 10,
        "kept": kept,
        "rejected": 5,
        "dropped": dropped,
        "rejected_reasons": {"unreadable row": 2, "invalid id": 3},
        "drop_rules": [],
        "rules": [],
        "placed_by": {},
        "changed": {},
        "files": [],
        "countries": {"AT": kept},
        "sources": [{"name": source, "rows": stations + 10, "account": account, "files": []}],
        "coverage": None,
        **more,
    }
    return Summary.model_validate(document)


def coverage(
    all_of_them: float | None,
    *,
    mine: float | None = None,
    is_mine: bool = False,
    by_limit: dict[int, float] | None = None,
    to_come: dict[int, tuple[float | None, float, float | None]] | None = None,
) -> dict[str, Any]:
    """What a summary says of a thousand calls: the shares named on all talkgroups, on the user's, and at other limits; to come
    as share, low and high by limit."""
    parts = {
        name: {"calls": 1000, "named": 0, "in_directory": 0, "share": share, "best_share": share}
        for name, share in (("all", all_of_them), ("mine", mine))
    }
    points = [{"contacts": contacts, "share": share} for contacts, share in (by_limit or {}).items()]
    ahead = None
    if to_come is not None:
        limits = [{"contacts": one, "share": share, "low": low, "high": high} for one, (share, low, high) in to_come.items()]
        ahead = {"period_days": 28, "confidence": 0.95, "talkgroups": "mine" if is_mine else "all", "by_limit": limits}
    own = parts["mine"] if is_mine else None
    return {"window_days": 90, "all": parts["all"], "mine": own, "by_limit": points, "to_come": ahead}


def day(number: int) -> datetime.date:
    """A date counted from 1970-01-01."""
    return datetime.date(1970, 1, 1) + datetime.timedelta(days=number)
