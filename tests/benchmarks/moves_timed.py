"""Where the time of a moved control goes: wall and processor time, and what named functions take of it."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from typing import Any


def seconds() -> tuple[float, float]:
    """Return wall and processor time, s."""
    used = os.times()
    return time.perf_counter(), used.user + used.system


class Clock:
    """Adds up the time spent in named functions, without changing what they do."""

    def __init__(self) -> None:
        self.spent: dict[str, float] = {}

    def watch(self, name: str, owner: Any, attribute: str) -> None:
        inner: Callable[..., Any] = getattr(owner, attribute)

        def timed(*args: Any, **kwargs: Any) -> Any:
            start = time.perf_counter()
            try:
                return inner(*args, **kwargs)
            finally:
                self.spent[name] = self.spent.get(name, 0.0) + time.perf_counter() - start

        setattr(owner, attribute, timed)
