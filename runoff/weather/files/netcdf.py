"""Labelled grids and series: CF NetCDF and Zarr, any of the usual units and calendars."""

from __future__ import annotations

import io
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import xarray as xr

from runoff.errors import RunoffError, WeatherError, nearest, raise_faults
from runoff.quantities import QUANTITIES, label
from runoff.weather.record.house_units import to_house
from runoff.weather.record.time_axis import moved, regular, step_hours, step_of

# How files name the quantities: names of CF, reanalysis and climate-model files. Potential evaporation of a reanalysis
# is left out on purpose: over water and coasts it is not that of a reference crop.
_STANDARD_NAMES = {
    "precipitation_flux": "rain",
    "precipitation_amount": "rain",
    "lwe_thickness_of_precipitation_amount": "rain",
    "lwe_precipitation_rate": "rain",
    "rainfall_amount": "rain",
    "rainfall_flux": "rain",
    "rainfall_rate": "rain",
    "thickness_of_rainfall_amount": "rain",
    "surface_downwelling_shortwave_flux_in_air": "solar_radiation",
    "surface_downwelling_shortwave_flux": "solar_radiation",
    "relative_humidity": "humidity",
    "dew_point_temperature": "dew_point",
    "wind_speed": "wind_speed",
    "duration_of_sunshine": "sunshine_hours",
}
_NAMES = {
    "pr": "rain", "rain": "rain", "tp": "rain", "prcp": "rain", "precip": "rain", "precipitation": "rain",
    "tas": "tmean", "tasmin": "tmin", "tasmax": "tmax", "tmin": "tmin", "tmax": "tmax", "tmean": "tmean",
    "rsds": "solar_radiation", "hurs": "humidity", "sfcwind": "wind_speed", "pet": "reference_et",
    **{name: name for name in QUANTITIES if name in (
        "reference_et", "solar_radiation", "humidity", "humidity_min", "humidity_max", "dew_point", "wind_speed",
        "sunshine_hours")},
}  # fmt: skip
_RAIN_ONLY = {"rainfall_amount", "rainfall_flux", "rainfall_rate", "thickness_of_rainfall_amount"}
_SNOW_NAMES = {"snow", "snowfall", "prsn"}
_SNOWFALL = {"snowfall_amount", "snowfall_flux", "lwe_thickness_of_snowfall_amount", "lwe_snowfall_rate"}
_DIMENSIONS = {
    "latitude": "lat", "longitude": "lon", "location": "site", "station": "site", "stations": "site", "nstations": "site",
    "realization": "member", "ensemble": "member", "number": "member",
}  # fmt: skip
_CMIP_WIND_HEIGHT_M = 10.0  # sfcWind, near-surface wind of CMIP, is at 10 m
_TINY_MM = 0.01  # packing and interpolation leave amounts a hair below zero; these are clipped and counted


def open_weather_file(source: Path | io.BytesIO, chunks: Any = None) -> xr.Dataset:
    """Open a NetCDF or Zarr file with its times decoded, whatever the calendar.

    Raises
    ------
    WeatherError
        When the file cannot be opened.
    """
    engine = "zarr"
    if not (isinstance(source, Path) and source.is_dir()):
        head = source.open("rb").read(3) if isinstance(source, Path) else source.getvalue()[:3]
        engine = "scipy" if head == b"CDF" else "h5netcdf"
    try:
        return xr.open_dataset(source, engine=engine, chunks=chunks, decode_times=xr.coders.CFDatetimeCoder())
    except (OSError, KeyError, ValueError, TypeError) as error:
        kind = "Zarr folder" if engine == "zarr" else "NetCDF file"
        lacking = (
            ' (Zarr needs the extra packages: pip install "runoff[large]")'
            if "unrecognized engine" in str(error)
            else ""
        )
        raise WeatherError(f"this {kind} cannot be opened{lacking}: {str(error).splitlines()[0]}") from None


def read_netcdf(
    source: Path | io.BytesIO,
    *,
    columns: Mapping[str, str] | None = None,
    units: Mapping[str, str] | None = None,
    stamp: str = "start",
    chunks: Any = None,
) -> xr.Dataset:
    """Read weather from a CF file.

    Parameters
    ----------
    source
        NetCDF file, its bytes, or a Zarr folder.
    columns
        Variable of each quantity, for example ``{"rain": "pr"}``; by default found by usual names and standard names.
    units
        Unit of each quantity, where the file has none or a wrong one.
    stamp
        ``"end"`` when the file, without time bounds, stamps the end of each interval.
    chunks
        Keeps the data on disk as dask arrays, for example ``{"lat": 50}``.

    Returns
    -------
    xarray.Dataset
        House names and units on the file's other dimensions (``member``, ``site``, ``lat``, ``lon``) and ``time`` (start
        of the interval); ``rain`` is precipitation of any kind, rain and snow added where the file parts them.

    Raises
    ------
    WeatherError
        Naming every fault of the file.
    """
    opened = open_weather_file(source, chunks)
    if "time" not in opened.dims:
        raise WeatherError(
            f"there is no dimension `time`; its dimensions are {', '.join(map(str, opened.dims)) or 'none'}"
        )
    if opened["time"].dtype.kind not in "MO" or not opened.sizes["time"]:
        raise WeatherError('its `time` holds no dates; the attribute units must read like "days since 1990-01-01"')
    found = _found(opened, columns)
    time, note = _interval_starts(opened, stamp)
    hours = step_hours(time)
    faults: list[str] = []
    data = xr.Dataset(coords={"time": time})
    for quantity, name in found.items():
        variable = opened[name].assign_coords(time=time).astype(float)
        kind = "rain" if quantity == "snow" else quantity
        try:
            data[quantity] = to_house(
                variable, kind, str((units or {}).get(quantity) or variable.attrs.get("units", "")), hours
            )
        except RunoffError as error:
            faults.append(f"{name}: {error}")
    raise_faults("variables", faults, WeatherError)
    if "snow" in data:
        data["rain"] = data["rain"] + data["snow"]
        data = data.drop_vars("snow")
    if "wind_speed" in data:
        data["wind_speed"].attrs = _wind_height(opened[found["wind_speed"]])
    data = regular(_house_dimensions(data, opened).transpose(..., "time"))
    if chunks is None:
        data = data.load()
        opened.close()
    data = _clip(data)
    summed = f"{found['rain']} and {found['snow']}" if "snow" in found else found.get("rain", "")
    data.attrs.update(time_label=note, title=str(opened.attrs.get("title", "")), rain_variables=summed)
    return label(data)


