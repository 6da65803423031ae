"""Small text tables in `data/`.

Receives a file name, hands on its rows. The files are UTF-8, tab-separated, with one heading line; they are
made by `pruner.reference.build`.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

DATA: Final = Path(__file__).parent / "data"


def rows(name: str, folder: Path = DATA) -> list[list[str]]:
    """The cells of each line of `folder/name`, without the heading line."""
    text = (folder / name).read_text(encoding="utf-8")
    return [line.split("\t") for line in text.splitlines()[1:]]
