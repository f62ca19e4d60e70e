"""The least and the largest of many values, as every part of a store is asked for them: in one pass where loops are compiled."""

from __future__ import annotations

import sys
import threading
import weakref
from typing import Any

import numpy as np

from runoff.balance.loop_choice import as_read, compiled

#: Values side by side in the compiled pass.
_LANES = 256
_looked = threading.local()
_NOTHING: Any = (None, (), (np.inf, -np.inf))


def least_and_largest(values: np.ndarray, *, more_checks: bool = False) -> tuple[float, float]:
    """Return the least and the largest value, missing ones left out; infinity and minus infinity where there is none.

    Parameters
    ----------
    values
        Floats of any shape, in any unit.
    more_checks
        Whether other checks of the same part follow on this thread, before anybody could write into it: what was found is
        kept for the next of them.

    Returns
    -------
    float
        The least, in the unit of the values.
    float
        The largest, likewise.
    """
    flat = values.ravel(order="K")
    # the same memory is the same numbers, in whatever order its dimensions are told; a copy has memory of its own
    owner, place = _owner(flat), (flat.__array_interface__["data"][0], flat.nbytes, flat.dtype)
    last, where, found = getattr(_looked, "last", _NOTHING)
    if last is None or last() is not owner or where != place:
        found = _looked_at(flat)
    _looked.last = (weakref.ref(owner), place, found) if more_checks else _NOTHING
    return found


def _looked_at(flat: np.ndarray) -> tuple[float, float]:
    if (
        "numba" in sys.modules
        and flat.dtype in (np.float32, np.float64)
        and flat.size >= _LANES
        and flat.dtype.isnative
    ):
        seen = np.empty(2 * _LANES, dtype=flat.dtype)
        compiled(_look)(as_read(flat), seen)
        low, high = seen[:_LANES], seen[_LANES:]
    else:
        low = high = flat
    return float(np.fmin.reduce(low, initial=np.inf)), float(np.fmax.reduce(high, initial=-np.inf))


def _owner(values: np.ndarray) -> np.ndarray:
    """Return the array that holds the memory of another one."""
    while isinstance(values.base, np.ndarray):
        values = values.base
    return values


def _look(values: np.ndarray, seen: np.ndarray) -> None:
    """Write the least and the largest values of all lanes."""
    seen[:_LANES] = np.inf
    seen[_LANES:] = -np.inf
    for begin in range(0, len(values), _LANES):
        at = min(begin, len(values) - _LANES)  # the last lanes are looked at twice where they do not fill a part
        part = values[at : at + _LANES]
        for j in range(_LANES):
            seen[j] = part[j] if part[j] < seen[j] else seen[j]
            seen[_LANES + j] = part[j] if part[j] > seen[_LANES + j] else seen[_LANES + j]
