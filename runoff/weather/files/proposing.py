"""How a file that is not understood can probably be read: the whole line of flags to copy, tried before it is shown.

A proposal is a guess, and says so with its reasons; `read_weather` itself guesses nothing. What a person copies is on the
record, in their command and in the attributes of what was read.
"""

from __future__ import annotations

import contextlib
import dataclasses
import re
import shlex
import warnings
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import xarray as xr

from runoff.errors import RunoffError, WeatherError, shown
from runoff.file_bytes import read_bytes, unpacked
from runoff.units import unit_dimension
from runoff.weather.files.column_guesses import Column, guess_columns
from runoff.weather.files.netcdf import open_weather_file
from runoff.weather.files.reading import is_netcdf, read_weather, text_of
from runoff.weather.files.several_sites import named
from runoff.weather.files.stamp_guesses import Stamps, guess_sites, guess_stamps, tells_apart
from runoff.weather.files.table_shape import TableShape, find_shape
from runoff.weather.record.time_axis import counted, stamp_words, step_hours, step_words

_TRIES = 3
_PLACE = re.compile(r"\b(lat|lon|elev|alt)\w*\b[\s:=]*(-?\d+(?:\.\d+)?)", re.IGNORECASE)
_PLACE_WORDS = {"lat": "latitude", "lon": "longitude", "ele": "elevation_m", "alt": "elevation_m"}
_CODE_FAULT = re.compile(
    r"(-?[\d.]+) on .* is a code for missing|as files write missing|is how files write missing; declare it, missing=\[([\d.]+)\]"
)
_ZONES = re.compile(r"\btime ?zone\b\W+([A-Z]{2,5}(?:[+-]\d{1,2})?)", re.IGNORECASE)


@dataclasses.dataclass(frozen=True)
class Proposal:
    """How a file can probably be read.

    Parameters
    ----------
    path
        The file.
    options
        Keyword arguments of `runoff.read_weather`.
    reasons
        Why each of them, one sentence a line.
    outcome
        What came of trying it: the record in words.
    wanting
        What only the user knows, such as the latitude, as flags with a place to fill in.
    """

    path: Path
    options: dict[str, Any]
    reasons: tuple[str, ...]
    outcome: str
    wanting: tuple[str, ...] = ()

    def flags(self) -> str:
        """Return the options as the command line takes them."""
        words: list[str] = []
        for name, flag in (("columns", "--column"), ("units", "--unit"), ("layout", "--layout")):
            for key, value in self.options.get(name, {}).items():
                words += [flag, f"{key}={_spelled(value)}"]
        for name, flag in (("latitude", "--latitude"), ("longitude", "--longitude"), ("elevation_m", "--elevation")):
            if name in self.options:
                words += [flag, f"{self.options[name]:g}"]
        return " ".join(map(shlex.quote, words))

    def command(self, start: str = "runoff check-weather") -> str:
        """Return the whole line to copy."""
        return f"{start} {shlex.quote(str(self.path))} {self.flags()}".rstrip()

    def __str__(self) -> str:
        """Return the proposal as a person reads it."""
        lines = [f"It can probably be read so; this was tried and gives {self.outcome}:", "", f"  {self.command()}", ""]
        lines += ["Why, so that you can check it:", *(f"  {reason}" for reason in self.reasons)]
        if self.wanting:
            lines += ["", f"Still needed for evapotranspiration: {', '.join(self.wanting)}"]
        return "\n".join(lines)


def _spelled(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list | tuple):
        return ",".join(f"{one:g}" if isinstance(one, float) else str(one) for one in value)
    return str(value)


def propose_reading(path: str | Path, given: Mapping[str, Any] | None = None) -> Proposal | None:
    """Propose how to read a weather file.

    Parameters
    ----------
    path
        Text table, gzipped or not, or NetCDF.
    given
        What the user has said already (arguments of `runoff.read_weather`); it is kept.

    Returns
    -------
    Proposal or None
        None where nothing was found under which the file can be read.
    """
    path = Path(path)
    try:
        raw = read_bytes(path, "weather file", WeatherError, stays_on_disk=is_netcdf)
        if raw is None or is_netcdf(raw):
            (options, reasons), step = _of_netcdf(path), ""
        else:
            options, reasons, step = _of_table(text_of(unpacked(raw, "weather file", WeatherError)))
    except RunoffError:
        return None
    if not options:
        return None
    return _tried(path, _joined(options, given or {}), reasons, step)


