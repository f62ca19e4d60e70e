"""One strict reader for logs: lines of a time and of what was measured then. Built on the reader of plain tables.

Nothing is guessed: a column goes by its name or is named, a unit stands in the heading or is given, a date is year-month-day
or its order is declared. An empty cell is missing, never zero. All faults of a file come in one message.
"""

from __future__ import annotations

import dataclasses
import functools
import re
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from runoff.errors import MissingFileError, RunoffError, WeatherError, nearest, raise_faults
from runoff.file_bytes import read_bytes, unpacked
from runoff.time_steps import in_ns
from runoff.units import canonical_unit, convert, unit_dimension
from runoff.weather.files.reading import text_of
from runoff.weather.files.stamps import read_stamps, where
from runoff.weather.files.table import cells_of
from runoff.weather.files.table_cells import numbers
from runoff.weather.files.table_layout import TableLayout, layout_of

_TIMES = ("time", "date", "datetime", "timestamp")
_BRACKETS = re.compile(r"\s*[\[(]([^\])]+)[\])]\s*$")
#: Units as they end a heading, where they are not spelled as in the table of units.
_ENDINGS = {
    "l": "L", "l_per_s": "L/s", "l_per_m2": "L/m2", "m3_per_s": "m3/s", "mm_per_h": "mm/h", "in_per_h": "in/h",
    "mm_per_day": "mm/day", "mm_per_min": "mm/min",
}  # fmt: skip


@dataclasses.dataclass(frozen=True, kw_only=True)
class Entry:
    """What a log may hold in one column.

    Parameters
    ----------
    name
        What it is called in results and in faults.
    headings
        Names its column may have, the unit left out.
    dimensions
        What its unit may measure, for example ``("mass",)``; empty for words.
    units
        Units to offer in a fault.
    needed
        Whether a log without it is refused.
    may_be_negative
        Whether what is measured can lie below zero.
    """

    name: str
    headings: tuple[str, ...]
    dimensions: tuple[str, ...] = ()
    units: tuple[str, ...] = ()
    needed: bool = False
    may_be_negative: bool = False


@dataclasses.dataclass(frozen=True, kw_only=True)
class Log:
    """A log as it stands in its file.

    Parameters
    ----------
    name
        Name of the file.
    table
        One row per line on its time: numbers in the file's units, words as they are; only what the file has.
    units
        Unit of each column of numbers.
    lines
        Number of the line in the file, per row.
    has_clock
        Whether the stamps carry a time of day.
    """

    name: str
    table: pd.DataFrame
    units: dict[str, str]
    lines: np.ndarray
    has_clock: bool


def read_log(
    text: str,
    name: str,
    entries: Sequence[Entry],
    *,
    columns: Mapping[str, str] | None = None,
    units: Mapping[str, str] | None = None,
    layout: TableLayout | Mapping[str, Any] | None = None,
    today: pd.Timestamp | None = None,
) -> Log:
    """Read a log from its text.

    Parameters
    ----------
    text, name
        The file's text (see `log_text`) and name.
    entries
        What the log may hold.
    columns
        Heading of an entry's column, or of ``time``, where it goes by another name.
    units
        Unit of an entry, where its heading does not say it.
    layout
        Separator, decimal mark, order of the parts of a date and so on, as for weather tables.
    today
        Stamps after the day that follows lie in the future (the day between is for clocks of other zones); default, the
        clock of this machine.

    Returns
    -------
    Log
        What was found, in the file's units, on its stamps; an entry without a column is not in it.

    Raises
    ------
    RunoffError
        Naming every fault of the file at once.
    """
    faults: list[str] = []
    try:
        cells = cells_of(text, layout_of(layout))
    except WeatherError as error:
        raise RunoffError(f"{name}: {str(error).partition(': ')[2]}") from None
    found = _columns([str(column) for column in cells.columns], entries, columns or {}, faults)
    raise_faults(name, faults)
    stamps = _stamps(cells[found["time"]], layout_of(layout), today, faults)
    table: dict[str, Any] = {}
    said: dict[str, str] = {}
    for entry in entries:
        if entry.name not in found:
            continue
        column = cells[found[entry.name]]
        if not entry.dimensions:
            table[entry.name] = column.str.strip().to_numpy()
            continue
        said[entry.name] = _unit(entry, found[entry.name], (units or {}).get(entry.name), faults)
        table[entry.name], _ = numbers(
            column, entry.name, layout_of(layout), faults,
            could_be=functools.partial(_could_be, entry=entry), may_be_negative=entry.may_be_negative,
        )  # fmt: skip
    raise_faults(name, faults)
    assert stamps is not None, "stamps without faults have been read"
    index = in_ns(pd.DatetimeIndex(stamps, name="time"))
    has_clock = bool((cells[found["time"]].str.strip().str.len() > 10).any())
    return Log(name=name, table=pd.DataFrame(table, index=index), units=said, lines=cells.index.to_numpy(), has_clock=has_clock)  # fmt: skip


def log_text(path: str | Path) -> str:
    """Return the text of a log, gzipped or plain.

    Raises
    ------
    MissingFileError
        When there is no such file.
    RunoffError
        When it is a folder, a device, too large, empty, damaged or something other than a table.
    """
    path = Path(path)
    try:
        raw = read_bytes(path, "log", RunoffError)
        assert raw is not None, "nothing stays on disk"
        return text_of(unpacked(raw, "log", RunoffError), "log")
    except MissingFileError:
        raise
    except RunoffError as error:
        raise RunoffError(f"{path.name}: {error}") from None


