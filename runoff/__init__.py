"""Storm runoff and drainage of planted (sedum) roofs: a daily and minute water balance in Python.

Rain and weather go in, a described build-up is run through its stores (canopy and mulch, growing medium,
drainage cups, protection mat, drainage board), and out come retention, overflow, peaks at the outlet, days of
waterlogging that put roots at risk, dry spells and loads. Names are loaded on first use, so ``import runoff``
stays light.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"

# public name -> module that holds it
_HOMES: dict[str, str] = {
    "convert": "runoff.units",
    "RunoffError": "runoff.errors",
    "RoofError": "runoff.errors",
    "WeatherError": "runoff.errors",
    "StormError": "runoff.errors",
    "SizingError": "runoff.errors",
    "BalanceError": "runoff.errors",
    "RunoffWarning": "runoff.errors",
}

__all__ = ["__version__", *_HOMES]  # noqa: PLE0604

if TYPE_CHECKING:
    from runoff.units import convert as convert


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        value = getattr(importlib.import_module(_HOMES[name]), name)
        globals()[name] = value
        return value
    raise AttributeError(f"module 'runoff' has no attribute '{name}'")


def __dir__() -> list[str]:
    return sorted({*globals(), *_HOMES})
