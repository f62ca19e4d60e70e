"""From the clock of a record to stamps without a zone: local standard time, or the days of the clock on the wall."""

from __future__ import annotations

import pandas as pd


def standard_time(index: pd.DatetimeIndex) -> tuple[pd.DatetimeIndex, str]:
    """Return stamps without a zone, and their clock in words (empty without one).

    Shorter steps go by the standard time of their zone, since summer time has a gap and a repeated hour every year.
    Days are named by the clock on the wall: the first of July stays the first of July.
    """
    if index.tz is None:
        return index, ""
    wall = index.tz_localize(None)
    if by_days(wall):
        return wall, f"local time, {index.tz}" if str(index.tz) != "UTC" else "UTC"
    # standard time is the smallest offset of the year: summer time adds to it
    year = pd.date_range(f"{index[0].year}-01-01", periods=12, freq="MS", tz="UTC").tz_convert(index.tz)
    offset = min(stamp.utcoffset() for stamp in (*year, index[0]) if stamp.utcoffset() is not None)
    words = f"standard time, {offset_words(pd.Timedelta(offset))}" if offset else "UTC"
    return index.tz_convert("UTC").tz_localize(None) + offset, words


def by_days(wall: pd.DatetimeIndex) -> bool:
    """Tell whether stamps name days: each on another date, all at the same time of day (one alone: at midnight)."""
    times = wall - wall.normalize()
    if len(wall) < 2:
        return bool((times == pd.Timedelta(0)).all())
    return bool((times == times[0]).all()) and not wall.has_duplicates


def offset_words(offset: pd.Timedelta) -> str:
    """Return an offset from UTC as it is usually written, ``UTC+01:00``."""
    minutes = round(offset / pd.Timedelta("1min"))
    return f"UTC{'-' if minutes < 0 else '+'}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}"
