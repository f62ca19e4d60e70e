"""Outlets tried on a roof as text a person reads: the candidates, the hand check, the emergency overflow alone."""

from __future__ import annotations

import numpy as np
import xarray as xr

from runoff.sizing.outlet_words import shown_text
from runoff.sizing.outlets import OUTLET_FIGURES

_HEADS = {
    "capacity": "takes at the allowable depth",
    "pipe_capacity": "pipes below take",
    "peak_discharge": "peak of the storm",
    "depth": "depth, all open",
    "depth_some_lost": "some lost",
    "depth_share_blocked": "share blocked",
    "rational_head": "by hand, C = 1",
}


def outlets_text(table: xr.Dataset, *, units: str = "si", every: bool = False) -> str:
    """Return the candidates as aligned lines.

    Parameters
    ----------
    table
        What `runoff.sizing.outlets.size_outlets` returned.
    units
        ``"si"`` or ``"us"``.
    every
        All candidates; by default, per size, those up to the first that meets the allowable depth with the loss.
    """
    lines = [["outlets", *_HEADS.values(), ""]]
    done: set[str] = set()
    for i in range(table.sizes["candidate"]):
        one = table.isel(candidate=i)
        name = f"{one['kind'].item()} {one['size'].item()}"
        if name in done and not every:
            continue
        cells = [shown_text(float(one[figure]), OUTLET_FIGURES[figure][0], units) for figure in _HEADS]
        fits = bool(one["meets_with_loss"])
        words = "holds with the loss" if fits else "holds all open" if bool(one["meets"]) else "too deep, or spills"
        lines.append([f"{int(one['number'])} x {name}", *cells, f"<- {words}" if i == int(table["chosen"]) else words])
        if fits:
            done.add(name)
    widths = [max(len(line[k]) for line in lines) for k in range(len(lines[0]))]
    return "\n".join(
        f"{line[0]:<{widths[0]}}  "
        + "  ".join(f"{cell:>{width}}" for cell, width in zip(line[1:-1], widths[1:-1], strict=True))
        + f"  {line[-1]}".rstrip()
        for line in lines
    )


def emergency_text(table: xr.Dataset, *, units: str = "si") -> str:
    """Return the hand check and the emergency overflow alone as lines."""

    def say(name: str) -> str:
        return shown_text(float(table[name]), str(table[name].attrs["units"]), units)

    lines = [
        f"Heaviest rain of one step   {say('rain_intensity')}",
        f"Rational method, C = 1      {say('rational_flow')}   (no credit for the planting)",
        f"Rational method, DIN Cs     {say('planted_rational_flow')}   (DIN 1986-100 coefficient of the build-up)",
        f"All primary outlets blocked {say('overflow_flow')} must leave over the emergency overflow alone "
        f"({say('overflow_spilled')} in the run, as the roof fills first)",
    ]
    if np.isfinite(float(table["overflow_sill"])):
        lines += [
            f"  water over the deck       {say('overflow_depth')}: {say('overflow_sill')} to the sill, "
            f"{say('overflow_head')} of head",
            f"  rain load                 {say('rain_load')}, R = 0.0098 (ds + dh) kN/m2, water alone",
        ]
    return "\n".join(lines)
