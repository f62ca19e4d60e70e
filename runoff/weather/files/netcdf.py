"""Labelled grids and series: CF NetCDF and Zarr, any of the usual units and calendars."""

from __future__ import annotations

import contextlib
import functools
import io
import os
import warnings
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr

from runoff.errors import RunoffError, WeatherError, raise_faults, shown
from runoff.quantities import QUANTITIES, label
from runoff.weather.files.netcdf_place import house_dimensions
from runoff.weather.files.netcdf_time import interval_starts
from runoff.weather.files.netcdf_values import sound_values
from runoff.weather.files.netcdf_variables import Found, behaves_like_a_stock, find_variables
from runoff.weather.files.zarr_chunks import read_in_place
from runoff.weather.files.zarr_parts import refuse_absent_parts
from runoff.weather.record.extremes import least_and_largest
from runoff.weather.record.house_units import to_house
from runoff.weather.record.lazy import chunk_by_chunk
from runoff.weather.record.time_axis import regular, step_hours

_CMIP_WIND_HEIGHT_M = 10.0  # sfcWind, near-surface wind of CMIP, is at 10 m
_TINY_MM = 0.01  # packing and interpolation leave amounts a hair below zero; these are clipped and counted
_MOST_STEPS = 100_000_000  # 190 years of minutes
_ROWS_LOOKED_AT = 20  # of a part on disk: whether its snow lies shows in any of them
_HARMLESS_BYTES, _MOST_RATIO = 200 * 2**20, 200  # data packed by nothing honest: no rain shrinks to a two-hundredth


def open_weather_file(source: Path | io.BytesIO, chunks: Any = None) -> xr.Dataset:
    """Open a NetCDF or Zarr file with its times decoded, whatever the calendar.

    Raises
    ------
    WeatherError
        When the file cannot be opened, or claims more steps than any record has.
    """
    engine = "zarr"
    if not (isinstance(source, Path) and source.is_dir()):
        engine = "scipy" if _head(source)[:3] == b"CDF" else "h5netcdf"
    kind = "Zarr folder" if engine == "zarr" else "NetCDF file"
    with _spoken(f"this {kind} cannot be opened"):
        _refuse_endless_steps(source, engine)
        return xr.open_dataset(source, engine=engine, chunks=chunks, decode_times=xr.coders.CFDatetimeCoder())


def _head(source: Path | io.BytesIO) -> bytes:
    if isinstance(source, io.BytesIO):
        return source.getvalue()[:3]
    with source.open("rb") as file:
        return file.read(3)


