"""Many columns in steps of minutes side by side: the loop over blocks of lanes.

A block gives the bits of the single roof, whatever its neighbours do: see `runoff.balance.minute_lanes`.
"""

from __future__ import annotations

import numpy as np

from runoff.balance.column import fill, wet_share
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
from runoff.balance.minute_steps import (
    DAY_MINUTES,
    ROUNDING_MM,
    Airing,
    Roots,
    Soil,
    detain,
    evaporate,
    foot_start,
    height,
    is_still,
    odd_release,
    on_top,
    release,
    still_release,
    take_in,
    take_up,
)


def totals_loop(liquid, run_on, e0, minutes, substeps, whole, part, par, laws, kept, totals):
    """Run many designs through the same weather and keep sums and largest values.

    Parameters
    ----------
    liquid, run_on, e0, minutes, substeps
        As in `minute_steps.trace_loop`.
    whole, part
        A peak is a mean over so many whole steps and this part of another.
    par, laws
        Shapes ``(parameter, design)`` and ``(2 x law, design)``; designs a multiple of the block width.
    kept
        Stores before the first step, shape ``(store, design)``, updated.
    totals
        Receives the totals, shape ``(len(TOTALS), design)``.
    """
    w = np.zeros(N_ROW * LANES)
    law = np.empty(laws.shape[0] * LANES)
    past = np.empty(2 * (whole + 1) * LANES)  # what left in the steps before, by outlets and in all
    for first in range(0, par.shape[1], LANES):
        load(w, law, par, laws, kept, first)
        past[:] = 0.0
        odd = 0.0
        for j in range(LANES):
            odd = max(odd, w[ROW.odd_exponent + j])
        for t in range(len(liquid)):
            one_step(w, law, liquid[t], run_on[t], e0[t], minutes, substeps, odd)
            for j in range(LANES):
                w[ROW.total_drained + j] += w[ROW.step_drained + j]
                w[ROW.total_spilled + j] += w[ROW.step_spilled + j]
            note_peaks(w, past, t, whole, part, minutes)
        for k in range(N_STORE):
            for j in range(LANES):
                kept[k, first + j] = w[ROW.surface_water + k * LANES + j]
        for k in range(N_TOTAL):
            for j in range(LANES):
                totals[k, first + j] = w[ROW.total_drained + k * LANES + j]


@never_inlined
def load(w, law, par, laws, kept, first):
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
def one_step(w, law, liquid, run_on, e0, minutes, substeps, odd):
    """Take all lanes of a block through one step."""
    for j in range(LANES):
        w[ROW.step_drained + j] = 0.0
        w[ROW.step_spilled + j] = 0.0
        w[ROW.step_deepest + j] = 0.0
        w[ROW.h + j] = 0.0
    still = find_still(w, liquid + run_on, odd)
    if still > 0:
        still_lanes(w, minutes)
    e0_part, part = e0 / substeps, minutes / substeps
    for i in range(substeps if (still < LANES) | (e0_part > 0.0) else 1):
        if still < LANES:
            gather(w, liquid / substeps, run_on / substeps, odd)
            run_off_lanes(w, law, part)
        if (i == 0) | (still < LANES):
            find_ponds(w)
        if e0_part > 0.0:
            evaporate_lanes(w, e0_part)
        settle(w, part / DAY_MINUTES, (i == 0) | (e0_part > 0.0))
    note_state(w, minutes / 60.0)


@never_inlined
def find_ponds(w):
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
def find_still(w, arrives, odd):
    """Find the lanes that take the step whole; return how many."""
    if arrives > 0.0:
        for j in range(LANES):
            w[ROW.still + j] = 0.0
        return 0
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
            arrives, w[ROW.surface_water + j], w[ROW.held_water + j], w[ROW.mobile_water + j], w[ROW.free_water + j],
            w[ROW.leaves + j], w[ROW.surface_capacity + j], w[ROW.field_water + j], w[ROW.still_mobile + j],
            w[ROW.foot_water + j],
        )  # fmt: skip
        w[ROW.still + j] = 1.0 if still else 0.0
        found += 1 if still else 0
    return found


