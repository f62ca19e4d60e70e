"""Heights above the deck at the outlets: drainage layer, top of the medium, emergency overflow, edge."""

from __future__ import annotations

import math
from typing import Any

from runoff.roof.build_up import drainage_layer

#: Height of an upstand over the top of the medium where no edge is described, mm (common practice, no source).
USUAL_UPSTAND_MM = 150.0


def drainage_height(build_up: Any) -> Any:
    """Return the height of the layer that drains, the board or without one the mat, mm."""
    return drainage_layer(build_up).height_taken_mm


def top_of_medium(build_up: Any) -> Any:
    """Return how high the top of the medium lies above the deck, mm; fleeces count as without thickness."""
    return drainage_height(build_up) + build_up.layer("medium").depth_mm


def edge_level(roof: Any) -> Any:
    """Return the height of the edge, mm: as described, or the usual upstand over the top of the medium."""
    return roof.edge_height_mm if roof.edge_height_mm is not None else top_of_medium(roof.build_up) + USUAL_UPSTAND_MM


def sill_level(roof: Any) -> Any:
    """Return the height of the emergency overflow's sill, mm; infinite where none is described."""
    return roof.emergency_overflow_mm if roof.emergency_overflow_mm is not None else math.inf


def contradicting_levels(roof: Any) -> tuple[Any, Any]:
    """Return whether the edge lies below the top of the medium, and whether the sill lies above the edge.

    Of many designs read as one, each is an array.
    """
    edge, sill = edge_level(roof), sill_level(roof)
    return edge < top_of_medium(roof.build_up), (edge < sill) & (sill < math.inf)


def level_faults(roof: Any) -> list[str]:
    """Say what is wrong with the heights of one roof: an edge below the medium, a sill above the edge."""
    drainage, top = drainage_height(roof.build_up), top_of_medium(roof.build_up)
    edge, sill = edge_level(roof), sill_level(roof)
    edge_below, sill_above = contradicting_levels(roof)
    faults = []
    if edge_below:
        faults.append(
            f"edge_height_mm must be at least the top of the medium, {top:g} mm above the deck ({drainage:g} of drainage and "
            f"{top - drainage:g} of medium; you wrote {edge:g})"
        )
    elif sill_above:
        taken = (
            "" if roof.edge_height_mm is not None else f", {USUAL_UPSTAND_MM:g} mm above the medium as none is given"
        )
        faults.append(
            f"emergency_overflow_mm must be at most the height of the edge, {edge:g} mm{taken} (you wrote {sill:g}): water "
            "would run over the edge first; lower the sill or write edge_height_mm"
        )
    return faults