@contextlib.contextmanager
def _spoken(words: str) -> Iterator[None]:
    """Turn what the libraries below raise on a damaged file into a sentence.

    They read what strangers wrote, and on damaged bytes raise nearly every class there is; this is the one place where
    all of them are caught.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of duplicate fill values and the like
            yield
    except RunoffError:
        raise
    except Exception as error:
        lacking = (
            ' (Zarr needs the extra packages: pip install "runoff[large]")'
            if "unrecognized engine" in str(error) or isinstance(error, ImportError)
            else ""
        )
        said = str(error).strip().splitlines() or [type(error).__name__]
        advice = lacking or "; it may be damaged or cut short, fetch it again"
        raise WeatherError(f"{words}{advice} (the library says: {shown(said[0], most=200)})") from None


def _refuse_endless_steps(source: Path | io.BytesIO, engine: str) -> None:
    """Look at the sizes of an HDF5 file or Zarr folder before its coordinates are loaded whole."""
    sizes: dict[str, int] = {}
    if engine == "h5netcdf":
        import h5py

        with h5py.File(source, "r") as file:
            sizes = {
                name: item.size or 0 for name, item in file.items() if isinstance(item, h5py.Dataset) and item.ndim == 1
            }
        if isinstance(source, io.BytesIO):
            source.seek(0)
    elif engine == "zarr":
        import zarr

        group = zarr.open_group(source, mode="r")
        sizes = {name: int(array.size) for name, array in group.arrays() if array.ndim == 1}
    for name, size in sizes.items():
        if size > _MOST_STEPS:
            raise WeatherError(f"{shown(name)}: {size:,} values along one dimension; the most is {_MOST_STEPS:,}")


def read_netcdf(
    source: Path | io.BytesIO,
    *,
    columns: Mapping[str, str] | None = None,
    units: Mapping[str, str] | None = None,
    stamp: str | None = None,
    chunks: Any = None,
    as_stored: bool = False,
    in_stretches: bool = False,
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
        ``"start"`` or ``"end"``: what the stamps of a file without time bounds mark, where whoever reads it says so.
    chunks
        Keeps the data on disk as dask arrays, for example ``{"lat": 50}``.
    as_stored
        Keeps quantities that are stored in house units in the precision in which they are, for who computes in double.
    in_stretches
        With `as_stored`: gives chunks of a Zarr folder that hold a long record in stretches of time, one after the other.

    Returns
    -------
    xarray.Dataset
        House names and units on the file's other dimensions (``member``, ``site``, ``lat``, ``lon``) and ``time`` (start
        of the interval); ``rain`` is precipitation of any kind, rain and snow added where the file parts them. Values
        outside the file's valid range, or marked as bad by its flags, are missing; ``attrs["source_flags"]`` counts them.

    Raises
    ------
    WeatherError
        Naming every fault of the file.
    """
    opened = open_weather_file(source, chunks)
    if as_stored and isinstance(source, Path) and source.is_dir():
        opened = read_in_place(opened, source, in_stretches=in_stretches)
    try:
        with _spoken("the data of this file cannot be read"):
            _refuse_without_dates(opened)
            found = find_variables(opened, columns)
            if chunks is None:
                _refuse_more_than_memory(opened, found, source)
            data, notes = _variables(opened, found, units, stamp, as_stored)
            data = data.load() if chunks is None else data
            data = _with_snow(data, found)
            data = _clip(data)
        if isinstance(source, Path) and source.is_dir():
            refuse_absent_parts(source, opened, found.names)
    finally:
        if chunks is None:
            opened.close()
    summed = (
        f"{found.names['rain']} and {found.names['snow']}" if "snow" in found.names else found.names.get("rain", "")
    )
    data.attrs.update(title=shown(opened.attrs.get("title", ""), most=200), rain_variables=summed)
    texts = {"source_flags": "; ".join(notes), "left_aside": "; ".join(found.left_aside)}
    data.attrs.update({name: text for name, text in texts.items() if text})
    return label(data)


def _refuse_without_dates(opened: xr.Dataset) -> None:
    if "time" not in opened.dims:
        raise WeatherError(
            f"there is no dimension `time`; its dimensions are {', '.join(map(shown, list(opened.dims)[:20])) or 'none'}"
        )
    if "time" not in opened.variables or opened["time"].dims != ("time",):
        raise WeatherError("its dimension `time` has no dates: a variable `time` along it is needed")


def _variables(
    opened: xr.Dataset, found: Found, units: Mapping[str, str] | None, stamp: str | None, as_stored: bool
) -> tuple[xr.Dataset, list[str]]:
    """Return the quantities in house units on a regular axis, and what was dropped."""
    time, note = interval_starts(opened, stamp)
    hours = step_hours(time)
    faults: list[str] = []
    notes: list[str] = []
    data = xr.Dataset(coords={"time": time})
    for quantity, name in found.names.items():
        if opened[name].dtype.kind not in "fiu":
            faults.append(f"{shown(name)}: it holds no numbers")
            continue
        unit = str((units or {}).get(quantity) or opened[name].attrs.get("units", ""))
        in_house = quantity in QUANTITIES and unit.strip() == QUANTITIES[quantity].units
        variable, dropped = sound_values(opened, name, as_stored=as_stored and in_house)
        notes += dropped
        try:
            data[quantity] = to_house(
                variable.assign_coords(time=time), "rain" if quantity == "snow" else quantity, unit, hours
            )
        except RunoffError as error:
            faults.append(f"{shown(name)}: {error}")
    raise_faults("variables", faults, WeatherError)
    if "wind_speed" in data:
        data["wind_speed"].attrs = _wind_height(opened[found.names["wind_speed"]])
    data = regular(house_dimensions(data, opened).transpose(..., "time"))
    return data.assign_attrs(time_label=note), notes


