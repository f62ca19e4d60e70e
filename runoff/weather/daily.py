"""From shorter steps to days, with missing kept missing."""

from __future__ import annotations

import pandas as pd
import xarray as xr

from runoff.errors import WeatherError
from runoff.quantities import label

_SUMS = ("rain", "reference_et", "sunshine_hours")


def daily_totals(weather: xr.Dataset | xr.DataArray, *, day_start: str = "00:00") -> xr.Dataset | xr.DataArray:
    """Sum a record in hours or minutes to days.

    Parameters
    ----------
    weather
        Rain in steps shorter than a day, or a Dataset with it.
    day_start
        Time of day at which a day begins, kept in the attributes; gauges read in the morning begin at 07:00 or so.

    Returns
    -------
    xarray.Dataset or xarray.DataArray
        Rain and evapotranspiration summed, temperatures as lowest, highest and mean. A day with a missing step, or cut
        off by the start or end of the record, is missing.
    """
    if isinstance(weather, xr.DataArray):
        summed = daily_totals(weather.to_dataset(name="rain"), day_start=day_start)
        return summed["rain"].rename(weather.name)
    try:
        offset = pd.Timedelta(f"{day_start}:00")
    except ValueError:
        raise WeatherError(f'daily_totals: day_start is a time of day such as "07:00" (given "{day_start}")') from None
    time = weather["time"].to_index()
    if len(time) < 2 or pd.Timedelta(time[1] - time[0]) >= pd.Timedelta("1D"):
        raise WeatherError("daily_totals: the record is daily already, or has a single step")
    per_day = round(pd.Timedelta("1D") / pd.Timedelta(time[1] - time[0]))
    days = weather.assign_coords(time=time - offset)
    result = xr.Dataset()
    for name in days.data_vars:
        if days[name].dtype.kind not in "fiu":
            continue
        parts = days[name].resample(time="1D")
        how = "sum" if name in _SUMS else {"tmin": "min", "tmax": "max"}.get(str(name), "mean")
        value = getattr(parts, how)("time") if how != "sum" else parts.sum("time")
        result[name] = value.where(parts.count("time") == per_day)
    result.attrs = {**weather.attrs, "day_start": day_start}
    if "lat" in weather.coords:
        result = result.assign_coords(
            {name: weather[name] for name in ("lat", "lon", "elevation") if name in weather.coords}
        )
    return label(result)
