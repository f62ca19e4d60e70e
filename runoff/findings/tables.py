"""Figures as tables a person reads: words, numbers, units, in SI or US customary units."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import xarray as xr

from runoff.errors import RunoffError
from runoff.findings.summary import FACTS
from runoff.roof.property_names import property_words, value_words
from runoff.units import convert

if TYPE_CHECKING:
    import pandas as pd

# unit of a figure -> (unit shown, unit of `runoff.units` to convert to, decimals), per system
_SHOWN: dict[str, dict[str, tuple[str, str | None, int]]] = {
    "si": {
        "mm": ("mm", None, 0),
        "mm/day": ("mm/day", None, 1),
        "mm day/year": ("mm day/year", None, 0),
        "m3": ("m3", None, 1),
        "L/s": ("L/s", None, 3),
        "day": ("days", None, 0),
        "day/year": ("days/year", None, 1),
    },
    "us": {
        "mm": ("in", "in", 1),
        "mm/day": ("in/day", "in/day", 2),
        "mm day/year": ("in day/year", "in", 1),
        "m3": ("gal", "gal", 0),
        "L/s": ("gpm", "gpm", 2),
        "day": ("days", None, 0),
        "day/year": ("days/year", None, 1),
    },
}
_PERCENT = {"retention", "events_held"}


def shown(name: str, value: float, units: str, system: str = "si") -> tuple[float, str, int]:
    """Return value, unit and decimals of one figure as shown to a person.

    Parameters
    ----------
    name
        Name of the figure; shares of rain and events are shown in percent.
    value, units
        Number and its unit in the result.
    system
        ``"si"`` or ``"us"``.
    """
    if system not in _SHOWN:
        raise RunoffError(f'units must be "si" or "us" (given "{system}")')
    if name.removeprefix("bare_") in _PERCENT:
        return 100.0 * value, "%", 1
    if units not in _SHOWN[system]:
        return value, "" if units == "1" else units, 1
    unit, target, decimals = _SHOWN[system][units]
    source = "mm" if units == "mm day/year" else units
    return (convert(value, source, target) if target else value), unit, decimals


def facts_table(facts: xr.Dataset, *, units: str = "si") -> pd.DataFrame:
    """Return the headline figures of one design as a table.

    Parameters
    ----------
    facts
        What `runoff.summarize` returned, for one design and site.
    units
        ``"si"`` or ``"us"``.

    Returns
    -------
    pandas.DataFrame
        Columns ``figure`` (words), ``planted``, ``comparison`` (numbers, the second missing where it makes no
        sense), ``unit``.
    """
    import pandas as pd

    if facts["retention"].ndim:
        raise RunoffError(
            f"facts_table: the figures have dimensions {', '.join(map(str, facts['retention'].dims))}; "
            "select one design and site first, for example facts.isel(design=0)"
        )
    rows = []
    for name, (unit, words) in FACTS.items():
        value, shown_unit, decimals = shown(name, float(facts[name]), unit, units)
        bare = float("nan")
        if f"bare_{name}" in facts:
            bare = round(shown(name, float(facts[f"bare_{name}"]), unit, units)[0], decimals)
        rows.append((words, round(value, decimals), bare, shown_unit))
    return pd.DataFrame(rows, columns=["figure", "planted", "comparison", "unit"])


def facts_text(facts: xr.Dataset, *, units: str = "si", comparison: str = "bare roof") -> str:
    """Return the table of `facts_table` as aligned lines of text."""
    table = facts_table(facts, units=units)
    decimals = [0 if name in ("years",) else shown(name, 0.0, unit, units)[2] for name, (unit, _) in FACTS.items()]
    lines = [("", "planted roof", comparison, "")]
    for (words, planted, other, unit), places in zip(table.to_numpy().tolist(), decimals, strict=True):
        bare = "" if math.isnan(other) else f"{other:,.{places}f}"
        lines.append((words, f"{planted:,.{places}f}", bare, unit))
    widths = [max(len(line[i]) for line in lines) for i in range(4)]
    return "\n".join(
        f"{line[0]:<{widths[0]}}  {line[1]:>{widths[1]}}  {line[2]:>{widths[2]}}  {line[3]}".rstrip() for line in lines
    )


def sweep_text(table: xr.Dataset, *, units: str = "si") -> str:
    """Return the figures that decide between designs, one line per design.

    Parameters
    ----------
    table
        What `runoff.sweep` returned.
    units
        ``"si"`` or ``"us"``.
    """
    swept = [str(name) for name in table.coords if name != "design" and table[name].dims == ("design",)]
    columns = {
        "retention": "retention",
        "annual_capture_mm": "kept a year",
        "peak_overflow": "wettest day",
        "waterlogged_days": "waterlogged",
        "rot_risk_days": "rot risk",
        "dry_days": "dry",
        "longest_dry_spell": "longest dry",
    }
    head = [property_words(name).heading for name in swept]
    for name, words in columns.items():
        head.append(f"{words}, {shown(name, 0.0, FACTS[name][0], units)[1]}")
    lines = [head]
    for i in range(table.sizes["design"]):
        one = table.isel(design=i)
        line = [value_words(one[name].item()) for name in swept]
        for name in columns:
            value, _, decimals = shown(name, float(one[name]), FACTS[name][0], units)
            line.append(f"{value:,.{decimals}f}")
        lines.append(line)
    widths = [max(len(line[i]) for line in lines) for i in range(len(head))]
    return "\n".join("  ".join(f"{cell:>{width}}" for cell, width in zip(line, widths, strict=True)) for line in lines)
