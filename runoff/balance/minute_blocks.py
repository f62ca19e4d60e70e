"""Many columns in steps of minutes side by side: the loop over blocks of lanes.

A block gives the bits of the single roof, whatever its neighbours do: see `runoff.balance.minute_lanes`.
"""

from __future__ import annotations

import numpy as np

from runoff.balance.column import Airing, Roots, Soil, wet_share
from runoff.balance.deck_foot import foot_start
from runoff.balance.free_water import deck_at, in_plane_rate
from runoff.balance.loop_choice import never_inlined
from runoff.balance.minute_lanes import (
    DECK,
    LANES,
    N_PARAMETER,
    N_ROW,
    N_STORE,
    N_TOTAL,
    ROW,
    foot_lanes,
    run_off_lanes,
)
from runoff.balance.minute_runoff import height
from runoff.balance.minute_steps import (
    DAY_MINUTES,
    ROUNDING_MM,
    comes_late,
    detain,
    evaporate,
    first_part,
    is_still,
    odd_release,
    on_top,
    release,
    settle,
    still_release,
    take_in,
    take_up,
)


def totals_loop(
    liquid: np.ndarray, run_on: np.ndarray, e0: np.ndarray, minutes: float, substeps: int, whole: int, part: float,
    par: np.ndarray, laws: np.ndarray, kept: np.ndarray, totals: np.ndarray,
) -> None:  # fmt: skip
    """Run many designs through the same weather and keep sums and largest values.

    Parameters
    ----------
    liquid, run_on, e0, minutes, substeps
        As in `minute_steps.trace_loop`.
    whole, part
        A peak is a mean over so many whole steps and this share of another.
    par, laws
        Parameters in the order and units of `minutes.ROWS`, shape ``(parameter, design)``, and the laws of the outlets,
        mm/min per mm^1.5 (weirs) and mm^0.5 (orifices), shape ``(2 x law, design)``; designs a multiple of the block width.
    kept
        Stores before the first step, mm, shape ``(store, design)``, updated.
    totals
        Receives the totals in the order of `minute_lanes.TOTALS`, shape ``(len(TOTALS), design)``: sums, water and depth in
        mm, rates in mm/h, waterlogged time in hours.
    """
    w = np.zeros(N_ROW * LANES)
    law = np.empty(laws.shape[0] * LANES)
    past = np.empty(2 * (whole + 1) * LANES)  # what left in the steps before, by outlets and in all
    for first in range(0, par.shape[1], LANES):
        _load(w, law, par, laws, kept, first)
        past[:] = 0.0
        odd = 0.0
        for j in range(LANES):
            odd = max(odd, w[ROW.odd_exponent + j])
        for t in range(len(liquid)):
            _one_step(w, law, liquid[t], run_on[t], e0[t], minutes, substeps, odd)
            for j in range(LANES):
                w[ROW.total_drained + j] += w[ROW.step_drained + j]
                w[ROW.total_spilled + j] += w[ROW.step_spilled + j]
            _note_peaks(w, past, t, whole, part, minutes)
        for k in range(N_STORE):
            for j in range(LANES):
                kept[k, first + j] = w[ROW.surface_water + k * LANES + j]
        for k in range(N_TOTAL):
            for j in range(LANES):
                totals[k, first + j] = w[ROW.total_drained + k * LANES + j]


@never_inlined
def _load(w: np.ndarray, law: np.ndarray, par: np.ndarray, laws: np.ndarray, kept: np.ndarray, first: int) -> None:
    """Bring a block into its rows."""
    w[:] = 0.0
    for k in range(N_PARAMETER):
        for j in range(LANES):
            w[k * LANES + j] = par[k, first + j]
    for k in range(N_STORE):
        for j in range(LANES):
            w[ROW.surface_water + k * LANES + j] = kept[k, first + j]
    for k in range(laws.shape[0]):
        for j in range(LANES):
            law[k * LANES + j] = laws[k, first + j]


