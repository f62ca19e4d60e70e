"""Many cells of a grid under their own weather: blocks of lanes side by side, from raw weather to headline sums in one pass.

The day of the planted column is the one of `runoff.balance.column`, its lanes those of `runoff.balance.block_lanes`; here
each lane brings its own rain and temperatures, and all lanes are of one design: its numbers are read once for a tile of days. A
day on which no rain falls and no water moves in any lane, two of three in most climates, is one pass over a block; on other days
snow, the surfaces without planting and the planted surface are one pass, running through and evaporation another. A block's
state is one flat array that goes from tile to tile, so a record may come in any pieces along time; the numbers do not depend on
how it is cut, nor on which cells share a block.

Missing values are carried, not looked for: `checked` sums everything that was read, and is missing where anything was.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from runoff.balance import block_lanes
from runoff.balance.block_lanes import (
    LANES,
    PLACE,
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
from runoff.balance.day_steps import ROUNDING_MM, DayColumn, drain_limit_at, draw_surface
from runoff.balance.loop_choice import joined_late, never_inlined, uncounted

#: Days worked on at once.
TILE = 16
#: Blocks whose weather is loaded at once: rows of it are then read in long stretches, and all tiles fit a cache.
TOGETHER = 8

# The work array begins like that of a block of designs, so that their lanes' functions serve here too.
_BESIDE = (
    "snow", "bare_water", "bare_capacity", "other_water", "other_capacity",
    "checked", "total_rain", "total_as_rain", "total_liquid", "total_bare", "total_other", "peak_bare", "peak_other",
    "in_event", "wet_before", "event_rain_begin", "event_as_rain_begin", "event_bare_begin", "total_events",
    "total_bare_held", "month_rain_begin", "month_bare_begin", "snow_begin", "bare_begin", "other_begin", "drawn",
    "rain", "mean", "e0", "drawing", "other_overflow", "begins",
)  # fmt: skip
WORK = (*block_lanes.WORK, *_BESIDE)
_AT = places_of(WORK, LANES)
_N_TOTAL, _TOTALS_AT = block_lanes.N_TOTAL, _AT.total_overflow
_BESIDE_SUMS, _N_BESIDE_SUMS = _AT.total_rain, _AT.month_bare_begin // LANES - _AT.total_rain // LANES + 1

# what a tile holds of each day and lane, one slot after the other; a day's own work is done in the work array alone, as loops over
# lanes that write into more than one array do not run side by side
SLOT = TILE * LANES
RAIN, LOW, HIGH, MEAN = (SLOT * k for k in range(4))
SLOTS = 4

#: How a tile tells reference evapotranspiration: it stands in LOW, or follows from LOW and HIGH and the sun.
GIVEN, FROM_RANGE = 0, 1
#: What is known of temperature: nothing, the mean stands in MEAN, or it follows from LOW and HIGH.
NO_TEMPERATURE, MEAN_GIVEN, MEAN_OF_RANGE = 0, 1, 2

# what a block remembers beside its lanes; 1 stands for "in some lanes", or not known
STATUS = (
    "left", "mobile", "stood", "wet", "spare", "on_end", "airy", "thirst", "gentle", "drought_days", "month", "begun", "snowy",
    "rained", "dry", "supplied",
)  # fmt: skip
(
    _LEFT, _MOBILE, _STOOD, _WET, _SPARE, _ON_END, _AIRY, _THIRST, _GENTLE, _DROUGHT, _MONTH, _BEGUN, _SNOWY, _RAINED, _DRY,
    _SUPPLIED,
) = range(len(STATUS))  # fmt: skip
#: Mean temperature that stands for one that is not known, degC: no snow, no frost.
_MILD = 20.0
#: By-month sums: rain, overflow, overflow of the comparison roof.
MONTHLY = 3


def reference_from_range(low: float, high: float, sun: float) -> float:
    """Return reference evapotranspiration by Hargreaves and Samani (1985; FAO-56 Eq. 52), mm a day.

    Parameters
    ----------
    low, high
        Least and largest temperature of the day, degC.
    sun
        Radiation above the air as evaporated water, Ra / 2.45, mm a day.

    Returns
    -------
    float
        mm a day.
    """
    return 0.0023 * (0.5 * (low + high) + 17.8) * math.sqrt(max(high - low, 0.0)) * sun


@uncounted
def _weather(
    w: np.ndarray, tile: np.ndarray, row: int, sun: np.ndarray, sun_at: int, evaporation: int, temperature: int
) -> bool:
    """Write a day's rain, mean temperature and reference evapotranspiration; tell whether in some lane it rains, or may rain."""
    row, sun_at = row & PLACE, sun_at & PLACE
    rains = False
    for j in range(LANES):
        rain = tile[RAIN + row + j]
        w[_AT.rain + j] = rain
        rains |= rain != 0.0
    if evaporation == FROM_RANGE:
        for j in range(LANES):
            w[_AT.e0 + j] = reference_from_range(tile[LOW + row + j], tile[HIGH + row + j], sun[sun_at + j])
    else:
        for j in range(LANES):
            w[_AT.e0 + j] = tile[LOW + row + j]
    if temperature == MEAN_OF_RANGE:
        for j in range(LANES):
            w[_AT.mean + j] = 0.5 * (tile[LOW + row + j] + tile[HIGH + row + j])
    elif temperature == MEAN_GIVEN:
        for j in range(LANES):
            w[_AT.mean + j] = tile[MEAN + row + j]
    else:
        for j in range(LANES):
            w[_AT.mean + j] = _MILD
    return rains


