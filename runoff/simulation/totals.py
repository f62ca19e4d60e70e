"""Many roofs through one daily record, of which only sums per year are kept."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import xarray as xr

from runoff.errors import RunoffError
from runoff.simulation import kernel
from runoff.simulation.daily_record import DailyRecord
from runoff.simulation.roof_side import Columns
from runoff.simulation.rules import RunRules
from runoff.simulation.weather_side import DEPENDS_ON, SIDE_STORES, run_daily_sides
from runoff.weather.record.forcing import prepare_forcing, run_step_hours


class RunTotals(NamedTuple):
    """Sums of many designs over one record.

    Parameters
    ----------
    yearly
        Shape ``(year, len(kernel.TOTALS), design)``; where the record was taken as one year, that is the only one.
    monthly
        Overflow by month of the year, mm, shape ``(12, design)``.
    run_on
        Run-on per year, mm of planted area, shape ``(year, design)``; a single year of zeros will do for a record taken as one.
    run_on_by_month
        The same by month of the year, shape ``(12, design)``; a month without a day is missing.
    bare
        Of the comparison roof, which all designs share: ``bare_overflow`` and ``bare_evapotranspiration``, mm per day,
        shape ``(time,)``.
    """

    yearly: np.ndarray
    monthly: np.ndarray
    run_on: np.ndarray
    run_on_by_month: np.ndarray
    bare: dict[str, np.ndarray]


def daily_forcing(weather: Any, rules: RunRules, where: str = "sweep") -> xr.Dataset:
    """Return the forcing of a daily record of one site, or stop with the reason.

    Parameters
    ----------
    weather, rules
        As in `runoff.simulate`; the method of reference evapotranspiration is taken from the rules.
    where
        Function that asks, for the message.

    Returns
    -------
    xarray.Dataset
        From `runoff.weather.record.forcing.prepare_forcing`, on ``time`` alone: mm per day, and degC where known.

    Raises
    ------
    RunoffError
        For several sites, steps other than a day, or irrigation.
    """
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


def run_totals(
    columns: Columns, rules: RunRules, record: DailyRecord, event_limit: np.ndarray, *, each_year: bool = True
) -> RunTotals:
    """Run many designs through a daily record and keep sums per year.

    Parameters
    ----------
    columns, rules
        Designs and rules.
    record
        The days, from `daily_forcing`.
    event_limit
        Overflow below which a rain event counts as held; see `kernel.DaysOfAll`.
    each_year
        Whether the sums of each year are kept, or of the whole record as if it were one year, which takes less time.

    Returns
    -------
    RunTotals
        Sums in mm, by year and by month.
    """
    # designs that share their weather side run together: it is then one set of series for all of them
    groups = _sharing_weather(columns)
    calendar = record.calendar
    starts, no_day = calendar.starts, np.bincount(calendar.month, minlength=13)[1:] == 0
    parts, side = _run_groups(columns, groups, rules, record, event_limit, each_year=each_year)
    yearly, monthly = parts[0]
    if len(groups) > 1:
        yearly, monthly = np.empty((*yearly.shape[:2], columns.count)), np.empty((12, columns.count))
        for who, (of_years, of_months) in zip(groups, parts, strict=True):
            yearly[:, :, who], monthly[:, who] = of_years, of_months
    years = starts.size if each_year or "run_on" in side else 1  # nothing is as good as summed
    run_on, run_on_by_month = np.zeros((years, columns.count)), np.zeros((12, columns.count))
    if "run_on" in side:
        for at, who in enumerate(groups):
            run_on[:, who] = np.add.reduceat(side["run_on"][at], starts)[:, None]
            run_on_by_month[:, who] = np.bincount(calendar.month, weights=side["run_on"][at], minlength=13)[1:, None]
    run_on_by_month[no_day] = np.nan
    bare = {name: side[name] for name in ("bare_overflow", "bare_evapotranspiration")}
    return RunTotals(yearly, monthly, run_on, run_on_by_month, bare)


def _sharing_weather(columns: Columns) -> list[np.ndarray]:
    """Return which designs share the weather side."""
    asked = np.array([columns.rows[name] for name in DEPENDS_ON])
    if (asked == asked[:, :1]).all():  # as most sweeps are: looking costs less than sorting
        return [np.arange(columns.count)]
    alike, group = np.unique(asked, axis=1, return_inverse=True)
    return [np.flatnonzero(group.ravel() == i) for i in range(alike.shape[1])]


def _run_groups(
    columns: Columns,
    groups: list[np.ndarray],
    rules: RunRules,
    record: DailyRecord,
    event_limit: np.ndarray,
    *,
    each_year: bool,
) -> tuple[list[tuple[np.ndarray, np.ndarray]], dict[str, np.ndarray]]:
    """Run groups of designs, each sharing its weather side, through the warm-up and the record.

    Returns the totals of each group, and the weather side of the record with the groups side by side.
    """
    parameters, firsts = kernel.day_parameters(columns, rules), columns.some([who[0] for who in groups])
    beside: dict[str, np.ndarray] = {name: np.zeros(()) for name in SIDE_STORES}
    passes: list[list[kernel.DaysOfAll]] = [[] for _ in groups]
    for piece in record.passes():
        side = run_daily_sides(piece, rules, firsts, beside)
        beside |= {name: side[name][..., -1] for name in SIDE_STORES if name in side}
        calendar = piece.calendar
        warm = np.ones(calendar.month.size) if piece.tmean is None else piece.tmean >= rules.limits.warm_c
        for at, days in enumerate(passes):
            liquid, led = _arriving(side, at, firsts.rows["run_on_to_outlet"][at])
            days.append(
                kernel.DaysOfAll(
                    liquid=liquid,
                    e0=side["drawing"],
                    run_on=led,
                    other=side["other_overflow"][at],
                    warm=warm,
                    month=calendar.month,
                    event_limit=event_limit[: calendar.month.size],
                    year_ends=calendar.year_ends,
                )
            )
    found = []
    for who, days in zip(groups, passes, strict=True):
        of_group = parameters if len(groups) == 1 else parameters[:, who]
        found.append(kernel.totals(of_group, rules, days, "field-capacity", each_year=each_year))
    return found, side


def _arriving(side: dict[str, np.ndarray], group: int, to_outlet: float) -> tuple[np.ndarray, np.ndarray]:
    """Return what meets the planting of a group and what is led to its outlets; see `runoff.simulation.one_pass.arriving`."""
    if "run_on" not in side:
        return side["liquid"], np.zeros_like(side["liquid"])
    run_on = side["run_on"][group]
    led = run_on * to_outlet
    return side["liquid"] + (run_on - led), led
