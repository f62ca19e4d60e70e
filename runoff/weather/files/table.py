"""Plain tables: any separator, a column map with units, hourly and 5-minute steps too.

Nothing is guessed in silence. Dates must be ISO (2024-04-03) or plain digits (20240403); a text that could be two dates
is refused. A missing code, a trace, a decimal comma must be declared. All faults of a file come in one message with the
first line each.
"""

from __future__ import annotations

import functools
import re
from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr

from runoff.errors import RunoffError, WeatherError, nearest, raise_faults, shown
from runoff.quantities import QUANTITIES, label
from runoff.weather.files.several_sites import column_of_sites, site_lines
from runoff.weather.files.stamps import joined, read_stamps, where
from runoff.weather.files.table_cells import measurable, numbers
from runoff.weather.files.table_layout import TableLayout
from runoff.weather.files.table_lines import TableLines, lines_of
from runoff.weather.files.table_lines import cells_of as cells_of
from runoff.weather.record.drifting_clock import on_regular_steps
from runoff.weather.record.house_units import OTHER_RAIN, called_like_rain, quantity_in_name, to_house, unit_in_name
from runoff.weather.record.time_axis import STEP_HOURS, moved, regular, stamp_words, step_hours, step_of

_TIMES = ("time", "date", "datetime", "timestamp")
_DATE_ALONE = len("2024-01-01")
_LISTED = 40  # names in a message
_SEVERAL_SITES, _FEW_LINES = 0.2, 10  # share of stamps given twice beyond which a file may hold several sites
_LOOKED_AT = 1000  # names among which a second column of rain is sought
_FAMILIAR = re.compile(
    rf"\s*({'|'.join((*_TIMES, *QUANTITIES))})", re.IGNORECASE
)  # of a million names few are looked at closely


def read_table(
    text: str,
    *,
    columns: Mapping[str, Any] | None = None,
    units: Mapping[str, str] | None = None,
    layout: TableLayout | None = None,
    site: str | None = None,
) -> xr.Dataset:
    """Read a plain table from its text.

    Parameters
    ----------
    text
        The file.
    columns
        Column of each quantity and of ``time``, for example ``{"time": "DATE", "rain": "RR"}``, by name or by number from
        0; a stamp in parts as a list, ``{"time": ["YEAR", "MONTH", "DAY"]}``. Default: columns called like house
        quantities with their unit, ``rain_mm`` or ``rain (mm)``, and ``time`` or ``date``.
    units
        Unit of each quantity, for example ``{"rain": "0.1 mm"}``; by default as the column name says.
    layout
        Separator, missing codes, stamps and so on.
    site
        Which site is meant, where the layout names the column of sites.

    Returns
    -------
    xarray.Dataset
        Series in house units on ``time``, even steps with gaps as NaN, stamped at the start of the step.

    Raises
    ------
    WeatherError
        Naming every fault with its first line.
    """
    layout = layout or TableLayout()
    lines = lines_of(text, layout)
    if (at := column_of_sites(lines, layout)) is not None:
        lines = site_lines(lines, at, site)
    elif site is not None:
        raise WeatherError(
            'layout: a table of several sites needs the column that names them, layout={"site_column": "STATION"}'
        )
    wanted, given_units = _columns(lines, columns, units or {}, timed=layout.first_time is None)
    table = lines.cells([at for places in wanted.values() for at in places])
    faults: list[str] = []
    time, clock = _times(table, wanted, layout, faults)
    hours = _hours(time, layout)
    values: dict[str, np.ndarray] = {}
    traces = 0
    for quantity, places in wanted.items():
        if quantity == "time":
            continue
        series, count = numbers(
            table[places[0]], quantity, layout, faults,
            could_be=functools.partial(measurable, quantity=quantity, unit=given_units[quantity]),
            may_be_negative=QUANTITIES[quantity].low < 0.0,
        )  # fmt: skip
        traces += count if quantity == "rain" else 0
        try:
            values[quantity] = np.asarray(to_house(series, quantity, given_units[quantity], hours))
        except RunoffError as error:
            faults.append(f"{quantity}: {error}")
    _refuse_crossed(values, table, faults)
    raise_faults("table", faults, WeatherError)
    data = xr.Dataset({name: ("time", series) for name, series in values.items()}, coords={"time": ("time", time)})
    if layout.step is not None:
        data["time"].attrs[STEP_HOURS] = pd.Timedelta(layout.step) / pd.Timedelta("1h")
    data = _on_even_steps(data, layout) if layout.regular_to else regular(_starts(data, layout))
    _refuse_lost_leap_days(data, table, layout)
    data.attrs.update(time_label=_label_words(layout), traces=traces)
    if "rain" in wanted and (others := _other_rain(lines, wanted)):
        data.attrs[OTHER_RAIN] = others
    data.attrs.update({name: words for name, words in (("time_zone", clock), ("day_start", layout.day_start)) if words})
    if "wind_speed" in data and layout.wind_height_m is not None:
        data["wind_speed"].attrs["height_m"] = float(layout.wind_height_m)
    return label(data)


