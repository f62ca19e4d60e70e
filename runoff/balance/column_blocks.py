"""Many designs under one daily record: the day of the column in blocks of lanes that run side by side.

The steps are those of `runoff.balance.column`, taken over the lanes of a block one after the other, each only on days on
which it changes a bit in some lane:

- surface: when it rains; soak and percolate: when the surface passes something on, or a medium holds more than S_fc
- below, drain, spill: then too, or while free water stands or is led to the outlets
- the level and what follows from it (pond, taking up, waterlogged share): while water stands higher than the board
- settle: while free water stands; dry days: when a day could be dry for the first lane to dry out

What the cells of a grid (`runoff.balance.grid_lanes`) do too stands in `runoff.balance.block_lanes`; here is what all lanes of a
block do under the same weather.

So a lane gives the same bits alone, in any block, and in the loop of one roof. Designs that drain alike share blocks
(`runoff.balance.column_totals`), as a block works as long as its slowest lane.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from runoff.balance.block_lanes import (
    LARGEST,
    N_TOTAL,
    PLACE,
    TOTALS,
    WORK,
    add_overflow_lane,
    clear,
    column_of,
    count_drought,
    count_wet_lane,
    drain_down,
    draw_by_roots,
    draw_open_lane,
    find_levels,
    forget_levels,
    limits_of_levels,
    look_for_dry,
    pass_through,
    places_of,
    settle,
    settle_standing,
    soak,
)
from runoff.balance.column import PARAMETERS, STORES
from runoff.balance.day_steps import ROUNDING_MM, drain_limit_at, draw_surface
from runoff.balance.loop_choice import as_read, joined_late, uncounted

#: Designs side by side: what a day costs apart from them is shared by so many. Designs under one weather are alike in what a day asks
#: of them, if they are sorted; cells of a grid are not, and their blocks are half as wide.
LANES = 128
AT = places_of(WORK, LANES)
#: What the parts from `block_lanes` read in place of their own.
CONSTANTS_OF_PARTS = ("LANES", "AT")
# Where the row of each parameter begins, in the order of `PARAMETERS`.
_PARAMETERS_AT = tuple(getattr(AT, name) for name in PARAMETERS)
# numba reads globals of a kernel as constants: counts must be plain module integers
_N_PAR, _N_STORE = len(_PARAMETERS_AT), len(STORES)
_LARGEST_COUNTS = tuple(name in LARGEST for name in TOTALS)
# The numbers of a day, one after the other: they come with one line of the cache, and from one place that the loop keeps in mind.
_DAY = 8
_EVAPORATION, _RUN_ON, _OTHER, _WARM, _MONTH, _EVENT, _TURNS = range(1, _DAY)


def days_of(
    liquid: Any, e0: Any, run_on: Any, other: Any, warm: Any, month: Any, event_limit: Any, year_start: Any
) -> tuple[np.ndarray, np.ndarray]:
    """Return the weather of `totals_loop`, and its sums by year.

    Parameters
    ----------
    liquid, e0, run_on
        As in `column.trace_loop`; without run-on, None.
    other
        Overflow of the unplanted part of the roof, mm per day, shape ``(time,)``.
    warm
        1.0 on days warm enough for rot, else 0.0, shape ``(time,)``.
    month
        Month of the day, 0-11, shape ``(time,)``.
    event_limit
        On the first day of each rain event the overflow below which it counts as held, mm (5 % of its rain), or a negative
        number where it shall not count; 0 on all other days; shape ``(time,)``. An event ends where the next begins.
    year_start
        As in `totals_loop`.

    Returns
    -------
    days
        The numbers of a day one after the other, mm and the like, shape ``(time * 8,)``.
    of_years
        Rain, melt and run-on; overflow of the unplanted part of the roof; the largest of it in a day: mm, shape ``(year, 3)``.
    """
    liquid, e0, other, year_start = (np.asarray(one) for one in (liquid, e0, other, year_start))
    days, of_years = np.zeros((liquid.size, _DAY)), np.zeros((len(year_start) - 1, 3))
    run_on = days[:, _RUN_ON] if run_on is None else run_on
    demand = np.where(e0 > 0.0, e0, 0.0)
    turns = 1.0 * (np.asarray(event_limit) != 0.0)
    turns[1:] += 2.0 * (month[1:] != month[:-1])
    for number, values in enumerate((liquid, demand, run_on, other, warm, month, event_limit, turns)):
        days[:, number] = values
    # one row a year, filled up with nothing: summed day by day, as a loop over days does
    lengths = np.diff(year_start)
    day = np.arange(max(lengths, default=0))
    within = day < lengths[:, None]
    at = np.where(within, year_start[:-1, None] + day, 0)
    each = np.where(within, np.array([liquid + days[:, _RUN_ON], other]).take(at, axis=1), 0.0)
    if within.size:
        of_years[:, :2] = each.cumsum(axis=2)[:, :, -1].T
        of_years[:, 2] = each[1].max(axis=1)
    return as_read(days.reshape(-1)), as_read(of_years)


@joined_late
def _take_in(w: np.ndarray, liquid: float) -> bool:
    """Step 2, but for the bypass; tell whether in some lane the surface passes something on."""
    passing = False
    for j in range(LANES):
        wet = w[AT.surface_water + j] + liquid
        U = min(wet, w[AT.surface_capacity + j])
        throughfall = wet - U
        w[AT.surface_water + j] = U
        w[AT.throughfall + j] = throughfall
        passing |= throughfall > 0.0
    return passing


@joined_late
def _run_through(w: np.ndarray, other: float) -> None:
    """Steps 2 to 7 where no limit binds."""
    pass_through(w)
    for j in range(LANES):
        add_overflow_lane(w, j, other)


@joined_late
def _run_down(w: np.ndarray, run_on: float, other: float) -> tuple[bool, bool]:
    """Steps 5 to 7; tell whether in some lane free water is left, and whether in some it stands above the board."""
    left, standing = drain_down(w, run_on)
    for j in range(LANES):
        add_overflow_lane(w, j, other)
    return left, standing


@joined_late
def _draw_still(w: np.ndarray, e: float, supplied: bool) -> None:
    """Step 8 while no water stands above the board in any lane; `supplied`: cups or mat may hold water in some."""
    for j in range(LANES):
        U, _, demand = draw_surface(e, w[AT.surface_water + j], column_of(w, j))
        w[AT.surface_water + j] = U
        w[AT.demand + j] = demand
    draw_by_roots(w, supplied)


@joined_late
def _count_wet(w: np.ndarray, warm: float, tolerance: float) -> None:
    """Step 10: waterlogged share and days, their spells, excess water."""
    for j in range(LANES):
        count_wet_lane(w, j, warm, tolerance)


@uncounted
def _run_limited(
    w: np.ndarray, run_on: float, other: float, left: bool, mobile: bool, passing: bool, taken_in: bool
) -> tuple[bool, bool, bool, bool]:
    """Steps 2 to 7 where a limit may bind or free water may be left, as far as they change anything.

    Returns whether in some lane free water is left, the medium holds more than S_fc, and water stands above the board; and
    whether overflow was looked at.
    """
    if passing or mobile:  # what is above S_fc percolates today, and may leave none above it
        if not taken_in:
            clear(w, AT.throughfall, AT.throughfall + LANES)
        mobile = soak(w)
    else:
        clear(w, AT.percolation, AT.passing + LANES)
        if not (left or run_on > 0.0):
            return left, mobile, False, False
    left, standing = _run_down(w, run_on, other)
    return left, mobile, standing, True


@uncounted
def _draw_standing(w: np.ndarray, e: float) -> bool:
    """Steps 8 and 9, and the levels, where water stands; tell whether in some lane the medium holds more than S_fc."""
    find_levels(w)
    for j in range(LANES):
        draw_open_lane(w, j, e)
    draw_by_roots(w, True)
    settle_standing(w)
    find_levels(w)
    return limits_of_levels(w)


@joined_late
def _close_month(w: np.ndarray, month: int, monthly: np.ndarray, first: int) -> None:
    """Add to the month's sum what has overflowed since it began."""
    for j in range(LANES):
        w[AT.of_month + j] = w[AT.total_overflow + j] - w[AT.month_begin + j]
        w[AT.month_begin + j] = w[AT.total_overflow + j]
    row, first = month & PLACE, first & PLACE
    for j in range(LANES):
        monthly[row, first + j] += w[AT.of_month + j]


