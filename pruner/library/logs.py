"""Heard logs: fold, learn, fetch, forget and show."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pruner.library.lazy import lazily

if TYPE_CHECKING:
    from pruner.ask.callers import Caller, heard_in, heard_of
    from pruner.calls.marks import MARK_WORDS, Account, Mark
    from pruner.calls.show import Line, Overview, callers, overview
    from pruner.logs.cluster import ClusterLogs, ClusterResult, fold_on_cluster
    from pruner.logs.fetch import FetchResult, fetch_and_fold
    from pruner.logs.files import FoldResult, LogFiles
    from pruner.logs.fold import fold_all, fold_logs
    from pruner.logs.forget import forget_days
    from pruner.logs.learn import learn_log, learned_from, snippet, undecided_dates, write_pattern, written_pattern
    from pruner.logs.named import named_logs
    from pruner.read.date_texts import ORDERS
    from pruner.read.line_pattern import Learned

__all__ = [
    "MARK_WORDS",
    "ORDERS",
    "Account",
    "Caller",
    "ClusterLogs",
    "ClusterResult",
    "FetchResult",
    "FoldResult",
    "Learned",
    "Line",
    "LogFiles",
    "Mark",
    "Overview",
    "callers",
    "fetch_and_fold",
    "fold_all",
    "fold_logs",
    "fold_on_cluster",
    "forget_days",
    "heard_in",
    "heard_of",
    "learn_log",
    "learned_from",
    "named_logs",
    "overview",
    "snippet",
    "undecided_dates",
    "write_pattern",
    "written_pattern",
]

__getattr__ = lazily(
    __name__,
    {
        "pruner.ask.callers": (
            "Caller",
            "heard_in",
            "heard_of",
        ),
        "pruner.calls.marks": (
            "Account",
            "MARK_WORDS",
            "Mark",
        ),
        "pruner.calls.show": (
            "Line",
            "Overview",
            "callers",
            "overview",
        ),
        "pruner.logs.cluster": (
            "ClusterLogs",
            "ClusterResult",
            "fold_on_cluster",
        ),
        "pruner.logs.fetch": (
            "FetchResult",
            "fetch_and_fold",
        ),
        "pruner.logs.files": (
            "FoldResult",
            "LogFiles",
        ),
        "pruner.logs.fold": (
            "fold_all",
            "fold_logs",
        ),
        "pruner.logs.forget": ("forget_days",),
        "pruner.logs.learn": (
            "learn_log",
            "learned_from",
            "snippet",
            "undecided_dates",
            "write_pattern",
            "written_pattern",
        ),
        "pruner.logs.named": ("named_logs",),
        "pruner.read.date_texts": ("ORDERS",),
        "pruner.read.line_pattern": ("Learned",),
    },
)
