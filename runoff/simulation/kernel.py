"""What the bridge asks of the balance, and the only module of the package that knows its loops and their arrays.

The stores a run carries, what a trace and the totals hold, how columns are packed, which loop runs a step of a day or of
minutes. Who changes the loops changes this module.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np
import xarray as xr

from runoff.balance import block_lanes, cells, column, minute_courses, minute_steps, minutes
from runoff.balance.column_totals import run_totals
from runoff.balance.loop_choice import as_read
from runoff.plain_arrays import applied, is_plain
from runoff.simulation.roof_side import Columns, Fields
from runoff.simulation.rules import RunRules

#: The stores of the planted column that a run carries from step to step, mm: ``held_water`` is S and ``free_water`` Q of the
#: balance; ``mobile_water`` (of it ``mobile_bypass`` by bypass) is only about in runs in minutes.
STORES = minute_steps.STORES
#: Those that add up to all water of the column.
WATER = tuple(name for name in STORES if name != "mobile_bypass")
#: Those that every run has.
ALWAYS = column.STORES
#: What the trace of a surface without planting holds.
OF_A_DECK = (
    "drained", "spilled", "evapotranspiration", "surface_water", "free_water", "water_depth_on_deck_mm",
    "largest_depth_on_deck_mm", "over_edge",
)  # fmt: skip
#: What the totals hold per year and design.
TOTALS = block_lanes.TOTALS
#: Numbers by name, plain: of shape ``(design,)``, or one for all.
Plain = Mapping[str, Any]


def day_parameters(columns: Columns, rules: RunRules) -> np.ndarray:
    """Return what the loops over days read, shape ``(parameter, design)``."""
    limits = rules.limits
    return column.parameter_array(
        columns.rows,
        limits.air_threshold,
        limits.dry_share,
        wet_depth_share=limits.standing_share,
        wet_area_share=limits.wet_area_share,
        wet_strip_m=limits.wet_strip_m,
        drought_days=limits.drought_days,
    )


def start_values(columns: Columns, moisture: str | float) -> dict[str, np.ndarray]:
    """Return the stores at ``"field-capacity"``, ``"dry"`` or a fraction between, mm, shape ``(design,)`` each."""
    unread = np.zeros(columns.count)  # a start needs no more than what is described
    described: Any = [columns.rows.get(name, unread) for name in column.PARAMETERS]
    filled = dict(zip(column.STORES, column.start_stores(described, moisture), strict=True))
    return {name: filled.get(name, np.zeros(columns.count)) for name in STORES}


def trace(
    columns: Columns,
    rules: RunRules,
    hours: float,
    weather: tuple[Any, Any, Any],
    stores: Fields,
    watered: np.ndarray | None = None,
    last_alone: bool = False,
) -> Fields:
    """Run the planted columns and keep every flux and store.

    Parameters
    ----------
    columns, rules
        Roofs and rules; irrigation waters the roofs, in daily runs.
    hours
        Length of the step, h.
    weather
        Rain plus melt; reference evapotranspiration, 0 under snow and in frost; run-on led to the outlets: mm per step, on
        ``time`` and any other dimensions; plain arrays lack no step.
    stores
        The stores before the first step, by the names of `STORES`.
    watered
        Whether watering is allowed in each step, where the rules water the roofs.
    last_alone
        Keep the last step alone, of a run in minutes that of the stores: its trace takes long to find room for.

    Returns
    -------
    dict
        Fluxes (mm per step), stores (mm at the end of the step), shares and depths, on ``time``; ``irrigation`` where watered.
    """
    if hours != 24.0:
        of_which = columns.label(np.arange(columns.count))
        return _trace_minutes(_planted(columns, rules, hours), of_which, weather, stores, last_alone=last_alone)
    names, run = _day_loop(rules, watered)
    parameters: Any = day_parameters(columns, rules)
    if columns.names is None:
        parameters = parameters[:, 0]
    if not is_plain(weather[0]):
        parameters = xr.Variable(("parameter", "design")[: parameters.ndim], parameters)
    return _traced(run, names, [*weather, parameters, *_begun(stores)], last_alone)


def _begun(stores: Mapping[str, Any]) -> list[Any]:
    """Return the stores a run over days begins from: what was on its way when one in minutes ended percolates on the first day."""
    carried = {**stores, "held_water": stores["held_water"] + stores["mobile_water"]}
    return [carried[name] for name in column.STORES]


def _day_loop(rules: RunRules, watered: np.ndarray | None) -> tuple[tuple[str, ...], Callable[..., np.ndarray]]:
    if rules.irrigation is None:
        return column.TRACE, cells.trace_days
    watering = rules.irrigation
    assert watered is not None, "a rule of watering comes with its days"
    run = functools.partial(cells.trace_watered_days, watering.below, watering.dose_mm, watered)
    return (*column.TRACE, "irrigation"), run


def _planted(columns: Columns, rules: RunRules, hours: float) -> minutes.MinuteColumns:
    limits = rules.limits

    def made() -> minutes.MinuteColumns:
        asked = {"air_threshold": limits.air_threshold, "wet_depth_share": limits.standing_share}
        return minutes.planted_columns(columns.described, 60.0 * hours, **asked)

    ready: minutes.MinuteColumns = columns.once(("planted", limits, hours), made)
    return ready


def decks_in_minutes(decks: list[dict[str, Any]], hours: float) -> minutes.MinuteColumns:
    """Return bare or gravel decks ready for `trace_decks`.

    Parameters
    ----------
    decks
        Keys as `runoff.balance.minutes.bare_columns` asks for.
    hours
        Length of the step, h.
    """
    return minutes.bare_columns(decks, 60.0 * hours)


def trace_decks(
    decks: minutes.MinuteColumns,
    of_design: Any,
    liquid: Any,
    e0: Any,
    stores: Fields,
    run_on: Any,
    last_alone: bool = False,
) -> Fields:
    """Run bare or gravel decks in minutes, through the outlets, edge and overflow that each brings.

    Parameters
    ----------
    decks
        From `decks_in_minutes`.
    of_design
        Which deck each design has.
    liquid, e0
        As in `trace`.
    stores
        ``surface_water`` (the film) and ``free_water`` before the first step, mm.
    run_on
        Water led to the outlets, past film and gravel, mm per step.
    last_alone
        As in `trace`.

    Returns
    -------
    dict
        `OF_A_DECK` as in `trace`, on ``time``.
    """
    full = {name: stores.get(name, np.zeros(())) for name in STORES}
    return _trace_minutes(decks, of_design, (liquid, e0, run_on), full, OF_A_DECK, last_alone=last_alone)


def planted_courses(
    columns: Columns, rules: RunRules, hours: float, weather: Sequence[np.ndarray], stores: Plain, keep: Sequence[str]
) -> minute_courses.Courses:
    """Run the planted columns in minutes and keep some courses of each.

    Parameters
    ----------
    columns, rules, hours
        As in `trace`.
    weather
        Rain plus melt; reference evapotranspiration, 0 under snow and in frost; run-on led to the outlets: mm per step, shape
        ``(time,)`` or ``(design, time)``.
    stores
        The stores before the first step, by the names of `STORES`, mm, shape ``(design,)`` each.
    keep
        Names of `minute_steps.TRACE`.

    Returns
    -------
    runoff.balance.minute_courses.Courses
        What is kept of each, mm.
    """
    return _courses(_planted(columns, rules, hours), weather, stores, keep)


def deck_courses(
    decks: Sequence[dict[str, Any]], hours: float, weather: Sequence[np.ndarray], stores: Plain, keep: Sequence[str]
) -> minute_courses.Courses:
    """Do as `planted_courses` for bare or gravel decks.

    Parameters
    ----------
    decks
        As in `trace_decks`, one for each design.
    hours, weather, stores, keep
        As in `planted_courses`; the film is ``surface_water``.

    Returns
    -------
    runoff.balance.minute_courses.Courses
        What is kept of each, mm.
    """
    return _courses(minutes.bare_columns(decks, 60.0 * hours), weather, stores, keep)


def _courses(
    made: minutes.MinuteColumns, weather: Sequence[np.ndarray], stores: Plain, keep: Sequence[str]
) -> minute_courses.Courses:
    liquid, e0, run_on = (as_read(each, float) for each in weather)
    none = np.zeros(made.parameters.shape[1])
    begin = np.array([none + stores.get(name, 0.0) for name in STORES])
    return minute_courses.run_courses(liquid, e0, made, begin, keep, run_on=run_on)


def _trace_minutes(
    made: minutes.MinuteColumns,
    of_design: Any,
    weather: tuple[Any, ...],
    stores: Fields,
    keep: tuple[str, ...] = minute_steps.TRACE,
    *,
    last_alone: bool,
) -> Fields:
    if last_alone:
        keep = tuple(name for name in keep if name in STORES)
    plain = is_plain(weather[0])  # xarray asks for as many steps as it gave
    run = functools.partial(cells.trace_minutes, made, keep=keep, last_alone=last_alone and plain, gapless=plain)
    given = [*weather, of_design, *(stores[name] for name in STORES)]
    return _traced(run, keep, given, last_alone)


def _traced(run: Callable[..., np.ndarray], names: tuple[str, ...], given: list[Any], last_alone: bool) -> Fields:
    """Run a loop over all cells and return its trace, by name."""
    along, sizes = ("time", "parameter"), {"variable": len(names)}
    (traced,) = applied(run, given, [("variable", "time")], along=along, sizes=sizes)
    if last_alone:
        traced = traced[..., -1:].copy()
    if is_plain(traced):
        return dict(zip(names, traced, strict=True))
    dims = (*traced.dims[:-2], "time")
    return {name: xr.Variable(dims, traced.data[..., at, :]) for at, name in enumerate(names)}


class DaysOfAll(NamedTuple):
    """What every design of a sweep shares, in the order in which the loop takes it: daily series of shape ``(time,)``, and the years they fall into.

    Parameters
    ----------
    liquid, e0, run_on
        Rain plus melt; reference evapotranspiration (0 under snow and in frost); run-on led to the outlets: mm per day.
    other
        Overflow of the unplanted part of the roof, mm per day.
    warm
        Whether a day is warm enough for rot.
    month
        Month of the day, 1-12.
    event_limit
        On the first day of each rain event the overflow below which it counts as held, mm; negative where it does not count
        among rain events; 0 on other days.
    year_ends
        First day of each year, and the number of days at the end.
    """

    liquid: np.ndarray
    e0: np.ndarray
    run_on: np.ndarray
    other: np.ndarray
    warm: np.ndarray
    month: np.ndarray
    event_limit: np.ndarray
    year_ends: np.ndarray


def totals(
    parameters: np.ndarray, rules: RunRules, passes: Sequence[DaysOfAll], moisture: str | float, *, each_year: bool
) -> tuple[np.ndarray, np.ndarray]:
    """Run many columns through the same days and keep sums per year.

    Parameters
    ----------
    parameters
        From `day_parameters`, depths in mm, shape ``(parameter, design)``.
    rules
        Rules of the runs.
    passes
        What all columns share, in turn; sums are kept of the last.
    moisture
        At the start, as in `start_values`.
    each_year
        Whether the sums of each year are kept, or of all years as if they were one.

    Returns
    -------
    totals
        Shape ``(year, len(TOTALS), design)``; of one year in place of all unless `each_year`.
    monthly
        Overflow by month of the year, mm, shape ``(12, design)``.
    """
    *before, days = [one._replace(month=one.month - 1) for one in passes]
    stores = column.start_stores(parameters, moisture)
    of_years, of_months, _ = run_totals(
        *days, rules.limits.tolerance_days, parameters, stores, before=before, each_year=each_year
    )
    return of_years, of_months
