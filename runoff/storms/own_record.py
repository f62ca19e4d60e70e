"""From a rain record of one's own to a depth-duration table, and to a design storm, in one call.

Record -> largest rains of each complete year -> a distribution with its interval -> table -> storm. What that chain cannot
know is said beside the numbers: readings by the clock understate and are raised by a named factor, years with gaps are
dropped by name, and a short record says little about rare rain.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from runoff.errors import StormError
from runoff.given_kinds import refuse_other_kinds
from runoff.storms._durations import words_of
from runoff.storms._rain_series import rain_series
from runoff.storms.depth_duration import DepthDurationTable
from runoff.storms.design_storms import INVENTED_DATE, design_storm
from runoff.storms.extremes import RETURN_PERIODS_YEARS, return_levels
from runoff.storms.rain_maxima import annual_maxima
from runoff.storms.record_against_fit import ranked_maxima

if TYPE_CHECKING:
    import xarray as xr

_SUB_DAILY_MIN = (5.0, 10.0, 15.0, 30.0, 60.0, 120.0, 180.0, 360.0, 720.0, 1440.0)
_DAILY_MIN = (1440.0, 2880.0, 4320.0)
_COARSEST_STORM_STEP_MIN = 60.0  # what minutes of a roof can use
_MINUTES_OF_OUTLETS = 5.0  # codes ask for the rain of 2 to 5 minutes


def depth_duration_from_record(
    rain: xr.DataArray | xr.Dataset,
    *,
    durations: Sequence[Any] | None = None,
    return_periods_years: Sequence[float] = RETURN_PERIODS_YEARS,
    distribution: str = "gumbel",
    method: str = "l-moments",
    interval: float = 0.90,
    year_start_month: int = 1,
    allowed_missing: float = 0.02,
    fixed_interval_correction: bool = True,
    minimum_years: int = 10,
    resamples: int = 1000,
    seed: int = 0,
) -> DepthDurationTable:
    """Return a depth-duration table fitted to a record of one's own, with its interval.

    Parameters
    ----------
    rain
        A weather Dataset or its rain, mm per step of 1 min to a day, on a regular time axis; NaN where missing.
    durations
        For example ``["5min", "1h", "24h"]``. Default: 5, 10, 15, 30 min and 1, 2, 3, 6, 12, 24 h as far as the step
        divides them, and the step itself; 1, 2 and 3 days for daily values.
    return_periods_years
        Years, each more than 1.
    distribution, method, minimum_years
        As in `runoff.storms.extremes.fit_extremes`.
    interval, resamples, seed
        As in `runoff.return_levels`.
    year_start_month, allowed_missing
        As in `runoff.annual_maxima`; up to 2 % of a year's steps may be missing, and such years are named.
    fixed_interval_correction
        Raise maxima over few readings by the usual factors (`runoff.annual_maxima`); on by default, because a reading by
        the clock seldom holds the largest rain of its length.

    Returns
    -------
    DepthDurationTable
        Depths with ``low_mm`` and ``high_mm``; ``latitude_deg`` where the record has one. ``notes`` name the years used
        and dropped, the factors, the interval, the risk of a short record and of too light a tail, and where the record lies
        furthest above the fit. A depth that would
        fall with duration, or an intensity that would rise, is raised to its neighbour's, and a note says so.

    Raises
    ------
    StormError
        When no year is complete, years are too few, or a duration does not fit the step.
    WeatherError
        When the record is not a regular series of rain.

    Examples
    --------
    >>> import numpy as np, pandas as pd, xarray as xr
    >>> hours = pd.date_range("2001-01-01", "2014-12-31T23", freq="h")  # 14 invented years
    >>> values = np.random.default_rng(1).gamma(0.03, 4.0, hours.size)
    >>> rain = xr.DataArray(values, {"time": hours}, "time", name="rain", attrs={"units": "mm"})
    >>> table = depth_duration_from_record(rain)
    >>> [minutes for minutes in table.durations_min if minutes <= 180]
    [60.0, 120.0, 180.0]
    >>> table.depth("1h", 10) < table.depth("3h", 10)
    True
    """
    series = rain_series(rain, "depth_duration_from_record")
    asked = durations if durations is not None else _usual_durations(series.step_min)
    maxima = annual_maxima(
        rain,
        asked,
        year_start_month=year_start_month,
        allowed_missing=allowed_missing,
        fixed_interval_correction=fixed_interval_correction,
    )
    levels = return_levels(
        maxima.sortby("duration"),
        return_periods_years=return_periods_years,
        distribution=distribution,
        method=method,
        interval=interval,
        minimum_years=minimum_years,
        resamples=resamples,
        seed=seed,
    )
    ranked = ranked_maxima(
        maxima.sortby("duration"), distribution=distribution, method=method, minimum_years=minimum_years
    )
    fitted, minutes = levels["depth"].to_numpy(), levels["duration"].to_numpy()
    if not (fitted > 0.0).all():
        dry = levels["return_period"].to_numpy()[(fitted <= 0.0).any(axis=0)]
        raise StormError(
            f"depth_duration_from_record: in {dry.max():g} years there may be no rain at all; leave "
            f"{', '.join(f'{period:g}' for period in dry)} out of return_periods_years"
        )
    depth, low, high = (_nested(levels[name].to_numpy(), minutes) for name in ("depth", "depth_low", "depth_high"))
    raised = float((depth / fitted).max()) - 1.0
    table = DepthDurationTable.from_dataarray(
        levels["depth"].copy(data=depth), source=f"annual maxima of {series.source or 'a record of one’s own'}"
    )
    return replace(
        table,
        low_mm=tuple(map(tuple, low.tolist())),
        high_mm=tuple(map(tuple, high.tolist())),
        latitude_deg=_latitude_of(rain),
        notes=_notes(maxima, levels, ranked, raised, series.step_min),
    )


def storm_from_record(
    rain: xr.DataArray | xr.Dataset,
    *,
    return_period_years: float,
    duration: Any = "24h",
    step: Any = None,
    pattern: str | None = None,
    start: Any = INVENTED_DATE,
    **fit: Any,
) -> xr.DataArray:
    """Return a design storm made from a record of one's own.

    Parameters
    ----------
    rain
        As in `depth_duration_from_record`.
    return_period_years
        Return period, years.
    duration, pattern, start
        As in `runoff.design_storm`. Of a daily record only the day's depth is known, so its storm is type II by default.
    step
        Length of a step. Default: the record's own, and 6 min for a storm of a daily record.
    **fit
        Further arguments of `depth_duration_from_record`.

    Returns
    -------
    xarray.DataArray
        As `runoff.design_storm` gives it; ``rain_notes`` names years used and dropped, factors and risks,
        ``depth_interval_mm`` the interval of the whole depth.

    Raises
    ------
    StormError, WeatherError
        As in `depth_duration_from_record` and `runoff.design_storm`.
    """
    refuse_other_kinds("storm_from_record", rain=rain, return_period_years=return_period_years)
    periods = sorted({*RETURN_PERIODS_YEARS, float(return_period_years)})
    table = depth_duration_from_record(rain, return_periods_years=fit.pop("return_periods_years", periods), **fit)
    usual_step, usual_pattern = usual_of_record(table)
    storm = design_storm(
        duration=duration,
        step=step if step is not None else usual_step,
        pattern=pattern if pattern is not None else usual_pattern,
        depth_duration=table,
        return_period_years=return_period_years,
        start=start,
    )
    storm.attrs["depth_interval_mm"] = list(table.interval(duration, return_period_years) or ())
    return storm


def usual_of_record(table: DepthDurationTable) -> tuple[str, str | None]:
    """Return step and pattern of a storm from the table of a record: its own step, and type II where only days are known."""
    finest = table.durations_min[0]
    return ("6min", "type-II") if finest > _COARSEST_STORM_STEP_MIN else (f"{finest:g}min", None)


def _usual_durations(step_min: float) -> list[str]:
    if step_min > _SUB_DAILY_MIN[-2]:
        return [f"{minutes:g}min" for minutes in _DAILY_MIN if minutes >= step_min]
    fitting = {minutes for minutes in _SUB_DAILY_MIN if minutes >= step_min and minutes % step_min == 0.0}
    return [f"{minutes:g}min" for minutes in sorted({step_min, *fitting})]


def _nested(depth: np.ndarray, minutes: np.ndarray) -> np.ndarray:
    """Return depths (durations, return periods) raised so that depth rises and intensity falls with duration.

    Every duration is fitted by itself, so fits may cross although maxima do not. Raising is on the safe side.
    """
    raised = np.maximum.accumulate(depth, axis=0)
    intensity = np.maximum.accumulate((raised / minutes[:, None])[::-1], axis=0)[::-1]
    return np.maximum.accumulate(intensity * minutes[:, None], axis=0)  # once more, for the last bit


def _latitude_of(rain: xr.DataArray | xr.Dataset) -> float | None:
    return float(rain.coords["lat"]) if "lat" in rain.coords and rain.coords["lat"].ndim == 0 else None


def _coarse(finest_min: float) -> list[str]:
    """Say of a record without minutes that the bursts outlets are sized by were not measured; nothing of one with them."""
    if finest_min <= _MINUTES_OF_OUTLETS:
        return []
    within = (
        "how rain falls within a day is that of the storm's pattern"
        if finest_min > _COARSEST_STORM_STEP_MIN
        else f"bursts shorter than {words_of(finest_min)} are heavier"
    )
    return [
        f"the record has steps of {words_of(finest_min)}: {within}, so the heaviest minutes, which outlets are sized by, are not "
        "measured; take a table of minutes of the place for outlets"
    ]


def _notes(
    maxima: xr.DataArray, levels: xr.Dataset, ranked: xr.Dataset, raised: float, finest_min: float
) -> tuple[str, ...]:
    """Return what is to be said of a table from a record, most important first."""
    years = maxima["year"].to_numpy()
    notes = [
        f"{years.size} complete years from {years.min()} to {years.max()}; dropped: {maxima.attrs['dropped_years']}",
        *_coarse(finest_min),
        levels.attrs["record_risk"],
        levels.attrs["tail_risk"],
        ranked.attrs["fit_against_record"],
        f"fit: {levels.attrs['distribution']} by {levels.attrs['method']}; interval: {levels.attrs['interval']}",
        f"readings by the clock: {maxima.attrs['fixed_interval_correction']}",
    ]
    if maxima.attrs["years_with_gaps"] != "none":
        notes.append(f"years kept with missing steps: {maxima.attrs['years_with_gaps']}; their maxima may be too small")
    if maxima.attrs["years_without_rain"] != "none":
        notes.append(f"years without rain: {maxima.attrs['years_without_rain']}; a gauge out of order looks the same")
    if raised > 1e-9:
        shortest = words_of(float(levels["duration"][0]))
        notes.append(
            f"fits of single durations cross; depths were raised by up to {raised:.1%} so that depth rises and intensity "
            f"falls with duration from {shortest} up"
        )
    return tuple(notes)
