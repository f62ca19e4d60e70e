"""Numbers of outlets and emergency overflow in words, SI or US customary units."""

from __future__ import annotations

import numpy as np
import xarray as xr

from runoff.errors import RunoffError
from runoff.units import convert

# unit of a figure -> (unit shown, decimals)
_SHOWN = {
    "si": {"L/s": ("L/s", 2), "mm": ("mm", 0), "mm/h": ("mm/h", 0), "kN/m2": ("kN/m2", 2)},
    "us": {"L/s": ("gpm", 0), "mm": ("in", 2), "mm/h": ("in/h", 2), "kN/m2": ("lb/ft2", 1)},
}


def shown_text(value: float, unit: str, units: str = "si") -> str:
    """Return a number with its unit in the unit system asked for; a dash where it is missing."""
    if units not in _SHOWN:
        raise RunoffError(f'units must be "si" or "us" (given "{units}")')
    target, decimals = _SHOWN[units][unit]
    if not np.isfinite(value):
        return "-"
    return f"{value if target == unit else convert(value, unit, target):,.{decimals}f} {target}"


def verdict(table: xr.Dataset, *, units: str = "si") -> str:
    """Say which outlets were chosen, or why none, and what the emergency overflow alone means.

    Parameters
    ----------
    table
        What `runoff.sizing.outlets.size_outlets` returned.
    units
        ``"si"`` or ``"us"``.
    """
    chosen, lost = int(table["chosen"]), int(table.attrs["lost"])
    limit = shown_text(float(table.attrs["allowable_depth_mm"]), "mm", units)
    loss = "" if lost == 0 else f" even with {lost} of them lost"
    if chosen >= 0:
        first = _choice(table.isel(candidate=chosen), limit, loss, lost, units)
    else:
        first = f"No candidate keeps the water below {limit}{loss}: {_why_none(table, units)}."
    sill, head, depth = (float(table[name]) for name in ("overflow_sill", "overflow_head", "overflow_depth"))
    if not np.isfinite(sill):
        return f"{first} The roof has no emergency overflow."
    return (
        f"{first} With every primary outlet blocked, water stands {shown_text(depth, 'mm', units)} over the deck: "
        f"{shown_text(sill, 'mm', units)} to the sill of the emergency overflow and {shown_text(head, 'mm', units)} of "
        "head over it."
    )


def _choice(one: xr.Dataset, limit: str, loss: str, lost: int, units: str) -> str:
    number = int(one["number"])
    words = f"{number} {one['kind'].item()} outlet{'s' if number > 1 else ''} of {one['size'].item()}"
    opened, then = (shown_text(float(one[name]), "mm", units) for name in ("depth", "depth_some_lost"))
    depths = f"{opened} open, {then} then" if lost else opened
    return f"{words} {'keep' if number > 1 else 'keeps'} the water at the outlets below {limit}{loss} ({depths})."


def _why_none(table: xr.Dataset, units: str) -> str:
    if bool(table["spills"].all()):
        return (
            "water runs over the overflow or the edge with every one of them, so the drainage layer, not the outlets, "
            "holds the water back; shorten the way to the outlets or choose a board with more in-plane flow"
        )
    if bool(table["meets"].any()):
        return "some do with all outlets open; add outlets, or accept fewer lost"
    lowest = shown_text(float(table["depth"].min()), "mm", units)
    return f"the lowest depth reached is {lowest}; try larger outlets or more of them"
