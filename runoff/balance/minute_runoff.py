"""Free water of one roof runs off for a substep, through outlets, emergency overflow and over the edge: step 4 of the sheet.

The two stages, and how each level is searched, are told in `runoff.balance.minute_steps`; what stands at the foot of the deck is
solved by `runoff.balance.deck_foot`.
"""

from __future__ import annotations

import math
from typing import Any

from runoff.balance.deck_foot import REST, STAGE, ends_between, foot_run_off
from runoff.balance.free_water import Deck, level, surface_share, volume
from runoff.balance.loop_choice import joined_late, uncounted

CLOSE = 1e-5  # Newton ends with a step shorter than this share of u: what is left is about its square
MOST_STEPS = 100


@joined_late
def runs_off(
    h: float, u: float, out: float, out_slope: float, in_plane: float, medium_top: float, surface_weir: float,
    sill: float, sill_weir: float, sill_orifice: float,
) -> tuple[float, ...]:  # fmt: skip
    """Find what leaves through the outlets and over the emergency overflow at a level, each with its slope in u.

    Parameters
    ----------
    h, u
        Level, mm, and its root, mm^0.5.
    out, out_slope
        What the outlets can take there, mm/min, and its slope in u.
    in_plane
        What the drainage layer carries, mm/min.
    medium_top, sill
        Heights above the deck, mm.
    surface_weir, sill_weir, sill_orifice
        Coefficients of flow over the medium and over the sill, mm/min per mm^1.5 (weirs) and mm^0.5 (orifice).

    Returns
    -------
    drained, steep, over, over_steep : float
        mm/min, and mm/min per mm^0.5.
    """
    on_top = max(0.0, h - medium_top)
    root = math.sqrt(on_top)
    arrives = in_plane + surface_weir * on_top * root
    held_up = out > arrives
    above = max(0.0, h - sill)
    sill_root = math.sqrt(above)
    drowned = sill_weir * above > sill_orifice
    over = sill_root * (sill_orifice if drowned else sill_weir * above)
    over_slope = u * (sill_orifice / sill_root if drowned else 3.0 * sill_weir * sill_root)
    drained = arrives if held_up else out
    return drained, 3.0 * surface_weir * root * u if held_up else out_slope, over, over_slope


@joined_late
def next_level(
    u: float, low: float, high: float, top: float, edge: float, rhs: float, weight: float, water: float,
    water_slope: float, drained: float, steep: float, over: float, over_steep: float,
) -> tuple[Any, ...]:  # fmt: skip
    """Do one step of a bracketed Newton iteration for V + weight x q = rhs, given V and q and their slopes in u.

    Parameters
    ----------
    u, low, high, top, edge
        Where the search stands, its bracket, and the roots of the highest level and of the edge, mm^0.5.
    rhs, weight
        Right side, mm, and the minutes that outflow counts for.
    water, water_slope, drained, steep, over, over_steep
        V, mm, what drains and what runs over the overflow, mm/min, each with its slope in u.

    Returns
    -------
    u, low, high, drained, over, over_edge : float
        mm^0.5, then mm/min.
    done : bool
        Whether this was the last step.
    """
    excess = water + weight * (drained + over) - rhs
    at_top = (u >= top) & (excess <= 0.0)
    over_edge = -excess / weight if at_top & (top >= edge) else 0.0
    low = u if excess <= 0.0 else low
    high = u if excess > 0.0 else high
    newton = u - excess / (water_slope + weight * (steep + over_steep))
    then = newton if (newton > low) & (newton < high) else 0.5 * (low + high)
    change = 0.0 if at_top else then - u
    done = abs(change) <= CLOSE * u
    last = change if done else 0.0
    return u + change, low, high, drained + steep * last, over + over_steep * last, over_edge, done


@joined_late
def leaves_by(
    gone: float, minutes: float, early: float, late: float, early_over: float, late_over: float, early_edge: float,
    late_edge: float,
) -> tuple[float, ...]:  # fmt: skip
    """Share out what left in a substep among outlets, overflow and edge, by the rates of its two stages.

    Parameters
    ----------
    gone, minutes
        What left, mm, and the length of the substep, min.
    early, late, early_over, late_over, early_edge, late_edge
        Through the outlets, over the overflow and over the edge in both stages, mm/min.

    Returns
    -------
    drained, spilled, over_edge : float
        mm; `spilled` is by overflow and edge together.
    """
    over_edge = minutes * (REST * early_edge + STAGE * late_edge)
    spilled = minutes * (REST * early_over + STAGE * late_over) + over_edge
    drained = min(gone, minutes * (REST * early + STAGE * late)) if spilled > 0.0 else gone
    return drained, gone - drained, min(over_edge, gone - drained)


@joined_late
def height(Q: float, deck: Deck) -> float:
    """Return the level of free water, mm."""
    return level(Q, deck) if Q > 0.0 else 0.0


@joined_late
def stored(h: float, u: float, deck: Deck) -> tuple[float, float]:
    """Return the free water at a level and its slope in u.

    Parameters
    ----------
    h, u
        Level, mm, and its root, mm^0.5.
    deck
        Its geometry.

    Returns
    -------
    water, slope : float
        mm and mm^0.5.
    """
    return volume(h, deck), 2.0 * u * surface_share(h, deck)


