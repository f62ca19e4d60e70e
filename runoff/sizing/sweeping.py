"""Many designs under the same weather: figures for every combination of the values given.

No day of any design is kept. The loop of `runoff.balance.column_totals.run_totals` forms sums per year, and the figures
follow from them as they do for a single run.
"""

from __future__ import annotations

import math
import os
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import xarray as xr

from runoff.balance import column, surfaces
from runoff.balance.column_totals import run_totals
from runoff.errors import RunoffError, SizingError
from runoff.findings.summary import (
    WET_DAY_MM,
    comparison_totals,
    event_starts,
    facts_from_totals,
)
from runoff.simulation import RootLimits, SnowRule
from runoff.sizing.designs import DesignGrid, Designs, refuse_no_values
from runoff.weather.record.forcing import prepare_forcing, step_hours, steps_in_first_years, warm_up_length

if TYPE_CHECKING:
    from runoff.roof import BareSurface, Roof


_DESIGNS_PER_PIECE = 20_000
# measured for 30 years: yearly totals of one piece (4 to 7 kB a design) are dropped once its figures stand, a design then
# costs its figures
_BYTES_IN_WORK, _BYTES_PER_DESIGN, _BYTES_PER_PART = 8_000, 1_000, 2_000


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
    progress: bool | None = None,
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
    progress
        Whether a progress bar is shown; by default on long sweeps.

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
    designs = designs_of(roof, choices)
    rules = {
        "warm_up_years": warm_up_years,
        "et_method": et_method,
        "limits": limits,
        "snow": snow,
        "comparison": comparison,
    }
    return facts_of_designs(designs, weather, progress=progress, **rules).assign_coords(designs.coords())


def designs_of(roof: Roof, choices: Mapping[str, Sequence[Any]]) -> DesignGrid:
    """Return every combination of the choices.

    Raises
    ------
    SizingError
        When nothing is to be varied, or the figures would not fit into memory.
    """
    refuse_no_values(choices)
    _refuse_too_many(choices)
    return DesignGrid(roof, choices)


def _refuse_too_many(choices: Mapping[str, Sequence[Any]]) -> None:
    """Refuse a grid whose figures and parts would not fit into memory, before any of it is made."""
    count = math.prod(len(values) for values in choices.values())
    of_part: dict[str, int] = {}
    for name, values in choices.items():
        word = name.partition(".")[0]
        of_part[word] = of_part.get(word, 1) * len(values)
    needed = min(count, _DESIGNS_PER_PIECE) * _BYTES_IN_WORK + count * _BYTES_PER_DESIGN
    needed += sum(of_part.values()) * _BYTES_PER_PART
    free = _free_memory_gb()
    if needed / 1e9 > free:
        raise SizingError(
            f"sweep: {count:,} designs need about {needed / 1e9:.1f} GB and {free:.1f} GB are free; give fewer values, or "
            "split the values of one property over several sweeps and write the figures of each to a file before the next"
        )


def _free_memory_gb() -> float:
    """Return free memory, GB; where the system does not tell, a cautious 4."""
    try:
        return os.sysconf("SC_AVPHYS_PAGES") * os.sysconf("SC_PAGE_SIZE") / 1e9
    except (AttributeError, ValueError, OSError):
        return 4.0


def facts_of_designs(roofs: Designs, weather: Any, *, progress: bool | None = None, **rules: Any) -> xr.Dataset:
    """Return the headline figures of many roofs along ``design``, working piece by piece.

    Parameters
    ----------
    roofs
        The designs.
    weather
        A daily record of one site.
    progress
        Whether a progress bar is shown; by default when there is more than one piece.
    **rules
        As in `sweep`.
    """
    starts = range(0, len(roofs), _DESIGNS_PER_PIECE)
    shown = len(starts) > 1 if progress is None else progress
    facts = []
    for start in _bar(starts, shown):
        piece = range(start, min(start + _DESIGNS_PER_PIECE, len(roofs)))
        totals = totals_of_designs(roofs, weather, piece=piece, **rules)
        facts.append(facts_from_totals(totals))
    if len(facts) == 1:
        return facts[0]
    return xr.concat(
        facts, "design", data_vars="minimal", coords="minimal", compat="override", combine_attrs="override"
    )


