"""What all tests share: how much is drawn, and folders in memory where the system has them."""

from __future__ import annotations

import os

import draws
import quick_disk
from hypothesis import settings

tmp_path = quick_disk.tmp_path

# The many child processes of the tests read compiled modules, as on a user's machine, whatever the caller has set.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

settings.load_profile(draws.SOME)
