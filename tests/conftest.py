"""What tests share: how much is drawn, folders in memory where the system has them, no proxy of the host, and a collector of
garbage that looks seldom at what stays."""

from __future__ import annotations

import gc
import os

import draws
import pytest
import quick_disk
from hypothesis import settings

tmp_path = quick_disk.tmp_path

# The many child processes of the tests read compiled modules, as on a user's machine, whatever the caller has set.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

settings.load_profile(draws.SOME)

# Thousands of tests, and the modules that they import, stay until the end: the collector need not walk over them.
gc.disable()


def pytest_collection_finish() -> None:
    """What is there by now goes with the process; what tests leave is looked at seldom."""
    gc.freeze()
    gc.set_threshold(100_000, 20, 100)
    gc.enable()


@pytest.fixture
def no_proxy(monkeypatch: pytest.MonkeyPatch) -> None:
    """For tests that fetch: what the environment says of proxies does not count."""
    for name in list(os.environ):
        if name.lower().endswith("_proxy"):
            monkeypatch.delenv(name)