@never_inlined
def still_lanes(w, minutes):
    """Take the still lanes through the whole step; see `minute_steps.still_step`."""
    for j in range(LANES):
        still = w[ROW.still + j] > 0.0
        mobile, old, leaves = w[ROW.mobile_water + j], w[ROW.mobile_bypass + j], w[ROW.leaves + j]
        past = min(old, leaves * (old / mobile)) if mobile > 0.0 else 0.0
        Q = w[ROW.free_water + j]
        C, left = fill(w[ROW.cup_water + j], w[ROW.cup_capacity + j], Q + (leaves - past))
        M, left = fill(w[ROW.mat_water + j], w[ROW.mat_capacity + j], left)
        stood = min(Q, left)
        inflow = (left - stood) + past
        w[ROW.stood + j] = stood
        w[ROW.inflow + j] = inflow
        w[ROW.going + j] = 1.0 if still & (stood + inflow > w[ROW.sealed_water + j]) else 0.0
        w[ROW.mobile_water + j] = mobile - leaves if still else mobile
        w[ROW.mobile_bypass + j] = old - past if still else old
        w[ROW.cup_water + j] = C if still else w[ROW.cup_water + j]
        w[ROW.mat_water + j] = M if still else w[ROW.mat_water + j]
    foot_lanes(w, minutes)
    for j in range(LANES):
        still = w[ROW.still + j] > 0.0
        Q, sealed = w[ROW.stood + j] + w[ROW.inflow + j], w[ROW.sealed_water + j]
        left = Q if Q <= sealed else w[ROW.left + j]
        u = foot_start(Q, w[ROW.on_wedge + j], w[ROW.on_level + j]) if Q <= sealed else w[ROW.u + j]
        none = (Q > sealed) & (Q <= w[ROW.emptied_water + j]) & (w[ROW.inflow + j] <= w[ROW.trickle + j] * minutes)
        left, u = 0.0 if none else left, 0.0 if none else u
        w[ROW.free_water + j] = left if still else w[ROW.free_water + j]
        w[ROW.step_drained + j] = Q - left if still else 0.0
        w[ROW.h + j] = u * u if still else 0.0
        w[ROW.step_deepest + j] = w[ROW.h + j]


@never_inlined
def gather(w, liquid, run_on, odd):
    """Do 1 to 3 of the calculation sheet for the lanes that move: what stands, and what joins it."""
    driven = 0
    for j in range(LANES):
        w[ROW.in_plane + j] = 0.0  # the level before, for a start
        driven += 1 if w[ROW.free_water + j] > w[ROW.least_level_water + j] else 0
    if driven > 0:
        for j in range(LANES):
            h = height(w[ROW.free_water + j], deck_at(w, DECK + j, LANES))
            w[ROW.in_plane + j] = h if w[ROW.free_water + j] > w[ROW.least_level_water + j] else 0.0
    for j in range(LANES):
        w[ROW.in_plane + j] = in_plane_rate(
            w[ROW.in_plane + j], w[ROW.in_plane_tested + j], w[ROW.tested_slope + j], w[ROW.least_level + j],
            w[ROW.in_plane_linear + j],
        )  # fmt: skip
    for j in range(LANES):
        moves = w[ROW.still + j] <= 0.0
        soil = Soil(
            w[ROW.wilting_water + j], w[ROW.bypass_fraction + j], w[ROW.bypass_slope + j], w[ROW.bypass_scale + j]
        )
        U, S, _, by, over = take_in(
            liquid, w[ROW.surface_water + j], w[ROW.held_water + j], w[ROW.surface_capacity + j], w[ROW.soak + j], soil
        )
        w[ROW.surface_water + j] = U if moves else w[ROW.surface_water + j]
        w[ROW.held_water + j] = S if moves else w[ROW.held_water + j]
        w[ROW.out + j] = by
        w[ROW.over + j] = over
        w[ROW.low + j] = by + max(0.0, S - w[ROW.field_water + j])
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
        S, then, older, percolation, past, back = detain(
            w[ROW.held_water + j], w[ROW.out + j], mobile, old, min(w[ROW.high + j], w[ROW.release_limit + j]),
            w[ROW.field_water + j], w[ROW.full_water + j], w[ROW.limit_mobile + j],
        )  # fmt: skip
        C, left = fill(w[ROW.cup_water + j], w[ROW.cup_capacity + j], Q + percolation)
        M, left = fill(w[ROW.mat_water + j], w[ROW.mat_capacity + j], left)
        stood = min(Q, left)
        w[ROW.held_water + j] = S if moves else w[ROW.held_water + j]
        w[ROW.mobile_water + j] = then if moves else mobile
        w[ROW.mobile_bypass + j] = older if moves else old
        w[ROW.cup_water + j] = C if moves else w[ROW.cup_water + j]
        w[ROW.mat_water + j] = M if moves else w[ROW.mat_water + j]
        w[ROW.stood + j] = stood if moves else Q
        w[ROW.inflow + j] = (left - stood) + past + w[ROW.over + j] + back + run_on if moves else 0.0


@never_inlined
def evaporate_lanes(w, e0):
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
def settle(w, days, all_lanes):
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
            C, Q = fill(w[ROW.cup_water + j], w[ROW.cup_capacity + j], w[ROW.free_water + j])
            M, Q = fill(w[ROW.mat_water + j], w[ROW.mat_capacity + j], Q)
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
def note_state(w, hours):
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
def note_peaks(w, past, t, whole, part, minutes):
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
