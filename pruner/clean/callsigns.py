"""Call signs as written in a directory -> call signs as assigned.

Receives an Arrow string array, hands on another. Only distinct values that do not have the ordinary form are touched.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import polars as pl
import pyarrow as pa

from pruner.callsign import ORDINARY_FORM, clean_callsign, is_ordinary


def clean_callsigns(text: pa.Array) -> tuple[pa.Array, npt.NDArray[np.bool_], int]:
    """The cleaned call signs ("" becomes null), which of them have an odd form, and how many were changed."""
    if not len(text):
        return text, np.zeros(0, dtype=bool), 0
    ordinary = pl.Series(pl.from_arrow(text)).str.contains(ORDINARY_FORM).fill_null(False).to_numpy()
    others = np.flatnonzero(~ordinary)
    odd = ~ordinary
    if not len(others):
        return text, odd, 0
    encoded = text.take(pa.array(others)).dictionary_encode()
    distinct = encoded.dictionary.to_pylist()
    cleaned = [clean_callsign(value) for value in distinct]
    indices = encoded.indices.fill_null(len(cleaned)).to_numpy(zero_copy_only=False)
    odd[others] = np.array([not is_ordinary(value) for value in cleaned] + [True])[indices]
    differs = np.array([new != old for new, old in zip(cleaned, distinct, strict=True)] + [False])
    changed = int(differs[indices].sum())
    if not changed and "" not in cleaned:
        return text, odd, 0
    replacement = pa.array([value or None for value in cleaned] + [None], pa.string()).take(pa.array(indices))
    places = np.arange(len(text))
    places[others] = len(text) + np.arange(len(others))
    return pa.concat_arrays([text, replacement]).take(pa.array(places)), odd, changed