def _refuse_more_than_memory(opened: xr.Dataset, found: Found, source: Path | io.BytesIO) -> None:
    """Refuse to load what does not fit, or what so small a file cannot hold."""
    needed = 8 * sum(opened[name].size for name in found.names.values())
    if needed <= _HARMLESS_BYTES:
        return
    size = len(source.getvalue()) if isinstance(source, io.BytesIO) else _size_on_disk(source)
    memory = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") if hasattr(os, "sysconf") else 2**33
    if needed > memory / 2:
        raise WeatherError(
            f"its weather takes {needed / 2**30:.1f} GB of memory, more than half of this machine's; leave it on disk, chunks={{}}, "
            "or take fewer places"
        )
    if needed > _MOST_RATIO * size:
        raise WeatherError(
            f"a file of {size / 2**20:.3g} MB that unpacks to {needed / 2**20:.0f} MB holds nearly nothing; is it whole? Leave it on "
            "disk, chunks={}, to look at it"
        )


def _size_on_disk(path: Path) -> int:
    return sum(one.stat().st_size for one in path.rglob("*") if one.is_file()) if path.is_dir() else path.stat().st_size


def _with_snow(data: xr.Dataset, found: Found) -> xr.Dataset:
    """Add snow that fell to rain that leaves it out; refuse snow that lies, on disk when a part of it is read."""
    if "snow" not in data:
        return data
    look = functools.partial(_refuse_lying_snow, snow=shown(found.names["snow"]), rain=shown(found.names["rain"]))
    if data["snow"].chunks:
        snow = chunk_by_chunk(data["snow"], functools.partial(_some_of_a_part, look=look))
    else:
        snow = data["snow"]
        look(snow.transpose(..., "time").to_numpy())
    return data.assign(rain=data["rain"] + snow).drop_vars("snow")


def _some_of_a_part(values: np.ndarray, look: Callable[[np.ndarray], None]) -> np.ndarray:
    """Show some rows of a part on disk, ``time`` last, to `look`, of those with most snow; return all as they are."""
    rows = values.reshape(-1, values.shape[-1])
    most = np.argsort(-(rows > 0).sum(axis=1), kind="stable")[:_ROWS_LOOKED_AT]
    look(rows[most])
    return values


def _refuse_lying_snow(values: np.ndarray, snow: str, rain: str) -> None:
    if behaves_like_a_stock(values):
        raise WeatherError(
            f"{snow}: it stays for weeks and changes little from step to step, as snow on the ground does; only snow that fell may "
            f'be added to rain. Leave it out with columns={{"rain": "{rain}"}}, temperatures beside it'
        )


def _wind_height(wind: xr.DataArray) -> dict[str, float]:
    for name in ("height", "height_m"):
        if name in wind.coords and wind[name].ndim == 0:
            return {"height_m": float(wind[name])}
        if name in wind.attrs:
            try:
                return {"height_m": float(np.ravel(wind.attrs[name])[0])}
            except ValueError:
                return {}
    return {"height_m": _CMIP_WIND_HEIGHT_M} if str(wind.name).lower() == "sfcwind" else {}


def _clip(data: xr.Dataset) -> xr.Dataset:
    """Clip amounts a hair below zero; larger negatives are left for the checks to refuse."""
    clipped: int | str = 0
    for quantity in ("rain", "reference_et"):
        if quantity not in data:
            continue
        if data[quantity].chunks:
            data[quantity] = chunk_by_chunk(data[quantity], _without_hairs)
            clipped = "not counted, the data stay on disk"
            continue
        tiny = (data[quantity] < 0) & (data[quantity] > -_TINY_MM)
        data[quantity] = data[quantity].where(~tiny, 0.0)
        if not isinstance(clipped, str):
            clipped += int(tiny.sum())
    return data.assign_attrs(clipped_negative=clipped)


def _without_hairs(values: np.ndarray) -> np.ndarray:
    """Return values with amounts a hair below zero as zero; most parts of a store have none and are left as they are."""
    if not least_and_largest(values, more_checks=True)[0] < 0:
        return values
    return np.where((values < 0) & (values > -_TINY_MM), values.dtype.type(0), values)
