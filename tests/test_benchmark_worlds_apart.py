"""The worlds of another make: the same again for the same arguments, and calls of listed ids on all days."""

from __future__ import annotations

import numpy as np
import pytest

from benchmarks.worlds import LATER_DAYS
from benchmarks.worlds_apart import APART, make_apart

pytestmark = pytest.mark.long

CONTACTS, DAYS = 8_000, 60


@pytest.mark.parametrize("kind", APART)
def test_worlds_apart_are_worlds_like_the_others(kind: str) -> None:
    world, again = make_apart(kind, CONTACTS, DAYS, 1), make_apart(kind, CONTACTS, DAYS, 1)
    assert world.log.frame(0).equals(again.log.frame(0))
    assert not world.log.frame(0).equals(make_apart(kind, CONTACTS, DAYS, 2).log.frame(0))
    assert (np.diff(world.log.second) >= 0).all()
    assert 0 <= world.log.day.min() <= world.log.day.max() == DAYS + LATER_DAYS - 1
    place = np.searchsorted(world.directory.id, world.log.id)
    assert (world.directory.id[place] == world.log.id).all()
    assert (world.directory.issued[place] <= world.log.day).all()
    assert 0.005 < len(np.unique(world.calls(0, DAYS).id)) / CONTACTS < 0.2
    strangers = ~np.isin(world.calls(DAYS, DAYS + LATER_DAYS).id, world.calls(0, DAYS).id)
    assert 0 < strangers.mean() < 0.6