@joined_late
def _draw_surface_lane(w: np.ndarray, j: int, e: float, p: DayColumn, thirst: float, spare: float) -> bool:
    """Evaporate from the surface; tell whether so much may be drawn since the last look that it may be dry."""
    U, _, demand = draw_surface(e, w[_AT.surface_water + j], p)
    w[_AT.surface_water + j] = U
    w[_AT.demand + j] = demand
    drawn = w[_AT.drawn + j] + thirst * e
    w[_AT.drawn + j] = drawn
    return not (drawn < spare)


@joined_late
def _quiet_day(w: np.ndarray, p: DayColumn, thirst: float, spare: float, supplied: bool) -> bool:
    """Run a day on which no rain falls, no snow lies and no water moves; tell whether in some lane it may be dry."""
    near = False
    for j in range(LANES):
        mean, e = w[_AT.mean + j], w[_AT.e0 + j]
        w[_AT.checked + j] += mean + e
        e = 0.0 if mean <= 0.0 else max(0.0, e)
        w[_AT.drawing + j] = e
        water = w[_AT.bare_water + j]
        w[_AT.bare_water + j] = water - min(water, e)
        water = w[_AT.other_water + j]
        w[_AT.other_water + j] = water - min(water, e)
        near |= _draw_surface_lane(w, j, e, p, thirst, spare)
    draw_by_roots(w, supplied)
    return near


@joined_late
def _begin_events(w: np.ndarray, wet_day: float, held_share: float) -> bool:
    """Close the events that end where another begins, and count those that are held; tell whether the day is wet in some lane."""
    begins, rained = False, False
    for j in range(LANES):
        wet = 1.0 if w[_AT.rain + j] >= wet_day else 0.0
        begin = wet * (1.0 - w[_AT.wet_before + j])
        w[_AT.wet_before + j] = wet
        w[_AT.begins + j] = begin
        begins |= begin > 0.0
        rained |= wet > 0.0
    if begins:
        for j in range(LANES):
            begin, overflow = w[_AT.begins + j], w[_AT.total_overflow + j]
            whole = w[_AT.total_rain + j] - w[_AT.event_rain_begin + j]
            fell = w[_AT.total_as_rain + j] - w[_AT.event_as_rain_begin + j]
            limit = held_share * whole if fell * w[_AT.in_event + j] > 0.0 else -1.0
            bare_shed = w[_AT.total_bare + j] - w[_AT.event_bare_begin + j]
            shed = overflow - w[_AT.event_begin + j]
            w[_AT.total_events + j] += begin if limit > 0.0 else 0.0
            w[_AT.total_bare_held + j] += begin if bare_shed < limit else 0.0
            w[_AT.total_events_held + j] += begin if shed < limit else 0.0
            w[_AT.event_rain_begin + j] = w[_AT.total_rain + j] if begin > 0.0 else w[_AT.event_rain_begin + j]
            w[_AT.event_as_rain_begin + j] = w[_AT.total_as_rain + j] if begin > 0.0 else w[_AT.event_as_rain_begin + j]
            w[_AT.event_bare_begin + j] = w[_AT.total_bare + j] if begin > 0.0 else w[_AT.event_bare_begin + j]
            w[_AT.event_begin + j] = overflow if begin > 0.0 else w[_AT.event_begin + j]
            w[_AT.in_event + j] = max(w[_AT.in_event + j], begin)
    return rained