@never_inlined
def _one_step(
    w: np.ndarray, law: np.ndarray, liquid: float, run_on: float, e0: float, minutes: float, substeps: int, odd: float
) -> None:
    """Take all lanes of a block through one step."""
    for j in range(LANES):
        w[ROW.step_drained + j] = 0.0
        w[ROW.step_spilled + j] = 0.0
        w[ROW.step_deepest + j] = 0.0
        w[ROW.h + j] = 0.0
    still = _find_still(w, liquid, run_on / substeps, odd)
    if still > 0:
        _still_lanes(w, minutes)
    e0_part, part = e0 / substeps, minutes / substeps
    for i in range(substeps if (still < LANES) | (e0_part > 0.0) else 1):
        if still < LANES:
            _gather(w, liquid / substeps, run_on / substeps, odd)
            if _find_parts(w, liquid / substeps, part) > 0:
                _begin_parts(w)
                run_off_lanes(w, law)
                _end_parts(w)
            run_off_lanes(w, law)
        if (liquid > 0.0) & (still > 0):
            _wet_surfaces(w, liquid / substeps if e0_part > 0.0 else (liquid if i == 0 else 0.0))
        if (i == 0) | (still < LANES):
            _find_ponds(w)
        if e0_part > 0.0:
            _evaporate_lanes(w, e0_part)
        _settle_lanes(w, part / DAY_MINUTES, (i == 0) | (e0_part > 0.0))
    _note_state(w, minutes / 60.0)


@never_inlined
def _find_ponds(w: np.ndarray) -> None:
    """Find the pond above the medium and the share of the roof it covers."""
    ponds = 0
    for j in range(LANES):
        w[ROW.pond + j] = 0.0
        w[ROW.wet + j] = 0.0
        w[ROW.from_pond + j] = 0.0
        ponds += 1 if w[ROW.h + j] > w[ROW.medium_top + j] else 0
    if ponds > 0:
        for j in range(LANES):
            stands = w[ROW.h + j] > w[ROW.medium_top + j]
            pond, wet = on_top(w[ROW.h + j], w[ROW.medium_top + j], deck_at(w, DECK + j, LANES))
            w[ROW.pond + j] = pond if stands else 0.0
            w[ROW.wet + j] = wet if stands else 0.0


@never_inlined
def _find_still(w: np.ndarray, liquid: float, run_on: float, odd: float) -> int:
    """Find the lanes that take the step whole; return how many."""
    if odd > 0.0:
        for j in range(LANES):
            n, mobile = w[ROW.odd_exponent + j], w[ROW.mobile_water + j]
            if n > 0.0:
                w[ROW.leaves + j] = odd_release(0.0, mobile, n, w[ROW.kt_step + j])
            else:
                w[ROW.leaves + j] = still_release(mobile, w[ROW.keep_step + j], w[ROW.kt_step + j])
    else:
        for j in range(LANES):
            w[ROW.leaves + j] = still_release(w[ROW.mobile_water + j], w[ROW.keep_step + j], w[ROW.kt_step + j])
    found = 0
    for j in range(LANES):
        still = is_still(
            liquid, run_on, w[ROW.surface_water + j], w[ROW.held_water + j], w[ROW.mobile_water + j],
            w[ROW.free_water + j], w[ROW.leaves + j], w[ROW.surface_capacity + j], w[ROW.field_water + j],
            w[ROW.still_mobile + j], w[ROW.foot_water + j],
        )  # fmt: skip
        w[ROW.still + j] = 1.0 if still else 0.0
        found += 1 if still else 0
    return found


@never_inlined
def _wet_surfaces(w: np.ndarray, liquid: float) -> None:
    """Let the surfaces of the still lanes take in what falls."""
    for j in range(LANES):
        w[ROW.surface_water + j] += liquid if w[ROW.still + j] > 0.0 else 0.0


