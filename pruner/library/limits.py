"""What radios would hold at other limits, until when, and what that names."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pruner.library.lazy import lazily

if TYPE_CHECKING:
    from pruner.account.limits import LimitGroup, LimitRow, LimitTable
    from pruner.account.limits_text import NEXT_SIZE, gain_words, lasts_words, of_dates, of_what, share_words, telling, title
    from pruner.ask.limits import limit_table

__all__ = [
    "NEXT_SIZE",
    "LimitGroup",
    "LimitRow",
    "LimitTable",
    "gain_words",
    "lasts_words",
    "limit_table",
    "of_dates",
    "of_what",
    "share_words",
    "telling",
    "title",
]

__getattr__ = lazily(
    __name__,
    {
        "pruner.account.limits": (
            "LimitGroup",
            "LimitRow",
            "LimitTable",
        ),
        "pruner.account.limits_text": (
            "NEXT_SIZE",
            "gain_words",
            "lasts_words",
            "of_dates",
            "of_what",
            "share_words",
            "telling",
            "title",
        ),
        "pruner.ask.limits": ("limit_table",),
    },
)
