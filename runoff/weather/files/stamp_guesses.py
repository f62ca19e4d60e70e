"""Where the stamps of an unknown table probably are: one column, several, or none but a first time in the head."""

from __future__ import annotations

import re
from typing import NamedTuple

import numpy as np
import pandas as pd

from runoff.weather.files.table_shape import TableShape, is_value

_ISO = re.compile(r"\d{4}[-/]\d{2}[-/]\d{2}([T ]\d{1,2}:\d{2}(:\d{2}(\.\d+)?)?)?(Z|[+-]\d\d:?\d\d)?")
_DIGITS = re.compile(r"(1[789]|20|21)\d{2}(0[1-9]|1[0-2])([0-2]\d|3[01])(\d{2}(\d{2})?)?")
_YEAR_LAST = re.compile(r"(\d{1,2})[./-](\d{1,2})[./-]\d{4}( \d{1,2}:\d{2}(:\d{2})?)?")
_CLOCK = re.compile(r"\d{1,2}:\d{2}(:\d{2})?")
_STAMP_IN_HEAD = re.compile(r"(\d{4}-\d{2}-\d{2}(?:[T ]\d{2}:\d{2})?|\b(?:1[789]|20)\d{6}(?:\d{2}){0,2}\b)")
_STEP_IN_HEAD = re.compile(r"\b(\d+) ?(min|minutes?|h|hr|hrs|hours?|days?|d)\b", re.IGNORECASE)
_LEAST = 0.95  # of the lines must be stamps
_MOST_SITES = 500


class Stamps(NamedTuple):
    """How the stamps are given: columns, layout entries that it takes, lines to a day, reasons."""

    places: tuple[int, ...]
    layout: dict[str, str]
    per_day: float
    reasons: list[str]


def guess_stamps(shape: TableShape) -> Stamps | None:
    """Return where the stamps are, or None where none are found."""
    return _in_one_column(shape) or _in_parts(shape) or _counted(shape)


class Sites(NamedTuple):
    """Several sites one below the other: the column of their names, the names, the lines of the first and its stamps."""

    at: int
    names: tuple[str, ...]
    shape: TableShape
    stamps: Stamps


def tells_apart(shape: TableShape, places: tuple[int, ...]) -> bool:
    """Tell whether the cells at some places are another on every line; without places the lines are counted."""
    if not places:
        return True
    return len({tuple(row[at] for at in places) for row in shape.rows}) == len(shape.rows)


