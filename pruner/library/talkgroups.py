"""The job of talkgroups."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pruner.library.lazy import lazily

if TYPE_CHECKING:
    from pruner.groups import job_of_settings, run_talkgroups, short_job

__all__ = [
    "job_of_settings",
    "run_talkgroups",
    "short_job",
]

__getattr__ = lazily(
    __name__,
    {
        "pruner.groups": (
            "job_of_settings",
            "run_talkgroups",
            "short_job",
        ),
    },
)
