"""The column in steps of 1 min to 1 h, planted, under gravel or bare: the parts of a step, and the loop over one roof.

The calculation sheet
---------------------
Stores and order are those of the daily sheet (`runoff.balance.column`), with rates in place of step capacities, in substeps
of at most a minute. Stores, mm: surface ``U``, medium ``S``, mobile water ``h_m`` of the medium (``b`` of it came by
bypass), cups ``C``, mat ``M``, free water ``Q``. In one substep of ``t`` minutes:

1. take in    the surface store fills; throughfall soaks in, at most K_s; bypass goes by the wetness of the medium
2. detain     h_m takes the bypass and what is above field capacity; r = min(k h_m^n, K_s, K_f) leaves it, b / h_m of it as
              bypass; where K_s or K_f is the limit, what exceeds the pores runs over the surface to the free water
3. below      cups, then mat, fill from what percolates; bypass and what did not soak in pass them
4. run off    dQ/dt = inflow - min(in-plane + surface(h), outlets(h)) - overflow(h),  h = h(Q) by `runoff.balance.free_water`,
              and never above the edge: what would rise above it leaves as `over_edge` (part of `spilled`)
5. evaporate  as in the daily sheet, from the pond where it stands
6. settle     cups, then mat, fill from the free water; where it stands in the medium (on a share a of the roof), the medium
              takes 1 - (1 - a)^(t / 24 h) of what it lacks

A bare deck is the same column with nothing in it: its film is ``U``, which evaporates at reference rate until it is gone,
K_s is 0, and no drainage layer limits the way to the outlets.

How the free water is solved
----------------------------
Two implicit stages (L-stable, second order, g = 1 - 1/sqrt 2), each with one unknown, the level: ``V(h) + g t q(h) = rhs``.
V and q rise with h, so a bracketed Newton iteration in u = h^0.5 cannot fail. Where the drainage layer limits, q is constant
and the geometry alone gives the level; at the foot of the deck (one piece of the geometry, all openings weirs, nothing else
limiting) V and q are polynomials in u (`runoff.balance.deck_foot`). A steady inflow takes the level towards where outflow equals inflow and never past
it: a substep whose two stages lie on either side of it ends between them, so nothing oscillates at any step.

What happens within a substep is followed where it counts: a store that has to fill first (surface, cups and mat, the pores
under a limit) lets water past *late*, and the free water is routed before and after; a deck that fills from dry past its
foot, and one whose next way out opens (over the medium, over the sill), are routed in two halves.

*Still* steps, in which no water passes the surface, little is mobile and the free water keeps to the foot, are taken whole: the
recession of h_m is exact at any step, and where a trickle at most joins the free water at its foot, u falls evenly over a
weir on a wedge, as 1/(1 + B t u) on a level deck.
Evaporation keeps its substeps. The compiled loop and plain Python give the same bits.
"""

from __future__ import annotations

import collections
import math
from typing import Any

from runoff.balance.day_steps import Airing, Roots, Soil, bypass_of, draw_pond, draw_roots, fill, wet_share
from runoff.balance.deck_foot import empty_foot, foot_run_off, foot_start
from runoff.balance.free_water import Deck, board_part, in_plane_rate, medium_part, pond_part, share_above
from runoff.balance.loop_choice import joined_late
from runoff.balance.minute_runoff import height, route

#: Longest substep, min.
SUBSTEP_MINUTES = 1.0
#: What one design brings, in the order of the parameter array. Depths mm, times min, rates mm/min.
PARAMETERS = (
    "surface_capacity", "surface_share", "film", "soak", "wilting_water", "field_water", "full_water",
    "bypass_fraction", "bypass_slope", "bypass_scale", "crop_coefficient", "stress_slope", "cup_supply", "mat_supply",
    "cup_capacity", "mat_capacity",
    # detention over a substep: share kept (n = 1), share of the inflow kept, k t (n = 2); over a whole step
    "keep", "inflow_share", "kt", "release_limit", "keep_step", "kt_step", "limit_mobile", "odd_exponent",
    # the way to the outlets, and the water above which its own level drives it
    "in_plane_tested", "tested_slope", "least_level", "in_plane_linear", "in_plane_least", "least_level_water",
    "surface_weir", "medium_top",
    # emergency overflow, edge, and the water below which nothing can leave
    "sill", "sill_water", "medium_top_water", "sill_weir", "sill_orifice", "edge_root", "sealed_water",
    # the foot of the deck, what still steps need, and when a place counts as waterlogged
    "foot_water", "foot_slope", "foot_bend", "foot_weir", "on_wedge", "on_level", "emptied_water", "even_fall", "slowing", "trickle", "still_mobile",
    "air_water", "wet_depth", "depth_per_pore", "board_top_water",
)  # fmt: skip
#: The stores, in the order of the state array; `mobile_bypass` is part of `mobile_water`.
STORES = (
    "surface_water", "held_water", "mobile_water", "mobile_bypass", "cup_water", "mat_water", "free_water",
)  # fmt: skip
#: What the trace loop writes per step: sums of the step, mm; stores, the split of the free water, depth and waterlogged share
#: at its end; and the largest depth at the end of a substep.
TRACE = (
    "throughfall", "bypass", "percolation", "drained", "spilled", "over_edge", "evapotranspiration", "water_stress",
    *STORES, "board_water", "medium_water", "pond_water", "water_depth_on_deck_mm", "waterlogged_share",
    "largest_depth_on_deck_mm",
)  # fmt: skip

