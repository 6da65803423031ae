"""What all tests share: patience on busy machines, and folders in memory where the system has them."""

from __future__ import annotations

import os

import quick_disk
from hypothesis import HealthCheck, settings

tmp_path = quick_disk.tmp_path

# The many child processes of the tests read compiled modules, as on a user's machine, whatever the caller has set.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

settings.register_profile("pruner", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("pruner")
