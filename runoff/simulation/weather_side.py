"""What the weather brings to every roof before a drop meets a plant: snow, and the surfaces without planting.

Everything here depends on the weather and at most one number of the roof, so designs that share that number share it.
"""

from __future__ import annotations

import numpy as np
import xarray as xr

from runoff.balance import cells, surfaces
from runoff.simulation.roof_side import Fields
from runoff.simulation.rules import RunRules
from runoff.weather.record.forcing import steps_in_first_years

#: The stores beside the planted column that a run carries from step to step, mm.
SIDE_STORES = ("snow_water", "other_water", "bare_water")


def passes(forcing: xr.Dataset, warm_up_years: int) -> list[xr.Dataset]:
    """Return the pieces of weather a run goes through in turn: the warm-up, if any, and the record."""
    if not warm_up_years:
        return [forcing]
    return [forcing.isel(time=slice(0, steps_in_first_years(forcing["time"], warm_up_years))), forcing]


def run_weather_side(
    forcing: xr.Dataset, rules: RunRules, hours: float, other_capacity: xr.Variable, stores: Fields
) -> Fields:
    """Run snow, the unplanted part of the roof and the comparison roof.

    Parameters
    ----------
    forcing
        From `runoff.weather.record.forcing.prepare_forcing`.
    rules, hours
        The rules of the run and the length of its step, h.
    other_capacity
        Depression storage of the unplanted part, mm: a scalar, or along ``design``.
    stores
        The stores before the first step, by the names of `SIDE_STORES`, mm.

    Returns
    -------
    dict of xarray.Variable
        ``liquid`` (rain plus melt, mm per step) and ``snow_water``; of ``other`` and ``bare``: ``..._overflow``,
        ``..._evapotranspiration`` (mm per step) and ``..._water``.
    """
    given: Fields = {name: forcing.variables[name] for name in ("rain", "reference_et", "tmean") if name in forcing}
    side: Fields = {}
    side["liquid"], side["snow_water"] = _snow(given, rules, hours, stores["snow_water"])
    capacities = {"other": other_capacity, "bare": xr.Variable((), rules.comparison.depression_storage_mm)}
    for surface, capacity in capacities.items():
        spilled, evaporated, water = xr.apply_ufunc(
            cells.depression,
            side["liquid"],
            given["reference_et"].astype(float),
            capacity,
            stores[f"{surface}_water"],
            input_core_dims=[["time"], ["time"], [], []],
            output_core_dims=[["time"]] * 3,
            dask="parallelized",
            output_dtypes=[float] * 3,
        )
        side[f"{surface}_overflow"], side[f"{surface}_evapotranspiration"] = spilled, evaporated
        side[f"{surface}_water"] = water
    return side


def _snow(given: Fields, rules: RunRules, hours: float, before: xr.Variable) -> tuple[xr.Variable, xr.Variable]:
    rain = given["rain"].astype(float)
    if "tmean" not in given:
        return rain, xr.zeros_like(rain) + before
    split: tuple[xr.Variable, xr.Variable] = xr.apply_ufunc(
        lambda rain, temperature, snow: surfaces.snow_and_melt(
            *np.broadcast_arrays(rain, temperature),
            threshold=rules.snow.snow_below_c,
            melt_per_step=rules.snow.melt_mm_per_c_day * hours / 24.0,
            snow=np.broadcast_to(snow, np.broadcast_shapes(rain.shape, temperature.shape)[:-1]),
        ),
        rain,
        given["tmean"].astype(float),
        before,
        input_core_dims=[["time"], ["time"], []],
        output_core_dims=[["time"], ["time"]],
        dask="parallelized",
        output_dtypes=[float, float],
    )
    return split
