"""Loading no more than is used: names of a package with their first use, a library without others that it only looks for or names."""

from __future__ import annotations

import contextlib
import importlib
import importlib.util
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from importlib.machinery import ModuleSpec, PathFinder
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


class Late:
    """Finder of modules that run when something is first taken from them, not when they are imported (`importlib.util.LazyLoader`).

    It is for what libraries import at their beginning and use, if at all, much later. The module is there, and whole once it is asked.

    Parameters
    ----------
    *names
        The modules, in full.
    """

    def __init__(self, *names: str) -> None:
        self.names = frozenset(names)

    def find_spec(self, name: str, path: Sequence[str] | None = None, target: object = None) -> ModuleSpec | None:
        """Find one of the modules.

        Parameters
        ----------
        name, path, target
            As Python asks its finders.

        Returns
        -------
        importlib.machinery.ModuleSpec or None
            How it is loaded late; None for every other module, and for one that is not installed.
        """
        spec = PathFinder.find_spec(name, path) if name in self.names else None
        if spec is not None and spec.loader is not None:
            spec.loader = importlib.util.LazyLoader(spec.loader)
        return spec
