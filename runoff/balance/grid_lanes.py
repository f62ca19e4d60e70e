"""Many cells of a grid under their own weather: blocks of lanes side by side, from raw weather to headline sums in one pass.

The day of the planted column is the one of `runoff.balance.column`, its lanes those of `runoff.balance.column_blocks`; here
each lane brings its own rain and temperatures. What a day's weather brings beside the column (reference evapotranspiration
from the range of temperature, snow, frost, the surfaces without planting, where rain events begin) is worked out first for a
tile of days, then the columns run through them. A block's state is one flat array that goes from tile to tile, so a record
may come in any pieces along time; the numbers do not depend on how it is cut, nor on which cells share a block.

Missing values are carried, not looked for: `checked` sums everything that was read, and is missing where anything was.
"""

from __future__ import annotations

import collections
import math
from typing import Any

import numpy as np

from runoff.balance import column_blocks
from runoff.balance.column import (
    ROUNDING_MM,
    bypass_of,
    column_at,
    drain_limit_at,
    draw_roots,
    draw_surface,
    fill,
)
from runoff.balance.column_blocks import (
    LANES,
    _add_overflow,
    _count_drought,
    _count_dry,
    _count_wet_lane,
    _draw_and_settle_lane,
    _find_levels,
    _forget_levels,
    _limits_of_levels,
    _run_down_lane,
    _settle,
    _soak,
)
from runoff.balance.loop_choice import joined_late, never_inlined

#: Days worked on at once.
TILE = 32
#: Blocks whose weather is loaded at once: rows of it are then read in long stretches, and all tiles fit a cache.
TOGETHER = 8

# The work array begins like that of a block of designs, so that their lanes' functions serve here too.
_BESIDE = (
    "snow", "bare_water", "bare_capacity", "other_water", "other_capacity",
    "checked", "total_rain", "total_as_rain", "total_liquid", "total_bare", "total_other", "peak_bare", "peak_other",
    "in_event", "wet_before", "event_rain_begin", "event_as_rain_begin", "event_bare_begin", "total_events",
    "total_bare_held", "month_rain_begin", "month_bare_begin", "snow_begin", "bare_begin", "other_begin", "drawn",
)  # fmt: skip
_Places: Any = collections.namedtuple("_Places", (*column_blocks._WORK, *_BESIDE))  # type: ignore[misc]
_AT: Any = _Places(*(LANES * row for row in range(len(column_blocks._WORK) + len(_BESIDE))))
WORK = _Places._fields
_N_TOTAL, _TOTALS_AT = column_blocks._N_TOTAL, _AT.total_overflow
_BESIDE_SUMS, _N_BESIDE_SUMS = _AT.total_rain, _AT.month_bare_begin // LANES - _AT.total_rain // LANES + 1
_DAYS_AHEAD = column_blocks._DAYS_AHEAD

# what a tile holds of each day and lane, one slot after the other; low and high give way to what is worked out from them
SLOT = TILE * LANES
RAIN, LOW, HIGH, MEAN, OTHER, LIMIT = (SLOT * k for k in range(6))
DRAWN, LIQUID = LOW, HIGH
SLOTS = 6

#: How a tile tells reference evapotranspiration: it stands in LOW, or follows from LOW and HIGH and the sun.
GIVEN, FROM_RANGE = 0, 1
#: What is known of temperature: nothing, the mean stands in MEAN, or it follows from LOW and HIGH.
NO_TEMPERATURE, MEAN_GIVEN, MEAN_OF_RANGE = 0, 1, 2

# what a block remembers beside its lanes
STATUS = (
    "left",
    "mobile",
    "stood",
    "wet",
    "spare",
    "on_end",
    "airy",
    "thirst",
    "gentle",
    "drought_days",
    "month",
    "begun",
)
_LEFT, _MOBILE, _STOOD, _WET, _SPARE, _ON_END, _AIRY, _THIRST, _GENTLE, _DROUGHT, _MONTH, _BEGUN = range(len(STATUS))
#: By-month sums: rain, overflow, overflow of the comparison roof.
MONTHLY = 3


