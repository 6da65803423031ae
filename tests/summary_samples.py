"""Summaries that differ from a given one."""

from __future__ import annotations

from typing import Any

from pruner.account.summary import Summary


def altered(summary: Summary, **keys: Any) -> Summary:
    """The summary whose JSON has other values under these keys of its first level."""
    return Summary.model_validate({**summary.document(), **keys})
