"""The least and the largest of many values, as every part of a store is asked for them: in one pass where loops are compiled."""

from __future__ import annotations

import sys
import threading
import weakref

import numpy as np

from runoff.balance.loop_choice import as_read, compiled

#: Values side by side in the compiled pass.
_LANES = 256
_looked = threading.local()


def least_and_largest(values: np.ndarray) -> tuple[float, float]:
    """Return the least and the largest value, missing ones left out; infinity and minus infinity where there is none.

    One array is looked at once, by whatever checks follow one another on a thread.

    Parameters
    ----------
    values
        Of any shape; nobody writes into it any more.

    Returns
    -------
    float
        The least.
    float
        The largest.
    """
    last, found = getattr(_looked, "last", (None, (np.inf, -np.inf)))
    if last is not None and last() is values:
        return found
    flat = values.ravel(order="K")
    if "numba" in sys.modules and flat.dtype in (np.float32, np.float64) and flat.size >= _LANES and flat.dtype.isnative:
        seen = np.empty(2 * _LANES, dtype=flat.dtype)
        compiled(_look)(as_read(flat), seen)
        low, high = seen[:_LANES], seen[_LANES:]
    else:
        low = high = flat
    least, largest = np.fmin.reduce(low, initial=np.inf), np.fmax.reduce(high, initial=-np.inf)
    _looked.last = weakref.ref(values), (float(least), float(largest))
    return _looked.last[1]


def _look(values: np.ndarray, seen: np.ndarray) -> None:
    """Write the least and the largest values of all lanes."""
    seen[:_LANES] = np.inf
    seen[_LANES:] = -np.inf
    for begin in range(0, len(values) - _LANES + 1, _LANES):
        part = values[begin : begin + _LANES]
        for j in range(_LANES):
            seen[j] = part[j] if part[j] < seen[j] else seen[j]
            seen[_LANES + j] = part[j] if part[j] > seen[_LANES + j] else seen[_LANES + j]
    part = values[len(values) - _LANES :]
    for j in range(_LANES):
        seen[j] = part[j] if part[j] < seen[j] else seen[j]
        seen[_LANES + j] = part[j] if part[j] > seen[_LANES + j] else seen[_LANES + j]
