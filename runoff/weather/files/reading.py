"""One door for weather files: what a file is follows from what is in it, not from its name alone."""

from __future__ import annotations

import dataclasses
import hashlib
import io
import json
import re
import stat
import warnings
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import xarray as xr

from runoff.errors import (
    DoubtedWeatherError,
    MissingFileError,
    RunoffError,
    RunoffWarning,
    WeatherError,
    nearest,
    raise_faults,
    shown,
)
from runoff.file_bytes import decoded, read_bytes, refuse_missing, shown_name, unpacked
from runoff.given_kinds import refuse_other_kinds
from runoff.weather.evaporation.evapotranspiration import with_reference_et
from runoff.weather.files.netcdf import read_netcdf
from runoff.weather.files.several_sites import named, sites_of_table, station_lines, stations_of
from runoff.weather.files.station_daily import looks_like_dly, looks_like_station_csv, read_station_daily
from runoff.weather.files.table import read_table
from runoff.weather.files.table_layout import TableLayout, layout_of
from runoff.weather.quality.refusing import refuse_doubtful
from runoff.weather.record.frames import as_weather
from runoff.weather.record.gaps import FILLABLE, fill_gaps
from runoff.weather.record.time_axis import stamp_words

_OTHER_FILES = {
    b"%PDF": "a PDF document, not a {wanted}; ask for the numbers as CSV",
    b"PK\x03\x04": "a spreadsheet or zip archive, not a {wanted}; save the sheet as CSV, or unpack the archive",
    b"\xd0\xcf\x11\xe0": "an old spreadsheet, not a {wanted}; save the sheet as CSV",
    b"\x89PNG": "a picture, not a {wanted}",
    b"\xff\xd8\xff": "a picture, not a {wanted}",
    b"GRIB": "a GRIB file; convert it to NetCDF first",
}
_GENERIC = re.compile(r"^(table|station file|variables|weather|fill_gaps): ")


def read_weather(
    path: str | Path,
    *,
    start: str | int | None = None,
    end: str | int | None = None,
    latitude: float | None = None,
    longitude: float | None = None,
    elevation_m: float | None = None,
    columns: Mapping[str, str | int] | None = None,
    units: Mapping[str, str] | None = None,
    layout: TableLayout | Mapping[str, Any] | None = None,
    et_method: str | None = None,
    fill: Mapping[str, str] | None = None,
    trust_unit: bool = False,
    chunks: Any = None,
    site: str | None = None,
) -> xr.Dataset:
    """Read a weather file.

    Parameters
    ----------
    path
        GHCN-Daily ``.dly`` or by-station CSV, CF NetCDF or Zarr, or a plain table; all but Zarr also gzipped.
    start, end
        First and last year, month or date used, both included (``"1990"``, ``"2019-06"``).
    latitude, longitude, elevation_m
        Place, where the file does not say: degrees (south negative) and m.
    columns, units
        For plain tables and NetCDF: which column or variable is what, and in which unit.
    layout
        How a plain table is laid out, see `runoff.TableLayout`; its ``stamp`` holds for NetCDF without time bounds too.
    et_method
        Forces a method of reference evapotranspiration; by default it is formed when the data allow.
    fill
        Named methods for gaps, ``{"rain": "monthly-mean", "temperature": "interpolate"}``; see `runoff.fill_gaps`.
    trust_unit
        Accepts rain amounts that look like a wrong unit, for one of the few places where they are real.
    chunks
        Keeps a NetCDF or Zarr file on disk as dask arrays.
    site
        Which one, where a file holds several: a name on its dimension ``site``, a station of a station file, or a name in the
        column that the layout calls ``site_column``. A text file of several sites is read one by one.

    Returns
    -------
    xarray.Dataset
        House names and units; ``time`` marks the start of the interval. Missing values and absent dates stay missing.
        A table whose `columns` leave rain out (evapotranspiration alone) is returned as it is, to be merged.

    Raises
    ------
    WeatherError
        Naming every fault of the file at once.
    MissingFileError
        When there is no such file; a FileNotFoundError too.

    Warns
    -----
    RunoffWarning
        When the record does not reach from `start` to `end`.
    """
    refuse_other_kinds("read_weather", path=path)
    path = Path(path)
    name = shown_name(path)
    try:
        data, digest = _read(path, columns, units, layout_of(layout), chunks, site)
        data = _placed(data, latitude, longitude, elevation_m)
        data.attrs.update(source=name, sha256=digest)
        title = str(data.attrs.get("title") or name)
        data.attrs["title"] = title if site is None or site in title else f"{title}, {site}"
        data = as_weather(data, needs_rain=False)
        whole = data
        if start is not None or end is not None:
            data = _selected(data, start, end)
        if "rain" in data and not data["rain"].chunks:
            data = refuse_doubtful(data, whole, trust_unit)
        if fill:
            data = _filled(data, fill)
    except MissingFileError:
        raise
    except RunoffError as error:
        raise _of_file(error, name) from None
    given: dict[str, Any] = {
        "start": start,
        "end": end,
        "latitude": latitude,
        "longitude": longitude,
        "elevation_m": elevation_m,
    }
    given |= {"columns": columns, "units": units, "layout": layout, "et_method": et_method, "fill": fill, "site": site}
    data.attrs |= _as_given(given | {"trust_unit": trust_unit or None})
    return _with_reference_et(data, et_method) if "rain" in data else data