def guess_sites(shape: TableShape) -> Sites | None:
    """Return the column that names the sites of a table whose stamps come again for each of them; None where none does."""
    columns = {at: tuple(dict.fromkeys(_column(shape, at))) for at in range(len(shape.rows[0]))}
    few = [at for at, names in columns.items() if 2 <= len(names) <= min(_MOST_SITES, len(shape.rows) // 2)]
    for at in sorted(
        few, key=lambda one: (is_value(columns[one][0]), one)
    ):  # a name in letters is likelier than a number
        first = shape._replace(rows=[row for row in shape.rows if row[at] == columns[at][0]])
        stamps = guess_stamps(first)
        if stamps is None or not stamps.places or at in stamps.places:
            continue
        if tells_apart(first, stamps.places) and tells_apart(shape, (*stamps.places, at)):
            return Sites(at, columns[at], first, stamps)
    return None


def _column(shape: TableShape, at: int) -> list[str]:
    return [row[at] for row in shape.rows]


def _share(cells: list[str], form: re.Pattern[str]) -> float:
    return sum(bool(form.fullmatch(cell)) for cell in cells) / len(cells)


def _called(shape: TableShape, *places: int) -> str:
    names = [f'"{shape.names[at]}"' if shape.names else f"{at} (from 0)" for at in places]
    return f"column{'s' if len(places) > 1 else ''} {', '.join(names)}"


def _in_one_column(shape: TableShape) -> Stamps | None:
    for at in range(len(shape.rows[0])):
        cells = _column(shape, at)
        layout: dict[str, str] = {}
        reasons = [f"time: {_called(shape, at)}"]
        if _share(cells, _ISO) >= _LEAST:
            times = pd.to_datetime(pd.Series(cells).str.replace("/", "-"), format="ISO8601", errors="coerce", utc=True)
        elif _share(cells, _DIGITS) >= _LEAST:
            lengths = {len(cell) for cell in cells}
            pattern = {8: "%Y%m%d", 10: "%Y%m%d%H", 12: "%Y%m%d%H%M"}.get(min(lengths))
            times = pd.to_datetime(pd.Series(cells), format=pattern, errors="coerce", utc=True)
        elif _share(cells, _YEAR_LAST) >= _LEAST:
            order = _order_of(cells)
            layout["dates"] = order or "day-month-year"
            reasons.append(
                f"dates: {order}, since a part passes 12"
                if order
                else "dates: the day is taken first; nothing shows it, so look"
            )
            times = pd.to_datetime(
                pd.Series(cells), dayfirst=layout["dates"].startswith("day"), errors="coerce", utc=True, format="mixed"
            )
        else:
            continue
        clock = next(
            (k for k in range(len(shape.rows[0])) if k != at and _share(_column(shape, k), _CLOCK) >= _LEAST), None
        )
        if clock is not None and times.dt.normalize().equals(times):
            hours = pd.to_timedelta(
                pd.Series(_column(shape, clock)).map(lambda cell: cell if cell.count(":") == 2 else f"{cell}:00")
            )
            return _with_step((at, clock), times + hours, layout, [f"time: {_called(shape, at, clock)}"])
        if times.nunique() < 0.5 * len(times):
            continue  # the same date again and again: not the stamp
        return _with_step((at,), times, layout, reasons)
    return None


def _order_of(cells: list[str]) -> str:
    first = max(int(cell[1]) for cell in map(_YEAR_LAST.fullmatch, cells) if cell)
    second = max(int(cell[2]) for cell in map(_YEAR_LAST.fullmatch, cells) if cell)
    return "day-month-year" if first > 12 else "month-day-year" if second > 12 else ""


def _in_parts(shape: TableShape) -> Stamps | None:
    """Find year, month and day in neighbouring columns, perhaps with the hour and the minute behind them."""
    width = len(shape.rows[0])
    for at in range(width - 2):
        parts = []
        for k in range(min(5, width - at)):
            if (part := _whole(_column(shape, at + k))) is None:
                break
            parts.append(part)
        if len(parts) < 3:
            continue
        year, month, day = parts[:3]
        if not (
            _within(year, 1700, 2200)
            and _within(month, 1, 12)
            and _within(day, 1, 31)
            and np.ptp(month) + np.ptp(day) > 0
        ):
            continue
        count = 3
        if len(parts) > 3 and _within(parts[3], 0, 23) and len(np.unique(parts[3])) > 4 and _repeats(year, month, day):
            count = (
                5
                if len(parts) > 4
                and _within(parts[4], 0, 59)
                and len(np.unique(parts[4])) <= 60
                and _repeats(*parts[:4])
                else 4
            )
        named = {"year": year, "month": month, "day": day}
        named.update(dict(zip(("hour", "minute"), parts[3:count], strict=False)))
        times = pd.to_datetime(pd.DataFrame(named), errors="coerce", utc=True)
        places = tuple(range(at, at + count))
        return _with_step(places, times, {}, [f"time: {_called(shape, *places)}"])
    return None


def _whole(cells: list[str]) -> np.ndarray | None:
    if not all(cell.isdecimal() and len(cell) <= 4 for cell in cells):
        return None
    return np.array(cells, dtype=int)


def _within(values: np.ndarray, low: int, high: int) -> bool:
    return bool((values >= low).all() and (values <= high).all())


def _repeats(*parts: np.ndarray) -> bool:
    """Tell whether the same date comes on many lines, so that more is needed to tell them apart."""
    stacked = np.stack(parts, axis=1)
    return len(np.unique(stacked, axis=0)) < 0.8 * len(stacked)


def _with_step(places: tuple[int, ...], times: pd.Series, layout: dict[str, str], reasons: list[str]) -> Stamps | None:
    """Work out lines to a day, seconds beside the minute, and whether the stamps name ends."""
    known = times.dropna()
    if len(known) < 2:
        return None
    steps = known.sort_values().diff().dropna()
    step = steps.mode().iloc[0] if len(steps) else pd.Timedelta("1D")
    if step <= pd.Timedelta(0):
        return None
    if step < pd.Timedelta("1D") and bool((known.dt.second != 0).any()):
        layout["round_to"] = "1min"
        rounded = known.dt.round("1min").sort_values().diff().dropna()
        step = rounded.mode().iloc[0]
        reasons.append("round_to: seconds beside the full minute")
    if pd.Timedelta("1D") > step >= pd.Timedelta("1h"):
        first, last = known.iloc[0], known.iloc[-1]
        if first == first.normalize() + step and last == last.normalize():
            layout["stamp"] = "end"
            reasons.append(f"stamp=end: the stamps run from {first:%H:%M} to 00:00, as ends of intervals do")
    return Stamps(places, layout, pd.Timedelta("1D") / step, reasons)


def _counted(shape: TableShape) -> Stamps | None:
    """Find a first time and a step in the head of a file of bare values."""
    first, step = "", ""
    for line in shape.head:
        low = line.lower()
        stamp = _STAMP_IN_HEAD.search(line)
        if not first and stamp and re.search(r"start|first|begin|from", low):
            first = stamp[1]
        length = _STEP_IN_HEAD.search(line)
        if length and re.search(r"step|interval|resolution|frequency", low):
            unit = {"m": "min", "h": "h", "d": "D"}[length[2][0].lower()]
            step = f"{length[1]}{unit}"
    if not first or not step:
        return None
    begin = _readable(first)
    if not begin:
        return None
    reasons = [f'first_time and step: the head says "{first}" and {step}']
    return Stamps((), {"first_time": begin, "step": step}, pd.Timedelta("1D") / pd.Timedelta(step), reasons)


def _readable(stamp: str) -> str:
    pattern = {8: "%Y%m%d", 10: "%Y%m%d%H", 12: "%Y%m%d%H%M"}.get(len(stamp)) if stamp.isdecimal() else "ISO8601"
    try:
        return f"{pd.to_datetime(stamp, format=pattern):%Y-%m-%d %H:%M}"
    except ValueError:
        return ""
