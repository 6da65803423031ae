"""Questions about settings: what they open, what would happen, what if, coverage, limits to try."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pruner.library.lazy import lazily

if TYPE_CHECKING:
    from pruner.ask.coverage import SystemProof, prove_orders
    from pruner.ask.explore import explore
    from pruner.ask.find import Found, Person, find
    from pruner.ask.first_look import FirstLook, first_look
    from pruner.ask.known import number_of, sentences
    from pruner.ask.looks import HEARD, Look, look_at, looks
    from pruner.ask.missed import missed_in
    from pruner.ask.short_form import file_of, finished_settings, remember
    from pruner.ask.trial import Trial, trial
    from pruner.ask.what_if import LimitTried, plain, what_if, write_what_if
    from pruner.calls.proof import BEST, CONFIDENCE, Estimate, Proof

__all__ = [
    "BEST",
    "CONFIDENCE",
    "HEARD",
    "Estimate",
    "FirstLook",
    "Found",
    "LimitTried",
    "Look",
    "Person",
    "Proof",
    "SystemProof",
    "Trial",
    "explore",
    "file_of",
    "find",
    "finished_settings",
    "first_look",
    "look_at",
    "looks",
    "missed_in",
    "number_of",
    "plain",
    "prove_orders",
    "remember",
    "sentences",
    "trial",
    "what_if",
    "write_what_if",
]

__getattr__ = lazily(
    __name__,
    {
        "pruner.ask.coverage": (
            "SystemProof",
            "prove_orders",
        ),
        "pruner.ask.explore": ("explore",),
        "pruner.ask.find": (
            "Found",
            "Person",
            "find",
        ),
        "pruner.ask.first_look": (
            "FirstLook",
            "first_look",
        ),
        "pruner.ask.known": (
            "number_of",
            "sentences",
        ),
        "pruner.ask.looks": (
            "HEARD",
            "Look",
            "look_at",
            "looks",
        ),
        "pruner.ask.missed": ("missed_in",),
        "pruner.ask.short_form": (
            "file_of",
            "finished_settings",
            "remember",
        ),
        "pruner.ask.trial": (
            "Trial",
            "trial",
        ),
        "pruner.ask.what_if": (
            "LimitTried",
            "plain",
            "what_if",
            "write_what_if",
        ),
        "pruner.calls.proof": (
            "BEST",
            "CONFIDENCE",
            "Estimate",
            "Proof",
        ),
    },
)
