"""The order list of a roof as a table a person reads, in SI or US customary units."""

from __future__ import annotations

from typing import TYPE_CHECKING

from runoff.saying.scales import SCALES, shown, unit_words
from runoff.saying.tables import Table

if TYPE_CHECKING:
    import pandas as pd

_KINDS = {"m3": "bulk volume", "kg": "mass", "m2": "area", "kg/m2": "load"}


def order_shown(bill: pd.DataFrame, *, units: str = "si") -> Table:
    """Return the order list as a table to print or to show.

    Parameters
    ----------
    bill
        What `runoff.bill_of_quantities` returned.
    units
        ``"si"`` or ``"us"``.

    Returns
    -------
    Table
        One row per quantity; the layer stands where it begins. The caution that belongs beside the list is its note.
    """
    rows, before = [], ""
    for _, row in bill.iterrows():
        quantity, unit = _quantity(float(row["quantity"]), str(row["unit"]), units)
        layer = str(row["layer"])
        rows.append(["" if layer == before else layer, str(row["item"]), quantity, unit, str(row["basis"])])
        before = layer
    return Table(
        head=["", "item", "quantity", "", "basis"], rows=rows, align="<<><<", notes=[str(bill.attrs["caution"])]
    )


def _quantity(value: float, unit: str, system: str) -> tuple[str, str]:
    """Return a quantity and its unit as shown; what is counted in pieces has no twin in the other system."""
    if unit not in _KINDS:
        return shown(value, "1", "whole", system).text, unit
    one = shown(value, unit, _KINDS[unit], system)
    assert one.unit in (SCALES[_KINDS[unit]].si, SCALES[_KINDS[unit]].us)
    return one.text, unit_words(one.unit)
