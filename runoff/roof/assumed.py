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
    if roof.run_on_area_m2 > 0.0:
        said.append(_run_on(roof, units))
    drainage = drainage_layer(roof.build_up)
    if drainage.in_plane_gradient is None:
        said.append(
            f"The in-plane flow of the {drainage.title.lower()} is given without the gradient of its test: taken at "
            f"{USUAL_GRADIENT:g}."
        )
    return said


#: Hard to planted area beyond which water arrives faster than a planting takes it in one city's rule (Philadelphia, F.12, read).
MOST_HARD_TO_PLANTED = 1.0


def _run_on(roof: Roof, units: str) -> str:
    """Say what runs on to a roof, and how much hard surface there is to a planted one; what is not planted counts as hard."""
    planted = roof.area_m2 * roof.planted_fraction
    ratio = (roof.run_on_area_m2 + roof.area_m2 - planted) / planted
    where = "with the rain" if roof.run_on_to == "planting" else "under the planting, to the outlets"
    said = (
        f"Run-on from {say(roof.run_on_area_m2, 'm2', system=units)} of hard surface arrives {where}: {ratio:.2f} of hard to 1 of planted "
        "area, unplanted parts counted as hard. Retention is 1 - overflow / (rain + run-on)."
    )
    if ratio > MOST_HARD_TO_PLANTED:
        said += (
            " More than 1 to 1, the most that one city allows (Philadelphia, sections F.9 to F.20; rule of that place)."
        )
    return said
