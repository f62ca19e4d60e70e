"""Outlets tried on a roof as text a person reads: the candidates, the hand check, the emergency overflow alone."""

from __future__ import annotations

import numpy as np
import xarray as xr

from runoff.sizing.outlet_words import shown_text
from runoff.sizing.outlets import OUTLET_FIGURES

# figure -> head of its column; the unit follows
_HEADS = {
    "capacity": "takes",
    "pipe_capacity": "pipes",
    "peak_discharge": "peak",
    "depth": "open",
    "depth_some_lost": "lost",
    "depth_share_blocked": "share shut",
    "rational_head": "by hand",
}


def outlets_text(table: xr.Dataset, *, units: str = "si", every: bool = False) -> str:
    """Return the candidates as aligned lines, with a line that says what the columns are.

    Parameters
    ----------
    table
        What `runoff.sizing.outlets.size_outlets` returned.
    units
        ``"si"`` or ``"us"``.
    every
        All candidates; by default, per size, those up to the first that meets the allowable depth with the loss.
    """
    share = f"{100.0 * table.attrs['blocked_share']:.0f} % shut"
    heads = _HEADS | {"depth_share_blocked": share}
    units_of = {name: shown_text(0.0, OUTLET_FIGURES[name][0], units).split(" ")[1] for name in heads}
    lines = [["outlets", *(f"{head} {units_of[name]}" for name, head in heads.items()), ""]]
    done: set[str] = set()
    for i in range(table.sizes["candidate"]):
        one = table.isel(candidate=i)
        name = f"{one['kind'].item()} {one['size'].item()}"
        if name in done and not every:
            continue
        cells = [shown_text(float(one[name]), OUTLET_FIGURES[name][0], units).split(" ")[0] for name in heads]
        fits = bool(one["meets_with_loss"])
        words = "holds" if fits else "open only" if bool(one["meets"]) else "no"
        lines.append([f"{int(one['number'])} x {name}", *cells, "<- chosen" if i == int(table["chosen"]) else words])
        if fits:
            done.add(name)
    widths = [max(len(line[k]) for line in lines) for k in range(len(lines[0]))]
    rows = "\n".join(
        f"{line[0]:<{widths[0]}}  "
        + "  ".join(f"{cell:>{width}}" for cell, width in zip(line[1:-1], widths[1:-1], strict=True))
        + f"  {line[-1]}".rstrip()
        for line in lines
    )
    return f"{rows}\n{_LEGEND}"


_LEGEND = (
    "takes: flow at the allowable depth; pipes: as many vertical pipes of that diameter; peak:\n"
    "largest flow. Depths at the outlets: all open, some lost, a share of the drainage shut, by hand\n"
    "(C = 1, no planting). holds: even with some lost; no: too deep, or over the overflow or edge"
)


def emergency_text(table: xr.Dataset, *, units: str = "si") -> str:
    """Return the hand check and the emergency overflow alone as lines."""

    def say(name: str) -> str:
        return shown_text(float(table[name]), str(table[name].attrs["units"]), units)

    lines = [
        f"Heaviest rain of one step   {say('rain_intensity')}",
        f"Rational method, C = 1      {say('rational_flow')}   (no credit for the planting)",
        f"Rational method, DIN Cs     {say('planted_rational_flow')}   (DIN 1986-100 coefficient of the build-up)",
        f"All primary outlets blocked {say('overflow_flow')} must leave over the emergency overflow alone",
        f"  in the run                {say('overflow_spilled')}: the roof fills first, no credit is taken for it",
    ]
    if np.isfinite(float(table["overflow_sill"])):
        lines += [
            f"  water over the deck       {say('overflow_depth')}: {say('overflow_sill')} to the sill, "
            f"{say('overflow_head')} of head",
            f"  rain load                 {say('rain_load')}, R = 0.0098 (ds + dh) kN/m2, water alone",
        ]
    return "\n".join(lines)
