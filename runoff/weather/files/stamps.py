"""Dates and times as text, read strictly: a text that could be two dates, or none, is refused with its line.

Formats are ISO 8601 (``2024-04-03``, ``2024-04-03 15:00``, with or without an offset from UTC; ``2024/04/03`` too) and plain digits
(``20240403``, ``2024040315``); with the day or the month in front (``03.04.2024``) only when their order is declared.
Stamps leave in local standard time without a zone, since summer time has a gap and a repeated hour every year.
"""

from __future__ import annotations

import datetime
import re
import zoneinfo

import numpy as np
import pandas as pd
import xarray as xr

from runoff.weather.record.frames import standard_time

_ISO = re.compile(r"^\d{4}-\d{2}-\d{2}([T ]\d{2}:\d{2}(:\d{2}(\.\d+)?)?)?([+-]\d{2}:?\d{2}|Z)?$")
_DIGITS = re.compile(r"^\d{8}(\d{2}(\d{2})?)?$")
_YEAR_FIRST = re.compile(r"^(\d{4})/(\d{2})/(\d{2})(?!/|\d)")  # the year in front leaves one way to read the rest
_TWO_WAYS = re.compile(r"^\d{1,2}[./-]\d{1,2}[./-]\d{2,4}")
_PERIOD = re.compile(r"^\d{4}-\d{2}-\d{2}\s*(/|to|\.\.)\s*\S+")
_OFFSET = r"(?:[+-]\d{2}:?\d{2}|Z)$"
_PARTS = r"^(\d{4})-?(\d{2})-?(\d{2})(?:[T ]?(\d{2}))?(?::?(\d{2}))?(?::(\d{2}))?"
#: Orders of the parts of a date, and where year, month and day then stand in it.
DATE_ORDERS = {"year-month-day": (0, 1, 2), "day-month-year": (2, 1, 0), "month-day-year": (2, 0, 1)}
_YEAR_LAST = re.compile(r"^(\d{1,2})([./-])(\d{1,2})\2(\d{4})(?!\d)")
CALENDARS = ("standard", "noleap", "365_day", "360_day")


def read_stamps(
    text: pd.Series,
    faults: list[str],
    *,
    calendar: str = "standard",
    zone: str | None = None,
    round_to: str | None = None,
    dates: str = "year-month-day",
) -> tuple[pd.Index | None, str]:
    """Read stamps from text.

    Parameters
    ----------
    text
        One stamp per line; the index holds the number of each line in the file.
    faults
        Takes a sentence for every fault.
    calendar
        ``"standard"``, or the calendar of a model's years: ``"noleap"`` (``"365_day"``) or ``"360_day"``.
    zone
        What the clock of the stamps is: words that are kept, or a zone such as ``"Europe/Berlin"`` when the stamps
        follow summer time and are to be brought to standard time.
    round_to
        Rounds the stamps, for example ``"1min"``.
    dates
        Order of the parts of a date that has its year last: one of `DATE_ORDERS`.

    Returns
    -------
    pandas.Index or None
        Stamps, one per line; None when there are faults.
    str
        The clock they are in, in words; empty when nobody says.
    """
    text = text.str.strip().str.replace(_YEAR_FIRST, r"\1-\2-\3", regex=True)
    before = len(faults)
    if dates != "year-month-day":
        text = _year_first(text, dates, faults)
    _refuse_forms(text, faults)
    if len(faults) > before:
        return None, ""
    if calendar != "standard":
        index: pd.Index | None = _model_stamps(text, calendar, faults)
        return index, zone or ""
    index = _real_stamps(text, zone, faults)
    if index is None:
        return None, ""
    if index.tz is None and zone and "/" in zone:
        index = _localized(index, text, zone, faults)
        if index is None:
            return None, ""
    words = zone or ""
    if index.tz is not None:
        index, words = standard_time(index)
    return (index.round(round_to) if round_to else index), words


def _year_first(text: pd.Series, dates: str, faults: list[str]) -> pd.Series:
    """Bring dates of a declared order, year last, to year-month-day; what stands in no such order is left alone."""
    places = DATE_ORDERS[dates]

    def turned(found: re.Match[str]) -> str:
        parts = (found[1], found[3], found[4])
        return "-".join(parts[at].zfill(2) for at in places)

    brought = text.str.replace(_YEAR_LAST, turned, regex=True)
    wrong = text[(brought != text) & (brought.str.slice(5, 7).where(brought != text, "01").astype(int) > 12)]
    if len(wrong):
        faults.append(f"time: dates {where(wrong)} have no month in the declared order {dates}")
    return brought


