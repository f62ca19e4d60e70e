"""The planted column in steps of 1 min to 1 h, and the loops over steps.

The calculation sheet
---------------------
Stores, mm over the planted area, top to bottom: surface ``U``, ponded water ``W``, medium ``S``, cups ``C``, mat ``M``,
free board water ``B``; ``x = max(0, S - S_fc)`` is the mobile water of the medium, ``X = S_sat - S_fc``. Rates of the
daily sheet (`runoff.balance.column`) take the place of its step capacities; times in minutes:

1. surface    throughfall is what the full surface store passes on
2. soak       at most K_s; what cannot soak in runs to the board if it has free space, else ponds as W
3. detention  r = min(k x^n, K_f) may leave the medium; cups, then mat, take it first, the board the rest
4. board      dB/dt = percolation + direct inflow - q,   q = (1 - blocked) min(in-plane rate, outlets(level) / area)
5. level      above the deck: h_b B / B_max until the board is full; then + z x / X; then, the medium saturated, + W.
              At the moment the board fills, water already on its way through the medium begins to count as head, so
              q jumps. The jump is filled in: with the board just full, q is anything from q(h_b) to q(full level), and
              equals the supply when that lies between. Only above is percolation held back (percolation <= q).
6. spill      the board full and x above the overflow level: what percolation may still leave the medium runs over the
              emergency overflow (so a spill is never faster than r); W above W_over runs off at once. With the
              overflow no higher than the board, everything beyond B_over spills and percolation is never held back
7. evaporate  once per step, as in the daily sheet, after everything else

How a step is solved
--------------------
The medium has a closed form under steady inflow a: ``x1 = (x0 + a T) / (1 + k x0 T)`` with ``T = tanh(w t)/w``,
``w = (a k)^0.5`` for n = 2, an exponential for n = 1; tanh enters as its continued fraction, which keeps the steady
state exact. Percolation is what is missing, so mass is conserved. The outlets have closed recessions too: in ``u =
level^0.5`` a weir and an orifice together are a Riccati equation, ``u1 = (u0 - o T) / (1 + w u0 T)``. Here, and in the
medium for other n: half the inflow, recession, half the inflow, second order, never negative, no iteration, no
oscillation at any step. A step is cut into substeps of about a minute (`SUBSTEP_MINUTES`), unless little moves.

Four states of a roof share a step. *Calm*: so little mobile water that one substep resolves it, and the board cannot
fill in this step, however the water moves. *Open*: more mobile water, the board still cannot fill. *Brimming*: as
little mobile water as calm, but the board may fill. *Full*: all else. A roof's own stores decide, never its neighbours
in a block, so the scalar loop, the block loop and plain Python give the same bits.
"""

from __future__ import annotations

import functools
import math
import types
from typing import Any

import numpy as np

#: What one design brings, in the order of the parameter array. Depths mm, times min, rates mm/min.
PARAMETERS = (
    "surface_capacity", "surface_share", "soak", "wilting_water", "field_water", "crop_coefficient", "stress_slope",
    "cup_supply", "mat_supply", "cup_capacity", "mat_capacity",
    # detention over a substep and over a whole step: share kept (n = 1), share of the inflow kept, k t (n = 2)
    "keep", "share", "kt", "fleece", "keep_step", "share_step", "kt_step", "fleece_step",
    # the board while it is open: constant rate above `board_turn`, weir recession below
    "board_turn", "in_plane", "in_plane_inverse", "half_weir",
    # bounds of the calm and the open state: mobile water, mobile and board water
    "calm_limit", "open_limit", "board_limit", "odd_exponent",
    # the rest is read in the full state only
    "board_capacity", "board_full", "rate_at_board_full", "head_per_mm", "full_mobile", "head_per_mobile",
    "board_head", "release_limit", "spill_mobile", "spill_pond", "room_unlimited", "k_minutes",
    "reported_head",
)  # fmt: skip
#: The stores, in the order of the state array.
STORES = ("surface_water", "pond_water", "medium_water", "cup_water", "mat_water", "board_water")
#: What the trace loop writes per step: sums of the step in mm, stores and depth at its end, and the largest flow
#: (mm/h, as a mean over a substep) and depth (mm) within it.
TRACE = (
    "throughfall", "percolation", "drained", "spilled", "evapotranspiration", "water_stress", *STORES,
    "water_depth_on_deck_mm", "largest_drained_rate", "largest_overflow_rate", "largest_depth_on_deck_mm",
)  # fmt: skip
#: What the totals loop keeps per design: sums in mm, largest rates in mm/h, largest depth in mm.
TOTALS = (
    "drained", "spilled", "evapotranspiration",
    "largest_drained_rate", "largest_overflow_rate", "largest_depth_on_deck_mm",
)  # fmt: skip
#: Longest substep, min, when water moves.
SUBSTEP_MINUTES = 1.0

