"""The loads of a build-up as a table a person reads, layer by layer, in SI or US customary units."""

from __future__ import annotations

from typing import TYPE_CHECKING

from runoff.roof.loads import CAUTION, STATES, roof_loads
from runoff.saying.scales import shown, unit_shown
from runoff.saying.tables import Table

if TYPE_CHECKING:
    import xarray as xr

    from runoff.roof.description import Roof

_HEADS = {
    "dry": "dry",
    "drained": "drained (dead)",
    "board_full": "board full",
    "ponded": "ponded to overflow",
}


def loads_shown(roof: Roof, *, units: str = "si") -> Table:
    """Return the mass of every layer of a roof in every state, and the load of all; see `loads_table_shown`."""
    return loads_table_shown(roof_loads(roof), units=units)


def loads_table_shown(loads: xr.Dataset, *, units: str = "si") -> Table:
    """Return the mass of every layer in every state, and the load of all, as a table to print or to show.

    Parameters
    ----------
    loads
        What `runoff.roof_loads` returned.
    units
        ``"si"`` (kg/m2, the last row kN/m2) or ``"us"`` (lb/ft2).

    Returns
    -------
    Table
        The caution that belongs beside every load is its note.
    """
    unit = unit_shown("kg/m2", system=units)
    rows = [
        [str(layer), *(_mass(loads["mass"].sel(layer=layer, state=state), units) for state in STATES), unit]
        for layer in loads["layer"].to_numpy()
    ]
    rows.append(["total", *(_mass(loads["total_mass"].sel(state=state), units) for state in STATES), unit])
    totals = 1
    if units == "si":
        weights = (shown(float(loads["total_load"].sel(state=state)), "kN/m2").text for state in STATES)
        rows.append(["total", *weights, "kN/m2"])
        totals = 2
    return Table(
        head=["", *(_HEADS[state] for state in STATES), ""], rows=rows, align="<>>>><", notes=[CAUTION], totals=totals
    )


def _mass(value: object, units: str) -> str:
    return shown(float(value), "kg/m2", system=units).text  # type: ignore[arg-type]
