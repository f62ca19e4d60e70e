"""Weather in the form the balance needs: one door through which every run gets its rain and evapotranspiration."""

from __future__ import annotations

import calendar
import functools
from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr

from runoff.errors import RunoffError, WeatherError, raise_faults
from runoff.plain_arrays import in_memory, with_variables
from runoff.time_steps import STEP_HOURS, time_step
from runoff.weather.evaporation.evapotranspiration import with_reference_et
from runoff.weather.evaporation.sun import spread_onto
from runoff.weather.quality.grid_units import refuse_doubtful_unit
from runoff.weather.quality.plausibility import TRUSTED, doubt_of_unit, telling_days
from runoff.weather.record.frames import as_weather
from runoff.weather.record.lazy import look_when_read, tell_of_gaps
from runoff.weather.record.time_axis import counted

_LEAST_AMOUNTS, _FIRST_AMOUNTS = 15, 5000  # different amounts of rain among so many of the first wet steps
_USUAL_TELLING_MM = (1.5, 60.0)  # within, a record is not looked at more closely


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
    known = _in_doubles(_with_length_of_one_step(as_weather(weather)))
    if "tmean" not in known and {"tmin", "tmax"} <= set(known.data_vars):
        known = with_variables(known, {"tmean": (known.variables["tmin"] + known.variables["tmax"]) / 2.0})
    designed = "pattern" in known.variables["rain"].attrs  # a design storm has a date only for form's sake
    if climate is not None and not designed and time_step(known["time"]).hours < 24.0 and "reference_et" not in known:
        known = known.assign(reference_et=_spread(with_reference_et(as_weather(climate), et_method), known))
    elif _is_lone_storm(known):
        known = known.assign(reference_et=xr.zeros_like(known["rain"]))
        known["reference_et"].attrs = {"units": "mm", "method": "none: a lone storm"}
    else:
        known = with_reference_et(known, et_method)
    known = _with_unit_looked_at(known, designed)
    kept = [name for name in ("rain", "reference_et", "tmean") if name in known]
    forcing = known[kept]
    forcing.attrs = dict(known.attrs)
    return _refuse_gaps(forcing)


def _in_doubles(weather: xr.Dataset) -> xr.Dataset:
    """Return the quantities in double precision: sums of single ones lose a millimetre in thirty years."""
    short = [name for name in weather.data_vars if weather.variables[name].dtype == np.float32]
    return weather.assign({name: weather[name].variable.astype(float) for name in short}) if short else weather


def _with_length_of_one_step(weather: xr.Dataset) -> xr.Dataset:
    """Carry the length that a storm of one step says of itself over to its time."""
    time, said = weather.variables["time"], weather.variables["rain"].attrs.get("step", "")
    if time.size == 1 and STEP_HOURS not in time.attrs and said:
        hours = pd.Timedelta(str(said)) / pd.Timedelta("1h")
        return weather.assign_coords(time=weather["time"].assign_attrs({STEP_HOURS: hours}))
    return weather


def _spread(climate: xr.Dataset, weather: xr.Dataset) -> xr.DataArray:
    """Spread the daily evapotranspiration of a climate over the daylight of a record in minutes.

    A lone storm that lies outside the climate altogether has none; a record that reaches past it is refused.
    """
    time = weather["time"]
    kinds = [
        "standard" if kind in ("gregorian", "proleptic_gregorian") else kind
        for kind in (one["time"].dt.calendar for one in (weather, climate))
    ]
    if kinds[0] != kinds[1]:
        raise WeatherError(
            f"simulate: the record in short steps has the calendar {kinds[0]}, its daily climate {kinds[1]}; give a climate of the same "
            f'calendar, for example climate.convert_calendar("{kinds[0]}")'
        )
    days = climate["time"].dt.floor("D").to_numpy()
    wanted = np.unique(time.dt.floor("D").to_numpy())
    known = set(days.tolist())
    absent = [day for day in wanted if day.tolist() not in known] if wanted.dtype.kind == "M" else [
        day for day in wanted if day not in known
    ]  # fmt: skip
    if absent and len(absent) == len(wanted) and _is_lone_storm(weather):
        none = xr.zeros_like(time, dtype=float)
        none.attrs = {"units": "mm", "method": "none: the storm lies outside the climate record"}
        return none
    if absent:
        first, last = (date_text(stamp) for stamp in (days[0], days[-1]))
        raise WeatherError(
            f"simulate: the record in short steps has {counted(len(absent), 'day')} outside its daily climate ({first} to {last}), "
            f"{_dates(absent)}; they would have no evapotranspiration. Give a climate that holds these days, or the steps within it"
        )
    spread = spread_onto(climate["reference_et"], time)
    method = climate["reference_et"].attrs.get("method", "given")
    spread.attrs.update(units="mm", method=f"{method}, spread over daylight")
    return spread