ROUNDING_MM = 1e-9
_LANES = 32
_FEW = 4  # up to this many open lanes of a block are quicker one by one
# numba reads globals of a kernel as constants: indices must be plain module integers
(
    _U_MAX, _U_SHARE, _SOAK, _S_WP, _S_FC, _KC, _SLOPE, _CUP_SUPPLY, _MAT_SUPPLY, _C_MAX, _M_MAX,
    _KEEP, _SHARE, _KT, _FLEECE, _KEEP_1, _SHARE_1, _KT_1, _FLEECE_1,
    _B_TURN, _IN_PLANE, _IN_PLANE_INV, _HALF_WEIR, _CALM, _OPEN, _B_LIMIT, _ODD,
    _B_MAX, _B_FULL, _RATE_FULL, _HEAD_B, _X, _HEAD_X, _H_B, _RELEASE, _X_OVER, _W_OVER, _ENDLESS, _K, _REPORTED,
) = range(len(PARAMETERS))  # fmt: skip
_N_LANE_PAR = _ODD + 1  # the parameters that a block keeps in its lanes
# sums and largest values of a block, in its lanes
(
    _DRAINED, _SPILLED, _LOST, _PEAK_CALM, _PEAK_OPEN, _PEAK_BOARD, _PEAK_DRAINED, _PEAK_OVERFLOW, _DEEPEST, _N_SUMS,
) = range(10)  # fmt: skip
# columns of the zone table, see `runoff.balance.minutes`
_LOW, _LOW_ROOT, _STORAGE, _WEIR, _ORIFICE, _OMEGA, _CONSTANT = range(7)


def release(gain, mobile, keep, share, kt, fleece):
    """Return what leaves the medium from `mobile` water under steady `gain`, mm: closed forms for n = 1 and n = 2."""
    y = gain * kt
    top = 1.0 + y * (4.0 / 33.0 + y * (1.0 / 495.0))
    bottom = 1.0 + y * (5.0 / 11.0 + y * (2.0 / 99.0 + y * (1.0 / 10395.0)))
    left = (mobile * keep * bottom + gain * share * top) / (bottom + kt * mobile * top)
    return min(max(0.0, mobile + gain - left), fleece)


def dry_release(mobile, keep, kt, fleece):
    """Return `release` without inflow, to the last bit."""
    return min(max(0.0, mobile - mobile * keep / (1.0 + kt * mobile)), fleece)


def odd_release(gain, mobile, n, k_minutes, fleece):
    """Return `release` for any other exponent: half the inflow, the closed recession, half the inflow."""
    start = mobile + 0.5 * gain
    if start <= 0.0:
        return 0.0
    base = 1.0 + (n - 1.0) * k_minutes * start ** (n - 1.0)
    left = start * base ** (-1.0 / (n - 1.0)) if base > 0.0 else 0.0
    return min(start - left, fleece)


def board_left(start, turn, in_plane, in_plane_inverse, half_weir, minutes):
    """Return what is left of `start` (mm) on a board that drains without inflow."""
    fast = min(max(0.0, (start - turn) * in_plane_inverse), minutes)
    rest = max(0.0, start - in_plane * fast)
    slowing = 1.0 + half_weir * math.sqrt(rest) * (minutes - fast)
    return rest / (slowing * slowing)


def board_step(percolation, C, M, B, C_max, M_max, turn, in_plane, in_plane_inverse, half_weir, minutes):
    """Fill cups and mat, and drain a board that cannot fill; return C, M, B and what was drained (mm)."""
    to_cups = min(percolation, C_max - C)
    to_mat = min(percolation - to_cups, M_max - M)
    half = 0.5 * (percolation - to_cups - to_mat)
    start = B + half
    left = board_left(start, turn, in_plane, in_plane_inverse, half_weir, minutes)
    return C + to_cups, M + to_mat, left + half, start - left


def evaporate(e0, U, W, S, C, M, U_share, S_wp, Kc, slope, cup_supply, mat_supply):
    """Take the evaporation of one step; return U, W, S, C, M, the sum, and what the plants asked for and got."""
    from_surface = min(U, e0 * U * U_share)
    demand = max(0.0, Kc * (e0 - from_surface))  # a full surface may give an ulp more, which must not become a pond
    from_pond = min(W, demand)
    demand = demand - from_pond
    available = max(0.0, S - S_wp)
    from_medium = min(min(1.0, available * slope) * demand, available)
    from_cups = min(C, cup_supply * (demand - from_medium))
    from_mat = min(M, mat_supply * (demand - from_medium - from_cups))
    supplied = from_medium + from_cups + from_mat
    lost = from_surface + from_pond + supplied
    return U - from_surface, W - from_pond, S - from_medium, C - from_cups, M - from_mat, lost, demand, supplied


