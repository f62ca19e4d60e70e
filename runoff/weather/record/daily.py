"""From shorter steps to days, with missing kept missing."""

from __future__ import annotations

import re

import pandas as pd
import xarray as xr

from runoff.errors import WeatherError
from runoff.given_kinds import refuse_other_kinds
from runoff.quantities import QUANTITIES, label
from runoff.weather.record.time_axis import ONE_DAY, moved, step_of

_DECIMALS = 9  # ten times 0.1 mm make 1 mm, not 0.9999999999999999: a day of 1 mm is a wet day


def daily_totals(
    weather: xr.Dataset | xr.DataArray, *, day_start: str = "00:00", least_share: float = 1.0
) -> xr.Dataset | xr.DataArray:
    """Sum a record in hours or minutes to days.

    Parameters
    ----------
    weather
        Rain in steps shorter than a day, or a Dataset with it.
    day_start
        Time of day at which a day begins, kept in the attributes; gauges read in the morning begin at 07:00 or so.
    least_share
        Share of a day's steps that must be known, 0-1. At 1 a day with one missing step is missing; below 1 what is
        missing in a kept day counts as dry, and the number of such days is kept in ``attrs["days_in_part"]``.

    Returns
    -------
    xarray.Dataset or xarray.DataArray
        Rain and evapotranspiration summed, temperatures as lowest, highest and mean (the extremes of ``tmean`` where the
        record has no others). A day that lacks steps, or is cut off by the start or end of the record, is missing.

    Raises
    ------
    WeatherError
        When the record is daily already, or `day_start` is no time of day.
    """
    refuse_other_kinds("daily_totals", weather=weather)
    if isinstance(weather, xr.DataArray):
        summed = daily_totals(weather.to_dataset(name="rain"), day_start=day_start, least_share=least_share)
        return summed["rain"].rename(weather.name)
    if not re.fullmatch(r"([01]?\d|2[0-3]):[0-5]\d", day_start):
        raise WeatherError(f'daily_totals: day_start is a time of day such as "07:00" (given "{day_start}")')
    if not 0.0 < least_share <= 1.0:
        raise WeatherError(f"daily_totals: least_share is more than 0 and at most 1 (given {least_share:g})")
    step = step_of(weather["time"])
    if weather["time"].size < 2 or step >= ONE_DAY:
        raise WeatherError("daily_totals: the record is daily already, or has a single step")
    per_day = round(ONE_DAY / step)
    days = weather.assign_coords(time=moved(weather["time"].to_index(), -pd.Timedelta(f"{day_start}:00")))
    if "tmean" in days and not {"tmin", "tmax"} & set(days.data_vars):
        days = days.assign(tmin=days["tmean"], tmax=days["tmean"])
    result, in_part = xr.Dataset(), 0
    for name in map(str, days.data_vars):
        if days[name].dtype.kind not in "fiu" or "time" not in days[name].dims:
            continue
        parts = days[name].resample(time="1D")
        how = QUANTITIES[name].over_time if name in QUANTITIES else "mean"
        count = parts.count("time")
        kept = count >= least_share * per_day
        value = getattr(parts, how)("time")
        result[name] = (value.round(_DECIMALS) if how == "sum" else value).where(kept)
        result[name].attrs = {
            key: text for key, text in weather.get(name, days[name]).attrs.items() if key != "cell_methods"
        }
        if name == "rain" and least_share < 1.0:
            in_part = int((kept & (count < per_day)).sum())
    result.attrs = {
        **weather.attrs,
        "day_start": day_start,
        "summed_from": f"steps of {step / pd.Timedelta('1min'):g} min",
    }
    if least_share < 1.0:
        result.attrs["days_in_part"] = in_part
    places = {name: weather[name] for name in weather.coords if "time" not in weather[name].dims and name != "time"}
    return label(result.assign_coords(places))
