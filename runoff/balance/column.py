"""One day of the planted column, and the loops over days.

The calculation sheet
---------------------
Stores, mm over the planted area, top to bottom: surface ``U`` (canopy and mulch), ponded water ``W``, growing
medium ``S``, drainage cups ``C``, protection mat and fleece ``M``, free board water ``B``. Snow is kept outside
(`runoff.balance.snow`): it depends on the weather alone, so every design shares it. In one step, in this order:

1. surface    U += liquid; throughfall = max(0, U - U_max); U -= throughfall
2. soak       top = W + throughfall; inf = min(top, K_s D); top -= inf; S += inf
3. percolate  perc = min(max(0, S - S_fc), K_f D, room); S -= perc; what exceeds S_sat goes back to top
              room = (C_max - C) + (M_max - M) + (B_max - B) + q_d D, unlimited when the emergency overflow
              stands no higher than the board
4. cups, mat  fill from the percolation; Y = B + the rest
5. drain      min(Y + top, q_d D), from Y first; free board space then takes water from top
6. spill      Y above B_over; with the board full also S above S_over and top above W_over
7. evaporate  from the surface, the pond, the medium (linear below the stress point), the cups, the mat

Spill before evaporation is on the safe side for claims of capture. FAO-56 (1998) contains both orders: Example
38 is tabulated this way, its Eq. 88 the other way. The stress factor is FAO-56 Eq. 84.

The step is written once, in three parts: `take_in` (1, 2), `run_down` (3 to 6) and `evaporate` (7). The scalar loop, the
block loop (lanes across designs) and plain Python all run this same source, so they agree to the last bit; numba is
only loaded when a run is large enough to repay it. On most days no free water is about and the parts before
evaporation would change nothing: the block loop then leaves them out.
"""

from __future__ import annotations

import collections
import functools
import types
from typing import Any

import numpy as np

from runoff.balance.loop_choice import compiled_repays

#: What one design brings to the column, in the order of the parameter array. Depths in mm, rates already
#: multiplied by the step (mm per step), the rest plain numbers.
PARAMETERS = (
    "surface_capacity",  # U_max
    "surface_share",  # 1 / U_max, or 0 without a surface store
    "soak_limit",  # K_s D
    "wilting_water",  # S_wp
    "field_water",  # S_fc
    "full_water",  # S_sat
    "fleece_limit",  # K_f D, infinite without a fleece
    "cup_capacity",  # C_max
    "mat_capacity",  # M_max
    "board_capacity",  # B_max
    "drain_limit",  # q_d D
    "board_spill",  # B_over
    "medium_spill",  # S_over
    "pond_spill",  # W_over
    "extra_room",  # infinite when the emergency overflow stands no higher than the board, else 0
    "crop_coefficient",  # Kc
    "stress_slope",  # 1 / ((1 - p) (S_fc - S_wp))
    "cup_supply",
    "mat_supply",
    "air_limit",  # waterlogged when S_sat - S is below this (threshold x medium depth)
    "dry_limit",  # dry when S - S_wp + cup_supply C is below this
    "planted_fraction",
)
#: The stores, in the order of the state array.
STORES = ("surface_water", "pond_water", "medium_water", "cup_water", "mat_water", "board_water")
#: What the trace loop writes per step, in this order; the last six are the stores at the end of the step.
TRACE = (
    "throughfall",
    "percolation",
    "drained",
    "spilled",
    "evapotranspiration",
    "water_stress",
    *STORES,
)
#: What the totals loop sums or takes the largest of, per year and design.
TOTALS = (
    "overflow",
    "evapotranspiration",
    "waterlogged_days",
    "rot_risk_days",
    "dry_days",
    "excess_water",
    "events_held",
    "peak_overflow",
    "longest_waterlogged_spell",
    "longest_dry_spell",
    "roof_overflow",
    "peak_roof_overflow",
)
#: Counters that run on from year to year beside the stores.
COUNTERS = ("waterlogged_spell", "dry_spell", "event_overflow")

POND_SIGN_MM = 0.1  # standing water that counts as waterlogging
ROUNDING_MM = 1e-9  # differences below this are rounding, not water
LANES = 32  # designs side by side in the block loop
# numba reads globals of a kernel as constants: counts must be plain module integers
_N_PAR, _N_STORE, _N_TOTAL, _N_COUNT = len(PARAMETERS), len(STORES), len(TOTALS), len(COUNTERS)
_N_KEPT = _N_STORE + _N_COUNT