def outflow_rate(zones, d, level):
    """Return the outflow at a level (mm), mm/min over the roof."""
    z = zones.shape[1] - 1
    while z > 0 and level <= zones[d, z, _LOW]:
        z -= 1
    if zones[d, z, _CONSTANT] >= 0.0:
        return zones[d, z, _CONSTANT]
    per_root = zones[d, z, _WEIR] * level + zones[d, z, _ORIFICE]
    return 2.0 * zones[d, z, _STORAGE] * math.sqrt(level) * per_root


def drawdown(zones, d, level, minutes):
    """Return what the outlets take in `minutes` from a level (mm) without inflow, mm over the roof."""
    z = zones.shape[1] - 1
    while z > 0 and level <= zones[d, z, _LOW]:
        z -= 1
    water = 0.0
    while z >= 0 and minutes > 0.0:
        low = zones[d, z, _LOW]
        storage = zones[d, z, _STORAGE]
        constant = zones[d, z, _CONSTANT]
        if constant >= 0.0:
            if constant * minutes <= (level - low) * storage:
                return water + constant * minutes
            spent = (level - low) * storage / constant
        else:
            root = math.sqrt(level)
            low_root, weir = zones[d, z, _LOW_ROOT], zones[d, z, _WEIR]
            orifice, omega = zones[d, z, _ORIFICE], zones[d, z, _OMEGA]
            # the same recession in stretched time: tan(omega t) / omega, or t itself for a single law
            speed = orifice + weir * root * low_root
            if speed > 0.0:
                to_low = (root - low_root) / speed
                spent = math.atan(omega * to_low) / omega if omega > 0.0 else to_low
            else:
                spent = math.inf
            if spent >= minutes:
                stretched = math.tan(omega * minutes) / omega if omega > 0.0 else minutes
                root = (root - orifice * stretched) / (1.0 + weir * root * stretched)
                return water + (level - root * root) * storage
        water += (level - low) * storage
        level = low
        minutes -= spent
        z -= 1
    return water


def full_substep(par, zones, d, minutes, scale, fall, W, S, C, M, B):
    """Advance a column through one substep, or `scale` of them as one, whatever its state.

    Returns W, S, C, M, B, percolation, drained, spilled, all mm.
    """
    X, B_full = par[_X, d], par[_B_FULL, d]
    step = _KEEP_1 - _KEEP if scale > 1 else 0
    top = W + fall
    soaked = min(top, par[_SOAK, d] * scale)
    top -= soaked
    mobile = max(0.0, S - par[_S_FC, d])
    S += soaked
    gain = max(0.0, S - par[_S_FC, d]) - mobile
    limit = min(par[_FLEECE, d], par[_RELEASE, d]) * scale
    if par[_ODD, d] > 0.0:
        may_leave = odd_release(gain, mobile, par[_ODD, d], par[_K, d] * scale, limit)
    else:
        may_leave = release(gain, mobile, par[_KEEP + step, d], par[_SHARE + step, d], par[_KT + step, d], limit)
    to_cups = min(may_leave, par[_C_MAX, d] - C)
    to_mat = min(may_leave - to_cups, par[_M_MAX, d] - M)
    C += to_cups
    M += to_mat
    S -= to_cups + to_mat
    to_board = may_leave - to_cups - to_mat
    mobile_then = mobile + 0.5 * (gain - to_cups - to_mat)  # halfway through the inflow
    left = mobile + gain - may_leave
    back = max(0.0, left - X)
    S -= back
    top += back
    # as if the medium gave no head: the board alone, with its own head at most
    half = B + 0.5 * (to_board + top)
    over = max(0.0, half - B_full)
    rate = par[_RATE_FULL, d]
    fast = min(over / rate, minutes) if rate > 0.0 else (minutes if over > 0.0 else 0.0)
    drained = rate * fast
    if fast < minutes:
        drained += drawdown(zones, d, (half - over) * par[_HEAD_B, d], minutes - fast)
    kept = B + to_board + top - drained
    if kept <= B_full:
        return 0.0, S - to_board, C, M, kept, may_leave, drained, 0.0
    if par[_ENDLESS, d] > 0.0:
        return 0.0, S - to_board, C, M, B_full, may_leave, drained, kept - B_full
    # the board stands full: what the whole standing water would drive through the outlets
    saturated = mobile_then >= X - ROUNDING_MM
    pond = max(0.0, W + 0.5 * (fall - soaked) + mobile_then - X) if saturated else 0.0
    level = par[_H_B, d] + min(mobile_then, X) * par[_HEAD_X, d] + pond
    at_most = drawdown(zones, d, level, minutes)
    # what runs over the emergency overflow in the meantime adds no head
    spilling = min(X, max(par[_X_OVER, d], mobile + 0.5 * (gain - may_leave)))
    overflow_level = par[_H_B, d] + spilling * par[_HEAD_X, d] + (par[_W_OVER, d] if saturated else 0.0)
    if level > overflow_level:
        at_most = min(at_most, outflow_rate(zones, d, overflow_level) * minutes)
    if B < B_full:
        filling = (B_full - B) / (kept - B)
        at_most = filling * drained + (1.0 - filling) * at_most
    drained = min(B + to_board + top - B_full, max(at_most, drained))
    room = B_full - B + drained
    passed = min(to_board, room)
    top -= min(top, room - passed)
    held = to_board - passed
    S -= passed
    mobile = min(left, X) + held
    over_medium = min(max(0.0, mobile - par[_X_OVER, d]), held)
    back = max(0.0, mobile - over_medium - X)
    top += back
    over_top = max(0.0, top - par[_W_OVER, d])
    S -= back + over_medium
    return top - over_top, S, C, M, B_full, may_leave - held, drained, over_medium + over_top