@joined_late
def _close_event(w: np.ndarray, limit: float) -> None:
    """Count an event as held in the lanes whose overflow since its beginning is below the limit."""
    for j in range(LANES):
        shed = w[AT.total_overflow + j] - w[AT.event_begin + j]
        w[AT.total_events_held + j] += 1.0 if shed < limit else 0.0
        w[AT.event_begin + j] = w[AT.total_overflow + j]


@uncounted
def _turn(w: np.ndarray, days: np.ndarray, at: int, limit: float, monthly: np.ndarray, first: int) -> float:
    """Close the month that ended yesterday, and the event that ends where another begins; return the limit of the event there is now."""
    if days[at + _TURNS] > 1.0:  # 2 in a new month, and 1 more where an event begins
        _close_month(w, int(days[at - _DAY + _MONTH]), monthly, first)
    begun = days[at + _EVENT]
    if begun != 0.0:
        _close_event(w, limit)
        limit = begun
    return limit


@joined_late
def _begin_year(w: np.ndarray) -> None:
    """Set the sums of a year to nothing; an event and a month that run on keep what they have shed."""
    for j in range(LANES):
        w[AT.event_begin + j] -= w[AT.total_overflow + j]
        w[AT.month_begin + j] -= w[AT.total_overflow + j]
        w[AT.stores_begin + j] = (
            w[AT.surface_water + j] + w[AT.held_water + j] + w[AT.cup_water + j] + w[AT.mat_water + j]
            + w[AT.free_water + j]
        )  # fmt: skip
    clear(w, AT.total_overflow, AT.total_overflow + N_TOTAL * LANES)


