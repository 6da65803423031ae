"""What makes contacts alike, from the columns of a directory, for `calls.strangers`."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np

from pruner.calls.alike import Traits
from pruner.rules.contacts import Contacts, codes

#: Bands of distance end at so many kilometres, each twice as far as the one before.
_FIRST_KILOMETRES: Final = 25.0
_MOST_BANDS: Final = 10


def traits_in(contacts: Contacts) -> Callable[[slice], Traits]:
    """The traits of some contacts, all of one system; made once for each system."""
    known: dict[tuple[int, int], Traits] = {}

    def traits(part: slice) -> Traits:
        key = (part.start, part.stop)
        if key not in known:
            known[key] = _traits_of(contacts, part)
        return known[key]

    return traits


def _traits_of(contacts: Contacts, part: slice) -> Traits:
    band = None
    if contacts.origin is not None:
        kilometres = contacts.distance[part] / 1000
        known = np.isfinite(kilometres)
        doubled = np.log2(np.maximum(np.where(known, kilometres, 1.0), _FIRST_KILOMETRES) / _FIRST_KILOMETRES)
        band = np.where(known, np.minimum(doubled, _MOST_BANDS).astype(np.int64), -1)
    return Traits(
        contacts.number[part],
        contacts.country[part],
        contacts.kind[part],
        codes(contacts.text("state"))[part],
        band,
        contacts.callsign_codes[part],
        np.where(codes(contacts.text("town"))[part] < 0, -1, contacts.towns[part]),
    )
