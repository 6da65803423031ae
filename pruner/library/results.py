"""Results: the typed summary, the story of a contact, pages of finished runs, published versions."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pruner.library.lazy import lazily

if TYPE_CHECKING:
    from pruner.account.coverage import CoverageSummary, MissedStation
    from pruner.account.missed import OWNED, gone_sentence, kept_of_owned, missed_sentence, rule_to_paste, warnings
    from pruner.account.parts import Understood
    from pruner.account.summary import MemoryUse, PreviewRow, Summary
    from pruner.account.talkgroup_summary import TalkgroupSummary
    from pruner.account.to_come_text import BEST_POSSIBLE, calls_to_come, share_to_come
    from pruner.ask.report import comparison, published_on, runs_in, runs_of_settings, write_page
    from pruner.ask.story import Story
    from pruner.ask.why import Border, border, outcomes, result_folders, stories
    from pruner.publish.lock import locked
    from pruner.publish.versions import Version, damaged, give_mode_to_versions, rollback, versions

__all__ = [
    "BEST_POSSIBLE",
    "OWNED",
    "Border",
    "CoverageSummary",
    "MemoryUse",
    "MissedStation",
    "PreviewRow",
    "Story",
    "Summary",
    "TalkgroupSummary",
    "Understood",
    "Version",
    "border",
    "calls_to_come",
    "comparison",
    "damaged",
    "give_mode_to_versions",
    "gone_sentence",
    "kept_of_owned",
    "locked",
    "missed_sentence",
    "outcomes",
    "published_on",
    "result_folders",
    "rollback",
    "rule_to_paste",
    "runs_in",
    "runs_of_settings",
    "share_to_come",
    "stories",
    "versions",
    "warnings",
    "write_page",
]

__getattr__ = lazily(
    __name__,
    {
        "pruner.account.missed": (
            "OWNED",
            "kept_of_owned",
            "gone_sentence",
            "missed_sentence",
            "rule_to_paste",
            "warnings",
        ),
        "pruner.account.coverage": ("CoverageSummary", "MissedStation"),
        "pruner.account.parts": ("Understood",),
        "pruner.account.summary": ("MemoryUse", "PreviewRow", "Summary"),
        "pruner.account.talkgroup_summary": ("TalkgroupSummary",),
        "pruner.account.to_come_text": (
            "BEST_POSSIBLE",
            "calls_to_come",
            "share_to_come",
        ),
        "pruner.ask.report": (
            "comparison",
            "published_on",
            "runs_in",
            "runs_of_settings",
            "write_page",
        ),
        "pruner.ask.story": ("Story",),
        "pruner.ask.why": (
            "Border",
            "border",
            "outcomes",
            "result_folders",
            "stories",
        ),
        "pruner.publish.lock": ("locked",),
        "pruner.publish.versions": (
            "Version",
            "damaged",
            "give_mode_to_versions",
            "rollback",
            "versions",
        ),
    },
)