def reference_from_range(low: float, high: float, sun: float) -> float:
    """Return reference evapotranspiration by Hargreaves and Samani (1985; FAO-56 Eq. 52), mm a day.

    Parameters
    ----------
    low, high
        Least and largest temperature of the day, degC.
    sun
        Radiation above the atmosphere, MJ m-2 a day.

    Returns
    -------
    float
        mm a day.
    """
    return 0.0023 * (0.5 * (low + high) + 17.8) * math.sqrt(max(high - low, 0.0)) * sun / 2.45


@joined_late
def _temperature(tile: np.ndarray, row: int, sun: np.ndarray, evaporation: int, temperature: int) -> None:
    """Write the mean temperature and reference evapotranspiration of a day, where they follow from its range."""
    if temperature == MEAN_OF_RANGE:
        for j in range(LANES):
            tile[MEAN + row + j] = 0.5 * (tile[LOW + row + j] + tile[HIGH + row + j])
    if evaporation == FROM_RANGE:
        for j in range(LANES):
            tile[LOW + row + j] = reference_from_range(tile[LOW + row + j], tile[HIGH + row + j], sun[j])


@joined_late
def _begin_events(w: np.ndarray, tile: np.ndarray, row: int, wet_day: float, held_share: float) -> int:
    """Close the events that end where another begins; write the overflow below which they count as held."""
    begins = 0
    for j in range(LANES):
        wet = 1.0 if tile[RAIN + row + j] >= wet_day else 0.0
        begin = wet * (1.0 - w[_AT.wet_before + j])
        w[_AT.wet_before + j] = wet
        tile[LIMIT + row + j] = begin
        begins += 1 if begin > 0.0 else 0
    if begins > 0:
        for j in range(LANES):
            begin = tile[LIMIT + row + j]
            whole = w[_AT.total_rain + j] - w[_AT.event_rain_begin + j]
            fell = w[_AT.total_as_rain + j] - w[_AT.event_as_rain_begin + j]
            limit = held_share * whole if fell * w[_AT.in_event + j] > 0.0 else -1.0
            shed = w[_AT.total_bare + j] - w[_AT.event_bare_begin + j]
            w[_AT.total_events + j] += begin if limit > 0.0 else 0.0
            w[_AT.total_bare_held + j] += begin if shed < limit else 0.0
            w[_AT.event_rain_begin + j] = w[_AT.total_rain + j] if begin > 0.0 else w[_AT.event_rain_begin + j]
            w[_AT.event_as_rain_begin + j] = w[_AT.total_as_rain + j] if begin > 0.0 else w[_AT.event_as_rain_begin + j]
            w[_AT.event_bare_begin + j] = w[_AT.total_bare + j] if begin > 0.0 else w[_AT.event_bare_begin + j]
            w[_AT.in_event + j] = max(w[_AT.in_event + j], begin)
            tile[LIMIT + row + j] = limit * begin
    return begins


@joined_late
def _snow(w: np.ndarray, tile: np.ndarray, row: int, snow_below: float, melt_factor: float) -> None:
    """Step 1 where temperature is known (`surfaces.snow_loop`), and what can be drawn (`surfaces.evaporation_demand`)."""
    for j in range(LANES):
        rain, mean, e, snow = tile[RAIN + row + j], tile[MEAN + row + j], tile[LOW + row + j], w[_AT.snow + j]
        w[_AT.checked + j] += rain + mean + e
        cold = mean <= snow_below
        melt = min(snow, max(0.0, melt_factor * mean))
        liquid = 0.0 if cold else rain + melt
        snow = snow + rain if cold else snow - melt
        e = 0.0 if snow > 0.0 else max(0.0, e)
        e = 0.0 if mean <= 0.0 else e
        w[_AT.snow + j] = snow
        w[_AT.total_as_rain + j] += 0.0 if cold else rain
        tile[LIQUID + row + j] = liquid
        tile[DRAWN + row + j] = e


@joined_late
def _no_snow(w: np.ndarray, tile: np.ndarray, row: int) -> None:
    """Do the same where temperature is not known."""
    for j in range(LANES):
        rain, e = tile[RAIN + row + j], tile[LOW + row + j]
        w[_AT.checked + j] += rain + e
        w[_AT.total_as_rain + j] += rain
        tile[LIQUID + row + j] = rain
        tile[DRAWN + row + j] = max(0.0, e)


