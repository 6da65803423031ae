"""The file to import: text of the kept contacts, cleaned, joined with carried entries, in the radio's layout.

Receives a choice, writes into a folder, hands on what was changed.
"""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import numpy as np
import polars as pl

from pruner import schema
from pruner.layout.plain import write_plain
from pruner.pipeline.choose import Choice
from pruner.pipeline.load import Loaded
from pruner.pipeline.texts import written_contacts


def write_contacts(loaded: Loaded, choice: Choice, folder: Path) -> Counter[str]:
    """Writes the contacts of a choice; returns what was changed in their text, in contacts."""
    kept = np.flatnonzero(choice.kept)
    contacts = loaded.contacts
    written, changes = written_contacts(loaded.sources, loaded.records[kept], contacts.number[kept], contacts.country[kept])
    if choice.carried:
        written = pl.concat([choice.carried.texts(), written]).sort(schema.ID, maintain_order=True)
    write_plain(written, folder / "contacts.csv")
    return changes