# The work array of the block loop: one row of lanes per name, `_AT.name` is where its row begins. One flat array whose
# rows stand at constant places is what the compiler needs to see that no lane touches another.
_WORK = (*PARAMETERS, *STORES, *COUNTERS, *(f"total_{name}" for name in TOTALS), "month_overflow")
_Places: Any = collections.namedtuple("_Places", _WORK)  # type: ignore[misc]
_AT: Any = _Places(*(LANES * row for row in range(len(_WORK))))
# A surface store this little below its brim cannot give more than the demand by rounding.
_BELOW_BRIM = 1.0 - 1e-12
_DAYS_AHEAD = 5.0  # how far ahead it is seen that no design dries out; 3 to 10 are alike


def take_in(liquid, U, W, S, U_max, soak):
    """Fill the surface store and let the rest soak in; return U, water on the medium, S, throughfall."""
    U = U + liquid
    throughfall = max(0.0, U - U_max)
    U = U - throughfall
    # soak
    top = W + throughfall
    soaked = min(top, soak)
    top = top - soaked
    S = S + soaked
    return U, top, S, throughfall


def run_down(top, S, C, M, B, S_fc, S_sat, fleece, C_max, M_max, B_max, drain, B_over, S_over, W_over, extra_room):
    """Percolate, fill cups and mat, drain, spill; return top, S, C, M, B, percolation, drained, spilled."""
    # percolate
    room = (C_max - C) + (M_max - M) + (B_max - B) + drain + extra_room
    percolation = max(0.0, min(min(S - S_fc, fleece), room))  # a full board may be full to within rounding
    S = S - percolation
    back = max(0.0, S - S_sat)
    S = S - back
    top = top + back
    # cups, mat
    to_cups = min(percolation, C_max - C)
    C = C + to_cups
    to_mat = min(percolation - to_cups, M_max - M)
    M = M + to_mat
    Y = B + percolation - to_cups - to_mat
    # drain
    from_board = min(Y, drain)
    from_top = min(top, drain - from_board)
    drained = from_board + from_top
    Y = Y - from_board
    top = top - from_top
    moved = min(top, max(0.0, B_over - Y))
    Y = Y + moved
    top = top - moved
    # spill; rounding must not decide whether the board is full
    over_board = max(0.0, Y - B_over)
    Y = min(Y, B_over)
    full = 1.0 if Y >= B_over - 1e-9 else 0.0
    over_medium = full * max(0.0, S - S_over)
    over_top = full * max(0.0, top - W_over)
    S = S - over_medium
    top = top - over_top
    spilled = over_board + over_medium + over_top
    return top, S, C, M, Y, percolation, drained, spilled


def evaporate(e0, U, top, S, C, M, U_share, S_wp, Kc, stress_slope, cup_supply, mat_supply):
    """Draw on surface, pond, medium, cups and mat in turn; return U, top, S, C, M, evapotranspiration, water stress."""
    from_surface = min(U, e0 * U * U_share)
    U = U - from_surface
    demand = Kc * (e0 - from_surface)
    from_pond = min(top, demand)
    top = top - from_pond
    demand = demand - from_pond
    available = max(0.0, S - S_wp)
    from_medium = min(min(1.0, available * stress_slope) * demand, available)
    S = S - from_medium
    from_cups = min(C, cup_supply * (demand - from_medium))
    C = C - from_cups
    from_mat = min(M, mat_supply * (demand - from_medium - from_cups))
    M = M - from_mat
    supplied = from_medium + from_cups + from_mat
    stress = 1.0 - supplied / demand if demand > 1e-9 else 0.0  # a demand of rounding size is none
    evaporated = from_surface + from_pond + supplied
    return U, top, S, C, M, evaporated, stress


def column_step(
    liquid,
    e0,
    U,
    W,
    S,
    C,
    M,
    B,
    U_max,
    U_share,
    soak,
    S_wp,
    S_fc,
    S_sat,
    fleece,
    C_max,
    M_max,
    B_max,
    drain,
    B_over,
    S_over,
    W_over,
    extra_room,
    Kc,
    stress_slope,
    cup_supply,
    mat_supply,
):
    """Advance one column by one step; see the calculation sheet above.

    Floats in, tuple of floats out, no branches that write two values: this is what lets a compiler run the lanes
    of the block loop side by side.

    Returns
    -------
    tuple
        U, W, S, C, M, B, throughfall, percolation, drained, spilled, evapotranspiration, water stress.
    """
    U, top, S, throughfall = take_in(liquid, U, W, S, U_max, soak)
    top, S, C, M, B, percolation, drained, spilled = run_down(
        top, S, C, M, B, S_fc, S_sat, fleece, C_max, M_max, B_max, drain, B_over, S_over, W_over, extra_room
    )
    U, top, S, C, M, evaporated, stress = evaporate(
        e0, U, top, S, C, M, U_share, S_wp, Kc, stress_slope, cup_supply, mat_supply
    )
    return U, top, S, C, M, B, throughfall, percolation, drained, spilled, evaporated, stress


