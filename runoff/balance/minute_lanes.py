"""Free water of many columns side by side: the rows of a block of lanes, and the search for its levels.

Every lane runs the arithmetic of `runoff.balance.minute_runoff`, in the same order, and keeps or drops each result by what its
own stores say. All rows of a block stand in one flat array at constant places (`ROW`), which is what the compiler needs to see
that no lane touches another.
"""

from __future__ import annotations

import collections
import math
from typing import Any

import numpy as np

from runoff.balance.deck_foot import (
    FILL_CLOSE,
    FOOT_CLOSE,
    REST,
    STAGE,
    empty_foot,
    fill_next,
    fill_start,
    foot_end,
    foot_next,
    foot_start,
    foot_water,
    hardly_empties,
    no_higher_than_steady,
    slow_run_off,
)
from runoff.balance.free_water import Deck, deck_at
from runoff.balance.loop_choice import never_inlined
from runoff.balance.minute_runoff import (
    MOST_STEPS,
    end,
    height,
    is_held_up,
    leaves_by,
    next_level,
    runs_off,
    stored,
)
from runoff.balance.minute_steps import PARAMETERS, STORES

LANES = 32  # designs side by side
#: What is kept per design: sums, mm; the largest means over 5 min (or the step, if longer), mm/h; the largest depth and the
#: largest water of all stores at the end of a step, mm; and hours x share of the roof that was waterlogged.
TOTALS = (
    "drained", "spilled", "over_edge", "evapotranspiration", "largest_drained_rate", "largest_overflow_rate",
    "largest_depth_on_deck_mm", "largest_water_mm", "waterlogged_hours",
)  # fmt: skip

_ROWS = (
    *PARAMETERS, *Deck._fields, *STORES, *(f"total_{name}" for name in TOTALS),
    # of a step: whether it is taken whole, what leaves the mobile water, sums
    "still", "leaves", "step_drained", "step_spilled", "step_deepest",
    # of a substep: what comes, what stands and what joins it, in how many minutes, whether it is routed in this round; what
    # waits for the next; the in-plane limit, what is left, its level, and what left
    "throughfall", "percolated", "joined", "risen", "back", "stood", "inflow", "flows", "moves", "next_inflow", "next_flows",
    "in_plane", "left", "h", "pond", "wet", "from_pond", "drained", "spilled", "over_edge",
    # of the search for the level
    "going", "u", "first_u", "rhs", "low", "high", "top", "out", "out_slope", "over", "edge",
    "early", "early_over", "early_edge",
)  # fmt: skip
_Rows: Any = collections.namedtuple("_Rows", _ROWS)  # type: ignore[misc]
#: Where each row of lanes begins.
ROW: Any = _Rows(*(LANES * row for row in range(len(_ROWS))))
N_PARAMETER, N_STORE, N_TOTAL, N_ROW = len(PARAMETERS) + len(Deck._fields), len(STORES), len(TOTALS), len(_ROWS)
DECK = ROW.drop  # where the rows of `Deck` begin


@never_inlined
def run_off_lanes(w: np.ndarray, law: np.ndarray) -> None:
    """Let the free water of the lanes that `moves` tells run off; see `minute_runoff.route`."""
    sealed, at_foot, above = 0, 0, 0
    for j in range(LANES):
        supply, moves = w[ROW.stood + j] + w[ROW.inflow + j], w[ROW.moves + j] > 0.0
        is_sealed = supply <= w[ROW.sealed_water + j]
        foot = (supply <= w[ROW.foot_water + j]) & (not is_sealed)
        sealed += 1 if moves & is_sealed & (supply > 0.0) else 0
        at_foot += 1 if moves & foot else 0
        above += 1 if moves & (not foot) & (not is_sealed) else 0
        w[ROW.going + j] = 1.0 if moves & foot else 0.0
        w[ROW.drained + j] = 0.0
        w[ROW.spilled + j] = 0.0
        w[ROW.over_edge + j] = 0.0
        w[ROW.left + j] = supply
        w[ROW.u + j] = 0.0
    if at_foot > 0:
        foot_lanes(w)
        for j in range(LANES):
            supply = w[ROW.stood + j] + w[ROW.inflow + j]
            foot = (supply > w[ROW.sealed_water + j]) & (supply <= w[ROW.foot_water + j]) & (w[ROW.moves + j] > 0.0)
            w[ROW.left + j] = w[ROW.left + j] if foot else supply
            w[ROW.u + j] = w[ROW.u + j] if foot else 0.0
            w[ROW.drained + j] = supply - w[ROW.left + j]
    if above > 0:
        _level_lanes(w, law)
    for j in range(LANES):
        moves = w[ROW.moves + j] > 0.0
        w[ROW.h + j] = w[ROW.u + j] * w[ROW.u + j] if moves else w[ROW.h + j]
    if sealed > 0:
        for j in range(LANES):
            supply = w[ROW.stood + j] + w[ROW.inflow + j]
            mine = (supply <= w[ROW.sealed_water + j]) & (w[ROW.moves + j] > 0.0)
            h = height(supply, deck_at(w, DECK + j, LANES))
            w[ROW.h + j] = h if mine else w[ROW.h + j]
    for j in range(LANES):
        moves = w[ROW.moves + j] > 0.0
        w[ROW.free_water + j] = w[ROW.left + j] if moves else w[ROW.free_water + j]
        w[ROW.step_drained + j] += w[ROW.drained + j]
        w[ROW.step_spilled + j] += w[ROW.spilled + j]
        w[ROW.total_over_edge + j] += w[ROW.over_edge + j]
        w[ROW.step_deepest + j] = max(w[ROW.step_deepest + j], w[ROW.h + j])


