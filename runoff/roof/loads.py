"""What a build-up weighs: dry, drained, with the board full, ponded to the emergency overflow.

States follow the idea of ASTM E2397: water that stays after drainage (held by the layers and captured in cups) counts as
dead load, the transient water of a storm as live load. The numbers are masses of what is described; they say nothing
about what a structure can carry.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import xarray as xr

from runoff.roof.column_parameters import column_parameters
from runoff.units import convert

if TYPE_CHECKING:
    import pandas as pd

    from runoff.roof.description import Roof
    from runoff.roof.layers import Layer

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
        The roof; only its planted build-up is weighed.

    Returns
    -------
    xarray.Dataset
        ``mass`` (kg/m2) and ``load`` (kN/m2) on ``(layer, state)``, ``total_mass`` and ``total_load`` on ``state``,
        ``transient_mass`` (kg/m2: ponded less drained, the live part of the water). ``attrs["caution"]`` belongs
        beside every number shown.
    """
    rows = [[_mass(roof, layer, state) for state in STATES] for layer in roof.build_up.layers]
    words = [layer.word for layer in roof.build_up.layers]
    rows.append([0.0, 0.0, 0.0, column_parameters(roof)["pond_spill"]])
    loads = xr.Dataset(
        {"mass": (("layer", "state"), rows, {"units": "kg/m2", "long_name": "mass per area"})},
        coords={"layer": [*words, "pond"], "state": list(STATES)},
    )
    loads["load"] = convert(loads["mass"], "kg/m2", "kN/m2")
    loads["load"].attrs = {"units": "kN/m2", "long_name": "load"}
    loads["total_mass"] = loads["mass"].sum("layer", keep_attrs=True)
    loads["total_load"] = loads["load"].sum("layer", keep_attrs=True)
    loads["transient_mass"] = loads["total_mass"].sel(state="ponded") - loads["total_mass"].sel(state="drained")
    loads["transient_mass"].attrs = {"units": "kg/m2", "long_name": "transient water (live load)"}
    loads.attrs["caution"] = CAUTION
    return loads


def _mass(roof: Roof, layer: Layer, state: str) -> float:
    """Return the mass of one layer, kg/m2; one mm of water is one kg/m2."""
    numbers = column_parameters(roof)
    wet = state != "dry"
    water = 0.0
    dry = getattr(layer, "mass_kg_per_m2", 0.0)
    if layer.word == "planting":
        water = layer.canopy_storage_mm if wet else 0.0  # type: ignore[attr-defined]
    elif layer.word == "mulch":
        dry = layer.depth_mm / 1000.0 * layer.density_kg_per_m3  # type: ignore[attr-defined]
        water = layer.depth_mm * layer.holding_fraction if wet else 0.0  # type: ignore[attr-defined]
    elif layer.word == "medium":
        dry = layer.depth_mm / 1000.0 * layer.dry_density_kg_per_m3  # type: ignore[attr-defined]
        water = numbers["field_water"] if wet else 0.0
        if state == "ponded":
            water = numbers["medium_spill"]
    elif layer.word == "board":
        water = numbers["cup_capacity"] if wet else 0.0
        water += {"board_full": numbers["board_capacity"], "ponded": numbers["board_spill"]}.get(state, 0.0)
    elif layer.word in ("mat", "fleece"):
        water = layer.storage_mm if wet else 0.0  # type: ignore[attr-defined]
        if layer.word == "mat" and roof.build_up.board is None and state in ("board_full", "ponded"):
            water += numbers["board_capacity"]
    return dry + water


def drained_mass_kg_per_m2(roof: Roof) -> float:
    """Return the mass of the planted build-up with the water it holds after drainage, kg/m2."""
    return sum(_mass(roof, layer, "drained") for layer in roof.build_up.layers)


def rain_load_kn_per_m2(*, depth_to_overflow_mm: float, head_over_overflow_mm: float) -> float:
    """Return the load of rain that stands on a roof with its primary drainage blocked, kN/m2.

    ``R = 0.0098 (d_s + d_h)``: water up to the inlet of the secondary drainage, and the head it needs to flow
    (International Building Code, section 1611, and ASCE 7, section 8; depths in mm).
    """
    return 0.0098 * (depth_to_overflow_mm + head_over_overflow_mm)


def loads_table(roof: Roof) -> pd.DataFrame:
    """Return the loads as a table: one row per layer and the total, one column per state and unit."""
    import pandas as pd

    loads = roof_loads(roof)
    mass = loads["mass"].to_pandas()
    mass.loc["total"] = loads["total_mass"].to_pandas()
    parts = {
        (STATE_WORDS[state], unit): convert(mass[state], "kg/m2", unit)
        for state in STATES
        for unit in ("kg/m2", "kN/m2", "lb/ft2")
    }
    return pd.DataFrame(parts)
