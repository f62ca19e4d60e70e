"""A roof without planting in a storm: its surface fills, then the water collects before the outlets and runs off.

Rain fills the depression storage first. The rest runs down the fall to the outlets and stands there as a level pool of
depth ``h`` (mm). On a plane of fall ``s`` and length ``L`` the pool is a wedge; per square metre of roof it holds

    V(h) = pores h^2 / (2 s L)          while h <= s L           (s L in mm: the height of the deck's own fall)
    V(h) = pores (h - s L / 2)          above, the whole deck under water

and drains by the outlet laws at head ``h``: ``dV/dt = inflow - 3600 Q(h) / A`` (mm/h, L/s, m2). On its way down the
deck water may be held up as in a linear store of time constant ``k`` (in gravel); on a membrane with a fall of 2 % the
way takes well under a minute and is left out. Water above the emergency overflow runs off at once. Each substep is
solved on a table of ``V + Q dt`` against ``h`` (storage indication, fully implicit): never negative, no oscillation,
the balance exact.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np

from runoff.balance.outlet_flow import OutletLaw, flow

#: Length of a substep, min: short against the emptying of a pool, which keeps the peak within 1 %.
SUBSTEP_MINUTES = 0.05
_ROWS = 2000


class DeckRun(NamedTuple):
    """What leaves a bare deck and what stands on it, per step.

    Parameters
    ----------
    runoff
        Through outlets and emergency overflow, mm per step.
    pool_depth
        Depth of water at the outlets at the end of each step, mm above the deck.
    largest_depth
        Largest depth at the outlets within each step, mm.
    stored
        All water on the roof at the end of each step, mm: depression storage, on its way, pool.
    """

    runoff: np.ndarray
    pool_depth: np.ndarray
    largest_depth: np.ndarray
    stored: np.ndarray


def pool_water(depth_mm: Any, fall_height_mm: float, pores: float = 1.0) -> np.ndarray:
    """Return the water of a pool of a given depth at the outlet, mm over the roof: the V(h) of the module text."""
    depth = np.asarray(depth_mm, dtype=float)
    if fall_height_mm <= 0.0:
        return pores * depth
    return pores * np.where(depth <= fall_height_mm, depth**2 / (2.0 * fall_height_mm), depth - fall_height_mm / 2.0)


def drain_deck(
    rain: np.ndarray,
    step_minutes: float,
    *,
    laws: Sequence[OutletLaw],
    area_m2: float,
    depression_storage_mm: float,
    fall_height_mm: float,
    pores: float = 1.0,
    delay_minutes: float = 0.0,
    open_share: float = 1.0,
    overflow_level_mm: float = np.inf,
) -> DeckRun:
    """Drain the rain of one storm from a bare deck that is dry at the start.

    Parameters
    ----------
    rain
        mm per step, shape ``(time,)``.
    step_minutes
        Length of a step, min.
    laws
        The outlets.
    area_m2
        Area that drains to them, m2.
    depression_storage_mm
        Water held on the surface, mm; it does not run off.
    fall_height_mm
        Fall of the deck times the flow length, mm; 0 for a level deck.
    pores
        Share of the space that water can take: 1 on a membrane, less in gravel.
    delay_minutes
        Time constant of the way down the deck, min; 0 for none.
    open_share
        Share of the outlets that is not blocked, 0-1.
    overflow_level_mm
        Height of the emergency overflow above the deck, mm.

    Returns
    -------
    DeckRun
    """
    rain = np.asarray(rain, dtype=float)
    parts = max(1, int(np.ceil(step_minutes / SUBSTEP_MINUTES - 1e-9)))
    held = np.minimum(np.cumsum(rain), depression_storage_mm)
    inflow = rain - np.diff(held, prepend=0.0)
    deepest = _deepest(float(inflow.sum()), fall_height_mm, pores)
    # rows dense near the deck, where a wedge holds little
    depth = deepest * np.linspace(0.0, 1.0, _ROWS) ** 2
    volume = pool_water(depth, fall_height_mm, pores)
    left = open_share * flow(depth, laws) * 60.0 / area_m2 * (step_minutes / parts)
    highest = float(pool_water(overflow_level_mm, fall_height_mm, pores)) if np.isfinite(overflow_level_mm) else np.inf
    arrives = -np.expm1(-step_minutes / parts / delay_minutes) if delay_minutes > 0.0 else 1.0
    runoff, pool, largest, on_its_way = _fill_and_drain(inflow, parts, float(arrives), volume, left, highest)
    pool_depth, largest_depth = (np.interp(water, volume, depth) for water in (pool, largest))
    return DeckRun(runoff, pool_depth, largest_depth, held + on_its_way + pool)


def _deepest(water_mm: float, fall_height_mm: float, pores: float) -> float:
    """Return a depth that the pool cannot exceed, mm: all water at once."""
    water = water_mm / pores + 1e-6
    if water <= fall_height_mm / 2.0:
        return float(np.sqrt(2.0 * fall_height_mm * water))
    return water + fall_height_mm / 2.0


def _fill_and_drain(
    inflow: np.ndarray, parts: int, arrives: float, volume: np.ndarray, left: np.ndarray, highest: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Step the pool: ``V1 + Q(V1) dt = V0 + arriving``, linear between the rows of the table."""
    sums, volumes = (volume + left).tolist(), volume.tolist()
    runoff, stored, largest, on_its_way = (np.zeros_like(inflow) for _ in range(4))
    water = way = 0.0
    for step, falling in enumerate((inflow / parts).tolist()):
        out = most = 0.0
        if falling > 0.0 or water > 0.0 or way > 0.0:
            for _ in range(parts):
                way += falling
                arriving = arrives * way
                way -= arriving
                supply = water + arriving
                row = min(max(bisect_right(sums, supply) - 1, 0), len(sums) - 2)
                share = (supply - sums[row]) / (sums[row + 1] - sums[row])
                water = min(volumes[row] + share * (volumes[row + 1] - volumes[row]), supply, highest)
                out += supply - water
                most = max(most, water)
        runoff[step], stored[step], largest[step], on_its_way[step] = out, water, most, way
    return runoff, stored, largest, on_its_way
