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
from runoff.simulation.weather_side import DEPENDS_ON, SIDE_STORES, passes, run_daily_sides
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
    groups = [np.flatnonzero(group.ravel() == i) for i in range(alike.shape[1])]
    parts = _run_groups(columns, groups, rules, forcing, event_limit, years)
    starts = Calendar.of(forcing["time"]).starts
    yearly = np.empty((*parts[0][0].shape[:-1], columns.count))
    monthly, run_on = np.empty((12, columns.count)), np.empty((yearly.shape[0], columns.count))
    for who, (of_years, of_months, side) in zip(groups, parts, strict=True):
        yearly[:, :, who], monthly[:, who] = of_years, of_months
        run_on[:, who] = _run_on(side, starts, who.size)
    return RunTotals(yearly, monthly, run_on, parts[0][2], years)


def _run_on(side: Fields, starts: np.ndarray, count: int) -> np.ndarray:
    """Return the run-on of each year, mm, the same for `count` designs, shape ``(year, design)``."""
    of_years = np.add.reduceat(side["run_on"].to_numpy(), starts) if "run_on" in side else np.zeros(starts.size)
    return np.repeat(of_years[:, None], count, axis=1)


def _run_groups(
    columns: Columns,
    groups: list[np.ndarray],
    rules: RunRules,
    forcing: xr.Dataset,
    event_limit: np.ndarray,
    years: int,
) -> list[tuple[np.ndarray, np.ndarray, Fields]]:
    """Run groups of designs, each sharing its weather side, through the warm-up and the record."""
    parameters, begin = kernel.day_parameters(columns, rules), kernel.start_values(columns, "field-capacity")
    stores = [{name: values[who] for name, values in begin.items()} for who in groups]
    beside: list[Fields] = [{name: xr.Variable((), 0.0) for name in SIDE_STORES} for _ in groups]
    firsts = [columns.some(who[:1]) for who in groups]
    for piece in passes(forcing, years):
        sides = run_daily_sides(piece, rules, firsts, beside)
        beside = [at_the_end(side, SIDE_STORES) for side in sides]
        calendar = Calendar.of(piece["time"])
        year_ends = calendar.year_ends
        warm = piece["tmean"].to_numpy() >= rules.limits.warm_c if "tmean" in piece else np.ones(calendar.month.size)
        found = []
        for at, (who, first, side) in enumerate(zip(groups, firsts, sides, strict=True)):
            liquid, drawing, led = arriving(first, side)
            days = kernel.DaysOfAll(
                liquid=liquid.to_numpy(),
                e0=drawing.to_numpy(),
                run_on=led.to_numpy(),
                other=side["other_overflow"].to_numpy(),
                warm=warm,
                month=calendar.month,
                event_limit=event_limit[: calendar.month.size],
                year_ends=year_ends,
            )
            yearly, monthly, stores[at] = kernel.totals(parameters[:, who], rules, days, stores[at])
            found.append((yearly, monthly, side))
    return found
