"""The day of the column over the lanes of a block: steps that designs and cells of a grid share.

A block is one flat array, a row of lanes for each number; a step goes over its lanes one after the other, and lanes run side by
side. Steps tell whether something holds in some lane, and not in how many: sums over lanes would cost more than the answer is
worth. Long steps are cut in two, what goes between them stands in a row of its own: while a lane waits for its own numbers the
processor looks only so far ahead, and with half as much to do for each it works on twice as many.
"""

from __future__ import annotations

import collections
import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from runoff.balance.column import PARAMETERS, STORES
from runoff.balance.day_steps import (
    ROUNDING_MM,
    DayColumn,
    bypassed,
    drain,
    drain_limit_at,
    draw_pond,
    draw_surface,
    drawn_from_below,
    drawn_from_medium,
    fill,
    soak_and_percolate,
    take_up,
    usable_by_roots,
    usable_in_medium,
    wet_share,
    wetness,
)
from runoff.balance.free_water import Deck, level_on, medium_part, piece_of, pond_part, share_above
from runoff.balance.loop_choice import joined_late, lane_reader_of, uncounted

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
#: Of which totals the largest counts, where several years are taken together; the others are sums.
LARGEST = ("peak_overflow", "longest_waterlogged_spell", "longest_dry_spell", "peak_roof_overflow")
#: Lanes side by side, where a loop does not give another number (`loop_choice.parts_of`).
LANES = 64

# The work array of a block: one row of lanes per name, `AT.name` is where its row begins. One flat array whose rows stand
# at constant places is what the compiler needs to see that no lane touches another. Rows come by how often a day asks for them: those of
# a dry day first, as a place in the first 8 KB takes three bytes less of an instruction, and long stretches of vectors wait for being
# read themselves; then those of rain, and of sums. Side by side they lie evenly in the first cache.
_OFTEN = (
    *STORES, "demand", "margin", "throughfall", "surface_share", "crop_coefficient", "wilting_water", "stress_slope", "cup_supply", "mat_supply",
    "mulch_share", "dry_limit",
    "surface_capacity", "bypass_fraction", "bypass_slope", "bypass_scale", "field_water", "cup_capacity", "mat_capacity", "planted_fraction",
    "percolation", "passing", "overflow", "wetness", "wetter_squared", "least",
    "waterlogged_spell", "dry_spell", "event_begin", "month_begin", *(f"total_{name}" for name in TOTALS),
)  # fmt: skip
WORK = (
    *_OFTEN, *(name for name in PARAMETERS if name not in _OFTEN),
    "drain_limit", "still_limit", "level", "standing", "piece_end", "piece_beyond", "piece_slope", "piece_squared", "of_month", "stores_begin",
)  # fmt: skip
# No place in an array is below 0: what is cut so says it to the compiler, which else asks before every number it reads.
PLACE = 2**48 - 1


def places_of(rows: Sequence[str], lanes: int) -> Any:
    """Return where each row of a block of so many lanes begins, by its name."""
    return collections.namedtuple("Places", rows)(*range(0, lanes * len(rows), lanes))


AT = places_of(WORK, LANES)
# numba reads globals of a kernel as constants: counts must be plain module integers
N_TOTAL = len(TOTALS)
#: ``column_of(w, lane)`` and ``deck_of(w, lane)``: the design of a lane.
column_of, deck_of = lane_reader_of(DayColumn, AT), lane_reader_of(Deck, AT)


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
def add_overflow_lane(w: np.ndarray, j: int, other: float) -> None:
    """Add a lane's overflow to its sums.

    Parameters
    ----------
    w
        The work array of a block, numbers of any unit.
    j
        The lane.
    other
        Overflow of the unplanted part of the roof, mm.
    """
    overflow = w[AT.overflow + j]
    w[AT.total_overflow + j] += overflow
    w[AT.total_peak_overflow + j] = max(w[AT.total_peak_overflow + j], overflow)
    roof = other + w[AT.planted_fraction + j] * (overflow - other)
    w[AT.total_peak_roof_overflow + j] = max(w[AT.total_peak_roof_overflow + j], roof)