@never_inlined
def foot_lanes(w: np.ndarray) -> None:
    """Find what is left, and u, at the foot of the deck for the lanes that are `going`; see `deck_foot.foot_run_off`."""
    from_dry, slow, searched = 0, 0, 0
    for j in range(LANES):
        Q, inflow, minutes = w[ROW.stood + j], w[ROW.inflow + j], w[ROW.flows + j]
        left, u = empty_foot(
            Q + inflow, foot_start(Q + inflow, w[ROW.on_wedge + j], w[ROW.on_level + j]), minutes,
            w[ROW.foot_slope + j], w[ROW.foot_bend + j], w[ROW.even_fall + j], w[ROW.slowing + j],
        )  # fmt: skip
        w[ROW.left + j] = left
        w[ROW.u + j] = u
        more = (w[ROW.going + j] > 0.0) & (inflow > w[ROW.trickle + j] * minutes)
        wets = more & (Q > 0.0)
        is_slow = wets & hardly_empties(Q + inflow, minutes, w[ROW.on_level + j], w[ROW.slowing + j])
        w[ROW.out + j] = 1.0 if more & (Q <= 0.0) else 0.0
        w[ROW.low + j] = 1.0 if is_slow else 0.0
        w[ROW.going + j] = 1.0 if wets & (not is_slow) else 0.0
        from_dry += 1 if more & (Q <= 0.0) else 0
        slow += 1 if is_slow else 0
        searched += 1 if wets & (not is_slow) else 0
    if slow > 0:
        for j in range(LANES):
            left, u = slow_run_off(
                w[ROW.stood + j], w[ROW.inflow + j], w[ROW.flows + j], w[ROW.foot_slope + j], w[ROW.foot_bend + j],
                w[ROW.on_wedge + j], w[ROW.on_level + j], w[ROW.even_fall + j], w[ROW.slowing + j],
            )  # fmt: skip
            w[ROW.left + j] = left if w[ROW.low + j] > 0.0 else w[ROW.left + j]
            w[ROW.u + j] = u if w[ROW.low + j] > 0.0 else w[ROW.u + j]
    if from_dry > 0:
        _fill_lanes(w)
    if searched > 0:
        _foot_stages(w)


@never_inlined
def _fill_lanes(w: np.ndarray) -> None:
    """Fill the foot of a dry deck in the lanes whose `out` is set; see `deck_foot.foot_run_off`."""
    for j in range(LANES):
        full = foot_start(w[ROW.inflow + j], w[ROW.on_wedge + j], w[ROW.on_level + j])
        theta, x = fill_start(
            w[ROW.inflow + j], w[ROW.flows + j], full, w[ROW.foot_weir + j], w[ROW.on_wedge + j]
        )  # fmt: skip
        w[ROW.top + j] = full
        w[ROW.rhs + j] = theta
        w[ROW.high + j] = x
        w[ROW.low + j] = w[ROW.out + j]
    going = 1
    while going > 0:
        going = 0
        for j in range(LANES):
            x = w[ROW.high + j]
            then = fill_next(x, w[ROW.rhs + j], w[ROW.on_wedge + j])
            active = w[ROW.low + j] > 0.0
            more = active & (abs(then - x) > FILL_CLOSE * then)
            w[ROW.high + j] = then if active else x
            w[ROW.low + j] = 1.0 if more else 0.0
            going += 1 if more else 0
    for j in range(LANES):
        filled = w[ROW.out + j] > 0.0
        u = w[ROW.top + j] * no_higher_than_steady(w[ROW.high + j], w[ROW.rhs + j])
        left = min(w[ROW.inflow + j], foot_water(u, w[ROW.foot_slope + j], w[ROW.foot_bend + j]))
        w[ROW.left + j] = left if filled else w[ROW.left + j]
        w[ROW.u + j] = u if filled else w[ROW.u + j]