@never_inlined
def _still_lanes(w: np.ndarray, minutes: float) -> None:
    """Take the still lanes through the whole step; see `minute_steps`."""
    flowing, sealed = 0, 0
    for j in range(LANES):
        still = w[ROW.still + j] > 0.0
        mobile, old, leaves = w[ROW.mobile_water + j], w[ROW.mobile_bypass + j], w[ROW.leaves + j]
        past = min(old, leaves * (old / mobile)) if mobile > 0.0 else 0.0
        Q = w[ROW.free_water + j]
        C, M, left = settle(
            w[ROW.cup_water + j], w[ROW.mat_water + j], Q + (leaves - past), w[ROW.cup_capacity + j], w[ROW.mat_capacity + j]
        )  # fmt: skip
        stood = min(Q, left)
        inflow = (left - stood) + past
        supply, is_sealed = stood + inflow, stood + inflow <= w[ROW.sealed_water + j]
        flows = (inflow > w[ROW.trickle + j] * minutes) | (supply > w[ROW.emptied_water + j])
        going = still & flows & (not is_sealed)
        w[ROW.stood + j] = stood
        w[ROW.inflow + j] = inflow
        w[ROW.flows + j] = minutes
        w[ROW.going + j] = 1.0 if going else 0.0
        w[ROW.moves + j] = 1.0 if going else 0.0
        flowing += 1 if going else 0
        sealed += 1 if still & is_sealed & (supply > 0.0) else 0
        w[ROW.mobile_water + j] = mobile - leaves if still else mobile
        w[ROW.mobile_bypass + j] = old - past if still else old
        w[ROW.cup_water + j] = C if still else w[ROW.cup_water + j]
        w[ROW.mat_water + j] = M if still else w[ROW.mat_water + j]
        w[ROW.left + j] = 0.0
        w[ROW.u + j] = 0.0
    if flowing > 0:
        foot_lanes(w)
    if sealed > 0:
        for j in range(LANES):
            supply = w[ROW.stood + j] + w[ROW.inflow + j]
            is_sealed = supply <= w[ROW.sealed_water + j]
            u = foot_start(supply, w[ROW.on_wedge + j], w[ROW.on_level + j])
            w[ROW.left + j] = supply if is_sealed else w[ROW.left + j]
            w[ROW.u + j] = u if is_sealed else w[ROW.u + j]
            w[ROW.moves + j] = 1.0 if is_sealed else w[ROW.moves + j]
    for j in range(LANES):
        still, stands = w[ROW.still + j] > 0.0, w[ROW.moves + j] > 0.0
        supply = w[ROW.stood + j] + w[ROW.inflow + j]
        left, u = w[ROW.left + j] if stands else 0.0, w[ROW.u + j] if stands else 0.0
        w[ROW.free_water + j] = left if still else w[ROW.free_water + j]
        w[ROW.step_drained + j] = supply - left if still else 0.0
        w[ROW.h + j] = u * u if still else 0.0
        w[ROW.step_deepest + j] = w[ROW.h + j]