def depth_on_deck(par, d, W, S, B):
    """Return how far free water reaches above the deck, mm: board, then medium, then pond."""
    if B < par[_B_MAX, d] - ROUNDING_MM:
        return par[_REPORTED, d] * B
    mobile = max(0.0, S - par[_S_FC, d])
    level = par[_REPORTED, d] * par[_B_MAX, d] + min(mobile, par[_X, d]) * par[_HEAD_X, d]
    return level + W if mobile >= par[_X, d] - ROUNDING_MM else level


def roof_state(liquid, U, W, S, B, U_max, S_fc, soak, keep, kt, fleece, odd, board_limit, calm, opened):
    """Return 0 for calm, 1 for open, 2 for full, 3 for brimming: see the calculation sheet."""
    mobile = max(0.0, S + max(0.0, U + liquid - U_max) - S_fc)
    # the most that can leave the medium, all inflow there from the start; the closed form is rough for a large inflow
    leaves = mobile if odd > 0.0 else min(mobile, 1.01 * dry_release(mobile, keep, kt, fleece))
    may_fill = (W > 0.0) | (liquid > soak) | (leaves + B > board_limit)
    if mobile <= calm:
        return (3.0 if W == 0.0 else 2.0) if may_fill else 0.0
    return 2.0 if may_fill | (mobile > opened) else 1.0


def state_of(par, d, substeps, liquid, U, W, S, B):
    """Return `roof_state` of one column."""
    return roof_state(
        liquid, U, W, S, B, par[_U_MAX, d], par[_S_FC, d], par[_SOAK, d] * substeps, par[_KEEP_1, d], par[_KT_1, d],
        par[_FLEECE_1, d], par[_ODD, d], par[_B_LIMIT, d], par[_CALM, d], par[_OPEN, d],
    )  # fmt: skip


