"""Names of a package that are loaded with their first use, so that who needs one of them does not wait for all."""

from __future__ import annotations

import importlib
import sys
from collections.abc import Callable, Mapping
from typing import Any


def on_demand(
    package: str, homes: Mapping[str, tuple[str, ...]]
) -> tuple[Callable[[str], Any], Callable[[], list[str]]]:
    """Return ``__getattr__`` and ``__dir__`` of a package (PEP 562).

    Parameters
    ----------
    package
        Its name.
    homes
        Module of the package -> the names it holds.
    """
    home_of = {name: f"{package}.{module}" for module, names in homes.items() for name in names}

    def found(name: str) -> Any:
        if name not in home_of:
            raise AttributeError(f"module '{package}' has no attribute '{name}'")
        value = getattr(importlib.import_module(home_of[name]), name)
        setattr(sys.modules[package], name, value)
        return value

    def names() -> list[str]:
        return sorted({*vars(sys.modules[package]), *home_of})

    return found, names
