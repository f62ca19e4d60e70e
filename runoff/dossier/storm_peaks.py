"""Design storms before and after: peaks at the outlet in minutes, from a depth-duration table."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
import xarray as xr

from runoff.errors import StormError
from runoff.simulation import simulate
from runoff.units import to_intensity
from runoff.weather.storms import design_storm

if TYPE_CHECKING:
    from runoff.roof import BareSurface, Roof
    from runoff.weather.depth_duration import DepthDurationTable

#: Return periods that public programmes ask for, years.
RETURN_PERIODS = (2, 10, 100)
_STEPS_MIN = (5.0, 10.0, 15.0, 30.0, 60.0)
_DRAIN_HOURS = 24.0


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
    roofs: Roof | Sequence[Roof], storms: dict[int, xr.DataArray], existing: BareSurface
) -> dict[int, xr.Dataset]:
    """Run one or several roofs through each storm from field capacity, with a dry day after it to drain."""
    return {
        years: simulate(roofs, _with_drain_time(storm), start_moisture="field-capacity", comparison=existing)
        for years, storm in storms.items()
    }


def storm_figures(runs: dict[int, xr.Dataset]) -> xr.Dataset:
    """Return depth, peaks, capture and runoff coefficients of each storm along ``return_period``.

    Returns
    -------
    xarray.Dataset
        ``storm_depth_mm``, ``storm_intensity`` (largest of one step, mm/h), ``storm_peak`` and ``storm_existing_peak``
        (L/s of the whole roof), ``storm_peak_reduction``, ``storm_capture_mm`` (not run off a day after the storm, mean
        of the whole roof), ``storm_runoff_coefficient``, ``storm_peak_coefficient`` (peak over largest intensity times
        area) and the same two of the existing roof, ``storm_water_depth_mm`` (on the deck). A dimension ``design`` of
        the runs is kept.
    """
    years = list(runs)
    figures = xr.concat([_of_one_storm(runs[period]) for period in years], "return_period", coords="minimal")
    figures = figures.assign_coords(return_period=years)
    for name, (unit, words) in _WORDS.items():
        figures[name].attrs = {"units": unit, "long_name": words}
    return figures


_WORDS = {
    "storm_depth_mm": ("mm", "rain of the design storm"),
    "storm_intensity": ("mm/h", "largest intensity of one step"),
    "storm_peak": ("L/s", "peak discharge of the whole planted roof"),
    "storm_existing_peak": ("L/s", "peak discharge of the roof as it is"),
    "storm_peak_reduction": ("1", "reduction of the peak"),
    "storm_capture_mm": ("mm", "rain not run off a day after the storm, mean of the whole roof"),
    "storm_runoff_coefficient": ("1", "share of the storm's rain that runs off the whole roof"),
    "storm_existing_runoff_coefficient": ("1", "share of the storm's rain that runs off the roof as it is"),
    "storm_peak_coefficient": ("1", "peak discharge over largest intensity times area"),
    "storm_existing_peak_coefficient": ("1", "the same for the roof as it is"),
    "storm_water_depth_mm": ("mm", "largest depth of water over the deck"),
}


def _of_one_storm(run: xr.Dataset) -> xr.Dataset:
    depth = run["rain"].sum("time")
    intensity = to_intensity(run["rain"]).max("time")
    area = run["area_m2"]
    peak, existing_peak = run["discharge"].max("time"), run["bare_discharge"].max("time")
    left, existing_left = run["roof_overflow"].sum("time"), run["bare_overflow"].sum("time")
    whole = intensity / 3600.0 * area  # L/s if every drop ran off at once
    return xr.Dataset(
        {
            "storm_depth_mm": depth,
            "storm_intensity": intensity,
            "storm_peak": peak,
            "storm_existing_peak": existing_peak,
            "storm_peak_reduction": 1.0 - peak / existing_peak,
            "storm_capture_mm": depth - left,
            "storm_runoff_coefficient": left / depth,
            "storm_existing_runoff_coefficient": existing_left / depth,
            "storm_peak_coefficient": peak / whole,
            "storm_existing_peak_coefficient": existing_peak / whole,
            "storm_water_depth_mm": run["water_depth_on_deck_mm"].max("time"),
        }
    ).reset_coords(drop=True)


def _with_drain_time(storm: xr.DataArray) -> xr.DataArray:
    """Append dry steps, so that water on its way counts as runoff and not as kept."""
    time = storm["time"].to_numpy()
    step = time[1] - time[0]
    extra = int(np.timedelta64(int(_DRAIN_HOURS * 60), "m") / step)
    longer = xr.DataArray(
        np.concatenate([storm.to_numpy(), np.zeros(extra)]),
        dims="time",
        coords={"time": time[0] + step * np.arange(time.size + extra)},
        name=storm.name,
        attrs=storm.attrs,
    )
    return longer


def _lies_inside(table: DepthDurationTable, years: float) -> bool:
    return table.return_periods_years[0] <= years <= table.return_periods_years[-1]