def trace_loop(liquid, e0, par, state, out):
    """Run one design through all steps and keep every flux and store.

    Parameters
    ----------
    liquid, e0
        Rain plus melt, and reference evapotranspiration, mm per step, shape ``(time,)``.
    par
        Parameters of the design, shape ``(parameter,)`` in the order of `PARAMETERS`.
    state
        Stores before the first step, mm, in the order of `STORES`; holds the last state afterwards.
    out
        Receives the results, shape ``(len(TRACE), time)``.
    """
    U, W, S, C, M, B = state[0], state[1], state[2], state[3], state[4], state[5]
    p0, p1, p2, p3, p4, p5, p6 = par[0], par[1], par[2], par[3], par[4], par[5], par[6]
    p7, p8, p9, p10, p11, p12 = par[7], par[8], par[9], par[10], par[11], par[12]
    p13, p14, p15, p16, p17, p18 = par[13], par[14], par[15], par[16], par[17], par[18]
    for t in range(len(liquid)):
        U, W, S, C, M, B, throughfall, percolation, drained, spilled, evaporated, stress = column_step(
            liquid[t], e0[t], U, W, S, C, M, B,
            p0, p1, p2, p3, p4, p5, p6, p7, p8, p9, p10, p11, p12, p13, p14, p15, p16, p17, p18,
        )  # fmt: skip
        out[0, t] = throughfall
        out[1, t] = percolation
        out[2, t] = drained
        out[3, t] = spilled
        out[4, t] = evaporated
        out[5, t] = stress
        out[6, t] = U
        out[7, t] = W
        out[8, t] = S
        out[9, t] = C
        out[10, t] = M
        out[11, t] = B
    state[0], state[1], state[2], state[3], state[4], state[5] = U, W, S, C, M, B


