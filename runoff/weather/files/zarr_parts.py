"""Parts of a Zarr store that are not there: read as the fill value, which is weather where it is not marked as missing.

A part that holds nothing but the fill value need not be stored, and a store whose writing was cut short lacks parts too. Rain or
evapotranspiration of 0 may be either and is told of; a temperature of exactly 0 throughout a part is none.
"""

from __future__ import annotations

import warnings
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr

from runoff.errors import RunoffWarning, WeatherError, raise_faults, shown

#: Quantities that may well be 0 everywhere for a while.
_MAY_BE_NOTHING = {"rain", "snow", "reference_et", "solar_radiation", "sunshine_hours", "wind_speed"}


def refuse_absent_parts(folder: Path, opened: xr.Dataset, names: Mapping[str, str]) -> None:
    """Refuse a store of which parts are absent and would be read as weather.

    Parameters
    ----------
    folder
        The store.
    opened
        As it was opened by xarray, which tells what is read as missing.
    names
        Quantity -> variable.

    Raises
    ------
    WeatherError
        When a quantity that is not 0 throughout a part lacks parts.

    Warns
    -----
    RunoffWarning
        When only quantities lack parts that may well be 0 there.
    """
    import zarr

    group: Any = zarr.open_group(folder, mode="r")
    faults: list[str] = []
    told: list[str] = []
    for quantity, name in names.items():
        array = group.get(name)
        fill = getattr(array, "fill_value", None)
        if array is None or _is_missing(0 if fill is None else fill, opened[name]):
            continue
        absent = array.nchunks - array.nchunks_initialized
        if absent:
            read_as = f"{shown(name)}: {absent} of {array.nchunks} parts (chunks) are not in the store and would be read as {fill or 0:g}"
            (told if quantity in _MAY_BE_NOTHING else faults).append(read_as)
    advice = "the store may have been cut short while it was written. Write it again, with a _FillValue so that what is not there is missing"
    if faults:
        raise_faults("variables", [f"{fault}; {advice}" for fault in (*faults, *told)], WeatherError)
    for one in told:
        warnings.warn(
            f"{folder.name}: {one}, as if nothing fell or flowed; if that is not so, {advice}",
            RunoffWarning,
            stacklevel=2,
        )


def _is_missing(fill: Any, variable: xr.DataArray) -> bool:
    """Tell whether the fill value is read as missing."""
    marked = [variable.encoding.get("_FillValue"), variable.encoding.get("missing_value")]
    known = [float(one) for value in marked if value is not None for one in np.ravel(value)]
    return bool(np.isnan(float(fill)) or any(float(fill) == one for one in known))
