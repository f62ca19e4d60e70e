"""Loading no more than is used: names of a package with their first use, a library without others that it only looks for."""

from __future__ import annotations

import contextlib
import importlib
import sys
from collections.abc import Callable, Iterator, Mapping
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
        Module of the package -> the names it holds; a module without names is itself one of the package's.
    """
    home_of = {name: f"{package}.{module}" for module, names in homes.items() for name in names}

    themselves = {module for module, names in homes.items() if not names}

    def found(name: str) -> Any:
        if name in themselves:
            return importlib.import_module(f"{package}.{name}")
        if name not in home_of:
            raise AttributeError(f"module '{package}' has no attribute '{name}'")
        value = getattr(importlib.import_module(home_of[name]), name)
        setattr(sys.modules[package], name, value)
        return value

    def names() -> list[str]:
        return sorted({*vars(sys.modules[package]), *home_of, *themselves})

    return found, names


@contextlib.contextmanager
def as_if_not_installed(*names: str) -> Iterator[None]:
    """Let a library load without modules that it does without where they are not installed.

    Parameters
    ----------
    *names
        The modules; one that is loaded already stays.
    """
    left_out = [name for name in names if name not in sys.modules]
    sys.modules.update(dict.fromkeys(left_out))  # type: ignore[arg-type]  # Python takes None for "not installed"
    try:
        yield
    finally:
        for name in left_out:
            del sys.modules[name]
