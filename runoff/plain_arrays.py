"""Whether labelled numbers are in memory: then plain arrays are worked on at once."""

from __future__ import annotations

import numpy as np
import xarray as xr


def in_memory(values: xr.Variable) -> bool:
    """Tell whether a variable is a plain array, and no graph of work on parts of one.

    xarray's ``chunks`` tells the same; it takes as long as ten sums over a year of days.
    """
    return isinstance(values.data, np.ndarray)