#: The parameters of one design, by name.
Parameters: Any = collections.namedtuple("Parameters", PARAMETERS)  # type: ignore[misc]
ROUNDING_MM = 1e-9
DAY_MINUTES = 1440.0
#: Shares of a substep: what comes later than the first in the mean counts as late, and none comes later than the second.
SOONEST, LATEST = 1e-3, 0.999


@joined_late
def take_in(liquid: float, U: float, S: float, U_max: float, soak: float, soil: Soil) -> tuple[float, ...]:
    """Fill the surface and let the rest soak in.

    Parameters
    ----------
    liquid, U, S
        What falls, and water on the surface and in the medium, mm.
    U_max, soak
        What the surface holds, and the most that soaks in within the substep, mm.
    soil
        Its bypass.

    Returns
    -------
    U, S, throughfall, by, over : float
        mm; `over` did not soak in.
    """
    arrived = U + liquid
    U = min(arrived, U_max)
    throughfall = arrived - U
    if throughfall <= 0.0:
        return U, S, 0.0, 0.0, 0.0
    by = bypass_of(throughfall, S, soil)
    soaked = min(throughfall - by, soak)
    return U, S + soaked, throughfall, by, throughfall - by - soaked


@joined_late
def release(gain: float, mobile: float, keep: float, share: float, kt: float) -> float:
    """Return what leaves the mobile water under steady gain at k h^n, for n = 1 and n = 2.

    For n = 2 the closed form holds tanh; its continued fraction keeps the steady state exact.

    Parameters
    ----------
    gain, mobile
        What joins in the time, and mobile water before it, mm.
    keep, share, kt
        Shares kept of water and gain (n = 1; else 1), and k times the time, 1/mm (n = 2; else 0).

    Returns
    -------
    float
        mm.
    """
    y = gain * kt
    top = 1.0 + y * (4.0 / 33.0 + y * (1.0 / 495.0))
    bottom = 1.0 + y * (5.0 / 11.0 + y * (2.0 / 99.0 + y * (1.0 / 10395.0)))
    left = (mobile * keep * bottom + gain * share * top) / (bottom + kt * mobile * top)
    return max(0.0, mobile + gain - left)


@joined_late
def still_release(mobile: float, keep: float, kt: float) -> float:
    """Return `release` without gain.

    Parameters
    ----------
    mobile, keep, kt
        As in `release`.

    Returns
    -------
    float
        mm.
    """
    return max(0.0, mobile - mobile * keep / (1.0 + kt * mobile))


@joined_late
def odd_release(gain: float, mobile: float, n: float, kt: float) -> float:
    """Return `release` for any other exponent.

    Without gain the recession is closed. With it, the release is taken as linear about the mobile water in the middle of the
    time, so that the steady state is exact (``dh/dt = f - s (h - h_m)``, solved by its exponential, h_m found so as well).

    Parameters
    ----------
    gain, mobile
        As in `release`, mm.
    n, kt
        Exponent, a number above 1, and k times the time, mm^(1 - n).

    Returns
    -------
    float
        mm.
    """
    if gain <= 0.0:
        base = 1.0 + (n - 1.0) * kt * mobile ** (n - 1.0) if mobile > 0.0 else 0.0
        return mobile - mobile * base ** (-1.0 / (n - 1.0)) if base > 0.0 else 0.0
    power = mobile ** (n - 1.0)
    middle = mobile + 0.5 * (gain - kt * power * mobile) * approached(0.5 * n * kt * power)
    power = middle ** (n - 1.0)
    slope = n * kt * power
    change: float = (gain - kt * power * middle + slope * (middle - mobile)) * approached(slope)
    return max(0.0, gain - change)


