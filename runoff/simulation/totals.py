"""Many roofs through one daily record, of which only sums per year are kept."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import xarray as xr

from runoff.errors import RunoffError
from runoff.simulation import kernel
from runoff.simulation.one_pass import arriving, at_the_end
from runoff.simulation.roof_side import Columns, Fields
from runoff.simulation.rules import RunRules
from runoff.simulation.weather_side import DEPENDS_ON, SIDE_STORES, passes, run_weather_side
from runoff.time_steps import Calendar
from runoff.weather.record.forcing import prepare_forcing, run_step_hours, warm_up_length


class RunTotals(NamedTuple):
    """Sums of many designs over one record.

    Parameters
    ----------
    yearly
        Shape ``(year, len(kernel.TOTALS), design)``.
    monthly
        Overflow by month of the year, mm, shape ``(12, design)``.
    run_on
        Run-on per year, mm of planted area, shape ``(year, design)``.
    side
        The weather side that all designs share: ``bare_overflow`` and ``bare_evapotranspiration`` (mm per day) on ``time``.
    warm_up_years
        Years run once before the record.
    """

    yearly: np.ndarray
    monthly: np.ndarray
    run_on: np.ndarray
    side: Fields
    warm_up_years: int


def daily_forcing(weather: Any, rules: RunRules, where: str = "sweep") -> xr.Dataset:
    """Return the forcing of a daily record of one site, or stop with the reason."""
    forcing = prepare_forcing(weather, rules.et_method)
    if forcing["rain"].dims != ("time",):
        raise RunoffError(
            f"{where}: the weather has dimensions {', '.join(map(str, forcing['rain'].dims))}; "
            "a sweep takes one site at a time, select one"
        )
    hours = run_step_hours(forcing["time"])
    if hours != 24.0:
        raise RunoffError(
            f"{where}: the weather has steps of {hours:g} h, a daily record is needed; "
            "sum it to days with runoff.daily_totals(weather)"
        )
    if rules.irrigation is not None:
        raise RunoffError(f"{where}: irrigation works in single runs; leave it out, or run simulate for each roof")
    return forcing


def run_totals(columns: Columns, rules: RunRules, forcing: xr.Dataset, event_limit: np.ndarray) -> RunTotals:
    """Run many designs through a daily record and keep sums per year.

    Parameters
    ----------
    columns, rules
        Designs and rules.
    forcing
        From `daily_forcing`.
    event_limit
        Overflow below which a rain event counts as held; see `kernel.DaysOfAll`.
    """
    years = warm_up_length(forcing["time"], rules.warm_up_years)
    # designs that share their weather side run together: it is then one set of series for all of them
    asked = np.array([columns.rows[name] for name in DEPENDS_ON])
    alike, group = np.unique(asked, axis=1, return_inverse=True)
    if alike.shape[1] == 1:
        yearly, monthly, side = _run_alike(columns, rules, forcing, event_limit, years)
        return RunTotals(yearly, monthly, _run_on(side, forcing, columns.count), side, years)
    groups = [np.flatnonzero(group.ravel() == i) for i in range(alike.shape[1])]
    parts = [_run_alike(columns.some(who), rules, forcing, event_limit, years) for who in groups]
    yearly = np.empty((*parts[0][0].shape[:-1], columns.count))
    monthly, run_on = np.empty((12, columns.count)), np.empty((yearly.shape[0], columns.count))
    for who, (of_years, of_months, side) in zip(groups, parts, strict=True):
        yearly[:, :, who], monthly[:, who] = of_years, of_months
        run_on[:, who] = _run_on(side, forcing, who.size)
    return RunTotals(yearly, monthly, run_on, parts[0][2], years)


def _run_on(side: Fields, forcing: xr.Dataset, count: int) -> np.ndarray:
    """Return the run-on of each year, mm, the same for `count` designs, shape ``(year, design)``."""
    starts = Calendar.of(forcing["time"]).starts
    of_years = np.add.reduceat(side["run_on"].to_numpy(), starts) if "run_on" in side else np.zeros(starts.size)
    return np.repeat(of_years[:, None], count, axis=1)


def _run_alike(
    columns: Columns, rules: RunRules, forcing: xr.Dataset, event_limit: np.ndarray, years: int
) -> tuple[np.ndarray, np.ndarray, Fields]:
    """Run designs that share their weather side through the warm-up and the record."""
    stores = kernel.start_values(columns, rules, "field-capacity")
    beside: Fields = {name: xr.Variable((), 0.0) for name in SIDE_STORES}
    first = columns.some([0])
    for piece in passes(forcing, years):
        side = run_weather_side(piece, rules, 24.0, first, beside)
        beside = at_the_end(side, SIDE_STORES)
        liquid, drawing, led = arriving(first, side)
        calendar = Calendar.of(piece["time"])
        warm = piece["tmean"].to_numpy() >= rules.limits.warm_c if "tmean" in piece else np.ones(calendar.month.size)
        days = kernel.DaysOfAll(
            liquid=liquid.to_numpy(),
            e0=drawing.to_numpy(),
            run_on=led.to_numpy(),
            other=side["other_overflow"].to_numpy(),
            warm=warm,
            month=calendar.month,
            event_limit=event_limit[: calendar.month.size],
            year_ends=calendar.year_ends,
        )
        yearly, monthly, stores = kernel.totals(columns, rules, days, stores)
    return yearly, monthly, side