@joined_late
def _surfaces(
    w: np.ndarray, p: DayColumn, snow_below: float, melt_factor: float, gentle: float
) -> tuple[bool, bool, bool]:
    """Run snow (`surfaces.snow_loop`), the surfaces without planting and the planted one (step 2, but for the bypass).

    Returns whether in some lane snow lies, the planted surface passes something on, and not gently.
    """
    snowy, passing, hard = False, False, False
    for j in range(LANES):
        rain, mean, e, snow = w[_AT.rain + j], w[_AT.mean + j], w[_AT.e0 + j], w[_AT.snow + j]
        w[_AT.checked + j] += rain + mean + e
        cold = mean <= snow_below
        melt = min(snow, max(0.0, melt_factor * mean))
        liquid = 0.0 if cold else rain + melt
        snow = snow + rain if cold else snow - melt
        e = 0.0 if snow > 0.0 else max(0.0, e)  # `surfaces.evaporation_demand`
        e = 0.0 if mean <= 0.0 else e
        w[_AT.snow + j] = snow
        w[_AT.drawing + j] = e
        w[_AT.total_as_rain + j] += 0.0 if cold else rain
        w[_AT.total_rain + j] += rain
        w[_AT.total_liquid + j] += liquid
        water = w[_AT.bare_water + j] + liquid
        over = max(0.0, water - w[_AT.bare_capacity + j])
        water = water - over
        w[_AT.bare_water + j] = water - min(water, e)
        w[_AT.total_bare + j] += over
        w[_AT.peak_bare + j] = max(w[_AT.peak_bare + j], over)
        water = w[_AT.other_water + j] + liquid
        over = max(0.0, water - w[_AT.other_capacity + j])
        water = water - over
        w[_AT.other_water + j] = water - min(water, e)
        w[_AT.total_other + j] += over
        w[_AT.peak_other + j] = max(w[_AT.peak_other + j], over)
        w[_AT.other_overflow + j] = over
        wet = w[_AT.surface_water + j] + liquid
        U = min(wet, p.surface_capacity)
        throughfall = wet - U
        w[_AT.surface_water + j] = U
        w[_AT.throughfall + j] = throughfall
        snowy |= snow > 0.0
        passing |= throughfall > 0.0
        hard |= not (liquid < gentle)
    return snowy, passing, hard


@joined_late
def _run_through(w: np.ndarray) -> None:
    """Steps 2 to 7 where no limit binds (see `block_lanes`)."""
    pass_through(w)
    for j in range(LANES):
        add_overflow_lane(w, j, w[_AT.other_overflow + j])


@joined_late
def _run_down(w: np.ndarray) -> tuple[bool, bool]:
    """Steps 5 to 7; tell whether in some lane free water is left, and whether in some it stands above the board."""
    left, standing = drain_down(w, 0.0)
    for j in range(LANES):
        add_overflow_lane(w, j, w[_AT.other_overflow + j])
    return left, standing


@joined_late
def _draw(w: np.ndarray, p: DayColumn, thirst: float, spare: float, supplied: bool) -> bool:
    """Step 8 while no water stands above the board in any lane; tell whether in some lane it may be dry."""
    near = False
    for j in range(LANES):
        near |= _draw_surface_lane(w, j, w[_AT.drawing + j], p, thirst, spare)
    draw_by_roots(w, supplied)
    return near