def approached(x: float) -> float:
    """Return (1 - exp(-x)) / x, the mean of exp(-x) over a unit of time."""
    return -math.expm1(-x) / x if x > 0.0 else 1.0


@joined_late
def detain(
    S: float, by: float, mobile: float, old: float, leaves: float, S_fc: float, S_sat: float, limit_mobile: float
) -> tuple[float, ...]:
    """Take the bypass and what is above field capacity into the mobile water, and what leaves out of it, well mixed.

    What leaves holds bypass as the mobile water does in the mean of the substep (midpoint rule).

    Parameters
    ----------
    S, by, mobile, old, leaves
        Water held, bypass, mobile water, its bypass water, and what leaves it, mm.
    S_fc, S_sat, limit_mobile
        Field capacity, saturation, and the mobile water at which its release comes to K_s or K_f, mm.

    Returns
    -------
    S, mobile, old, percolation, past, back : float
        mm; `past` is the bypass that left, `back` runs over the surface.
    """
    fresh = max(0.0, S - S_fc)
    S = S - fresh
    gain, held = by + fresh, old + by
    mixed = 2.0 * mobile + gain
    past = min(held, leaves * ((old + held) / mixed)) if mixed > 0.0 else 0.0
    mobile = mobile + gain - leaves
    old = held - past
    kept = min(mobile, max(S_sat - S, limit_mobile))
    old = min(kept, old * (kept / mobile)) if mobile > 0.0 else 0.0
    return S, kept, old, leaves - past, past, mobile - kept


@joined_late
def evaporate(
    e0: float, U: float, S: float, C: float, M: float, Q: float, pond: float, wet: float, U_share: float, film: float,
    Kc: float, roots: Roots,
) -> tuple[float, ...]:  # fmt: skip
    """Take the evaporation of a substep.

    Parameters
    ----------
    e0, U, S, C, M, Q, pond
        Reference evapotranspiration, the stores, and free water above the medium, mm.
    wet
        Share of the roof that the pond covers, 0-1.
    U_share, film, Kc
        1/U_max, 1/mm; 1 on a bare deck, else 0; crop coefficient.
    roots
        What draws on medium, cups and mat.

    Returns
    -------
    U, S, C, M, Q, evaporated, from_pond, demand, supplied : float
        mm; demand on and supply by medium, cups and mat.
    """
    from_surface = min(U, e0 * max(film, U * U_share))
    demand = max(0.0, Kc * (e0 - from_surface))  # a full surface may give an ulp more than e0
    Q, from_pond = draw_pond(demand, pond, wet, Q)
    demand = demand - from_pond
    S, C, M, supplied = draw_roots(demand, S, C, M, roots)
    return U - from_surface, S, C, M, Q, from_surface + from_pond + supplied, from_pond, demand, supplied


@joined_late
def on_top(h: float, top: float, deck: Deck) -> tuple[float, float]:
    """Return the pond above the medium.

    Parameters
    ----------
    h, top
        Level of free water and top of the medium above the deck, mm.
    deck
        Its geometry.

    Returns
    -------
    pond, share : float
        mm over the roof, and the share of the roof it covers.
    """
    return pond_part(h, deck), share_above(h, top, deck.drop)


@joined_late
def take_up(Q: float, S: float, h: float, pond: float, days: float, S_fc: float, deck: Deck) -> float:
    """Return what the medium takes up in a part of a day from free water that stands in or above it.

    Parameters
    ----------
    Q, S, h, pond
        Free water, water held, level, and the part of Q above the medium, mm.
    days
        Length of the substep, days.
    S_fc, deck
        Field capacity, mm, and the geometry.

    Returns
    -------
    float
        mm.
    """
    wet = share_above(h, deck.board_height, deck.drop)
    share = -math.expm1(days * math.log1p(-wet)) if wet < 1.0 else 1.0
    return min(min(Q, max(0.0, medium_part(h, deck) + pond)), share * max(0.0, S_fc - S))


