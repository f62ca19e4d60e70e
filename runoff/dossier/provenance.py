"""What a dossier carries inside so that it can be checked: roof, weather, storms, options, versions and every figure.

The record is plain JSON. The daily weather itself is part of it, so that a dossier can be recomputed without any other
file; with the station's file at hand the weather inside is checked against it as well.
"""

from __future__ import annotations

import base64
import functools
import hashlib
import importlib.metadata
import json
import math
import platform
import tomllib
import zlib
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
import tomli_w

from runoff.errors import RunoffError, WeatherError
from runoff.weather.evaporation.evapotranspiration import with_reference_et

if TYPE_CHECKING:
    import xarray as xr

    from runoff.roof import Roof
    from runoff.storms.depth_duration import DepthDurationTable

FORMAT = "runoff dossier 2"
_CHANGED = "the weather inside cannot be read: it has been changed or cut"
_PACKAGES = ("runoff", "numpy", "xarray", "pandas", "scipy", "matplotlib", "jinja2")
_TIME_UNIT = "D"
#: What weather inside a file may unpack to at most, bytes for each series: three centuries of days take a third of it.
MOST_UNPACKED = 4_000_000


def versions() -> dict[str, str]:
    """Return the versions that a number may depend on."""
    from runoff.version import __version__

    found = {"runoff": __version__, "python": platform.python_version()}
    for name in _PACKAGES[1:]:
        found[name] = _installed(name)
    return found


@functools.cache
def _installed(name: str) -> str:
    """Return the version of an installed package: its whole description is read for it, which takes longer than a page's text."""
    return importlib.metadata.version(name)


def json_number(value: float) -> float | None:
    """Return a number as JSON can hold it: a missing one is null."""
    return value if math.isfinite(value) else None


def pack_weather(weather: xr.Dataset) -> dict[str, Any]:
    """Return a daily record of one site as JSON, exact to the last bit.

    Each series is kept as its distinct values and an index, compressed: station records have few distinct values.
    """
    time = weather["time"].to_numpy()
    derived = _evapotranspiration_follows(weather)
    if derived:
        weather = weather.drop_vars("reference_et")
    series = {}
    for name, array in weather.data_vars.items():
        if array.dims == ("time",) and array.dtype.kind in "fiubUO":
            series[str(name)] = {"attrs": _plain(array.attrs), "data": _pack(array.to_numpy())}
    coords = {
        str(name): float(array)
        for name, array in weather.coords.items()
        if array.ndim == 0 and np.issubdtype(array.dtype, np.number)
    }
    packed = {
        "attrs": _plain(weather.attrs),
        "coords": coords,
        "calendar": str(weather["time"].dt.calendar),
        "start": str(time[0])[:10],
        "days": int(time.size),
        "reference_et_derived": derived,
        "series": series,
    }
    packed["series_sha256"] = series_checksum(series)
    return packed


def unpack_weather(packed: dict[str, Any]) -> xr.Dataset:
    """Return the record that `pack_weather` packed.

    Raises
    ------
    RunoffError
        When it cannot be unpacked.
    """
    import xarray as xr

    standard = packed["calendar"] in ("proleptic_gregorian", "standard", "gregorian")
    time = xr.date_range(
        packed["start"],
        periods=packed["days"],
        freq=_TIME_UNIT,
        calendar="standard" if standard else packed["calendar"],
        use_cftime=not standard,
    )
    weather = xr.Dataset(coords={"time": np.asarray(time), **packed["coords"]}, attrs=packed["attrs"])
    for name, one in packed["series"].items():
        weather[name] = ("time", _unpack(one["data"], packed["days"]), one["attrs"])
    return with_reference_et(weather) if packed["reference_et_derived"] else weather


def _evapotranspiration_follows(weather: xr.Dataset) -> bool:
    """Tell whether the reference evapotranspiration is the one the package forms from the rest, bit for bit."""
    if "reference_et" not in weather:
        return False
    try:
        again = with_reference_et(weather.drop_vars("reference_et"))["reference_et"]
    except WeatherError:
        return False
    given = weather["reference_et"]
    same_method = again.attrs.get("method") == given.attrs.get("method")
    return same_method and np.array_equal(again.to_numpy(), given.to_numpy(), equal_nan=True)


def reading_of(attrs: Mapping[str, Any]) -> dict[str, Any]:
    """Return the options that a weather file was read with, as `runoff.read_weather` takes and records them."""
    try:
        found = json.loads(attrs.get("reading_options", "{}"))
    except (ValueError, TypeError, RecursionError):
        found = None
    if not isinstance(found, dict):
        raise RunoffError("the options that the weather file was read with cannot be read: they have been changed")
    return found


def pack_storms(table: DepthDurationTable | None) -> dict[str, Any] | None:
    """Return a depth-duration table as JSON, or None."""
    if table is None:
        return None
    return {
        "durations_min": list(table.durations_min),
        "return_periods_years": list(table.return_periods_years),
        "depths_mm": [list(row) for row in table.depths_mm],
        "series": table.series,
        "source": table.source,
        "latitude_deg": table.latitude_deg,
        "notes": list(table.notes),
    }


