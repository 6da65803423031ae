"""What all tests share: patience on busy machines, and folders in memory where the system has them."""

from __future__ import annotations

import quick_disk
from hypothesis import HealthCheck, settings

tmp_path = quick_disk.tmp_path

settings.register_profile("pruner", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("pruner")
