"""A storm's figures as a table a person reads: one column per roof, SI or US customary units."""

from __future__ import annotations

from typing import TYPE_CHECKING

import xarray as xr

from runoff.findings.storm_comparison import STORM_FIGURES
from runoff.saying.numbers import rounded
from runoff.saying.scales import Shown, unit_words
from runoff.saying.scales import shown as in_scale
from runoff.saying.tables import Table

if TYPE_CHECKING:
    import pandas as pd

# what the units of a storm's figures stand for, where it is not what they measure
_KINDS = {"m3": "storm volume"}
_KINDS_BY_NAME = {"runoff_coefficient": "coefficient", "peak_coefficient": "coefficient", "peak_cut": "share"}


def storm_value(name: str, value: float, *, units: str = "si") -> Shown:
    """Return one figure of `STORM_FIGURES` as shown to a person.

    Parameters
    ----------
    name
        A key of `STORM_FIGURES`.
    value
        In the unit of that table; NaN where the figure makes no sense.
    units
        ``"si"`` or ``"us"``.

    Returns
    -------
    Shown
        Value in the unit shown, with its decimals.
    """
    unit = STORM_FIGURES[name][0]
    return in_scale(value, unit, _KINDS_BY_NAME.get(name) or _KINDS.get(unit, ""), units)


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
        cells = [storm_value(name, float(value), units=units) for value in comparison[name]]
        rows.append([words, *(rounded(one.value, one.digits) for one in cells), unit_words(cells[0].unit)])
    return pd.DataFrame(rows, columns=["figure", *surfaces, "unit"])


def storm_shown(comparison: xr.Dataset, *, units: str = "si") -> Table:
    """Return the figures of a storm as a table to print or to show; a dash where a figure makes no sense."""
    surfaces = [str(name) for name in comparison["surface"].to_numpy()]
    rows = []
    for name, (_, words) in STORM_FIGURES.items():
        cells = [storm_value(name, float(value), units=units) for value in comparison[name]]
        rows.append([words, *(one.text for one in cells), unit_words(cells[0].unit)])
    return Table(head=["", *surfaces, ""], rows=rows, align="<" + ">" * len(surfaces) + "<")


def storm_text(comparison: xr.Dataset, *, units: str = "si") -> str:
    """Return the table of `storm_shown` as aligned lines of text."""
    return storm_shown(comparison, units=units).text()