def column_step(par, zones, d, minutes, substeps, state, liquid, U, W, S, C, M, B):
    """Advance one column by one step from its `state_of`, evaporation apart.

    Returns U, W, S, C, M, B, throughfall, percolation, drained, spilled (mm), the largest drained and overflow rate
    (mm/min) and the largest depth on the deck (mm).
    """
    throughfall = percolation = drained = spilled = largest_drained = largest_overflow = deepest = 0.0
    if state == 0.0:
        mobile = max(0.0, S - par[_S_FC, d])
        if liquid > 0.0:
            U = U + liquid
            throughfall = max(0.0, U - par[_U_MAX, d])
            U = U - throughfall
            S = S + throughfall
        gain = max(0.0, S - par[_S_FC, d]) - mobile
        if par[_ODD, d] > 0.0:
            k = par[_K, d] * substeps
            percolation = odd_release(gain, mobile, par[_ODD, d], k, par[_FLEECE_1, d])
        elif gain + mobile > 0.0:
            percolation = release(gain, mobile, par[_KEEP_1, d], par[_SHARE_1, d], par[_KT_1, d], par[_FLEECE_1, d])
        S = S - percolation
        C, M, B, drained = board_step(
            percolation, C, M, B, par[_C_MAX, d], par[_M_MAX, d],
            par[_B_TURN, d], par[_IN_PLANE, d], par[_IN_PLANE_INV, d], par[_HALF_WEIR, d], minutes,
        )  # fmt: skip
        rate = drained / minutes
        return U, W, S, C, M, B, throughfall, percolation, drained, 0.0, rate, rate, par[_REPORTED, d] * B
    parts, scale = (1, substeps) if state == 3.0 else (substeps, 1)
    part, part_minutes = liquid / parts, minutes / parts
    for _ in range(parts):
        U = U + part
        fall = max(0.0, U - par[_U_MAX, d])
        U = U - fall
        over = 0.0
        if state == 1.0 and par[_ODD, d] == 0.0:
            mobile = max(0.0, S - par[_S_FC, d])
            S = S + fall
            gain = max(0.0, S - par[_S_FC, d]) - mobile
            passed = release(gain, mobile, par[_KEEP, d], par[_SHARE, d], par[_KT, d], par[_FLEECE, d])
            S = S - passed
            C, M, B, out = board_step(
                passed, C, M, B, par[_C_MAX, d], par[_M_MAX, d],
                par[_B_TURN, d], par[_IN_PLANE, d], par[_IN_PLANE_INV, d], par[_HALF_WEIR, d], part_minutes,
            )  # fmt: skip
        else:
            W, S, C, M, B, passed, out, over = full_substep(par, zones, d, part_minutes, scale, fall, W, S, C, M, B)
        throughfall += fall
        percolation += passed
        drained += out
        spilled += over
        largest_drained = max(largest_drained, out / part_minutes)
        largest_overflow = max(largest_overflow, (out + over) / part_minutes)
        deepest = max(deepest, depth_on_deck(par, d, W, S, B))
    return U, W, S, C, M, B, throughfall, percolation, drained, spilled, largest_drained, largest_overflow, deepest


def trace_loop(liquid, e0, minutes, substeps, par, zones, d, state, out):
    """Run one design through all steps and keep every flux and store.

    `liquid` is rain plus melt, `e0` reference evapotranspiration, mm per step, shape ``(time,)``; `minutes` the length of
    the step, min, and `substeps` how often it is cut when water moves; `par` ``(parameter, design)`` and `zones`
    ``(design, zone, column)`` describe the designs, `d` is the one to run. `state` holds the stores before the first
    step, mm, in the order of `STORES`, and the last ones afterwards; `out` receives the results, ``(len(TRACE), time)``.
    """
    U, W, S, C, M, B = state[0], state[1], state[2], state[3], state[4], state[5]
    still, now = False, 2.0
    for t in range(len(liquid)):
        if not (still and liquid[t] == 0.0):
            now = state_of(par, d, substeps, liquid[t], U, W, S, B)
            # without rain a roof stays calm when all of its mobile water cannot fill the board
            still = now == 0.0 and max(0.0, S + liquid[t] - par[_S_FC, d]) + B <= par[_B_LIMIT, d]
        (
            U, W, S, C, M, B, throughfall, percolation, drained, spilled, drained_rate, overflow_rate, deepest,
        ) = column_step(par, zones, d, minutes, substeps, now, liquid[t], U, W, S, C, M, B)  # fmt: skip
        U, W, S, C, M, lost, demand, supplied = evaporate(
            e0[t], U, W, S, C, M, par[_U_SHARE, d], par[_S_WP, d], par[_KC, d], par[_SLOPE, d],
            par[_CUP_SUPPLY, d], par[_MAT_SUPPLY, d],
        )  # fmt: skip
        out[0, t], out[1, t], out[2, t], out[3, t], out[4, t] = throughfall, percolation, drained, spilled, lost
        out[5, t] = 1.0 - supplied / demand if demand > ROUNDING_MM else 0.0
        out[6, t], out[7, t], out[8, t], out[9, t], out[10, t], out[11, t] = U, W, S, C, M, B
        out[12, t] = depth_on_deck(par, d, W, S, B)
        out[13, t], out[14, t], out[15, t] = drained_rate * 60.0, overflow_rate * 60.0, deepest
    state[0], state[1], state[2], state[3], state[4], state[5] = U, W, S, C, M, B