@joined_late
def comes_late(
    inflow: float, joined: float, percolation: float, over: float, throughfall: float, liquid: float, back: float,
    risen: float,
) -> float:  # fmt: skip
    """Return by what share of a substep the inflow comes late in the mean: a store has to fill before it passes any.

    Parameters
    ----------
    inflow, joined, percolation
        What joins the free water, and of what percolates the part that no longer fills cups and mat, mm.
    over, throughfall, liquid
        What waits for the surface to fill, what passes it, and what falls, mm.
    back, risen
        What waits for the pores of the medium, and what would have gone into them if they had no end, mm.

    Returns
    -------
    float
        Share of the substep, 0-1.
    """
    late = joined * (1.0 - joined / percolation) if joined < percolation else 0.0
    late += over * (1.0 - throughfall / liquid) if throughfall < liquid else 0.0
    late += back * (1.0 - back / risen) if back < risen else 0.0
    return min(late / inflow, LATEST) if late > SOONEST * inflow else 0.0


@joined_late
def first_part(
    Q: float, inflow: float, minutes: float, late: float, foot_water: float, medium_top_water: float, sill_water: float
) -> tuple[float, ...]:
    """Cut a substep into two parts that are routed one after the other.

    What comes late leaves the deck to itself before. A deck that fills from dry past its foot, past the top of the medium or
    past the sill of the emergency overflow, where another way out opens, is followed in two halves.

    Parameters
    ----------
    Q, inflow, minutes, late
        Free water and inflow, mm, length of the substep, min, and the share of it by which the inflow is late.
    foot_water, medium_top_water, sill_water
        Free water at which the foot ends and at which other ways out open, mm.

    Returns
    -------
    first, begun, rest, inflow : float
        Minutes and inflow, mm, of the first part (0: there is none), then of the second.
    """
    early, supply, dry = late * minutes, Q + inflow, Q <= 0.0
    opens = ((Q < medium_top_water) & (supply > medium_top_water)) | ((Q < sill_water) & (supply > sill_water))
    halved = (supply > foot_water) & (dry | opens)
    flows = minutes - early if dry else minutes
    waits = 0.0 if dry | (supply <= foot_water) else early
    first = 0.5 * flows if halved else waits
    begun = 0.5 * inflow if halved else 0.0
    return first, begun, flows - first, inflow - begun


@joined_late
def is_still(
    liquid: float, run_on: float, U: float, S: float, mobile: float, Q: float, leaves: float, U_max: float, S_fc: float,
    still_mobile: float, foot_water: float,
) -> bool:  # fmt: skip
    """Tell whether a step may be taken whole: see the calculation sheet.

    Parameters
    ----------
    liquid, run_on, leaves
        What falls, what is led to the free water, and what would leave the mobile water, mm.
    U, S, mobile, Q
        Stores, mm.
    U_max, S_fc, still_mobile, foot_water
        The most that each of them may hold, mm.

    Returns
    -------
    bool
    """
    return (run_on <= 0.0) & (U + liquid <= U_max) & (S <= S_fc) & (mobile <= still_mobile) & (Q + leaves <= foot_water)


@joined_late
def _still_step(
    leaves: float, mobile: float, old: float, C: float, M: float, Q: float, C_max: float, M_max: float, minutes: float,
    sealed: float, emptied: float, slope: float, bend: float, weir: float, on_wedge: float, on_level: float,
    even_fall: float, slowing: float, trickle: float,
) -> tuple[float, ...]:  # fmt: skip
    """Take a step without inflow whole, evaporation apart.

    Returns mobile, old, C, M, Q, percolation, bypass, drained, and the level.
    """
    past = min(old, leaves * (old / mobile)) if mobile > 0.0 else 0.0
    C, M, left = _settle_alone(C, M, Q + (leaves - past), C_max, M_max)
    stood = min(Q, left)
    inflow = (left - stood) + past
    Q = stood + inflow
    left, u = 0.0, 0.0
    if Q <= sealed:
        left, u = Q, foot_start(Q, on_wedge, on_level)
    elif inflow > trickle * minutes:
        left, u = foot_run_off(
            stood, inflow, minutes, slope, bend, weir, on_wedge, on_level, even_fall, slowing, trickle
        )
    elif Q > emptied:
        left, u = empty_foot(Q, foot_start(Q, on_wedge, on_level), minutes, slope, bend, even_fall, slowing)
    return mobile - leaves, old - past, C, M, left, leaves - past, past, Q - left, u * u


