"""Sums, counts and largest values of a run, year by year: what every headline figure is formed from.

`yearly_totals` reads a run; a sweep forms the same totals inside its loop without keeping every day. A run is of one piece,
so nothing in it has to be held against its coordinates again: in here everything is an `xarray.Variable`, or a plain array
where the run is of one roof at one place, labelled once at the end.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

import numpy as np
import xarray as xr

from runoff.balance.column import DROUGHT_DAYS, SHALLOW_DROUGHT_DAYS, SHALLOW_MM
from runoff.findings.events import SNOW_BELOW_C, WET_DAY_MM, count_events, event_limits, events_of_series
from runoff.findings.spells import running_spell
from runoff.given_kinds import refuse_other_kinds
from runoff.plain_arrays import in_memory, put_together, with_names, without_names
from runoff.quantities import QUANTITIES
from runoff.time_steps import Calendar, days_of, time_step

#: What the sums of a year are formed from.
_OF_A_YEAR = (
    "rain", "tmean", "overflow", "evapotranspiration", "roof_overflow", "bare_overflow", "bare_evapotranspiration",
    "medium_water", "waterlogged", "waterlogged_share", "dry", "run_on", "irrigation",
)  # fmt: skip
#: What they read of a run beside: numbers of the roof, and flows of which the peak counts.
_OF_THE_ROOF = ("field_water", "planted_fraction", "area_m2", "medium_depth")
_PEAKS = ("discharge", "bare_discharge")
_SUMS = (
    "rain", "overflow", "evapotranspiration", "roof_overflow", "bare_overflow", "bare_evapotranspiration",
    "waterlogged_days", "waterlogged_area_days", "rot_risk_days", "dry_days", "drought_risk_days", "excess_water", "run_on", "roof_run_on", "events", "events_held", "bare_events_held",
)  # fmt: skip
_LARGEST = (
    "peak_overflow", "bare_peak_overflow", "peak_roof_overflow", "longest_waterlogged_spell", "longest_dry_spell",
)  # fmt: skip


@functools.cache
def _months() -> xr.Coordinates:
    """Return the labels of the months of a year, with their index; not on import, since xarray then loads much else."""
    return xr.Coordinates({"month": np.arange(1, 13)})


def yearly_totals(
    run: xr.Dataset, *, tolerance_days: float = 2.0, warm_c: float = 5.0, wet_day_mm: float = WET_DAY_MM
) -> xr.Dataset:
    """Return sums, counts and largest values of a run, per calendar year and per month of the year.

    Parameters
    ----------
    run
        What `runoff.simulate` returned; steps shorter than a day are first brought to days.
    tolerance_days
        Waterlogged days a spell may last before its days count as rot risk.
    warm_c
        Mean day temperature (degC) from which rot is counted.
    wet_day_mm
        Rain of a wet day, mm.

    Returns
    -------
    xarray.Dataset
        On ``year``: ``rain``, ``overflow``, ``evapotranspiration``, ``roof_overflow`` (mm), the counts of days,
        ``events``, ``events_held``, the largest values and spells, and the comparison roof's. On ``month``:
        ``rain_by_month`` and the overflows (mm). Without time: ``years``, ``area_m2``, ``peak_discharge``. A
        month without a day in the record is missing, a cell with missing weather is missing throughout.

    Raises
    ------
    KeyError
        When the Dataset lacks what `runoff.simulate` returns.
    """
    refuse_other_kinds("yearly_totals", run=run)
    totals, calendar = totals_of_run(run, tolerance_days=tolerance_days, warm_c=warm_c, wet_day_mm=wet_day_mm)
    made = with_names(totals, lambda name: ("month" if name.endswith("_by_month") else "year",))
    labelled = put_together(made, coords_of_totals(run, calendar), run.attrs)
    for name in ("area_m2", *_PEAKS):
        of_totals = name if name in made else name.replace("discharge", "peak_discharge")
        labelled.variables[of_totals].attrs = dict(run.variables[name].attrs)
    return labelled


def totals_of_run(
    run: xr.Dataset, *, tolerance_days: float, warm_c: float, wet_day_mm: float
) -> tuple[dict[str, Any], Calendar]:
    """Do as `yearly_totals` without labels.

    Parameters
    ----------
    run, tolerance_days, warm_c, wet_day_mm
        As there.

    Returns
    -------
    totals
        By name, mm and days: of `runoff.plain_arrays.without_names`.
    calendar
        Of the days of the run.
    """
    names = [name for name in (*_OF_A_YEAR, *_OF_THE_ROOF, *_PEAKS) if name in run.variables]
    given = without_names({name: run.variables[name] for name in names})
    missing = _missing_cells(given["medium_water"])
    peaks = [largest_of(given[name], "time") for name in _PEAKS]
    stamps = run["time"]
    if not time_step(stamps).daily:
        days, starts = days_of(stamps)
        given |= _by_days({name: given[name] for name in _OF_A_YEAR if name in given}, starts, stamps.size)
        stamps = xr.DataArray(xr.Variable("time", days, fastpath=True))
    calendar = Calendar.of(stamps)
    snow_below = float(run.attrs.get("snow_below_c", SNOW_BELOW_C))
    limits = event_limits(given["rain"], given.get("tmean"), snow_below_c=snow_below, wet_day_mm=wet_day_mm)
    months = calendar.steps_of_months()
    made = {"years": length_in_years(calendar, stamps), **_comparison(given, calendar, months, limits)}
    wet_spell, dry_spell = (running_spell(given[name]) for name in ("waterlogged", "dry"))
    warm = given["tmean"] >= warm_c if "tmean" in given else True
    summed = {
        "overflow": given["overflow"],
        "evapotranspiration": given["evapotranspiration"],
        "roof_overflow": given["roof_overflow"],
        "waterlogged_days": wet_spell > 0,
        "waterlogged_area_days": given["waterlogged_share"],
        "rot_risk_days": (wet_spell > tolerance_days) & warm,
        "dry_days": dry_spell > 0,
        "drought_risk_days": dry_spell > drought_limit(run.attrs, given["medium_depth"]),
        "run_on": given["run_on"] if "run_on" in given else 0.0 * given["overflow"],
        "excess_water": (given["medium_water"] - given["field_water"]).clip(min=0.0),
    }
    if "irrigation" in given:
        summed["irrigation"] = given["irrigation"]
    summed["roof_run_on"] = summed["run_on"] * given["planted_fraction"]  # per area of the roof, as roof_overflow
    made |= {name: _per_year(values, np.add, calendar) for name, values in summed.items()}
    largest = {
        "peak_overflow": given["overflow"],
        "peak_roof_overflow": given["roof_overflow"],
        "longest_waterlogged_spell": wet_spell,
        "longest_dry_spell": dry_spell,
    }
    made |= {name: _per_year(values, np.maximum, calendar) for name, values in largest.items()}
    made["events_held"] = count_events(limits, given["overflow"], calendar)[1]
    made["overflow_by_month"] = _by_month(given["overflow"], months)
    made["run_on_by_month"] = _by_month(summed["run_on"], months)
    made["area_m2"] = given["area_m2"]
    made["peak_discharge"], made["bare_peak_discharge"] = peaks
    if not in_memory(missing) or bool(missing.any()):  # a run on disk is not looked at before it is asked for
        of_the_record = ["years", "area_m2"]  # known whatever the weather of a cell
        made = {name: one if name in of_the_record else _where_known(one, missing) for name, one in made.items()}
    return made, calendar


def _missing_cells(values: Any) -> Any:
    """Return which cells lack a step of a series."""
    if isinstance(values, np.ndarray):
        return np.isnan(values.min(initial=np.inf))
    if not in_memory(values):
        return values.isnull().any("time")
    at = values.dims.index("time")
    return xr.Variable(values.dims[:at] + values.dims[at + 1 :], np.isnan(values.to_numpy()).any(axis=at))


def _where_known(values: Any, missing: Any) -> Any:
    """Return the values of the cells that lack no step; the others are missing."""
    return values.where(~missing) if isinstance(values, xr.Variable) else values * np.nan


def largest_of(values: Any, dim: str) -> Any:
    """Return the largest value along a dimension, of those that are not missing; `xarray.Variable.max` takes ten times as long."""
    if isinstance(values, np.ndarray):
        return np.fmax.reduce(values, axis=-1)
    if not in_memory(values):
        return values.max(dim)
    at = values.dims.index(dim)
    return xr.Variable(
        values.dims[:at] + values.dims[at + 1 :], np.fmax.reduce(values.to_numpy(), axis=at), values.attrs
    )


def totals_of_series(
    calendar: Calendar, series: Mapping[str, np.ndarray], limits: np.ndarray
) -> dict[str, xr.Variable]:
    """Return the part of `yearly_totals` that no design changes: sums of rain, events and the comparison roof.

    Parameters
    ----------
    calendar
        Of the record.
    series
        Daily ``rain``, ``bare_overflow`` and ``bare_evapotranspiration``, mm, shape ``(time,)``.
    limits
        From `runoff.findings.events.limits_of_series` for these days.

    Returns
    -------
    dict of xarray.Variable
        Name to sums, mm, or counts of events, along ``year``, or along ``month`` for ``..._by_month``.
    """
    made = {name: np.add.reduceat(values, calendar.starts) for name, values in series.items()}
    made["bare_peak_overflow"] = np.maximum.reduceat(series["bare_overflow"], calendar.starts)
    made["events"], made["bare_events_held"] = events_of_series(limits, series["bare_overflow"], calendar)
    totals = {name: xr.Variable("year", values) for name, values in made.items()}
    months = calendar.steps_of_months()
    by_month = {name: monthly_sums(series[name], months) for name in ("rain", "bare_overflow")}
    return totals | {f"{name}_by_month": xr.Variable("month", values) for name, values in by_month.items()}


def _comparison(
    given: Mapping[str, Any], calendar: Calendar, months: Sequence[np.ndarray], limits: Any
) -> dict[str, Any]:
    made = {
        name: _per_year(given[name], np.add, calendar) for name in ("rain", "bare_overflow", "bare_evapotranspiration")
    }
    made["bare_peak_overflow"] = _per_year(given["bare_overflow"], np.maximum, calendar)
    made["events"], made["bare_events_held"] = count_events(limits, given["bare_overflow"], calendar)
    for name in ("rain", "bare_overflow"):
        made[f"{name}_by_month"] = _by_month(given[name], months)
    return made


def drought_limit(attrs: Mapping[Any, Any], medium_depth: Any) -> Any:
    """Return the dry days of a spell after which drought is a risk: as a run says, else by the depth of its medium, mm."""
    if "drought_days" in attrs:
        return float(attrs["drought_days"])
    return SHALLOW_DROUGHT_DAYS + (DROUGHT_DAYS - SHALLOW_DROUGHT_DAYS) * (medium_depth > SHALLOW_MM)


def _outliving(run: xr.Dataset) -> list[Any]:
    """Return the names of the labels of a run that outlive its time axis."""
    return [name for name in run.coords if "time" not in run.variables[name].dims]


def coords_of_figures(run: xr.Dataset) -> xr.Coordinates:
    """Return the labels of a run that outlive its time axis, and those of months, with their indexes."""
    kept = {name: run.variables[name] for name in _outliving(run)}
    months = _months()
    if not kept:
        return months
    indexes = {name: index for name, index in run.xindexes.items() if name in kept}
    return xr.Coordinates({**kept, **months.variables}, {**indexes, **months.xindexes})


def coords_of_totals(days: xr.Dataset, calendar: Calendar) -> dict[Any, Any]:
    """Return the labels of a run that outlive its time axis, and those of years and months."""
    kept = {name: days.coords[name] for name in _outliving(days)}
    return {**kept, "year": calendar.years, "month": np.arange(1, 13)}


def _per_year(values: Any, ufunc: np.ufunc, calendar: Calendar) -> Any:
    """Reduce a daily series to its calendar years by a numpy ufunc such as ``np.add``; missing stays missing."""
    return along_time(
        lambda array: ufunc.reduceat(array.astype(float, copy=False), calendar.starts, axis=-1),
        values,
        "year",
        calendar.starts.size,
    )


def _by_month(values: Any, months: Sequence[np.ndarray]) -> Any:
    """Sum a daily series by month of the year; a month without a day is missing."""
    return along_time(functools.partial(monthly_sums, months=months), values, "month", 12)


def along_time(
    function: Callable[[np.ndarray], np.ndarray], values: Any, dim: str, size: int, dtype: Any = float
) -> Any:
    """Return a series with ``time``, brought last, turned into another dimension by a function of arrays.

    `xarray.apply_ufunc` does it for weather that is not in memory; what it does beside the sum of a year costs more than that.

    Parameters
    ----------
    function
        Turns arrays of shape ``(..., time)`` into arrays of shape ``(..., size)``, in whatever unit.
    values
        Series with ``time``, in any unit, in memory or not; or a plain array of one.
    dim, size
        The other dimension and its length.
    dtype
        Kind of numbers that the function returns.

    Returns
    -------
    xarray.Variable or numpy.ndarray
        In place of ``time``, brought last, `dim`; as lazy as the series, in the unit the function leaves.
    """
    if isinstance(values, np.ndarray):
        return function(values)
    if in_memory(values):
        given = values if values.dims[-1] == "time" else values.transpose(..., "time")
        return xr.Variable((*given.dims[:-1], dim), function(given.to_numpy()))
    return xr.apply_ufunc(
        function,
        values,
        input_core_dims=[["time"]],
        output_core_dims=[[dim]],
        exclude_dims={"time"},
        dask="parallelized",
        output_dtypes=[dtype],
        dask_gufunc_kwargs={"output_sizes": {dim: size}},
    )


def monthly_sums(values: np.ndarray, months: Sequence[np.ndarray]) -> np.ndarray:
    """Sum daily values, shape ``(..., time)``, by month of the year, shape ``(..., 12)``; a month without a day is missing."""
    sums = [values[..., days].sum(axis=-1) if days.size else values[..., 0] * np.nan for days in months]
    return np.stack(sums, axis=-1)


def resampled(totals: Mapping[str, xr.Variable], weights: np.ndarray) -> dict[str, xr.Variable]:
    """Return the totals of records drawn from the years of a record, along ``resample``.

    Parameters
    ----------
    totals
        Variables of `yearly_totals`, or the same of many designs.
    weights
        How often each year counts in each drawn record, shape ``(resample, year)``.

    Returns
    -------
    dict of str to xarray.Variable
        Sums and largest values of each drawn record as if it were one year long; months are not drawn anew.
    """
    drawn = xr.Variable(("resample", "year"), weights)
    kept = {name: of for name, of in totals.items() if name in ("years", "area_m2") or name.endswith("_by_month")}
    sums = [*_SUMS, *(["irrigation"] if "irrigation" in totals else [])]
    made = {name: xr.dot(drawn, totals[name], dim="year") for name in sums}
    made |= {name: totals[name].where(drawn > 0).max("year") for name in _LARGEST}
    peaks = {name: made[f"{name}peak{of_roof}_overflow"] for name, of_roof in (("", "_roof"), ("bare_", ""))}
    per_mm = totals["area_m2"] / 86400.0
    made = {name: values.expand_dims("year") for name, values in made.items()}
    return kept | made | {f"{name}peak_discharge": peak * per_mm for name, peak in peaks.items()}


def years_of_record(time: xr.DataArray) -> float:
    """Return the length of a record in years: days present in each calendar year over the days of that year."""
    return length_in_years(Calendar.of(time), time)


def length_in_years(calendar: Calendar, time: xr.DataArray) -> float:
    """Return the length of a record in years, as `years_of_record` does, where its calendar is at hand."""
    days = np.diff(calendar.year_ends) * time_step(time).hours / 24.0
    kind = "standard" if time.dtype.kind == "M" else time.dt.calendar
    return float(sum(count / _days_in_year(int(year), kind) for year, count in zip(calendar.years, days, strict=True)))


def typical_year(totals: xr.Dataset, time: xr.DataArray) -> int:
    """Return the complete year whose rain is nearest the median; in a short record the fullest year.

    Parameters
    ----------
    totals
        From `yearly_totals`, of one roof at one site.
    time
        Its days.
    """
    count = np.unique(time.dt.year.to_numpy(), return_counts=True)[1]
    full = totals["rain"][np.flatnonzero(count >= min(360, int(count.max())))]
    return int(full["year"][int(np.argmin(abs(full - full.median()).to_numpy()))])


def day_of_most_overflow(days: xr.Dataset, year: int) -> Any:
    """Return the date of the largest overflow of a year, the first of equals.

    Parameters
    ----------
    days
        A daily run of one roof at one site, or one brought to days.
    year
        Calendar year that it holds.
    """
    overflow = days["overflow"][np.flatnonzero((days["time"].dt.year == year).to_numpy())]
    return overflow["time"].to_numpy()[int(np.argmax(overflow.to_numpy()))]


def _days_in_year(year: int, calendar: str) -> int:
    if calendar == "360_day":
        return 360
    if calendar in ("noleap", "365_day"):
        return 365
    if calendar in ("all_leap", "366_day"):
        return 366
    return 366 if year % 4 == 0 and (year % 100 != 0 or year % 400 == 0) else 365


def to_days(run: xr.Dataset, names: Iterable[str] | None = None) -> xr.Dataset:
    """Bring a run in minutes to days, each quantity as its kind asks; a daily run is returned as is.

    Fluxes are summed, stores are those at the end of the day (`runoff.quantities`). A day counts as waterlogged when it was
    so for at least half of its steps.

    Parameters
    ----------
    run
        What `runoff.simulate` returned.
    names
        Quantities to bring; by default all that are known.
    """
    if time_step(run["time"]).daily:
        return run
    given = run.variables
    days, starts = days_of(run["time"])
    on_time = {name: given[name] for name in names or QUANTITIES if name in run and "time" in given[name].dims}
    made = _by_days(on_time, starts, run.sizes["time"])
    for name, values in made.items():
        values.attrs = dict(given[name].attrs)
    rest = {name: given[name] for name in run.data_vars if "time" not in given[name].dims}
    kept = {name: coord for name, coord in run.coords.items() if "time" not in coord.dims}
    return xr.Dataset({**made, **rest}, coords={**kept, "time": days}, attrs=run.attrs)


def _by_days(series: Mapping[str, Any], starts: np.ndarray, steps: int) -> dict[str, Any]:
    """Bring series to days that begin at `starts`, each as its kind asks; see `to_days`."""
    own = {"waterlogged": "half", "waterlogged_share": "mean"}
    how = {name: own[name] if name in own else QUANTITIES[name].over_time for name in series}
    ends = np.append(starts[1:], steps)
    return {name: _by_day(values, how[name], starts, ends) for name, values in series.items()}


def _by_day(values: Any, how: str, starts: np.ndarray, ends: np.ndarray) -> Any:
    """Bring a series to days that begin at `starts` and end before `ends`; a day with a missing step is missing."""

    def reduced(array: np.ndarray) -> np.ndarray:
        if how == "last":
            return array[..., ends - 1]
        if how in _EXTREMES:
            return _EXTREMES[how].reduceat(array.astype(float, copy=False), starts, axis=-1)
        sums = np.add.reduceat(array, starts, axis=-1, dtype=float)
        return sums if how == "sum" else sums / (ends - starts)

    days = along_time(reduced, values, "time", starts.size, values.dtype if how == "last" else float)
    return days >= 0.5 if how == "half" else days


_EXTREMES = {"max": np.maximum, "min": np.minimum}
