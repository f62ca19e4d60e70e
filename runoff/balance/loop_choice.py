"""When compiled loops repay the time it takes to load them: counted over all runs of a process."""

from __future__ import annotations

import sys

#: Steps that plain Python has done when loading the compiled loops would have cost as much (about half a second).
_REPAID = 300_000
_done = 0


def compiled_repays(steps: int) -> bool:
    """Tell whether a loop of `steps` design-steps should run compiled, given what ran before it.

    Small runs add up: a person who moves a control, or a script that runs a roof a hundred times, should not stay with
    plain Python. The same source runs either way, so the results agree to the last bit.
    """
    global _done
    if "numba" in sys.modules:
        return True
    _done += steps
    return _done >= _REPAID


def expect_many_runs() -> None:
    """Say that many runs will follow: every loop runs compiled from now on."""
    global _done
    _done = _REPAID
