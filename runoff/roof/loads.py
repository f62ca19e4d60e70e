"""What a build-up weighs: dry, drained, with the board full, ponded to the emergency overflow.

States follow the idea of ASTM E2397/E2397M-19: water that stays after drainage (held by the layers and captured in
cups) counts as dead load, the transient water of a storm as live load. One mm of water is one kg/m2. Snow, people,
wind, point loads and construction are left out there and here. The numbers are masses of what is described; they say
nothing about what a structure can carry.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import xarray as xr

from runoff.errors import RoofError, raise_faults
from runoff.roof.build_up import drainage_layer
from runoff.roof.column_values import column_parameters
from runoff.saying import titles
from runoff.units import convert

if TYPE_CHECKING:
    import pandas as pd

    from runoff.roof.description import Roof

CAUTION = (
    "These are masses of the layers as described. Whether the structure can carry them, with snow, people, plants as they "
    "grow and water that cannot leave, is for a licensed structural engineer under the local code. Keep outlets clear, "
    "provide an emergency overflow, and protect everyone who works near the edge."
)
STATES = ("dry", "drained", "board_full", "ponded")
STATE_WORDS = {
    "dry": "dry",
    "drained": "drained: with the water the layers and cups hold (dead load)",
    "board_full": "board full: drained and the free space of the board filled",
    "ponded": "ponded to the emergency overflow",
}


def roof_loads(roof: Roof) -> xr.Dataset:
    """Return mass and load of every layer in every state.

    Parameters
    ----------
    roof
        The roof; only its planted build-up is weighed. Without an emergency overflow it ponds to the top of the medium.

    Returns
    -------
    xarray.Dataset
        ``mass`` (kg/m2) and ``load`` (kN/m2) on ``(layer, state)``, ``total_mass`` and ``total_load`` on ``state``,
        ``transient_mass`` (kg/m2: the heavier of board full and ponded, less drained; the live part of the water).
        ``attrs["caution"]`` belongs beside every number shown.
    """
    masses = _masses(roof)
    loads = xr.Dataset(
        {"mass": (("layer", "state"), list(masses.values()), {"units": "kg/m2", "long_name": "mass per area"})},
        coords={"layer": list(masses), "state": list(STATES)},
    )
    loads["load"] = convert(loads["mass"], "kg/m2", "kN/m2")
    loads["load"].attrs = {"units": "kN/m2", "long_name": "load"}
    loads["total_mass"] = loads["mass"].sum("layer", keep_attrs=True)
    loads["total_load"] = loads["load"].sum("layer", keep_attrs=True)
    wet = loads["total_mass"].sel(state=["board_full", "ponded"]).max("state")
    loads["transient_mass"] = wet - loads["total_mass"].sel(state="drained", drop=True)
    loads["transient_mass"].attrs = {"units": "kg/m2", "long_name": "transient water (live load)"}
    loads.attrs.update(title=titles.LOADS, caution=CAUTION)
    return loads


def _masses(roof: Roof) -> dict[str, list[float]]:
    """Return the mass of every layer and of the pond in each of `STATES`, kg/m2."""
    numbers = column_parameters(roof)
    drainage = drainage_layer(roof.build_up)
    # the column at the outlets, where water stands deepest
    level = min(numbers["sill_level"], numbers["edge_level"])
    above_board = max(0.0, level - numbers["board_height"])
    in_board = numbers["board_capacity"] * min(1.0, level / numbers["board_height"])
    pores = numbers["full_water"] - numbers["field_water"]
    in_medium = pores * min(1.0, above_board / numbers["medium_depth"])
    masses = {}
    layer: Any
    for layer in roof.build_up.layers:
        dry = layer.dry_mass_kg_per_m2
        drained = layer.drained_water_mm
        full, ponded = 0.0, 0.0  # what comes on top of the water that stays
        if layer.word == "medium":
            ponded = in_medium
        if layer is drainage:
            full, ponded = numbers["board_capacity"], in_board
        masses[layer.word] = [dry, dry + drained, dry + drained + full, dry + drained + ponded]
    masses["pond"] = [0.0, 0.0, 0.0, max(0.0, above_board - numbers["medium_depth"])]
    return masses


def drained_mass_kg_per_m2(roof: Roof) -> float:
    """Return the mass of the planted build-up with the water it holds after drainage, kg/m2."""
    # of the layers alone: many designs are read here like one roof whose numbers are arrays
    return sum(layer.dry_mass_kg_per_m2 + layer.drained_water_mm for layer in roof.build_up.layers)


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
    wrong = [f"{name} must be 0 or more (you gave {value:g})" for name, value in given.items() if not value >= 0]
    raise_faults("rain load", wrong, RoofError)
    return 0.0098 * (depth_to_overflow_mm + head_over_overflow_mm)


def loads_table(roof: Roof) -> pd.DataFrame:
    """Return the loads as a table: one row per layer, the pond and the total, one column per state and unit."""
    import pandas as pd

    loads = roof_loads(roof)
    mass = pd.DataFrame(loads["mass"].to_numpy(), index=loads["layer"].to_numpy(), columns=list(STATES))
    mass.loc["total"] = loads["total_mass"].to_numpy()
    table = pd.DataFrame(
        {
            (STATE_WORDS[state], unit): convert(mass[state], "kg/m2", unit)
            for state in STATES
            for unit in ("kg/m2", "kN/m2", "lb/ft2")
        }
    )
    table.attrs["caution"] = CAUTION
    return table
