"""Is the rain of a grid in the unit it is said to be? Each cell is held against what its telling days bring."""

from __future__ import annotations

import warnings
from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np
import xarray as xr

from runoff.errors import RunoffWarning, WeatherError
from runoff.weather.quality.plausibility import TRUSTED, Doubt, doubt_of_unit

_USUAL_TELLING_MM = (1.5, 60.0)  # within, a cell is not looked at more closely
_LEAST_AMOUNTS = 15  # telling days, and different amounts among them
_TELLING = 0.04  # of the largest day, as in `plausibility`
_MOST_STEPS = 1096  # three years of days show a unit
_MANY = 0.1  # share of doubtful cells from which the unit, and not the place, is the reason


def _doubtful_cells(rain: np.ndarray, time: Any, latitude: np.ndarray) -> list[tuple[int, Doubt]]:
    """Return the cells whose daily rain is hardly mm, and why; of a long record the first three years are looked at."""
    values = rain[:_MOST_STEPS]
    top = np.fmax.reduce(values, axis=0)
    telling = values > _TELLING * np.where(top > 0.0, top, np.inf)
    count = telling.sum(axis=0)
    mean = np.where(telling, values, 0.0).sum(axis=0, dtype=float) / np.maximum(count, 1)
    odd = (count >= _LEAST_AMOUNTS) & ((mean < _USUAL_TELLING_MM[0]) | (mean > _USUAL_TELLING_MM[1]))
    found = []
    for cell in np.flatnonzero(odd):
        series = values[:, cell].astype(float)
        if np.unique(series[series > 0]).size < _LEAST_AMOUNTS:
            continue  # somebody's experiment
        lat = float(latitude[cell])
        labelled = xr.DataArray(series, {"time": np.asarray(time)[: series.size]}, ["time"], attrs={"units": "mm"})
        doubt = doubt_of_unit(labelled, None if np.isnan(lat) else lat)
        if doubt.verdict == "stop":
            found.append((int(cell), doubt))
        if len(found) > max(1.0, _MANY * rain.shape[1]):  # one alone is told in other words
            break
    return found


class OddCells(NamedTuple):
    """How many cells are hardly in mm, and of the first of them the place, what was found and what to do; empty of none."""

    cells: int = 0
    first: str = ""

    def tell(self, where: str, of: int) -> None:
        """Warn of them, if there are any, as so many of `of` cells; `where` is the call."""
        if self.cells:
            looks = "looks" if self.cells == 1 else "look"
            warnings.warn(
                f"{where}: rain: {self.cells} of {of} cells {looks} odd, first {self.first}",
                RunoffWarning,
                stacklevel=3,
            )


def refuse_doubtful_unit(
    rain: np.ndarray,
    time: Any,
    latitude: np.ndarray,
    named: Callable[[int], str],
    where: str = "stream",
    of_cells: int | None = None,
) -> OddCells:
    """Stop where a tenth of the cells or more are hardly in mm, return what is found where single ones are.

    Parameters
    ----------
    rain
        mm a day, shape ``(time, cell)``; of a long record the first three years are looked at.
    time
        The stamps, shape ``(time,)``.
    latitude
        Of each cell, degrees, shape ``(cell,)``; NaN where not known.
    named
        Names the place of a cell.
    where
        The call, for messages.
    of_cells
        Cells of the whole grid, where these are a part of it (a chunk): a single one among several is then no reason to stop, as
        it would be none in the whole grid.

    Returns
    -------
    OddCells
        Those to be warned of.

    Raises
    ------
    WeatherError
        When a tenth of the cells or more look odd, naming the first and what was found in it.
    """
    found = _doubtful_cells(rain, time, latitude)
    if not found:
        return OddCells()
    cell, doubt = found[0]
    many = len(found) > _MANY * rain.shape[1] and (len(found) > 1 or of_cells in (None, rain.shape[1]))
    if many or len(found) == rain.shape[1]:
        of_dataset = f'weather.attrs["{TRUSTED}"] = "yes"'
        say = f"trust_unit=True, or {of_dataset} of a Dataset" if where == "stream" else of_dataset
        others = ", and others" if len(found) > 1 else ""
        raise WeatherError(
            f"{where}: rain: {named(cell)}{others}: {doubt.found}; {doubt.advice}. If the amounts are right, say {say}"
        )
    return OddCells(len(found), f"{named(cell)}: {doubt.found}; {doubt.advice}")
