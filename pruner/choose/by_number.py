"""Fits a queue of contacts under a number of contacts, exactly.

Receives the owner and order of every contact, hands on a reason and a rank for each.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from pruner.words.outcomes import Reason
from pruner.words.pieces import pieces

Positions = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Queue:
    """Contacts of one keep rule: positions, first in line first, or a mask over all contacts where they wait as they stand;
    how many it may take (None: all), and whether it takes one id per call sign."""

    contacts: Positions | npt.NDArray[np.bool_]
    at_most: int | None
    one_per_callsign: bool


@dataclass(frozen=True, slots=True)
class Fit:
    """`reason`: uint8 `Reason` per contact (NONE: kept; contacts in no queue keep what was given);
    `rank`: uint32 per contact, 0 where it has none; `kept`: number kept per queue; `cut`: (queue, rank) at
    which the limit fell, None when everything went in."""

    reason: npt.NDArray[np.uint8]
    rank: npt.NDArray[np.uint32]
    kept: list[int]
    cut: tuple[int, int] | None


def fit_by_number(
    reason: npt.NDArray[np.uint8],
    queues: Sequence[Queue],
    limit: int,
    callsign_codes: npt.NDArray[np.int64] | None = None,
) -> Fit:
    """Walks the queues from the front until `limit` contacts are kept.

    `reason` holds what is already decided for contacts outside the queues. `callsign_codes` (-1: no call
    sign) is needed when a queue takes one id per call sign.
    Never keeps more than `limit`, nor fewer while an allowed
    contact is left.
    """
    reason = reason.copy()
    rank = np.zeros(len(reason), dtype=np.uint32)
    borne = [np.zeros(0, dtype=np.int64)]
    taken = kept_total = 0
    kept: list[int] = []
    cut: tuple[int, int] | None = None
    for index, queue in enumerate(queues):
        waiting = queue.contacts
        if waiting.dtype == np.bool_ and (queue.one_per_callsign or queue.at_most is not None):
            waiting = np.flatnonzero(waiting)
        if queue.one_per_callsign:
            if callsign_codes is None:
                raise ValueError("one_per_callsign needs call sign codes")
            surplus = _repeats(callsign_codes[waiting], np.concatenate(borne))
            reason[waiting[surplus]] = Reason.DUPLICATE_CALLSIGN
            waiting = waiting[~surplus]
        if queue.at_most is not None:
            reason[waiting[queue.at_most :]] = Reason.RULE_FULL
            waiting = waiting[: queue.at_most]
        room = limit - kept_total
        for places in _pieces(waiting):
            rank[places] = np.arange(taken + 1, taken + 1 + len(places), dtype=np.uint32)
            taken += len(places)
            fitting = places[:room]
            reason[fitting] = Reason.NONE
            reason[places[room:]] = Reason.OVER_LIMIT
            if len(fitting) < len(places) and cut is None:
                cut = (index, limit + 1)
            if callsign_codes is not None:
                borne.append(callsign_codes[fitting])
            room -= len(fitting)
        kept.append(limit - kept_total - room)
        kept_total = limit - room
    return Fit(reason, rank, kept, cut)


def _pieces(waiting: Positions | npt.NDArray[np.bool_]) -> Iterator[Positions]:
    """Positions of those who wait, a piece at a time."""
    for part in pieces(len(waiting)):
        piece: npt.NDArray[Any] = waiting[part]
        yield np.flatnonzero(piece) + part.start if piece.dtype == np.bool_ else piece


def _repeats(codes: npt.NDArray[np.int64], borne: npt.NDArray[np.int64]) -> npt.NDArray[np.bool_]:
    """Which entries bear a call sign that is taken already, or that an entry before them bears."""
    first = np.zeros(len(codes), dtype=bool)
    first[np.unique(codes, return_index=True)[1]] = True
    return (codes >= 0) & (np.isin(codes, borne) | ~first)
