"""Rot likes wet and warm: days without air told by how warm they were."""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from runoff.findings.yearly import years_of_record
from runoff.saying.scales import SCALES, typeset
from runoff.units import convert

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr

#: Bounds between classes of a day's mean temperature, degC.
BOUNDS_C = (5.0, 10.0, 15.0, 20.0)


def wet_days_by_warmth(runs: Mapping[str, xr.Dataset], *, units: str = "si") -> pd.DataFrame:
    """Return the waterlogged days a year by the mean temperature of the day.

    Parameters
    ----------
    runs
        Daily runs by what a row says.
    units
        ``"si"`` or ``"us"``.

    Returns
    -------
    pandas.DataFrame
        A row per run, a column per class of temperature; the classes add up to the waterlogged days a year. Where the record has no
        temperature there is one class, and it says so.
    """
    import pandas as pd

    rows = {}
    for words, run in runs.items():
        wet = np.asarray(run["waterlogged"], dtype=bool)
        years = years_of_record(run["time"])
        if "tmean" in run:
            kind = np.digitize(np.asarray(run["tmean"], dtype=float), BOUNDS_C)
            counts = np.bincount(kind[wet], minlength=len(BOUNDS_C) + 1)
            rows[words] = dict(zip(class_words(units), (counts / years).round(1).tolist(), strict=True))
        else:
            rows[words] = {"temperature not known": round(float(wet.sum() / years), 1)}
    return pd.DataFrame(rows).T


def class_words(units: str = "si") -> list[str]:
    """Return how the classes of temperature are headed."""
    shown = SCALES["temperature"].unit(units)
    degrees = [f"{float(convert(bound, 'degC', shown)):.0f}" for bound in BOUNDS_C]
    unit = typeset(shown)
    between = [f"{low} to {high} {unit}" for low, high in itertools.pairwise(degrees)]
    return [f"below {degrees[0]} {unit}", *between, f"{degrees[-1]} {unit} and more"]
