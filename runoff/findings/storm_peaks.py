"""Design storms before and after: peaks at the outlet in minutes, from a depth-duration table."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import xarray as xr

from runoff.errors import StormError
from runoff.findings.storm_comparison import BARE, PLANTED, compare_storm, followed_by_dry
from runoff.simulation import simulate, storm_flows
from runoff.storms.design_storms import design_storm
from runoff.time_steps import time_step

if TYPE_CHECKING:
    from runoff.roof import BareSurface, Roof
    from runoff.storms.depth_duration import DepthDurationTable

#: Return periods that public programmes ask for, years.
RETURN_PERIODS = (2, 10, 100)
_STEPS_MIN = (5.0, 10.0, 15.0, 30.0, 60.0)


def storms_of_table(table: DepthDurationTable, *, pattern: str = "alternating-block") -> dict[int, xr.DataArray]:
    """Return the design storms that a table can give: return period -> rain, mm per step.

    The storm is 24 h long in steps of 5 min where the table reaches that far, else as long and as fine as it goes. A
    return period outside the table is left out; nothing is extrapolated.

    Raises
    ------
    StormError
        When the table gives none of the return periods.
    """
    step = next((minutes for minutes in _STEPS_MIN if minutes >= table.durations_min[0] * (1 - 1e-9)), None)
    longest = min(1440.0, table.durations_min[-1])
    wanted = [years for years in RETURN_PERIODS if _lies_inside(table, years)]
    if step is None or longest < 2.0 * step or not wanted:
        raise StormError(
            f"{table.source}: the table has {table.durations_min[0]:g} to {table.durations_min[-1]:g} min and "
            f"{table.return_periods_years[0]:g} to {table.return_periods_years[-1]:g} years; storms of a dossier need "
            f"durations from at most 60 min upwards and one of {', '.join(map(str, RETURN_PERIODS))} years"
        )
    length = step * int(longest / step)
    return {
        years: design_storm(
            duration=f"{length:g}min",
            step=f"{step:g}min",
            pattern=pattern,
            depth_duration=table,
            return_period_years=years,
        )
        for years in wanted
    }


def run_storms(
    roofs: Roof | Sequence[Roof], storms: Mapping[int, xr.DataArray], existing: BareSurface
) -> dict[int, xr.Dataset]:
    """Run one or several roofs through each storm from field capacity, with a dry day after it to drain.

    Parameters
    ----------
    roofs
        As in `runoff.simulate`.
    storms
        Return period, years, to rain, mm per step.
    existing
        The roof as it is today: comparison of the runs.

    Returns
    -------
    dict of xarray.Dataset
        Return period to run, along ``design`` for several roofs.
    """
    return {
        years: simulate(roofs, followed_by_dry(storm), start_moisture="field-capacity", comparison=existing)
        for years, storm in storms.items()
    }


def compare_storms(runs: Mapping[int, xr.Dataset], roof: Roof, existing: BareSurface) -> dict[int, xr.Dataset]:
    """Set the planted roof beside the roof as it is, both draining through the same outlets (`compare_storm`).

    Parameters
    ----------
    runs
        Return period, years, to run of `run_storms`.
    roof, existing
        The planted roof of the runs, and the roof as it is today.

    Returns
    -------
    dict of xarray.Dataset
        Return period to comparison.
    """
    return {years: compare_storm(run, roof, bare=existing) for years, run in runs.items()}


def storm_figures(comparisons: Mapping[int, xr.Dataset]) -> xr.Dataset:
    """Return depth, peaks, capture and runoff coefficients of each storm along ``return_period``.

    Returns
    -------
    xarray.Dataset
        ``storm_depth_mm``, ``storm_intensity`` (largest of one step, mm/h), ``storm_peak`` and ``storm_bare_peak``
        (L/s of the whole roof), ``storm_peak_reduction``, ``storm_peak_delay`` (min), ``storm_capture_mm`` (not run off
        a day after the storm, mean of the whole roof), coefficients of volume and peak of both roofs,
        ``storm_water_depth_mm`` (at the outlets of the planted roof).
    """
    rows = [_of_one_storm(one) for one in comparisons.values()]
    figures = xr.concat(rows, "return_period", coords="minimal", compat="equals")
    figures = figures.assign_coords(return_period=list(comparisons))
    for name, (unit, words) in _WORDS.items():
        figures[name].attrs = {"units": unit, "long_name": words}
    return figures


def sampled_storm_figures(
    roofs: Sequence[Roof],
    storms: Mapping[int, xr.DataArray],
    existing: BareSurface,
    runs: Mapping[int, xr.Dataset],
    comparisons: Mapping[int, xr.Dataset],
) -> xr.Dataset:
    """Return peak, its reduction and runoff of many roofs that differ in their planted layers only, along ``design``.

    Parameters
    ----------
    roofs
        Roofs with the outlets, area and unplanted part of the roof itself.
    storms, existing
        As in `run_storms`.
    runs, comparisons
        Run and comparison of the roof itself. What its unplanted part sends to the outlets is the same for all.

    Returns
    -------
    xarray.Dataset
        ``storm_peak`` (L/s), ``storm_peak_reduction``, ``storm_capture_mm`` and ``storm_runoff_coefficient``, on
        ``(return_period, design)``.
    """
    sampled = []
    for years, storm in storms.items():
        run, comparison = runs[years], comparisons[years]
        many = storm_flows(roofs, followed_by_dry(storm), ("overflow",), start_moisture="field-capacity")
        shed = xr.DataArray(many.kept["overflow"], dims=("design", "time"), coords=many.columns.coords)
        flow, seconds = comparison["hydrograph"].sel(surface=PLANTED, drop=True), 3600.0 * time_step(run["time"]).hours
        per_mm = float(run["planted_fraction"]) * float(run["area_m2"]) / seconds
        flows = flow + (shed - run["overflow"]) * per_mm
        depth = run["rain"].sum("time")
        left = flows.sum("time") * seconds / float(run["area_m2"])
        peak = flows.max("time")
        existing_peak = comparison["peak_discharge"].sel(surface=BARE, drop=True)
        sampled.append(
            xr.Dataset(
                {
                    "storm_peak": peak,
                    "storm_peak_reduction": 1.0 - peak / existing_peak,
                    "storm_capture_mm": _arrived(comparison) - left,
                    "storm_runoff_coefficient": left / depth,
                }
            ).reset_coords(drop=True)
        )
    figures = xr.concat(sampled, "return_period", coords="minimal", compat="equals")
    for name in figures.data_vars:
        figures[name].attrs["units"] = _WORDS[str(name)][0]
    return figures.assign_coords(return_period=list(runs))


_WORDS = {
    "storm_depth_mm": ("mm", "rain of the design storm"),
    "storm_intensity": ("mm/h", "largest intensity of one step"),
    "storm_peak": ("L/s", "peak discharge of the whole planted roof"),
    "storm_bare_peak": ("L/s", "peak discharge of the roof as it is, through the same outlets"),
    "storm_peak_reduction": ("1", "reduction of the peak"),
    "storm_peak_delay": ("min", "delay of the peak"),
    "storm_capture_mm": ("mm", "rain not run off a day after the storm, mean of the whole roof"),
    "storm_runoff_coefficient": ("1", "share of the storm's rain that runs off the whole roof"),
    "storm_bare_runoff_coefficient": ("1", "share of the storm's rain that runs off the roof as it is"),
    "storm_peak_coefficient": ("1", "peak discharge over largest intensity times area"),
    "storm_bare_peak_coefficient": ("1", "the same for the roof as it is"),
    "storm_water_depth_mm": ("mm", "largest depth of water at the outlets"),
}


def _arrived(comparison: xr.Dataset) -> xr.DataArray:
    """Return the rain of a storm and, where there is any, its run-on, mm of the whole roof."""
    rain = comparison["rain"].sum("time")
    return rain + comparison["run_on"].sum("time") if "run_on" in comparison else rain


def _of_one_storm(comparison: xr.Dataset) -> xr.Dataset:
    planted, bare = (comparison.sel(surface=name, drop=True) for name in (PLANTED, BARE))
    depth = comparison["rain"].sum("time")
    return xr.Dataset(
        {
            "storm_depth_mm": depth,
            "storm_intensity": comparison["rain_intensity"].max("time"),
            "storm_peak": planted["peak_discharge"],
            "storm_bare_peak": bare["peak_discharge"],
            "storm_peak_reduction": planted["peak_cut"],
            "storm_peak_delay": planted["peak_delay"],
            "storm_capture_mm": _arrived(comparison) - planted["runoff_depth"],
            "storm_runoff_coefficient": planted["runoff_coefficient"],
            "storm_bare_runoff_coefficient": bare["runoff_coefficient"],
            "storm_peak_coefficient": planted["peak_coefficient"],
            "storm_bare_peak_coefficient": bare["peak_coefficient"],
            "storm_water_depth_mm": planted["largest_depth_on_deck"],
        }
    ).reset_coords(drop=True)


def _lies_inside(table: DepthDurationTable, years: float) -> bool:
    return table.return_periods_years[0] <= years <= table.return_periods_years[-1]
