"""Runs of weather on disk: what they were made of, so that figures can be formed of it without a series being kept."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import xarray as xr

from runoff.simulation.roof_side import Columns
from runoff.simulation.rules import RunRules

_ORIGIN = "runoff_origin"


class Origin(NamedTuple):
    """What a run was made of.

    Parameters
    ----------
    columns, rules
        Roofs and rules.
    moisture
        The start as given; None for field capacity.
    forcing
        The weather, on disk, with its checks.
    warm_up_years
        Years that are run once before.
    arrays
        The series of the run, by name.
    """

    columns: Columns
    rules: RunRules
    moisture: Any
    forcing: xr.Dataset
    warm_up_years: int
    arrays: dict[str, Any]


def remember_origin(
    run: xr.Dataset, columns: Columns, rules: RunRules, moisture: Any, forcing: xr.Dataset, hours: float, years: int
) -> None:
    """Note on the series of a run on disk what it was made of, where its sums need no series.

    Parameters
    ----------
    run
        What `runoff.simulate` is about to return.
    columns, rules, moisture, forcing, years
        As in `Origin`.
    hours
        Length of the step, h.
    """
    from runoff.simulation.grid_runs import figures_need_a_trace  # loads the loops of grids

    if forcing["rain"].ndim < 2 or figures_need_a_trace(columns, rules, hours):
        return
    series = (*forcing.data_vars, "overflow")
    if any(run.variables[name].chunks is None for name in series if name in run) or forcing["rain"].chunks is None:
        return
    arrays = {str(name): one.data for name, one in run.variables.items() if one.chunks is not None}
    setattr(arrays["overflow"], _ORIGIN, Origin(columns, rules, moisture, forcing, years, arrays))


def origin_of(run: xr.Dataset) -> Origin | None:
    """Return what a run was made of, where it is on disk and still all that `runoff.simulate` returned; else None."""
    overflow = run.variables["overflow"].data if "overflow" in run else None
    found: Origin | None = getattr(overflow, "__dict__", {}).get(_ORIGIN)
    if found is None or any(
        name not in run or run.variables[name].data is not one for name, one in found.arrays.items()
    ):
        return None
    return found if np.array_equal(run["time"].to_numpy(), found.forcing["time"].to_numpy()) else None