def _bar(pieces: Sequence[int], shown: bool) -> Any:
    if not shown:
        return pieces
    from tqdm.auto import tqdm

    return tqdm(pieces, desc="designs", unit=f" x {_DESIGNS_PER_PIECE}")


def totals_of_designs(
    roofs: Designs,
    weather: Any,
    *,
    piece: range | None = None,
    warm_up_years: int | None = None,
    et_method: str | None = None,
    limits: RootLimits | None = None,
    snow: SnowRule | None = None,
    comparison: BareSurface | None = None,
) -> xr.Dataset:
    """Return yearly totals of many roofs under one daily record, as `runoff.findings.summary.yearly_totals` does.

    `piece` says which of the roofs; default all.

    Returns
    -------
    xarray.Dataset
        Dimensions ``year``, ``month`` and ``design``.
    """
    from runoff.roof import BareSurface

    limits, snow = limits or RootLimits(), snow or SnowRule()
    comparison = comparison or BareSurface(kind="membrane")
    forcing = _daily_forcing(weather, et_method)
    years = warm_up_length(forcing["time"], warm_up_years)
    warm_steps = steps_in_first_years(forcing["time"], years) if years else 0
    par, surface, area = parameters_of_designs(roofs, limits, piece)
    stores = column.start_stores(par, "field-capacity")
    # designs that share their unplanted surface run together: its overflow is then one series for all of them
    capacities = np.unique(surface)
    bare = _surface(forcing, snow, comparison.depression_storage_mm, warm_steps)
    days = {"rain": forcing["rain"], "bare_overflow": bare.spilled, "bare_evapotranspiration": bare.evaporated}
    totals = xr.Dataset(comparison_totals(xr.Dataset(days)))
    several = capacities.size > 1
    yearly: Any = np.empty((totals.sizes["year"], len(column.TOTALS), surface.size)) if several else None
    monthly: Any = np.empty((12, surface.size)) if several else None
    for capacity in capacities:
        alike = np.flatnonzero(surface == capacity) if several else slice(None)
        other = _surface(forcing, snow, capacity, warm_steps)
        kept = stores[:, alike]
        if warm_steps:
            kept = _loop(forcing.isel(time=slice(0, warm_steps)), other.warm_up, limits, par[:, alike], kept)[2]
        of_years, of_months, _ = _loop(forcing, other, limits, par[:, alike], kept)
        if several:
            yearly[:, :, alike], monthly[:, alike] = of_years, of_months
        else:
            yearly, monthly = of_years, of_months  # as they are: a copy of everything takes its time
    of_designs: dict[str, Any] = {name: (("year", "design"), yearly[:, i]) for i, name in enumerate(column.TOTALS)}
    of_designs |= {"overflow_by_month": (("month", "design"), monthly), "area_m2": ("design", area)}
    totals = totals.assign(of_designs)  # all at once: xarray compares the coordinates anew at every assignment
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


def parameters_of_designs(
    roofs: Designs, limits: RootLimits, piece: range | None = None
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return what the loops read, and what else a sweep needs of each design.

    Returns
    -------
    parameters
        Shape ``(parameter, design)``.
    surface
        Depression storage of the unplanted surface, mm, shape ``(design,)``.
    area
        Area of the roof, m2, shape ``(design,)``.
    """
    from runoff.roof import column_parameters

    shares = (limits.air_threshold, limits.dry_share)
    piece = range(len(roofs)) if piece is None else piece
    if not isinstance(roofs, DesignGrid):
        some = [roofs[i] for i in piece]
        par = column.parameter_array([column_parameters(one) for one in some], 24.0, *shares)
        surface = np.array([one.other_surface.depression_storage_mm for one in some])
        return par, surface, np.array([one.area_m2 for one in some])
    par, surface, area = np.empty((len(column.PARAMETERS), len(piece))), np.empty(len(piece)), np.empty(len(piece))
    for places, alike in roofs.alike(piece):
        par[:, places] = column.parameter_array(column_parameters(alike), 24.0, *shares)
        surface[places], area[places] = alike.other_surface.depression_storage_mm, alike.area_m2
    return par, surface, area


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
    return run_totals(
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
