"""What tests share: how much is drawn, folders in memory where the system has them, no proxy of the host."""

from __future__ import annotations

import os

import draws
import pytest
import quick_disk
from hypothesis import settings

tmp_path = quick_disk.tmp_path

# The many child processes of the tests read compiled modules, as on a user's machine, whatever the caller has set.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

settings.load_profile(draws.SOME)


@pytest.fixture
def no_proxy(monkeypatch: pytest.MonkeyPatch) -> None:
    """For tests that fetch: what the environment says of proxies does not count."""
    for name in list(os.environ):
        if name.lower().endswith("_proxy"):
            monkeypatch.delenv(name)
