"""The run behind a figure: one roof, one site, brought to days where the figure shows days."""

from __future__ import annotations

from typing import Any

import xarray as xr

from runoff.errors import RunoffError

#: Stores on `time`, top to bottom, and their short words.
STORES: dict[str, str] = {
    "snow_water": "snow",
    "surface_water": "canopy and mulch",
    "pond_water": "ponded on top",
    "medium_water": "growing medium",
    "cup_water": "cups",
    "mat_water": "mat and fleece",
    "board_water": "free water below the medium",
}

#: What arrives on the planted area: its word, and its name in a run.
ARRIVING: dict[str, str] = {"rain": "rain", "run-on": "run_on", "watering": "irrigation"}


def one_run(run: Any, where: str, needed: tuple[str, ...] = ("rain", "overflow", "medium_water")) -> xr.Dataset:
    """Return `run` when it is the result of one roof at one site, or stop with what to do.

    Parameters
    ----------
    run
        What was given as a result of `runoff.simulate`.
    where
        The call, for messages.
    needed
        Variables it must have; the last is the one that must be known somewhere.

    Returns
    -------
    xarray.Dataset
        `run` itself.

    Raises
    ------
    RunoffError
        When `run` is no result, has several designs or sites, or is missing throughout.
    """
    missing = [name for name in needed if name not in getattr(run, "variables", ())]
    if not isinstance(run, xr.Dataset) or missing:
        lacks = f" (it lacks {', '.join(missing)})" if isinstance(run, xr.Dataset) else f" (given {type(run).__name__})"
        raise RunoffError(f"{where}: needs a Dataset that runoff.simulate returned{lacks}")
    several = [str(dim) for dim in run[needed[1]].dims if dim != "time"]
    if several:
        chosen = ", ".join(f"{dim}=0" for dim in several)
        raise RunoffError(
            f"{where}: the run has dimensions {', '.join(several)}; select one first, for example run.isel({chosen})"
        )
    if bool(run[needed[-1]].isnull().all()):
        raise RunoffError(f"{where}: the run is missing throughout, because its weather is; choose another cell")
    return run
