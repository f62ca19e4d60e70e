"""The flood test of a roof before anything is built on it: how deep, how heavy, how much water, how long until it is gone.

A deck with a fall cannot be flooded evenly: with a little water at the high point it stands deep at the low end. Two forms of
falls: planes towards an outlet line or valley, the deck of the water balance; and a pyramid of falls towards a central outlet.
"""

from __future__ import annotations

import itertools
import math
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np

from runoff.balance.free_water import LEAST_DROP_MM
from runoff.balance.outlet_flow import flow
from runoff.errors import RunoffError
from runoff.findings.whole_roof import volume_m3
from runoff.given_kinds import refuse_other_kinds
from runoff.roof.column_values import outlet_laws

if TYPE_CHECKING:
    from collections.abc import Sequence

    from runoff.balance.outlet_flow import OutletLaw
    from runoff.roof import Roof

#: Mean depth at which the deck counts as empty again, mm (an input).
LEFT_MM = 1.0


class FloodTest(NamedTuple):
    """What a flood test means.

    Parameters
    ----------
    low_end_mm
        Depth of water at the low end, mm: as many kg/m2 there.
    mean_mm
        Mean depth over the roof, mm: as many kg/m2.
    volume_m3
        The water, m3.
    hours
        Hours until the mean depth is under what may be left, through the outlets once they are opened; infinite without outlets.
    """

    low_end_mm: float
    mean_mm: float
    volume_m3: float
    hours: float


def flood_test(
    roof: Roof, *, high_point_mm: float, falls: Literal["planes", "pyramid"] = "planes", left_mm: float = LEFT_MM
) -> FloodTest:
    """Return depth, load, volume and time of a flood test on the bare deck.

    Parameters
    ----------
    roof
        Area, fall, flow length and outlets; the build-up is not yet there.
    high_point_mm
        Depth of water at the high point, mm; 0 for a roof flooded just up to it.
    falls
        ``"planes"`` to an outlet line or valley, or a ``"pyramid"`` to a central outlet.
    left_mm
        Mean depth that counts as empty, mm.

    Returns
    -------
    FloodTest
        Depths (mm, as many kg/m2), volume (m3) and the hours to drain.

    Raises
    ------
    RunoffError
        For a depth out of range or a form that is not known.

    Notes
    -----
    With drop ``d = 1000 fall x flow length`` the share of the roof lower than h is ``h/d`` on planes and ``(h/d)^2`` in a pyramid;
    the time is the integral of area x share over the flow of the outlets, forms of EN 12056-3.
    """
    refuse_other_kinds("flood_test", roof=roof, high_point_mm=high_point_mm)
    if not 0.0 <= high_point_mm <= 1000.0:
        raise RunoffError(f"flood test: high_point_mm must be 0 to 1,000 mm (given {high_point_mm:g})")
    if not left_mm > 0.0:
        raise RunoffError(f"flood test: left_mm must be above 0 (given {left_mm:g})")
    if falls not in ("planes", "pyramid"):
        raise RunoffError(f'flood test: falls is "planes" or "pyramid" (given "{falls}")')
    drop = 1000.0 * roof.fall * roof.flow_length_m
    drop = drop if drop >= LEAST_DROP_MM else 0.0
    power = 1 if falls == "planes" else 2
    level = high_point_mm + drop
    mean = _mean(level, drop, power)
    end = _level_of(min(left_mm, mean), drop, power)
    laws = outlet_laws(roof.outlets)
    return FloodTest(level, mean, volume_m3(mean, roof.area_m2), _hours(level, end, drop, power, roof.area_m2, laws))


def _mean(level: float, drop: float, power: int) -> float:
    """Return the mean depth of water that stands to a level, mm."""
    if level >= drop:
        return level - drop * power / (power + 1.0)
    return level * (level / drop) ** power / (power + 1.0)


def _level_of(mean: float, drop: float, power: int) -> float:
    """Return the level of a mean depth, mm."""
    full = drop / (power + 1.0)
    if mean >= full:
        return mean + drop * power / (power + 1.0)
    return float((mean * (power + 1.0) * drop**power) ** (1.0 / (power + 1.0)))


def _hours(level: float, end: float, drop: float, power: int, area_m2: float, laws: Sequence[OutletLaw]) -> float:
    """Return the hours in which the water falls from a level to another: the integral of wetted area over flow."""
    if not laws:
        return math.inf
    corners = sorted({end, level, *(one for law in laws if end < (one := law.turning_head_mm) < level),
                      *([drop] if end < drop < level else [])})  # fmt: skip
    nodes, weights = np.polynomial.legendre.leggauss(24)
    seconds = 0.0
    for low, high in itertools.pairwise(corners):
        # in u = sqrt(h): smooth between the corners for weir and orifice alike
        a, b = math.sqrt(low), math.sqrt(high)
        u = 0.5 * (b - a) * nodes + 0.5 * (a + b)
        share = np.minimum(1.0, u**2 / drop) ** power if drop > 0.0 else np.ones_like(u)
        seconds += 0.5 * (b - a) * float((weights * share * area_m2 * 2.0 * u / flow(u**2, laws)).sum())
    return seconds / 3600.0
