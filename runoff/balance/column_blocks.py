"""Many designs under one daily record: the day of the column in blocks of lanes that run side by side.

The steps are those of `runoff.balance.column`, taken over the lanes of a block one after the other, each only on days on
which it changes a bit in some lane:

- surface: when it rains; soak and percolate: when the surface passes something on, or a medium holds more than S_fc
- below, drain, spill: then too, or while free water stands or is led to the outlets
- the level and what follows from it (pond, taking up, waterlogged share): while water stands higher than the board
- settle: while free water stands; dry days: when a day could be dry for the first lane to dry out

What one lane does where water stands is in functions of its own (``..._lane``), which the loop over the cells of a grid
(`runoff.balance.grid_lanes`) shares. The short steps that every day takes stand there a second time, with the weather of each
lane: through such a function they cost designs that drain freely a fifth.

So a lane gives the same bits alone, in any block, and in the loop of one roof. Designs that drain alike share blocks
(`runoff.balance.column_totals`), as a block works as long as its slowest lane.
"""

from __future__ import annotations

import collections
from typing import Any

import numpy as np

from runoff.balance.column import _DECK_ROW as DECK_ROW
from runoff.balance.column import (
    PARAMETERS,
    ROUNDING_MM,
    STORES,
    bypass_of,
    column_at,
    drain,
    drain_limit_at,
    draw_pond,
    draw_roots,
    draw_surface,
    drawn_by_roots,
    fill,
    soak_and_percolate,
    take_up,
    usable_by_roots,
    wet_share,
)
from runoff.balance.free_water import deck_at, level, medium_part, pond_part, share_above
from runoff.balance.loop_choice import joined_late, uncounted

#: What the totals loop sums or takes the largest of, per year and design.
TOTALS = (
    "overflow",
    "evapotranspiration",
    "waterlogged_days",
    "waterlogged_area_days",
    "rot_risk_days",
    "dry_days",
    "drought_risk_days",
    "excess_water",
    "events_held",
    "peak_overflow",
    "longest_waterlogged_spell",
    "longest_dry_spell",
    "roof_overflow",
    "peak_roof_overflow",
)
#: Designs side by side. What a day costs apart from them is shared by so many, and the rows of a quiet day stay in the first cache.
LANES = 64

# The work array of a block: one row of lanes per name, `_AT.name` is where its row begins. One flat array whose rows stand
# at constant places is what the compiler needs to see that no lane touches another.
_WORK = (
    *PARAMETERS, *STORES, "drain_limit", "still_limit", "level", "throughfall", "percolation", "passing",
    "waterlogged_spell", "dry_spell", "event_begin", "month_begin", "stores_begin", *(f"total_{name}" for name in TOTALS),
)  # fmt: skip
_Places: Any = collections.namedtuple("_Places", _WORK)  # type: ignore[misc]
_AT: Any = _Places(*(LANES * row for row in range(len(_WORK))))
# numba reads globals of a kernel as constants: counts must be plain module integers
_N_PAR, _N_STORE, _N_TOTAL, _DECK_AT = len(PARAMETERS), len(STORES), len(TOTALS), DECK_ROW * LANES
_N_WORK = len(_WORK)
_WHOLE = 8  # numbers of the widest vector, which is slow where it lies across two lines of the cache: rows begin at a multiple
_DAYS_AHEAD = 5.0  # how far ahead it is seen that no design dries out; 3 to 10 are alike


@joined_late
def clear(w: np.ndarray, first: int, end: int) -> None:
    """Set places to nothing: through a slice, a view of the array would be made and counted.

    Parameters
    ----------
    w
        The work array of a block, numbers of any unit.
    first, end
        The first place, and the one after the last.
    """
    for j in range(first, end):
        w[j] = 0.0


