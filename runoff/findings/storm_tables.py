"""A storm's figures as a table a person reads: one column per roof, SI or US customary units."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import xarray as xr

from runoff.errors import RunoffError
from runoff.findings.storm_comparison import STORM_FIGURES
from runoff.units import convert

if TYPE_CHECKING:
    import pandas as pd

# unit of a figure -> (unit shown, decimals) in SI and in US customary units
_SHOWN = {
    "si": {"L/s": ("L/s", 2), "mm/h": ("mm/h", 1), "mm": ("mm", 1), "m3": ("m3", 2), "min": ("min", 0), "h": ("h", 1)},
    "us": {"L/s": ("gpm", 1), "mm/h": ("in/h", 2), "mm": ("in", 2), "m3": ("gal", 0), "min": ("min", 0), "h": ("h", 1)},
}
_PERCENT = ("runoff_coefficient", "peak_coefficient", "peak_cut")


def storm_value(name: str, value: float, *, units: str = "si") -> tuple[float, str, int]:
    """Return value, unit and decimals of one figure of `STORM_FIGURES` as shown to a person."""
    if units not in _SHOWN:
        raise RunoffError(f'units must be "si" or "us" (given "{units}")')
    unit = STORM_FIGURES[name][0]
    if name in _PERCENT:
        return 100.0 * value, "%", 0
    if unit not in _SHOWN[units]:
        return value, "", 1
    shown, decimals = _SHOWN[units][unit]
    return (value if shown == unit else convert(value, unit, shown)), shown, decimals


def storm_table(comparison: xr.Dataset, *, units: str = "si") -> pd.DataFrame:
    """Return the figures of a storm as a table.

    Parameters
    ----------
    comparison
        What `runoff.findings.storm_comparison.compare_storm` returned.
    units
        ``"si"`` or ``"us"``.

    Returns
    -------
    pandas.DataFrame
        Columns ``figure`` (words), one per surface (numbers; missing where a figure makes no sense), ``unit``.
    """
    import pandas as pd

    surfaces = [str(name) for name in comparison["surface"].to_numpy()]
    rows = []
    for name, (_, words) in STORM_FIGURES.items():
        shown = [storm_value(name, float(value), units=units) for value in comparison[name]]
        rows.append([words, *(round(value, decimals) + 0.0 for value, _, decimals in shown), shown[0][1]])
    return pd.DataFrame(rows, columns=["figure", *surfaces, "unit"])


def storm_text(comparison: xr.Dataset, *, units: str = "si") -> str:
    """Return the table of `storm_table` as aligned lines of text; a dash where a figure makes no sense."""
    surfaces = [str(name) for name in comparison["surface"].to_numpy()]
    lines = [["", *surfaces, ""]]
    for name, (_, words) in STORM_FIGURES.items():
        cells, unit = [], ""
        for value in comparison[name].to_numpy():
            shown, unit, decimals = storm_value(name, float(value), units=units)
            cells.append(f"{round(shown, decimals) + 0.0:,.{decimals}f}" if np.isfinite(shown) else "-")
        lines.append([words, *cells, unit])
    widths = [max(len(line[i]) for line in lines) for i in range(len(lines[0]))]
    return "\n".join(
        f"{line[0]:<{widths[0]}}  "
        + "  ".join(f"{cell:>{width}}" for cell, width in zip(line[1:-1], widths[1:-1], strict=True))
        + f"  {line[-1]}".rstrip()
        for line in lines
    )
