"""Which record stays, against the contract of DEVELOPERS.md told record by record."""

from __future__ import annotations

from unittest import mock

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from pruner.clean.duplicates import SourceIds, Survivors, surviving_records
from pruner.words import pieces, schema

RECORDS = st.lists(st.tuples(st.integers(0, 6), st.booleans(), st.booleans()), max_size=12)
SOURCES = st.lists(st.tuples(st.sampled_from(schema.SYSTEM_NAMES), RECORDS), max_size=4)


def source(system: str, records: list[tuple[int, bool, bool]]) -> SourceIds:
    number, station, suffixed = zip(*records, strict=True) if records else ((), (), ())
    return SourceIds(system, np.array(number, np.uint32), np.array(station, bool), np.array(suffixed, bool))


def plainly(sources: list[tuple[str, list[tuple[int, bool, bool]]]]) -> dict[tuple[int, int], int]:
    """System and id -> position of the record that stays."""
    best: dict[tuple[int, int], tuple[int, bool, int]] = {}
    position = 0
    for place, (system, records) in enumerate(sources):
        for number, station, suffixed in records:
            address = schema.SYSTEM_NAMES.index(system), number
            if station:
                best[address] = max(best.get(address, (-99, False, -1)), (-place, not suffixed, position))
            position += 1
    return {address: found[2] for address, found in sorted(best.items())}


def as_table(survivors: Survivors) -> dict[tuple[int, int], int]:
    addresses = zip(survivors.system.tolist(), survivors.number.tolist(), strict=True)
    return dict(zip(addresses, survivors.record.tolist(), strict=True))


@given(SOURCES, st.sampled_from([1, 2, 3, 1 << 16]))
def test_the_first_source_then_plain_ids_then_the_last_record(sources: list, piece: int) -> None:
    with mock.patch.object(pieces, "PIECE", piece):
        survivors = surviving_records([source(*one) for one in sources])
    expected = plainly(sources)
    assert list(as_table(survivors).items()) == list(expected.items())
    records = [record for _, records in sources for record in records]
    others = {position for position, (_, station, _) in enumerate(records) if station} - set(expected.values())
    assert sorted(survivors.duplicates.tolist()) == sorted(others)


def test_the_highest_address_and_many_records() -> None:
    number = np.arange(200_000, dtype=np.uint32) % 100_000 + (schema.ADDRESSES - 100_000)
    survivors = surviving_records([SourceIds("dmr", number, np.ones(200_000, bool), np.zeros(200_000, bool))])
    assert survivors.record.tolist() == list(range(100_000, 200_000))
    assert survivors.number.tolist() == list(range(schema.ADDRESSES - 100_000, schema.ADDRESSES))
    assert sorted(survivors.duplicates.tolist()) == list(range(100_000))


def test_records_of_one_system_are_not_copied() -> None:
    """They lie where their keys were."""
    one = source("nxdn", [(5, True, False), (5, True, False), (6, True, True)])
    assert surviving_records([one]).record.base is not None
    assert surviving_records([one, source("p25", [])]).record.base is not None