@never_inlined
def _gather(w: np.ndarray, liquid: float, run_on: float, odd: float) -> None:
    """Do 1 to 3 of the calculation sheet for the lanes that move: what stands, and what joins it."""
    driven, wetted = 0, 0
    for j in range(LANES):
        w[ROW.in_plane + j] = w[ROW.in_plane_least + j]
        w[ROW.out + j] = 0.0
        w[ROW.over + j] = 0.0
        w[ROW.throughfall + j] = 0.0
        driven += 1 if w[ROW.free_water + j] > w[ROW.least_level_water + j] else 0
        wetted += 1 if w[ROW.surface_water + j] + liquid > w[ROW.surface_capacity + j] else 0
    if driven > 0:
        for j in range(LANES):
            h = height(w[ROW.free_water + j], deck_at(w, DECK + j, LANES))
            rate = in_plane_rate(
                h, w[ROW.in_plane_tested + j], w[ROW.tested_slope + j], w[ROW.least_level + j], w[ROW.in_plane_linear + j]
            )  # fmt: skip
            w[ROW.in_plane + j] = (
                rate if w[ROW.free_water + j] > w[ROW.least_level_water + j] else w[ROW.in_plane + j]
            )  # fmt: skip
    if wetted > 0:
        _soak_in(w, liquid)
    else:
        for j in range(LANES):
            w[ROW.surface_water + j] += liquid if w[ROW.still + j] <= 0.0 else 0.0
    for j in range(LANES):
        w[ROW.low + j] = w[ROW.out + j] + max(0.0, w[ROW.held_water + j] - w[ROW.field_water + j])
    if odd > 0.0:
        for j in range(LANES):
            gain, mobile, n = w[ROW.low + j], w[ROW.mobile_water + j], w[ROW.odd_exponent + j]
            if n > 0.0:
                w[ROW.high + j] = odd_release(gain, mobile, n, w[ROW.kt + j])
            else:
                w[ROW.high + j] = release(gain, mobile, w[ROW.keep + j], w[ROW.inflow_share + j], w[ROW.kt + j])
    else:
        for j in range(LANES):
            w[ROW.high + j] = release(
                w[ROW.low + j], w[ROW.mobile_water + j], w[ROW.keep + j], w[ROW.inflow_share + j], w[ROW.kt + j]
            )
    for j in range(LANES):
        moves = w[ROW.still + j] <= 0.0
        mobile, old, Q = w[ROW.mobile_water + j], w[ROW.mobile_bypass + j], w[ROW.free_water + j]
        leaves = min(w[ROW.high + j], w[ROW.release_limit + j])
        S, then, older, percolation, past, back = detain(
            w[ROW.held_water + j], w[ROW.out + j], mobile, old, leaves, w[ROW.field_water + j], w[ROW.full_water + j],
            w[ROW.limit_mobile + j],
        )  # fmt: skip
        C, M, left = settle(
            w[ROW.cup_water + j], w[ROW.mat_water + j], Q + percolation, w[ROW.cup_capacity + j], w[ROW.mat_capacity + j]
        )  # fmt: skip
        stood = min(Q, left)
        joined = left - stood
        w[ROW.held_water + j] = S if moves else w[ROW.held_water + j]
        w[ROW.mobile_water + j] = then if moves else mobile
        w[ROW.mobile_bypass + j] = older if moves else old
        w[ROW.cup_water + j] = C if moves else w[ROW.cup_water + j]
        w[ROW.mat_water + j] = M if moves else w[ROW.mat_water + j]
        w[ROW.stood + j] = stood if moves else Q
        w[ROW.inflow + j] = joined + past + w[ROW.over + j] + back + run_on if moves else 0.0
        w[ROW.percolated + j] = percolation
        w[ROW.joined + j] = joined
        w[ROW.back + j] = back
        w[ROW.risen + j] = w[ROW.low + j] - leaves


@never_inlined
def _soak_in(w: np.ndarray, liquid: float) -> None:
    """Take what falls through the surface into the medium in the lanes that move."""
    for j in range(LANES):
        moves = w[ROW.still + j] <= 0.0
        soil = Soil(
            w[ROW.wilting_water + j], w[ROW.bypass_fraction + j], w[ROW.bypass_slope + j], w[ROW.bypass_scale + j]
        )
        U, S, throughfall, by, over = take_in(
            liquid, w[ROW.surface_water + j], w[ROW.held_water + j], w[ROW.surface_capacity + j], w[ROW.soak + j], soil
        )
        w[ROW.surface_water + j] = U if moves else w[ROW.surface_water + j]
        w[ROW.held_water + j] = S if moves else w[ROW.held_water + j]
        w[ROW.throughfall + j] = throughfall
        w[ROW.out + j] = by
        w[ROW.over + j] = over


@never_inlined
def _find_parts(w: np.ndarray, liquid: float, part: float) -> int:
    """Find in which two parts each lane is routed; return how many have a first. See `minute_steps.first_part`."""
    begins = 0
    for j in range(LANES):
        moves = w[ROW.still + j] <= 0.0
        Q, inflow = w[ROW.stood + j], w[ROW.inflow + j]
        late = comes_late(
            inflow, w[ROW.joined + j], w[ROW.percolated + j], w[ROW.over + j], w[ROW.throughfall + j], liquid,
            w[ROW.back + j], w[ROW.risen + j],
        )  # fmt: skip
        first, begun, rest, then = first_part(
            Q, inflow, part, late, w[ROW.foot_water + j], w[ROW.medium_top_water + j], w[ROW.sill_water + j]
        )
        w[ROW.moves + j] = 1.0 if moves else 0.0
        w[ROW.flows + j] = rest
        w[ROW.low + j] = first
        w[ROW.high + j] = begun
        w[ROW.top + j] = then
        begins += 1 if moves & (first > 0.0) else 0
    return begins


