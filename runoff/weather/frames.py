"""Weather held in memory: pandas objects and xarray Datasets, checked and brought to house units."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import xarray as xr

from runoff.errors import WeatherError, raise_faults
from runoff.quantities import QUANTITIES, label
from runoff.units import require_units


def as_weather(weather: Any) -> xr.Dataset:
    """Return weather as a Dataset in house units, or say what is wrong with it.

    Parameters
    ----------
    weather
        xarray Dataset or DataArray (rain), or a pandas Series (rain, mm) or DataFrame (columns named as in
        `runoff.quantities`, house units) with a DatetimeIndex.

    Raises
    ------
    WeatherError
        Naming every fault: no rain, no time, a quantity without units, irregular steps, impossible values.
    """
    data = _dataset(weather)
    faults = []
    if "rain" not in data:
        faults.append(f"`rain` is missing; given are {', '.join(map(str, data.data_vars)) or 'no variables'}")
    if "time" not in data.dims:
        faults.append("there is no dimension `time`")
    raise_faults("weather", faults, WeatherError)
    converted = {}
    for name in data.data_vars:
        if name in QUANTITIES:
            try:
                converted[name] = require_units(data[name], QUANTITIES[str(name)].units, "weather")
            except ValueError as error:
                faults.append(str(error).removeprefix("weather: "))
    raise_faults("weather", faults, WeatherError)
    result = data.assign(converted)
    _refuse_irregular(result["time"])
    _refuse_impossible(result)
    return label(result)


def _dataset(weather: Any) -> xr.Dataset:
    if isinstance(weather, xr.Dataset):
        return weather
    if isinstance(weather, xr.DataArray):
        return weather.to_dataset(name="rain")
    if isinstance(weather, pd.Series):
        weather = weather.to_frame("rain")
    if isinstance(weather, pd.DataFrame):
        if not isinstance(weather.index, pd.DatetimeIndex):
            raise WeatherError("weather: a table needs a DatetimeIndex (start of each interval)")
        data = xr.Dataset(
            {str(name): ("time", weather[name].to_numpy()) for name in weather}, {"time": weather.index.to_numpy()}
        )
        return label(data)
    raise WeatherError(
        f"weather: an xarray Dataset, a DataArray of rain or a pandas object is needed (given {type(weather).__name__}); "
        "read a file with runoff.read_weather(path)"
    )


def _refuse_irregular(time: xr.DataArray) -> None:
    steps = np.diff(time.to_numpy())
    odd = np.flatnonzero(steps != steps[0]) if steps.size else np.array([], dtype=int)
    if odd.size:
        where = str(time.to_numpy()[odd[0]])[:16]
        raise WeatherError(
            f"weather: the steps of time are not all alike; the first odd one follows {where}. Bring the series to regular "
            "steps with missing values for the gaps"
        )


def _refuse_impossible(data: xr.Dataset) -> None:
    faults = []
    for name in ("rain", "reference_et"):
        if name in data and not data[name].chunks and bool((data[name] < 0).any()):
            first = data["time"].to_numpy()[
                np.flatnonzero((data[name] < 0).any([d for d in data[name].dims if d != "time"]))[0]
            ]
            faults.append(f"`{name}` is negative, first at {str(first)[:16]}; a missing value is written as NaN")
    raise_faults("weather", faults, WeatherError)
