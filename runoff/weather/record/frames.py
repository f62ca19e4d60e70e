"""Weather held in memory: pandas objects and xarray Datasets, checked and brought to house units."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import xarray as xr

from runoff.errors import WeatherError, nearest, raise_faults
from runoff.plain_arrays import in_memory, with_variables
from runoff.quantities import QUANTITIES, label
from runoff.time_steps import time_step
from runoff.units import require_units
from runoff.weather.record.clocks import standard_time
from runoff.weather.record.house_units import quantity_in_name, to_house
from runoff.weather.record.lazy import refuse_when_read
from runoff.weather.record.time_axis import STEP_HOURS, counted, stamp_words, step_hours

# what an impossible value of a quantity usually is
_SUSPICIONS = {
    "rain": "a missing value is written as NaN, rain is a depth per step",
    "reference_et": "a missing value is written as NaN",
    "tmin": "Kelvin, Fahrenheit or tenths read as degC? A missing value is written as NaN",
    "tmax": "Kelvin, Fahrenheit or tenths read as degC? A missing value is written as NaN",
    "tmean": "Kelvin, Fahrenheit or tenths read as degC? A missing value is written as NaN",
    "humidity": 'percent? Then set its units to "%"; a fraction lies between 0 and 1',
    "humidity_min": 'percent? Then set its units to "%"; a fraction lies between 0 and 1',
    "humidity_max": 'percent? Then set its units to "%"; a fraction lies between 0 and 1',
}
_SLACK = {"humidity": 0.1, "humidity_min": 0.1, "humidity_max": 0.1}  # models and gauges pass 100 % a little

# dew: by Penman-Monteith a winter day may come to some tenths of a millimetre below 0, which the balance takes as 0
_BELOW = {"reference_et": 1.0}


def as_weather(weather: Any, *, needs_rain: bool = True) -> xr.Dataset:
    """Return weather as a Dataset in house units, or say what is wrong with it. What was given stays as it is.

    Parameters
    ----------
    weather
        xarray Dataset or DataArray (rain) with units; or a pandas Series (rain, mm) or DataFrame with a DatetimeIndex,
        columns named as in `runoff.quantities` (house units) or with their unit, ``rain_in``, ``tmin_f``. Stamps with a
        time zone are brought to local standard time.
    needs_rain
        False for a companion record, evapotranspiration alone for example.

    Raises
    ------
    WeatherError
        Naming every fault: no rain, no time, a quantity without units, irregular steps, impossible values.
    """
    data = _dataset(weather)
    faults = []
    if "rain" not in data and needs_rain:
        given = [str(name) for name in data.data_vars]
        hint = next((text for name in given if (text := nearest(name, ["rain"]))), "")
        faults.append(f"`rain` is missing; given are {', '.join(given) or 'no variables'}{hint}")
    if "time" not in data.dims:
        faults.append("there is no dimension `time`")
    raise_faults("weather", faults, WeatherError)
    converted = {}
    for name in data.data_vars:
        if name in QUANTITIES:
            try:
                converted[name] = _house(data.variables[name], str(name))
            except ValueError as error:
                faults.append(str(error).removeprefix("weather: "))
    faults += _faults_of_time(data)
    raise_faults("weather", faults, WeatherError)
    result = with_variables(data, converted)
    raise_faults("weather", _impossible(result, data), WeatherError)
    return label(_watched(result))


def _watched(data: xr.Dataset) -> xr.Dataset:
    """Return the record with its quantities on disk refusing impossible values when they are read."""
    on_disk = [name for name in map(str, data.data_vars) if name in QUANTITIES and not in_memory(data.variables[name])]
    if not on_disk:
        return data
    hours = step_hours(data["time"])
    watched = {
        name: refuse_when_read(data[name], *_limits(name, hours), _SUSPICIONS.get(name, "check its unit")).variable
        for name in on_disk
    }
    return data.assign(watched)


def _limits(name: str, hours: float) -> tuple[float, float]:
    """Return what a quantity can be at a step."""
    high = QUANTITIES[name].high + _SLACK.get(name, 0.0)
    if name == "solar_radiation" and hours < 24.0:
        high = float("inf")  # the table's limit is one of whole days
    return QUANTITIES[name].low - _BELOW.get(name, 0.0), high


def _house(series: xr.Variable, name: str) -> xr.Variable:
    """Return a copy of one variable, as numbers in house units."""
    if series.dtype.kind not in "fiu":
        raise WeatherError(f"`{name}` holds no numbers ({series.dtype}); missing values are NaN, not text")
    numbers = series.astype(float) if series.dtype.kind in "iu" else series.copy(deep=False)
    numbers.attrs = dict(series.attrs)
    if name == "wind_speed" and numbers.attrs.get("units") == "m/s":
        numbers.attrs["units"] = "m s-1"
    if QUANTITIES[name].units == "1" and numbers.attrs.get("units") == "":
        numbers.attrs["units"] = "1"
    if numbers.attrs.get("units") == QUANTITIES[name].units:
        return numbers
    return require_units(xr.DataArray(numbers, name=name), QUANTITIES[name].units, "weather").variable


def _dataset(weather: Any) -> xr.Dataset:
    if isinstance(weather, xr.Dataset):
        return weather
    if isinstance(weather, xr.DataArray):
        return weather.to_dataset(name="rain")
    if isinstance(weather, pd.Series):
        weather = weather.to_frame("rain")
    if isinstance(weather, pd.DataFrame):
        return _from_frame(weather)
    raise WeatherError(
        f"weather: an xarray Dataset, a DataArray of rain or a pandas object is needed (given {type(weather).__name__}); "
        "read a file with runoff.read_weather(path)"
    )


def _from_frame(frame: pd.DataFrame) -> xr.Dataset:
    if not isinstance(frame.index, pd.DatetimeIndex):
        raise WeatherError(
            "weather: a table needs a DatetimeIndex (start of each interval), for example frame.index = pd.to_datetime(frame.index)"
        )
    index, zone = standard_time(frame.index)
    data = xr.Dataset(coords={"time": index.to_numpy()})
    hours = step_hours(index)
    faults = []
    for column in frame:
        quantity, unit = quantity_in_name(str(column)) or (str(column), "")
        values = frame[column].to_numpy(copy=True)  # what is written on the weather stays off the table
        try:
            if quantity in QUANTITIES and unit:
                values = to_house(values, quantity, unit, hours)
        except (ValueError, TypeError) as error:
            faults.append(f"`{column}`: {error}")
        data[quantity] = ("time", values)
    raise_faults("weather", faults, WeatherError)
    if zone:
        data.attrs["time_zone"] = zone
    return label(data)


def _faults_of_time(data: xr.Dataset) -> list[str]:
    index = data.indexes.get("time")
    if index is None or index.dtype.kind not in "MO":
        return ["`time` holds no dates; use dates of pandas, numpy or cftime that mark the start of each interval"]
    kinds = _calendars_of(index)
    if len(kinds) > 1:
        return [
            f"time: dates of two calendars, {kinds[0]} and {kinds[1]}; bring all to one with weather.convert_calendar(...) first"
        ]
    if len(index) > 1 and not index.hasnans:
        step = time_step(index)
        if step.regular and step.length > pd.Timedelta(0):
            return []
    if index.has_duplicates:
        return [f"time: {stamp_words(index[index.duplicated()][0])} is given twice; keep one of each"]
    if not index.is_monotonic_increasing:
        return ["time runs backwards; sort it with weather.sortby('time')"]
    if index.hasnans:
        return [f"time: {counted(int(np.count_nonzero(index.isna())), 'step')} without a date"]
    if len(index) < 2:
        return _faults_of_one_step(data["time"])
    spelled = "1D" if step.daily else f"{round(step.minutes)}min"
    odd = step.first_odd or 0
    return [
        f"the steps of time are not all alike: after {stamp_words(index[odd])} comes {stamp_words(index[odd + 1])}. "
        f'Bring the series to regular steps with missing values for the gaps, weather.resample(time="{spelled}").asfreq()'
    ]


def _calendars_of(index: pd.Index) -> list[str]:
    """Return the calendars of stamps, in the order they come; one for those of pandas."""
    if index.dtype.kind != "O":
        return ["standard"]
    return list(dict.fromkeys(str(getattr(stamp, "calendar", "") or "standard") for stamp in index))


def _faults_of_one_step(time: xr.DataArray) -> list[str]:
    """Refuse a single stamp within a day that does not say how long its step is."""
    first = time.dt
    if not time.size or STEP_HOURS in time.attrs or bool((first.floor("D") == time).all() or (first.hour == 12).all()):
        return []
    return [
        f"time: a single step at {stamp_words(time.to_numpy()[0])} does not say how long it is; give its neighbours too, or say "
        f'weather["time"].attrs["{STEP_HOURS}"] = 1.0'
    ]


def _impossible(data: xr.Dataset, given: xr.Dataset) -> list[str]:
    """Name values outside what a quantity can be; those on disk are looked at when they are read."""
    faults = []
    for name in map(str, data.data_vars):
        if name not in QUANTITIES or not in_memory(data.variables[name]) or "time" not in data.variables[name].dims:
            continue
        low, high = _limits(name, step_hours(data["time"]) if name == "solar_radiation" else 24.0)
        given_order = data.variables[name]
        series = (given_order if given_order.ndim == 1 else given_order.transpose("time", ...)).to_numpy()
        values = series.reshape(series.shape[0], -1)
        lowest, highest = (of.reduce(series, axis=None, initial=np.nan) for of in (np.fmin, np.fmax))
        turned = name in _BELOW and lowest < 0.0 and np.nansum(values) < 0.0  # no dew, but its sign turned
        if turned or lowest < low or highest > high:
            bad = (values < (0.0 if turned else low)) | (values > high)
            rows = bad.any(axis=1)
            first = int(rows.argmax())
            value = values[first][bad[first]][0]
            unit = "" if QUANTITIES[name].units == "1" else f" {QUANTITIES[name].units}"
            kind = "negative" if QUANTITIES[name].low == 0.0 and value < 0 else "impossible"
            faults.append(
                f"`{name}` is {kind} on {counted(int(rows.sum()), 'step')}, first {value:g}{unit} at "
                f"{stamp_words(data['time'].to_numpy()[first])}; {_SUSPICIONS.get(name, 'check its unit')}"
            )
        elif (
            name in _SLACK
            and given[name].attrs.get("units") in ("%", "percent")
            and np.nanmax(values, initial=0) < 0.011
        ):
            faults.append(f'`{name}` is given in percent but never passes 1; a fraction? Then set its units to "1"')
    return faults