def totals_loop(  # noqa: C901 - one flat loop, so that the lanes of a block run side by side
    liquid, e0, other, warm, month, event_start, year_start, tolerance, par, kept, totals, monthly
):
    """Run many designs through the same weather and keep sums per year, in blocks of lanes.

    Parameters
    ----------
    liquid, e0
        Rain plus melt, and reference evapotranspiration, mm per step, shape ``(time,)``.
    other
        Overflow of the unplanted part of the roof, mm per step, shape ``(time,)``.
    warm
        1.0 on days warm enough for rot, else 0.0, shape ``(time,)``.
    month
        Month of the step, 0-11, shape ``(time,)``.
    event_start
        True on the first day of each rain event, shape ``(time,)``.
    year_start
        Index of the first step of each year, and the number of steps at the end, shape ``(year + 1,)``.
    tolerance
        Waterlogged days a spell may last before its days count as rot risk.
    par
        Parameters, shape ``(parameter, design)``; the number of designs is a multiple of the block width.
    kept
        Stores and counters before the first step, shape ``(len(STORES) + len(COUNTERS), design)``, updated.
    totals
        Receives the totals, shape ``(year, len(TOTALS), design)``.
    monthly
        Receives the overflow by month of the year, mm, shape ``(12, design)``.
    """
    w = np.empty(len(_WORK) * LANES)
    by_month = np.empty(12 * LANES)
    for first in range(0, par.shape[1], LANES):
        for k in range(_N_PAR):
            for j in range(LANES):
                w[k * LANES + j] = par[k, first + j]
        for k in range(_N_KEPT):
            for j in range(LANES):
                w[_AT.surface_water + k * LANES + j] = kept[k, first + j]
        by_month[:] = 0.0
        w[_AT.month_overflow :] = 0.0
        thirst = 0.0  # the most a day can take of what plants can use, per mm of e0 (cups give no more than the demand)
        for j in range(LANES):
            thirst = max(thirst, w[_AT.crop_coefficient + j])
        spare = 0.0  # what every design can lose before the first of them is dry, mm; 0 where not known
        at_rest = False  # yesterday ended so that a day without rain need not look at the free water
        in_month = month[0]
        begun = False
        for year in range(len(year_start) - 1):
            w[_AT.total_overflow : _AT.month_overflow] = 0.0
            for t in range(year_start[year], year_start[year + 1]):
                rain_t = liquid[t]
                e0_t = e0[t]
                other_t = other[t]
                warm_t = warm[t]
                if month[t] != in_month:  # a store index that varies would keep the lanes from running side by side
                    for j in range(LANES):
                        by_month[in_month * LANES + j] += w[_AT.month_overflow + j]
                        w[_AT.month_overflow + j] = 0.0
                    in_month = month[t]
                if event_start[t]:
                    if begun:
                        for j in range(LANES):
                            w[_AT.total_events_held + j] += 1.0 if w[_AT.event_overflow + j] <= ROUNDING_MM else 0.0
                    begun = True
                    for j in range(LANES):
                        w[_AT.event_overflow + j] = 0.0
                still = at_rest and rain_t == 0.0 and e0_t >= 0.0
                if not still:
                    moving, at_brim = 0, 0
                    for j in range(LANES):
                        U, W, S, throughfall = take_in(
                            rain_t, w[_AT.surface_water + j], w[_AT.pond_water + j], w[_AT.medium_water + j],
                            w[_AT.surface_capacity + j], w[_AT.soak_limit + j],
                        )  # fmt: skip
                        w[_AT.surface_water + j] = U
                        w[_AT.pond_water + j] = W
                        w[_AT.medium_water + j] = S
                        # nothing can run down (S_over >= S_fc) and the medium has air: `run_down` changes no bit
                        lies = (
                            (W == 0.0)
                            & (w[_AT.board_water + j] == 0.0)
                            & (S <= w[_AT.field_water + j])
                            & (w[_AT.cup_water + j] <= w[_AT.cup_capacity + j])
                            & (w[_AT.mat_water + j] <= w[_AT.mat_capacity + j])
                            & (w[_AT.full_water + j] - S >= w[_AT.air_limit + j])
                        )
                        moving += 0 if lies else 1
                        at_brim += 0 if U <= w[_AT.surface_capacity + j] * _BELOW_BRIM else 1
                    still = moving == 0 and e0_t >= 0.0
                    at_rest = still and at_brim == 0
                    if still:
                        for j in range(LANES):
                            w[_AT.waterlogged_spell + j] = 0.0
                if not still:
                    for j in range(LANES):
                        W, S, C, M, B, percolation, drained, spilled = run_down(
                            w[_AT.pond_water + j], w[_AT.medium_water + j], w[_AT.cup_water + j], w[_AT.mat_water + j],
                            w[_AT.board_water + j], w[_AT.field_water + j], w[_AT.full_water + j], w[_AT.fleece_limit + j],
                            w[_AT.cup_capacity + j], w[_AT.mat_capacity + j], w[_AT.board_capacity + j],
                            w[_AT.drain_limit + j], w[_AT.board_spill + j], w[_AT.medium_spill + j],
                            w[_AT.pond_spill + j], w[_AT.extra_room + j],
                        )  # fmt: skip
                        w[_AT.pond_water + j] = W
                        w[_AT.medium_water + j] = S
                        w[_AT.cup_water + j] = C
                        w[_AT.mat_water + j] = M
                        w[_AT.board_water + j] = B
                        overflow = drained + spilled
                        w[_AT.event_overflow + j] += overflow
                        w[_AT.month_overflow + j] += overflow
                        w[_AT.total_overflow + j] += overflow
                        w[_AT.total_peak_overflow + j] = max(w[_AT.total_peak_overflow + j], overflow)
                        roof = other_t + w[_AT.planted_fraction + j] * (overflow - other_t)
                        w[_AT.total_roof_overflow + j] += roof
                        w[_AT.total_peak_roof_overflow + j] = max(w[_AT.total_peak_roof_overflow + j], roof)
                elif other_t != 0.0:
                    for j in range(LANES):
                        roof = other_t + w[_AT.planted_fraction + j] * (0.0 - other_t)
                        w[_AT.total_roof_overflow + j] += roof
                        w[_AT.total_peak_roof_overflow + j] = max(w[_AT.total_peak_roof_overflow + j], roof)
                for j in range(LANES):
                    U, W, S, C, M, evaporated, stress = evaporate(
                        e0_t, w[_AT.surface_water + j], w[_AT.pond_water + j], w[_AT.medium_water + j],
                        w[_AT.cup_water + j], w[_AT.mat_water + j], w[_AT.surface_share + j], w[_AT.wilting_water + j],
                        w[_AT.crop_coefficient + j], w[_AT.stress_slope + j], w[_AT.cup_supply + j], w[_AT.mat_supply + j],
                    )  # fmt: skip
                    w[_AT.surface_water + j] = U
                    w[_AT.pond_water + j] = W
                    w[_AT.medium_water + j] = S
                    w[_AT.cup_water + j] = C
                    w[_AT.mat_water + j] = M
                    w[_AT.total_evapotranspiration + j] += evaporated
                spare -= thirst * e0_t  # on a still day nothing but the demand draws on what plants can use
                if not still or not spare > 0.0:
                    spare = _DAYS_AHEAD * thirst * e0_t
                    near = 0
                    for j in range(LANES):
                        S, C = w[_AT.medium_water + j], w[_AT.cup_water + j]
                        usable = (S - w[_AT.wilting_water + j]) + C * w[_AT.cup_supply + j]
                        dry = 1.0 if usable < w[_AT.dry_limit + j] else 0.0
                        near += 0 if usable > w[_AT.dry_limit + j] + (spare + ROUNDING_MM) else 1
                        dry_spell = (w[_AT.dry_spell + j] + 1.0) * dry
                        w[_AT.dry_spell + j] = dry_spell
                        w[_AT.total_dry_days + j] += dry
                        w[_AT.total_longest_dry_spell + j] = max(w[_AT.total_longest_dry_spell + j], dry_spell)
                    if near > 0:
                        spare = 0.0
                if not still:
                    for j in range(LANES):
                        S = w[_AT.medium_water + j]
                        little_air = w[_AT.full_water + j] - S < w[_AT.air_limit + j]
                        wet = 1.0 if little_air | (w[_AT.pond_water + j] >= POND_SIGN_MM) else 0.0
                        wet_spell = (w[_AT.waterlogged_spell + j] + 1.0) * wet
                        w[_AT.waterlogged_spell + j] = wet_spell
                        w[_AT.total_waterlogged_days + j] += wet
                        w[_AT.total_rot_risk_days + j] += warm_t if wet_spell > tolerance else 0.0
                        w[_AT.total_excess_water + j] += max(0.0, S - w[_AT.field_water + j])
                        longest = max(w[_AT.total_longest_waterlogged_spell + j], wet_spell)
                        w[_AT.total_longest_waterlogged_spell + j] = longest
            if begun and year == len(year_start) - 2:
                for j in range(LANES):
                    w[_AT.total_events_held + j] += 1.0 if w[_AT.event_overflow + j] <= ROUNDING_MM else 0.0
            for k in range(_N_TOTAL):
                for j in range(LANES):
                    totals[year, k, first + j] = w[_AT.total_overflow + k * LANES + j]
        for j in range(LANES):
            by_month[in_month * LANES + j] += w[_AT.month_overflow + j]
        for k in range(_N_KEPT):
            for j in range(LANES):
                kept[k, first + j] = w[_AT.surface_water + k * LANES + j]
        for k in range(12):
            for j in range(LANES):
                monthly[k, first + j] = by_month[k * LANES + j]


