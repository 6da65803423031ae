"""Names of sources, made from the names of their files.

Receives locations in the order of the user, hands on one legal and distinct name for each.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from pathlib import PurePath


def source_names(locations: Iterable[str]) -> list[str]:
    """The file name up to its first point, other characters than letters, digits, dash, underscore made
    dashes.

    A name that is taken gets the next free number: `stations`, `stations-2`.
    """
    names: list[str] = []
    for location in locations:
        stem = re.split(r"(?<=.)\.", PurePath(location).name, maxsplit=1)[0]
        base = re.sub(r"[^A-Za-z0-9_]+", "-", stem)[:56].strip("-") or "source"
        name, number = base, 1
        while name in names:
            number += 1
            name = f"{base}-{number}"
        names.append(name)
    return names
