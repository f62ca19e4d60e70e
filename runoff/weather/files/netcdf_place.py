"""Where the cells of a CF file lie: its dimensions under the names of the house, its latitudes in degrees."""

from __future__ import annotations

import numpy as np
import xarray as xr

from runoff.errors import WeatherError, shown

_DIMENSIONS = {
    "latitude": "lat", "longitude": "lon", "location": "site", "station": "site", "stations": "site", "nstations": "site",
    "realization": "member", "ensemble": "member", "number": "member",
}  # fmt: skip
_NAMES = (("lat", ("lat", "latitude")), ("lon", ("lon", "longitude")))
_LIMITS = {"lat": (-90.0, 90.0), "lon": (-180.0, 360.0)}
_TURNED = {"degrees_south": -1.0, "degree_south": -1.0, "degrees_west": -1.0, "degree_west": -1.0}


def house_dimensions(data: xr.Dataset, opened: xr.Dataset) -> xr.Dataset:
    """Name the other dimensions as the package does, and carry place and names of sites along.

    Raises
    ------
    WeatherError
        When a latitude or longitude is nowhere on earth, or in a unit that is not known.
    """
    for short, names in _NAMES:
        name = next((one for one in names if one in opened.variables), None)
        if name is None:
            continue
        place = opened[name].squeeze() if opened[name].size == 1 and name not in data.dims else opened[name]
        if set(place.dims) <= set(data.dims):
            data = data.drop_vars([one for one in names if one in data.coords and one not in data.dims])
            data = data.assign_coords({name if name in data.dims else short: (place.dims, _degrees(place, short))})
    data = data.rename({dim: _DIMENSIONS[low] for dim in data.dims if (low := str(dim).lower()) in _DIMENSIONS})
    kept = {"time", "lat", "lon", "elevation", *data.dims}
    data = data.drop_vars([name for name in data.coords if name not in kept])
    lone = [dim for dim in data.dims if dim not in ("time", "lat", "lon") and data.sizes[dim] == 1]
    return data.squeeze(lone).drop_vars(lone, errors="ignore")


def _degrees(place: xr.DataArray, short: str) -> np.ndarray:
    """Return latitude or longitude in degrees, north and east positive."""
    values = place.to_numpy()
    if values.dtype.kind not in "fiu":
        raise WeatherError(f"{place.name}: it holds no numbers; it must be degrees, {_positive(short)}")
    degrees = values.astype(float)
    unit = str(place.attrs.get("units", "")).strip()
    low = unit.lower()
    if low in ("radian", "radians", "rad"):
        degrees = np.degrees(degrees)
    elif low in _TURNED:
        degrees = _TURNED[low] * degrees
    elif low and not low.startswith(("degree", "deg", "°")):
        raise WeatherError(
            f'{place.name}: "{shown(unit)}" is no unit of a place; it must be degrees, {_positive(short)}'
        )
    least, most = _LIMITS[short]
    outside = degrees[~((degrees >= least) & (degrees <= most)) & np.isfinite(degrees)]
    if outside.size:
        raise WeatherError(
            f"{place.name}: {outside.flat[0]:g} lies outside {least:g} to {most:g} degrees, {_positive(short)}"
        )
    return degrees


def _positive(short: str) -> str:
    return "north positive" if short == "lat" else "east positive"
