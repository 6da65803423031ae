"""What a column of texts holds, where its heading does not say: towns, whole names, a setting.

Receives the cells of a column and the country of each row, hands on a template and how sure it is.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np

from pruner.layout.template import escaped_constant
from pruner.reference import callsigns, countries, places
from pruner.reference.callsign import clean_callsign
from pruner.table.facts import country_of_id
from pruner.words import schema

WHOLE_NAME: Final = f"{{{schema.FIRST_NAME}}} {{{schema.LAST_NAME}}}"
#: So many different places of a row's own country make a column of towns; so few of them make none.
_LEAST_TOWNS: Final = 3
_TOWNS: Final = 0.6
_NO_TOWNS: Final = 0.3
#: So many cells of two words or three, each with a capital, make whole names.
_NAMES: Final = 0.8
_FEWEST_ROWS: Final = 10
#: A setting has so few different cells, each of them often.
_MOST_SETTINGS: Final = 5
_ROWS_PER_SETTING: Final = 4


def countries_of_rows(known: Mapping[str, Sequence[str]], count: int) -> list[int]:
    """The country of each row by its id, else its call sign, else its country; 0 where none tells."""
    found = [0] * count
    for row, text in enumerate(known.get(schema.COUNTRY, ())):
        found[row] = countries.find(text)
    for row, text in enumerate(known.get(schema.CALLSIGN, ())):
        found[row] = callsigns.country_of(clean_callsign(text)) or found[row]
    for row, text in enumerate(known.get(schema.ID, ())):
        found[row] = (country_of_id(int(text)) if text.isascii() and text.isdigit() else 0) or found[row]
    return found


def share_of_towns(texts: Sequence[str], country: Sequence[int]) -> float | None:
    """The share of cells that are places of their row's country; None where too few rows tell."""
    rows = [row for row, text in enumerate(texts) if text and country[row]]
    if len(rows) < _FEWEST_ROWS or len({texts[row] for row in rows}) < _LEAST_TOWNS:
        return None
    latitude, _ = places.locate([country[row] for row in rows], [texts[row] for row in rows], [""] * len(rows))
    return float(np.mean(~np.isnan(latitude)))


def text_by_cells(texts: Sequence[str], country: Sequence[int]) -> str | None:
    """`{town}` or a whole name where the cells say so, else None."""
    share = share_of_towns(texts, country)
    if share is not None and share >= _TOWNS:
        return f"{{{schema.TOWN}}}"
    filled = [text for text in texts if text]
    is_name = len(filled) >= _FEWEST_ROWS and sum(map(_is_whole_name, filled)) >= _NAMES * len(filled)
    return WHOLE_NAME if is_name and share is not None and share <= _NO_TOWNS else None


def is_first_name(texts: Sequence[str], country: Sequence[int]) -> bool:
    """Whether single words behind a call sign are no towns, so that they can be names only."""
    share = share_of_towns(texts, country)
    return share is not None and share <= _NO_TOWNS and all(text.isalpha() for text in texts if text)


def setting(texts: Sequence[str]) -> tuple[str, str] | None:
    """The commonest cell of a column of few different ones, as a template, and what it looks like; None of another column."""
    counts = Counter(text for text in texts if text)
    if not 1 < len(counts) <= min(_MOST_SETTINGS, len(texts) // _ROWS_PER_SETTING) or min(counts.values()) < 2:
        return None
    shown = ", ".join(repr(text) for text in sorted(counts))
    return escaped_constant(counts.most_common(1)[0][0]), f"it looks like a setting ({shown}); all rows get the commonest"


def _is_whole_name(text: str) -> bool:
    words = text.split()
    return 2 <= len(words) <= 3 and all(word[:1].isupper() and not any(map(str.isdigit, word)) for word in words)