def _columns(names: list[str], entries: Sequence[Entry], given: Mapping[str, str], faults: list[str]) -> dict[str, str]:
    """Return the heading of each entry and of ``time``; a name that fits two columns is not decided here."""
    listed = ", ".join(f'"{name}"' if not name.strip() else name for name in names)
    for name in [
        name
        for name in names
        if any(other.startswith(f"{name}.") and other[len(name) + 1 :].isdigit() for other in names)
    ]:
        faults.append(f'the heading "{name}" stands over more than one column; give each its own')
    if faults:
        return {}
    found: dict[str, str] = {}
    known = {"time": _TIMES} | {entry.name: entry.headings for entry in entries}
    for name in [name for name in given if name not in known]:
        faults.append(f'"{name}" is not a quantity of this log{nearest(name, known)}; known: {", ".join(known)}')
    for name, headings in known.items():
        if name in given:
            if given[name] in names:
                found[name] = given[name]
            else:
                faults.append(f'there is no column "{given[name]}"{nearest(given[name], names)}; columns are {listed}')
            continue
        fitting = [heading for heading in names if _stem(heading, headings)]
        if len(fitting) > 1:
            faults.append(f"{name} could be {' or '.join(fitting)}; say which column it is, {name}=HEADING")
        elif fitting:
            found[name] = fitting[0]
    lacking = [name for name in ("time", *(one.name for one in entries if one.needed)) if name not in found]
    if lacking and not faults:
        offered = {one.name: f"{one.headings[0]}_{one.units[0]}" for one in entries if one.units} | {"time": "date"}
        faults.append(
            f"no column is known as {' and '.join(lacking)}; columns are {listed}. Head it "
            f"{' and '.join(offered[name] for name in lacking)}, or say which column it is, {lacking[0]}=HEADING"
        )
    return found


def _stem(heading: str, known: Iterable[str]) -> str:
    """Return which of the known names a heading begins with, the unit left out; empty when none."""
    plain = _BRACKETS.sub("", heading).strip().lower()
    for name in known:
        if plain == name or (plain.startswith(f"{name}_") and _known_unit(plain.removeprefix(f"{name}_"))):
            return name
    return ""


def _known_unit(text: str) -> str:
    """Return the unit a text spells, or nothing."""
    try:
        return canonical_unit(_ENDINGS.get(text.lower(), text))
    except RunoffError:
        return ""


def _unit(entry: Entry, heading: str, given: str | None, faults: list[str]) -> str:
    """Return the unit of a column: as given, else as its heading says."""
    bracket = _BRACKETS.search(heading)
    parts = heading.strip().split("_")
    ends = ["_".join(parts[i:]) for i in range(1, len(parts))]
    said = given or (bracket.group(1) if bracket else next((end for end in ends if _known_unit(end)), ""))
    offer = " or ".join(entry.units)
    unit = _known_unit(said)
    if not said:
        faults.append(
            f'{entry.name}: the heading "{heading}" has no unit; end it with one, {entry.headings[0]}_{entry.units[0]}, '
            f"or give units, {entry.name}={entry.units[0]}"
        )
    elif not unit or unit_dimension(unit) not in entry.dimensions:
        faults.append(f'{entry.name}: its unit "{said}" is not one of {offer}')
    return unit


def _stamps(text: pd.Series, layout: TableLayout, today: pd.Timestamp | None, faults: list[str]) -> pd.Index | None:
    """Read the stamps of a log, in order and none of them twice or still to come."""
    index, _ = read_stamps(text, faults, zone=layout.time_zone, round_to=layout.round_to, dates=layout.dates)
    if index is None:
        return None
    backwards = text[np.append(False, index[1:] < index[:-1])]
    twice = text[index.duplicated()]
    today = (pd.Timestamp.now() if today is None else today).normalize()
    late = text[index >= today + pd.Timedelta("2D")]
    if len(twice):
        faults.append(f"time: stamps given twice {where(twice)}; keep one line of each")
    if len(backwards):
        faults.append(
            f"time: out of order {where(backwards)}, earlier than the line before; correct the date, or sort the lines"
        )
    if len(late):
        faults.append(f"time: in the future {where(late)}; today is {today:%Y-%m-%d}")
    return index


def _could_be(value: float, *, entry: Entry) -> bool:
    """Tell whether a number that is often a code for missing can be a measurement here."""
    return value >= 0 and entry.dimensions == ("mass",)


def per_step(values: np.ndarray, unit: str, *, step_hours: float, area_m2: float | None, what: str) -> np.ndarray:
    """Return depths, mm per step, from a depth, an intensity, a volume or a flow.

    Parameters
    ----------
    values, unit
        As the log has them; the unit is any of depth, intensity, volume or flow.
    step_hours
        Step of the log, h.
    area_m2
        Area that drains to the gauge, m2; needed for volumes and flows.
    what
        Name of the column, for the fault.

    Returns
    -------
    numpy.ndarray
        mm per step, in the shape of `values`.

    Raises
    ------
    RunoffError
        When a volume or flow is given without an area.
    """
    dimension = unit_dimension(unit)
    if dimension == "depth":
        return np.asarray(convert(values, unit, "mm"))
    if dimension == "intensity":
        return np.asarray(convert(values, unit, "mm/h")) * step_hours
    if area_m2 is None or not area_m2 > 0:
        raise RunoffError(
            f"{what}: {unit} becomes a depth by the area it comes from; give the area that drains to the gauge, more than 0 m2"
        )
    if dimension == "volume":
        return np.asarray(convert(values, unit, "L")) / area_m2
    return np.asarray(convert(values, unit, "L/s")) * 3600.0 * step_hours / area_m2