def _found(opened: xr.Dataset, columns: Mapping[str, str] | None) -> dict[str, str]:
    """Return the variable of each quantity; ``snow`` only where the file's rain leaves snow out."""
    on_time = [str(name) for name in opened.data_vars if "time" in opened[name].dims]
    if columns:
        faults = [
            f'there is no variable "{name}"{nearest(str(name), on_time)}; variables are {", ".join(on_time)}'
            for name in columns.values()
            if name not in on_time
        ]
        known = [*QUANTITIES, "snow"]
        faults += [f'"{name}" is not a quantity{nearest(name, known)}' for name in columns if name not in known]
        raise_faults("columns", faults, WeatherError)
        return dict(columns)
    found: dict[str, str] = {}
    for table, key in (
        (_NAMES, str.lower),
        (_STANDARD_NAMES, lambda name: opened[name].attrs.get("standard_name", "")),
    ):
        for name in on_time:
            quantity = table.get(key(name))
            if quantity and quantity not in found and name not in found.values():
                found[quantity] = name
    if "rain" not in found:
        raise WeatherError(
            f"no variable is known as rain; variables are {', '.join(on_time) or 'none'}. Say which, for example "
            'columns={"rain": "pr"}'
        )
    rain = opened[found["rain"]]
    standard = rain.attrs.get("standard_name", "")
    if standard in _RAIN_ONLY or (str(rain.name).lower() == "rain" and standard not in _STANDARD_NAMES):
        snow = [
            name
            for name in on_time
            if name.lower() in _SNOW_NAMES or opened[name].attrs.get("standard_name") in _SNOWFALL
        ]
        found.update({"snow": snow[0]} if snow else {})
    return found


def _wind_height(wind: xr.DataArray) -> dict[str, float]:
    for name in ("height", "height_m"):
        if name in wind.coords and wind[name].ndim == 0:
            return {"height_m": float(wind[name])}
        if name in wind.attrs:
            return {"height_m": float(wind.attrs[name])}
    return {"height_m": _CMIP_WIND_HEIGHT_M} if str(wind.name).lower() == "sfcwind" else {}


def _interval_starts(opened: xr.Dataset, stamp: str) -> tuple[xr.DataArray, str]:
    """Return the starts of the intervals: from the bounds, else midday stamps of days moved to midnight."""
    time = opened["time"].reset_coords(drop=True)
    time.attrs = {}
    bounds = opened.get(opened["time"].attrs.get("bounds", "time_bnds"))
    if bounds is not None and bounds.ndim == 2 and bounds.dtype.kind == time.dtype.kind:
        start, note = bounds.isel({bounds.dims[1]: 0}).to_numpy(), "start of the interval, from the time bounds"
    elif step_hours(time) == 24.0 and bool((time.dt.hour == 12).all()):
        start, note = time.dt.floor("D").to_numpy(), "midday stamps, converted to the start of the day"
    elif stamp == "end":
        start = moved(time.to_index(), -step_of(time)).to_numpy()
        note = "end of the interval, converted to start"
    else:
        return time, "start of the interval, as stamped"
    starts = xr.DataArray(start, dims="time")
    return starts.assign_coords(time=starts), note


def _clip(data: xr.Dataset) -> xr.Dataset:
    """Clip amounts a hair below zero; larger negatives are left for the checks to refuse."""
    clipped: int | str = 0
    for quantity in ("rain", "reference_et"):
        if quantity not in data:
            continue
        tiny = (data[quantity] < 0) & (data[quantity] > -_TINY_MM)
        data[quantity] = data[quantity].where(~tiny, 0.0)
        if data[quantity].chunks:
            clipped = "not counted, the data stay on disk"
        elif not isinstance(clipped, str):
            clipped += int(tiny.sum())
    return data.assign_attrs(clipped_negative=clipped)


def _house_dimensions(data: xr.Dataset, opened: xr.Dataset) -> xr.Dataset:
    """Name the other dimensions as the package does, and carry place and names of sites along."""
    for short, names in (("lat", ("lat", "latitude")), ("lon", ("lon", "longitude"))):
        for name in names:
            if name in opened.variables and short not in data.coords and name not in data.dims:
                place = opened[name].squeeze() if opened[name].size == 1 else opened[name]
                if set(place.dims) <= set(data.dims):
                    data = data.assign_coords({short: (place.dims, place.to_numpy())})
    data = data.rename({dim: _DIMENSIONS[low] for dim in data.dims if (low := str(dim).lower()) in _DIMENSIONS})
    kept = {"time", "lat", "lon", "elevation", *data.dims}
    data = data.drop_vars([name for name in data.coords if name not in kept])
    lone = [dim for dim in data.dims if dim not in ("time", "lat", "lon") and data.sizes[dim] == 1]
    return data.squeeze(lone).drop_vars(lone, errors="ignore")