@joined_late
def _take_in(w: np.ndarray, liquid: float) -> int:
    """Step 2, but for the bypass; return in how many lanes the surface passes something on."""
    passing = 0
    for j in range(LANES):
        wet = w[_AT.surface_water + j] + liquid
        U = min(wet, w[_AT.surface_capacity + j])
        throughfall = wet - U
        w[_AT.surface_water + j] = U
        w[_AT.throughfall + j] = throughfall
        passing += 1 if throughfall > 0.0 else 0
    return passing


@joined_late
def _add_overflow(w: np.ndarray, j: int, overflow: float, other: float) -> None:
    w[_AT.total_overflow + j] += overflow
    w[_AT.total_peak_overflow + j] = max(w[_AT.total_peak_overflow + j], overflow)
    roof = other + w[_AT.planted_fraction + j] * (overflow - other)
    w[_AT.total_peak_roof_overflow + j] = max(w[_AT.total_peak_roof_overflow + j], roof)


@joined_late
def _run_through(w: np.ndarray, other: float) -> None:
    """Steps 2 to 7 where no limit binds: all that percolates or passes finds room or drains, and none is left."""
    for j in range(LANES):
        p = column_at(w, j, LANES)
        throughfall, S = w[_AT.throughfall + j], w[_AT.held_water + j]
        by = bypass_of(throughfall, S, p)
        S = S + (throughfall - by)
        kept = min(S, p.field_water)
        C, Q = fill(w[_AT.cup_water + j], p.cup_capacity, S - kept)
        M, Q = fill(w[_AT.mat_water + j], p.mat_capacity, Q)
        w[_AT.held_water + j] = kept
        w[_AT.cup_water + j] = C
        w[_AT.mat_water + j] = M
        _add_overflow(w, j, Q + by, other)


@joined_late
def _soak(w: np.ndarray) -> int:
    """Bypass, soak and percolate; return in how many lanes the medium still holds more than S_fc."""
    mobile = 0
    for j in range(LANES):
        p = column_at(w, j, LANES)
        throughfall, S = w[_AT.throughfall + j], w[_AT.held_water + j]
        by = bypass_of(throughfall, S, p)
        S, percolation, passing = soak_and_percolate(throughfall, by, S, p)
        w[_AT.held_water + j] = S
        w[_AT.percolation + j] = percolation
        w[_AT.passing + j] = passing
        mobile += 1 if p.field_water < S else 0
    return mobile


@joined_late
def _run_down_lane(w: np.ndarray, j: int, run_on: float, other: float) -> tuple[int, int]:
    p = column_at(w, j, LANES)
    Q = w[_AT.free_water + j] + w[_AT.percolation + j]
    C, Q = fill(w[_AT.cup_water + j], p.cup_capacity, Q)
    M, Q = fill(w[_AT.mat_water + j], p.mat_capacity, Q)
    Q = Q + (w[_AT.passing + j] + run_on)
    w[_AT.cup_water + j] = C
    w[_AT.mat_water + j] = M
    Q, drained = drain(Q, w[_AT.drain_limit + j], p)
    kept = min(Q, p.spill_water)
    overflow = drained + (Q - kept)
    w[_AT.free_water + j] = kept
    _add_overflow(w, j, overflow, other)
    return (1 if kept > 0.0 else 0), (1 if kept > p.board_top_water else 0)


@joined_late
def _run_down(w: np.ndarray, run_on: float, other: float) -> tuple[int, int]:
    """Steps 5 to 7; return in how many lanes free water is left, and in how many it stands above the board."""
    left, standing = 0, 0
    for j in range(LANES):
        is_left, stands = _run_down_lane(w, j, run_on, other)
        left += is_left
        standing += stands
    return left, standing


@joined_late
def _find_levels(w: np.ndarray) -> None:
    """Write the level of lanes in which water stands above the board, 0 in the others (step 7)."""
    for j in range(LANES):
        Q = w[_AT.free_water + j]
        h = level(Q, deck_at(w, _DECK_AT + j, LANES))
        w[_AT.level + j] = h if Q > w[_AT.board_top_water + j] else 0.0