def _other_rain(table: TableLines, wanted: _Wanted) -> str:
    """Return the names of columns that are called like rain and are not read: a second gauge is named, not lost."""
    used = {at for places in wanted.values() for at in places}
    known = [str(name) for at, name in enumerate(table.names[:_LOOKED_AT]) if at not in used]
    return ", ".join(name for name in known if called_like_rain(name))


def _hours(time: pd.Index | None, layout: TableLayout) -> float:
    if layout.step is not None:
        return pd.Timedelta(layout.step) / pd.Timedelta("1h")
    return step_hours(time) if time is not None else 24.0


def _label_words(layout: TableLayout) -> str:
    if layout.first_time is not None:
        return f"start of the interval, counted from {layout.first_time} in steps of {layout.step}"
    words = {
        "start": "start of the interval, as stated",
        "end": "end of the interval, as stated; converted to start",
        # a plain table cannot say what its times mark
        None: "start of the interval, assumed unless whoever keeps the record states it",
    }[layout.stamp]
    return f"{words}; amounts shared out on steps of {layout.regular_to}" if layout.regular_to else words


_Wanted = dict[str, tuple[int, ...]]  # where each quantity stands; a stamp may be in several columns


def _columns(
    table: TableLines, columns: Mapping[str, Any] | None, units: Mapping[str, str], *, timed: bool
) -> tuple[_Wanted, dict[str, str]]:
    """Return the columns (by position) and the unit of each quantity."""
    position = {name: at for at, name in reversed(list(enumerate(table.names)))}
    found: _Wanted = {}
    said: dict[str, str] = {}
    faults = [
        f'units: "{shown(name)}" is not a quantity{nearest(name, QUANTITIES)}'
        for name in units
        if name not in QUANTITIES
    ]
    for quantity, column in (columns or {}).items():
        if quantity != "time" and quantity not in QUANTITIES:
            faults.append(f'columns: "{shown(quantity)}" is not a quantity{nearest(quantity, QUANTITIES)}')
            continue
        places = [_place_of(part, table, position, faults) for part in _parts(column, quantity, position)]
        if None not in places:
            found[quantity] = tuple(at for at in places if at is not None)
            said[quantity] = (
                unit_in_name(_plain(table.names[found[quantity][0]]), quantity) if quantity != "time" else ""
            )
    raise_faults("table", faults, WeatherError)
    _by_their_names(table, found, said, faults, only_time=columns is not None)
    raise_faults("table", faults, WeatherError)
    lacking = [] if columns or "rain" in found else ["rain"]
    lacking = (["time"] if timed and "time" not in found else []) + lacking
    if lacking:
        raise WeatherError(
            f"table: no column is known as {' and '.join(lacking)}; columns are {_listed(table)}. Say which, for example "
            'columns={"time": "DATE", "rain": "RR"}, units={"rain": "mm"}'
        )
    return found, {**said, **units}


def _parts(column: Any, quantity: str, position: Mapping[str | int, int]) -> list[str | int]:
    """Return the columns that make a stamp together, ``["YEAR", "MONTH", "DAY"]`` or ``YEAR+MONTH+DAY``; else the one."""
    if quantity == "time" and isinstance(column, list | tuple):
        return list(column)
    if quantity == "time" and isinstance(column, str) and "+" in column and column not in position:
        return [part.strip() for part in column.split("+")]
    return [column]


def _place_of(column: str | int, table: TableLines, position: Mapping[str | int, int], faults: list[str]) -> int | None:
    """Return where a column stands, by its name or by its number, from 0."""
    if column in position:
        at = position[column]
        if f"{column}.1" in position:
            faults.append(
                f'"{shown(column)}" is the name of more than one column; say which by its number, from 0: {at} or '
                f"{position[f'{column}.1']}"
            )
        return at
    digits = str(column).strip()
    if digits.isdecimal() and int(digits) < len(table.names):
        return int(digits)
    faults.append(
        f'there is no column "{shown(column)}"{nearest(str(column), map(str, table.names))}; columns are {_listed(table)}'
    )
    return None


def _by_their_names(
    table: TableLines, found: _Wanted, said: dict[str, str], faults: list[str], *, only_time: bool
) -> None:
    """Find columns called like quantities, in place; two for one quantity are for the user to choose from."""
    known: dict[str, list[int]] = {}
    for at, name in enumerate(table.names):
        if not _FAMILIAR.match(str(name)):
            continue
        plain = _plain(name)
        if plain.strip().lower() in _TIMES:
            known.setdefault("time", []).append(at)
        elif not only_time and (named := quantity_in_name(plain)):
            known.setdefault(named[0], []).append(at)
    for quantity, places in known.items():
        if quantity in found:
            continue
        if len(places) > 1:
            names = [shown(table.names[at]) for at in places]
            listed = ", ".join(f'"{name}"' for name in names[:5])
            way = f'columns={{"{quantity}": "{names[0]}"}} or {{"{quantity}": {places[1]}}} (by number, from 0)'
            both = (
                f', or columns={{"time": "{names[0]}+{names[1]}"}} when both make the stamp'
                if quantity == "time"
                else ""
            )
            faults.append(f"{len(places)} columns could be {quantity}: {listed}; say which, {way}{both}")
            continue
        found[quantity] = (places[0],)
        said[quantity] = unit_in_name(_plain(table.names[places[0]]), quantity) if quantity != "time" else ""


