"""Arguments that several commands share: the roof, the weather, the units, the folder for results."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from runoff.errors import RunoffError, raise_faults

if TYPE_CHECKING:
    import xarray as xr

    from runoff.roof import Roof


#: Parts of a table layout that are no plain words: how to read them, and what they are.
_LAYOUT_FORMS: dict[str, tuple[Callable[[str], Any], str]] = {
    "skip_lines": (int, "a number of lines"),
    "header": ({"yes": True, "no": False}.__getitem__, "yes or no"),
    "missing": (lambda text: [float(one) for one in text.split(",")], "one or more numbers with commas between"),
    "trace": (lambda text: text.split(","), "one or more words with commas between"),
    "wind_height_m": (float, "a height in m"),
}


def add_roof(parser: argparse.ArgumentParser) -> None:
    """Add the roof file."""
    parser.add_argument("roof", nargs="?", metavar="ROOF.toml", help="roof description; default: the sample roof")


def add_weather(parser: argparse.ArgumentParser, *, positional: bool = True) -> None:
    """Add the weather file and what reading it may need."""
    group = parser.add_argument_group("weather")
    if positional:
        parser.add_argument("weather", nargs="?", metavar="WEATHER", help="weather file; default: the sample climate")
    else:
        group.add_argument("--weather", metavar="FILE", help="weather file; default: the sample climate")
    group.add_argument("--start", metavar="YEAR", help="first year or date used")
    group.add_argument("--end", metavar="YEAR", help="last year or date used")
    group.add_argument("--latitude", type=float, metavar="DEG", help="degrees, south negative, when the file has none")
    group.add_argument("--longitude", type=float, metavar="DEG", help="degrees, west negative, for hourly formulas")
    group.add_argument("--elevation", type=float, metavar="M", help="height of the station, m")
    group.add_argument("--et-method", metavar="NAME", help="reference evapotranspiration; default: by the data")
    group.add_argument(
        "--fill", action="append", default=[], metavar="QUANTITY=METHOD",
        help="fill gaps by a named method, for example rain=zero or temperature=interpolate; counted and printed",
    )  # fmt: skip
    add_table(group)


def add_table(group: argparse._ArgumentGroup) -> None:
    """Add what reading a plain table may need."""
    group.add_argument(
        "--trust-unit", action="store_true", help="accept amounts that look like a wrong unit, when they are right"
    )
    group.add_argument(
        "--column", action="append", default=[], metavar="QUANTITY=NAME", help="column of a table, for example rain=RR"
    )
    group.add_argument(
        "--unit", action="append", default=[], metavar="QUANTITY=UNIT", help="unit of a column, for example rain=in"
    )
    group.add_argument(
        "--layout", action="append", default=[], metavar="NAME=VALUE",
        help="how a table is laid out, for example stamp=end, decimal=, header=no, missing=-9999,-99 or trace=T",
    )  # fmt: skip


def add_units(parser: argparse.ArgumentParser) -> None:
    """Add the choice of unit system."""
    parser.add_argument("--units", choices=("si", "us"), default="si", help="units of what is printed and drawn")


def add_out(parser: argparse.ArgumentParser, default: str = "results") -> None:
    """Add the folder for results."""
    parser.add_argument("--out", default=default, metavar="FOLDER", help=f"folder for results (default: {default})")


def roof_of(options: argparse.Namespace) -> Roof:
    """Return the roof asked for, or the sample roof."""
    from runoff.roof import open_sample_roof, read_roof

    return read_roof(options.roof) if options.roof else open_sample_roof("cups")


def weather_of(options: argparse.Namespace) -> xr.Dataset:
    """Return the weather asked for, or the sample climate."""
    from runoff.weather import open_sample, read_weather

    if not options.weather:
        weather = open_sample()
        if options.start or options.end:
            weather = weather.sel(time=slice(options.start, options.end))
        return weather
    given: dict[str, Any] = {
        "start": options.start,
        "end": options.end,
        "latitude": options.latitude,
        "longitude": options.longitude,
        "elevation_m": options.elevation,
        "et_method": options.et_method,
        "fill": _pairs(options.fill, "--fill"),
        **table_of(options),
    }
    return read_weather(
        options.weather, **{name: value for name, value in given.items() if value is not None and value != {}}
    )


def table_of(options: argparse.Namespace) -> dict[str, Any]:
    """Return ``columns``, ``units``, ``layout`` and ``trust_unit`` for `runoff.read_weather`, as far as given."""
    layout: dict[str, Any] = dict(_pairs(options.layout, "--layout"))
    faults = []
    for name, text in layout.items():
        form, words = _LAYOUT_FORMS.get(name, (str, ""))
        try:
            layout[name] = form(text)
        except (ValueError, KeyError):
            faults.append(f'{name} is {words} (given "{text}")')
    raise_faults("--layout", faults)
    columns: dict[str, Any] = dict(_pairs(options.column, "--column"))
    if layout.get("header") is False:  # without names, columns go by number
        columns = {name: int(column) if column.isdigit() else column for name, column in columns.items()}
    found = {
        "columns": columns,
        "units": _pairs(options.unit, "--unit"),
        "layout": layout,
        "trust_unit": options.trust_unit,
    }
    return {name: value for name, value in found.items() if value}


def result_folder(options: argparse.Namespace) -> Path:
    """Return the folder for results, made if need be."""
    folder = Path(options.out)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise RunoffError(f"cannot write into {folder}: {error.strerror}; choose another folder with --out") from None
    return folder


def _pairs(words: list[str], option: str) -> dict[str, str]:
    pairs = {}
    for word in words:
        name, mark, value = word.partition("=")
        if not mark or not name or not value:
            raise RunoffError(f'{option} wants QUANTITY=VALUE, for example {option} rain=... (given "{word}")')
        pairs[name] = value
    return pairs
