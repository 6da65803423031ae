"""The job of talkgroups: lists in, one fitted list and its account per radio out."""

from pruner.pipeline.talkgroups.job import TalkgroupJob, job_of_settings, short_job
from pruner.pipeline.talkgroups.run import TalkgroupResult, run_talkgroups

__all__ = ["TalkgroupJob", "TalkgroupResult", "job_of_settings", "run_talkgroups", "short_job"]
