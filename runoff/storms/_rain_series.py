"""A rain record as the frequency and event routines need it: one dimension, mm per step, a regular step."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from runoff.errors import WeatherError
from runoff.storms._durations import words_of
from runoff.time_steps import time_step
from runoff.units import require_units

if TYPE_CHECKING:
    import xarray as xr


class RainSeries(NamedTuple):
    """Depth per step (NaN = missing), the times of the steps, the step in minutes and the record's name."""

    depth_mm: np.ndarray
    times: np.ndarray
    step_min: float
    source: str

    @property
    def missing(self) -> np.ndarray:
        """True where the record has no value."""
        return np.isnan(self.depth_mm)


def rain_series(rain: xr.DataArray | xr.Dataset, where: str) -> RainSeries:
    """Return the rain of a weather Dataset, or a rain array, as plain values on a regular step.

    Raises
    ------
    WeatherError
        When it has other dimensions than time, an irregular step, negative values, or too few steps.
    RunoffError
        When it has no units, or units that are not a depth.
    """
    if not hasattr(rain, "dims"):
        raise WeatherError(
            f"{where}: needs a weather Dataset or a rain DataArray with units (given {type(rain).__name__})"
        )
    array: Any = rain["rain"] if hasattr(rain, "data_vars") else rain
    if array.dims != ("time",):
        raise WeatherError(
            f"{where}: the rain has dimensions {', '.join(map(str, array.dims))}; pass one record, on time alone "
            "(select the site, cell or member first)"
        )
    if array.sizes["time"] < 2:
        raise WeatherError(
            f"{where}: the record has {array.sizes['time']} step(s); it is too short to have a time step"
        )
    array = require_units(array, "mm", where)
    times = array["time"].values
    step = time_step(times)
    if step.first_odd is not None:
        other = time_step(times[step.first_odd : step.first_odd + 2])
        raise WeatherError(
            f"{where}: the time axis is not regular; the step is {words_of(step.minutes)}, but "
            f"{words_of(other.minutes)} after {times[step.first_odd]}; put missing steps in as NaN"
        )
    depth = np.asarray(array.values, dtype=float)
    if (depth < 0.0).any():
        first = times[int(np.argmax(depth < 0.0))]
        raise WeatherError(
            f"{where}: {int((depth < 0.0).sum())} negative value(s), the first at {first}; rain cannot be negative"
        )
    source = array.attrs.get("source") or getattr(rain, "attrs", {}).get("source", "")
    return RainSeries(depth, times, step.minutes, str(source))