@joined_late
def find_bypass(w: np.ndarray) -> None:
    """Write what of the throughfall passes the medium. Where every medium fills it takes no square root, the longest work of a day."""
    unfilled = False
    for j in range(LANES):
        p = column_of(w, j)
        g, squared = wetness(w[AT.throughfall + j], w[AT.held_water + j], p)
        filled = 1.0 + p.bypass_fraction
        w[AT.wetness + j] = g
        w[AT.wetter_squared + j] = squared
        unfilled |= squared < filled * filled
    if not unfilled:
        for j in range(LANES):
            p = column_of(w, j)
            w[AT.passing + j] = bypassed(w[AT.throughfall + j], w[AT.wetness + j], 1.0 + p.bypass_fraction, p)
        return
    for j in range(LANES):
        p = column_of(w, j)
        wetter = min(1.0 + p.bypass_fraction, math.sqrt(w[AT.wetter_squared + j]))
        w[AT.passing + j] = bypassed(w[AT.throughfall + j], w[AT.wetness + j], wetter, p)


@joined_late
def pass_through(w: np.ndarray) -> None:
    """Steps 2 to 7 where no limit binds, but for sums: all that percolates or passes finds room or drains, and none is left."""
    find_bypass(w)
    for j in range(LANES):
        p = column_of(w, j)
        by = w[AT.passing + j]
        S = w[AT.held_water + j] + (w[AT.throughfall + j] - by)
        kept = min(S, p.field_water)
        C, Q = fill(w[AT.cup_water + j], p.cup_capacity, S - kept)
        M, Q = fill(w[AT.mat_water + j], p.mat_capacity, Q)
        w[AT.held_water + j] = kept
        w[AT.cup_water + j] = C
        w[AT.mat_water + j] = M
        w[AT.overflow + j] = Q + by


@joined_late
def soak(w: np.ndarray) -> bool:
    """Bypass, soak and percolate; tell whether in some lane the medium still holds more than S_fc."""
    find_bypass(w)
    mobile = False
    for j in range(LANES):
        p = column_of(w, j)
        throughfall, by, S = w[AT.throughfall + j], w[AT.passing + j], w[AT.held_water + j]
        S, percolation, passing = soak_and_percolate(throughfall, by, S, p)
        w[AT.held_water + j] = S
        w[AT.percolation + j] = percolation
        w[AT.passing + j] = passing
        mobile |= p.field_water < S
    return mobile


@joined_late
def drain_down(w: np.ndarray, run_on: float) -> tuple[bool, bool]:
    """Fill cups and mats from what percolates, drain and spill (steps 5 to 7, but for sums); `run_on`, mm, passes them.

    Returns whether in some lane free water is left, and whether in some it stands above the board.
    """
    for j in range(LANES):
        p = column_of(w, j)
        C, Q = fill(w[AT.cup_water + j], p.cup_capacity, w[AT.free_water + j] + w[AT.percolation + j])
        M, Q = fill(w[AT.mat_water + j], p.mat_capacity, Q)
        w[AT.cup_water + j] = C
        w[AT.mat_water + j] = M
        w[AT.free_water + j] = Q + (w[AT.passing + j] + run_on)
    left, standing = False, False
    for j in range(LANES):
        p = column_of(w, j)
        Q, drained = drain(w[AT.free_water + j], w[AT.drain_limit + j], p)
        kept = min(Q, p.spill_water)
        w[AT.free_water + j] = kept
        w[AT.overflow + j] = drained + (Q - kept)
        left |= kept > 0.0
        standing |= kept > p.board_top_water
    return left, standing


@joined_late
def find_levels(w: np.ndarray) -> None:
    """Write the level of lanes in which water stands above the board, 0 in the others (step 7)."""
    for j in range(LANES):
        end, beyond, slope, squared = piece_of(w[AT.free_water + j], deck_of(w, j))
        w[AT.piece_end + j] = end
        w[AT.piece_beyond + j] = beyond
        w[AT.piece_slope + j] = slope
        w[AT.piece_squared + j] = squared
    for j in range(LANES):
        h = level_on(w[AT.piece_end + j], w[AT.piece_beyond + j], w[AT.piece_slope + j], w[AT.piece_squared + j])
        w[AT.level + j] = h if w[AT.free_water + j] > w[AT.board_top_water + j] else 0.0


