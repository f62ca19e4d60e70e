"""From a described roof to the numbers of the column: capacities, rates and levels.

Levels are heights above the deck at the outlets, storages mm over the planted area. Field capacity is that of the medium's
depth (`runoff.roof.layers.GrowingMedium`); without a board the mat is what drains, with its thickness and free space. Flow in
the plane of the drainage layer is handed over as tested, with the gradient of the test: how far it reaches on the roof depends
on the water that stands there, which the balance knows.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

import numpy as np

from runoff.balance.outlet_flow import OutletLaw, edge_outlet, rectangular_outlet, round_outlet
from runoff.errors import RoofError
from runoff.roof.build_up import drainage_layer
from runoff.roof.levels import contradicting_levels, edge_level, sill_level, top_of_medium

if TYPE_CHECKING:
    from runoff.roof.description import Outlet, Roof
    from runoff.roof.layers.knowing_layer import Store

# exponents of in-plane flow against the gradient: laminar in mats, turbulent in boards
_LAMINAR, _TURBULENT = 1.0, 0.5


def column_parameters(roof: Roof) -> dict[str, Any]:
    """Return what one roof brings to the balance.

    Many roofs that differ in numbers alone may come as one whose numbers are arrays (`runoff.sizing.designs`): each is
    then worked out to the last bit as it would be by itself.

    Returns
    -------
    dict
        Capacities (mm), rates (mm/h), levels (mm above the deck), shares; names as in `runoff.balance.column`. Under
        ``outlets`` the laws of all outlets, for runs in minutes.

    Raises
    ------
    RoofError
        When the edge lies below the top of the medium or the sill above the edge: combinations of a sweep come to this unseen.
    """
    layer = roof.build_up.layer
    planting, mulch, medium, fleece = layer("planting"), layer("mulch"), layer("medium"), layer("fleece")
    drainage = drainage_layer(roof.build_up)
    surface = held_in(roof, "surface")
    saving = mulch.evaporation_saving if mulch else 0.0
    _refuse_levels(roof)
    return {
        "surface_capacity": surface,
        "mulch_share": _share(mulch.drained_water_mm, surface) if mulch else 0.0,
        "soak_rate": medium.conductivity_mm_per_h,
        "wilting_water": medium.wilting_point * medium.depth_mm,
        "field_water": medium.drained_water_mm,
        "full_water": medium.flooded_water_mm,
        "medium_depth": medium.depth_mm,
        "fleece_rate": fleece.flow_mm_per_h if fleece else math.inf,
        "cup_capacity": held_in(roof, "cups"),
        "mat_capacity": held_in(roof, "mat"),
        "board_height": drainage.height_taken_mm,
        "board_capacity": drainage.void_storage_mm,
        "fall": roof.fall,
        "flow_length_m": roof.flow_length_m,
        "sill_level": sill_level(roof),
        "edge_level": edge_level(roof),
        "emergency_width_mm": _or_missing(roof.emergency_width_mm),
        "emergency_height_mm": _or_missing(roof.emergency_height_mm),
        "in_plane_flow": drainage.in_plane_flow_l_per_s_m,
        "in_plane_gradient": drainage.tested_gradient,
        "in_plane_exponent": _LAMINAR if drainage.laminar else _TURBULENT,
        "blocked_fraction": roof.blocked_fraction,
        "outlet_rate": outlet_rate(roof),
        "area_m2": roof.area_m2,
        "planted_fraction": roof.planted_fraction,
        "bypass_fraction": medium.bypass_fraction,
        "crop_coefficient": (planting.crop_coefficient if planting else 1.0) * (1.0 - saving),
        "depletion_fraction": planting.depletion_fraction if planting else 0.0,
        "cup_supply": _supplied_from(roof, "cups"),
        "mat_supply": _supplied_from(roof, "mat"),
        "detention_k": medium.detention_k,
        "detention_n": medium.detention_n,
        "outlets": outlet_laws(roof.outlets),
    }


def _refuse_levels(roof: Roof) -> None:
    """Refuse levels that contradict each other, of many designs too."""
    edge_below, sill_above = contradicting_levels(roof)
    if not np.any(edge_below | sill_above):
        return
    given = (top_of_medium(roof.build_up), edge_level(roof), sill_level(roof), edge_below | sill_above)
    *levels, wrong = map(np.ravel, np.broadcast_arrays(*given))
    top, edge, sill = (float(level[np.flatnonzero(wrong)[0]]) for level in levels)
    sill_words = f", sill {sill:g} mm" if math.isfinite(sill) else ""
    words = "its edge lies below the top of the medium" if edge < top else "its sill lies above the edge"
    raise RoofError(
        f"a roof cannot be built, {words} (top of the medium {top:g} mm, edge {edge:g} mm{sill_words} above the deck); vary depths "
        "and levels together, or leave edge_height_mm out"
    )


def held_in(roof: Roof, store: Store) -> Any:
    """Return what all layers of a store hold after free drainage, mm."""
    held: Any = 0.0
    for layer in roof.build_up.layers:
        if layer.store == store:
            held = held + layer.drained_water_mm
    return held


def _supplied_from(roof: Roof, store: Store) -> Any:
    """Return the share of the unmet demand a store can give: that of the layer that gives most."""
    supplied: Any = 0.0
    for layer in roof.build_up.layers:
        if layer.store == store:
            supplied = _most(supplied, layer.supply_fraction)
    return supplied


@functools.lru_cache(maxsize=1024)
def outlet_law(outlet: Outlet) -> OutletLaw:
    """Return the law of one outlet (forms of EN 12056-3); thousands of designs ask for the same few outlets."""
    if outlet.diameter_mm is not None:
        return round_outlet(outlet.diameter_mm, strainer=outlet.strainer)
    if outlet.length_mm is not None:
        return edge_outlet(outlet.length_mm)
    assert outlet.width_mm is not None and outlet.height_mm is not None, "an outlet has been checked for its sizes"
    return rectangular_outlet(outlet.width_mm, outlet.height_mm, strainer=outlet.strainer)


def outlet_laws(outlets: Iterable[Outlet]) -> list[OutletLaw]:
    """Return the laws of outlets, one entry for each piece."""
    return [outlet_law(outlet) for outlet in outlets for _ in range(outlet.count)]


def outlet_rate(roof: Roof) -> float:
    """Return what the outlets take at their design heads, mm/h over the whole roof, before any blockage."""
    return 3600.0 * sum(capacity(outlet, outlet.design_head_mm) for outlet in roof.outlets) / roof.area_m2


def capacity(outlet: Outlet, head_mm: float) -> float:
    """Return the flow of an outlet (all of its kind) at a head, L/s."""
    law = outlet_law(outlet)
    root = math.sqrt(head_mm)
    return outlet.count * (law.weir * head_mm if head_mm <= law.turning_head_mm else law.orifice) * root


def _most(a: Any, b: Any) -> Any:
    return np.maximum(a, b) if isinstance(a, np.ndarray) or isinstance(b, np.ndarray) else max(a, b)


def _share(part: Any, whole: Any) -> Any:
    """Return part over whole, 0 where there is none."""
    if isinstance(whole, np.ndarray) or isinstance(part, np.ndarray):
        return np.divide(part, whole, out=np.zeros(np.broadcast(part, whole).shape), where=np.asarray(whole) > 0.0)
    return part / whole if whole > 0.0 else 0.0


def _or_missing(value: Any) -> Any:
    return math.nan if value is None else value
