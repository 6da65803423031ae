"""What changed between results, whether a radio holds one, and how directories grow."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pruner.library.lazy import lazily

if TYPE_CHECKING:
    from pruner.ask.export_check import EXTRA, KINDS, MISSING, Checked, check_export
    from pruner.ask.history import (
        SinceWritten,
        contacts_at,
        last_fit,
        limits_to_forecast,
        mark_written,
        present_contacts,
        recorded_runs,
        since_written,
    )
    from pruner.history.compare import ADDED, CHANGED, REMOVED, WHAT, Difference, Group, compare, write_changes
    from pruner.history.contacts import ResultContacts
    from pruner.history.forecast import LATER, OUTGROWN, UNKNOWN, Forecast, Outlook, forecast
    from pruner.history.record import no_runs
    from pruner.history.series import by_hand, date_of, recorded, without_future

__all__ = [
    "ADDED",
    "CHANGED",
    "EXTRA",
    "KINDS",
    "LATER",
    "MISSING",
    "OUTGROWN",
    "REMOVED",
    "UNKNOWN",
    "WHAT",
    "Checked",
    "Difference",
    "Forecast",
    "Group",
    "Outlook",
    "ResultContacts",
    "SinceWritten",
    "by_hand",
    "check_export",
    "compare",
    "contacts_at",
    "date_of",
    "forecast",
    "last_fit",
    "limits_to_forecast",
    "mark_written",
    "no_runs",
    "present_contacts",
    "recorded",
    "recorded_runs",
    "since_written",
    "without_future",
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
        "pruner.ask.history": (
            "SinceWritten",
            "contacts_at",
            "last_fit",
            "limits_to_forecast",
            "mark_written",
            "present_contacts",
            "recorded_runs",
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
        "pruner.history.record": ("no_runs",),
        "pruner.history.series": (
            "by_hand",
            "date_of",
            "recorded",
            "without_future",
        ),
    },
)