@joined_late
def _beside(w: np.ndarray, tile: np.ndarray, row: int, gentle: float) -> tuple[int, int, int]:
    """Run the surfaces without planting; return in how many lanes water arrives, in how many not gently, in how many some is drawn."""
    arriving, hard, drawing = 0, 0, 0
    for j in range(LANES):
        liquid, e = tile[LIQUID + row + j], tile[DRAWN + row + j]
        w[_AT.total_rain + j] += tile[RAIN + row + j]
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
        tile[OTHER + row + j] = over
        arriving += 1 if liquid > 0.0 else 0
        hard += 0 if liquid < gentle else 1
        drawing += 1 if e > 0.0 else 0
    return arriving, hard, drawing


@joined_late
def _take_in(w: np.ndarray, tile: np.ndarray, row: int) -> int:
    """Step 2, but for the bypass; return in how many lanes the surface passes something on."""
    passing = 0
    for j in range(LANES):
        wet = w[_AT.surface_water + j] + tile[LIQUID + row + j]
        U = min(wet, w[_AT.surface_capacity + j])
        throughfall = wet - U
        w[_AT.surface_water + j] = U
        w[_AT.throughfall + j] = throughfall
        passing += 1 if throughfall > 0.0 else 0
    return passing


@joined_late
def _run_through(w: np.ndarray, tile: np.ndarray, row: int) -> None:
    """Steps 2 to 7 where no limit binds; see `column_blocks`."""
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
        _add_overflow(w, j, Q + by, tile[OTHER + row + j])


@joined_late
def _run_down(w: np.ndarray, tile: np.ndarray, row: int) -> tuple[int, int]:
    """Steps 5 to 7; return in how many lanes free water is left, and in how many it stands above the board."""
    left, standing = 0, 0
    for j in range(LANES):
        is_left, stands = _run_down_lane(w, j, 0.0, tile[OTHER + row + j])
        left += is_left
        standing += stands
    return left, standing


@joined_late
def _draw_still(w: np.ndarray, tile: np.ndarray, row: int) -> None:
    """Step 8 while no water stands above the board in any lane."""
    for j in range(LANES):
        p = column_at(w, j, LANES)
        U, from_surface, demand = draw_surface(tile[DRAWN + row + j], w[_AT.surface_water + j], p)
        S, C, M, supplied = draw_roots(demand, w[_AT.held_water + j], w[_AT.cup_water + j], w[_AT.mat_water + j], p)
        w[_AT.surface_water + j] = U
        w[_AT.held_water + j] = S
        w[_AT.cup_water + j] = C
        w[_AT.mat_water + j] = M


@joined_late
def _draw_and_settle(w: np.ndarray, tile: np.ndarray, row: int) -> None:
    """Steps 8 and 9 where water stands."""
    for j in range(LANES):
        _draw_and_settle_lane(w, j, tile[DRAWN + row + j])


@joined_late
def _count_wet(w: np.ndarray, tile: np.ndarray, row: int, warm_c: float, tolerance: float) -> None:
    """Step 10: waterlogged share and days, their spells, excess water."""
    for j in range(LANES):
        warm = 1.0 if tile[MEAN + row + j] >= warm_c else 0.0
        _count_wet_lane(w, j, warm, tolerance)


@joined_late
def _may_be_dry(w: np.ndarray, tile: np.ndarray, row: int, thirst: float, spare: float) -> int:
    """Add what may be drawn; return in how many lanes it may come to `spare` since the last look at dry days."""
    near = 0
    for j in range(LANES):
        drawn = w[_AT.drawn + j] + thirst * tile[DRAWN + row + j]
        w[_AT.drawn + j] = drawn
        near += 0 if drawn < spare else 1
    return near


