"""A small grid of invented weather for tests of what is done cell by cell."""

import numpy as np
import xarray as xr

import runoff


def grid_of_ostrey(seed: int, least: float, most: float) -> xr.Dataset:
    """Return 14 months of Ostrey on 3 x 4 cells, their rain that of the sample times a factor drawn between two."""
    days = runoff.open_sample().sel(time=slice("2001-01", "2002-02"))[["rain", "tmin", "tmax"]].drop_vars("lat")
    cells = days.expand_dims(lat=[46.0, 47.0, 48.0], lon=[4.0, 5.0, 6.0, 7.0]).copy(deep=True)
    factor = np.random.default_rng(seed).uniform(least, most, (3, 4, 1))
    cells["rain"] = cells["rain"].copy(data=cells["rain"].to_numpy() * factor)
    return cells


def grid_that_lacks_a_day() -> xr.Dataset:
    """Return a grid of Ostrey whose cells differ in rain; one cell lacks a day."""
    cells = grid_of_ostrey(5, 0.5, 1.5)
    cells["rain"][1, 2, 40] = np.nan
    return cells