def _plain(name: str | int) -> str:
    """Return the name as the file has it, without the number that tells it from others of the same name."""
    before, _, behind = str(name).rpartition(".")
    return before if before and behind.isdecimal() else str(name)


def _listed(table: TableLines) -> str:
    names = [f'"{name}"' if not str(name).strip() else shown(name) for name in table.names[:_LISTED]]
    more = f" and {len(table.names) - _LISTED:,} more" if len(table.names) > _LISTED else ""
    return ", ".join(names) + more


def _times(table: pd.DataFrame, wanted: _Wanted, layout: TableLayout, faults: list[str]) -> tuple[pd.Index | None, str]:
    if layout.first_time is not None:
        try:
            step = pd.Timedelta(str(layout.step))
            return pd.date_range(layout.first_time, periods=len(table), freq=step), layout.time_zone or ""
        except (ValueError, TypeError, OverflowError) as error:
            raise WeatherError(f"layout: first_time and step cannot be followed ({shown(error)})") from None
    text = joined([table[at] for at in wanted["time"]], faults)
    if text is None:
        return None, ""
    index, clock = read_stamps(
        text, faults, calendar=layout.calendar, zone=layout.time_zone, round_to=layout.round_to, dates=layout.dates
    )
    if index is not None and index.has_duplicates:
        twice = text[index.duplicated()]
        many = len(twice) >= _SEVERAL_SITES * len(index) and len(index) > _FEW_LINES
        sites = (
            ', or name the column of the sites where the file holds several, layout={"site_column": "STATION"}'
            if many
            else ""
        )
        faults.append(f"time: stamps given twice {where(twice)}; keep one line of each{sites}")
        return None, ""
    if index is not None and len(index) == 1 and len(text.iloc[0].strip()) > _DATE_ALONE:
        faults.append(
            f"time: a single line, {where(text)}, does not say how long its step is; give two lines or more, or "
            'first_time and step, step="1h"'
        )
        return None, ""
    return index, clock


def _refuse_crossed(values: Mapping[str, np.ndarray], table: pd.DataFrame, faults: list[str]) -> None:
    """Refuse lowest temperatures above the highest: a table is mended where it is wrong."""
    if not {"tmin", "tmax"} <= set(values):
        return
    crossed = np.flatnonzero(values["tmin"] > values["tmax"])
    if crossed.size:
        i = crossed[0]
        swapped = (
            "; are the two columns swapped?" if crossed.size > len(table) / 2 else "; correct or empty these lines"
        )
        faults.append(
            f"tmin is above tmax on {crossed.size} of {len(table)} lines (first line {table.index[i]}: {values['tmin'][i]:g} and "
            f"{values['tmax'][i]:g} degC){swapped}"
        )


def _starts(data: xr.Dataset, layout: TableLayout) -> xr.Dataset:
    """Move stamps of ends to the starts of their intervals."""
    if layout.stamp != "end":
        return data
    return data.assign_coords(time=moved(data.indexes["time"], -step_of(data["time"])))


def _on_even_steps(data: xr.Dataset, layout: TableLayout) -> xr.Dataset:
    """Bring the amounts of a clock that drifts to even steps; each is taken from its stamp to the next."""
    others = [str(name) for name in data.data_vars if name not in ("rain", "reference_et")]
    if others:
        raise WeatherError(
            f"layout: regular_to shares out amounts; {', '.join(others)} cannot be shared out, leave such columns out"
        )
    data = data.sortby("time")
    step = pd.Timedelta(str(layout.regular_to))
    if layout.stamp == "end":
        data = data.assign_coords(time=moved(data.indexes["time"], -step_of(data["time"])))
    even = {name: on_regular_steps(data[name].to_series(), step) for name in map(str, data.data_vars)}
    time = next(iter(even.values())).index.rename("time")
    return regular(
        xr.Dataset({name: ("time", series.to_numpy(copy=True)) for name, series in even.items()}, coords={"time": time})
    )


def _refuse_lost_leap_days(data: xr.Dataset, table: pd.DataFrame, layout: TableLayout) -> None:
    """Refuse real dates without any 29 February: years of a model, or a day that was thrown away."""
    index = data.indexes["time"]
    if layout.calendar != "standard" or step_hours(index) != 24.0 or not data.attrs["absent_steps"]:
        return
    leap = ((data["time"].dt.month == 2) & (data["time"].dt.day == 29)).to_numpy()
    empty = np.all([data[name].isnull().to_numpy() for name in data.data_vars], axis=0)
    if leap.any() and empty[leap].all() and int(empty.sum()) == int(leap.sum()) == data.attrs["absent_steps"]:
        raise WeatherError(
            f"table: 29 February is absent in every leap year (first {stamp_words(index[leap][0])}) and nothing else is; for years of "
            '365 days say calendar="noleap", else put the days back'
        )
