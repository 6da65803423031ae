"""What all tests share: how much is drawn, and folders in memory where the system has them."""

from __future__ import annotations

import draws
import quick_disk
from hypothesis import settings

tmp_path = quick_disk.tmp_path

settings.load_profile(draws.SOME)