def irrigated_loop(liquid, e0, allowed, below, dose, par, state, out, given):
    """Run one design as `trace_loop` does, watering it on days that begin too dry.

    Parameters
    ----------
    liquid, e0, par, state, out
        As in `trace_loop`.
    allowed
        True on days on which watering is allowed, shape ``(time,)``.
    below, dose
        Medium water below which a day is watered, and the water given, mm.
    given
        Receives the water given, mm per step, shape ``(time,)``.
    """
    U, W, S, C, M, B = state[0], state[1], state[2], state[3], state[4], state[5]
    for t in range(len(liquid)):
        given[t] = dose if allowed[t] and S < below else 0.0
        U, W, S, C, M, B, throughfall, percolation, drained, spilled, evaporated, stress = column_step(
            liquid[t] + given[t], e0[t], U, W, S, C, M, B,
            par[0], par[1], par[2], par[3], par[4], par[5], par[6], par[7], par[8], par[9],
            par[10], par[11], par[12], par[13], par[14], par[15], par[16], par[17], par[18],
        )  # fmt: skip
        out[0, t], out[1, t], out[2, t] = throughfall, percolation, drained
        out[3, t], out[4, t], out[5, t] = spilled, evaporated, stress
        out[6, t], out[7, t], out[8, t] = U, W, S
        out[9, t], out[10, t], out[11, t] = C, M, B
    state[0], state[1], state[2], state[3], state[4], state[5] = U, W, S, C, M, B


