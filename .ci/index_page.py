"""The README as an index page shows it, which has none of the project's files beside it.

Receives README.md and the environment, hands on the metadata `readme`. README_FILES_AT is the address under which the
files of this version can be fetched (`https://host/project/raw/v0.1.0`); without it pictures give way to their
descriptions and links to files to their words.
"""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import Any

from hatchling.metadata.plugin.interface import MetadataHookInterface

_LINK = re.compile(r"(!?)\[([^\]]*)\]\((?!https?://|#|mailto:)([^)\s]+)\)")


def index_page(text: str, files_at: str = "") -> str:
    """The text with its links into the project made absolute, or taken out where nobody says to what."""

    def moved(found: re.Match[str]) -> str:
        picture, words, path = found.groups()
        if files_at:
            return f"{picture}[{words}]({files_at.rstrip('/')}/{path})"
        return f"*({words})*" if picture else words

    return _LINK.sub(moved, text)


class IndexPage(MetadataHookInterface):
    """Called by the build; its name is found by its base."""

    def update(self, metadata: dict[str, Any]) -> None:
        text = (Path(self.root) / "README.md").read_text(encoding="utf-8")
        page = index_page(text, os.environ.get("README_FILES_AT", ""))
        metadata["readme"] = {"content-type": "text/markdown", "text": page}
