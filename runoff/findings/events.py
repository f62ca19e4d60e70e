"""Rain events of a daily record: when they begin, and which of them a roof held."""

from __future__ import annotations

from typing import Any, TypeVar

import numpy as np
import xarray as xr

from runoff.balance.column import ROUNDING_MM
from runoff.time_steps import Calendar

#: A day with at least this much rain is a wet day, and a run of wet days is a rain event (the usual climatological
#: limit, 1 mm). A daily record cannot separate events by hours.
WET_DAY_MM = 1.0

#: In a run in minutes the medium drips for days; an event whose whole overflow is below this counts as held, mm.
TAIL_MM = 0.1

#: In a daily run an event counts as held when its overflow is rounding, mm.
HELD_MM = ROUNDING_MM

_Series = TypeVar("_Series", xr.DataArray, xr.Variable)


def event_starts(rain: _Series, wet_day_mm: float = WET_DAY_MM) -> _Series:
    """Mark the first day of each run of wet days."""
    wet: Any = rain >= wet_day_mm
    begins: _Series = wet & ~wet.shift(time=1, fill_value=False)
    return begins


def count_events(
    begins: xr.Variable, overflow: xr.Variable, calendar: Calendar, held_below: float = HELD_MM
) -> tuple[xr.Variable, xr.Variable]:
    """Count events, and those without overflow, in the year in which they end.

    An event lasts from its first wet day to the day before the next event, so overflow that comes late (melting
    snow, slow drainage) still counts against it; the last event ends with the record.
    """
    years = calendar.years
    ends_in = np.searchsorted(calendar.starts, np.arange(begins.sizes["time"]), side="right") - 1

    def count(begins: np.ndarray, overflow: np.ndarray) -> np.ndarray:
        lead = np.broadcast_shapes(begins.shape[:-1], overflow.shape[:-1])
        begins = np.broadcast_to(begins, (*lead, begins.shape[-1]))
        overflow = np.broadcast_to(overflow, begins.shape)
        out = np.zeros((*lead, 2, years.size))
        for cell in np.ndindex(lead):
            first = np.flatnonzero(begins[cell])
            if first.size:
                held = np.add.reduceat(overflow[cell], first) <= held_below
                ends = ends_in[np.append(first[1:], begins.shape[-1] - 1)]
                np.add.at(out[(*cell, 0)], ends, 1.0)
                np.add.at(out[(*cell, 1)], ends, held)
        return out

    counts = xr.apply_ufunc(
        count,
        begins,
        overflow,
        input_core_dims=[["time"], ["time"]],
        output_core_dims=[["kind", "year"]],
        dask="parallelized",
        output_dtypes=[float],
        dask_gufunc_kwargs={"output_sizes": {"kind": 2, "year": years.size}},
    )
    return counts.isel(kind=0), counts.isel(kind=1)
