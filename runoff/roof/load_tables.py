"""The loads of a build-up as a table a person reads, layer by layer, in SI or US customary units."""

from __future__ import annotations

from typing import TYPE_CHECKING

from runoff.roof.loads import CAUTION, roof_loads, states_shown
from runoff.saying.scales import shown, unit_shown
from runoff.saying.tables import Table

if TYPE_CHECKING:
    import xarray as xr

    from runoff.roof.description import Roof


def loads_shown(roof: Roof, *, units: str = "si", head_mm: float | None = None) -> Table:
    """Return the mass of every layer of a roof in every state, and the load of all; see `loads_table_shown`.

    Parameters
    ----------
    roof
        The roof.
    units
        ``"si"`` (kg/m2, one row in kN/m2) or ``"us"`` (lb/ft2).
    head_mm
        Depth of water over the sill of the emergency overflow, mm; see `runoff.roof.loads.ponding`.

    Returns
    -------
    Table
        As `loads_table_shown` makes it.

    Raises
    ------
    RoofError
        For a head that cannot be.
    """
    return loads_table_shown(roof_loads(roof, head_mm=head_mm), units=units)


def loads_table_shown(loads: xr.Dataset, *, units: str = "si") -> Table:
    """Return the mass of every layer in every state, and the load of all, as a table to print or to show.

    Parameters
    ----------
    loads
        What `runoff.roof_loads` returned.
    units
        ``"si"`` (kg/m2, one row in kN/m2) or ``"us"`` (lb/ft2).

    Returns
    -------
    Table
        Its notes say how far water was followed and carry the caution that belongs beside every load.
    """
    words = states_shown(loads)
    unit = unit_shown("kg/m2", system=units)

    def row(name: str, masses: xr.DataArray) -> list[str]:
        return [name, *(shown(float(masses.sel(state=one)), "kg/m2", system=units).text for one in words), unit]

    rows = [row(str(layer), loads["mass"].sel(layer=layer)) for layer in loads["layer"].to_numpy()]
    totals = [row("total", loads["total_mass"])]
    if units == "si":
        weights = (shown(float(loads["total_load"].sel(state=one)), "kN/m2").text for one in words)
        totals.append(["total", *weights, "kN/m2"])
    totals.append(row("mean over the roof", loads["mean_mass"]))
    said = words["ponded"].partition(": ")
    notes = [
        "Where water stands deepest, at the outlets; the mean over the roof below.",
        f"{said[0].capitalize()}: {said[2]}.",
        CAUTION,
    ]
    heads = ["", *(one.partition(":")[0] for one in words.values()), ""]
    return Table(head=heads, rows=[*rows, *totals], align="<" + ">" * len(words) + "<", notes=notes, totals=len(totals))
