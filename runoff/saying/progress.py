"""Telling a person at a terminal that work goes on: only two seconds after it began, on stderr, gone when the work is done.

Where stderr is no terminal (a file, a notebook, a test) nothing is shown.
"""

from __future__ import annotations

import contextlib
import sys
import threading
import time
from collections.abc import Iterable, Iterator
from typing import TypeVar

#: Nobody needs to be told about work that takes less than this, s.
PATIENCE_S = 2.0
_BEAT_S = 0.5
#: Within a command that has gone on for longer, each piece of work says so after this time, s.
_SHORT_S = 0.3

_One = TypeVar("_One")
_begun: float | None = None


def command_begins() -> None:
    """Count patience from now on for all pieces of work together: a person waits for the command, not for its parts."""
    global _begun
    _begun = time.monotonic()


def _patience_s() -> float:
    """Return for how long a piece of work that starts now goes on unsaid, s."""
    if _begun is None:
        return PATIENCE_S
    return min(PATIENCE_S, max(_SHORT_S, _begun + PATIENCE_S - time.monotonic()))


def steps(work: Iterable[_One], words: str, *, total: int | None = None) -> Iterable[_One]:
    """Return the parts of a piece of work one by one, with a bar that says how far it has come.

    Parameters
    ----------
    work
        The parts.
    words
        What is done, for example ``trying outlets``.
    total
        How many parts, where `work` does not say.

    Returns
    -------
    iterable
        The parts, unchanged and in order; `work` itself where nobody reads stderr.
    """
    if not at_a_terminal():
        return work
    from tqdm import tqdm

    bar: Iterable[_One] = tqdm(
        work, desc=words, total=total, delay=_patience_s(), leave=False, file=sys.stderr, unit=""
    )
    return bar


@contextlib.contextmanager
def waiting(words: str) -> Iterator[None]:
    """Show for how long a piece of work that has no parts goes on.

    Parameters
    ----------
    words
        What is done, for example ``reading station.dly``.
    """
    if not at_a_terminal():
        yield
        return
    done = threading.Event()
    beat = threading.Thread(target=_beat, args=(words, done), daemon=True)
    beat.start()
    try:
        yield
    finally:
        done.set()
        beat.join()


def at_a_terminal() -> bool:
    """Tell whether a person reads stderr as it is written."""
    return bool(sys.stderr) and sys.stderr.isatty()


def _beat(words: str, done: threading.Event) -> None:
    patience = _patience_s()
    if done.wait(patience):
        return
    from tqdm import tqdm

    with tqdm(desc=words, bar_format="{desc}: {elapsed}", leave=False, file=sys.stderr, initial=0) as clock:
        clock.start_t -= patience
        while not done.wait(_BEAT_S):
            clock.refresh()
