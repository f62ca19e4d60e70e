"""What a file is refused for at the door: amounts and temperatures that cannot be in the unit they are said to be in.

What `check_weather` would call ``stop`` for such a reason must not reach a run by way of `read_weather`.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import xarray as xr

from runoff.errors import DoubtedWeatherError
from runoff.time_steps import time_step
from runoff.weather.quality.day_by_day import Days
from runoff.weather.quality.plausibility import (
    TRUSTED,
    Doubt,
    doubt_of_counter,
    doubt_of_jumps,
    doubt_of_repeats,
    doubt_of_unit,
    doubt_of_warmth,
)
from runoff.weather.quality.report_line import latitude_of
from runoff.weather.quality.seasons import doubt_of_hemisphere

_MOST_CELLS = 200  # of a larger grid, so many cells spread over it are judged
_WAY_OUT = ". If the amounts are right, say trust_unit=True (--trust-unit)"


_LEAST_DAYS = 300  # of fewer the whole file tells more about the unit


def refuse_doubtful(data: xr.Dataset, whole: xr.Dataset, trusted: bool) -> xr.Dataset:
    """Refuse a record whose amounts or temperatures cannot be right.

    Parameters
    ----------
    data
        What will be used, in memory.
    whole
        The file it was taken from: it tells the unit of a short part.
    trusted
        The user has confirmed the unit.

    Returns
    -------
    xarray.Dataset
        The data, marked where the user has confirmed the unit.

    Raises
    ------
    WeatherError
        Naming what was found and the way out.
    """
    refuse_breaks(data, trusted)
    days = data.sizes["time"] * time_step(data["time"]).hours / 24.0
    refuse_wrong_unit(data if days >= _LEAST_DAYS else whole, trusted)
    return data.assign_attrs({TRUSTED: "yes"}) if trusted else data


def refuse_wrong_unit(data: xr.Dataset, trusted: bool) -> None:
    """Refuse rain that looks like another unit.

    Parameters
    ----------
    data
        ``rain`` in memory, on ``time`` and any other dimensions. Of sites each one is judged, for each comes from a file
        of its own; of a grid the wettest cell and the half of all cells, since cells over deserts and cold seas are odd.
    trusted
        The user has confirmed the unit.

    Raises
    ------
    WeatherError
        Naming the cell, what was found and the way out.
    """
    cells = [str(dim) for dim in data["rain"].dims if dim != "time"]
    if not cells:
        _raise(doubt_of_unit(data["rain"], latitude_of(data["rain"]), trusted=trusted), "")
    else:
        judged = [
            (place, doubt_of_unit(rain, latitude_of(rain), trusted=trusted), rain)
            for place, rain in _cells_of(data["rain"], cells)
        ]
        bad = [(place, doubt) for place, doubt, _ in judged if doubt.verdict == "stop"]
        if not judged:
            _raise(Doubt("stop", "there is no rain value at all", "check the variable and its code for missing"), "")
        wettest = max(judged, key=lambda one: float(one[2].mean()))
        grid = {"lat", "lon"} & set(cells)
        if bad and (not grid or 2 * len(bad) >= len(judged) or wettest[1].verdict == "stop"):
            place, doubt = bad[0]
            _raise(doubt, f" ({place}{f'; {len(bad)} of {len(judged)} cells' if len(judged) > 1 else ''})")


def refuse_breaks(data: xr.Dataset, trusted: bool) -> None:
    """Refuse a record of which a part is in another unit, whose largest amount is a code, or whose seasons are turned round.

    Raises
    ------
    WeatherError
        Naming the part, what was found and the way out.
    """
    if data["rain"].ndim > 1 or not bool(data["rain"].notnull().any()):
        return
    days = Days.of(data)
    _raise(doubt_of_jumps(days, trusted=trusted), "")
    _raise(doubt_of_repeats(data["rain"].to_numpy(), trusted=trusted), "")
    _raise(doubt_of_counter(data["rain"].to_numpy(), trusted=trusted), "")
    warmth, turned = doubt_of_warmth(days, trusted=trusted), doubt_of_hemisphere(days, latitude_of(data["rain"]))
    for doubt in (warmth, turned):
        if doubt is not None and doubt.verdict == "stop":
            way_out = _WAY_OUT.replace("amounts", "temperatures") if doubt is warmth else ""
            raise DoubtedWeatherError(f"temperature: {doubt.found}; {doubt.advice}{way_out}")


def _raise(doubt: Doubt, where: str) -> None:
    if doubt.verdict == "stop":
        way_out = "" if "no rain value" in doubt.found else _WAY_OUT
        raise DoubtedWeatherError(f"rain{where}: {doubt.found}; {doubt.advice}{way_out}")


def _cells_of(rain: xr.DataArray, dims: list[str]) -> Iterator[tuple[str, xr.DataArray]]:
    """Give cells that hold rain at all, the wettest and others spread over the grid, with their place in words."""
    flat = rain.stack(cell=dims, create_index=False)
    wettest = int(flat.mean("time").fillna(-1.0).argmax("cell"))
    size = flat.sizes["cell"]
    chosen = np.unique([wettest, *np.linspace(0, size - 1, min(size, _MOST_CELLS)).astype(int)])
    for number in chosen:
        one = flat.isel(cell=int(number))
        if bool(one.notnull().any()):
            yield place_words(one, dims), one


def place_words(cell: xr.DataArray | xr.Dataset, dims: list[str]) -> str:
    """Return where a cell lies, in words."""
    words = []
    for dim in dims:
        value = cell[dim].item() if dim in cell.coords and cell[dim].ndim == 0 else "without a name"
        words.append(f"{dim} {value:g}" if isinstance(value, float) else f"{dim} {value}")
    return ", ".join(words)