def _refuse_forms(text: pd.Series, faults: list[str]) -> None:
    """Refuse what is not one date, one form of fault at a time."""
    bad = text[~(text.str.match(_ISO) | text.str.match(_DIGITS))]
    periods = bad[bad.str.match(_PERIOD)]
    two_ways = bad[bad.str.match(_TWO_WAYS)]
    others = bad.drop([*periods.index, *two_ways.index])
    if len(periods):
        faults.append(
            f"time: two or more days merged into one line {where(periods)}; what fell on each day is not known: leave the "
            "days empty, or give each its own line"
        )
    if len(two_ways):
        faults.append(
            f"time: dates {where(two_ways)} can be read two ways; write them as year-month-day, 2024-04-03, or say "
            'which part comes first, dates="day-month-year" or "month-day-year"'
        )
    if len(others):
        faults.append(
            f"time: dates {where(others)} cannot be read; write them as 2024-04-03, with a time as 2024-04-03 15:00"
        )
    digits = text.str.isdigit()
    hours24 = text[
        text.str.contains(r"[T ]24:", regex=True) | (digits & (text.str.len() > 8) & (text.str.slice(8, 10) == "24"))
    ]
    if len(hours24):
        faults.append(f"time: hour 24 {where(hours24)}; write 00:00 of the next day")
    if not len(bad) and len(set(text[digits].str.len())) > 1:
        faults.append("time: the stamps have different lengths; write all of them alike")


def where(some: pd.Series) -> str:
    """Return how many lines, and the first with its text."""
    lines = f"{len(some)} lines (first line" if len(some) > 1 else "1 line (line"
    return f'on {lines} {some.index[0]}: "{some.iloc[0]}")'


def _real_stamps(text: pd.Series, zone: str | None, faults: list[str]) -> pd.DatetimeIndex | None:
    offsets = text[text.str.contains(_OFFSET, regex=True)]
    ends = text.str.extract(f"({_OFFSET})")[0].str.replace(":", "", regex=False).replace("Z", "+0000").fillna("none")
    mixed = len(set(ends)) > 1
    if mixed and (len(offsets) < len(text) or not (zone and "/" in zone)):
        first = ends.index[(ends != ends.iloc[0]).to_numpy()][0]
        faults.append(
            f"time: stamps carry different offsets from UTC, first change on line {first}; bring all to local standard time, or "
            'name the zone, time_zone="Europe/Berlin" for example'
        )
        return None
    digits = bool(text.str.match(_DIGITS).all())
    pattern = {8: "%Y%m%d", 10: "%Y%m%d%H", 12: "%Y%m%d%H%M"}[len(text.iloc[0])] if digits else "ISO8601"
    stamps = pd.to_datetime(text, format=pattern, errors="coerce", utc=bool(len(offsets)))
    none = text[stamps.isna()]
    if len(none):
        faults.append(f"time: no such date {where(none)}")
        return None
    index = pd.DatetimeIndex(stamps)
    if not len(offsets):
        return index
    if mixed:
        return index.tz_convert(_zone(str(zone), faults))
    minutes = int(ends.iloc[0][:3]) * 60 + int(ends.iloc[0][0] + ends.iloc[0][3:])
    return index.tz_convert(datetime.timezone(datetime.timedelta(minutes=minutes)))


def _zone(name: str, faults: list[str]) -> zoneinfo.ZoneInfo | datetime.timezone:
    try:
        return zoneinfo.ZoneInfo(name)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError):
        faults.append(f'time_zone "{name}" is not known; zones read like Europe/Berlin or America/New_York')
        return datetime.UTC


def _localized(index: pd.DatetimeIndex, text: pd.Series, zone: str, faults: list[str]) -> pd.DatetimeIndex | None:
    """Take stamps as the clock on the wall of a zone; the hour that summer time repeats must come twice, in order."""
    known = _zone(zone, faults)
    if isinstance(known, datetime.timezone):
        return None
    unclear = index.tz_localize(known, ambiguous="NaT", nonexistent="shift_forward").isna()
    skipped = index.tz_localize(known, ambiguous=np.ones(len(index), dtype=bool), nonexistent="NaT").isna()
    order = pd.Series(index).groupby(index).cumcount().to_numpy()  # the first pass of a repeated hour is summer time
    twice = pd.Series(index).groupby(index).transform("size").to_numpy() == 2
    bad = skipped | (unclear & ~twice)
    if bad.any():
        faults.append(
            f"time: stamps {where(text[bad])} fall in the hour that summer time of {zone} skips or repeats; export the file in "
            "standard time or UTC"
        )
        return None
    return index.tz_localize(known, ambiguous=order == 0)


def _model_stamps(text: pd.Series, calendar: str, faults: list[str]) -> pd.Index | None:
    """Read stamps of a calendar that models use."""
    import cftime

    if calendar not in CALENDARS:
        faults.append(f'calendar "{calendar}" is not known; known: {", ".join(CALENDARS)}')
        return None
    parts = text.str.extract(_PARTS).fillna("0").astype(int)
    month, day = parts[1], parts[2]
    if calendar != "360_day":
        leap = text[(month == 2) & (day == 29)]
        if len(leap):
            faults.append(
                f"time: 29 February {where(leap)}, but a 365-day calendar has none; for real dates leave calendar= out"
            )
    longest = {2: 28, 4: 30, 6: 30, 9: 30, 11: 30}
    last = np.full(len(text), 30) if calendar == "360_day" else month.map(longest).fillna(31).to_numpy()
    leap_day = (month == 2) & (day == 29) & (calendar != "360_day")
    none = text[((month < 1) | (month > 12) | (day < 1) | (day > last) | (parts[3] > 23) | (parts[4] > 59)) & ~leap_day]
    if len(none):
        faults.append(f"time: no such date in the calendar {calendar} {where(none)}")
    if faults:
        return None
    return xr.CFTimeIndex([cftime.datetime(*row, calendar=calendar) for row in parts.to_numpy().tolist()])