@joined_late
def _draw_still(w: np.ndarray, e: float) -> None:
    """Step 8 while no water stands above the board in any lane."""
    for j in range(LANES):
        p = column_at(w, j, LANES)
        U, from_surface, demand = draw_surface(e, w[_AT.surface_water + j], p)
        S, C, M = w[_AT.held_water + j], w[_AT.cup_water + j], w[_AT.mat_water + j]
        from_medium, from_cups, from_mat = drawn_by_roots(demand, S, C, M, p)
        w[_AT.surface_water + j] = U
        w[_AT.held_water + j] = S - from_medium
        w[_AT.cup_water + j] = C - from_cups
        w[_AT.mat_water + j] = M - from_mat


@joined_late
def _settle(w: np.ndarray) -> None:
    """Step 9 while no water stands above the board in any lane."""
    for j in range(LANES):
        C, Q = fill(w[_AT.cup_water + j], w[_AT.cup_capacity + j], w[_AT.free_water + j])
        M, Q = fill(w[_AT.mat_water + j], w[_AT.mat_capacity + j], Q)
        w[_AT.cup_water + j] = C
        w[_AT.mat_water + j] = M
        w[_AT.free_water + j] = Q


@joined_late
def _draw_and_settle_lane(w: np.ndarray, j: int, e: float) -> None:
    p, deck = column_at(w, j, LANES), deck_at(w, _DECK_AT + j, LANES)
    h = w[_AT.level + j]
    ponded = pond_part(h, deck)
    standing = medium_part(h, deck) + ponded
    ponded_share = share_above(h, deck.board_height + deck.medium_depth, deck.drop)
    U, from_surface, demand = draw_surface(e, w[_AT.surface_water + j], p)
    Q, from_pond = draw_pond(demand, ponded, ponded_share, w[_AT.free_water + j])
    demand = demand - from_pond
    S, C, M, supplied = draw_roots(demand, w[_AT.held_water + j], w[_AT.cup_water + j], w[_AT.mat_water + j], p)
    C, Q = fill(C, p.cup_capacity, Q)
    M, Q = fill(M, p.mat_capacity, Q)
    S, Q = take_up(standing - from_pond, share_above(h, deck.board_height, deck.drop), S, Q, p)
    w[_AT.surface_water + j] = U
    w[_AT.held_water + j] = S
    w[_AT.cup_water + j] = C
    w[_AT.mat_water + j] = M
    w[_AT.free_water + j] = Q


@joined_late
def _draw_and_settle(w: np.ndarray, e: float) -> None:
    """Steps 8 and 9 where water stands."""
    for j in range(LANES):
        _draw_and_settle_lane(w, j, e)


@joined_late
def _limits_of_levels(w: np.ndarray) -> int:
    """Write the next day's drain limits; return in how many lanes the medium holds more than S_fc."""
    mobile = 0
    for j in range(LANES):
        w[_AT.drain_limit + j] = drain_limit_at(w[_AT.level + j], column_at(w, j, LANES))
        mobile += 1 if w[_AT.held_water + j] > w[_AT.field_water + j] else 0
    return mobile


@joined_late
def _forget_levels(w: np.ndarray) -> None:
    for j in range(LANES):
        w[_AT.level + j] = 0.0
        w[_AT.drain_limit + j] = w[_AT.still_limit + j]


@joined_late
def _count_wet_lane(w: np.ndarray, j: int, warm: float, tolerance: float) -> None:
    p, deck = column_at(w, j, LANES), deck_at(w, _DECK_AT + j, LANES)
    h, S = w[_AT.level + j], w[_AT.held_water + j]
    share = wet_share(h, S, p, deck)
    wet = 1.0 if share >= p.wet_limit else 0.0
    spell = (w[_AT.waterlogged_spell + j] + 1.0) * wet
    w[_AT.waterlogged_spell + j] = spell
    w[_AT.total_waterlogged_days + j] += wet
    w[_AT.total_waterlogged_area_days + j] += share
    w[_AT.total_rot_risk_days + j] += warm if spell > tolerance else 0.0
    w[_AT.total_longest_waterlogged_spell + j] = max(w[_AT.total_longest_waterlogged_spell + j], spell)
    in_medium = min(S + medium_part(h, deck), p.full_water)
    w[_AT.total_excess_water + j] += max(0.0, in_medium - p.field_water)


