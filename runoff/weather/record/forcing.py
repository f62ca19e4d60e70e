"""Weather in the form the balance needs: one door through which every run gets its rain and evapotranspiration."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import xarray as xr

from runoff.errors import RunoffError, WeatherError
from runoff.time_steps import time_step
from runoff.weather.evaporation.evapotranspiration import with_reference_et
from runoff.weather.evaporation.sun import spread_onto
from runoff.weather.record.frames import as_weather


def prepare_forcing(weather: Any, et_method: str | None = None, climate: xr.Dataset | None = None) -> xr.Dataset:
    """Return the weather in the form the balance needs, or stop with the reason.

    Parameters
    ----------
    weather
        What `simulate` accepts.
    et_method
        Forces a method of reference evapotranspiration.
    climate
        Daily weather from which a record of rain in minutes takes its evapotranspiration, spread over daylight.

    Returns
    -------
    xarray.Dataset
        ``rain``, ``reference_et`` (mm per step) and, when temperature is known, ``tmean`` (degC).

    Raises
    ------
    WeatherError
        When rain is missing, or evapotranspiration cannot be formed.
    """
    known = as_weather(weather)
    if "tmean" not in known and {"tmin", "tmax"} <= set(known.data_vars):
        known = known.assign(tmean=(known.variables["tmin"] + known.variables["tmax"]) / 2.0)
    designed = "pattern" in known["rain"].attrs  # a design storm has a date only for form's sake
    if climate is not None and not designed and time_step(known["time"]).hours < 24.0 and "reference_et" not in known:
        known = known.assign(reference_et=_spread(with_reference_et(as_weather(climate), et_method), known["time"]))
    elif _is_lone_storm(known):
        known = known.assign(reference_et=xr.zeros_like(known["rain"]))
        known["reference_et"].attrs = {"units": "mm", "method": "none: a lone storm"}
    else:
        known = with_reference_et(known, et_method)
    kept = [name for name in ("rain", "reference_et", "tmean") if name in known]
    forcing = known[kept]
    forcing.attrs = dict(known.attrs)
    _refuse_gaps(forcing)
    return forcing


def _spread(climate: xr.Dataset, time: xr.DataArray) -> xr.DataArray:
    """Spread the daily evapotranspiration of a climate over the daylight of a record in minutes.

    A storm whose date lies outside the climate (a design storm has no date) has none.
    """
    days = set(climate["time"].dt.floor("D").to_numpy().tolist())
    wanted = set(time.dt.floor("D").to_numpy().tolist())
    if not wanted <= days:
        none = xr.zeros_like(time, dtype=float)
        none.attrs = {"units": "mm", "method": "none: the storm lies outside the climate record"}
        return none
    spread = spread_onto(climate["reference_et"], time)
    method = climate["reference_et"].attrs.get("method", "given")
    spread.attrs.update(units="mm", method=f"{method}, spread over daylight")
    return spread


def _is_lone_storm(weather: xr.Dataset) -> bool:
    """Tell a storm (minutes, rain alone, at most a week) from a record that lacks its evapotranspiration."""
    if len(set(weather.data_vars) & {"reference_et", "tmin", "tmax", "tmean"}):
        return False
    time = weather["time"]
    return time.size < 2 or bool((time[-1] - time[0]) < np.timedelta64(7, "D") and time_step(time).hours < 24.0)


def _refuse_gaps(forcing: xr.Dataset) -> None:
    """Stop a single series with the dates that are missing; a cell of a grid is marked missing instead."""
    if forcing["rain"].ndim > 1 or forcing.chunks:
        return
    faults = []
    for name in forcing.data_vars:
        missing = np.flatnonzero(np.isnan(forcing[name].to_numpy()))
        if missing.size:
            dates = [date_text(forcing["time"].to_numpy()[i]) for i in missing[:5]]
            more = f" and {missing.size - 5} more" if missing.size > 5 else ""
            faults.append(
                f"`{name}` is missing on {missing.size} of {forcing.sizes['time']} steps: {', '.join(dates)}{more}; "
                f"fill them with a named method, runoff.fill_gaps(weather, ...), or choose other years"
            )
    if faults:
        raise WeatherError("\n".join(f"simulate: {fault}" for fault in faults))


def date_text(stamp: Any) -> str:
    """Return a stamp as a person writes it: the day, with the time where it is not midnight or noon."""
    text = str(stamp)
    return text[:10] if text[11:16] in ("00:00", "12:00", "") else text[:16]


def run_step_hours(time: xr.DataArray) -> float:
    """Return the step of a run in hours: 24 for a daily run, at most 1 for a run in minutes; others are refused.

    A single step is taken as a day.
    """
    hours = time_step(time).hours
    if hours == 24.0 or 1.0 / 60.0 <= hours <= 1.0:
        return hours
    raise WeatherError(
        f"simulate: the weather has steps of {hours:g} h; steps of one day, or of 1 min to 1 h, are needed. "
        "Sum longer steps to days, or bring shorter ones"
    )


def warm_up_length(time: xr.DataArray, asked: int | None, *, given: bool = False) -> int:
    """Return the years of warm-up: as asked, else one for a record of at least a year without a given start."""
    if asked is None:
        spans_a_year = time.size * time_step(time).hours >= 365 * 24.0
        return 1 if spans_a_year and not given else 0
    if asked < 0 or asked != int(asked):
        raise RunoffError(f"simulate: warm_up_years must be a whole number, 0 or more (given {asked})")
    return int(asked)


def steps_in_first_years(time: xr.DataArray, years: int) -> int:
    """Return how many steps lie in the first `years` years of a time axis (all of them in a shorter record)."""
    first = time.to_numpy()[0]
    if isinstance(first, np.datetime64):
        end: Any = np.datetime64(pd.Timestamp(first) + pd.DateOffset(years=years))
    else:  # cftime: 29 February, where the later year may lack it, moves to the 28th
        day = 28 if (first.month, first.day) == (2, 29) else first.day
        end = first.replace(year=first.year + years, day=day)
    return int((time.to_numpy() < end).sum())
