"""Designs on the cells of a grid, of which only headline sums are kept: weather in stretches of time, state carried along.

With `runoff.simulation.kernel` this is all of the package that knows the loops of the balance.
"""

from __future__ import annotations

import copy
from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np
import xarray as xr

from runoff.balance import column
from runoff.balance.grid_totals import GridRules, GridTotals
from runoff.balance.grid_totals import GridWeather as GridWeather
from runoff.balance.grid_totals import for_whole_blocks as for_whole_blocks
from runoff.simulation import kernel
from runoff.simulation.roof_side import Columns
from runoff.simulation.rules import RunRules
from runoff.time_steps import Calendar


class EventRule(NamedTuple):
    """What a rain event is: rain of a wet day, mm, and the share of its rain below whose overflow it counts as held."""

    wet_day_mm: float
    held_share: float


def figures_need_a_trace(columns: Columns, rules: RunRules, hours: float) -> str:
    """Return in words why the sums of a run can only be formed from its series; empty where they need none.

    Parameters
    ----------
    columns, rules
        Roofs and rules of the run.
    hours
        Length of the step, h.

    Returns
    -------
    str
        ``steps shorter than a day``, ``irrigation``, ``run-on`` or nothing.
    """
    if hours != 24.0:
        return "steps shorter than a day"
    if rules.irrigation is not None:
        return "irrigation"
    return "run-on" if np.any(columns.rows["run_on_share"] > 0.0) else ""


class GridRun:
    """Designs on cells; see `runoff.balance.grid_totals.GridTotals`.

    Parameters
    ----------
    columns, rules
        Designs and rules; without irrigation and run-on.
    moisture
        ``"field-capacity"``, ``"dry"`` or a fraction: the start.
    cells
        Number of cells.
    event
        What a rain event is.
    """

    def __init__(self, columns: Columns, rules: RunRules, moisture: str | float, cells: int, event: EventRule) -> None:
        parameters = kernel.day_parameters(columns, rules)
        stores = kernel.start_values(columns, moisture)
        self._area = columns.rows["area_m2"]
        self._designs = [
            GridTotals(
                parameters[:, i],
                np.array([stores[name][i] for name in column.STORES]),
                cells,
                GridRules(
                    snow_below_c=rules.snow.snow_below_c,
                    melt_mm_per_c=rules.snow.melt_mm_per_c_day,
                    warm_c=rules.limits.warm_c,
                    tolerance_days=rules.limits.tolerance_days,
                    wet_day_mm=event.wet_day_mm,
                    held_share=event.held_share,
                    bare_capacity=rules.comparison.daily_storage_mm,
                    other_capacity=float(columns.rows["other_daily"][i]),
                ),
            )
            for i in range(columns.count)
        ]

    def begin_record(self, month: int) -> None:
        """Set all sums to nothing; the first day of the record lies in `month`, 0-11."""
        for one in self._designs:
            one.begin_record(month)

    def advance(self, weather: GridWeather, *, threads: bool = False) -> None:
        """Run through a stretch of weather."""
        for one in self._designs:
            one.advance(weather, threads=threads)

    def copy(self) -> GridRun:
        """Return a run that goes on from here by itself."""
        return copy.deepcopy(self)

    def sums(self) -> dict[str, np.ndarray]:
        """Return the sums of the record by name, shape ``(design, cell)``, by month ``(design, cell, 12)``."""
        each = [one.sums() for one in self._designs]
        made = {name: np.stack([one[name] for one in each]) for name in each[0]}
        per_mm = self._area[:, None] / 86400.0  # L/s for one mm a day
        made["peak_discharge"] = made["peak_roof_overflow"] * per_mm
        made["bare_peak_discharge"] = made["bare_peak_overflow"] * per_mm
        return made


def months_in(time: Any) -> np.ndarray:
    """Return which months of the year a record has days of, shape ``(12,)``."""
    return np.isin(np.arange(1, 13), Calendar.of(time).month)


def totals_of(
    sums: Mapping[str, Any], columns: Columns, cells: str, years: float, attrs: dict[str, Any], months: np.ndarray
) -> xr.Dataset:
    """Return sums as the totals of one long year, from which `runoff.findings` forms figures; along ``design`` and `cells`.

    Parameters
    ----------
    sums
        From `GridRun.sums`: mm, days, counts, and L/s for peak discharges; or as variables with dimensions of their own.
    columns
        The designs.
    cells
        Name of the dimension of the cells.
    years
        Length of the record, years.
    attrs
        Attributes of the result.
    months
        From `months_in`, true or false, shape ``(12,)``: sums of months without a day are missing, not 0 mm.

    Returns
    -------
    xarray.Dataset
        Along a ``year`` of length one, but for peak discharges and sums by ``month``; what all designs share has no ``design``.
    """
    made: dict[str, Any] = {"years": xr.Variable((), years), "area_m2": columns.value("area_m2")}
    for name, values in sums.items():
        dims = ["design", cells, *(["month"] if name.endswith("_by_month") else [])]
        of_year = values if isinstance(values, xr.Variable) else xr.Variable(dims, values)
        alike = name.startswith(("bare_", "rain")) and name != "bare_peak_discharge"
        if columns.names is None or alike or name == "events":  # rain and comparison roof are the same for every design
            of_year = of_year.isel(design=0)
        if name.endswith("_by_month") and not months.all():
            of_year = of_year.where(xr.Variable("month", months))
        apart = name.endswith(("_by_month", "_discharge"))
        made[name] = of_year if apart else of_year.expand_dims("year")
    return xr.Dataset(made, coords={**columns.coords, "month": np.arange(1, 13)}, attrs=attrs)
