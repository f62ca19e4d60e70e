"""The embedded sample: the invented town of Ostrey, found in the checkout or in the installed package."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import xarray as xr

import runoff
from runoff.errors import RunoffError
from runoff.quantities import label
from runoff.weather.evapotranspiration import with_reference_et
from runoff.weather.invented import OSTREY, SUMMER


def sample_folder() -> Path:
    """Return the folder of the sample files."""
    package = Path(runoff.__file__).parent
    for folder in (package / "sample_storms", package.parent / "sample_storms"):
        if (folder / "ostrey_daily.csv").is_file():
            return folder
    raise RunoffError("the sample files are missing; install the package again")


def open_sample() -> xr.Dataset:
    """Return 30 years of daily weather of Ostrey, invented, with reference evapotranspiration (Hargreaves-Samani)."""
    table = pd.read_csv(sample_folder() / "ostrey_daily.csv", comment="#", index_col="date", parse_dates=["date"])
    weather = xr.Dataset(
        {
            "rain": ("time", table["rain_mm"].to_numpy()),
            "tmin": ("time", table["tmin_c"].to_numpy()),
            "tmax": ("time", table["tmax_c"].to_numpy()),
        },
        coords={"time": table.index.to_numpy(), "lat": OSTREY.latitude, "elevation": OSTREY.elevation_m},
    )
    _mark(weather, "ostrey_daily.csv")
    return with_reference_et(label(weather))


def open_sample_storms() -> xr.DataArray:
    """Return the rain of one summer of Ostrey in 5-minute steps (mm), invented."""
    path = sample_folder() / f"ostrey_summer_{SUMMER}_5min.csv"
    table = pd.read_csv(path, comment="#", index_col="time", parse_dates=["time"])
    weather = xr.Dataset({"rain": ("time", table["rain_mm"].to_numpy())}, coords={"time": table.index.to_numpy()})
    _mark(label(weather), path.name)
    rain = weather["rain"]
    rain.attrs.update(invented="yes", source=weather.attrs["source"])
    return rain


def _mark(weather: xr.Dataset, name: str) -> None:
    weather.attrs.update(
        title=f"{OSTREY.name}, an invented town",
        source=f"{name} (invented, made by runoff.weather.invented)",
        time_label="start of the interval",
        day_start="00:00",
        invented="yes",
    )
