"""Settings: files, options of the short form, and templates as frozen models."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pruner.library.lazy import lazily

if TYPE_CHECKING:
    from pruner.settings.load import load_call_settings, load_settings, read_text, settings_of
    from pruner.settings.models import Heard, Settings, Source
    from pruner.settings.short import short_settings
    from pruner.settings.short_form import ShortForm
    from pruner.settings.template import commented_settings, radio_table

__all__ = [
    "Heard",
    "Settings",
    "ShortForm",
    "Source",
    "commented_settings",
    "load_call_settings",
    "load_settings",
    "radio_table",
    "read_text",
    "settings_of",
    "short_settings",
]

__getattr__ = lazily(
    __name__,
    {
        "pruner.settings.load": (
            "load_call_settings",
            "load_settings",
            "read_text",
            "settings_of",
        ),
        "pruner.settings.models": (
            "Heard",
            "Settings",
            "Source",
        ),
        "pruner.settings.short": ("short_settings",),
        "pruner.settings.short_form": ("ShortForm",),
        "pruner.settings.template": (
            "commented_settings",
            "radio_table",
        ),
    },
)