def totals_loop(  # noqa: C901 - one flat loop, so that the lanes of a block run side by side
    liquid, e0, minutes, substeps, par, zones, kept, totals
):
    """Run many designs through the same weather and keep sums and largest values, in blocks of lanes.

    A block whose lanes are all calm takes a short path; else open lanes are cut into substeps side by side, and full
    lanes (or a few open ones) go through `column_step` one by one. All run the arithmetic of `column_step`.

    Parameters
    ----------
    liquid, e0, minutes, substeps, par, zones
        As in `trace_loop`; designs a multiple of the block width.
    kept
        Stores before the first step, shape ``(len(STORES), design)``, updated.
    totals
        Receives the totals, shape ``(len(TOTALS), design)``.
    """
    p = np.empty(_N_LANE_PAR * _LANES)
    s = np.empty(6 * _LANES)  # stores
    o = np.empty(6 * _LANES)  # stores of open lanes, after their substeps
    a = np.empty(_N_SUMS * _LANES)
    state = np.empty(_LANES)
    for first in range(0, par.shape[1], _LANES):
        for k in range(_N_LANE_PAR):
            p[k * _LANES : (k + 1) * _LANES] = par[k, first : first + _LANES]
        for k in range(6):
            s[k * _LANES : (k + 1) * _LANES] = kept[k, first : first + _LANES]
        a[:] = 0.0
        calm, quiet, resting = 0, False, False
        for t in range(len(liquid)):
            rain_t, e0_t = liquid[t], e0[t]
            resting = resting and rain_t == 0.0
            if not (quiet and rain_t == 0.0):
                calm, still = 0, 0
                for j in range(_LANES):
                    now = roof_state(
                        rain_t, s[j], s[_LANES + j], s[2 * _LANES + j], s[5 * _LANES + j], p[_U_MAX * _LANES + j],
                        p[_S_FC * _LANES + j], p[_SOAK * _LANES + j] * substeps, p[_KEEP_1 * _LANES + j],
                        p[_KT_1 * _LANES + j], p[_FLEECE_1 * _LANES + j], p[_ODD * _LANES + j],
                        p[_B_LIMIT * _LANES + j], p[_CALM * _LANES + j], p[_OPEN * _LANES + j],
                    )  # fmt: skip
                    mobile = max(0.0, s[2 * _LANES + j] + rain_t - p[_S_FC * _LANES + j])
                    state[j] = 2.0 if p[_ODD * _LANES + j] * mobile > 0.0 else now  # a power is quicker alone
                    calm += 1 if state[j] == 0.0 else 0
                    still += 1 if (now == 0.0) & (mobile + s[5 * _LANES + j] <= p[_B_LIMIT * _LANES + j]) else 0
                quiet = (calm == _LANES) & (still == _LANES)
            if resting:  # nothing percolates: the boards go on emptying, ever slower
                for j in range(_LANES):
                    left = board_left(
                        s[5 * _LANES + j], p[_B_TURN * _LANES + j], p[_IN_PLANE * _LANES + j],
                        p[_IN_PLANE_INV * _LANES + j], p[_HALF_WEIR * _LANES + j], minutes,
                    )  # fmt: skip
                    a[_DRAINED * _LANES + j] += s[5 * _LANES + j] - left
                    s[5 * _LANES + j] = left
            elif calm == _LANES and rain_t == 0.0:
                moving = 0
                for j in range(_LANES):
                    mobile = max(0.0, s[2 * _LANES + j] - p[_S_FC * _LANES + j])
                    passed = dry_release(
                        mobile, p[_KEEP_1 * _LANES + j], p[_KT_1 * _LANES + j], p[_FLEECE_1 * _LANES + j]
                    )
                    s[2 * _LANES + j] = s[2 * _LANES + j] - passed
                    C, M, B, drained = board_step(
                        passed, s[3 * _LANES + j], s[4 * _LANES + j], s[5 * _LANES + j], p[_C_MAX * _LANES + j],
                        p[_M_MAX * _LANES + j], p[_B_TURN * _LANES + j], p[_IN_PLANE * _LANES + j],
                        p[_IN_PLANE_INV * _LANES + j], p[_HALF_WEIR * _LANES + j], minutes,
                    )  # fmt: skip
                    s[3 * _LANES + j], s[4 * _LANES + j], s[5 * _LANES + j] = C, M, B
                    a[_DRAINED * _LANES + j] += drained
                    a[_PEAK_CALM * _LANES + j] = max(a[_PEAK_CALM * _LANES + j], drained)
                    a[_PEAK_BOARD * _LANES + j] = max(a[_PEAK_BOARD * _LANES + j], B)
                    # a store above its capacity by a rounding gives that back first
                    over = (C > p[_C_MAX * _LANES + j]) | (M > p[_M_MAX * _LANES + j])
                    moving += 1 if (passed > 0.0) | over else 0
                resting = quiet & (moving == 0)
            else:
                mixed_step(rain_t, minutes, substeps, par, zones, first, p, s, o, a, state)
            if e0_t > 0.0:
                for j in range(_LANES):
                    U, W, S, C, M, lost, demand, supplied = evaporate(
                        e0_t, s[j], s[_LANES + j], s[2 * _LANES + j], s[3 * _LANES + j], s[4 * _LANES + j],
                        p[_U_SHARE * _LANES + j], p[_S_WP * _LANES + j], p[_KC * _LANES + j], p[_SLOPE * _LANES + j],
                        p[_CUP_SUPPLY * _LANES + j], p[_MAT_SUPPLY * _LANES + j],
                    )  # fmt: skip
                    s[j], s[_LANES + j], s[2 * _LANES + j] = U, W, S
                    s[3 * _LANES + j], s[4 * _LANES + j] = C, M
                    a[_LOST * _LANES + j] += lost
        for k in range(6):
            kept[k, first : first + _LANES] = s[k * _LANES : (k + 1) * _LANES]
        for j in range(_LANES):
            gentle = max(a[_PEAK_CALM * _LANES + j] / minutes, a[_PEAK_OPEN * _LANES + j] / (minutes / substeps))
            totals[0, first + j], totals[1, first + j] = a[_DRAINED * _LANES + j], a[_SPILLED * _LANES + j]
            totals[2, first + j] = a[_LOST * _LANES + j]
            totals[3, first + j] = 60.0 * max(gentle, a[_PEAK_DRAINED * _LANES + j])
            totals[4, first + j] = 60.0 * max(gentle, a[_PEAK_OVERFLOW * _LANES + j])
            board_depth = par[_REPORTED, first + j] * a[_PEAK_BOARD * _LANES + j]
            totals[5, first + j] = max(board_depth, a[_DEEPEST * _LANES + j])


