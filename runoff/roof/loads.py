"""What a build-up weighs: dry, drained, with the drainage layer full, with water standing to the overflow or to the edge.

States follow the idea of ASTM E2397/E2397M-19: water that stays after drainage (held by the layers and captured in
cups) counts as dead load, the transient water of a storm as live load. One mm of water is one kg/m2. Snow, people,
wind, point loads and construction are left out there and here. The numbers are masses of what is described; they say
nothing about what a structure can carry.

Standing water follows the one geometry of free water (`runoff.balance.free_water`). On a deck with a fall it stands deepest at
the outlets: masses are those of that place, and the mean over the roof stands beside the total.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import xarray as xr

from runoff.balance import free_water
from runoff.errors import RoofError, raise_faults
from runoff.given_kinds import refuse_other_kinds
from runoff.roof.build_up import drainage_layer
from runoff.roof.levels import drainage_height, edge_level
from runoff.roof.standing_water import deck_of, water_below
from runoff.saying import titles
from runoff.units import convert

if TYPE_CHECKING:
    from runoff.roof.description import Roof

CAUTION = (
    "These are masses of the layers as described. Whether the structure can carry them, with snow, people, plants as they "
    "grow and water that cannot leave, is for a licensed structural engineer under the local code. Keep outlets clear, "
    "provide an emergency overflow, and protect everyone who works near the edge."
)
STATES = ("dry", "drained", "board_full", "ponded", "edge")


class Ponding(NamedTuple):
    """How high water stands with every outlet blocked, mm above the deck at the outlets, and why there."""

    level_mm: float
    words: str


def ponding(roof: Roof, *, head_mm: float | None = None) -> Ponding:
    """Return the level that counts as ponded: the overflow's sill and its head, or the edge.

    Parameters
    ----------
    roof
        The roof. Without an emergency overflow, or with one whose opening is not described, water stands up to the edge: such a
        roof is never lighter than the same roof with an overflow.
    head_mm
        Depth of water over the sill when the overflow carries the design rain, mm. Default the height of its opening: it then
        runs full.

    Raises
    ------
    RoofError
        For a negative head, or a head where no emergency overflow is described.
    """
    sill, edge = roof.emergency_overflow_mm, edge_level(roof)
    if head_mm is not None and not head_mm >= 0.0:
        raise RoofError(f"loads: head_mm must be 0 or more (given {head_mm:g})")
    if sill is None:
        if head_mm is not None:
            raise RoofError(
                "loads: a head is given, but the roof has no emergency overflow; write emergency_overflow_mm"
            )
        return Ponding(edge, "ponded to the edge: no emergency overflow is described")
    head = roof.emergency_height_mm if head_mm is None else head_mm
    if head is None:
        return Ponding(edge, "ponded to the edge: the opening of the emergency overflow is not described")
    if sill + head >= edge:
        return Ponding(edge, "ponded to the edge: the head over the emergency overflow reaches it")
    why = "the height of its opening" if head_mm is None else "as given"
    return Ponding(sill + head, f"ponded to the sill of the emergency overflow and its head ({head:g} mm, {why})")


def head_to_weigh(roof: Roof, head_mm: float) -> float | None:
    """Return the head to weigh a roof with where a storm needs more than its opening is high, mm; None where that height is enough.

    Parameters
    ----------
    roof
        The roof.
    head_mm
        Head over the sill for the design peak, mm; missing where there is no opening.
    """
    least = roof.emergency_height_mm
    return head_mm if math.isfinite(head_mm) and (least is None or head_mm > least) else None


def roof_loads(roof: Roof, *, head_mm: float | None = None) -> xr.Dataset:
    """Return mass and load of every layer in every state.

    Parameters
    ----------
    roof
        The roof; only its planted build-up is weighed.
    head_mm
        Depth of water over the sill of the emergency overflow, mm; see `ponding`.

    Returns
    -------
    xarray.Dataset
        ``mass`` (kg/m2) and ``load`` (kN/m2) on ``(layer, state)`` at the outlets, where water stands deepest; ``total_mass``,
        ``total_load`` and ``water_level`` (mm above the deck at the outlets) on ``state``; ``mean_mass``, the total as the mean
        over the planted area; ``state_words``, the states in words, short before the colon; ``transient_mass`` (kg/m2: the heavier of the full drainage layer and ponded, less drained; the
        live part of the water). ``attrs["caution"]`` belongs beside every number shown, ``attrs["ponded"]`` says how far water
        was followed.

    Raises
    ------
    RoofError
        For a head that cannot be.
    """
    refuse_other_kinds("roof_loads", roof=roof)
    ponded = ponding(roof, head_mm=head_mm)
    levels = np.array([0.0, 0.0, drainage_height(roof.build_up), ponded.level_mm, edge_level(roof)])
    masses = _masses(roof, levels)
    mass = np.array(list(masses.values()))
    total = mass.sum(axis=0)
    at = dict(zip(STATES, total, strict=True))
    transient = max(at["board_full"], at["ponded"]) - at["drained"]
    per_area, load = {"units": "kg/m2", "long_name": "mass per area"}, {"units": "kN/m2", "long_name": "load"}
    mean = per_area | {"long_name": "mass per area, mean over the planted area"}
    water = per_area | {"long_name": "transient water (live load)"}
    level = {"units": "mm", "long_name": "water level above the deck at the outlets"}
    return xr.Dataset(
        {
            "mass": (("layer", "state"), mass, per_area),
            "load": (("layer", "state"), convert(mass, "kg/m2", "kN/m2"), load),
            "total_mass": ("state", total, per_area),
            "total_load": ("state", convert(total, "kg/m2", "kN/m2"), load),
            "mean_mass": ("state", _mean_masses(roof, levels, total), mean),
            "water_level": ("state", levels, level),
            "transient_mass": ((), transient, water),
        },
        coords={"layer": list(masses), "state": list(STATES), "state_words": ("state", _words(roof, ponded))},
        attrs={"title": titles.LOADS, "caution": CAUTION, "ponded": ponded.words},
    )


def _words(roof: Roof, ponded: Ponding) -> list[str]:
    short, colon, why = ponded.words.partition(": ")
    return [
        "dry",
        "drained: with the water the layers and cups hold (dead load)",
        f"{drainage_layer(roof.build_up).word} full: drained and the free space of the drainage layer filled",
        ponded.words if colon else f"ponded to the overflow: {short.removeprefix('ponded ')}",
        "ponded to the edge: the overflow blocked too",
    ]


def states_shown(loads: xr.Dataset) -> dict[str, str]:
    """Return the states to show and their words; the edge is left out where ponded means the edge."""
    words = dict(zip(loads["state"].to_numpy().tolist(), loads["state_words"].to_numpy().tolist(), strict=True))
    if float(loads["water_level"].sel(state="ponded")) >= float(loads["water_level"].sel(state="edge")):
        del words["edge"]
    return words


def _masses(roof: Roof, levels: np.ndarray) -> dict[str, list[float]]:
    """Return the mass of every layer and of the pond in each of `STATES` where water stands deepest, kg/m2."""
    drainage = drainage_layer(roof.build_up)
    deck = deck_of(roof.replace({"roof.fall": 0.0}))  # at the outlets water stands as it would on a level deck
    full = drainage.full_water_mm - drainage.drained_water_mm
    masses: dict[str, list[float]] = {}
    for layer in roof.build_up.layers:
        drained = layer.dry_mass_kg_per_m2 + layer.drained_water_mm
        standing = [0.0, 0.0, 0.0]  # board full, ponded, to the edge: what comes on top of the water that stays
        if layer.word == "medium":
            standing[1:] = [free_water.medium_part(level, deck) for level in levels[3:]]
        if layer is drainage:
            standing = [full, *(free_water.board_part(level, deck) for level in levels[3:])]
        masses[layer.word] = [layer.dry_mass_kg_per_m2, drained, *(drained + water for water in standing)]
    masses["pond"] = [0.0, 0.0, 0.0, *(free_water.pond_part(level, deck) for level in levels[3:])]
    return masses


def _mean_masses(roof: Roof, levels: np.ndarray, totals: np.ndarray) -> np.ndarray:
    """Return the total of each state as the mean over the planted area, kg/m2."""
    standing = [water_below(roof, level) for level in levels[3:]]
    return np.concatenate([totals[:3], totals[1] + np.array(standing)])


def drained_mass_kg_per_m2(roof: Roof) -> float:
    """Return the mass of the planted build-up with the water it holds after drainage, kg/m2; of many designs read as one, too."""
    total: float = 0.0
    for layer in roof.build_up.layers:
        total = total + (layer.dry_mass_kg_per_m2 + layer.drained_water_mm)
    return total


def rain_load_kn_per_m2(*, depth_to_overflow_mm: float, head_over_overflow_mm: float) -> float:
    """Return the load of rain that stands on a roof with its primary drainage blocked, kN/m2.

    ``R = 0.0098 (d_s + d_h)``: water up to the inlet of the secondary drainage, and the head it needs to flow
    (International Building Code, section 1611, and ASCE 7, section 8; the equation from memory; depths in mm). It counts
    free water on a bare deck; under a build-up the deck carries the layers too.

    Raises
    ------
    RoofError
        For a negative depth or head.
    """
    given = {"depth_to_overflow_mm": depth_to_overflow_mm, "head_over_overflow_mm": head_over_overflow_mm}
    wrong = [f"{name} must be 0 or more (given {value:g})" for name, value in given.items() if not value >= 0]
    raise_faults("rain load", wrong, RoofError)
    return 0.0098 * (depth_to_overflow_mm + head_over_overflow_mm)