def _joined(options: dict[str, Any], given: Mapping[str, Any]) -> dict[str, Any]:
    """Return the guesses with what the user has said over them."""
    joined = dict(options)
    for name, value in given.items():
        if isinstance(value, Mapping):
            joined[name] = {**joined.get(name, {}), **value}
        elif value is not None:
            joined[name] = value
    return joined


def _tried(path: Path, options: dict[str, Any], reasons: list[str], step: str) -> Proposal | None:
    """Try the options, mend what the reader names once or twice, and return what works."""
    for _ in range(_TRIES):
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                data = read_weather(path, **options)
        except RunoffError as error:
            mended = _mended(options, reasons, str(error), step)
            if not mended:
                return None
            continue
        if "rain" not in data:
            return None
        wanting = ("--latitude DEG (south negative)",) if "lat" not in data.variables else ()
        return Proposal(path, options, tuple(reasons), _outcome(data), wanting)
    return None


def _mended(options: dict[str, Any], reasons: list[str], message: str, step: str) -> bool:
    """Take into the options, in place, what the reader's own message asks to declare; tell whether there was anything."""
    layout = options.setdefault("layout", {})
    codes = [float(one[0] or one[1]) for one in _CODE_FAULT.findall(message) if one[0] or one[1]]
    fresh = [code for code in dict.fromkeys(codes) if code not in layout.get("missing", [])]
    if fresh:
        layout["missing"] = [*layout.get("missing", []), *fresh]
        reasons.append(f"missing: {', '.join(f'{code:g}' for code in fresh)} cannot be measured")
        return True
    if ("off the step" in message or "stamps given twice" in message) and "regular_to" not in layout:
        layout.pop("round_to", None)
        layout["regular_to"] = step
        reasons.append("regular_to: the clock drifts or was set, so amounts are shared out on even steps")
        return True
    if "declare them, decimal" in message and "decimal" not in layout:
        layout["decimal"] = ","
        reasons.append("decimal: numbers are written with a comma")
        return True
    # a column that cannot be used is left out, unless it is the rain
    for quantity in list(options.get("columns", {})):
        if quantity not in ("time", "rain") and re.search(rf"(: |`){quantity}\b", message):
            del options["columns"][quantity]
            options.get("units", {}).pop(quantity, None)
            reasons[:] = [reason for reason in reasons if not reason.startswith(f"{quantity}: ")]
            return True
    return False


def _outcome(data: xr.Dataset) -> str:
    time = data["time"].to_numpy()
    span = f"{counted(time.size, 'step')} of {step_words(step_hours(data['time']) / 24.0)} from {stamp_words(time[0])} to {stamp_words(time[-1])}"
    rest = sorted(str(name) for name in data.data_vars if name not in ("rain", "rain_flag"))
    total = ""
    if "rain" in data:
        rain = data["rain"]
        per_year = float(rain.mean()) * 24.0 / step_hours(data["time"]) * 365.25
        missing = int(rain.isnull().sum())
        total = f", {per_year:.0f} mm of rain a year" + (f", {missing} steps missing" if missing else "")
    return f"{span}{total}{', with ' + ', '.join(rest) if rest else ''}"


def _of_table(text: str) -> tuple[dict[str, Any], list[str], str]:
    """Return options and reasons for a table, and its step."""
    shape = find_shape(text)
    sites = None
    stamps = guess_stamps(shape) if shape else None
    if shape is not None and (stamps is None or not tells_apart(shape, stamps.places)):
        sites = guess_sites(shape)
        shape, stamps = (sites.shape, sites.stamps) if sites is not None else (shape, stamps)
    if shape is None or stamps is None:
        return {}, [], ""
    columns = guess_columns(shape, set(stamps.places), stamps.per_day)
    if not columns:
        return {}, [], ""
    layout, reasons = _layout_of(shape, stamps)
    options: dict[str, Any] = {"columns": {}, "units": {}, "layout": layout}
    if sites is not None:
        layout["site_column"] = str(_names_of(shape, (sites.at,)))
        options["site"] = sites.names[0]
        reasons.append(
            f"site_column: {counted(len(sites.names), 'site')} one below the other, {named(list(sites.names))}; each is checked"
        )
    if stamps.places:
        options["columns"]["time"] = _names_of(shape, stamps.places)
    missing: list[float | str] = []
    for column in columns:
        options["columns"][column.quantity] = _names_of(shape, (column.at,))
        options["units"][column.quantity] = column.unit
        reasons.append(f"{column.quantity}: {column.reason}")
        missing += [code for code in map(_code, column.missing) if code not in missing]
        if column.traces:
            layout["trace"] = [*layout.get("trace", []), *column.traces]
            reasons.append(f"trace: {', '.join(column.traces)} stands for too little to measure, taken as 0")
    if missing:
        layout["missing"] = missing
        reasons.append(f"missing: {', '.join(map(str, missing))} {'is' if len(missing) == 1 else 'are'} no measurement")
    if _decimal_comma(shape, columns):
        layout["decimal"] = ","
        reasons.append("decimal: numbers are written with a comma")
    if sites is None:
        options.update(_place_in(shape, reasons))
    kept = {name: value for name, value in options.items() if value not in ({}, None)}
    return kept, reasons, f"{round(1440.0 / stamps.per_day)}min"


