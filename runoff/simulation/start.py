"""From which stores a run starts: a moisture, the last state of another run, a month or a date of a climate."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr

from runoff.errors import RunoffError
from runoff.simulation import kernel
from runoff.simulation.roof_side import Columns, Fields
from runoff.simulation.weather_side import SIDE_STORES
from runoff.weather.record.forcing import date_text

#: All stores a run carries.
CARRIED = (*kernel.STORES, *SIDE_STORES)


def stores_at(columns: Columns, moisture: Any) -> Fields:
    """Return all stores at a start moisture, mm, by the names of `CARRIED`: everything above field capacity empty, no snow.

    Raises
    ------
    RunoffError
        When the moisture is no known word and no fraction from 0 to 1.
    """
    if isinstance(moisture, str):
        if moisture not in ("field-capacity", "dry"):
            raise RunoffError(
                f'simulate: start_moisture "{moisture}" is not known; give "field-capacity", "dry", a fraction 0-1 '
                '(0 = wilting point, 1 = field capacity), or with climate= "wettest-month" or a date'
            )
    elif not 0.0 <= float(moisture) <= 1.0:
        raise RunoffError(
            f"simulate: start_moisture must lie between 0 (wilting point) and 1 (field capacity), given {moisture}"
        )
    made = {name: columns.label(row) for name, row in kernel.start_values(columns, moisture).items()}
    return {**made, **dict.fromkeys(SIDE_STORES, np.zeros(()))}


def last_stores(run: xr.Dataset) -> xr.Dataset:
    """Return the stores at the end of a run, from which another can start."""
    missing = [name for name in (*kernel.ALWAYS, "snow_water") if name not in run]
    if missing:
        raise RunoffError(f"simulate: start_state lacks {', '.join(missing)}; give a Dataset that simulate returned")
    stores = run[[name for name in CARRIED if name in run]]
    if "time" in stores.dims:
        stores = stores.isel(time=-1)
    stores = stores.drop_vars("time", errors="ignore")
    return stores.assign(_empty(stores))


def start_asked_for(
    columns: Columns,
    moisture: Any,
    state: xr.Dataset | None,
    run_climate: Callable[[], xr.Dataset] | None,
) -> xr.Dataset | None:
    """Return the stores asked for, or None for the default start with its warm-up.

    Parameters
    ----------
    columns
        The roofs of the run.
    moisture, state
        As in `runoff.simulate`; at most one of them.
    run_climate
        Runs the same roofs over a daily climate, for a start by month or date; None without a climate.

    Returns
    -------
    xarray.Dataset or None
        Stores by the names of `CARRIED`, mm.

    Raises
    ------
    RunoffError
        For both a moisture and a state, a moisture that is no word, fraction or date of the climate, or a state that is no run.
    """
    if moisture is not None and state is not None:
        raise RunoffError("simulate: give start_moisture or start_state, not both")
    if state is not None:
        return last_stores(state)
    if moisture is None:
        return None
    if run_climate is None or moisture in ("field-capacity", "dry") or not isinstance(moisture, str):
        return xr.Dataset(stores_at(columns, moisture), coords=columns.coords)
    daily = run_climate()
    if moisture == "wettest-month":
        monthly = daily[[name for name in CARRIED if name in daily]].groupby("time.month").mean("time")
        wet = monthly["held_water"] + monthly["free_water"]
        wettest = wet.mean([name for name in wet.dims if name != "month"]).idxmax("month")
        # snow is left out: the storm is meant to fall on the medium, not on a pack of the month's mean depth
        return monthly.sel(month=wettest).drop_vars("month").assign({"snow_water": 0.0, **_empty(monthly)})
    try:
        return last_stores(daily.sel(time=moisture))
    except (KeyError, ValueError):
        first, last = (date_text(daily["time"].to_numpy()[i]) for i in (0, -1))
        raise RunoffError(
            f'simulate: start_moisture "{moisture}" is no date of the climate record ({first} to {last}); '
            'give such a date, "wettest-month", "field-capacity", "dry" or a fraction'
        ) from None


def refuse_other_places(columns: Columns, forcing: xr.Dataset, stores: xr.Dataset) -> None:
    """Stop when the stores to start from belong to other designs or places than the run.

    Parameters
    ----------
    columns
        Designs of the run.
    forcing
        Its weather, whose labels but for ``time`` are the places.
    stores
        What it is to start from.

    Raises
    ------
    RunoffError
        Naming the dimension, with the first labels of both.
    """
    wanted: dict[Any, pd.Index] = {name: index for name, index in forcing.indexes.items() if name != "time"}
    if columns.names is not None:
        wanted["design"] = pd.Index(columns.names)
    for name, index in stores.indexes.items():
        if name in wanted and not index.equals(wanted[name]):
            given, needed = (", ".join(str(one) for one in values[:6]) for values in (index, wanted[name]))
            raise RunoffError(
                f"simulate: start_state belongs to another `{name}` ({given}) than this run ({needed}); give the last state "
                "of the same, in the same order"
            )


def _empty(stores: xr.Dataset) -> dict[str, float]:
    """Return the stores that are not about, empty."""
    return {name: 0.0 for name in CARRIED if name not in stores}