@functools.cache
def compiled(loop_name: str) -> Any:
    """Return a loop of this module compiled by numba, on first use, with its disk cache.

    The loop is rebuilt with the step and its parts replaced by their compiled forms. Step and loops live in this one file
    because numba's cache watches only the file of the loop: a step edited elsewhere would go unnoticed.
    """
    import numba

    names = dict(globals())
    for part in ("take_in", "run_down", "evaporate", "column_step"):
        rebound = types.FunctionType(globals()[part].__code__, names, part)
        names[part] = numba.njit(inline="always", error_model="numpy", nogil=True)(rebound)
    loop = types.FunctionType(globals()[loop_name].__code__, names, loop_name)
    return numba.njit(cache=True, error_model="numpy", nogil=True)(loop)


def pick(loop_name: str, design_steps: int) -> Any:
    """Return the loop to run: compiled, or plain Python while few steps have been run and numba is not loaded."""
    return compiled(loop_name) if compiled_repays(design_steps) else globals()[loop_name]


def parameter_array(
    columns: list[dict[str, float]] | dict[str, Any], step_hours: float, air_threshold: float, dry_share: float
) -> np.ndarray:
    """Turn described columns into the array the loops read.

    Parameters
    ----------
    columns
        One dict per design, keys as `runoff.roof.column_values` gives them (depths mm, rates mm/h); or one dict
        whose values are numbers all designs share and arrays along ``design``.
    step_hours
        Length of the step, h.
    air_threshold
        Air-filled porosity below which the medium counts as waterlogged, fraction.
    dry_share
        Share of plant-available capacity below which a day counts as dry, fraction.

    Returns
    -------
    numpy.ndarray
        Shape ``(parameter, design)``, order of `PARAMETERS`.
    """
    get: dict[str, Any]
    if isinstance(columns, dict):
        get = {key: np.atleast_1d(value) for key, value in columns.items() if key != "outlets"}
    else:
        get = {
            key: np.array([column[key] for column in columns], dtype=float)
            for key in columns[0]
            if isinstance(columns[0][key], int | float | np.floating)
        }
    usable = get["field_water"] - get["wilting_water"]
    with np.errstate(divide="ignore"):
        share = np.where(get["surface_capacity"] > 0, 1.0 / get["surface_capacity"], 0.0)
    rows = {
        **get,
        "surface_share": share,
        "soak_limit": get["soak_rate"] * step_hours,
        "fleece_limit": get["fleece_rate"] * step_hours,
        "drain_limit": get["drain_rate"] * step_hours,
        "extra_room": np.where(get["room_unlimited"] > 0, np.inf, 0.0),
        "stress_slope": 1.0 / ((1.0 - get["depletion_fraction"]) * usable),
        # a hair below the threshold, so that rounding of S_sat - S_fc never decides
        "air_limit": air_threshold * get["medium_depth"] - ROUNDING_MM,
        "dry_limit": dry_share * (usable + get["cup_supply"] * get["cup_capacity"]),
    }
    return np.array(np.broadcast_arrays(*(rows[name] for name in PARAMETERS)))


def start_stores(par: np.ndarray, moisture: float | str) -> np.ndarray:
    """Return the stores at the start of a run.

    Parameters
    ----------
    par
        Parameters, shape ``(parameter, design)``.
    moisture
        ``"field-capacity"`` (medium at field capacity, cups and mat full), ``"dry"`` (medium at the wilting
        point, cups and mat empty) or a fraction between the two.

    Returns
    -------
    numpy.ndarray
        Shape ``(len(STORES), design)``, mm.
    """
    share = {"field-capacity": 1.0, "dry": 0.0}.get(moisture, moisture) if isinstance(moisture, str) else moisture
    at = dict(zip(PARAMETERS, par, strict=True))
    empty = np.zeros_like(at["field_water"])
    return np.array(
        [
            empty,
            empty,
            at["wilting_water"] + share * (at["field_water"] - at["wilting_water"]),
            share * at["cup_capacity"],
            share * at["mat_capacity"],
            empty,
        ]
    )
