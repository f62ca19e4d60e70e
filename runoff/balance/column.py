"""One day of the planted column, and the loops over the days of one roof.

The calculation sheet
---------------------
Stores, mm over the planted area, top to bottom: surface ``U`` (canopy and mulch), growing medium ``S``, drainage cups
``C``, protection mat and fleece ``M``, and free water ``Q``: everything that stands or runs between deck and sky and has
not left (`runoff.balance.free_water` tells where it stands). Snow is kept outside (`runoff.balance.surfaces`): it depends
on the weather alone, so every design shares it. D is a day. In this order:

1. snow       outside: `liquid` is rain and melt
2. surface    a = U + liquid; U = min(a, U_max); throughfall = a - U. Of every mm that soaks in, bypass x w mm pass the
              medium, w its share of plant-available water, until it is full: `bypass_of` has the closed form
3. soak       min(throughfall - by, K_s D); the rest is over
4. percolate  what S holds above S_fc, at most K_f D; what then exceeds S_sat is over too
5. below      Q takes the percolation; cups, then mat, fill from it; then Q takes by and over, which pass them
6. drain      min(Q, q_d D), q_d at the level of the evening before; what stands above the medium at the outlets runs to
              them over its surface, as far as the outlets take it
7. spill      what exceeds V(H), H the lower of emergency overflow and edge; the level h of what is left
8. evaporate  from the surface, the pond, the medium (linear below the stress point), the cups, the mat
9. settle     cups, then mat, fill from Q; the medium takes up standing water where it stands in it
10. report    the level anew, Q split into its parts, the share of the area that is waterlogged, dry or not

Spill before evaporation is on the safe side for claims of capture. FAO-56 (1998) contains both orders: Example 38 is
tabulated this way, its Eq. 88 the other way. The stress factor is FAO-56 Eq. 84.

How it is run
-------------
Each step is a function of floats without branches that write two values: `column_step` puts them together for one roof,
`runoff.balance.column_blocks` for many side by side. Both, compiled or not, run this same source and agree to the last
bit. What standing water changes is zero while it stands no higher than the board, and is only worked out above that.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from runoff.balance import packing
from runoff.balance.day_steps import (
    ROUNDING_MM,
    DayColumn,
    bypass_of,
    column_at,
    drain,
    drain_limit_at,
    draw_pond,
    draw_roots,
    draw_surface,
    fill,
    soak_and_percolate,
    take_up,
    usable_by_roots,
    wet_share,
)
from runoff.balance.free_water import (
    Deck,
    board_part,
    deck_at,
    level,
    medium_part,
    pond_part,
    share_above,
)
from runoff.balance.loop_choice import joined_late
from runoff.errors import RunoffError

DAY_HOURS = 24.0

#: A place is waterlogged where water stands in more than this share of the medium's depth ...
WET_DEPTH_SHARE = 0.25
#: ... and a day where this share of the planted area is, or a strip this wide (m) along the low edge.
WET_AREA_SHARE, WET_STRIP_M = 0.10, 0.5
#: Days of a dry spell after which drought is a risk, and the same for a medium up to this depth (mm).
DROUGHT_DAYS, SHALLOW_DROUGHT_DAYS, SHALLOW_MM = 28.0, 14.0, 40.0


#: What one design brings, in the order of the parameter array.
PARAMETERS = (*DayColumn._fields, *Deck._fields)
#: The stores a run carries, in the order of the state array: U, S, C, M, Q.
STORES = ("surface_water", "held_water", "cup_water", "mat_water", "free_water")
#: What the trace loop writes per step, in this order. ``medium_water`` is S with the free water that stands in the medium;
#: ``waterlogged`` and ``dry`` are 1 or 0.
TRACE = (
    "throughfall", "bypass", "percolation", "drained", "spilled", "evapotranspiration", "water_stress",
    *STORES, "board_water", "medium_water", "pond_water", "water_depth_on_deck_mm",
    "air_filled_porosity", "waterlogged_share", "waterlogged", "dry",
)  # fmt: skip
_DECK_ROW = len(DayColumn._fields)


@joined_late
def column_step(
    liquid: float, e0: float, run_on: float, U: float, S: float, C: float, M: float, Q: float, h: float, p: DayColumn,
    deck: Deck,
) -> tuple[float, ...]:  # fmt: skip
    """Advance one roof by one day; see the calculation sheet.

    Parameters
    ----------
    liquid, e0, run_on
        Rain and melt; reference evapotranspiration; run-on that is led to the outlets: mm.
    U, S, C, M, Q
        The stores, mm.
    h
        The level of Q, mm.
    p, deck
        The design.

    Returns
    -------
    tuple
        U, S, C, M, Q, h; throughfall, bypass, percolation, drained, spilled, evapotranspiration, water stress.
    """
    Q_before = Q
    wet = U + liquid
    U = min(wet, p.surface_capacity)
    throughfall = wet - U
    by = bypass_of(throughfall, S, p) if throughfall > 0.0 else 0.0
    S, percolation, passing = soak_and_percolate(throughfall, by, S, p)
    Q = Q + percolation
    C, Q = fill(C, p.cup_capacity, Q)
    M, Q = fill(M, p.mat_capacity, Q)
    Q = Q + (passing + run_on)
    drained = spilled = 0.0
    if Q > 0.0:
        Q, drained = drain(Q, drain_limit_at(h if Q_before > p.board_top_water else 0.0, p), p)
        left = min(Q, p.spill_water)
        spilled = Q - left
        Q = left
    U, from_surface, demand = draw_surface(max(0.0, e0), U, p)
    standing = wetted_share = from_pond = 0.0
    if Q > p.board_top_water:
        h = level(Q, deck) if Q != Q_before else h
        ponded = pond_part(h, deck)
        standing = medium_part(h, deck) + ponded
        wetted_share = share_above(h, deck.board_height, deck.drop)
        ponded_share = share_above(h, deck.board_height + deck.medium_depth, deck.drop)
        Q_before = Q
        Q, from_pond = draw_pond(demand, ponded, ponded_share, Q)
        demand = demand - from_pond
    S, C, M, supplied = draw_roots(demand, S, C, M, p)
    if Q > 0.0:
        C, Q = fill(C, p.cup_capacity, Q)
        M, Q = fill(M, p.mat_capacity, Q)
        S, Q = take_up(standing - from_pond, wetted_share, S, Q, p)
    if Q != Q_before:
        h = level(Q, deck)
    stress = 1.0 - supplied / demand if demand > ROUNDING_MM else 0.0  # a demand of rounding size is none
    evaporated = from_surface + from_pond + supplied
    return U, S, C, M, Q, h, throughfall, by, percolation, drained, spilled, evaporated, stress


@joined_late
def _write_day(out: np.ndarray, t: int, day: tuple[float, ...], p: DayColumn, deck: Deck) -> None:
    """Write what `column_step` returned into the outputs of step t."""
    U, S, C, M, Q, h, throughfall, by, percolation, drained, spilled, evaporated, stress = day
    in_medium = medium_part(h, deck)
    excess = max(0.0, S + in_medium - p.full_water)
    medium = S + in_medium - excess
    share = wet_share(h if Q > p.board_top_water else 0.0, S, p, deck)
    out[0, t], out[1, t], out[2, t] = throughfall, by, percolation
    out[3, t], out[4, t], out[5, t], out[6, t] = drained, spilled, evaporated, stress
    out[7, t], out[8, t], out[9, t], out[10, t], out[11, t] = U, S, C, M, Q
    out[12, t], out[13, t], out[14, t] = board_part(h, deck), medium, pond_part(h, deck) + excess
    out[15, t] = h
    out[16, t] = (p.full_water - medium) / deck.medium_depth
    out[17, t] = share
    out[18, t] = 1.0 if share >= p.wet_limit else 0.0
    out[19, t] = 1.0 if usable_by_roots(U, S, C, M, p) < p.dry_limit else 0.0


def trace_loop(
    liquid: np.ndarray, e0: np.ndarray, run_on: np.ndarray, par: np.ndarray, state: np.ndarray, out: np.ndarray
) -> None:
    """Run one design through all days and keep every flux and store.

    Parameters
    ----------
    liquid, e0, run_on
        Rain and melt, reference evapotranspiration (0 under snow and in frost), run-on led to the outlets: mm per day,
        shape ``(time,)``.
    par
        Parameters of the design, shape ``(parameter,)`` in the order of `PARAMETERS`.
    state
        Stores before the first day, mm, in the order of `STORES`; holds the last state afterwards.
    out
        Receives the results, shape ``(len(TRACE), time)``: fluxes, stores and the depth in mm; water stress, air-filled
        porosity and waterlogged share as fractions; whether the day is waterlogged or dry as 1 or 0.
    """
    p, deck = column_at(par, 0, 1), deck_at(par, _DECK_ROW, 1)
    U, S, C, M, Q = state[0], state[1], state[2], state[3], state[4]
    h = level(Q, deck)
    for t in range(len(liquid)):
        day = column_step(liquid[t], e0[t], run_on[t], U, S, C, M, Q, h, p, deck)
        U, S, C, M, Q, h = day[0], day[1], day[2], day[3], day[4], day[5]
        _write_day(out, t, day, p, deck)
    state[0], state[1], state[2], state[3], state[4] = U, S, C, M, Q


def irrigated_loop(
    liquid: np.ndarray, e0: np.ndarray, run_on: np.ndarray, allowed: np.ndarray, below: float, dose: float,
    par: np.ndarray, state: np.ndarray, out: np.ndarray, given: np.ndarray,
) -> None:  # fmt: skip
    """Run one design as `trace_loop` does, watering it on days that begin too dry.

    Parameters
    ----------
    liquid, e0, run_on, par, state, out
        As in `trace_loop`.
    allowed
        True on days on which watering is allowed, shape ``(time,)``.
    below, dose
        Water held in the medium below which a day is watered, and the water given, mm.
    given
        Receives the water given, mm per day, shape ``(time,)``.
    """
    p, deck = column_at(par, 0, 1), deck_at(par, _DECK_ROW, 1)
    U, S, C, M, Q = state[0], state[1], state[2], state[3], state[4]
    h = level(Q, deck)
    for t in range(len(liquid)):
        water = dose if allowed[t] and S < below else 0.0
        given[t] = water
        day = column_step(liquid[t] + water, e0[t], run_on[t], U, S, C, M, Q, h, p, deck)
        U, S, C, M, Q, h = day[0], day[1], day[2], day[3], day[4], day[5]
        _write_day(out, t, day, p, deck)
    state[0], state[1], state[2], state[3], state[4] = U, S, C, M, Q


def parameter_array(
    columns: Sequence[Mapping[str, Any]] | Mapping[str, Any],
    air_threshold: float = 0.10,
    dry_share: float = 0.10,
    *,
    wet_depth_share: float = WET_DEPTH_SHARE,
    wet_area_share: float = WET_AREA_SHARE,
    wet_strip_m: float = WET_STRIP_M,
    drought_days: Any = None,
) -> np.ndarray:
    """Turn described columns into the array the loops read.

    Parameters
    ----------
    columns
        See `packing.by_name`.
    air_threshold
        Air-filled porosity below which a place counts as waterlogged, fraction.
    dry_share
        Share of the medium's plant-available water below which a day counts as dry, fraction.
    wet_depth_share
        A place counts as waterlogged, too, where water stands in more than this share of the medium's depth.
    wet_area_share, wet_strip_m
        A day counts as waterlogged where this share of the planted area is, or a strip this wide (m) along the low edge.
    drought_days
        Dry days of a spell after which drought is a risk, for all or along ``design``; by default 28, and 14 for a medium
        of up to 40 mm.

    Returns
    -------
    numpy.ndarray
        Shape ``(parameter, design)``, order of `PARAMETERS`.
    """
    rows = packing.by_name(columns)
    depth, open_share = rows["medium_depth"], rows["open_share"]
    closed = open_share <= 0.0
    if drought_days is None:
        drought_days = np.where(depth <= SHALLOW_MM, SHALLOW_DROUGHT_DAYS, DROUGHT_DAYS)
    made = {
        "soak_limit": rows["soak_rate"] * DAY_HOURS,
        "fleece_limit": rows["fleece_rate"] * DAY_HOURS,
        "outlet_limit": open_share * rows["outlet_rate"] * DAY_HOURS,
        "in_plane_limit": np.where(
            closed, 0.0, np.where(closed, 1.0, open_share) * rows["in_plane_tested"] * DAY_HOURS
        ),
        "air_water": air_threshold * depth,
        "wet_depth": wet_depth_share * depth,
        "depth_per_pore": depth / rows["free_pores"],
        "wet_limit": np.minimum(wet_area_share, wet_strip_m / rows["flow_length_m"]) - ROUNDING_MM,
        "dry_limit": dry_share * rows["usable_water"] - ROUNDING_MM,
        "drought_days": np.broadcast_to(np.asarray(drought_days, dtype=float), depth.shape),
    }
    return packing.pack(rows | made, PARAMETERS)


def start_stores(par: np.ndarray, moisture: float | str) -> np.ndarray:
    """Return the stores at the start of a run.

    Parameters
    ----------
    par
        Parameters, shape ``(parameter, design)``, order of `PARAMETERS` (units: `DayColumn`).
    moisture
        ``"field-capacity"`` (medium at field capacity, cups and mat full), ``"dry"`` (medium at the wilting
        point, cups and mat empty) or a fraction between the two. Free water: none.

    Returns
    -------
    numpy.ndarray
        Shape ``(len(STORES), design)``, mm.
    """
    share = {"field-capacity": 1.0, "dry": 0.0}.get(moisture, moisture) if isinstance(moisture, str) else moisture
    if isinstance(share, str):
        raise RunoffError(f"start moisture: {moisture!r} given; use 'field-capacity', 'dry' or a fraction from 0 to 1")
    at = dict(zip(PARAMETERS, par, strict=True))
    held = at["wilting_water"] + share * (at["field_water"] - at["wilting_water"])
    empty = np.zeros_like(held)
    return np.array([empty, held, share * at["cup_capacity"], share * at["mat_capacity"], empty])