def unpack_storms(packed: dict[str, Any] | None) -> DepthDurationTable | None:
    """Return the table that `pack_storms` packed."""
    from runoff.storms.depth_duration import DepthDurationTable

    if packed is None:
        return None
    return DepthDurationTable(
        durations_min=tuple(packed["durations_min"]),
        return_periods_years=tuple(packed["return_periods_years"]),
        depths_mm=tuple(tuple(row) for row in packed["depths_mm"]),
        series=packed["series"],
        source=packed["source"],
        latitude_deg=packed["latitude_deg"],
        notes=tuple(packed["notes"]),
    )


def roof_of_record(text: str) -> Roof:
    """Return the roof from the roof file inside a dossier.

    The file names every value, so a material is only a name here, and one that the materials table does not list is
    kept as it is.
    """
    from runoff.roof import BuildUp
    from runoff.roof.roof_file import roof_from_toml

    try:
        table = tomllib.loads(text)
        names = [layer.pop("material", "") for layer in table["layer"]]
    except (tomllib.TOMLDecodeError, KeyError, AttributeError, TypeError):
        raise RunoffError("the roof inside the dossier cannot be read: it has been changed or cut") from None
    roof = roof_from_toml(tomli_w.dumps(table), where="roof inside the dossier")
    layers = [
        layer.model_copy(update={"material": name}) for layer, name in zip(roof.build_up.layers, names, strict=True)
    ]
    return roof.model_copy(update={"build_up": BuildUp(layers=tuple(layers))})


def checksum(content: Any) -> str:
    """Return the SHA-256 of text, or of anything JSON can hold."""
    text = content if isinstance(content, str) else json.dumps(content, sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def series_checksum(series: dict[str, Any]) -> str:
    """Return the SHA-256 of the series as they are unpacked: how they are packed differs between versions of zlib."""
    return checksum({name: _digests(one["data"]) for name, one in series.items()})


def _digests(packed: dict[str, Any]) -> dict[str, Any]:
    return {
        name: hashlib.sha256(_bytes(part)).hexdigest() if isinstance(part, str) else part
        for name, part in packed.items()
    }


def _pack(values: np.ndarray) -> dict[str, Any]:
    """Return the distinct values and the index of a series of numbers or of words."""
    if values.dtype.kind in "UO":
        words, index = np.unique(values.astype(str), return_inverse=True)
        return {"words": words.tolist(), "index": _pack_index(index, words.size)}
    distinct, index = np.unique(values.astype("<f8").view("<i8"), return_inverse=True)  # by bits: -0.0 is not 0.0 here
    return {"values": _text(distinct.tobytes()), "index": _pack_index(index, distinct.size)}


def _pack_index(index: np.ndarray, distinct: int) -> str:
    kind = "<u2" if distinct < 65536 else "<u4"
    # all low bytes first, then all high ones: the second half is then nearly constant and packs to nothing
    split = index.astype(kind).view(np.uint8).reshape(index.size, -1).T
    return _text(split.tobytes())


def _unpack(packed: dict[str, Any], size: int) -> np.ndarray:
    split = np.frombuffer(_bytes(packed["index"]), dtype=np.uint8)
    width = split.size // size
    if width not in (2, 4) or split.size != width * size:
        raise RunoffError(_CHANGED)
    index = np.ascontiguousarray(split.reshape(width, size).T).view(f"<u{width}").ravel()
    if "words" in packed:
        return np.array(packed["words"])[index]
    return np.frombuffer(_bytes(packed["values"]), dtype="<f8")[index]


def _text(raw: bytes) -> str:
    return base64.b64encode(zlib.compress(raw, 9)).decode("ascii")


def _bytes(text: str) -> bytes:
    """Return what was packed; a file from elsewhere may say it is small and unpack to all the memory there is."""
    try:
        stream = zlib.decompressobj()
        raw = stream.decompress(base64.b64decode(text.encode("ascii"), validate=True), MOST_UNPACKED)
    except (ValueError, zlib.error):
        raise RunoffError(_CHANGED) from None
    if stream.unconsumed_tail:
        raise RunoffError(
            f"a series of the weather inside unpacks to more than {MOST_UNPACKED:,} bytes; no record is so long"
        )
    if not stream.eof or stream.unused_data:
        raise RunoffError(_CHANGED)
    return raw


def _plain(attrs: dict[Any, Any]) -> dict[str, Any]:
    """Return attributes that JSON can hold."""
    plain = {}
    for name, value in sorted(attrs.items(), key=lambda item: str(item[0])):
        value = value.item() if isinstance(value, np.generic) else value
        plain[str(name)] = value if isinstance(value, str | int | float | bool) else str(value)
    return plain