@joined_late
def _count_wet(w: np.ndarray, warm: float, tolerance: float) -> None:
    """Step 10: waterlogged share and days, their spells, excess water."""
    for j in range(LANES):
        _count_wet_lane(w, j, warm, tolerance)


@joined_late
def _count_dry(w: np.ndarray, ahead: float) -> int:
    """Step 10: dry days and their spells; return in how many lanes roots have no more than `ahead` mm to use above the limit."""
    near = 0
    for j in range(LANES):
        p = column_at(w, j, LANES)
        usable = usable_by_roots(
            w[_AT.surface_water + j], w[_AT.held_water + j], w[_AT.cup_water + j], w[_AT.mat_water + j], p
        )
        dry = 1.0 if usable < p.dry_limit else 0.0
        near += 0 if usable > p.dry_limit + (ahead + ROUNDING_MM) else 1
        spell = (w[_AT.dry_spell + j] + 1.0) * dry
        w[_AT.dry_spell + j] = spell
        w[_AT.total_dry_days + j] += dry
        w[_AT.total_longest_dry_spell + j] = max(w[_AT.total_longest_dry_spell + j], spell)
    return near


@joined_late
def _count_drought(w: np.ndarray) -> None:
    """Count days that are too many dry days on end."""
    for j in range(LANES):
        w[_AT.total_drought_risk_days + j] += 1.0 if w[_AT.dry_spell + j] > w[_AT.drought_days + j] else 0.0


@uncounted
def _take_and_run(
    w: np.ndarray, liquid: float, run_on: float, other: float, gentle: float, left: int, mobile: int, at_once: bool
) -> tuple[int, int, int, bool]:
    """Steps 2 to 7, as far as they change anything.

    Returns in how many lanes free water is left, the medium holds more than S_fc, and water stands above the board; and
    whether overflow was looked at.
    """
    passing, standing = 0, 0
    if liquid > 0.0 or at_once:
        passing = _take_in(w, liquid)
    elif mobile > 0:
        clear(w, _AT.throughfall, _AT.throughfall + LANES)
    if left + mobile == 0 and run_on == 0.0 and liquid < gentle:
        if passing > 0:
            _run_through(w, other)
        return left, mobile, standing, passing > 0
    soaks = passing + mobile > 0  # what is above S_fc percolates today, and may leave none above it
    if soaks:
        mobile = _soak(w)
    else:
        clear(w, _AT.percolation, _AT.passing + LANES)
    if soaks or left > 0 or run_on > 0.0:
        left, standing = _run_down(w, run_on, other)
        return left, mobile, standing, True
    return left, mobile, standing, False


@uncounted
def _evaporate_and_settle(w: np.ndarray, e: float, left: int, mobile: int, standing: int, stood: bool) -> int:
    """Steps 8 and 9, and the levels; return in how many lanes the medium holds more than S_fc."""
    if standing > 0:
        _find_levels(w)
        _draw_and_settle(w, e)
        _find_levels(w)
        return _limits_of_levels(w)
    if stood:
        _forget_levels(w)
    if e > 0.0:
        _draw_still(w, e)
    if left > 0:  # under frost too: bypass and run-on join after the stores have filled from what percolates
        _settle(w)
    return mobile


@joined_late
def _close_month(w: np.ndarray, month: int, by_month: np.ndarray) -> None:
    for j in range(LANES):
        by_month[month * LANES + j] += w[_AT.total_overflow + j] - w[_AT.month_begin + j]
        w[_AT.month_begin + j] = w[_AT.total_overflow + j]


