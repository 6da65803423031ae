"""Fitting under a limit: exact at the edges, and the same as a plain walk from the front of the queue."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pruner.choose.by_number import Queue, fit_by_number
from pruner.job import run
from pruner.settings.short import short_settings
from pruner.settings.short_form import ShortForm
from pruner.words import pieces
from pruner.words.outcomes import Reason

FIRST_ID = 2_000_001


@pytest.mark.parametrize(
    ("contacts", "limit"),  # limits are common practice, no source
    [
        *((contacts, 2_000) for contacts in (1_999, 2_000, 2_001)),
        (200_001, 200_000),
        *(pytest.param(contacts, 200_000, marks=pytest.mark.long) for contacts in (199_999, 200_000, 500_001)),
        *(pytest.param(contacts, 500_000, marks=pytest.mark.long) for contacts in (199_999, 200_000, 200_001, 500_001)),
    ],
)
def test_exactly_the_limit_is_kept(tmp_path: Path, contacts: int, limit: int) -> None:
    ids = np.arange(FIRST_ID, FIRST_ID + contacts)
    names = pl.Series(["Ada"]).extend_constant("Ada", contacts - 1)
    source = tmp_path / "stations.csv"
    pl.DataFrame({"dmr id": ids[::-1], "first name": names}).write_csv(source)
    settings = short_settings([source], ShortForm(limit, out=tmp_path / "out"))
    by_id = tuple(rule.model_copy(update={"order": "id"}) for rule in settings.keep)
    result = run(settings.model_copy(update={"keep": by_id}))
    summary = result.summaries[0]
    expected = min(limit, contacts)
    assert (summary.read, summary.kept, summary.rejected) == (contacts, expected, 0)
    over = {"over limit": contacts - expected} if contacts > expected else {}
    assert summary.dropped == over
    lines = (result.folders[0] / "contacts.csv").read_bytes().splitlines()
    assert len(lines) == expected + 1
    assert lines[1].startswith(b",%d," % FIRST_ID)
    assert lines[-1].startswith(b",%d," % (FIRST_ID + expected - 1))


@st.composite
def situations(draw: st.DrawFn) -> tuple[list[int], list[Queue], int, list[int]]:
    """Reasons given beforehand, queues without a common contact, a limit, a call sign code per contact."""
    count = draw(st.integers(0, 25))
    order = draw(st.permutations(range(count)))
    cuts = sorted(draw(st.lists(st.integers(0, count), min_size=1, max_size=4)))
    queues = [
        Queue(
            np.array(order[start:end], dtype=np.int64),
            draw(st.none() | st.integers(0, 10)),
            draw(st.booleans()),
        )
        for start, end in zip([0, *cuts], cuts, strict=False)
    ]
    reasons = draw(st.lists(st.sampled_from([Reason.LEFT_OUT, Reason.NO_RULE]), min_size=count, max_size=count))
    signs = draw(st.lists(st.integers(-1, 6), min_size=count, max_size=count))
    return [int(reason) for reason in reasons], queues, draw(st.integers(0, 30)), signs


def walk(reasons: list[int], queues: list[Queue], limit: int, signs: list[int]) -> tuple[list[int], list[int], list[int]]:
    """The paragraph "Fit" of DEVELOPERS.md, one contact after the other."""
    reason, rank, kept = list(reasons), [0] * len(reasons), []
    taken = total = 0
    borne_by_kept: set[int] = set()
    for queue in queues:
        before: set[int] = set()
        kept_here: list[int] = []
        taken_here = 0
        for contact in queue.contacts.tolist():
            sign = signs[contact]
            repeated = sign >= 0 and (sign in borne_by_kept or sign in before)
            before.add(sign)
            if queue.one_per_callsign and repeated:
                reason[contact] = Reason.DUPLICATE_CALLSIGN
            elif queue.at_most is not None and taken_here == queue.at_most:
                reason[contact] = Reason.RULE_FULL
            else:
                taken_here += 1
                taken += 1
                rank[contact] = taken
                reason[contact] = Reason.NONE if total < limit else Reason.OVER_LIMIT
                if total < limit:
                    total += 1
                    kept_here.append(contact)
        borne_by_kept |= {signs[contact] for contact in kept_here} - {-1}
        kept.append(len(kept_here))
    return reason, rank, kept


@given(situations())
def test_same_as_a_plain_walk(situation: tuple[list[int], list[Queue], int, list[int]]) -> None:
    reasons, queues, limit, signs = situation
    fit = fit_by_number(np.array(reasons, dtype=np.uint8), queues, limit, np.array(signs, dtype=np.int64))
    assert (fit.reason.tolist(), fit.rank.tolist(), fit.kept) == walk(reasons, queues, limit, signs)
    assert sum(fit.kept) <= limit
    over = [index for index, queue in enumerate(queues) if (fit.reason[queue.contacts] == Reason.OVER_LIMIT).any()]
    assert fit.cut == ((over[0], limit + 1) if over else None)


@given(situations(), st.integers(1, 5))
def test_who_waits_as_they_stand_can_be_told_by_a_mask(
    situation: tuple[list[int], list[Queue], int, list[int]], piece: int
) -> None:
    reasons, queues, limit, signs = situation
    told = np.array(reasons, dtype=np.uint8), np.array(signs, dtype=np.int64)
    standing = [replace(queue, contacts=np.sort(queue.contacts)) for queue in queues]
    masked = [replace(queue, contacts=np.isin(np.arange(len(signs)), queue.contacts)) for queue in queues]
    fit = fit_by_number(told[0], standing, limit, told[1])
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(pieces, "PIECE", piece)
        same = fit_by_number(told[0], masked, limit, told[1])
    assert (same.reason.tolist(), same.rank.tolist()) == (fit.reason.tolist(), fit.rank.tolist())
    assert (same.kept, same.cut) == (fit.kept, fit.cut)


def test_one_per_callsign_wants_call_signs() -> None:
    queue = Queue(np.array([0], dtype=np.int64), at_most=None, one_per_callsign=True)
    with pytest.raises(ValueError, match="call sign codes"):
        fit_by_number(np.zeros(1, dtype=np.uint8), [queue], 1)