def _dates(stamps: Any) -> str:
    listed = ", ".join(date_text(one) for one in stamps[:5])
    return f"{listed} and {len(stamps) - 5} more" if len(stamps) > 5 else listed


def _is_lone_storm(weather: xr.Dataset) -> bool:
    """Tell a storm (minutes, rain alone, at most a week) from a record that lacks its evapotranspiration."""
    if len(set(weather.data_vars) & {"reference_et", "tmin", "tmax", "tmean"}):
        return False
    stamps = weather["time"].to_numpy()
    return stamps.size < 2 or bool(stamps[-1] - stamps[0] < np.timedelta64(7, "D") and time_step(stamps).hours < 24.0)


def _with_unit_looked_at(weather: xr.Dataset, designed: bool) -> xr.Dataset:
    """Stop a series or grid whose amounts are a hundredth of rain: inches or metres called mm; on disk, when it is read.

    Files are held against more by their reader; here only what no climate does. A series of a few round amounts is
    somebody's experiment.
    """
    rain, time = weather.variables["rain"], weather.variables["time"]
    if designed or weather.attrs.get(TRUSTED) == "yes":
        return weather
    if rain.ndim == 1:
        latitude = float(weather["lat"]) if "lat" in weather.coords and weather["lat"].ndim == 0 else None
        look: Any = functools.partial(_refuse_wrong_unit, time=time.to_numpy(), latitude=latitude)
    elif time_step(time).daily:
        look = _look_at_cells(weather["rain"].transpose(..., "time"), weather.coords.get("lat"))
    else:
        return weather
    if not in_memory(rain):
        return weather.assign(rain=look_when_read(weather["rain"], look))
    look(rain.transpose(..., "time").to_numpy(), (0,) * rain.ndim)
    return weather


def _refuse_wrong_unit(values: np.ndarray, begins: Any, *, time: np.ndarray, latitude: float | None) -> None:
    """Look at a single series; see `look_when_read`."""
    count, mean = telling_days(values, max(1, round(24.0 / time_step(time[:2]).hours)))
    if count < _LEAST_AMOUNTS or _USUAL_TELLING_MM[0] <= mean <= _USUAL_TELLING_MM[1]:
        return
    if np.unique(values[values > 0][:_FIRST_AMOUNTS]).size < _LEAST_AMOUNTS:
        return
    labelled = xr.DataArray(values, {"time": time}, ["time"], attrs={"units": "mm"})
    doubt = doubt_of_unit(labelled, latitude)
    if doubt.verdict == "stop":
        raise WeatherError(
            f'simulate: rain: {doubt.found}; {doubt.advice}. If the amounts are right, say weather.attrs["{TRUSTED}"] = "yes"'
        )


def _look_at_cells(rain: xr.DataArray, latitude: xr.DataArray | None) -> Any:
    """Return what looks at the cells of a grid, ``time`` last; see `look_when_read`."""
    dims = tuple(map(str, rain.dims[:-1]))
    axes = {dim: rain[dim].to_numpy() for dim in dims if dim in rain.coords}
    known = latitude is not None and set(latitude.dims) <= set(dims)
    plain = latitude.variable if latitude is not None and known else xr.Variable((), np.nan)
    return functools.partial(
        _refuse_wrong_cells,
        time=rain["time"].to_numpy(),
        dims=dims,
        axes=axes,
        latitude=plain,
        of_cells=rain[..., 0].size,
    )


def _refuse_wrong_cells(
    values: np.ndarray,
    begins: Any,
    *,
    time: np.ndarray,
    dims: tuple[str, ...],
    axes: dict[str, np.ndarray],
    latitude: xr.Variable,
    of_cells: int,
) -> None:
    begin, shape = dict(zip(dims, begins, strict=False)), values.shape[:-1]
    here = {dim: slice(begin[dim], begin[dim] + size) for dim, size in zip(dims, shape, strict=True)}
    own = latitude.isel({dim: here[str(dim)] for dim in latitude.dims})
    latitudes = (xr.Variable(dims, np.zeros(shape)) + own).transpose(*dims)

    def named(at: int) -> str:
        where = (begin[dim] + int(k) for dim, k in zip(dims, np.unravel_index(at, shape), strict=True))
        return ", ".join(f"{dim} {axes[dim][k] if dim in axes else k}" for dim, k in zip(dims, where, strict=True))

    rain = values.reshape(-1, values.shape[-1]).T
    odd = refuse_doubtful_unit(rain, time, latitudes.to_numpy().reshape(-1), named, "simulate", of_cells)
    odd.tell("simulate", rain.shape[1])


