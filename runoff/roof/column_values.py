"""From a described roof to the numbers of the column: capacities, rates and levels.

Levels are heights above the deck, storages mm over the planted area. With the emergency overflow at ``H``, the top of
the board at ``h_b`` and a medium ``z`` deep, the storage below the overflow is

    B_over = B_max min(1, H/h_b)                                  (B_max without a board)
    S_over = S_fc + (S_sat - S_fc) clip((H - h_b)/z, 0, 1)
    W_over = max(0, H - h_b - z)

Drainage per square metre, mm/h: ``q_d = (1 - blocked) min(3600 in_plane / flow_length, 3600 outlets / area)``.
"""

from __future__ import annotations

import functools
import math
from typing import TYPE_CHECKING, Any

import numpy as np

from runoff.balance.outlet_flow import OutletLaw, rectangular_outlet, round_outlet
from runoff.roof.build_up import drainage_layer

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
    """
    layer = roof.build_up.layer
    planting, medium, fleece, board = layer("planting"), layer("medium"), layer("fleece"), layer("board")
    drainage = drainage_layer(roof.build_up)
    z = medium.depth_mm
    field, full = medium.drained_water_mm, medium.flooded_water_mm
    h_b = board.height_mm if board else 0.0
    board_capacity = drainage.void_storage_mm if drainage else 0.0
    level = roof.emergency_overflow_mm if roof.emergency_overflow_mm is not None else h_b + z
    in_plane, outlets = in_plane_rate(roof), outlet_rate(roof)
    return {
        "surface_capacity": held_in(roof, "surface"),
        "soak_rate": medium.conductivity_mm_per_h,
        "wilting_water": medium.wilting_point * z,
        "field_water": field,
        "full_water": full,
        "medium_depth": z,
        "fleece_rate": fleece.flow_mm_per_h if fleece else math.inf,
        "cup_capacity": held_in(roof, "cups"),
        "mat_capacity": held_in(roof, "mat"),
        "board_capacity": board_capacity,
        "board_height": h_b,
        "overflow_level": level,
        "board_spill": board_capacity * _least(1.0, level / h_b) if board else board_capacity,
        "medium_spill": field + (full - field) * _least(1.0, _most(0.0, (level - h_b) / z)),
        "pond_spill": _most(0.0, level - h_b - z),
        "room_unlimited": 1.0 * (level <= h_b),
        "in_plane_rate": in_plane,
        "outlet_rate": outlets,
        "blocked_fraction": roof.blocked_fraction,
        "drain_rate": (1.0 - roof.blocked_fraction) * _least(in_plane, outlets),
        "crop_coefficient": planting.crop_coefficient if planting else 1.0,
        "depletion_fraction": planting.depletion_fraction if planting else 0.0,
        "cup_supply": _supplied_from(roof, "cups"),
        "mat_supply": _supplied_from(roof, "mat"),
        "detention_k": medium.detention_k,
        "detention_n": medium.detention_n,
        "outlets": outlet_laws(roof),
        "area_m2": roof.area_m2,
        "planted_fraction": roof.planted_fraction,
    }


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


def in_plane_rate(roof: Roof) -> float:
    """Return what the drainage layer can carry to the outlets, mm/h over the area, before any blockage.

    The tested in-plane flow (EN ISO 12958) is taken to the roof's fall by ``(fall / gradient)^m``, m = 0.5 for boards
    and 1 for mats; without a gradient it is the value at the roof's fall.
    """
    drainage = drainage_layer(roof.build_up)
    if drainage is None:
        return 0.0
    share = 1.0
    if drainage.in_plane_gradient is not None:
        share = _power(roof.fall / drainage.in_plane_gradient, _LAMINAR if drainage.laminar else _TURBULENT)
    rate: float = 3600.0 * drainage.in_plane_flow_l_per_s_m * share / roof.flow_length_m
    return rate


@functools.lru_cache(maxsize=1024)
def outlet_law(outlet: Outlet) -> OutletLaw:
    """Return the law of one outlet (forms of EN 12056-3); thousands of designs ask for the same few outlets."""
    if outlet.diameter_mm is not None:
        return round_outlet(outlet.diameter_mm, strainer=outlet.strainer)
    assert outlet.width_mm is not None and outlet.height_mm is not None, "an outlet has been checked for its sizes"
    return rectangular_outlet(outlet.width_mm, outlet.height_mm, strainer=outlet.strainer)


def outlet_laws(roof: Roof) -> list[OutletLaw]:
    """Return the laws of all outlets of the roof, one entry each."""
    return [outlet_law(outlet) for outlet in roof.outlets for _ in range(outlet.count)]


def outlet_rate(roof: Roof) -> float:
    """Return what the outlets take at their design heads, mm/h over the whole roof, before any blockage."""
    return 3600.0 * sum(capacity(outlet, outlet.design_head_mm) for outlet in roof.outlets) / roof.area_m2


def capacity(outlet: Outlet, head_mm: float) -> float:
    """Return the flow of an outlet (all of its kind) at a head, L/s."""
    law = outlet_law(outlet)
    root = math.sqrt(head_mm)
    return outlet.count * (law.weir * head_mm if head_mm <= law.turning_head_mm else law.orifice) * root


def _least(a: Any, b: Any) -> Any:
    return np.minimum(a, b) if isinstance(a, np.ndarray) or isinstance(b, np.ndarray) else min(a, b)


def _most(a: Any, b: Any) -> Any:
    return np.maximum(a, b) if isinstance(a, np.ndarray) or isinstance(b, np.ndarray) else max(a, b)


def _power(base: Any, exponent: float) -> Any:
    # numpy's own power may differ from that of a single number in the last digit
    return np.array([one**exponent for one in base.tolist()]) if isinstance(base, np.ndarray) else base**exponent