def _gather(
    par: Any, soil: Soil, deck: Deck, liquid: float, run_on: float, U: float, S: float, mobile: float, old: float,
    C: float, M: float, Q: float,
) -> tuple[float, ...]:  # fmt: skip
    """Do 1 to 3 of the calculation sheet for one substep: what stands, and what joins it.

    Returns U, S, mobile, old, C, M, Q, inflow, by what share of the substep it comes late, the in-plane limit (mm/min),
    throughfall, bypass and percolation.
    """
    in_plane = par.in_plane_least
    if Q > par.least_level_water:
        in_plane = in_plane_rate(
            height(Q, deck), par.in_plane_tested, par.tested_slope, par.least_level, par.in_plane_linear
        )
    U, S, throughfall, by, over = take_in(liquid, U, S, par.surface_capacity, par.soak, soil)
    gain = by + max(0.0, S - par.field_water)
    if par.odd_exponent > 0.0:
        leaves = odd_release(gain, mobile, par.odd_exponent, par.kt)
    else:
        leaves = release(gain, mobile, par.keep, par.inflow_share, par.kt)
    leaves = min(leaves, par.release_limit)
    S, mobile, old, percolation, past, back = detain(
        S, by, mobile, old, leaves, par.field_water, par.full_water, par.limit_mobile
    )  # fmt: skip
    C, M, left = settle(C, M, Q + percolation, par.cup_capacity, par.mat_capacity)
    stood = min(Q, left)
    joined = left - stood
    inflow = joined + past + over + back + run_on
    late = comes_late(inflow, joined, percolation, over, throughfall, liquid, back, gain - leaves)
    return U, S, mobile, old, C, M, stood, inflow, late, in_plane, throughfall, past, percolation


