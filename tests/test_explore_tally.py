"""The tally: it counts everybody once, its bands are as narrow as promised, and it is refused where counts cannot tell."""

from __future__ import annotations

import zlib
from base64 import b64decode
from pathlib import Path

import numpy as np
import pytest
from explore_worlds import DROPS, HOME, KEEPS, RADIO, fitted, world
from hypothesis import given
from hypothesis import strategies as st

from pruner.ask.explore import tally_numbers
from pruner.ask.tally import TOLERANCE, Tally, band_of, tally_of
from pruner.job.load import Loaded, load
from pruner.pages.explore_page import pack
from pruner.settings.load import load_settings
from pruner.words.errors import SettingsError


@pytest.fixture(scope="module")
def loaded(tmp_path_factory: pytest.TempPathFactory) -> Loaded:
    return load(load_settings(world(tmp_path_factory.mktemp("world"), share=0.2)))


@pytest.fixture(scope="module")
def tally(loaded: Loaded) -> Tally:
    return tally_of(loaded, loaded.settings.radios[0])


def test_every_contact_is_counted_once(loaded: Loaded, tally: Tally) -> None:
    given_way = 5  # contacts whose id the radio carries already
    left_out = len(Path(loaded.settings.drop[0].list or "").read_text().split()) - 1
    assert tally.left_out == left_out
    assert int(tally.cells.contacts.sum()) + tally.left_out + given_way == len(loaded.contacts)
    assert tally.carried == 7
    assert len(set(zip(tally.cells.combination.tolist(), tally.cells.country.tolist(), strict=True))) == len(
        tally.cells.contacts
    )


def test_every_line_holds_the_contacts_and_calls_of_its_rules(tally: Tally) -> None:
    assert tally.total_calls is not None
    assert tally.total_calls[0] > tally.cells.calls[0].sum() > 0  # some who called stand in no directory
    for index, line in enumerate(tally.lines):
        waiting = [
            any(tally.line_of[rule] == index for rule in tally.combinations[place])
            for place in tally.cells.combination.tolist()
        ]
        counts = np.bincount(line.cell, weights=line.length, minlength=len(waiting))
        assert counts.tolist() == np.where(waiting, tally.cells.contacts, 0).tolist()
        for part in range(2):
            calls = np.bincount(line.row_cell, weights=line.row_calls[part], minlength=len(waiting))
            assert calls.tolist() == np.where(waiting, tally.cells.calls[part], 0).tolist()
        assert line.band_end[-1] == len(line.cell)
        assert np.all(np.diff(line.band_end) > 0)
        assert 1 <= line.length.min() <= line.length.max() <= 255


def test_rules_of_the_same_order_share_a_line(tally: Tally) -> None:
    # club: expected on my talkgroups; far: expected on its own; home (by the radio's word) and neighbours: nearest.
    assert tally.line_of == [0, 1, 2, 2, 3, 4, 5]


CALLS = st.lists(st.tuples(st.integers(0, 40), st.integers(0, 3)), min_size=1, max_size=60)


@given(CALLS, st.integers(0, 200), st.integers(1, 300))
def test_a_band_is_one_contact_or_few_calls(calls: list[tuple[int, int]], strangers: int, steps: int) -> None:
    both = np.array(calls, dtype=np.int64).T
    total = int(both[0].sum()) + strangers, int(both[1].sum())
    band = band_of(both, total, steps)
    assert band[0] == 0
    assert set(np.diff(band).tolist()) <= {0, 1}
    for part in range(2):
        for number in range(int(band[-1]) + 1):
            inside = both[part][band == number]
            assert len(inside) == 1 or inside.sum() * steps < 2 * total[part] or inside.sum() == 0


def test_bands_keep_the_promise_of_the_page(tally: Tally) -> None:
    assert tally.total_calls is not None
    ends = 1 + sum(rule.at_most is not None for rule in tally.rules)
    assert ends == 3
    for line in tally.lines:
        contacts = np.add.reduceat(line.length, np.concatenate([[0], line.band_end[:-1]]))
        for part in range(2):
            calls = np.bincount(line.row_band, weights=line.row_calls[part], minlength=len(contacts))
            assert np.all(calls[contacts > 1] * ends * TOLERANCE < tally.total_calls[part])


def test_packed_arrays_are_read_back(tally: Tally) -> None:
    numbers = tally_numbers(tally) | {"large": np.array([0, 1 << 33]), "none": np.zeros(0, dtype=np.int64)}
    shapes, text = pack(numbers)
    content, at = zlib.decompress(b64decode(text)), 0
    for (name, width, count), array in zip(shapes, numbers.values(), strict=True):
        kind = "<f8" if width == 8 else f"<u{width}"
        assert np.frombuffer(content, kind, count, at).tolist() == array.tolist(), name
        at += width * count
    assert at == len(content)


@pytest.mark.parametrize(
    ("change", "problem"),
    [
        (
            ("contacts = 9_000\n", "contacts = 9_000\n[radio.memory]\nbytes = 4096\nrecord = 24\n"),
            "the limit of radio 'bench' is bytes",
        ),
        (('name = "home"\n', 'name = "home"\none_per_callsign = true\n'), "one_per_callsign is on for 'home'; "),
    ],
)
def test_what_counts_cannot_tell_is_refused(tmp_path: Path, change: tuple[str, str], problem: str) -> None:
    from pruner.ask.explore import explore

    radio = f'[[radio]]\nname = "{RADIO}"\ncontacts = 9_000\n'
    path = world(tmp_path, heard=False, share=0.01)
    path.write_text(f"{HOME}{DROPS}{KEEPS}{radio}".replace(*change), encoding="utf-8")
    with pytest.raises(SettingsError, match=problem):
        explore(path, None, tmp_path / "explore.html")
    assert not (tmp_path / "explore.html").exists()


def test_the_tally_tells_the_fit_of_the_file(loaded: Loaded, tally: Tally) -> None:
    """Counted by hand from the cells: the first rule in the file's order owns a contact."""
    summary = fitted(loaded.settings.output.folder.parent / "pruner.toml")
    owned = [0] * len(tally.rules)
    for place, count in zip(tally.cells.combination.tolist(), tally.cells.contacts.tolist(), strict=True):
        if tally.combinations[place]:
            owned[min(tally.combinations[place])] += count
    assert owned == [rule.owned for rule in summary.rules[1:]]