@never_inlined
def _foot_stages(w: np.ndarray) -> None:
    """Take the lanes that are `going` through the two stages at the foot of the deck."""
    for j in range(LANES):
        first = w[ROW.stood + j] + STAGE * w[ROW.inflow + j]
        w[ROW.rhs + j] = first
        w[ROW.high + j] = foot_start(first, w[ROW.on_wedge + j], w[ROW.on_level + j])
        w[ROW.low + j] = w[ROW.going + j]
    _foot_search(w)
    for j in range(LANES):
        u, weir = w[ROW.high + j], w[ROW.foot_weir + j]
        early = weir * u * u * u
        rest = w[ROW.stood + j] + w[ROW.inflow + j] - REST * w[ROW.flows + j] * early
        w[ROW.early + j] = early
        w[ROW.first_u + j] = u
        w[ROW.rhs + j] = rest
        w[ROW.high + j] = u if rest > 0.0 else 0.0
        w[ROW.low + j] = w[ROW.going + j]
    _foot_search(w)
    for j in range(LANES):
        u, weir, minutes = w[ROW.high + j], w[ROW.foot_weir + j], w[ROW.flows + j]
        late = weir * u * u * u
        left, u = foot_end(
            w[ROW.stood + j] + w[ROW.inflow + j], w[ROW.inflow + j] / minutes, minutes, w[ROW.first_u + j], u,
            w[ROW.early + j], late, w[ROW.rhs + j], w[ROW.foot_slope + j], w[ROW.foot_bend + j],
        )  # fmt: skip
        going = w[ROW.going + j] > 0.0
        w[ROW.left + j] = left if going else w[ROW.left + j]
        w[ROW.u + j] = u if going else w[ROW.u + j]


@never_inlined
def _foot_search(w: np.ndarray) -> None:
    """Search the root of `deck_foot.foot_next` in the lanes whose `low` is set; see `deck_foot.foot_root`."""
    going = 1
    while going > 0:
        going = 0
        for j in range(LANES):
            u, pull = w[ROW.high + j], STAGE * w[ROW.flows + j] * w[ROW.foot_weir + j]
            then = foot_next(u, w[ROW.rhs + j], w[ROW.foot_slope + j], w[ROW.foot_bend + j], pull)
            active = w[ROW.low + j] > 0.0
            more = active & (abs(then - u) > FOOT_CLOSE * then)
            w[ROW.high + j] = then if active else u
            w[ROW.low + j] = 1.0 if more else 0.0
            going += 1 if more else 0


@never_inlined
def _level_lanes(w: np.ndarray, law: np.ndarray) -> None:
    """Let the lanes whose free water stands above the foot run off; see `minute_runoff.run_off`."""
    for j in range(LANES):
        w[ROW.rhs + j] = w[ROW.stood + j] + STAGE * w[ROW.inflow + j]
    for stage in range(2):
        _level_search(w, law)
        if stage == 0:
            for j in range(LANES):
                drained, over, edge = w[ROW.drained + j], w[ROW.over + j], w[ROW.edge + j]
                w[ROW.early + j] = drained
                w[ROW.early_over + j] = over
                w[ROW.early_edge + j] = edge
                w[ROW.first_u + j] = w[ROW.u + j]
                supply = w[ROW.stood + j] + w[ROW.inflow + j]
                w[ROW.rhs + j] = supply - REST * w[ROW.flows + j] * (drained + over + edge)
    for j in range(LANES):
        supply = w[ROW.stood + j] + w[ROW.inflow + j]
        if (supply > w[ROW.sealed_water + j]) & (supply > w[ROW.foot_water + j]) & (w[ROW.moves + j] > 0.0):
            minutes = w[ROW.flows + j]
            early, early_over, early_edge = w[ROW.early + j], w[ROW.early_over + j], w[ROW.early_edge + j]
            drained, over, edge = w[ROW.drained + j], w[ROW.over + j], w[ROW.edge + j]
            left, u = end(
                supply, w[ROW.inflow + j] / minutes, minutes, w[ROW.first_u + j], w[ROW.u + j], w[ROW.edge_root + j],
                early + early_over + early_edge, drained + over + edge, w[ROW.rhs + j], deck_at(w, DECK + j, LANES),
            )  # fmt: skip
            w[ROW.left + j] = left
            w[ROW.u + j] = u
            drained, spilled, over_edge = leaves_by(
                supply - left, minutes, early, drained, early_over, over, early_edge, edge
            )
            w[ROW.drained + j] = drained
            w[ROW.spilled + j] = spilled
            w[ROW.over_edge + j] = over_edge


