"""From a run to the figures people ask for: sums per year first, headline figures from them.

`yearly_totals` reads a run; a sweep forms the same totals inside its loop without keeping every day. Both end in
`facts_from_totals`, so a figure means the same wherever it is shown. A run is of one piece, so nothing in it has to be held
against its coordinates again: in here everything is an `xarray.Variable`, labelled once at the end.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, TypeVar

import numpy as np
import xarray as xr

from runoff.balance.column import ROUNDING_MM
from runoff.quantities import QUANTITIES
from runoff.time_steps import Calendar, time_step

#: A day with at least this much rain is a wet day, and a run of wet days is a rain event (the usual climatological
#: limit, 1 mm). A daily record cannot separate events by hours.
WET_DAY_MM = 1.0

#: In a run in minutes the medium drips for days; an event whose whole overflow is below this counts as held, mm.
TAIL_MM = 0.1

#: What the sums of a year are formed from.
_OF_A_YEAR = (
    "rain", "tmean", "overflow", "evapotranspiration", "roof_overflow", "bare_overflow", "bare_evapotranspiration",
    "medium_water", "waterlogged", "dry",
)  # fmt: skip

_Series = TypeVar("_Series", xr.DataArray, xr.Variable)

#: Headline figures: units and words, in the order in which they are shown.
FACTS: dict[str, tuple[str, str]] = {
    "years": ("1", "years of record"),
    "annual_rain": ("mm", "rain per year"),
    "annual_overflow": ("mm", "overflow per year, per planted area"),
    "annual_evapotranspiration": ("mm", "evapotranspiration per year"),
    "retention": ("1", "share of the rain that never leaves as overflow"),
    "annual_capture_mm": ("mm", "rain kept per year, per planted area"),
    "annual_capture_m3": ("m3", "rain kept per year by the whole roof"),
    "events_held": ("1", "share of rain events without any overflow"),
    "peak_overflow": ("mm/day", "largest overflow of a day (not a storm peak)"),
    "peak_discharge": ("L/s", "largest discharge of the whole roof, mean of one step"),
    "waterlogged_days": ("day/year", "waterlogged days per year"),
    "longest_waterlogged_spell": ("day", "longest waterlogged spell"),
    "rot_risk_days": ("day/year", "days per year at risk of root rot"),
    "excess_water": ("mm day/year", "sum of water above field capacity per year"),
    "dry_days": ("day/year", "dry days per year"),
    "longest_dry_spell": ("day", "longest dry spell"),
}
_OF_THE_BARE_ROOF = (
    "annual_overflow",
    "annual_evapotranspiration",
    "retention",
    "annual_capture_mm",
    "annual_capture_m3",
    "events_held",
    "peak_overflow",
    "peak_discharge",
)


def summarize(
    run: xr.Dataset, *, tolerance_days: float | None = None, warm_c: float | None = None, wet_day_mm: float = WET_DAY_MM
) -> xr.Dataset:
    """Return the headline figures of a run.

    Parameters
    ----------
    run
        What `runoff.simulate` returned. Steps shorter than a day are first brought to days; ``peak_discharge``
        keeps the step.
    tolerance_days
        Waterlogged days a spell may last before its days count as rot risk; default as in the run.
    warm_c
        Mean day temperature (degC) from which rot is counted; default as in the run. Without temperature all
        days count.
    wet_day_mm
        Rain of a wet day; runs of wet days are the rain events.

    Returns
    -------
    xarray.Dataset
        The figures of `FACTS`, the same for the comparison roof with ``bare_`` in front where they make sense,
        and ``retention_by_month`` along ``month``. Leading dimensions of the run are kept. Days per year are
        mean counts; the bands from watch to loss are a reading aid, no published limit exists for roofs.

    Notes
    -----
    Retention is cumulative (one minus all overflow over all rain), the only kind an annual claim can rest on;
    the mean over events is always higher. ``peak_overflow`` is the sum of a day: it says nothing about the peak
    of a storm, for which a run in minutes is needed.
    """
    tolerance = run.attrs.get("tolerance_days", 2.0) if tolerance_days is None else tolerance_days
    warm = run.attrs.get("warm_c", 5.0) if warm_c is None else warm_c
    return facts_from_totals(yearly_totals(run, tolerance_days=tolerance, warm_c=warm, wet_day_mm=wet_day_mm))


def yearly_totals(
    run: xr.Dataset, *, tolerance_days: float = 2.0, warm_c: float = 5.0, wet_day_mm: float = WET_DAY_MM
) -> xr.Dataset:
    """Return sums, counts and largest values of a run, per calendar year and per month of the year.

    Returns
    -------
    xarray.Dataset
        On ``year``: ``rain``, ``overflow``, ``evapotranspiration``, ``roof_overflow`` (mm), the counts of days,
        ``events``, ``events_held``, the largest values and spells, and the comparison roof's. On ``month``:
        ``rain_by_month`` and the overflows (mm). Without time: ``years``, ``area_m2``, ``peak_discharge``. A
        month without a day in the record is missing, a cell with missing weather is missing throughout.
    """
    days = to_days(run, _OF_A_YEAR)
    calendar = Calendar.of(days["time"])
    given = days.variables
    held_below = ROUNDING_MM if days is run else TAIL_MM
    made = _comparison(days, calendar, wet_day_mm)
    wet_spell, dry_spell = (running_spell(given[name]) for name in ("waterlogged", "dry"))
    warm = given["tmean"] >= warm_c if "tmean" in given else xr.ones_like(given["time"], dtype=bool)
    summed = {
        "overflow": given["overflow"],
        "evapotranspiration": given["evapotranspiration"],
        "roof_overflow": given["roof_overflow"],
        "waterlogged_days": wet_spell > 0,
        "rot_risk_days": (wet_spell > tolerance_days) & warm,
        "dry_days": dry_spell > 0,
        "excess_water": (given["medium_water"] - given["field_water"]).clip(min=0.0),
    }
    made |= {name: _per_year(values, np.add, calendar) for name, values in summed.items()}
    largest = {
        "peak_overflow": given["overflow"],
        "longest_waterlogged_spell": wet_spell,
        "longest_dry_spell": dry_spell,
    }
    made |= {name: _per_year(values, np.maximum, calendar) for name, values in largest.items()}
    begins = event_starts(given["rain"], wet_day_mm)
    made["events_held"] = _count_events(begins, given["overflow"], calendar, held_below)[1]
    made["overflow_by_month"] = _by_month(given["overflow"], calendar)
    made["area_m2"] = run.variables["area_m2"]
    made["peak_discharge"] = run.variables["discharge"].max("time")
    made["bare_peak_discharge"] = run.variables["bare_discharge"].max("time")
    missing = run.variables["medium_water"].isnull().any("time")
    if bool(missing.any()):
        of_the_record = ["years", "area_m2"]  # known whatever the weather of a cell
        made = {name: values if name in of_the_record else values.where(~missing) for name, values in made.items()}
    return xr.Dataset(made, coords=_coords_of_totals(days, calendar), attrs=run.attrs)


def comparison_totals(days: xr.Dataset, *, wet_day_mm: float = WET_DAY_MM) -> dict[Any, xr.DataArray]:
    """Return the part of `yearly_totals` that no design changes: rain, events and the comparison roof.

    Parameters
    ----------
    days
        Daily ``rain``, ``bare_overflow`` and ``bare_evapotranspiration`` (mm).
    wet_day_mm
        Rain of a wet day.
    """
    calendar = Calendar.of(days["time"])
    made = _comparison(days, calendar, wet_day_mm)
    return dict(xr.Dataset(made, coords=_coords_of_totals(days, calendar)).data_vars)


def _comparison(days: xr.Dataset, calendar: Calendar, wet_day_mm: float) -> dict[str, xr.Variable]:
    given = days.variables
    made = {"years": xr.Variable((), years_of_record(days["time"]))}
    for name in ("rain", "bare_overflow", "bare_evapotranspiration"):
        made[name] = _per_year(given[name], np.add, calendar)
    made["bare_peak_overflow"] = _per_year(given["bare_overflow"], np.maximum, calendar)
    begins = event_starts(given["rain"], wet_day_mm)
    made["events"], made["bare_events_held"] = _count_events(begins, given["bare_overflow"], calendar)
    for name in ("rain", "bare_overflow"):
        made[f"{name}_by_month"] = _by_month(given[name], calendar)
    return made


def _coords_of_totals(days: xr.Dataset, calendar: Calendar) -> dict[Any, Any]:
    """Return the labels of a run that outlive its time axis, and those of years and months."""
    kept = {name: coord for name, coord in days.coords.items() if "time" not in coord.dims}
    return {**kept, "year": calendar.years, "month": np.arange(1, 13)}


def _per_year(values: xr.Variable, ufunc: np.ufunc, calendar: Calendar) -> xr.Variable:
    """Reduce a daily series to its calendar years by a numpy ufunc such as ``np.add``; missing stays missing."""
    starts = calendar.starts
    return xr.apply_ufunc(
        lambda array: ufunc.reduceat(array, starts, axis=-1),
        values.astype(float),
        input_core_dims=[["time"]],
        output_core_dims=[["year"]],
        dask="parallelized",
        output_dtypes=[float],
        dask_gufunc_kwargs={"output_sizes": {"year": starts.size}},
    )


def _by_month(values: xr.Variable, calendar: Calendar) -> xr.Variable:
    """Sum a daily series by month of the year; a month without a day is missing."""
    days = [calendar.month == number for number in range(1, 13)]

    def sums(array: np.ndarray) -> np.ndarray:
        return np.stack(
            [array[..., one].sum(axis=-1) if one.any() else array[..., 0] * np.nan for one in days], axis=-1
        )

    return xr.apply_ufunc(
        sums,
        values,
        input_core_dims=[["time"]],
        output_core_dims=[["month"]],
        dask="parallelized",
        output_dtypes=[float],
        dask_gufunc_kwargs={"output_sizes": {"month": 12}},
    )


def facts_from_totals(totals: xr.Dataset) -> xr.Dataset:
    """Return the headline figures from yearly totals; see `summarize`.

    Sums over years are divided by ``years``, largest values are taken over them. ``events`` counts all events.
    """
    given = totals.variables
    years = given["years"]
    rain = given["rain"].sum("year", skipna=False)

    def mean(name: str) -> xr.Variable:
        return given[name].sum("year", skipna=False) / years

    events = given["events"].sum("year")
    monthly_rain = given["rain_by_month"]
    facts: dict[str, Any] = {"years": years, "annual_rain": rain / years}
    for surface, whole in (("", "roof_overflow"), ("bare_", "bare_overflow")):
        overflow = given[f"{surface}overflow"].sum("year", skipna=False)
        facts[f"{surface}annual_overflow"] = overflow / years
        facts[f"{surface}annual_evapotranspiration"] = mean(f"{surface}evapotranspiration")
        facts[f"{surface}retention"] = 1.0 - overflow / rain.where(rain > 0)
        facts[f"{surface}annual_capture_mm"] = (rain - overflow) / years
        kept = rain - given[whole].sum("year", skipna=False)
        facts[f"{surface}annual_capture_m3"] = kept / years * given["area_m2"] / 1000.0
        held = given[f"{surface}events_held"].sum("year", skipna=False)
        facts[f"{surface}events_held"] = held / events.where(events > 0)
        facts[f"{surface}peak_overflow"] = given[f"{surface}peak_overflow"].max("year")
        facts[f"{surface}peak_discharge"] = given[f"{surface}peak_discharge"]
        share = given[f"{surface}overflow_by_month"] / monthly_rain.where(monthly_rain > 0)
        facts[f"{surface}retention_by_month"] = 1.0 - share
    for name in ("waterlogged_days", "rot_risk_days", "dry_days", "excess_water"):
        facts[name] = mean(name)
    for name in ("longest_waterlogged_spell", "longest_dry_spell"):
        facts[name] = given[name].max("year")
    ordered = [*FACTS, *(f"bare_{name}" for name in _OF_THE_BARE_ROOF), "retention_by_month", "bare_retention_by_month"]
    coords = {name: coord for name, coord in totals.coords.items() if "year" not in coord.dims}
    labelled = xr.Dataset({name: facts[name] for name in ordered}, coords=coords, attrs=totals.attrs)
    labelled = labelled.transpose(..., "month")
    _label(labelled)
    labelled.attrs["note"] = (
        "The largest overflow of a day is no storm peak: run a design storm in minutes for that. Days of waterlogging and rot risk are a reading aid; no published day limit exists for roofs."
    )
    return labelled


def _label(facts: xr.Dataset) -> None:
    written = facts.variables
    for name, (units, words) in FACTS.items():
        written[name].attrs = {"units": units, "long_name": words}
        if f"bare_{name}" in written:
            written[f"bare_{name}"].attrs = {"units": units, "long_name": f"comparison roof: {words}"}
    for prefix, words in (("", ""), ("bare_", "comparison roof: ")):
        written[f"{prefix}retention_by_month"].attrs = {"units": "1", "long_name": f"{words}retention by month"}


def years_of_record(time: xr.DataArray) -> float:
    """Return the length of a record in years: days present in each calendar year over the days of that year."""
    stamps: Any = time.to_index()
    years, steps = np.unique(np.asarray(stamps.year), return_counts=True)
    days, calendar = steps * time_step(time).hours / 24.0, time.dt.calendar
    return float(sum(count / _days_in_year(int(year), calendar) for year, count in zip(years, days, strict=True)))


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
    on_time = [name for name in names or QUANTITIES if name in run and "time" in run[name].dims]
    days = xr.Dataset(attrs=run.attrs)
    for name in on_time:
        parts, how = run[name].resample(time="1D"), QUANTITIES[name].over_time
        if name == "waterlogged":
            days[name] = run[name].astype(float).resample(time="1D").mean() >= 0.5
        elif how == "sum":
            days[name] = parts.sum("time", skipna=False)
        else:
            days[name] = getattr(parts, how)()
    return days.assign({name: values for name, values in run.data_vars.items() if "time" not in values.dims})


def running_spell(flags: _Series) -> _Series:
    """Count how long each spell of true steps has lasted so far, steps; 0 where false."""

    def count(values: np.ndarray) -> np.ndarray:
        true = np.nan_to_num(values.astype(float)) > 0
        total = np.cumsum(true, axis=-1)
        before = np.maximum.accumulate(np.where(true, 0, total), axis=-1)
        return total - before

    return xr.apply_ufunc(
        count,
        flags,
        input_core_dims=[["time"]],
        output_core_dims=[["time"]],
        dask="parallelized",
        output_dtypes=[int],
    )


def event_starts(rain: _Series, wet_day_mm: float = WET_DAY_MM) -> _Series:
    """Mark the first day of each run of wet days."""
    wet: Any = rain >= wet_day_mm
    return wet & ~wet.shift(time=1, fill_value=False)


def _count_events(
    begins: xr.Variable, overflow: xr.Variable, calendar: Calendar, held_below: float = ROUNDING_MM
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
