"""What the bridge asks of the balance, and the only module of the package that knows its loops and their arrays.

The stores a run carries, what a trace and the totals hold, how columns are packed, which loop runs a step of a day or of
minutes. Who changes the loops changes this module, and `signs` where a state is reported in another way.
"""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np
import xarray as xr

from runoff.balance import cells, column, minute_steps
from runoff.balance.column_totals import run_totals
from runoff.simulation.roof_side import Columns, Fields
from runoff.simulation.rules import RunRules

#: The stores of the planted column that a run carries from step to step, mm.
STORES = column.STORES
#: What the totals hold per year and design.
TOTALS = column.TOTALS


def day_parameters(columns: Columns, rules: RunRules) -> np.ndarray:
    """Return what the loops over days read, shape ``(parameter, design)``."""
    return column.parameter_array(columns.rows, 24.0, rules.limits.air_threshold, rules.limits.dry_share)


def start_values(columns: Columns, rules: RunRules, moisture: str | float) -> dict[str, np.ndarray]:
    """Return the stores at ``"field-capacity"``, ``"dry"`` or a fraction between, mm, shape ``(design,)`` each."""
    return dict(zip(STORES, column.start_stores(day_parameters(columns, rules), moisture), strict=True))


def trace(
    columns: Columns,
    rules: RunRules,
    hours: float,
    liquid: xr.Variable,
    e0: xr.Variable,
    stores: Fields,
    month: np.ndarray,
) -> Fields:
    """Run the planted columns and keep every flux and store.

    Parameters
    ----------
    columns, rules
        Roofs and rules; irrigation waters the roofs, in daily runs.
    hours
        Length of the step, h.
    liquid, e0
        Rain plus melt, and reference evapotranspiration, mm per step, on ``time`` and any other dimensions.
    stores
        The stores before the first step, by the names of `STORES`.
    month
        Month of each step, 1-12.

    Returns
    -------
    dict of xarray.Variable
        Fluxes (mm per step), stores (mm at the end of the step) and stress, on ``time``; ``irrigation`` where watered.
    """
    run: Callable[..., np.ndarray]
    if hours != 24.0:
        names: tuple[str, ...] = minute_steps.TRACE
        run = functools.partial(cells.trace_minutes, columns.described, hours)
        of_design, dims = columns.label(np.arange(columns.count)), []
    else:
        names, run = column.TRACE, cells.trace_days
        parameters = xr.Variable(("parameter", "design"), day_parameters(columns, rules))
        of_design, dims = (parameters if columns.names is not None else parameters.isel(design=0)), ["parameter"]
        if rules.irrigation is not None:
            names = (*names, "irrigation")
            watering = rules.irrigation
            allowed = np.isin(month, watering.months)
            run = functools.partial(cells.trace_watered_days, watering.below, watering.dose_mm, allowed)
    traced = xr.apply_ufunc(
        run,
        liquid,
        e0,
        of_design,
        *(stores[name] for name in STORES),
        input_core_dims=[["time"], ["time"], dims, *([[]] * len(STORES))],
        output_core_dims=[["variable", "time"]],
        dask="parallelized",
        output_dtypes=[float],
        dask_gufunc_kwargs={"output_sizes": {"variable": len(names)}},
    )
    return {name: traced.isel(variable=i) for i, name in enumerate(names)}


class DaysOfAll(NamedTuple):
    """What every design of a sweep shares: daily series of shape ``(time,)``, and the years they fall into.

    Parameters
    ----------
    liquid, e0
        Rain plus melt, and reference evapotranspiration, mm per day.
    other
        Overflow of the unplanted part of the roof, mm per day.
    warm
        Whether a day is warm enough for rot.
    month
        Month of the day, 1-12.
    event_start
        True on the first day of each rain event.
    year_ends
        First day of each year, and the number of days at the end.
    """

    liquid: np.ndarray
    e0: np.ndarray
    other: np.ndarray
    warm: np.ndarray
    month: np.ndarray
    event_start: np.ndarray
    year_ends: np.ndarray


def totals(
    columns: Columns, rules: RunRules, days: DaysOfAll, stores: dict[str, np.ndarray]
) -> tuple[np.ndarray, np.ndarray, dict[str, np.ndarray]]:
    """Run many columns through the same days and keep sums per year.

    Returns
    -------
    totals
        Shape ``(year, len(TOTALS), design)``.
    monthly
        Overflow by month of the year, mm, shape ``(12, design)``.
    stores
        The stores after the last day, by name.
    """
    packed: Any = np.array([stores[name] for name in STORES])
    of_years, of_months, last = run_totals(
        days.liquid, days.e0, days.other, days.warm, days.month - 1, days.event_start, days.year_ends,
        rules.limits.tolerance_days, day_parameters(columns, rules), packed,
    )  # fmt: skip
    return of_years, of_months, dict(zip(STORES, last, strict=True))
