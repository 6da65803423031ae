"""Layouts: read, check, learn and preview."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pruner.library.lazy import lazily

if TYPE_CHECKING:
    from pruner.convert.learn import learn_layout
    from pruner.job.preview import preview_settings, previews
    from pruner.layout.learn import Doubt
    from pruner.layout.model import CONTACT_FIELDS, Layout, layout_of, load_layout, plain_document
    from pruner.layout.template import RUNNING

__all__ = [
    "CONTACT_FIELDS",
    "RUNNING",
    "Doubt",
    "Layout",
    "layout_of",
    "learn_layout",
    "load_layout",
    "plain_document",
    "preview_settings",
    "previews",
]

__getattr__ = lazily(
    __name__,
    {
        "pruner.convert.learn": ("learn_layout",),
        "pruner.job.preview": (
            "preview_settings",
            "previews",
        ),
        "pruner.layout.learn": ("Doubt",),
        "pruner.layout.model": (
            "CONTACT_FIELDS",
            "Layout",
            "layout_of",
            "load_layout",
            "plain_document",
        ),
        "pruner.layout.template": ("RUNNING",),
    },
)