def read_stored(
    path: str | Path,
    columns: Mapping[str, str | int] | None = None,
    units: Mapping[str, str] | None = None,
    *,
    in_stretches: bool = False,
) -> xr.Dataset:
    """Return the weather of a store or file, left on disk in the precision in which it is stored, as far as it holds it itself.

    Parameters
    ----------
    path, columns, units
        As in `read_weather`.
    in_stretches
        Whether chunks of a Zarr folder that hold a long record come in stretches of time, which are asked for one after the other.

    Returns
    -------
    xarray.Dataset
        Series in house units on ``time``; rain may be absent.

    Raises
    ------
    WeatherError
        As `read_weather`.
    """
    refuse_other_kinds("read_weather", path=path)
    path = Path(path)
    name = shown_name(path)
    try:
        data, digest = _read(path, columns, units, layout_of(None), {}, None, as_stored=True, in_stretches=in_stretches)
        data.attrs.update(source=name, sha256=digest)
        data.attrs["title"] = data.attrs.get("title") or name
        return as_weather(data, needs_rain=False)
    except MissingFileError:
        raise
    except RunoffError as error:
        raise _of_file(error, name) from None


def _of_file(error: RunoffError, name: str) -> WeatherError:
    """Return what is wrong with a file, each line with its name in front."""
    lines = [_GENERIC.sub("", line) for line in str(error).split("\n")]
    kind = DoubtedWeatherError if isinstance(error, DoubtedWeatherError) else WeatherError
    return kind("\n".join(f"{name}: {line}" for line in lines))


def _as_given(options: Mapping[str, Any]) -> dict[str, str]:
    """Return how a file was read as an attribute, so that whoever checks a result can read it the same way."""
    layout = options["layout"]
    if isinstance(layout, TableLayout):
        usual = dataclasses.asdict(TableLayout())
        chosen = {name: value for name, value in dataclasses.asdict(layout).items() if value != usual[name]}
        options = {**options, "layout": chosen}
    stated = {name: value for name, value in options.items() if value not in (None, {}, "")}
    return {"reading_options": json.dumps(stated, default=str, sort_keys=True, ensure_ascii=False)} if stated else {}


_APART_DEG = 0.5  # two towns, or a sign forgotten, rather than a finer reading of the map


