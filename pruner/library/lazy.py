"""Names that are loaded when they are asked for."""

from __future__ import annotations

import importlib
from collections.abc import Callable, Mapping, Sequence
from typing import Any


def lazily(module: str, homes: Mapping[str, Sequence[str]]) -> Callable[[str], Any]:
    """The `__getattr__` of a module that offers names of other modules. `homes`: module -> names.

    Nothing is remembered: who exchanges a function in its home, as tests do, exchanges it here.
    """
    home_of = {name: home for home, names in homes.items() for name in names}

    def get(name: str) -> Any:
        if name not in home_of:
            raise AttributeError(f"module {module!r} has no attribute {name!r}")
        home = importlib.import_module(home_of[name])
        return getattr(home, name) if hasattr(home, name) else importlib.import_module(f"{home_of[name]}.{name}")

    return get
