"""Contact-database pruner and fitter for digital-voice radio.

    import pruner

    fit = pruner.fit(
        "stations.csv",
        rules=[pruner.Keep(countries=["home"]), pruner.Keep(neighbours_of=["home"]), pruner.Keep()],
        radio=pruner.Radio(contacts=200_000),
        home=pruner.Home("AT"),
    )
    fit.kept, fit.ledger, fit.rejected  # polars frames
    fit.write("out")

The library prints nothing and leaves the process of its host alone. Its parts are loaded when they are asked for.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pruner.library.fitting import Fit, Stations, fit, stations
    from pruner.library.rules import Drop, Home, Keep, Radio
    from pruner.settings.models import Calls, Settings, Source, Talkgroups
    from pruner.words.errors import PrunerError

__version__ = "0.1.0"

__all__ = [
    "Calls",
    "Drop",
    "Fit",
    "Home",
    "Keep",
    "PrunerError",
    "Radio",
    "Settings",
    "Source",
    "Stations",
    "Talkgroups",
    "__version__",
    "fit",
    "stations",
]

_HOME = {
    **dict.fromkeys(("Fit", "Stations", "fit", "stations"), "pruner.library.fitting"),
    **dict.fromkeys(("Drop", "Home", "Keep", "Radio"), "pruner.library.rules"),
    **dict.fromkeys(("Calls", "Settings", "Source", "Talkgroups"), "pruner.settings.models"),
    "PrunerError": "pruner.words.errors",
}


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module 'pruner' has no attribute {name!r}")
    value = getattr(importlib.import_module(_HOME[name]), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
