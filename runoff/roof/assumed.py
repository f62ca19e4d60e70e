"""What a described roof leaves open and what is then taken: said wherever the roof is handed on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from runoff.roof.build_up import drainage_layer
from runoff.roof.layers.knowing_layer import USUAL_GRADIENT
from runoff.roof.levels import USUAL_UPSTAND_MM, edge_level
from runoff.saying.scales import say

if TYPE_CHECKING:
    from runoff.roof.description import Roof


def assumptions(roof: Roof, *, units: str = "si") -> list[str]:
    """Return a sentence for everything that was taken because the roof does not describe it.

    Parameters
    ----------
    roof
        The roof.
    units
        ``"si"`` or ``"us"``.

    Returns
    -------
    list of str
        Edge, emergency overflow and its opening, gradient of the in-plane flow; empty where all of it is described.
    """
    said = []
    if roof.edge_height_mm is None:
        said.append(
            f"No edge height is given: taken as {say(edge_level(roof), 'mm', 'level', units)} above the deck, "
            f"{say(USUAL_UPSTAND_MM, 'mm', 'level', units)} above the top of the medium (common practice for upstands)."
        )
    if roof.emergency_overflow_mm is None:
        said.append(
            "No emergency overflow is described and none is counted on: water that cannot leave stands up to the edge."
        )
    elif roof.emergency_width_mm is None:
        said.append(
            "The opening of the emergency overflow is not described: how high water stands above its sill with every outlet "
            "blocked cannot be told; give emergency_width_mm and emergency_height_mm."
        )
    drainage = drainage_layer(roof.build_up)
    if drainage.in_plane_gradient is None:
        said.append(
            f"The in-plane flow of the {drainage.title.lower()} is given without the gradient of its test: taken at "
            f"{USUAL_GRADIENT:g}."
        )
    return said
