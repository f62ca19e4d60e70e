"""Many designs under the same weather: figures for every combination of the values given.

No day of any design is kept. The loop of `runoff.balance.column.run_totals` forms sums per year, and the figures
follow from them as they do for a single run.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import xarray as xr

from runoff.balance import column, surfaces
from runoff.errors import RunoffError
from runoff.findings.summary import (
    WET_DAY_MM,
    comparison_totals,
    event_starts,
    facts_from_totals,
)
from runoff.simulation import (
    RootLimits,
    SnowRule,
    prepare_forcing,
    step_hours,
    steps_in_first_years,
    warm_up_length,
)

if TYPE_CHECKING:
    from runoff.roof import BareSurface, Roof


def sweep(
    roof: Roof,
    weather: Any,
    choices: Mapping[str, Sequence[Any]],
    *,
    warm_up_years: int | None = None,
    et_method: str | None = None,
    limits: RootLimits | None = None,
    snow: SnowRule | None = None,
    comparison: BareSurface | None = None,
) -> xr.Dataset:
    """Return the headline figures of every combination of the given values.

    Parameters
    ----------
    roof
        The roof from which the designs differ.
    weather
        A daily record of one site.
    choices
        Values per property, named ``layer.field`` (``medium.depth_mm``, ``board.cup_storage_mm``) or
        ``roof.field`` (``roof.fall``).
    warm_up_years, et_method, limits, snow, comparison
        As in `runoff.simulate`.

    Returns
    -------
    xarray.Dataset
        The figures of `runoff.summarize` along ``design``, with one coordinate per property swept.

    Raises
    ------
    RoofError
        When a property is not known or a value is out of range.
    WeatherError
        When the record is not daily, not of one site, or has gaps.
    """
    if not choices:
        raise RunoffError('sweep: no choices given; name at least one, for example {"medium.depth_mm": [60, 80, 100]}')
    empty = [name for name, values in choices.items() if len(values) == 0]
    if empty:
        raise RunoffError(f"sweep: no values given for {', '.join(empty)}")
    grid = list(itertools.product(*choices.values()))
    roofs = [roof.replace(dict(zip(choices, values, strict=True))) for values in grid]
    totals = totals_of_designs(
        roofs,
        weather,
        warm_up_years=warm_up_years,
        et_method=et_method,
        limits=limits,
        snow=snow,
        comparison=comparison,
    )
    coords = {name: ("design", [values[i] for values in grid]) for i, name in enumerate(choices)}
    return facts_from_totals(totals.assign_coords(design=np.arange(len(grid)), **coords))


def totals_of_designs(
    roofs: Sequence[Roof],
    weather: Any,
    *,
    warm_up_years: int | None = None,
    et_method: str | None = None,
    limits: RootLimits | None = None,
    snow: SnowRule | None = None,
    comparison: BareSurface | None = None,
) -> xr.Dataset:
    """Return yearly totals of many roofs under one daily record, as `runoff.findings.summary.yearly_totals` does.

    Returns
    -------
    xarray.Dataset
        Dimensions ``year``, ``month`` and ``design``.
    """
    from runoff.roof import BareSurface, column_parameters

    limits, snow = limits or RootLimits(), snow or SnowRule()
    comparison = comparison or BareSurface(kind="membrane")
    forcing = _daily_forcing(weather, et_method)
    years = warm_up_length(forcing["time"], warm_up_years)
    warm_steps = steps_in_first_years(forcing["time"], years) if years else 0
    par = column.parameter_array(
        [column_parameters(one) for one in roofs], 24.0, limits.air_threshold, limits.dry_share
    )
    stores = column.start_stores(par, "field-capacity")
    # designs that share their unplanted surface run together: its overflow is then one series for all of them
    surface = np.array([one.other_surface.depression_storage_mm for one in roofs])
    bare = _surface(forcing, snow, comparison.depression_storage_mm, warm_steps)
    totals = comparison_totals(
        xr.Dataset({"rain": forcing["rain"], "bare_overflow": bare.spilled, "bare_evapotranspiration": bare.evaporated})
    )
    yearly = np.empty((totals.sizes["year"], len(column.TOTALS), len(roofs)))
    monthly = np.empty((12, len(roofs)))
    for capacity in np.unique(surface):
        alike = np.flatnonzero(surface == capacity)
        other = _surface(forcing, snow, capacity, warm_steps)
        kept = stores[:, alike]
        if warm_steps:
            kept = _loop(forcing.isel(time=slice(0, warm_steps)), other.warm_up, limits, par[:, alike], kept)[2]
        yearly[:, :, alike], monthly[:, alike], _ = _loop(forcing, other, limits, par[:, alike], kept)
    for i, name in enumerate(column.TOTALS):
        totals[name] = (("year", "design"), yearly[:, i])
    totals["overflow_by_month"] = (("month", "design"), monthly)
    totals["area_m2"] = ("design", np.array([one.area_m2 for one in roofs]))
    per_mm = totals["area_m2"] / 86400.0  # L/s for one mm a day
    totals["peak_discharge"] = totals["peak_roof_overflow"].max("year") * per_mm
    totals["bare_peak_discharge"] = totals["bare_peak_overflow"].max("year") * per_mm
    totals.attrs.update(
        reference_et_method=str(forcing["reference_et"].attrs.get("method", "given")),
        tolerance_days=limits.tolerance_days,
        warm_c=limits.warm_c,
        air_threshold=limits.air_threshold,
        dry_share=limits.dry_share,
        warm_up_years=years,
        weather=str(forcing.attrs.get("source", "not stated")),
        invented=str(forcing.attrs.get("invented", "no")),
    )
    return totals


def _daily_forcing(weather: Any, et_method: str | None) -> xr.Dataset:
    forcing = prepare_forcing(weather, et_method)
    if forcing["rain"].dims != ("time",):
        raise RunoffError(
            f"sweep: the weather has dimensions {', '.join(map(str, forcing['rain'].dims))}; "
            "a sweep takes one site at a time, select one"
        )
    hours = step_hours(forcing["time"])
    if hours != 24.0:
        raise RunoffError(
            f"sweep: the weather has steps of {hours:g} h, a daily record is needed; "
            "sum it to days with runoff.daily_totals(weather)"
        )
    return forcing


class _Surface(NamedTuple):
    """Snow and one depression store over the record, and over the warm-up before it."""

    liquid: np.ndarray
    spilled: xr.DataArray
    evaporated: xr.DataArray
    warm_up: Any  # the same over the warm-up, or None


def _surface(forcing: xr.Dataset, snow: SnowRule, capacity: float, warm_steps: int) -> _Surface:
    snow_before, water_before, warm_up = np.array(0.0), np.array(0.0), None
    passes = [forcing.isel(time=slice(0, warm_steps)), forcing] if warm_steps else [forcing]
    for piece in passes:
        rain = piece["rain"].to_numpy().astype(float)
        liquid = rain
        if "tmean" in piece:
            liquid, snow_water = surfaces.snow_and_melt(
                rain,
                piece["tmean"].to_numpy().astype(float),
                threshold=snow.snow_below_c,
                melt_per_step=snow.melt_mm_per_c_day,
                snow=snow_before,
            )
            snow_before = snow_water[-1]
        spilled, evaporated, water = surfaces.depression_store(
            liquid, piece["reference_et"].to_numpy().astype(float), capacity=np.array(capacity), water=water_before
        )
        water_before = water[-1]
        time = {"time": piece["time"]}
        done = _Surface(
            liquid, xr.DataArray(spilled, time, ["time"]), xr.DataArray(evaporated, time, ["time"]), warm_up
        )
        warm_up = done
    return done


def _loop(
    forcing: xr.Dataset, other: _Surface, limits: RootLimits, par: np.ndarray, stores: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Run all designs over a piece of weather."""
    time = forcing["time"]
    year = time.dt.year.to_numpy()
    starts = np.flatnonzero(np.diff(year, prepend=year[0] - 1))
    warm = (forcing["tmean"] >= limits.warm_c).to_numpy() if "tmean" in forcing else np.ones(year.size)
    return column.run_totals(
        other.liquid,
        forcing["reference_et"].to_numpy(),
        other.spilled.to_numpy(),
        warm,
        time.dt.month.to_numpy() - 1,
        event_starts(forcing["rain"], WET_DAY_MM).to_numpy(),
        np.append(starts, year.size),
        limits.tolerance_days,
        par,
        stores,
    )
