"""Outlets tried on a roof as text a person reads: the candidates, the hand check, the emergency overflow alone."""

from __future__ import annotations

import textwrap
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from runoff.saying.numbers import rounded
from runoff.saying.tables import Table
from runoff.sizing.described_outlets import STATE_FIGURES
from runoff.sizing.outlet_words import opening_words, outlet_value, shown_text
from runoff.sizing.outlets import OUTLET_FIGURES

if TYPE_CHECKING:
    import pandas as pd

_LINE = 112  # columns of the line below the candidates
# figure -> head of its column; the unit follows
_HEADS = {
    "capacity": "capacity",
    "pipe_capacity": "pipes",
    "peak_discharge": "peak",
    "depth": "all open",
    "depth_some_lost": "some lost",
    "depth_share_blocked": "share blocked",
    "rational_head": "rational",
    "rational_head_some_lost": "rational, lost",
}


def state_words(check: xr.Dataset) -> dict[str, str]:
    """Return the states in which the outlets of a roof are judged, as a row of a table names them; one where it has none."""
    if not check.sizes["outlet"]:
        return {"open": "no outlets"}
    left = f"{100 * float(check.attrs['edge_left']):.0f} % of the edge left"
    lost = left if check.attrs["edge_alone"] == "yes" else f"{check.attrs['lost']} lost"
    return {
        "open": "all open",
        **({"lost": lost} if int(check.attrs["lost"]) else {}),
        "share_blocked": f"{100 * float(check.attrs['blocked_share']):.0f} % blocked (with layer)",
        "blocked": f"all blocked, {left}" if check.attrs["has_edge"] == "yes" else "all blocked",
    }


def described_shown(check: xr.Dataset, *, units: str = "si") -> Table:
    """Return the states of the outlets a roof has as a table to print or to show.

    Parameters
    ----------
    check
        What `runoff.sizing.described_outlets.check_outlets` returned.
    units
        ``"si"`` or ``"us"``.
    """
    names = ("capacity", "head", "depth", "peak")
    heads = ("capacity at\nallowed depth", "depth, design\npeak", "depth, routed\nstorm", "peak, routed\nstorm")
    rows = []
    for state, said in state_words(check).items():
        one = check.sel(state=state)
        cells = [str(outlet_value(float(one[name]), STATE_FIGURES[name][0], units)) for name in names]
        judged = ("holds" if bool(one["meets"]) else "does not hold") if state in ("open", "lost") else ""
        rows.append([said, *cells, judged])
    first = "outlet as assumed" if check.attrs.get("outlets_assumed") == "yes" else "outlets as described"
    return Table(head=[first, *heads, ""], rows=rows, align="<>>>><")


def outlets_shown(table: xr.Dataset, *, units: str = "si", every: bool = False) -> Table:
    """Return the candidates as a table to print or to show.

    Parameters
    ----------
    table
        What `runoff.sizing.outlets.size_outlets` returned.
    units
        ``"si"`` or ``"us"``.
    every
        All candidates; by default, per size, those up to the first that meets the allowable depth with the loss.

    Returns
    -------
    Table
        A row for each candidate, the chosen one marked.
    """
    share = f"{100.0 * table.attrs['blocked_share']:.0f} % blocked"
    heads = _HEADS | {"depth_share_blocked": share}
    units_of = {name: outlet_value(0.0, OUTLET_FIGURES[name][0], units).unit for name in heads}
    lines = []
    done: set[str] = set()
    for i in range(table.sizes["candidate"]):
        one = table.isel(candidate=i)
        name = f"{one['kind'].item()} {opening_words(one, units)}"
        if name in done and not every and not bool(one["described"]):
            continue
        cells = [outlet_value(float(one[name]), OUTLET_FIGURES[name][0], units).text for name in heads]
        fits = bool(one["meets_with_loss"])
        words = "meets" if fits else "open only" if bool(one["meets"]) else "no"
        words = "<- chosen" if i == int(table["chosen"]) else words
        if bool(one["described"]):
            words += ", as assumed" if table.attrs.get("outlets_assumed") == "yes" else ", as described"
        lines.append([f"{int(one['number'])} x {name}", *cells, words])
        if fits:
            done.add(name)
    return Table(
        head=["outlets", *(f"{head}\n{units_of[name]}" for name, head in heads.items()), ""],
        rows=lines,
        align="<" + ">" * len(heads) + "<",
        notes=[LEGEND],
    )


