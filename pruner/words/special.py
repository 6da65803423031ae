"""Special functions of scipy, as arrays want them, without the rest of `scipy.special`.

To import the whole package takes a twentieth of the time of a fit. They are compiled into one module of it, which is
loaded alone where scipy still has it; else the whole package is.
"""

from __future__ import annotations

import importlib.machinery
import importlib.util
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

_COMPILED: Final = "scipy.special._special_ufuncs"
#: Names in both modules.
_NAMES: Final = ("betaln", "expit", "gammaln", "hyp2f1", "logit", "psi")
#: Quantiles of Student's t, by degrees of freedom and share: those that forecasts and lower bounds ask for.
_QUANTILES: Final = {(30.0, 0.975): 2.0422724563012378, (30.0, 0.995): 2.7499956535672254}


def compiled() -> dict[str, Callable[..., Any]]:
    """The functions from their compiled module alone. Raises ImportError or AttributeError where it lacks them."""
    import scipy

    spec = importlib.machinery.PathFinder.find_spec(_COMPILED, [str(Path(folder) / "special") for folder in scipy.__path__])
    if spec is None or spec.loader is None:
        raise ImportError(_COMPILED)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return {name: getattr(module, name) for name in _NAMES}


def functions() -> dict[str, Callable[..., Any]]:
    """The functions by name, wherever they are found."""
    try:
        return compiled()
    except (ImportError, AttributeError):
        from scipy import special

        return {name: getattr(special, name) for name in _NAMES}


_FUNCTIONS: Final = functions()
betaln, expit, gammaln = (_FUNCTIONS[name] for name in ("betaln", "expit", "gammaln"))
hyp2f1, logit, digamma = (_FUNCTIONS[name] for name in ("hyp2f1", "logit", "psi"))


def stdtrit(degrees: float, share: float) -> float:
    """The quantile at `share` of Student's t with so many degrees of freedom."""
    known = _QUANTILES.get((degrees, share))
    if known is not None:
        return known
    from scipy import special

    return float(special.stdtrit(degrees, share))