@joined_late
def _close_event(w: np.ndarray, limit: float) -> None:
    """Count an event as held in the lanes whose overflow since its beginning is below the limit."""
    for j in range(LANES):
        shed = w[_AT.total_overflow + j] - w[_AT.event_begin + j]
        w[_AT.total_events_held + j] += 1.0 if shed < limit else 0.0
        w[_AT.event_begin + j] = w[_AT.total_overflow + j]


@joined_late
def _begin_year(w: np.ndarray) -> None:
    """Set the sums of a year to nothing; an event and a month that run on keep what they have shed."""
    for j in range(LANES):
        w[_AT.event_begin + j] -= w[_AT.total_overflow + j]
        w[_AT.month_begin + j] -= w[_AT.total_overflow + j]
        w[_AT.stores_begin + j] = (
            w[_AT.surface_water + j] + w[_AT.held_water + j] + w[_AT.cup_water + j] + w[_AT.mat_water + j]
            + w[_AT.free_water + j]
        )  # fmt: skip
    clear(w, _AT.total_overflow, _AT.total_overflow + _N_TOTAL * LANES)


@joined_late
def _close_year(
    w: np.ndarray, received: float, other: float, largest_other: float, totals: np.ndarray, year: int, first: int
) -> None:
    """Write the sums of a year; evapotranspiration and the roof's overflow follow from the balance."""
    for j in range(LANES):
        stores = (
            w[_AT.surface_water + j] + w[_AT.held_water + j] + w[_AT.cup_water + j] + w[_AT.mat_water + j]
            + w[_AT.free_water + j]
        )  # fmt: skip
        overflow = w[_AT.total_overflow + j]
        planted = w[_AT.planted_fraction + j]
        w[_AT.total_evapotranspiration + j] = received - overflow - (stores - w[_AT.stores_begin + j])
        w[_AT.total_roof_overflow + j] = other + planted * (overflow - other)
        alone = largest_other + planted * (0.0 - largest_other)
        w[_AT.total_peak_roof_overflow + j] = max(w[_AT.total_peak_roof_overflow + j], alone)
    for k in range(_N_TOTAL):
        for j in range(LANES):
            totals[year, k, first + j] = w[_AT.total_overflow + k * LANES + j]


@joined_late
def _begin_block(
    w: np.ndarray, par: np.ndarray, stores: np.ndarray, order: np.ndarray, first: int
) -> tuple[bool, float, float, float]:
    """Load a block.

    Returns whether every medium has air enough at S_fc; the largest demand per mm of e0; the rain that is below every limit
    of the day in every lane while no free water is left of the day before; the least of the days that are a drought.
    """
    w[:] = 0.0
    airless, thirst, gentle, drought_days = 0, 1.0, np.inf, np.inf
    for k in range(_N_PAR):
        for j in range(LANES):
            w[k * LANES + j] = par[k, order[first + j]]
    for k in range(_N_STORE):
        for j in range(LANES):
            w[_AT.surface_water + k * LANES + j] = stores[k, order[first + j]]
    for j in range(LANES):
        p = column_at(w, j, LANES)
        thirst = max(thirst, p.crop_coefficient)
        airless += 1 if p.full_water - p.field_water - p.air_water < -ROUNDING_MM else 0
        limit = drain_limit_at(0.0, p)
        w[_AT.still_limit + j] = limit
        gentle = min(gentle, min(min(p.soak_limit, p.fleece_limit), limit))
        drought_days = min(drought_days, p.drought_days)
    return airless == 0, thirst, 0.999 * gentle, drought_days


@joined_late
def _end_block(
    w: np.ndarray, by_month: np.ndarray, stores: np.ndarray, monthly: np.ndarray, order: np.ndarray, first: int
) -> None:
    for k in range(_N_STORE):
        for j in range(LANES):
            stores[k, order[first + j]] = w[_AT.surface_water + k * LANES + j]
    for k in range(12):
        for j in range(LANES):
            monthly[k, first + j] = by_month[k * LANES + j]


