"""A regular axis of time from the stamps a file has: sorted, no stamp twice, missing values where lines are absent."""

from __future__ import annotations

import datetime
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr

from runoff.errors import WeatherError
from runoff.time_steps import ONE_DAY as ONE_DAY
from runoff.time_steps import STEP_HOURS as STEP_HOURS
from runoff.time_steps import differences_ns, time_step


def step_of(time: Any) -> pd.Timedelta:
    """Return the most frequent step of a time coordinate or index; a single stamp that says no other is a day."""
    return time_step(time).length


def step_hours(time: Any) -> float:
    """Return `step_of` in hours."""
    return step_of(time) / pd.Timedelta("1h")


def stamp_words(stamp: Any) -> str:
    """Return a stamp as a person writes it: the day, with the time of day where there is one."""
    text = str(stamp).replace("T", " ")
    return text[:10] if text[10:19] in ("", " 00:00:00") else text[:19].removesuffix(":00")


def step_words(days: float) -> str:
    """Return a step, given in days, as a person writes it: ``1 day``, ``1 h``, ``5 min``."""
    minutes = round(days * 1440.0, 6)
    if minutes >= 1440.0:
        return f"{days:g} day{'' if days == 1.0 else 's'}"
    return f"{minutes / 60:g} h" if minutes >= 60 else f"{minutes:g} min"


def counted(number: int, word: str) -> str:
    """Return a number with its word, ``1 line`` or ``2 lines``."""
    return f"{number} {word}{'' if number == 1 else 's'}"


def moved(index: Any, by: pd.Timedelta) -> pd.Index:
    """Return an index of times moved by a duration, on any calendar."""
    return index + (by if isinstance(index, pd.DatetimeIndex) else by.to_pytimedelta())


def regular(data: xr.Dataset) -> xr.Dataset:
    """Return the record on a regular axis; ``attrs["absent_steps"]`` counts the stamps that were not in the file.

    Raises
    ------
    WeatherError
        When stamps are missing, given twice or fall off the step, when the step is longer than a day, or when more
        steps are absent than there are.
    """
    index = data.indexes["time"]
    if index.hasnans:
        raise WeatherError(f"time: {counted(int(np.count_nonzero(index.isna())), 'step')} without a date")
    if not index.is_monotonic_increasing:
        data = data.sortby("time")
        index = data.indexes["time"]
    if index.has_duplicates:
        twice = index[index.duplicated()]
        raise WeatherError(
            f"time: {counted(len(twice), 'stamp')} given twice, first {stamp_words(twice[0])}; keep one of each"
        )
    if len(index) < 2:
        return data.assign_attrs(absent_steps=0)
    step = step_of(index)
    if step > ONE_DAY:
        raise WeatherError(
            f"time: the steps are {step / ONE_DAY:g} days long; daily values or shorter steps are needed, monthly rain cannot "
            "fill and drain a roof"
        )
    since = _since_first(index)
    off = index[since % step.value != 0]
    if len(off):
        raise WeatherError(
            f"time: {counted(len(off), 'stamp')} off the step of {step_words(step / ONE_DAY)}, first {stamp_words(off[0])}; round them "
            '(round_to, for example "1min"), or bring the file to regular steps'
        )
    whole = int(since[-1] // step.value) + 1
    if whole - len(index) > len(index):
        raise WeatherError(_mostly_absent(index, since, step, whole))
    if whole > len(index):
        data = data.reindex(time=_axis(index, step, whole))
    return data.assign_attrs(absent_steps=whole - len(index))


def _mostly_absent(index: pd.Index, since: np.ndarray, step: pd.Timedelta, whole: int) -> str:
    """Name the widest gap of a record that is mostly gaps: a mistyped year, rather than a pause of the gauge."""
    after = int(np.diff(since).argmax())
    return (
        f"time: {whole - len(index):,} of {whole:,} steps of {step_words(step / ONE_DAY)} have no line, more than have one; the widest "
        f"gap: after {stamp_words(index[after])} comes {stamp_words(index[after + 1])}. Correct that stamp, or give the "
        "parts of the record as files of their own"
    )


def _axis(index: pd.Index, step: pd.Timedelta, size: int) -> pd.Index:
    if isinstance(index, pd.DatetimeIndex):
        return pd.date_range(index[0], periods=size, freq=step, name="time")
    pace = datetime.timedelta(seconds=step.total_seconds())
    return xr.CFTimeIndex([index[0] + k * pace for k in range(size)], name="time")


def _since_first(index: pd.Index) -> np.ndarray:
    """Return the time since the first stamp, ns."""
    return np.concatenate([[0], np.cumsum(differences_ns(index))])