@never_inlined
def _begin_parts(w: np.ndarray) -> None:
    """Make the first parts ready to be routed in the lanes that have one."""
    for j in range(LANES):
        first = (w[ROW.still + j] <= 0.0) & (w[ROW.low + j] > 0.0)
        w[ROW.next_flows + j] = w[ROW.flows + j]
        w[ROW.next_inflow + j] = w[ROW.top + j] if first else w[ROW.inflow + j]
        w[ROW.inflow + j] = w[ROW.high + j] if first else w[ROW.inflow + j]
        w[ROW.flows + j] = w[ROW.low + j] if first else w[ROW.flows + j]
        w[ROW.moves + j] = 1.0 if first else 0.0


@never_inlined
def _end_parts(w: np.ndarray) -> None:
    """Make what remains ready to be routed after the first parts."""
    for j in range(LANES):
        moves, went = w[ROW.still + j] <= 0.0, w[ROW.moves + j] > 0.0
        w[ROW.stood + j] = w[ROW.free_water + j] if went else w[ROW.stood + j]
        w[ROW.inflow + j] = w[ROW.next_inflow + j]
        w[ROW.flows + j] = w[ROW.next_flows + j]
        w[ROW.moves + j] = 1.0 if moves else 0.0


@never_inlined
def _evaporate_lanes(w: np.ndarray, e0: float) -> None:
    """Take the evaporation of a substep from all lanes."""
    for j in range(LANES):
        roots = Roots(w[ROW.wilting_water + j], w[ROW.stress_slope + j], w[ROW.cup_supply + j], w[ROW.mat_supply + j])
        U, S, C, M, Q, lost, from_pond, _, _ = evaporate(
            e0, w[ROW.surface_water + j], w[ROW.held_water + j], w[ROW.cup_water + j], w[ROW.mat_water + j],
            w[ROW.free_water + j], w[ROW.pond + j], w[ROW.wet + j], w[ROW.surface_share + j], w[ROW.film + j],
            w[ROW.crop_coefficient + j], roots,
        )  # fmt: skip
        w[ROW.surface_water + j] = U
        w[ROW.held_water + j] = S
        w[ROW.cup_water + j] = C
        w[ROW.mat_water + j] = M
        w[ROW.free_water + j] = Q
        w[ROW.from_pond + j] = from_pond
        w[ROW.total_evapotranspiration + j] += lost


@never_inlined
def _settle_lanes(w: np.ndarray, days: float, all_lanes: bool) -> None:
    """Fill cups and mat from free water, and let the medium take it up where it stands in it."""
    standing, filling = 0, 0
    for j in range(LANES):
        acts = all_lanes | (w[ROW.still + j] <= 0.0)
        has = acts & (w[ROW.free_water + j] > 0.0)
        filling += 1 if has else 0
        standing += (
            1
            if has & (w[ROW.h + j] > w[ROW.board_height + j]) & (w[ROW.held_water + j] < w[ROW.field_water + j])
            else 0
        )
    if filling > 0:
        for j in range(LANES):
            acts = all_lanes | (w[ROW.still + j] <= 0.0)
            C, M, Q = settle(
                w[ROW.cup_water + j], w[ROW.mat_water + j], w[ROW.free_water + j], w[ROW.cup_capacity + j],
                w[ROW.mat_capacity + j],
            )  # fmt: skip
            w[ROW.top + j] = w[ROW.free_water + j]
            w[ROW.cup_water + j] = C if acts else w[ROW.cup_water + j]
            w[ROW.mat_water + j] = M if acts else w[ROW.mat_water + j]
            w[ROW.free_water + j] = Q if acts else w[ROW.free_water + j]
    if standing > 0:
        for j in range(LANES):
            acts = all_lanes | (w[ROW.still + j] <= 0.0)
            h, S = w[ROW.h + j], w[ROW.held_water + j]
            if acts & (w[ROW.top + j] > 0.0) & (h > w[ROW.board_height + j]) & (S < w[ROW.field_water + j]):
                Q = w[ROW.free_water + j]
                taken = take_up(
                    Q, S, h, w[ROW.pond + j] - w[ROW.from_pond + j], days, w[ROW.field_water + j],
                    deck_at(w, DECK + j, LANES),
                )  # fmt: skip
                w[ROW.free_water + j] = Q - taken
                w[ROW.held_water + j] = S + taken