def trace_loop(  # noqa: C901 - one step after the other, as the calculation sheet has them
    liquid: Any, run_on: Any, e0: Any, minutes: float, substeps: int, par: Any, deck: Deck, laws: Any, state: Any,
    out: Any, row: tuple[int, ...],
) -> None:  # fmt: skip
    """Run one design through all steps and write every flux and store. All arrays are flat (or lists, in plain Python).

    Parameters
    ----------
    liquid, run_on, e0
        Rain plus melt, what joins the free water, reference evapotranspiration, mm per step.
    minutes, substeps
        Length of the step, min, and how often it is cut.
    par, deck
        `Parameters` and `Deck` of floats.
    laws
        Weirs, then orifices of the outlets, mm/min per mm^1.5 and mm^0.5.
    state
        Stores before the first step, mm, in the order of `STORES`; holds the last ones afterwards.
    out
        Receives the results.
    row
        Where in it each variable of `TRACE` begins; those that nobody asks for may be written over each other.
    """
    U, S, mobile, old, C, M, Q = state[0], state[1], state[2], state[3], state[4], state[5], state[6]
    soil = Soil(par.wilting_water, par.bypass_fraction, par.bypass_slope, par.bypass_scale)
    roots = Roots(par.wilting_water, par.stress_slope, par.cup_supply, par.mat_supply)
    airing = Airing(par.full_water, par.air_water, par.wet_depth, par.depth_per_pore)
    part, top, n = minutes / substeps, par.medium_top, len(liquid)
    for t in range(n):
        throughfall = bypass = percolation = drained = spilled = over_edge = lost = demand = supplied = 0.0
        falls, led, e0_part = liquid[t] / substeps, run_on[t] / substeps, e0[t] / substeps
        leaves = 0.0
        if (mobile > 0.0) & (mobile <= par.still_mobile):
            if par.odd_exponent > 0.0:
                leaves = odd_release(0.0, mobile, par.odd_exponent, par.kt_step)
            else:
                leaves = still_release(mobile, par.keep_step, par.kt_step)
        still = is_still(
            liquid[t], led, U, S, mobile, Q, leaves, par.surface_capacity, par.field_water, par.still_mobile,
            par.foot_water,
        )  # fmt: skip
        h = deepest = pond = wet = 0.0
        stood = -1.0
        if still:
            if Q + mobile > 0.0:
                mobile, old, C, M, Q, percolation, bypass, drained, h = _still_step(
                    leaves, mobile, old, C, M, Q, par.cup_capacity, par.mat_capacity, minutes, par.sealed_water,
                    par.emptied_water, par.foot_slope, par.foot_bend, par.foot_weir, par.on_wedge,
                    par.on_level, par.even_fall, par.slowing, par.trickle,
                )  # fmt: skip
                deepest = h
                if h > top:
                    pond, wet = on_top(h, top, deck)
            stood = Q
            if e0_part <= 0.0:
                U = U + liquid[t]
                if Q > 0.0:
                    C, M, Q = _settle_alone(C, M, Q, par.cup_capacity, par.mat_capacity)
        if (not still) | (e0_part > 0.0):
            for _ in range(substeps):
                if still:
                    U = U + falls
                else:
                    U, S, mobile, old, C, M, Q, inflow, late, in_plane, fell, past, passed = _gather(
                        par, soil, deck, falls, led, U, S, mobile, old, C, M, Q
                    )
                    first, begun, rest, inflow = first_part(
                        Q, inflow, part, late, par.foot_water, par.medium_top_water, par.sill_water
                    )
                    if first > 0.0:
                        Q, h, drained_part, over_part, edge_part = route(Q, begun, first, in_plane, par, laws, deck)
                        drained, spilled, over_edge = drained + drained_part, spilled + over_part, over_edge + edge_part
                        deepest = max(deepest, h)
                    Q, h, drained_part, over_part, edge_part = route(Q, inflow, rest, in_plane, par, laws, deck)
                    drained, spilled, over_edge = drained + drained_part, spilled + over_part, over_edge + edge_part
                    throughfall += fell
                    bypass += past
                    percolation += passed
                    deepest = max(deepest, h)
                    pond = wet = 0.0
                    if h > top:
                        pond, wet = on_top(h, top, deck)
                from_pond = 0.0
                if e0_part > 0.0:
                    U, S, C, M, Q, gone, from_pond, asked, got = evaporate(
                        e0_part, U, S, C, M, Q, pond, wet, par.surface_share, par.film, par.crop_coefficient, roots
                    )
                    lost += gone
                    demand += asked
                    supplied += got
                if Q > 0.0:
                    C, M, Q = _settle_alone(C, M, Q, par.cup_capacity, par.mat_capacity)
                    if (h > deck.board_height) & (S < par.field_water):
                        taken = take_up(Q, S, h, pond - from_pond, part / DAY_MINUTES, par.field_water, deck)
                        Q, S = Q - taken, S + taken
        out[row[1] + t], out[row[2] + t], out[row[3] + t], out[row[6] + t] = bypass, percolation, drained, lost
        out[row[7] + t] = 1.0 - supplied / demand if demand > ROUNDING_MM else 0.0
        out[row[8] + t], out[row[9] + t], out[row[10] + t], out[row[11] + t] = U, S, mobile, old
        out[row[12] + t], out[row[13] + t], out[row[14] + t] = C, M, Q
        if Q != stood:
            h = height(Q, deck)
        board, medium, pond, wet = _report(h, Q, S + mobile, airing, deck)
        out[row[15] + t], out[row[16] + t], out[row[18] + t], out[row[20] + t] = board, medium, h, deepest
        out[row[0] + t], out[row[4] + t], out[row[5] + t] = throughfall, spilled, over_edge
        out[row[17] + t], out[row[19] + t] = pond, wet
    state[0], state[1], state[2], state[3], state[4], state[5], state[6] = U, S, mobile, old, C, M, Q


def settle(C: float, M: float, Q: float, C_max: float, M_max: float) -> tuple[float, float, float]:
    """Let cups, then mat, fill from the free water.

    Parameters
    ----------
    C, M, Q, C_max, M_max
        Water in cups and mat, free water, and what cups and mat hold when full, mm.

    Returns
    -------
    C, M, Q : float
        mm.
    """
    C, Q = fill(C, C_max, Q)
    M, Q = fill(M, M_max, Q)
    return C, M, Q


@joined_late
def _settle_alone(C: float, M: float, Q: float, C_max: float, M_max: float) -> tuple[float, float, float]:
    """Do the same for one roof: with a branch where the cups take it all, nothing further waits for what they hold."""
    if Q <= C_max - C:
        return C + Q, M, 0.0
    return settle(C, M, Q, C_max, M_max)


@joined_late
def _report(h: float, Q: float, held: float, airing: Airing, deck: Deck) -> tuple[float, ...]:
    """Return the water of board, medium and pond, and the waterlogged share; `held` includes mobile water."""
    board, within, pond = Q, 0.0, 0.0
    if h > deck.board_height:
        board, within, pond = board_part(h, deck), medium_part(h, deck), pond_part(h, deck)
    excess = max(0.0, held + within - airing.full_water)
    return board, held + within - excess, pond + excess, wet_share(h, held, airing, deck)
