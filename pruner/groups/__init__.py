"""The job of talkgroups: lists in, one fitted list and its account per radio out."""

from pruner.groups.job import TalkgroupJob, job_of_settings, short_job, wants_talkgroups
from pruner.groups.run import TalkgroupResult, run_talkgroups, run_talkgroups_into

__all__ = [
    "TalkgroupJob",
    "TalkgroupResult",
    "job_of_settings",
    "run_talkgroups",
    "run_talkgroups_into",
    "short_job",
    "wants_talkgroups",
]
