"""The steps of a day of the planted column, each a function of floats; `runoff.balance.column` has the sheet.

Without branches that write two values, so that the compiler runs them for many designs side by side.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from runoff.balance.free_water import Deck, in_plane_rate, share_above
from runoff.balance.loop_choice import reader_of

ROUNDING_MM = 1e-9  # differences below this are rounding, not water


class DayColumn(NamedTuple):
    """What one design brings to the day, beside its `Deck`: depths mm, limits mm per day, slopes per mm, shares 0 to 1, spells days."""

    surface_capacity: float  # U_max
    surface_share: float  # 1/U_max, or 0 without a surface store
    mulch_share: float  # of U, what roots can use
    soak_limit: float  # K_s D
    wilting_water: float  # S_wp
    field_water: float  # S_fc
    full_water: float  # S_sat
    bypass_fraction: float  # b
    bypass_slope: float  # b/(S_fc - S_wp)
    bypass_scale: float  # (S_fc - S_wp)/(2b), 0 without bypass
    fleece_limit: float  # K_f D, infinite without a fleece
    cup_capacity: float  # C_max
    mat_capacity: float  # M_max
    outlet_limit: float  # what the outlets take in a day
    in_plane_limit: float  # what the drainage layer carries in a day at its tested gradient
    tested_slope: float  # see `free_water.in_plane_rate`
    least_level: float
    in_plane_linear: float
    board_top_water: float  # V(h_b)
    medium_top_water: float  # V(h_b + z)
    spill_water: float  # V(H)
    crop_coefficient: float  # Kc
    stress_slope: float  # 1/((1 - p)(S_fc - S_wp))
    cup_supply: float
    mat_supply: float
    air_water: float  # the air below which roots suffer, mm
    wet_depth: float  # height above the board at which water is too much for roots, mm
    depth_per_pore: float  # z/X, mm of depth per mm of free water in the medium
    wet_limit: float  # share of the area from which a day counts as waterlogged
    dry_limit: float  # what roots can use below which a day is dry
    drought_days: float  # dry days after which drought is a risk
    planted_fraction: float


class Soil(NamedTuple):
    """What soaking in asks of a design: mm, a fraction, per mm, mm."""

    wilting_water: float
    bypass_fraction: float
    bypass_slope: float
    bypass_scale: float


class Roots(NamedTuple):
    """What drawing on medium, cups and mat asks of a design: mm, per mm, shares (stress: FAO-56 Eq. 84)."""

    wilting_water: float
    stress_slope: float
    cup_supply: float
    mat_supply: float


class Airing(NamedTuple):
    """What the waterlogged share asks of a design: mm; mm of depth per mm of water."""

    full_water: float
    air_water: float
    wet_depth: float
    depth_per_pore: float


#: ``column_at(rows, at, stride)``: the column whose parameters stand in a flat array.
column_at = reader_of(DayColumn)


def bypass_of(throughfall: float, S: float, p: DayColumn | Soil) -> float:
    """Return what of the throughfall passes the medium (step 2), mm.

    The page's w' = min(1, 2c/(1 + sqrt(1 + 2bc))) with c = w + b w^2/2 + throughfall/(S_fc - S_wp) is, in g = 1 + b w,
    1 + b w' = min(1 + b, sqrt(g^2 + 2b throughfall/(S_fc - S_wp))): no division, and nothing passes without throughfall.

    Parameters
    ----------
    throughfall, S
        Water that passes the surface, and water held in the medium, mm.
    p
        The design.

    Returns
    -------
    float
        mm, from 0 to the throughfall.
    """
    g, squared = wetness(throughfall, S, p)
    return bypassed(throughfall, g, min(1.0 + p.bypass_fraction, math.sqrt(squared)), p)


def wetness(throughfall: float, S: float, p: DayColumn | Soil) -> tuple[float, float]:
    """Return g before the throughfall, and the square of g after it where the medium does not fill (see `bypass_of`).

    Parameters
    ----------
    throughfall, S, p
        As in `bypass_of`.

    Returns
    -------
    g, squared : float
        Without unit.
    """
    g = 1.0 + min(p.bypass_fraction, max(0.0, (S - p.wilting_water) * p.bypass_slope))
    return g, g * g + 2.0 * p.bypass_slope * throughfall


def bypassed(throughfall: float, g: float, wetter: float, p: DayColumn | Soil) -> float:
    """Return what of the throughfall passes the medium while it wets from g to a wetter one (see `bypass_of`).

    Parameters
    ----------
    throughfall
        Water that passes the surface, mm.
    g, wetter
        The number 1 + b w before and after, from 1 to 1 + b.
    p
        The design.

    Returns
    -------
    float
        mm, from 0 to the throughfall.
    """
    by = p.bypass_scale * ((wetter - g) * (wetter + g - 2.0))
    return min(throughfall, max(0.0, by))  # rounding passes nothing


def soak_and_percolate(throughfall: float, by: float, S: float, p: DayColumn) -> tuple[float, float, float]:
    """Soak and percolate (steps 3 and 4).

    Parameters
    ----------
    throughfall, by, S
        What passes the surface, of it by bypass, and water held in the medium, mm.
    p
        The design.

    Returns
    -------
    S, percolation, passing : float
        mm; `passing` is by and over, which pass cups and mat too.
    """
    arriving = throughfall - by
    soaked = min(arriving, p.soak_limit)
    over = arriving - soaked
    S = S + soaked
    kept = max(min(S, p.field_water), S - p.fleece_limit)
    percolation = S - kept
    S = min(kept, p.full_water)
    over = over + (kept - S)
    return S, percolation, by + over


def fill(store: float, capacity: float, Q: float) -> tuple[float, float]:
    """Fill cups or mat from free water (steps 5 and 9).

    Parameters
    ----------
    store, capacity, Q
        Water in the store, what it holds when full, and free water, mm.

    Returns
    -------
    store, Q : float
        mm.
    """
    taken = min(Q, max(0.0, capacity - store))
    return store + taken, Q - taken


def drain(Q: float, drain_limit: float, p: DayColumn) -> tuple[float, float]:
    """Drain through the drainage layer, and over the surface above the medium (step 6).

    Parameters
    ----------
    Q, drain_limit
        Free water, and what a day's draining is limited to (`drain_limit_at`), mm.
    p
        The design.

    Returns
    -------
    Q, drained : float
        mm.
    """
    drained = min(Q, drain_limit)
    Q = Q - drained
    over_surface = min(max(0.0, Q - p.medium_top_water), max(0.0, p.outlet_limit - drained))
    return Q - over_surface, drained + over_surface


def draw_surface(e: float, U: float, p: DayColumn) -> tuple[float, float, float]:
    """Evaporate from the surface (step 8).

    Parameters
    ----------
    e, U
        Reference evapotranspiration of the day, and water on the surface, mm.
    p
        The design.

    Returns
    -------
    U, from_surface, demand : float
        mm; the demand is what is asked of all that lies below.
    """
    from_surface = min(U, e * U * p.surface_share)
    demand = max(0.0, p.crop_coefficient * (e - from_surface))  # a full surface may give a hair more than the demand
    return U - from_surface, from_surface, demand


def draw_pond(demand: float, ponded: float, ponded_share: float, Q: float) -> tuple[float, float]:
    """Evaporate from a pond (step 8).

    Parameters
    ----------
    demand, ponded, Q
        What is asked for, water above the medium, and all free water, mm.
    ponded_share
        Share of the area that the pond covers, 0-1.

    Returns
    -------
    Q, from_pond : float
        mm.
    """
    from_pond = min(min(ponded, ponded_share * demand), Q)
    return Q - from_pond, from_pond


def drawn_from_medium(demand: float, S: float, p: DayColumn | Roots) -> float:
    """Return what roots draw from the medium (step 8, FAO-56 Eq. 84).

    Parameters
    ----------
    demand, S
        What is asked for, and water held in the medium, mm.
    p
        The design.

    Returns
    -------
    float
        mm.
    """
    available = max(0.0, S - p.wilting_water)
    # the page cuts the share at 1: the same bits, but a choice that lanes would wait for
    return min(min(available * p.stress_slope * demand, demand), available)


def drawn_by_roots(demand: float, S: float, C: float, M: float, p: DayColumn | Roots) -> tuple[float, float, float]:
    """Return what roots draw from medium, cups and mat (step 8, FAO-56 Eq. 84).

    Parameters
    ----------
    demand, S, C, M
        What is asked for, and water in medium, cups and mat, mm.
    p
        The design.

    Returns
    -------
    from_medium, from_cups, from_mat : float
        mm.
    """
    from_medium = drawn_from_medium(demand, S, p)
    from_cups, from_mat = drawn_from_below(demand - from_medium, C, M, p)
    return from_medium, from_cups, from_mat


def drawn_from_below(left: float, C: float, M: float, p: DayColumn | Roots) -> tuple[float, float]:
    """Return what roots draw from cups and mat (step 8).

    Parameters
    ----------
    left, C, M
        What the medium leaves of the demand, and water in cups and mat, mm.
    p
        The design.

    Returns
    -------
    from_cups, from_mat : float
        mm.
    """
    from_cups = min(C, p.cup_supply * left)
    return from_cups, min(M, p.mat_supply * (left - from_cups))


def draw_roots(demand: float, S: float, C: float, M: float, p: DayColumn | Roots) -> tuple[float, float, float, float]:
    """Let roots draw on medium, cups and mat.

    Parameters
    ----------
    demand, S, C, M, p
        As in `drawn_by_roots`, mm.

    Returns
    -------
    S, C, M, supplied : float
        mm.
    """
    from_medium, from_cups, from_mat = drawn_by_roots(demand, S, C, M, p)
    return S - from_medium, C - from_cups, M - from_mat, from_medium + from_cups + from_mat


def take_up(standing: float, wetted_share: float, S: float, Q: float, p: DayColumn) -> tuple[float, float]:
    """Let the medium take up water that stands in and above it (step 9).

    Parameters
    ----------
    standing, S, Q
        Free water in and above the medium, water held in it, and all free water, mm.
    wetted_share
        Share of the area on which water stands in the medium, 0-1.
    p
        The design.

    Returns
    -------
    S, Q : float
        mm.
    """
    up = min(min(Q, max(0.0, standing)), wetted_share * max(0.0, p.field_water - S))
    return S + up, Q - up


def drain_limit_at(h: float, p: DayColumn) -> float:
    """Return what a day's draining is limited to when the water stood at h the evening before: q_d D, mm."""
    carried = in_plane_rate(h, p.in_plane_limit, p.tested_slope, p.least_level, p.in_plane_linear)
    return min(carried, p.outlet_limit)


