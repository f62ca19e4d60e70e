"""Roofs by chance, built with public names, each of which a person could have described."""

import warnings

import numpy as np
import xarray as xr

import runoff


def random_layers(rng: np.random.Generator) -> list[object]:
    """Return a build-up, top to bottom: with or without mulch and fleece, over a board, a mat, or both."""
    wilting = float(rng.uniform(0.02, 0.10))
    field = float(rng.uniform(wilting + 0.08, 0.40))
    layers: list[object] = [
        runoff.Planting(canopy_storage_mm=float(rng.uniform(0.0, 2.0)), crop_coefficient=float(rng.uniform(0.6, 1.2)))
    ]
    if rng.random() < 0.5:
        layers.append(runoff.Mulch(depth_mm=float(rng.uniform(5.0, 30.0))))
    layers.append(
        runoff.GrowingMedium(
            depth_mm=float(rng.uniform(30.0, 250.0)), wilting_point=wilting, field_capacity=field,
            porosity=float(rng.uniform(field + 0.05, 0.75)), bypass_fraction=float(rng.uniform(0.0, 0.9)),
            conductivity_mm_per_h=float(10.0 ** rng.uniform(1.0, 3.3)),
        )
    )  # fmt: skip
    if rng.random() < 0.7:
        layers.append(runoff.FilterFleece())
    if rng.random() < 0.7:
        height = float(rng.uniform(15.0, 60.0))
        layers.append(
            runoff.DrainageBoard(
                height_mm=height, cup_storage_mm=float(rng.uniform(0.0, 0.2)) * height, cups_up=bool(rng.random() < 0.8),
                void_storage_mm=float(rng.uniform(0.2, 0.7)) * height,
            )
        )  # fmt: skip
    layers.append(runoff.ProtectionMat(storage_mm=float(rng.uniform(0.0, 6.0))))
    return layers


def random_roof(seed: int) -> runoff.Roof:
    """Return a roof of 12 to 1,000 m2 with one to four outlets, some with an emergency overflow, some half clogged."""
    rng = np.random.default_rng(seed)
    area = float(10.0 ** rng.uniform(1.1, 3.0))
    sill = float(rng.uniform(60.0, 200.0)) if rng.random() < 0.5 else None
    opening = {} if sill is None else {"emergency_width_mm": 300.0, "emergency_height_mm": 100.0}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", runoff.RunoffWarning)  # questions about sizes unlike those of most roofs
        return runoff.Roof(
            name=f"by chance {seed}", area_m2=area, planted_fraction=float(rng.uniform(0.3, 1.0)),
            flow_length_m=float(rng.uniform(0.3, 1.0)) * area**0.5, fall=float(rng.choice([0.0, 0.005, 0.02, 0.1])),
            build_up=runoff.BuildUp(layers=random_layers(rng)), emergency_overflow_mm=sill, edge_height_mm=600.0, **opening,
            outlets=[runoff.Outlet(kind="round", diameter_mm=float(rng.choice([70.0, 100.0])), count=int(rng.integers(1, 5)))],
            blocked_fraction=float(rng.choice([0.0, 0.0, 0.5, 1.0])),
        )  # fmt: skip


def random_weather(seed: int, days: int = 500) -> xr.Dataset:
    """Return daily weather with wet and dry spells, cloudbursts, frost and snow."""
    rng = np.random.default_rng(seed)
    wet = rng.random(days) < np.where(np.arange(days) // 30 % 2 == 0, 0.5, 0.15)
    rain = np.where(wet, rng.gamma(0.6, 9.0, days), 0.0) + np.where(
        rng.random(days) < 0.01, rng.uniform(30.0, 90.0, days), 0.0
    )
    mean = 9.0 - 10.0 * np.cos(np.arange(days) * 2.0 * np.pi / 365.0) + rng.normal(0.0, 3.0, days)
    time = xr.date_range("2011-01-01", periods=days)
    return xr.Dataset(
        {
            "rain": ("time", rain, {"units": "mm"}),
            "tmin": ("time", mean - 4.0, {"units": "degC"}),
            "tmax": ("time", mean + 4.0, {"units": "degC"}),
            "reference_et": ("time", np.clip(mean / 5.0, 0.0, None) * rng.uniform(0.5, 1.5, days), {"units": "mm"}),
        },
        coords={"time": time, "lat": 52.0},
    )
