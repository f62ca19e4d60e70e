"""The soil-water examples of FAO-56, run through the package's own column: one medium over an open board."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
import xarray as xr

import runoff


def medium_alone(
    available_mm: float, *, depletion_fraction: float = 0.0, crop_coefficient: float = 1.0, wilting_mm: float = 20.0
) -> runoff.Roof:
    """Return a roof that is nothing but a medium with so much plant-available water, draining freely."""
    depth = 4.0 * (available_mm + wilting_mm)
    layers = [
        runoff.Planting(
            canopy_storage_mm=0.0, crop_coefficient=crop_coefficient, depletion_fraction=depletion_fraction
        ),
        runoff.GrowingMedium(
            depth_mm=depth,
            porosity=0.9,
            field_capacity=(available_mm + wilting_mm) / depth,
            wilting_point=wilting_mm / depth,
            bypass_fraction=0.0,  # a field soil of the textbook: every drop enters it
        ),
        runoff.DrainageBoard(cups_up=False, in_plane_flow_l_per_s_m=50.0),
    ]
    return runoff.Roof(
        build_up=runoff.BuildUp(layers=layers), outlets=[runoff.Outlet(diameter_mm=300.0, strainer=False)]
    )


def days(
    roof: runoff.Roof | list[runoff.Roof],
    available_mm: float,
    depletion_mm: float,
    water: Sequence[float],
    reference_et: Sequence[float],
) -> xr.Dataset:
    """Run days of rain or irrigation and reference evapotranspiration (mm) from a depletion; adds ``depletion``."""
    time = pd.date_range("2001-06-01", periods=len(water), freq="1D")
    weather = xr.Dataset(
        {
            "rain": ("time", np.asarray(water, dtype=float)),
            "reference_et": ("time", np.asarray(reference_et, dtype=float)),
        },
        coords={"time": time},
    )
    for name in weather:
        weather[name].attrs["units"] = "mm"
    run = runoff.simulate(roof, weather, start_moisture=1.0 - depletion_mm / available_mm)
    return run.assign(depletion=run["field_water"] - run["medium_water"])


def available_and_ready(row: dict[str, str]) -> tuple[float, float]:
    """Return total and readily available water (mm) as the column sees them: when stress begins gives the second."""
    from runoff.balance.column import PARAMETERS, parameter_array
    from runoff.roof.column_values import column_parameters

    layers = [
        runoff.Planting(depletion_fraction=float(row["depletion_fraction"])),
        runoff.GrowingMedium(
            depth_mm=float(row["depth_mm"]), porosity=0.6, field_capacity=float(row["field_capacity"]),
            wilting_point=float(row["wilting_point"]),
        ),
        runoff.DrainageBoard(),
    ]  # fmt: skip
    roof = runoff.Roof(build_up=runoff.BuildUp(layers=layers))
    at = dict(zip(PARAMETERS, parameter_array([column_parameters(roof)])[:, 0], strict=True))
    available = at["field_water"] - at["wilting_water"]
    return available, available - 1.0 / at["stress_slope"]


def drying(crop_coefficient: float, length: int = 10) -> xr.Dataset:
    """Run FAO-56 Ex. 37: TAW 160 mm, p 0.40, 55 mm depleted, 5 mm/day, no rain."""
    roof = medium_alone(160.0, depletion_fraction=0.40, crop_coefficient=crop_coefficient)
    return days(roof, 160.0, 55.0, [0.0] * length, [5.0] * length)


def irrigated(rows: Sequence[dict[str, str]]) -> xr.Dataset:
    """Run FAO-56 Ex. 38: th_fc 0.23, th_wp 0.10, roots to 0.35 m, p 0.6, 23.4 mm depleted at the start.

    The example lets the roots grow from 0.30 to 0.35 m; depletion is counted from field capacity, so that only the limit
    of stress would feel it, and there is no stress in the example.
    """
    available = 1000.0 * (0.23 - 0.10) * 0.35
    demand = [float(row["reference_et_mm"]) * float(row["crop_coefficient"]) for row in rows]
    roof = medium_alone(available, depletion_fraction=0.6)
    return days(roof, available, 23.4, [float(row["water_mm"]) for row in rows], demand)


def bare_soil() -> xr.Dataset:
    """Run FAO-56 Ex. 31: TEW 20, REW 9, so p = 9/20; the coefficient is 1.20 - 0.15; 4.5 mm/day from field capacity."""
    roof = medium_alone(20.0, depletion_fraction=9.0 / 20.0, crop_coefficient=1.05)
    return days(roof, 20.0, 0.0, [0.0] * 10, [4.5] * 10)


def decay(capacity_mm: float, reference_et_mm: float, length: int) -> xr.Dataset:
    """Run dry days from field capacity with linear drying."""
    return days(medium_alone(capacity_mm), capacity_mm, 0.0, [0.0] * length, [reference_et_mm] * length)