@joined_late
def draw_by_roots(w: np.ndarray, supplied: bool) -> None:
    """Let roots draw what is demanded (step 8); `supplied`: cups or mat may hold water in some lane."""
    for j in range(LANES):
        demand, S = w[AT.demand + j], w[AT.held_water + j]
        from_medium = drawn_from_medium(demand, S, column_of(w, j))
        w[AT.held_water + j] = S - from_medium
        w[AT.demand + j] = demand - from_medium
    if supplied:
        for j in range(LANES):
            C, M = w[AT.cup_water + j], w[AT.mat_water + j]
            from_cups, from_mat = drawn_from_below(w[AT.demand + j], C, M, column_of(w, j))
            w[AT.cup_water + j] = C - from_cups
            w[AT.mat_water + j] = M - from_mat


@joined_late
def settle(w: np.ndarray) -> None:
    """Step 9 while no water stands above the board in any lane."""
    for j in range(LANES):
        C, Q = fill(w[AT.cup_water + j], w[AT.cup_capacity + j], w[AT.free_water + j])
        M, Q = fill(w[AT.mat_water + j], w[AT.mat_capacity + j], Q)
        w[AT.cup_water + j] = C
        w[AT.mat_water + j] = M
        w[AT.free_water + j] = Q


@joined_late
def draw_open_lane(w: np.ndarray, j: int, e: float) -> None:
    """Evaporate from surface and pond of a lane (step 8), and write what stands in and above the medium.

    Parameters
    ----------
    w
        The work array of a block, numbers of any unit.
    j
        The lane.
    e
        Reference evapotranspiration of the day, mm.
    """
    p, deck = column_of(w, j), deck_of(w, j)
    h = w[AT.level + j]
    ponded = pond_part(h, deck)
    ponded_share = share_above(h, deck.board_height + deck.medium_depth, deck.drop)
    U, _, demand = draw_surface(e, w[AT.surface_water + j], p)
    Q, from_pond = draw_pond(demand, ponded, ponded_share, w[AT.free_water + j])
    w[AT.surface_water + j] = U
    w[AT.free_water + j] = Q
    w[AT.demand + j] = demand - from_pond
    w[AT.standing + j] = medium_part(h, deck) + ponded - from_pond


@joined_late
def settle_standing(w: np.ndarray) -> None:
    """Step 9 where water stands."""
    for j in range(LANES):
        p, deck = column_of(w, j), deck_of(w, j)
        C, Q = fill(w[AT.cup_water + j], p.cup_capacity, w[AT.free_water + j])
        M, Q = fill(w[AT.mat_water + j], p.mat_capacity, Q)
        wetted_share = share_above(w[AT.level + j], deck.board_height, deck.drop)
        S, Q = take_up(w[AT.standing + j], wetted_share, w[AT.held_water + j], Q, p)
        w[AT.held_water + j] = S
        w[AT.cup_water + j] = C
        w[AT.mat_water + j] = M
        w[AT.free_water + j] = Q


@joined_late
def limits_of_levels(w: np.ndarray) -> bool:
    """Write the next day's drain limits; tell whether in some lane the medium holds more than S_fc."""
    mobile = False
    for j in range(LANES):
        w[AT.drain_limit + j] = drain_limit_at(w[AT.level + j], column_of(w, j))
        mobile |= w[AT.held_water + j] > w[AT.field_water + j]
    return mobile


@joined_late
def forget_levels(w: np.ndarray) -> None:
    """Set levels and drain limits to those of roofs on which no water stands above the board."""
    for j in range(LANES):
        w[AT.level + j] = 0.0
        w[AT.drain_limit + j] = w[AT.still_limit + j]


@joined_late
def count_wet_lane(w: np.ndarray, j: int, warm: float, tolerance: float) -> None:
    """Count a lane's waterlogged day and share, its spell and its excess water (step 10).

    Parameters
    ----------
    w
        The work array of a block, numbers of any unit.
    j
        The lane.
    warm
        1.0 on a day warm enough for rot, else 0.0.
    tolerance
        Waterlogged days a spell may last before its days count as rot risk.
    """
    p, deck = column_of(w, j), deck_of(w, j)
    h, S = w[AT.level + j], w[AT.held_water + j]
    share = wet_share(h, S, p, deck)
    wet = 1.0 if share >= p.wet_limit else 0.0
    spell = (w[AT.waterlogged_spell + j] + 1.0) * wet
    w[AT.waterlogged_spell + j] = spell
    w[AT.total_waterlogged_days + j] += wet
    w[AT.total_waterlogged_area_days + j] += share
    w[AT.total_rot_risk_days + j] += warm if spell > tolerance else 0.0
    w[AT.total_longest_waterlogged_spell + j] = max(w[AT.total_longest_waterlogged_spell + j], spell)
    in_medium = min(S + medium_part(h, deck), p.full_water)
    w[AT.total_excess_water + j] += max(0.0, in_medium - p.field_water)


