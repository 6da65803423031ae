"""What changed between results, whether a radio holds one, and how directories grow."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pruner.library.lazy import lazily

if TYPE_CHECKING:
    from pruner.ask.export_check import EXTRA, KINDS, MISSING, Checked, check_export
    from pruner.ask.export_texts import BLANKS, CAPITALS, SPELLING
    from pruner.ask.history import (
        DIRECTORY,
        Recorded,
        SinceWritten,
        contacts_at,
        limits_to_forecast,
        mark_written,
        present_contacts,
        recorded_growth,
        since_written,
    )
    from pruner.history.compare import ADDED, CHANGED, REMOVED, WHAT, Difference, Group, compare, write_changes
    from pruner.history.contacts import ResultContacts
    from pruner.history.forecast import LATER, OUTGROWN, UNKNOWN, Forecast, Outlook, forecast

__all__ = [
    "ADDED",
    "BLANKS",
    "CAPITALS",
    "CHANGED",
    "DIRECTORY",
    "EXTRA",
    "KINDS",
    "LATER",
    "MISSING",
    "OUTGROWN",
    "REMOVED",
    "SPELLING",
    "UNKNOWN",
    "WHAT",
    "Checked",
    "Difference",
    "Forecast",
    "Group",
    "Outlook",
    "Recorded",
    "ResultContacts",
    "SinceWritten",
    "check_export",
    "compare",
    "contacts_at",
    "forecast",
    "limits_to_forecast",
    "mark_written",
    "present_contacts",
    "recorded_growth",
    "since_written",
    "write_changes",
]

__getattr__ = lazily(
    __name__,
    {
        "pruner.ask.export_check": (
            "Checked",
            "EXTRA",
            "KINDS",
            "MISSING",
            "check_export",
        ),
        "pruner.ask.export_texts": (
            "BLANKS",
            "CAPITALS",
            "SPELLING",
        ),
        "pruner.ask.history": (
            "DIRECTORY",
            "SinceWritten",
            "contacts_at",
            "limits_to_forecast",
            "mark_written",
            "Recorded",
            "present_contacts",
            "recorded_growth",
            "since_written",
        ),
        "pruner.history.compare": (
            "ADDED",
            "CHANGED",
            "Difference",
            "Group",
            "REMOVED",
            "WHAT",
            "compare",
            "write_changes",
        ),
        "pruner.history.contacts": ("ResultContacts",),
        "pruner.history.forecast": (
            "Forecast",
            "LATER",
            "OUTGROWN",
            "Outlook",
            "UNKNOWN",
            "forecast",
        ),
    },
)
