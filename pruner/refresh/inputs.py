"""Everything that a result depends on, as one fingerprint: equal fingerprints mean equal results.

Receives settings and the digests of the sources' files, hands on a SHA-256. Files are taken by content, so moving the
folder changes nothing.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

import pruner
from pruner.calls.store import load_manifest
from pruner.settings.models import Settings

#: Settings that no byte of a result depends on.
_WITHOUT_EFFECT: Final = {"output", "refresh"}


def fingerprint_of(settings: Settings, digests: Mapping[str, str]) -> str:
    """SHA-256 over the settings, the files they name, the sources' files, the heard store, the tables and the program."""
    tables = Path(pruner.__file__).parent / "reference" / "data"
    whole = {
        "version": pruner.__version__,
        "tables": {path.name: _content(path) for path in sorted(tables.iterdir()) if path.is_file()},
        "settings": _plain(settings.model_dump(exclude=_WITHOUT_EFFECT)),
        "sources": [digests[source.name] for source in settings.sources],
        "heard": _calls(settings),
    }
    return hashlib.sha256(json.dumps(whole, sort_keys=True).encode()).hexdigest()


def _calls(settings: Settings) -> dict[str, list[str]]:
    """The parts of the heard stores, which are named after their contents."""
    stores = {heard.system: settings.output.state / "heard" / heard.system for heard in settings.heard}
    return {
        system: [part.file for part in load_manifest(folder, system).all_parts] for system, folder in sorted(stores.items())
    }


def _plain(value: Any) -> Any:
    """Settings with files in place of their paths; locations stand for what was read from them, and are left out."""
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items() if key not in ("location", "credentials")}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if isinstance(value, Path):
        return _content(value)
    return value if isinstance(value, str | int | float | bool) or value is None else str(value)


def _content(path: Path) -> str:
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return "no file"