@joined_late
def find_margin(w: np.ndarray, supplied: bool) -> bool:
    """Write what roots can use above the limit of a dry day, and below it as a negative number.

    Parameters
    ----------
    w
        The work array of a block, numbers of any unit.
    supplied
        Whether cups or mat may hold water in some lane.

    Returns
    -------
    bool
        Whether in some lane they do.
    """
    if not supplied:
        for j in range(LANES):
            p = column_of(w, j)
            w[AT.margin + j] = usable_in_medium(w[AT.surface_water + j], w[AT.held_water + j], p) - p.dry_limit
        return False
    supplied = False
    for j in range(LANES):
        C, M, p = w[AT.cup_water + j], w[AT.mat_water + j], column_of(w, j)
        usable = usable_by_roots(w[AT.surface_water + j], w[AT.held_water + j], C, M, p)
        w[AT.margin + j] = usable - p.dry_limit
        supplied |= C + M > 0.0
    return supplied


@joined_late
def least_margin(w: np.ndarray) -> float:
    """Return the margin of the lane that has the least, mm; of a cell without data none is known, and the others count.

    A least number is not found side by side, as the compiler keeps the order in which numbers are compared. So eight parts of the row
    are, lane by lane, and what they leave in four turns. What is no number is dropped where it stands second, so none stands first.
    """
    part, most = LANES // 8, np.inf
    for j in range(part):
        first = min(min(most, w[AT.margin + j]), w[AT.margin + part + j])
        second = min(min(most, w[AT.margin + 2 * part + j]), w[AT.margin + 3 * part + j])
        third = min(min(most, w[AT.margin + 4 * part + j]), w[AT.margin + 5 * part + j])
        fourth = min(min(most, w[AT.margin + 6 * part + j]), w[AT.margin + 7 * part + j])
        w[AT.least + j] = min(min(first, second), min(third, fourth))
    first, second, third, fourth = most, most, most, most
    for j in range(0, part, 4):
        first, second = min(first, w[AT.least + j]), min(second, w[AT.least + j + 1])
        third, fourth = min(third, w[AT.least + j + 2]), min(fourth, w[AT.least + j + 3])
    least: float = min(min(first, second), min(third, fourth))
    return least


@joined_late
def count_dry(w: np.ndarray) -> None:
    """Count dry days and their spells."""
    for j in range(LANES):
        dry, days = w[AT.margin + j] < 0.0, w[AT.total_dry_days + j]
        spell = w[AT.dry_spell + j] + 1.0 if dry else 0.0
        w[AT.dry_spell + j] = spell
        w[AT.total_dry_days + j] = days + 1.0 if dry else days
        w[AT.total_longest_dry_spell + j] = max(w[AT.total_longest_dry_spell + j], spell)


@uncounted
def look_for_dry(w: np.ndarray, supplied: bool, dry_before: bool, mobile: bool) -> tuple[bool, bool, float]:
    """Count dry days and their spells (step 10) if it is dry in some lane, or was.

    Parameters
    ----------
    w, supplied
        As in `find_margin`.
    dry_before
        Whether it was dry in some lane when this was last looked at.
    mobile
        Whether in some lane the medium holds more than S_fc, which may percolate and cannot be counted on.

    Returns
    -------
    supplied, dry : bool
        Whether in some lane cups or mat hold water (see `find_margin`), and whether it is dry.
    ahead : float
        What may be drawn before it can be dry in some lane, mm; not above 0 where it is, or where that is not known.
    """
    supplied = find_margin(w, supplied)
    least = least_margin(w)
    dry = least < 0.0
    if dry or dry_before:
        count_dry(w)
    return supplied, dry, 0.0 if mobile else least - ROUNDING_MM


@joined_late
def count_drought(w: np.ndarray) -> None:
    """Count days that are too many dry days on end."""
    for j in range(LANES):
        w[AT.total_drought_risk_days + j] += 1.0 if w[AT.dry_spell + j] > w[AT.drought_days + j] else 0.0
