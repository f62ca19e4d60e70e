"""Numbers of outlets and emergency overflow in words, SI or US customary units."""

from __future__ import annotations

import numpy as np
import xarray as xr

from runoff.saying.scales import Shown, shown

# what the units of an outlet's figures stand for, where it is not what they measure
_KINDS = {"mm": "level"}


def outlet_value(value: float, unit: str, units: str = "si") -> Shown:
    """Return a figure of outlets as shown to a person; depths of water on the deck are levels."""
    return shown(value, unit, _KINDS.get(unit, ""), units)


def shown_text(value: float, unit: str, units: str = "si") -> str:
    """Return a number with its unit in the unit system asked for; a dash where it is missing."""
    return str(outlet_value(value, unit, units))


def opening_words(one: xr.Dataset, units: str = "si") -> str:
    """Return the size of one candidate's opening: ``100 mm``, ``300 x 100 mm``."""
    sides = [float(one[name]) for name in ("diameter_mm", "width_mm", "height_mm")]
    shown_sides = [shown(side, "mm", "layer depth", units) for side in sides if np.isfinite(side)]
    return f"{' x '.join(one.text for one in shown_sides)} {shown_sides[0].unit}"


#: Depths that differ by less than this with every candidate do not depend on the outlets, mm.
_SAME_DEPTH_MM = 1.0


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
    words = f"{number} {one['kind'].item()} outlet{'s' if number > 1 else ''} of {opening_words(one, units)}"
    opened, then = (shown_text(float(one[name]), "mm", units) for name in ("depth", "depth_some_lost"))
    depths = f"{opened} open, {then} then" if lost else opened
    said = f"{words} {'keep' if number > 1 else 'keeps'} the water at the outlets below {limit}{loss} ({depths})."
    hand = "rational_head_some_lost" if lost else "rational_head"
    head = float(one[hand])
    if not np.isfinite(head):
        return said
    by_hand = f"by the rational method, C = 1, with no credit for storage or planting, the head is {shown_text(head, 'mm', units)}"
    if one.attrs.get("storage_credit") == "yes":
        return f"{said} This counts on storage; {by_hand}."
    return f"{said} Checked {by_hand}{' with that loss' if lost else ''}."


def _why_none(table: xr.Dataset, units: str) -> str:
    depths = table["depth"]
    if bool(table["spills"].all()) or float(depths.max() - depths.min()) < _SAME_DEPTH_MM:
        return (
            f"the water stands {shown_text(float(depths.min()), 'mm', units)} deep or more with every one of them, so the drainage "
            "layer, not the outlets, holds the water back; shorten the way to the outlets or choose a board with more in-plane flow"
        )
    if bool(table["meets"].any()):
        return "some do with all outlets open; add outlets, or accept fewer lost"
    lowest = shown_text(float(table["depth"].min()), "mm", units)
    return f"the lowest depth reached is {lowest}; try larger outlets or more of them"