@never_inlined
def _level_search(w: np.ndarray, law: np.ndarray) -> None:
    """Search u and the rates of one stage in the lanes above the foot, and leave all other lanes as they are."""
    going = 0
    for j in range(LANES):
        supply = w[ROW.stood + j] + w[ROW.inflow + j]
        mine = (supply > w[ROW.sealed_water + j]) & (supply > w[ROW.foot_water + j]) & (w[ROW.moves + j] > 0.0)
        rhs, edge = w[ROW.rhs + j], w[ROW.edge_root + j]
        deck = deck_at(w, DECK + j, LANES)
        top = min(math.sqrt(height(rhs, deck)), edge)
        held = min(math.sqrt(height(rhs - STAGE * w[ROW.flows + j] * w[ROW.in_plane + j], deck)), edge)
        w[ROW.top + j] = top
        w[ROW.low + j] = 0.0
        w[ROW.high + j] = held
        w[ROW.going + j] = 1.0 if mine else 0.0
    _open_lanes(w, law, ROW.high)
    for j in range(LANES):
        mine = w[ROW.going + j] > 0.0
        held, rhs = w[ROW.high + j], w[ROW.rhs + j]
        limited = is_held_up(
            held, w[ROW.out + j], w[ROW.in_plane + j], w[ROW.medium_top + j], w[ROW.sill + j], w[ROW.edge_root + j]
        )
        w[ROW.u + j] = (held if limited else w[ROW.top + j]) if mine else w[ROW.u + j]
        w[ROW.high + j] = w[ROW.top + j]
        w[ROW.drained + j] = (w[ROW.in_plane + j] if rhs > 0.0 else 0.0) if mine else w[ROW.drained + j]
        w[ROW.over + j] = 0.0
        w[ROW.edge + j] = 0.0
        more = mine & (not limited) & (rhs > 0.0)
        w[ROW.going + j] = 1.0 if more else 0.0
        going += 1 if more else 0
    for _ in range(MOST_STEPS):
        if going == 0:
            break
        going = 0
        _open_lanes(w, law, ROW.u)
        for j in range(LANES):
            u = w[ROW.u + j]
            h = u * u
            drained, steep, over, over_steep = runs_off(
                h, u, w[ROW.out + j], w[ROW.out_slope + j], w[ROW.in_plane + j], w[ROW.medium_top + j],
                w[ROW.surface_weir + j], w[ROW.sill + j], w[ROW.sill_weir + j], w[ROW.sill_orifice + j],
            )  # fmt: skip
            water, water_slope = stored(h, u, deck_at(w, DECK + j, LANES))
            then, low, high, drained, over, edge, done = next_level(
                u, w[ROW.low + j], w[ROW.high + j], w[ROW.top + j], w[ROW.edge_root + j], w[ROW.rhs + j],
                STAGE * w[ROW.flows + j], water,
                water_slope, drained, steep, over, over_steep,
            )  # fmt: skip
            active = w[ROW.going + j] > 0.0
            w[ROW.u + j] = then if active else u
            w[ROW.low + j] = low
            w[ROW.high + j] = high
            w[ROW.drained + j] = drained if active else w[ROW.drained + j]
            w[ROW.over + j] = over if active else w[ROW.over + j]
            w[ROW.edge + j] = edge if active else w[ROW.edge + j]
            more = active & (not done)
            w[ROW.going + j] = 1.0 if more else 0.0
            going += 1 if more else 0


@never_inlined
def _open_lanes(w: np.ndarray, law: np.ndarray, at: int) -> None:
    """Find what the outlets can take at the levels u^2, u in the row that begins at `at`; see `minute_runoff.opened`."""
    half = len(law) // (2 * LANES)
    for j in range(LANES):
        w[ROW.out + j] = 0.0
        w[ROW.out_slope + j] = 0.0
    for k in range(half):
        for j in range(LANES):
            u = w[at + j]
            weir, orifice = law[k * LANES + j] * (u * u), law[(half + k) * LANES + j]
            w[ROW.out + j] += u * min(weir, orifice)
            w[ROW.out_slope + j] += 3.0 * weir if weir < orifice else orifice