def outlets_table(table: xr.Dataset, *, units: str = "si") -> pd.DataFrame:
    """Return every candidate as a table of numbers, for a spreadsheet; each figure with its unit in the head.

    Parameters
    ----------
    table
        What `runoff.sizing.outlets.size_outlets` returned.
    units
        ``"si"`` or ``"us"``.
    """
    import pandas as pd

    candidates = [table.isel(candidate=i) for i in range(table.sizes["candidate"])]
    columns: dict[str, list[Any]] = {
        "number": [int(one["number"]) for one in candidates],
        "kind": [str(one["kind"].item()) for one in candidates],
        "size": [opening_words(one, units) for one in candidates],
    }
    for name, (unit, words) in OUTLET_FIGURES.items():
        cells = [outlet_value(float(one[name]), unit, units) for one in candidates]
        columns[f"{words}, {cells[0].unit}"] = [rounded(cell.value, cell.digits) for cell in cells]
    columns["meets with outlets lost"] = ["yes" if bool(one["meets_with_loss"]) else "no" for one in candidates]
    return pd.DataFrame(columns)


def outlets_text(table: xr.Dataset, *, units: str = "si", every: bool = False) -> str:
    """Return the table of `outlets_shown` as aligned lines, with the line that says what the columns are.

    Parameters
    ----------
    table, units, every
        As in `outlets_shown`.

    Returns
    -------
    str
        Several lines.
    """
    return f"{outlets_shown(table, units=units, every=every).text()}\n{textwrap.fill(LEGEND, _LINE)}"


LEGEND = (
    "capacity: flow at the allowable depth; pipes: capacity of as many vertical pipes of that diameter; peak: peak "
    "discharge. Depths at the outlets: all open, some lost, a share of the drainage blocked, and by the rational "
    "method (C = 1, no planting). meets: even with some lost; no: too deep, or over the overflow or the edge"
)


def emergency_shown(table: xr.Dataset, *, units: str = "si") -> Table:
    """Return the hand check and the emergency overflow alone as a table to print or to show."""

    def say(name: str) -> str:
        return shown_text(float(table[name]), str(table[name].attrs["units"]), units)

    peak = "no credit for storage or planting: outlets, pipes and overflow must pass it"
    rows = [
        ["Heaviest rain of one step", say("rain_intensity"), ""],
        ["Design peak (rational, C = 1)", say("rational_flow"), peak],
        ["  beside it, DIN Cs", say("planted_rational_flow"), "DIN 1986-100 coefficient of the build-up"],
        ["  beside it, all blocked", say("overflow_spilled"), "largest flow in that run: the roof fills first"],
        ["All primary outlets blocked", say("overflow_depth"), _levels(table, say)],
        ["  rain load", say("rain_load"), f"{_RAIN_LOAD[units]}, water alone"],
    ]
    return Table(head=["", "", ""], rows=rows, align="<><")


def _levels(table: xr.Dataset, say: Callable[[str], str]) -> str:
    """Say what the depth with all outlets blocked is made of; ask for the opening where it is not described."""
    ponded = str(table.attrs["ponded"])
    if not np.isfinite(float(table["overflow_sill"])):
        return ponded
    if not np.isfinite(float(table["overflow_head"])):
        return "to the edge: give the opening of the emergency overflow (emergency_width_mm and emergency_height_mm)"
    if ponded.startswith("ponded to the edge"):
        return ponded
    return f"{say('overflow_sill')} to the sill, {say('overflow_head')} of head"


# the equation of `runoff.roof.loads.rain_load_kn_per_m2` as each system writes it
_RAIN_LOAD = {
    "si": "R = 0.0098 (ds + dh) kN/m2, depths in mm",
    "us": "R = 5.2 (ds + dh) lb/ft2, depths in inches",
}


def emergency_text(table: xr.Dataset, *, units: str = "si") -> str:
    """Return the table of `emergency_shown` as aligned lines of text."""
    return emergency_shown(table, units=units).text()