def opened(laws: Any, h: float, u: float) -> tuple[float, float]:
    """Return what the outlets can take at a level and its slope in u.

    Parameters
    ----------
    laws
        Weirs, then orifices, mm/min per mm^1.5 and mm^0.5, flat.
    h, u
        Level, mm, and its root, mm^0.5.

    Returns
    -------
    out, slope : float
        mm/min, and mm/min per mm^0.5.
    """
    out, slope = 0.0, 0.0
    half = len(laws) // 2
    for k in range(half):
        weir, orifice = laws[k] * h, laws[half + k]
        out += u * min(weir, orifice)
        slope += 3.0 * weir if weir < orifice else orifice
    return out, slope


@joined_late
def run_off(
    Q: float, inflow: float, minutes: float, in_plane: float, medium_top: float, surface_weir: float, sill: float,
    sill_weir: float, sill_orifice: float, edge: float, laws: Any, deck: Deck,
) -> tuple[float, ...]:  # fmt: skip
    """Let free water above the foot run off for a substep.

    Parameters
    ----------
    Q, inflow, minutes
        Free water and what joins it, mm, evenly over the minutes.
    in_plane, medium_top, surface_weir, sill, sill_weir, sill_orifice
        As in `runs_off`.
    edge
        Root of the height of the edge, mm^0.5.
    laws, deck
        As in `opened` and `stored`.

    Returns
    -------
    Q, h, drained, spilled, over_edge : float
        mm.
    """
    supply, weight = Q + inflow, STAGE * minutes
    rhs, u, first_u = Q + STAGE * inflow, 0.0, 0.0
    drained = over = over_edge = early = early_over = early_edge = 0.0  # mm/min
    for stage in range(2):
        top = min(math.sqrt(height(rhs, deck)), edge)
        # where the drainage layer limits the flow is known
        u = min(math.sqrt(height(rhs - weight * in_plane, deck)), edge)
        out, out_slope = opened(laws, u * u, u)
        drained, over, over_edge = in_plane, 0.0, 0.0
        done = is_held_up(u, out, in_plane, medium_top, sill, edge)
        u, low, high = u if done else top, 0.0, top
        done = done | (rhs <= 0.0)
        drained = drained if rhs > 0.0 else 0.0
        for _ in range(MOST_STEPS):
            if done:
                break
            h = u * u
            out, out_slope = opened(laws, h, u)
            drained, steep, over, over_steep = runs_off(
                h, u, out, out_slope, in_plane, medium_top, surface_weir,
                sill, sill_weir, sill_orifice,
            )  # fmt: skip
            water, water_slope = stored(h, u, deck)
            u, low, high, drained, over, over_edge, done = next_level(
                u, low, high, top, edge, rhs, weight, water, water_slope, drained, steep, over, over_steep
            )
        if stage == 0:
            early, early_over, early_edge, first_u = drained, over, over_edge, u
            rhs = supply - REST * minutes * (early + early_over + early_edge)
    left, u = end(supply, inflow / minutes, minutes, first_u, u, edge, early + early_over + early_edge,
                  drained + over + over_edge, rhs, deck)  # fmt: skip
    drained, spilled, over_edge = leaves_by(
        supply - left, minutes, early, drained, early_over, over, early_edge, over_edge
    )
    return left, u * u, drained, spilled, over_edge


@uncounted
def route(
    Q: float, inflow: float, minutes: float, in_plane: float, par: Any, laws: Any, deck: Deck
) -> tuple[float, ...]:
    """Let free water run off for a substep: sealed, at the foot or above it.

    Parameters
    ----------
    Q, inflow, minutes, in_plane, laws, deck
        As in `run_off`.
    par
        `minute_steps.Parameters` of the roof.

    Returns
    -------
    Q, h, drained, spilled, over_edge : float
        mm.
    """
    supply = Q + inflow
    if supply <= par.sealed_water:
        return supply, height(supply, deck), 0.0, 0.0, 0.0
    if supply <= par.foot_water:
        left, u = foot_run_off(
            Q, inflow, minutes, par.foot_slope, par.foot_bend, par.foot_weir, par.on_wedge, par.on_level, par.even_fall,
            par.slowing, par.trickle,
        )  # fmt: skip
        return left, u * u, supply - left, 0.0, 0.0
    return run_off(
        Q, inflow, minutes, in_plane, par.medium_top, par.surface_weir, par.sill, par.sill_weir, par.sill_orifice,
        par.edge_root, laws, deck,
    )  # fmt: skip


@joined_late
def is_held_up(u: float, out: float, in_plane: float, medium_top: float, sill: float, edge: float) -> bool:
    """Tell whether the drainage layer alone limits what leaves at the level u^2.

    Parameters
    ----------
    u, edge
        Roots of the level and of the height of the edge, mm^0.5.
    out, in_plane, medium_top, sill
        As in `runs_off`.

    Returns
    -------
    bool
    """
    h = u * u
    return (out >= in_plane) & (h <= medium_top) & (h <= sill) & (u < edge)


@joined_late
def end(
    supply: float, rate: float, minutes: float, first_u: float, u: float, edge: float, early: float, late: float,
    rest: float, deck: Deck,
) -> tuple[float, float]:  # fmt: skip
    """Find what two stages leave; see `deck_foot.foot_end`.

    Parameters
    ----------
    supply, rate, minutes, first_u, u, early, late, rest
        As in `deck_foot.foot_end`.
    edge
        Root of the height of the edge, mm^0.5.
    deck
        Its geometry.

    Returns
    -------
    left, u : float
        mm and mm^0.5.
    """
    left = max(0.0, rest - STAGE * minutes * late)
    between = ends_between(rate, early, late) & (u < edge)
    u = first_u + (u - first_u) * ((rate - early) / (late - early)) if between else u
    return min(supply, volume(u * u, deck)) if between else left, u