def _placed(data: xr.Dataset, latitude: float | None, longitude: float | None, elevation_m: float | None) -> xr.Dataset:
    """Return the record with the place given; refuse what is nowhere on earth, or elsewhere than the file says."""
    asked = (
        ("lat", "latitude", latitude, -90.0, 90.0, "degrees, south negative"),
        ("lon", "longitude", longitude, -180.0, 360.0, "degrees, west negative"),
        ("elevation", "elevation_m", elevation_m, -450.0, 6000.0, "m above the sea"),
    )
    faults, place = [], {}
    for name, argument, value, low, high, words in asked:
        if value is None:
            continue
        if not low <= float(value) <= high:
            faults.append(f"{argument} lies between {low:g} and {high:g} {words} (given {value})")
        elif name in data.variables and data[name].ndim:
            faults.append(f"{argument}: the file says its own, one for each place; leave {argument} out")
        elif name in data.variables and name != "elevation":
            own = float(data[name])
            if abs((own - float(value) + 180.0) % 360.0 - 180.0) > _APART_DEG:
                faults.append(
                    f"{argument} {float(value):g} is given, but the file says {own:g}; leave it out, or correct the wrong one"
                )
        place[name] = float(value)
    raise_faults("weather", faults, WeatherError)
    return data.assign_coords(place)


def _read(
    path: Path,
    columns: Any,
    units: Mapping[str, str] | None,
    layout: TableLayout,
    chunks: Any,
    site: str | None,
    *,
    as_stored: bool = False,
    in_stretches: bool = False,
) -> tuple[xr.Dataset, str]:
    """Return the record as the reader of its kind gives it, and the digest of the file (none of a folder)."""
    given: dict[str, Any] = {
        "columns": columns,
        "units": units,
        "stamp": layout.stamp,
        "chunks": chunks,
        "as_stored": as_stored,
        "in_stretches": in_stretches,
    }
    if stat.S_ISDIR(refuse_missing(path, "weather file", WeatherError).st_mode):
        if not any((path / name).exists() for name in ("zarr.json", ".zgroup", ".zmetadata")):
            raise WeatherError("this is a folder, not a weather file (and no Zarr folder)")
        return _at_site(read_netcdf(path, **given), site), ""
    raw = read_bytes(path, "weather file", WeatherError, stays_on_disk=is_netcdf)
    if raw is None:  # it may be larger than memory
        with path.open("rb") as file:
            digest = hashlib.file_digest(file, "sha256").hexdigest()
        return _at_site(read_netcdf(path, **given), site), digest
    digest = hashlib.sha256(raw).hexdigest()
    raw = unpacked(raw, "weather file", WeatherError)
    if is_netcdf(raw):
        return _at_site(read_netcdf(io.BytesIO(raw), **given), site), digest
    return _read_text(text_of(raw), columns, units, layout, site), digest


def is_netcdf(head: bytes) -> bool:
    """Tell a NetCDF file, of either kind, from its first bytes."""
    return head[:4] == b"\x89HDF" or head[:3] == b"CDF"


def text_of(raw: bytes, wanted: str = "weather file") -> str:
    """Return the text of a file, or say what the file is instead of what is wanted."""
    head = raw[:65536]
    if not head.strip() and not raw.strip():
        raise WeatherError("the file is empty")
    for magic, words in _OTHER_FILES.items():
        if raw.startswith(magic):
            raise WeatherError(f"this is {words.format(wanted=wanted)}")
    if b"\x00" in raw[:4096] and raw[:2] not in (b"\xff\xfe", b"\xfe\xff") and raw[:4] != b"\x00\x00\xfe\xff":
        kinds = "weather files are text, NetCDF or Zarr" if wanted == "weather file" else f"a {wanted} is text (CSV)"
        raise WeatherError(f"this is a binary file of a kind that is not known; {kinds}")
    text = decoded(raw, WeatherError)
    begin = text[:65536].lstrip()
    if begin[:1] == "<":
        raise WeatherError(
            f"this is a web page (HTML or XML), not a {wanted}; save the data themselves, not the page that shows them"
        )
    if re.search(r"^[ \t]*(\[roof\]|\[\[layer\]\])", begin, re.MULTILINE):
        raise WeatherError(
            f"this is a roof file, not a {wanted}; the roof comes first on the command line, the weather second"
        )
    if begin[:1] == "{":
        raise WeatherError("this is a JSON file, not a table; save the values as CSV")
    return text