def totals_loop(  # noqa: C901 - one flat loop over days, all of whose parts are functions
    liquid: np.ndarray, e0: np.ndarray, run_on: np.ndarray, other: np.ndarray, warm: np.ndarray, month: np.ndarray,
    event_limit: np.ndarray, year_start: np.ndarray, tolerance: float, par: np.ndarray, order: np.ndarray, begin: int,
    end: int, stores: np.ndarray, totals: np.ndarray, monthly: np.ndarray,
) -> None:  # fmt: skip
    """Run many designs through the same weather and keep sums per year, in blocks of lanes.

    Parameters
    ----------
    liquid, e0, run_on
        As in `column.trace_loop`.
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
        Index of the first day of each year, and the number of days at the end, shape ``(year + 1,)``.
    tolerance
        Waterlogged days a spell may last before its days count as rot risk.
    par
        Parameters, shape ``(parameter, design)``, order of `PARAMETERS` (units: `column.DayColumn`).
    order
        The order in which designs share blocks, a multiple of the block width of them; the last may be named repeatedly.
    begin, end
        The places in `order` from which and up to which to run, multiples of the block width.
    stores
        Stores before the first day, mm, shape ``(len(STORES), design)``, updated.
    totals
        Receives the totals at the places of `order`, shape ``(year, len(TOTALS), place)``: depths mm, peaks mm per day, spells
        days, events and days as counts. Written in the order of the
        designs, every number would cost a line of the cache.
    monthly
        Receives the overflow by month of the year, mm, shape ``(12, place)``.
    """
    rows = np.empty(_N_WORK * LANES + _WHOLE)
    skipped = (-(rows.ctypes.data // 8)) % _WHOLE
    w = rows[skipped : skipped + _N_WORK * LANES]
    by_month = np.empty(12 * LANES)
    for first in range(begin, end, LANES):
        airy, thirst, gentle, drought_days = _begin_block(w, par, stores, order, first)
        by_month[:] = 0.0
        _find_levels(w)
        mobile = _limits_of_levels(w)
        left = 1  # lanes in which free water is left; 1 stands for not known
        stood, wet = True, True  # yesterday: water above the board; any waterlogged spell
        spare = 0.0  # what every design can lose before the first of them is dry, mm; 0 where not known
        on_end = 0.0  # no dry spell is longer than this, days
        in_month, limit = month[0], -1.0  # before the first event none can be held
        for year in range(len(year_start) - 1):
            _begin_year(w)
            received = other_sum = largest_other = 0.0
            for t in range(year_start[year], year_start[year + 1]):
                e = max(0.0, e0[t])
                if month[t] != in_month:
                    _close_month(w, in_month, by_month)
                    in_month = month[t]
                if event_limit[t] != 0.0:
                    _close_event(w, limit)
                    limit = event_limit[t]
                received += liquid[t] + run_on[t]
                other_sum += other[t]
                left, mobile, standing, ran = _take_and_run(
                    w, liquid[t], run_on[t], other[t], gentle, left, mobile, t == 0
                )
                if not ran:
                    largest_other = max(largest_other, other[t])
                mobile = _evaporate_and_settle(w, e, left, mobile, standing, stood)
                stood = standing > 0
                if standing + mobile > 0 or not airy:
                    _count_wet(w, warm[t], tolerance)
                    wet = True
                elif wet:
                    clear(w, _AT.waterlogged_spell, _AT.waterlogged_spell + LANES)
                    wet = False
                spare -= thirst * e
                if not spare > 0.0:
                    spare = max(_DAYS_AHEAD * thirst * e, 1.0)
                    if _count_dry(w, spare) + mobile > 0:  # what is above S_fc may percolate
                        spare = 0.0
                    on_end += 1.0
                    if on_end > drought_days:
                        _count_drought(w)
                else:
                    on_end = 0.0  # no lane is dry
            if year == len(year_start) - 2:
                _close_event(w, limit)
                _close_month(w, in_month, by_month)
            _close_year(w, received, other_sum, largest_other, totals, year, first)
        _end_block(w, by_month, stores, monthly, order, first)
