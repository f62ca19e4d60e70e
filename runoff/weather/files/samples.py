"""The embedded sample: weather of the invented town of Ostrey, found in the checkout or in the installed package.

The commands run on it when no file is given, so it is read by the shortest way; tests hold it equal to what
`runoff.read_weather` reads from the same files.
"""

from __future__ import annotations

import hashlib
import io

import numpy as np
import pandas as pd
import xarray as xr

from runoff.errors import RunoffError
from runoff.quantities import label
from runoff.sample_files import sample_folder
from runoff.weather.evaporation.evapotranspiration import reference_et, with_reference_et
from runoff.weather.evaporation.sun import spread_onto

DAILY_FILE = "ostrey_daily.csv"
STORMS_FILE = "ostrey_summer_5min.csv"
DEPTH_DURATION_FILE = "ostrey_depth_duration.csv"


def open_sample() -> xr.Dataset:
    """Return 30 years of daily weather of Ostrey, an invented town.

    Returns
    -------
    xarray.Dataset
        ``rain`` (mm), ``tmin``, ``tmax`` (degC), ``reference_et`` (mm, Hargreaves-Samani) on ``time``, marked
        ``attrs["invented"] = "yes"``.

    Examples
    --------
    >>> weather = open_sample()
    >>> weather.sizes["time"], weather.attrs["invented"]
    (10958, 'yes')
    """
    weather = _read(DAILY_FILE, pd.Timedelta("1D"))
    return with_reference_et(weather)


def open_sample_storms() -> xr.Dataset:
    """Return one summer of Ostrey, an invented town, in 5-minute steps.

    Its days add up to those of `open_sample`, and its evapotranspiration is theirs, spread over the daylight.

    Returns
    -------
    xarray.Dataset
        ``rain`` and ``reference_et`` (mm per step) on ``time``, marked ``attrs["invented"] = "yes"``.
    """
    storms = _read(STORMS_FILE, pd.Timedelta("5min"))
    days = _read(DAILY_FILE, pd.Timedelta("1D")).sel(time=slice(storms["time"][0], storms["time"][-1]))
    return storms.assign(reference_et=spread_onto(reference_et(days), storms["time"]))


def open_sample_grid() -> xr.Dataset:
    """Return the daily weather of the region around Ostrey, an invented town, on a grid with hills and a lake.

    The days are those of `open_sample`; rain rises and temperature falls with the height of the ground, which is invented like
    the town. The lake has no weather, as seas and lakes have none in gridded records.

    Returns
    -------
    xarray.Dataset
        ``rain`` (mm), ``tmin`` and ``tmax`` (degC) on ``lat``, ``lon`` and ``time``, and ``height`` of the ground (m); marked
        ``attrs["invented"] = "yes"``.
    """
    days = _read(DAILY_FILE, pd.Timedelta("1D"))
    lat = xr.DataArray(np.round(days["lat"].to_numpy() + 0.1 * np.arange(-4, 6), 2), dims="lat")
    lon = xr.DataArray(np.round(8.0 + 0.1 * np.arange(14), 2), dims="lon")
    lat, lon = lat.assign_coords(lat=lat), lon.assign_coords(lon=lon)
    north, east = (lat - lat.min()) / (lat.max() - lat.min()), (lon - lon.min()) / (lon.max() - lon.min())
    hills: xr.DataArray = np.exp(-((east - 0.75) ** 2) / 0.05 - (north - 0.65) ** 2 / 0.15)  # type: ignore[assignment]
    height: xr.DataArray = 130.0 + 850.0 * hills + 120.0 * east
    lake = (abs(east - 0.3) < 0.1) & (abs(north - 0.4) < 0.18)
    above = (height - float(days["elevation"])) / 100.0
    plain = days.drop_vars(["lat", "elevation"])
    grid = xr.Dataset(
        {
            "rain": plain["rain"] * (1.0 + 0.075 * above).where(~lake),
            "tmin": plain["tmin"] - 0.65 * above.where(~lake),
            "tmax": plain["tmax"] - 0.65 * above.where(~lake),
        },
        attrs={**days.attrs, "title": "the region around Ostrey, an invented town"},
    ).transpose("lat", "lon", "time")
    return label(grid.assign(height=height.assign_attrs(units="m", long_name="height of the ground")))


def _read(name: str, step: pd.Timedelta) -> xr.Dataset:
    """Return a sample file; its steps are known to be regular, so only the first and the last stamp are read."""
    from runoff.weather.climates.invented import OSTREY  # not before it is needed: the module is also a command

    raw = (sample_folder() / name).read_bytes()
    lines = raw.decode().rstrip().split("\n")
    header = next(number for number, line in enumerate(lines) if not line.startswith("#"))
    columns = [column.rpartition("_")[0] for column in lines[header].split(",")[1:]]
    table = pd.read_csv(io.BytesIO(raw), skiprows=header + 1, header=None, usecols=range(1, len(columns) + 1))
    time = pd.date_range(lines[header + 1].partition(",")[0], periods=len(table), freq=step)
    if time[-1] != pd.Timestamp(lines[-1].partition(",")[0]):
        raise RunoffError(
            f"{name} of the sample is damaged: a step is missing; write it again or install the package again"
        )
    weather = xr.Dataset(
        {column: ("time", table.iloc[:, number].to_numpy(copy=True)) for number, column in enumerate(columns)},
        coords={"time": time.to_numpy(), "lat": OSTREY.latitude, "elevation": OSTREY.elevation_m},
        attrs={
            "title": f"{OSTREY.name}, an invented town",
            "source": f"{name} (invented, made by runoff.weather.climates.invented)",
            "sha256": hashlib.sha256(raw).hexdigest(),
            "time_label": "start of the interval",
            "time_zone": "local solar time",
            "day_start": "00:00",
            "invented": "yes",
        },
    )
    return label(weather)