@joined_late
def _close_year(
    w: np.ndarray, received: float, other: float, largest_other: float, totals: np.ndarray, year: int, first: int
) -> None:
    """Write the sums of a year, or take them together with those before; evapotranspiration and the roof's overflow follow from the balance."""
    for j in range(LANES):
        stores = (
            w[AT.surface_water + j] + w[AT.held_water + j] + w[AT.cup_water + j] + w[AT.mat_water + j]
            + w[AT.free_water + j]
        )  # fmt: skip
        overflow = w[AT.total_overflow + j]
        planted = w[AT.planted_fraction + j]
        w[AT.total_evapotranspiration + j] = received - overflow - (stores - w[AT.stores_begin + j])
        w[AT.total_roof_overflow + j] = other + planted * (overflow - other)
        alone = largest_other + planted * (0.0 - largest_other)
        w[AT.total_peak_roof_overflow + j] = max(w[AT.total_peak_roof_overflow + j], alone)
    row = year if year < totals.shape[0] else 0
    for k in range(N_TOTAL):
        at = AT.total_overflow + k * LANES
        if row == year:
            for j in range(LANES):
                totals[row, k, first + j] = w[at + j]
        elif _LARGEST_COUNTS[k]:
            for j in range(LANES):
                totals[row, k, first + j] = max(totals[row, k, first + j], w[at + j])
        else:
            for j in range(LANES):
                totals[row, k, first + j] += w[at + j]


@joined_late
def _begin_block(
    w: np.ndarray, par: np.ndarray, stores: np.ndarray, monthly: np.ndarray, first: int
) -> tuple[bool, float, float, float]:
    """Load a block.

    Returns whether every medium has air enough at S_fc; the largest demand per mm of e0; the rain that is below every limit
    of the day in every lane while no free water is left of the day before; the least of the days that are a drought.
    """
    w[:] = 0.0
    airy, thirst, gentle, drought_days = True, 1.0, np.inf, np.inf
    for k in range(_N_PAR):
        at = _PARAMETERS_AT[k]
        for j in range(LANES):
            w[at + j] = par[k, first + j]
    for k in range(_N_STORE):
        for j in range(LANES):
            w[AT.surface_water + k * LANES + j] = stores[k, first + j]
    for k in range(12):
        for j in range(LANES):
            monthly[k, first + j] = 0.0
    for j in range(LANES):
        p = column_of(w, j)
        thirst = max(thirst, p.crop_coefficient)
        airy &= p.full_water - p.field_water - p.air_water >= -ROUNDING_MM
        limit = drain_limit_at(0.0, p)
        w[AT.still_limit + j] = limit
        gentle = min(gentle, min(min(p.soak_limit, p.fleece_limit), limit))
        drought_days = min(drought_days, p.drought_days)
    return airy, thirst, 0.999 * gentle, drought_days


@joined_late
def _end_block(w: np.ndarray, stores: np.ndarray, first: int) -> None:
    for k in range(_N_STORE):
        for j in range(LANES):
            stores[k, first + j] = w[AT.surface_water + k * LANES + j]


