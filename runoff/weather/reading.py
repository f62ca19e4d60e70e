"""One door for weather files: what a file is follows from what is in it, not from its name alone."""

from __future__ import annotations

import gzip
import hashlib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import xarray as xr

from runoff.errors import WeatherError
from runoff.weather.evapotranspiration import with_reference_et
from runoff.weather.frames import as_weather
from runoff.weather.gaps import fill_gaps
from runoff.weather.netcdf import read_netcdf
from runoff.weather.station_daily import looks_like_dly, looks_like_station_csv, read_station_daily
from runoff.weather.table import TableLayout, read_table

_OTHER_FILES = {
    b"%PDF": "a PDF document",
    b"PK\x03\x04": "a spreadsheet or zip archive; save the sheet as CSV",
    b"\xd0\xcf\x11\xe0": "an old spreadsheet; save the sheet as CSV",
    b"\x89PNG": "a picture",
    b"\xff\xd8\xff": "a picture",
    b"GRIB": "a GRIB file; convert it to NetCDF",
}


def read_weather(
    path: str | Path,
    *,
    start: str | None = None,
    end: str | None = None,
    latitude: float | None = None,
    longitude: float | None = None,
    elevation_m: float | None = None,
    columns: Mapping[str, str | int] | None = None,
    units: Mapping[str, str] | None = None,
    layout: TableLayout | Mapping[str, Any] | None = None,
    et_method: str | None = None,
    fill: Mapping[str, str] | None = None,
    chunks: Any = None,
) -> xr.Dataset:
    """Read a weather file.

    Parameters
    ----------
    path
        GHCN-Daily ``.dly`` (also gzipped) or by-station CSV, CF NetCDF or Zarr, or a plain table.
    start, end
        First and last year, month or date used, both included (``"1990"``, ``"2019-06"``).
    latitude, longitude, elevation_m
        Place, where the file does not say: degrees (south negative) and m.
    columns, units, layout
        For plain tables and NetCDF: which column or variable is what, in which unit, how the table is laid out. See
        `runoff.weather.table.TableLayout`.
    et_method
        Forces a method of reference evapotranspiration; by default it is formed when the data allow.
    fill
        Named methods for gaps, ``{"rain": "monthly-mean", "temperature": "interpolate"}``; see `runoff.fill_gaps`.
    chunks
        Keeps a NetCDF or Zarr file on disk as dask arrays.

    Returns
    -------
    xarray.Dataset
        House names and units; ``time`` marks the start of the interval. Missing values stay missing.

    Raises
    ------
    WeatherError
        Naming every fault of the file at once.
    FileNotFoundError
        When there is no such file.
    """
    path = Path(path)
    if isinstance(layout, Mapping):
        layout = TableLayout(**layout)
    if path.is_dir():
        data, digest = read_netcdf(path, columns=columns, units=units, chunks=chunks), ""  # type: ignore[arg-type]
    else:
        raw = path.read_bytes()
        digest = hashlib.sha256(raw).hexdigest()
        try:
            data = _read(path, raw, columns, units, layout, chunks)
        except WeatherError as error:
            raise WeatherError(
                "\n".join(f"{path.name}: {line.removeprefix(f'{path.name}: ')}" for line in str(error).split("\n"))
            ) from None
    given = {"lat": latitude, "lon": longitude, "elevation": elevation_m}
    data = data.assign_coords({name: value for name, value in given.items() if value is not None})
    data.attrs.update(source=path.name, sha256=digest)
    data.attrs.setdefault("title", path.name)
    if start is not None or end is not None:
        data = _selected(data, start, end, path.name)
    if fill:
        unknown = set(fill) - {"rain", "temperature"}
        if unknown:
            raise WeatherError(f"{path.name}: fill takes rain and temperature (given {', '.join(sorted(unknown))})")
        data = fill_gaps(data, **fill)
    data = as_weather(data)
    return _with_reference_et(data, et_method)


def _with_reference_et(data: xr.Dataset, method: str | None) -> xr.Dataset:
    """Form reference evapotranspiration when asked or when the data allow; else note why not (`simulate` will ask)."""
    try:
        return with_reference_et(data, method)
    except WeatherError as error:
        if method is not None:
            raise
        data.attrs["reference_et_missing"] = str(error)
        return data


def _read(
    path: Path, raw: bytes, columns: Any, units: Mapping[str, str] | None, layout: TableLayout | None, chunks: Any
) -> xr.Dataset:
    if raw[:2] == b"\x1f\x8b":
        raw = gzip.decompress(raw)
    if not raw.strip():
        raise WeatherError("the file is empty")
    if raw[:4] in (b"\x89HDF",) or raw[:3] == b"CDF":
        return read_netcdf(path, columns=columns, units=units, chunks=chunks)
    for magic, words in _OTHER_FILES.items():
        if raw.startswith(magic):
            raise WeatherError(f"this is {words}, not a weather file")
    if raw.lstrip()[:1] == b"<":
        raise WeatherError(
            "this is a web page (HTML or XML), not a weather file; save the data themselves, not the page that shows them"
        )
    if b"\x00" in raw[:4096]:
        raise WeatherError("this is a binary file of a kind that is not known; weather files are text, NetCDF or Zarr")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = raw.decode("latin-1")
    if text.lstrip().startswith("[roof]") or "\n[[layer]]" in text:
        raise WeatherError(
            "this is a roof file, not a weather file; the roof comes first on the command line, the weather second"
        )
    if columns is None and looks_like_dly(text):
        return read_station_daily(text)
    if columns is None and looks_like_station_csv(text):
        return read_station_daily(text)
    return read_table(text, columns=columns, units=units, layout=layout)


def _selected(data: xr.Dataset, start: str | None, end: str | None, where: str) -> xr.Dataset:
    first, last = (str(data["time"].to_numpy()[i])[:10] for i in (0, -1))
    try:
        chosen = data.sel(time=slice(start, end))
    except (KeyError, ValueError):
        raise WeatherError(
            f'{where}: start "{start}" and end "{end}" are years or dates such as 1990 or 2019-06-30'
        ) from None
    if chosen.sizes["time"] == 0:
        raise WeatherError(
            f"{where}: nothing lies between {start or 'the start'} and {end or 'the end'}; the file runs from {first} to {last}"
        )
    return chosen