@joined_late
def _draw_and_settle(w: np.ndarray, thirst: float, spare: float) -> bool:
    """Steps 8 and 9 where water stands; tell whether in some lane it may be dry."""
    near = False
    for j in range(LANES):
        e = w[_AT.drawing + j]
        draw_open_lane(w, j, e)
        drawn = w[_AT.drawn + j] + thirst * e
        w[_AT.drawn + j] = drawn
        near |= not (drawn < spare)
    draw_by_roots(w, True)
    settle_standing(w)
    return near


@joined_late
def _count_wet(w: np.ndarray, warm_c: float, tolerance: float) -> None:
    """Step 10: waterlogged share and days, their spells, excess water."""
    for j in range(LANES):
        warm = 1.0 if w[_AT.mean + j] >= warm_c else 0.0
        count_wet_lane(w, j, warm, tolerance)


@joined_late
def _close_month(w: np.ndarray, by_month: np.ndarray, kind: int, month: int, total: int, begin: int) -> None:
    """Add what a total has grown by since the month began to the month's sum."""
    at = (kind * 12 + month) * LANES
    for j in range(LANES):
        by_month[at + j] += w[total + j] - w[begin + j]
        w[begin + j] = w[total + j]


@joined_late
def _load(
    tiles: np.ndarray, at: int, values: np.ndarray, begin: int, steps: np.ndarray, days: int, blocks: int, cells: int
) -> None:
    """Copy some days of some blocks of cells into a slot of their tiles; lanes without a cell repeat the last one."""
    along, apart = steps[0], steps[1]
    if along == 1 and apart != 1:  # each cell's record in one stretch: read it as it lies
        for lane in range(blocks * LANES):
            record = values[begin + min(lane, cells - 1) * apart :]
            to = tiles[(lane // LANES) * SLOTS * SLOT + at + lane % LANES :]
            for t in range(days):
                to[t * LANES] = record[t]
        return
    for t in range(days):
        for block in range(blocks):
            first = block * LANES
            row = values[begin + t * along + first * apart :]  # views, for then no place in them can be below 0
            to = tiles[block * SLOTS * SLOT + at + t * LANES :]
            if apart == 1 and first + LANES <= cells:
                for j in range(LANES):
                    to[j] = row[j]
            else:
                for j in range(LANES):
                    to[j] = row[min(j, cells - 1 - first) * apart]


def run_blocks(
    work: np.ndarray, by_month: np.ndarray, status: np.ndarray, single: Any, double: Any, steps: np.ndarray,
    month: np.ndarray, sun: np.ndarray, sun_row: np.ndarray, known: tuple[int, int],
    numbers: tuple[float, float, float, float], warm_c: float, tolerance: float, share: tuple[int, int, int],
    tiles: np.ndarray,
) -> None:  # fmt: skip
    """Run some blocks of cells through a stretch of weather: tiles of days outside, so that rows of the weather are read whole.

    Parameters
    ----------
    work, by_month, status
        Of all blocks, one after the other along the first axis; as in `grid_loop`.
    single, double
        The weather as four flat arrays in single and four in double precision, in the order of the slots RAIN, LOW, HIGH and
        MEAN. Of each quantity that is known one of the two is filled; the other, and both of one that is not known, are empty.
    steps
        How far the next day and the next cell of each quantity lie from one another, shape ``(4, 2)``.
    month
        Month of each day, 0-11.
    sun, sun_row
        Radiation above the air as evaporated water, Ra / 2.45, mm a day, shape ``(row, cell)``, wide enough for whole blocks, and the row of
        each day.
    known, numbers, warm_c, tolerance
        As in `grid_loop`.
    share
        First block to run, the block to stop before, and the cells there are in all.
    tiles
        Room for `TOGETHER` tiles of weather, one after the other.
    """
    first_of_all, end, cells = share
    flat_sun = sun.reshape(-1)
    for start in range(0, len(month), TILE):
        days = min(TILE, len(month) - start)
        for first in range(first_of_all, end, TOGETHER):
            begin, blocks = first * LANES, min(TOGETHER, end - first)
            for k in range(4):
                here = start * steps[k, 0] + begin * steps[k, 1]
                if len(single[k]) > 0:
                    _load(tiles, k * SLOT, single[k], here, steps[k], days, blocks, cells - begin)
                elif len(double[k]) > 0:
                    _load(tiles, k * SLOT, double[k], here, steps[k], days, blocks, cells - begin)
            for b in range(blocks):
                cell = begin + b * LANES
                grid_loop(
                    work[first + b], by_month[first + b], status[first + b], tiles[b * SLOTS * SLOT : (b + 1) * SLOTS * SLOT],
                    days, month[start : start + days], flat_sun, (cell, sun.shape[1]), sun_row[start : start + days], known,
                    numbers, warm_c, tolerance,
                )  # fmt: skip


def begin_record(w: np.ndarray, by_month: np.ndarray, status: np.ndarray, month: int) -> None:
    """Set every sum of a block to nothing and look at where its water stands: a record begins.

    Parameters
    ----------
    w, by_month, status
        Work array, sums by month and status of the block, mm, days and counts, as `grid_loop` takes them.
    month
        Month of the first day, 0-11.
    """
    w[_TOTALS_AT : _TOTALS_AT + _N_TOTAL * LANES] = 0.0
    w[_BESIDE_SUMS : _BESIDE_SUMS + _N_BESIDE_SUMS * LANES] = 0.0
    w[_AT.waterlogged_spell : _AT.waterlogged_spell + 2 * LANES] = 0.0
    w[_AT.event_begin : _AT.event_begin + 2 * LANES] = 0.0
    by_month[:] = 0.0
    airy, thirst, gentle, drought_days = True, 1.0, np.inf, np.inf
    for j in range(LANES):
        w[_AT.stores_begin + j] = (
            w[_AT.surface_water + j] + w[_AT.held_water + j] + w[_AT.cup_water + j] + w[_AT.mat_water + j]
            + w[_AT.free_water + j]
        )  # fmt: skip
        w[_AT.snow_begin + j] = w[_AT.snow + j]
        w[_AT.bare_begin + j] = w[_AT.bare_water + j]
        w[_AT.other_begin + j] = w[_AT.other_water + j]
        p = column_of(w, j)
        thirst = max(thirst, p.crop_coefficient)
        airy &= p.full_water - p.field_water - p.air_water >= -ROUNDING_MM
        limit = drain_limit_at(0.0, p)
        w[_AT.still_limit + j] = limit
        gentle = min(gentle, min(min(p.soak_limit, p.fleece_limit), limit))
        drought_days = min(drought_days, p.drought_days)
    find_levels(w)
    status[_MOBILE] = limits_of_levels(w)
    status[_LEFT], status[_STOOD], status[_WET], status[_BEGUN] = 1.0, 1.0, 1.0, 0.0
    status[_SNOWY], status[_RAINED] = 1.0, 1.0
    status[_SPARE], status[_ON_END] = 0.0, 0.0
    status[_DRY], status[_SUPPLIED], status[_AIRY] = 0.0, 1.0, airy
    status[_THIRST], status[_GENTLE], status[_DROUGHT] = thirst, 0.999 * gentle, drought_days
    status[_MONTH] = month


@never_inlined
def grid_loop(  # noqa: C901 - one flat loop over days, all of whose parts are functions
    w: np.ndarray, by_month: np.ndarray, status: np.ndarray, tile: np.ndarray, days: int, month: np.ndarray,
    sun: np.ndarray, sun_from: tuple[int, int], sun_row: np.ndarray, known: tuple[int, int],
    numbers: tuple[float, float, float, float], warm_c: float, tolerance: float,
) -> None:  # fmt: skip
    """Run one block of cells through a tile of days.

    Parameters
    ----------
    w
        Work array of the block, rows of `WORK`; holds parameters, stores and sums (mm, counts of days and events), updated.
    by_month, status
        Sums by month, mm, shape ``(MONTHLY * 12 * LANES,)``, and what `STATUS` names; updated.
    tile
        The weather, slot after slot (RAIN mm; LOW, HIGH and MEAN degC, or LOW mm of reference evapotranspiration where
        that is given), each a day after the other.
    days
        Days in the tile, at most `TILE`.
    month
        Month of the day, 0-11.
    sun, sun_from, sun_row
        Radiation above the air as evaporated water, Ra / 2.45, mm a day, of all cells in one stretch; where that of the first lane begins
        in it and how far one row of it lies behind the other; and the row of each day.
    known
        How evapotranspiration and temperature are known: `GIVEN` or `FROM_RANGE`; `NO_TEMPERATURE`, `MEAN_GIVEN` or
        `MEAN_OF_RANGE`.
    numbers
        Temperature up to which it snows (degC), melt (mm per degree), rain of a wet day (mm), share of an event's rain below
        whose overflow it counts as held.
    warm_c, tolerance
        Mean temperature from which rot is counted (degC; minus infinity where temperature is not known), and days a spell
        may last.
    """
    p = column_of(w, 0)
    evaporation, temperature = known
    snow_below, melt_factor, wet_day, held_share = numbers
    left, mobile = status[_LEFT] > 0.0, status[_MOBILE] > 0.0
    snowy, rained = status[_SNOWY] > 0.0, status[_RAINED] > 0.0
    stood, wet, airy, begun = status[_STOOD] > 0.0, status[_WET] > 0.0, status[_AIRY] > 0.0, status[_BEGUN] > 0.0
    dry, supplied = status[_DRY] > 0.0, status[_SUPPLIED] > 0.0
    spare, on_end, thirst, drought_days = status[_SPARE], status[_ON_END], status[_THIRST], status[_DROUGHT]
    in_month, gentle = int(status[_MONTH]), status[_GENTLE]
    for t in range(days):
        row = t * LANES
        if month[t] != in_month:
            _close_month(w, by_month, 0, in_month, _AT.total_rain, _AT.month_rain_begin)
            _close_month(w, by_month, 1, in_month, _AT.total_overflow, _AT.month_begin)
            _close_month(w, by_month, 2, in_month, _AT.total_bare, _AT.month_bare_begin)
            in_month = month[t]
        rains = _weather(w, tile, row, sun, sun_from[0] + sun_from[1] * sun_row[t], evaporation, temperature)
        moving = left or mobile or snowy or rained or stood or wet
        if begun and airy and not (rains or moving):
            near = _quiet_day(w, p, thirst, spare, supplied)
        else:
            rained = _begin_events(w, wet_day, held_share)
            snowy, passing, hard = _surfaces(w, p, snow_below, melt_factor, gentle)
            begun, standing = True, False
            if not (left or mobile or hard):
                if passing:
                    _run_through(w)
                    supplied = True
                near = _draw(w, p, thirst, spare, supplied)
            else:
                supplied = True
                soaks = passing or mobile  # what is above S_fc percolates today, and may leave none above it
                if soaks:
                    mobile = soak(w)
                else:
                    clear(w, _AT.percolation, _AT.passing + LANES)
                if soaks or left:
                    left, standing = _run_down(w)
                if standing:
                    find_levels(w)
                    near = _draw_and_settle(w, thirst, spare)
                    find_levels(w)
                    mobile = limits_of_levels(w)
                else:
                    near = _draw(w, p, thirst, spare, True)
                    if left:  # under frost too: what came by bypass joins after the stores have filled
                        settle(w)
            if stood and not standing:
                forget_levels(w)
            stood = standing
            if standing or mobile or not airy:
                _count_wet(w, warm_c, tolerance)
                wet = True
            elif wet:
                clear(w, _AT.waterlogged_spell, _AT.waterlogged_spell + LANES)
                wet = False
        if near:
            supplied, dry, spare = look_for_dry(w, supplied, dry, mobile)
            clear(w, _AT.drawn, _AT.drawn + LANES)
            on_end = on_end + 1.0 if dry else 0.0
            if on_end > drought_days:
                count_drought(w)
        else:
            on_end = 0.0  # no lane is dry
    status[_LEFT], status[_MOBILE], status[_SPARE], status[_ON_END] = left, mobile, spare, on_end
    status[_STOOD], status[_WET], status[_BEGUN] = stood, wet, begun
    status[_MONTH], status[_SNOWY], status[_RAINED] = in_month, snowy, rained
    status[_DRY], status[_SUPPLIED] = dry, supplied