def totals_loop(  # noqa: C901 - one flat loop over days, all of whose parts are functions
    days: np.ndarray, of_years: np.ndarray, year_start: np.ndarray, tolerance: float, par: np.ndarray, stores: np.ndarray,
    w: np.ndarray, totals: np.ndarray, monthly: np.ndarray,
) -> None:  # fmt: skip
    """Run many designs through the same weather and keep sums per year, in blocks of lanes.

    Run it through `loop_choice.compiled` or `loop_choice.plainly`: its parts from `block_lanes` have blocks of another width.

    Parameters
    ----------
    days, of_years
        The weather and its sums, mm and the like, as `days_of` returns them.
    year_start
        Index of the first day of each year, and the number of days at the end, shape ``(year + 1,)``.
    tolerance
        Waterlogged days a spell may last before its days count as rot risk.
    par
        Parameters, shape ``(parameter, place)``, order of `PARAMETERS` (units: `day_steps.DayColumn`): designs in the order in
        which they share blocks, a multiple of the block width of them; the last may be repeated.
    stores
        Stores before the first day, mm, shape ``(len(STORES), place)``, updated.
    w
        The work array of a block, numbers of any unit, shape ``(len(WORK) * LANES,)``, used up; it begins where a whole vector may
        (`vector_width.zeros_for_vectors`).
    totals
        Receives the totals, shape ``(year, len(TOTALS), place)``: depths mm, peaks mm per day, spells days, events and days as
        counts. Of shape ``(1, len(TOTALS), place)``: of all years as if they were one (sums, and the largest of `LARGEST`).
    monthly
        Receives the overflow by month of the year, mm, shape ``(12, place)``.
    """
    last = len(days) - _DAY
    for first in range(0, par.shape[1], LANES):
        airy, thirst, gentle, drought_days = _begin_block(w, par, stores, monthly, first)
        find_levels(w)
        mobile = limits_of_levels(w)
        left = True  # in some lane free water may be left
        supplied = True  # in some lane cups or mat may hold water; looked at on days that may be dry
        stood, wet = True, True  # yesterday: water above the board; any waterlogged spell
        spare = 0.0  # what every design can lose before the first of them is dry, mm; not above 0 where not known
        dry, on_end = False, 0.0  # it is dry in some lane; no dry spell is longer than this, days
        limit = -1.0  # before the first event none can be held
        for year in range(len(year_start) - 1):
            _begin_year(w)
            for t in range(year_start[year], year_start[year + 1]):
                at = (t * _DAY) & PLACE
                liquid, e, run_on, other = days[at], days[at + _EVAPORATION], days[at + _RUN_ON], days[at + _OTHER]
                if days[at + _TURNS] > 0.0:
                    limit = _turn(w, days, at, limit, monthly, first)
                taken_in = liquid > 0.0 or at == 0
                passing = _take_in(w, liquid) if taken_in else False
                standing = False
                if left or mobile or run_on != 0.0 or not liquid < gentle:
                    left, mobile, standing, ran = _run_limited(w, run_on, other, left, mobile, passing, taken_in)
                    supplied |= ran or left
                elif passing:
                    _run_through(w, other)
                    supplied = True
                if standing:
                    mobile = _draw_standing(w, e)
                elif e > 0.0:
                    _draw_still(w, e, supplied)
                if left or mobile or stood or wet or not airy:
                    if not standing:
                        if stood:
                            forget_levels(w)
                        if left:  # under frost too: bypass and run-on come after the stores have filled from below
                            settle(w)
                    stood = standing
                    if standing or mobile or not airy:
                        _count_wet(w, days[at + _WARM], tolerance)
                        wet = True
                    elif wet:
                        clear(w, AT.waterlogged_spell, AT.waterlogged_spell + LANES)
                        wet = False
                spare -= thirst * e
                if not spare > 0.0:
                    supplied, dry, spare = look_for_dry(w, supplied, dry, mobile)
                    on_end = on_end + 1.0 if dry else 0.0
                    if on_end > drought_days:
                        count_drought(w)
                else:
                    on_end = 0.0  # no lane is dry
            if year == len(year_start) - 2:
                _close_event(w, limit)
                _close_month(w, int(days[last + _MONTH]), monthly, first)
            _close_year(w, of_years[year, 0], of_years[year, 1], of_years[year, 2], totals, year, first)
        _end_block(w, stores, first)