def wet_share(h: float, S: float, p: DayColumn | Airing, deck: Deck) -> float:
    """Return the share of the planted area that is waterlogged (step 10).

    Parameters
    ----------
    h, S
        Level of free water above the deck, and water held in the medium, mm.
    p, deck
        The design.

    Returns
    -------
    float
        Share, 0-1.
    """
    spare = p.full_water - S - p.air_water
    height = deck.board_height + min(p.wet_depth, max(0.0, spare) * p.depth_per_pore)
    return 1.0 if spare < -ROUNDING_MM else share_above(h, height, deck.drop)


def usable_by_roots(U: float, S: float, C: float, M: float, p: DayColumn) -> float:
    """Add up what roots can use: below `dry_limit` a day is dry (step 10).

    Parameters
    ----------
    U, S, C, M
        Water on the surface, in medium, cups and mat, mm.
    p
        The design.

    Returns
    -------
    float
        mm; below 0 under the wilting point.
    """
    return usable_in_medium(U, S, p) + p.cup_supply * C + p.mat_supply * M


def usable_in_medium(U: float, S: float, p: DayColumn) -> float:
    """Add up what roots can use where cups and mat are empty.

    Parameters
    ----------
    U, S
        Water on the surface and in the medium, mm.
    p
        The design.

    Returns
    -------
    float
        mm; below 0 under the wilting point.
    """
    return S - p.wilting_water + U * p.mulch_share