def _code(text: str) -> float | str:
    try:
        return float(text)
    except ValueError:
        return text


def _layout_of(shape: TableShape, stamps: Stamps) -> tuple[dict[str, Any], list[str]]:
    layout: dict[str, Any] = {}
    reasons: list[str] = []
    named = {"\t": "tab"}.get(shape.separator, shape.separator)
    usual = next((one for one in (";", "\t", ",") if any(one in cell for cell in (shape.names or []))), None)
    if named and (named not in (",", ";", "tab") or usual):
        layout["separator"] = named
        reasons.append(f"separator: {named}")
    if len(shape.head):
        layout["skip_lines"] = len(shape.head)
        reasons.append(
            f"skip_lines: the {'names' if shape.names else 'values'} begin after {counted(len(shape.head), 'line')}"
        )
    if shape.names is None:
        layout["header"] = False
        reasons.append("header: no line of names above the values, so columns go by number, from 0")
    layout.update(stamps.layout)
    reasons += stamps.reasons
    for line in shape.head:
        zone = _ZONES.search(line)
        if zone:
            layout["time_zone"] = zone[1]
            reasons.append(f'time_zone: the head says "{zone[1]}"')
            break
    return layout, reasons


def _names_of(shape: TableShape, places: tuple[int, ...]) -> Any:
    """Return columns by name where that is clear, else by number."""
    names = shape.names or []
    clear = [
        names[at] if names and names[at] and names.count(names[at]) == 1 and "+" not in names[at] else at
        for at in places
    ]
    if len(clear) == 1:
        return clear[0]
    return "+".join(map(str, clear))


def _decimal_comma(shape: TableShape, columns: list[Column]) -> bool:
    cells = [row[column.at] for column in columns for row in shape.rows[:2000]]
    return shape.separator != "," and any(re.fullmatch(r"-?\d*,\d+", cell) for cell in cells)


def _place_in(shape: TableShape, reasons: list[str]) -> dict[str, float]:
    """Return the place that the head of the file or columns of one value say."""
    found: dict[str, float] = {}
    for line in shape.head:
        for word, number in _PLACE.findall(line):
            name = _PLACE_WORDS[word[:3].lower()]
            if name not in found:
                found[name] = float(number)
                reasons.append(f"{name}: the head says {number}")
    for at, column in enumerate(shape.names or []):
        name = {"latitude": "latitude", "lat": "latitude", "longitude": "longitude", "lon": "longitude"}.get(
            column.lower(), ""
        )
        values = {row[at] for row in shape.rows}
        if name and len(values) == 1 and name not in found:
            with contextlib.suppress(ValueError):
                found[name] = float(values.pop())
                reasons.append(f"{name}: column {column}")
    limits = {"latitude": 90.0, "longitude": 360.0, "elevation_m": 6000.0}
    return {name: value for name, value in found.items() if abs(value) <= limits[name]}


def _of_netcdf(path: Path) -> tuple[dict[str, Any], list[str]]:
    """Return options and reasons for a file whose rain goes by an unknown name."""
    opened = open_weather_file(path)
    try:
        options: dict[str, Any] = {"columns": {}}
        reasons = []
        for name in map(str, opened.data_vars):
            variable = opened[name]
            words = f"{name} {variable.attrs.get('long_name', '')} {variable.attrs.get('standard_name', '')}".lower()
            if "time" not in variable.dims or "rain" in options["columns"] or "snow" in words:
                continue
            unit = str(variable.attrs.get("units", ""))
            try:
                wet = unit_dimension(unit) in ("depth", "intensity")
            except RunoffError:
                wet = False
            if wet and re.search(r"precip|rain", words):
                options["columns"]["rain"] = name
                reasons.append(f'rain: variable {shown(name)}, in {unit}, called "{shown(words.strip())}"')
    finally:
        opened.close()
    return (options, reasons) if options["columns"] else ({}, [])