def open_lanes(part, part_minutes, substeps, p, s, o, a, state):
    """Fill `o` with the stores all lanes would have if they were open; its pond row gathers what they drain."""
    o[:] = s
    o[_LANES : 2 * _LANES] = 0.0
    for _ in range(substeps):
        for j in range(_LANES):
            U = o[j] + part
            fall = max(0.0, U - p[_U_MAX * _LANES + j])
            o[j] = U - fall
            S_fc = p[_S_FC * _LANES + j]
            mobile = max(0.0, o[2 * _LANES + j] - S_fc)
            S = o[2 * _LANES + j] + fall
            gain = max(0.0, S - S_fc) - mobile
            passed = release(
                gain, mobile, p[_KEEP * _LANES + j], p[_SHARE * _LANES + j], p[_KT * _LANES + j],
                p[_FLEECE * _LANES + j],
            )  # fmt: skip
            o[2 * _LANES + j] = S - passed
            C, M, B, drained = board_step(
                passed, o[3 * _LANES + j], o[4 * _LANES + j], o[5 * _LANES + j], p[_C_MAX * _LANES + j],
                p[_M_MAX * _LANES + j], p[_B_TURN * _LANES + j], p[_IN_PLANE * _LANES + j],
                p[_IN_PLANE_INV * _LANES + j], p[_HALF_WEIR * _LANES + j], part_minutes,
            )  # fmt: skip
            o[3 * _LANES + j] = C
            o[4 * _LANES + j] = M
            o[5 * _LANES + j] = B
            o[_LANES + j] += drained
            is_open = state[j] == 1.0
            a[_PEAK_OPEN * _LANES + j] = max(a[_PEAK_OPEN * _LANES + j], drained if is_open else 0.0)
            a[_PEAK_BOARD * _LANES + j] = max(a[_PEAK_BOARD * _LANES + j], B if is_open else 0.0)