def _at_site(data: xr.Dataset, site: str | None) -> xr.Dataset:
    """Return one of the sites of a NetCDF file; all of them where none is chosen."""
    if site is None:
        return data
    if "site" not in data.coords or data["site"].ndim == 0:
        raise WeatherError(f'site "{shown(site)}" is asked for, but the file holds no named sites')
    names = [str(one) for one in data["site"].to_numpy()]
    if site not in names:
        raise WeatherError(
            f'there is no site "{shown(site)}" in the file{nearest(site, names)}; it holds {named(names)}'
        )
    return data.isel(site=names.index(site))


def _read_text(
    text: str, columns: Any, units: Mapping[str, str] | None, layout: TableLayout, site: str | None
) -> xr.Dataset:
    is_dly = looks_like_dly(text)
    if is_dly and columns:
        raise WeatherError("a .dly file says itself what its values are; leave columns= and units= out")
    if is_dly or (columns is None and looks_like_station_csv(text)):
        return read_station_daily(text if site is None else station_lines(text, site, is_dly=is_dly))
    return read_table(text, columns=columns, units=units, layout=layout, site=site)


def sites_in(path: str | Path, layout: TableLayout | Mapping[str, Any] | None = None) -> list[str]:
    """Return the names of the sites that a text file holds one below the other.

    Parameters
    ----------
    path
        The file.
    layout
        Of a plain table, with the column that names the sites.

    Returns
    -------
    list of str
        Empty for a plain table whose layout names no such column, and for files of other kinds.
    """
    raw = read_bytes(Path(path), "weather file", WeatherError, stays_on_disk=is_netcdf)
    if raw is None or is_netcdf(raw):
        return []
    text, how = text_of(unpacked(raw, "weather file", WeatherError)), layout_of(layout)
    if how.site_column is not None:
        return sites_of_table(text, how)
    is_dly = looks_like_dly(text)
    return stations_of(text, is_dly=is_dly) if is_dly or looks_like_station_csv(text) else []


def _selected(data: xr.Dataset, start: str | int | None, end: str | int | None) -> xr.Dataset:
    """Return the years or dates asked for, both ends included, and warn where the record does not reach them."""
    first, last = (stamp_words(data["time"].to_numpy()[i])[:10] for i in (0, -1))
    begin, finish = (None if one is None else str(one).strip() for one in (start, end))
    try:
        chosen = data.sel(time=slice(begin, finish))
    except (KeyError, ValueError, TypeError):
        calendar = str(data["time"].dt.calendar)
        words = (
            f" of the calendar {calendar}" if calendar not in ("standard", "proleptic_gregorian", "gregorian") else ""
        )
        given = " and ".join(f'{name} "{one}"' for name, one in (("start", begin), ("end", finish)) if one is not None)
        raise WeatherError(f"{given} must be years or dates{words}, such as 1990 or 2019-06-30") from None
    if chosen.sizes["time"] == 0:
        raise WeatherError(
            f"nothing lies between {begin or 'the start'} and {finish or 'the end'}; the file runs from {first} to {last}"
        )
    short = []
    if begin is not None and first > (begin + "-01-01"[len(begin) - 4 :])[:10]:
        short.append(f"begins {first} (asked from {begin})")
    if finish is not None and last < (finish + "-12-28"[len(finish) - 4 :])[:10]:
        short.append(f"ends {last} (asked to {finish})")
    if short:
        warnings.warn(f"{data.attrs['source']}: the record {' and '.join(short)}", RunoffWarning, stacklevel=4)
    return chosen


def _filled(data: xr.Dataset, fill: Mapping[str, str]) -> xr.Dataset:
    unknown = sorted(set(fill) - set(FILLABLE))
    if unknown:
        raise WeatherError(f"fill takes {', '.join(FILLABLE)} (given {', '.join(unknown)})")
    return fill_gaps(data, **fill)


def _with_reference_et(data: xr.Dataset, method: str | None) -> xr.Dataset:
    """Form reference evapotranspiration when asked or when the data allow; else note why not (`simulate` will ask)."""
    try:
        return with_reference_et(data, method)
    except WeatherError as error:
        if method is not None:
            raise WeatherError(f"{data.attrs['source']}: {error}") from None
        return data.assign_attrs(reference_et_missing=str(error))