def _refuse_gaps(forcing: xr.Dataset) -> xr.Dataset:
    """Stop a single series with the dates that are missing; tell of the cells of a grid that will be missing."""
    if forcing.variables["rain"].ndim > 1:
        return tell_of_gaps(forcing)
    time, faults = forcing.variables["time"].to_numpy(), []
    for name in map(str, forcing.data_vars):
        look = functools.partial(_gaps_of, quantity=name, time=time)
        if not in_memory(forcing.variables[name]):
            forcing = forcing.assign({name: look_when_read(forcing[name], functools.partial(_refuse_gaps_of, look))})
        else:
            faults += look(forcing.variables[name].to_numpy())
    raise_faults("simulate", faults, WeatherError)
    return forcing


def _gaps_of(values: np.ndarray, *, quantity: str, time: np.ndarray) -> list[str]:
    if not np.isnan(values.min(initial=np.inf)):
        return []
    missing = np.flatnonzero(np.isnan(values))
    return [
        f"`{quantity}` is missing on {missing.size} of {values.size} steps: {_dates(time[missing])}; "
        "choose other years without gaps (check_weather names the longest), or fill them by a named method, "
        "runoff.fill_gaps(weather, ...)"
    ]


def _refuse_gaps_of(look: Callable[[np.ndarray], list[str]], values: np.ndarray, begins: Any) -> None:
    raise_faults("simulate", look(values), WeatherError)


def date_text(stamp: Any) -> str:
    """Return a stamp as a person writes it: the day, with the time where it is not midnight or noon."""
    text = str(stamp)
    return text[:10] if text[11:16] in ("00:00", "12:00", "") else text[:16]


def run_step_hours(time: Any) -> float:
    """Return the step of a run in hours: 24 for a daily run, at most 1 for a run in minutes; others are refused.

    A single step is as long as its attribute ``step_hours`` says, else a day.
    """
    hours = time_step(time).hours
    if hours == 24.0 or 1.0 / 60.0 <= hours <= 1.0:
        return hours
    raise WeatherError(
        f"simulate: the weather has steps of {hours:g} h; steps of one day, or of 1 min to 1 h, are needed. "
        "Sum longer steps to days, or bring shorter ones"
    )


def warm_up_length(time: Any, asked: int | None, *, given: bool = False, hours: float | None = None) -> int:
    """Return the years of warm-up: as asked, else one for a record of at least a year without a given start.

    Parameters
    ----------
    time
        Stamps of the record, datetime64.
    asked
        Years of warm-up that were asked for; None to follow the record.
    given
        Whether the run was given its start.
    hours
        Length of a step, h, where it is known already.

    Returns
    -------
    int
        Years of warm-up, 0 or more.

    Raises
    ------
    RunoffError
        When what is asked for is negative or no whole number.
    """
    if asked is None:
        hours = time_step(time).hours if hours is None else hours
        spans_a_year = time.size * hours >= 365 * 24.0
        return 1 if spans_a_year and not given else 0
    if asked < 0 or asked != int(asked):
        raise RunoffError(f"simulate: warm_up_years must be a whole number, 0 or more (given {asked})")
    return int(asked)


def steps_in_first_years(time: Any, years: int) -> int:
    """Return how many steps lie in the first `years` years of a time axis (all of them in a shorter record)."""
    stamps = time.to_numpy()
    first = stamps[0]
    if isinstance(first, np.datetime64):
        begin, year = pd.Timestamp(first), pd.Timestamp(first).year + years
        day = min(begin.day, calendar.monthrange(year, begin.month)[1])  # 29 February, where the later year lacks it
        end: Any = begin.replace(year=year, day=day).to_datetime64().astype(first.dtype)
    else:  # cftime: 29 February, where the later year may lack it, moves to the 28th
        day = 28 if (first.month, first.day) == (2, 29) else first.day
        end = first.replace(year=first.year + years, day=day)
    return int(np.searchsorted(stamps, end))
