"""Countries and places as people name them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pruner.library.lazy import lazily

if TYPE_CHECKING:
    from pruner.reference import countries, geometry
    from pruner.reference.countries import name_of_code
    from pruner.reference.places import country_of_locator

__all__ = [
    "countries",
    "country_of_locator",
    "geometry",
    "name_of_code",
]

__getattr__ = lazily(
    __name__,
    {
        "pruner.reference": (
            "countries",
            "geometry",
        ),
        "pruner.reference.countries": ("name_of_code",),
        "pruner.reference.places": ("country_of_locator",),
    },
)
