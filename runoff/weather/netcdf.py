"""Labelled grids and series: CF NetCDF and Zarr, any of the usual units and calendars."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr

from runoff.errors import RunoffError, WeatherError, nearest, raise_faults
from runoff.quantities import QUANTITIES, label
from runoff.units import canonical_unit, convert, unit_dimension

#: How files name the quantities: names met in CF, reanalysis and climate-model files; standard names come first.
_STANDARD_NAMES = {
    "precipitation_flux": "rain",
    "precipitation_amount": "rain",
    "lwe_thickness_of_precipitation_amount": "rain",
    "lwe_precipitation_rate": "rain",
    "rainfall_amount": "rain",
    "rainfall_flux": "rain",
    "snowfall_amount": "snow",
    "surface_downwelling_shortwave_flux_in_air": "solar_radiation",
    "surface_downwelling_shortwave_flux": "solar_radiation",
    "relative_humidity": "humidity",
    "dew_point_temperature": "dew_point",
    "wind_speed": "wind_speed",
}
_NAMES = {
    "pr": "rain", "rain": "rain", "tp": "rain", "precip": "rain", "precipitation": "rain", "snow": "snow",
    "tas": "tmean", "tasmin": "tmin", "tasmax": "tmax", "tmin": "tmin", "tmax": "tmax", "tmean": "tmean",
    "rsds": "solar_radiation", "hurs": "humidity", "sfcwind": "wind_speed", "pet": "reference_et", "reference_et": "reference_et",
}  # fmt: skip
_STATIONS = ("location", "station", "site", "stations", "nstations")
_TINY_MM = 0.01  # packing and interpolation leave amounts a hair below zero; these are clipped and counted


def open_weather_file(path: Path, chunks: Any = None) -> xr.Dataset:
    """Open a NetCDF or Zarr file with its times decoded, whatever the calendar."""
    options: dict[str, Any] = {"decode_times": xr.coders.CFDatetimeCoder(use_cftime=None)}
    if path.is_dir() or path.suffix == ".zarr":
        return xr.open_dataset(path, engine="zarr", chunks=chunks if chunks is not None else {}, **options)
    head = path.open("rb").read(4)
    engine = "scipy" if head[:3] == b"CDF" else "h5netcdf"
    return xr.open_dataset(path, engine=engine, chunks=chunks, **options)


def read_netcdf(
    path: Path,
    *,
    columns: Mapping[str, str] | None = None,
    units: Mapping[str, str] | None = None,
    chunks: Any = None,
) -> xr.Dataset:
    """Read weather from a CF file.

    Parameters
    ----------
    path
        NetCDF file or Zarr folder.
    columns
        Variable of each quantity, for example ``{"rain": "pr"}``; by default found by standard name and usual names.
    units
        Unit of each quantity, where the file has none or a wrong one.
    chunks
        Keeps the data on disk as dask arrays, for example ``{"lat": 50}``.

    Returns
    -------
    xarray.Dataset
        House names and units on ``time`` (start of the interval) and the file's other dimensions (``site``, ``lat``,
        ``lon``); ``rain`` is precipitation of any kind, rain and snow added where the file parts them.
    """
    source = open_weather_file(path, chunks)
    if "time" not in source.dims:
        raise WeatherError(
            f"{path.name}: there is no dimension `time`; its dimensions are {', '.join(map(str, source.dims))}"
        )
    found = _found(source, columns, path.name)
    time, note = _interval_starts(source)
    step_hours = _step_hours(time)
    faults: list[str] = []
    data = xr.Dataset(coords={"time": time})
    for quantity, name in found.items():
        variable = source[name].assign_coords(time=time)
        unit = (units or {}).get(quantity) or variable.attrs.get("units", "")
        try:
            data[quantity] = _house(variable.astype(float), quantity, unit, step_hours)
        except RunoffError as error:
            faults.append(f"{name}: {error}")
    raise_faults(path.name, faults, WeatherError)
    if "snow" in data:
        data["rain"] = data["rain"] + data["snow"]
        data = data.drop_vars("snow")
    data, clipped = _clip(data)
    data = _house_dimensions(data, source)
    data.attrs.update(time_label=note, clipped_negative=clipped, title=str(source.attrs.get("title", path.name)))
    return label(data)


def _found(source: xr.Dataset, columns: Mapping[str, str] | None, where: str) -> dict[str, str]:
    if columns:
        missing = [
            f'there is no variable "{name}"{nearest(name, map(str, source.data_vars))}'
            for name in columns.values()
            if name not in source
        ]
        raise_faults(where, missing, WeatherError)
        return dict(columns)
    found: dict[str, str] = {}
    for name in source.data_vars:
        if "time" not in source[name].dims:
            continue
        lower = str(name).lower()
        quantity = _NAMES.get(lower) or _STANDARD_NAMES.get(source[name].attrs.get("standard_name", ""))
        if quantity and quantity not in found:
            found[quantity] = str(name)
    if "rain" not in found:
        raise WeatherError(
            f"{where}: no variable is known as rain; variables are {', '.join(map(str, source.data_vars))}. Say which, for example "
            'columns={"rain": "pr"}'
        )
    return found


def _interval_starts(source: xr.Dataset) -> tuple[xr.DataArray, str]:
    """Return the starts of the intervals: from the bounds, else midday stamps of days moved to midnight."""
    time = source["time"]
    bounds = source.get(time.attrs.get("bounds", "time_bnds"))
    if bounds is not None and bounds.ndim == 2 and bounds.dtype == time.dtype:
        start = xr.DataArray(bounds.isel({bounds.dims[1]: 0}).to_numpy(), dims="time")
        return start.assign_coords(time=start), "start of the interval, from the time bounds"
    if _step_hours(time) == 24.0 and bool((time.dt.hour == 12).all()):
        start = time.dt.floor("D")
        return start.assign_coords(time=start), "midday stamps, converted to the start of the day"
    return time, "start of the interval, as stamped"


def _step_hours(time: xr.DataArray) -> float:
    values = time.to_numpy()
    if values.size < 2:
        return 24.0
    step = values[1] - values[0]
    return (
        step.total_seconds() / 3600.0
        if hasattr(step, "total_seconds")
        else float(step / np.timedelta64(1, "s")) / 3600.0
    )


def _house(variable: xr.DataArray, quantity: str, unit: str, step_hours: float) -> xr.DataArray:
    """Return a variable in house units; rates become the depth of the step."""
    wanted = "mm" if quantity == "snow" else QUANTITIES[quantity].units
    if quantity == "humidity" and unit in ("", "1"):
        return variable  # a bare number is a fraction; percent says so
    if not unit:
        raise RunoffError(f'it has no units; give units={{"{quantity}": "{wanted}"}}')
    name = canonical_unit(unit)
    if wanted == "mm" and unit_dimension(name) == "intensity":
        return convert(variable, name, "mm/h") * step_hours
    if quantity == "wind_speed" and name == "m/s":
        return variable
    if quantity == "reference_et" or wanted == "mm":
        return convert(variable, name, "mm")
    return convert(variable, name, wanted)


def _clip(data: xr.Dataset) -> tuple[xr.Dataset, int]:
    """Clip amounts a hair below zero; larger negatives are left for the checks to refuse."""
    clipped = 0
    for quantity in ("rain", "reference_et"):
        if quantity in data:
            tiny = (data[quantity] < 0) & (data[quantity] > -_TINY_MM)
            if not data[quantity].chunks:
                clipped += int(tiny.sum())
            data[quantity] = data[quantity].where(~tiny, 0.0)
    return data, clipped


def _house_dimensions(data: xr.Dataset, source: xr.Dataset) -> xr.Dataset:
    """Name the other dimensions as the package does, and carry the latitude along."""
    names = {}
    for dim in data.dims:
        lower = str(dim).lower()
        if lower in ("latitude", "longitude"):
            names[dim] = {"latitude": "lat", "longitude": "lon"}[lower]
        elif lower in _STATIONS:
            names[dim] = "site"
    for short, long in (("lat", "latitude"), ("lon", "longitude")):
        for name in (short, long):
            if name in source.variables and short not in data.coords and name not in data.dims:
                place = source[name]
                data = data.assign_coords({short: (place.dims, place.to_numpy())})
    data = data.rename(names)
    kept = {"time", "lat", "lon", "elevation", *data.dims}
    data = data.drop_vars([name for name in data.coords if name not in kept])
    lone = [dim for dim in data.dims if dim not in ("time", "lat", "lon") and data.sizes[dim] == 1]
    return data.squeeze(lone).drop_vars(lone, errors="ignore")