@joined_late
def _close_events(w: np.ndarray, tile: np.ndarray, row: int) -> None:
    """Count the events that end before this day as held in the lanes whose overflow is below their limit."""
    for j in range(LANES):
        limit = tile[LIMIT + row + j]
        shed = w[_AT.total_overflow + j] - w[_AT.event_begin + j]
        w[_AT.total_events_held + j] += 1.0 if shed < limit else 0.0
        w[_AT.event_begin + j] = w[_AT.event_begin + j] if limit == 0.0 else w[_AT.total_overflow + j]


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
    tiles: np.ndarray, counts: np.ndarray,
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
        Radiation above the air, MJ m-2 d-1, shape ``(row, cell)``, wide enough for whole blocks, and the row of each day.
    known, numbers, warm_c, tolerance
        As in `grid_loop`.
    share
        First block to run, the block to stop before, and the cells there are in all.
    tiles, counts
        Room for `TOGETHER` tiles of weather, one after the other, and for the counts of one.
    """
    first_of_all, end, cells = share
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
                    days, month[start : start + days], sun[:, cell : cell + LANES], sun_row[start : start + days], known,
                    numbers, warm_c, tolerance, counts,
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
    airless, thirst, gentle, drought_days = 0, 1.0, np.inf, np.inf
    for j in range(LANES):
        w[_AT.stores_begin + j] = (
            w[_AT.surface_water + j] + w[_AT.held_water + j] + w[_AT.cup_water + j] + w[_AT.mat_water + j]
            + w[_AT.free_water + j]
        )  # fmt: skip
        w[_AT.snow_begin + j] = w[_AT.snow + j]
        w[_AT.bare_begin + j] = w[_AT.bare_water + j]
        w[_AT.other_begin + j] = w[_AT.other_water + j]
        p = column_at(w, j, LANES)
        thirst = max(thirst, p.crop_coefficient)
        airless += 1 if p.full_water - p.field_water - p.air_water < -ROUNDING_MM else 0
        limit = drain_limit_at(0.0, p)
        w[_AT.still_limit + j] = limit
        gentle = min(gentle, min(min(p.soak_limit, p.fleece_limit), limit))
        drought_days = min(drought_days, p.drought_days)
    _find_levels(w)
    status[_MOBILE] = _limits_of_levels(w)
    status[_LEFT], status[_STOOD], status[_WET], status[_BEGUN] = 1.0, 1.0, 1.0, 0.0  # 1 stands for not known
    status[_SPARE], status[_ON_END] = 0.0, 0.0
    status[_AIRY] = 1.0 if airless == 0 else 0.0
    status[_THIRST], status[_GENTLE], status[_DROUGHT] = thirst, 0.999 * gentle, drought_days
    status[_MONTH] = month


@joined_late
def _weather_of_tile(
    w: np.ndarray, by_month: np.ndarray, status: np.ndarray, tile: np.ndarray, days: int, month: np.ndarray,
    sun: np.ndarray, sun_row: np.ndarray, known: tuple[int, int], numbers: tuple[float, float, float, float],
    counts: np.ndarray,
) -> None:  # fmt: skip
    """Work out what the weather of a tile brings beside the columns."""
    evaporation, temperature = known
    snow_below, melt_factor, wet_day, held_share = numbers
    in_month = int(status[_MONTH])
    for t in range(days):
        row = t * LANES
        if month[t] != in_month:
            _close_month(w, by_month, 0, in_month, _AT.total_rain, _AT.month_rain_begin)
            _close_month(w, by_month, 2, in_month, _AT.total_bare, _AT.month_bare_begin)
            in_month = month[t]
        _temperature(tile, row, sun[sun_row[t]], evaporation, temperature)
        counts[3, t] = _begin_events(w, tile, row, wet_day, held_share)
        if temperature == NO_TEMPERATURE:
            _no_snow(w, tile, row)
        else:
            _snow(w, tile, row, snow_below, melt_factor)
        counts[0, t], counts[1, t], counts[2, t] = _beside(w, tile, row, status[_GENTLE])


@never_inlined
def grid_loop(  # noqa: C901 - one flat loop over days, all of whose parts are functions
    w: np.ndarray, by_month: np.ndarray, status: np.ndarray, tile: np.ndarray, days: int, month: np.ndarray,
    sun: np.ndarray, sun_row: np.ndarray, known: tuple[int, int], numbers: tuple[float, float, float, float],
    warm_c: float, tolerance: float, counts: np.ndarray,
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
        that is given), each a day after the other; is written over.
    days
        Days in the tile, at most `TILE`.
    month
        Month of the day, 0-11.
    sun, sun_row
        Radiation above the air, MJ m-2 d-1, of the lanes, shape ``(row, LANES)``, and the row of each day.
    known
        How evapotranspiration and temperature are known: `GIVEN` or `FROM_RANGE`; `NO_TEMPERATURE`, `MEAN_GIVEN` or
        `MEAN_OF_RANGE`.
    numbers
        Temperature up to which it snows (degC), melt (mm per degree), rain of a wet day (mm), share of an event's rain below
        whose overflow it counts as held.
    warm_c, tolerance
        Mean temperature from which rot is counted (degC; minus infinity where temperature is not known), and days a spell
        may last.
    counts
        Room for counts of the day, shape ``(4, TILE)``.
    """
    _weather_of_tile(w, by_month, status, tile, days, month, sun, sun_row, known, numbers, counts)
    left, mobile = int(status[_LEFT]), int(status[_MOBILE])
    stood, wet, airy, begun = status[_STOOD] > 0.0, status[_WET] > 0.0, status[_AIRY] > 0.0, status[_BEGUN] > 0.0
    spare, on_end, thirst, drought_days = status[_SPARE], status[_ON_END], status[_THIRST], status[_DROUGHT]
    in_month = int(status[_MONTH])
    for t in range(days):
        row = t * LANES
        if month[t] != in_month:
            _close_month(w, by_month, 1, in_month, _AT.total_overflow, _AT.month_begin)
            in_month = month[t]
        if counts[3, t] > 0:
            _close_events(w, tile, row)
        passing, standing = 0, 0
        if counts[0, t] > 0 or not begun:
            passing = _take_in(w, tile, row)
            begun = True
        elif mobile > 0:
            w[_AT.throughfall : _AT.throughfall + LANES] = 0.0
        if left + mobile == 0 and counts[1, t] == 0:
            if passing > 0:
                _run_through(w, tile, row)
        else:
            if passing + mobile > 0:
                mobile = _soak(w)
            else:
                w[_AT.percolation : _AT.passing + LANES] = 0.0
            if passing + left + mobile > 0:
                left, standing = _run_down(w, tile, row)
        if standing > 0:
            _find_levels(w)
            _draw_and_settle(w, tile, row)
            _find_levels(w)
            mobile = _limits_of_levels(w)
        else:
            if stood:
                _forget_levels(w)
            if counts[2, t] > 0:
                _draw_still(w, tile, row)
            if left > 0:  # under frost too: what came by bypass joins after the stores have filled
                _settle(w)
        stood = standing > 0
        if standing + mobile > 0 or not airy:
            _count_wet(w, tile, row, warm_c, tolerance)
            wet = True
        elif wet:
            w[_AT.waterlogged_spell : _AT.waterlogged_spell + LANES] = 0.0
            wet = False
        if counts[2, t] > 0 or spare <= 0.0:
            near = _may_be_dry(w, tile, row, thirst, spare)
        else:
            near = 0
        if near > 0:
            spare = _look_ahead(w, tile, row, thirst)
            if _count_dry(w, spare) + mobile > 0:  # what is above S_fc may percolate
                spare = 0.0
            w[_AT.drawn : _AT.drawn + LANES] = 0.0
            on_end += 1.0
            if on_end > drought_days:
                _count_drought(w)
        else:
            on_end = 0.0  # no lane is dry
    status[_LEFT], status[_MOBILE], status[_SPARE], status[_ON_END] = left, mobile, spare, on_end
    status[_STOOD], status[_WET], status[_BEGUN] = 1.0 if stood else 0.0, 1.0 if wet else 0.0, 1.0 if begun else 0.0
    status[_MONTH] = in_month


@joined_late
def _look_ahead(w: np.ndarray, tile: np.ndarray, row: int, thirst: float) -> float:
    """Return how far ahead to look for dry days, mm: some days like this one."""
    most = 0.0
    for j in range(0, LANES, 8):
        most = max(most, tile[DRAWN + row + j])
    return max(_DAYS_AHEAD * thirst * most, 1.0)