def calm_lanes(rain_t, minutes, p, s, o, a, state):
    """Advance the calm lanes by one step, and let the open lanes take what `open_lanes` worked out."""
    for j in range(_LANES):
        U = s[j] + rain_t
        fall = max(0.0, U - p[_U_MAX * _LANES + j])
        U = U - fall
        S_fc = p[_S_FC * _LANES + j]
        mobile = max(0.0, s[2 * _LANES + j] - S_fc)
        S = s[2 * _LANES + j] + fall
        gain = max(0.0, S - S_fc) - mobile
        passed = release(
            gain, mobile, p[_KEEP_1 * _LANES + j], p[_SHARE_1 * _LANES + j], p[_KT_1 * _LANES + j],
            p[_FLEECE_1 * _LANES + j],
        )  # fmt: skip
        S = S - passed
        C, M, B, drained = board_step(
            passed, s[3 * _LANES + j], s[4 * _LANES + j], s[5 * _LANES + j], p[_C_MAX * _LANES + j],
            p[_M_MAX * _LANES + j], p[_B_TURN * _LANES + j], p[_IN_PLANE * _LANES + j],
            p[_IN_PLANE_INV * _LANES + j], p[_HALF_WEIR * _LANES + j], minutes,
        )  # fmt: skip
        is_calm = state[j] == 0.0
        is_open = state[j] == 1.0
        s[j] = U if is_calm else (o[j] if is_open else s[j])
        s[2 * _LANES + j] = S if is_calm else (o[2 * _LANES + j] if is_open else s[2 * _LANES + j])
        s[3 * _LANES + j] = C if is_calm else (o[3 * _LANES + j] if is_open else s[3 * _LANES + j])
        s[4 * _LANES + j] = M if is_calm else (o[4 * _LANES + j] if is_open else s[4 * _LANES + j])
        s[5 * _LANES + j] = B if is_calm else (o[5 * _LANES + j] if is_open else s[5 * _LANES + j])
        a[_DRAINED * _LANES + j] += drained if is_calm else (o[_LANES + j] if is_open else 0.0)
        a[_PEAK_CALM * _LANES + j] = max(a[_PEAK_CALM * _LANES + j], drained if is_calm else 0.0)
        a[_PEAK_BOARD * _LANES + j] = max(a[_PEAK_BOARD * _LANES + j], B if is_calm else 0.0)


def mixed_step(rain_t, minutes, substeps, par, zones, first, p, s, o, a, state):
    """Advance a block by one step, evaporation apart, whatever the states of its lanes; see `totals_loop`."""
    opened, alone = 0, 0
    for j in range(_LANES):
        opened += 1 if state[j] == 1.0 else 0
    for j in range(_LANES):
        if state[j] >= 2.0 or (state[j] == 1.0 and opened <= _FEW):
            state[j] = 2.0
            alone += 1
            U, W, S, B = s[j], s[_LANES + j], s[2 * _LANES + j], s[5 * _LANES + j]
            U, W, S, C, M, B, _, _, drained, spilled, drained_rate, overflow_rate, deepest = column_step(
                par, zones, first + j, minutes, substeps, state_of(par, first + j, substeps, rain_t, U, W, S, B),
                rain_t, U, W, S, s[3 * _LANES + j], s[4 * _LANES + j], B,
            )  # fmt: skip
            s[j], s[_LANES + j], s[2 * _LANES + j] = U, W, S
            s[3 * _LANES + j], s[4 * _LANES + j], s[5 * _LANES + j] = C, M, B
            a[_DRAINED * _LANES + j] += drained
            a[_SPILLED * _LANES + j] += spilled
            a[_PEAK_DRAINED * _LANES + j] = max(a[_PEAK_DRAINED * _LANES + j], drained_rate)
            a[_PEAK_OVERFLOW * _LANES + j] = max(a[_PEAK_OVERFLOW * _LANES + j], overflow_rate)
            a[_DEEPEST * _LANES + j] = max(a[_DEEPEST * _LANES + j], deepest)
    if alone == _LANES:
        return
    if opened > _FEW:
        open_lanes(rain_t / substeps, minutes / substeps, substeps, p, s, o, a, state)
    calm_lanes(rain_t, minutes, p, s, o, a, state)


#: Functions that loops and steps call, in the order in which they are compiled. Those marked are written out where they
#: are called: at every call numba would count references to the arrays.
_CALLED: dict[str, Any] = {
    "release": "never", "dry_release": "never", "odd_release": "never", "board_left": "never", "board_step": "never", "evaporate": "never",
    "outflow_rate": "always", "drawdown": "always", "full_substep": "always", "depth_on_deck": "always",
    "roof_state": "never", "state_of": "always", "column_step": "always", "open_lanes": "never",
    "calm_lanes": "never", "mixed_step": "never",
}  # fmt: skip


@functools.cache
def compiled(loop_name: str) -> Any:
    """Return a loop of this module compiled by numba, on first use, with its disk cache.

    Loops are rebuilt with the functions they call replaced by their compiled forms. All live in this one file
    because numba's cache watches only the file of the loop: an edit elsewhere would go unnoticed.
    """
    import numba

    names = dict(globals())
    for name, inline in _CALLED.items():
        rebound = types.FunctionType(globals()[name].__code__, names, name)
        names[name] = numba.njit(error_model="numpy", nogil=True, inline=inline)(rebound)
    loop = types.FunctionType(globals()[loop_name].__code__, names, loop_name)
    return numba.njit(cache=True, error_model="numpy", nogil=True)(loop)