@never_inlined
def _note_state(w: np.ndarray, hours: float) -> None:
    """Note the largest water and the waterlogged share at the end of a step."""
    looked_at = 0
    for j in range(LANES):
        held = w[ROW.held_water + j] + w[ROW.mobile_water + j]
        water = w[ROW.surface_water + j] + held + w[ROW.cup_water + j] + w[ROW.mat_water + j] + w[ROW.free_water + j]
        w[ROW.total_largest_water_mm + j] = max(w[ROW.total_largest_water_mm + j], water)
        wet = w[ROW.free_water + j] > w[ROW.board_top_water + j]
        airless = w[ROW.full_water + j] - held - w[ROW.air_water + j] < -ROUNDING_MM
        looked_at += 1 if wet | airless else 0
    if looked_at > 0:
        for j in range(LANES):
            deck = deck_at(w, DECK + j, LANES)
            held = w[ROW.held_water + j] + w[ROW.mobile_water + j]
            airing = Airing(
                w[ROW.full_water + j], w[ROW.air_water + j], w[ROW.wet_depth + j], w[ROW.depth_per_pore + j]
            )
            share = wet_share(height(w[ROW.free_water + j], deck), held, airing, deck)
            w[ROW.total_waterlogged_hours + j] += hours * share


@never_inlined
def _note_peaks(w: np.ndarray, past: np.ndarray, t: int, whole: int, part: float, minutes: float) -> None:
    """Note the largest means over `whole` steps and a part of another; `past` holds the steps before in turn."""
    span = (whole + part) * minutes / 60.0
    for j in range(LANES):
        deepest = w[ROW.total_largest_depth_on_deck_mm + j]
        w[ROW.total_largest_depth_on_deck_mm + j] = max(deepest, w[ROW.step_deepest + j])
    if whole == 1:  # 5 min and longer
        for j in range(LANES):
            drained, spilled = w[ROW.step_drained + j], w[ROW.step_spilled + j]
            w[ROW.out + j] = drained / span
            w[ROW.over + j] = (drained + spilled) / span
    if (whole > 1) | (part > 0.0):
        slot = t % (whole + 1)
        for j in range(LANES):
            past[slot * LANES + j] = w[ROW.step_drained + j]
            past[(whole + 1 + slot) * LANES + j] = w[ROW.step_drained + j] + w[ROW.step_spilled + j]
        for kind in range(2):
            base, row = kind * (whole + 1), ROW.over if kind > 0 else ROW.out
            oldest = (base + (slot + 1) % (whole + 1)) * LANES
            newest = (base + slot) * LANES
            for j in range(LANES):
                within = 0.0
                for k in range(1, whole):
                    within += past[(base + (slot - k) % (whole + 1)) * LANES + j]
                later = past[newest + j] + part * past[oldest + j]
                sooner = part * past[newest + j] + past[oldest + j] if part > 0.0 else 0.0
                w[row + j] = (within + max(later, sooner)) / span
    for j in range(LANES):
        w[ROW.total_largest_drained_rate + j] = max(w[ROW.total_largest_drained_rate + j], w[ROW.out + j])
        w[ROW.total_largest_overflow_rate + j] = max(w[ROW.total_largest_overflow_rate + j], w[ROW.over + j])
