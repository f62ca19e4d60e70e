"""Dates and times as text, read strictly: a text that could be two dates, or none, is refused with its line.

Formats are ISO 8601 (``2024-04-03``, ``2024-04-03 15:00``, with or without an offset from UTC; ``2024/04/03`` too) and plain digits
(``20240403``, ``2024040315``); with the day or the month in front (``03.04.2024``) only when their order is declared.
Stamps leave in local standard time without a zone, since summer time has a gap and a repeated hour every year.
"""

from __future__ import annotations

import datetime
import re
import zoneinfo
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr

from runoff.errors import shown
from runoff.weather.record.clocks import by_days, standard_time

_ISO = re.compile(
    r"^[0-9]{4}-[0-9]{2}-[0-9]{2}([T ][0-9]{2}:[0-9]{2}(:[0-9]{2}(\.[0-9]{1,9})?)?)?([+-](0[0-9]|1[0-4]):?[0-5][0-9]|Z)?$"
)
_DIGITS = re.compile(r"^[0-9]{8}([0-9]{2}([0-9]{2})?)?$")
_YEAR_FIRST = re.compile(r"^(\d{4})/(\d{2})/(\d{2})(?!/|\d)")  # the year in front leaves one way to read the rest
_TWO_WAYS = re.compile(r"^\d{1,2}[./-]\d{1,2}[./-]\d{2,4}")
_PERIOD = re.compile(r"^\d{4}-\d{2}-\d{2}\s*(/|to|\.\.)\s*\S+")
_OFFSET = r"(?:[+-]\d{2}:?\d{2}|Z)$"
_PARTS = r"^(\d{4})-?(\d{2})-?(\d{2})(?:[T ]?(\d{2}))?(?::?(\d{2}))?(?::(\d{2}))?"
#: Orders of the parts of a date, and where year, month and day then stand in it.
DATE_ORDERS = {"year-month-day": (0, 1, 2), "day-month-year": (2, 1, 0), "month-day-year": (2, 0, 1)}
_YEAR_LAST = re.compile(r"^(\d{1,2})([./-])(\d{1,2})\2(\d{4})(?!\d)")
#: Years that stamps of a nanosecond can hold; records of rain lie within.
FIRST_YEAR, LAST_YEAR = 1678, 2261
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
    if zone and "/" in zone:
        known = _zone(zone, faults)
        if known is None:
            return None, ""
        if index.tz is not None:
            index = index.tz_convert(known)
        elif not by_days(index):  # the days of a zone need no other clock
            index = _localized(index, text, known, faults)
        if index is None:
            return None, ""
    words = zone or ""
    if index.tz is not None:
        index, words = standard_time(index)
    return (index.round(round_to) if round_to else index), words


_TIME_OF_DAY = re.compile(r"^\d{1,2}(:\d{2}(:\d{2})?)?$")


def joined(parts: list[pd.Series], faults: list[str]) -> pd.Series | None:
    """Return stamps from their parts: a date and a time of day, or year, month, day and as known hour and minute.

    Parameters
    ----------
    parts
        Text of each part, one per line; the index holds the number of each line in the file.
    faults
        Takes a sentence for every fault.

    Returns
    -------
    pandas.Series or None
        Text that `read_stamps` reads; None when there are faults.
    """
    if len(parts) == 1:
        return parts[0]
    stripped: list[Any] = [part.str.strip() for part in parts]
    if len(parts) == 2:
        date, clock = stripped
        odd = clock[~clock.str.fullmatch(_TIME_OF_DAY) & ~clock.str.fullmatch(r"\d{3,4}")]
        if len(odd):
            faults.append(f"time: no time of day {where(odd)}; write 15:00, 1500 or the hour alone")
            return None
        digits = ~clock.str.contains(":", regex=False) & (clock.str.len() > 2)
        clock = clock.mask(digits, clock.str.zfill(4).str.slice(0, 2) + ":" + clock.str.zfill(4).str.slice(2, 4))
        clock = clock.mask(~clock.str.contains(":", regex=False), clock + ":00")
        dashed = date.str.replace(r"^(\d{4})(\d{2})(\d{2})$", r"\1-\2-\3", regex=True)
        return dashed + " " + clock.str.zfill(5).mask(clock.str.len() > 5, clock.str.zfill(8))
    odd_parts = [part[~part.str.fullmatch(r"[0-9]{1,4}")] for part in stripped]
    odd_parts = [odd for odd in odd_parts if len(odd)]
    if odd_parts or len(parts) > 5:
        told = where(odd_parts[0]) if odd_parts else f"in {len(parts)} columns"
        faults.append(
            f"time: parts of a stamp {told}; they are year, month, day and, as known, hour and minute, in digits"
        )
        return None
    year, *rest = stripped
    text = year.str.cat([part.str.zfill(2) for part in rest[:2]], sep="-")
    if len(rest) > 2:
        text = text + " " + rest[2].str.zfill(2) + ":" + (rest[3].str.zfill(2) if len(rest) > 3 else "00")
    return text


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
    return f'on {lines} {some.index[0]}: "{shown(some.iloc[0])}")'


def _real_stamps(text: pd.Series, zone: str | None, faults: list[str]) -> pd.DatetimeIndex | None:
    """Return stamps of the usual calendar, with the zone that their own offsets say."""
    years = text.str.slice(0, 4).astype(int)
    outside = text[(years < FIRST_YEAR) | (years > LAST_YEAR)]
    if len(outside):
        faults.append(f"time: years outside {FIRST_YEAR} to {LAST_YEAR} {where(outside)}; a mistyped year?")
        return None
    ends = text.str.extract(f"({_OFFSET})")[0].str.replace(":", "", regex=False).replace("Z", "+0000").fillna("none")
    digits = bool(text.str.match(_DIGITS).all())
    pattern = {8: "%Y%m%d", 10: "%Y%m%d%H", 12: "%Y%m%d%H%M"}[len(text.iloc[0])] if digits else "ISO8601"
    bare = text if digits else text.str.replace(_OFFSET, "", regex=True)
    stamps = pd.to_datetime(bare, format=pattern, errors="coerce")
    none = text[stamps.isna()]
    if len(none):
        faults.append(f"time: no such date {where(none)}")
        return None
    wall = pd.DatetimeIndex(stamps)
    mixed = len(set(ends)) > 1
    if (ends == "none").all() or (mixed and (ends != "none").all() and by_days(wall)):
        return wall
    if mixed and ((ends == "none").any() or not (zone and "/" in zone)):
        first = ends.index[(ends != ends.iloc[0]).to_numpy()][0]
        faults.append(
            f"time: stamps carry different offsets from UTC, first change on line {first}; bring all to local standard time, or "
            'name the zone, time_zone="Europe/Berlin" for example'
        )
        return None
    sign = np.where(ends.str.slice(0, 1) == "-", -1, 1)
    minutes = sign * (ends.str.slice(1, 3).astype(int) * 60 + ends.str.slice(3, 5).astype(int)).to_numpy()
    universal = (wall - pd.to_timedelta(minutes, unit="min")).tz_localize("UTC")
    return universal.tz_convert(datetime.timezone(datetime.timedelta(minutes=int(minutes[0]))))


def _zone(name: str, faults: list[str]) -> zoneinfo.ZoneInfo | None:
    try:
        return zoneinfo.ZoneInfo(name)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError):
        faults.append(f'time_zone "{shown(name)}" is not known; zones read like Europe/Berlin or America/New_York')
        return None


def _localized(
    index: pd.DatetimeIndex, text: pd.Series, zone: zoneinfo.ZoneInfo, faults: list[str]
) -> pd.DatetimeIndex | None:
    """Take stamps as the clock on the wall of a zone; the hour that summer time repeats must come twice, in order."""
    unclear = index.tz_localize(zone, ambiguous="NaT", nonexistent="shift_forward").isna()
    skipped = index.tz_localize(zone, ambiguous=np.ones(len(index), dtype=bool), nonexistent="NaT").isna()
    order = pd.Series(index).groupby(index).cumcount().to_numpy()  # the first pass of a repeated hour is summer time
    twice = pd.Series(index).groupby(index).transform("size").to_numpy() == 2
    bad = skipped | (unclear & ~twice)
    if bad.any():
        faults.append(
            f"time: stamps {where(text[bad])} fall in the hour that summer time of {zone} skips or repeats; export the file in "
            "standard time or UTC"
        )
        return None
    return index.tz_localize(zone, ambiguous=order == 0)


def _model_stamps(text: pd.Series, calendar: str, faults: list[str]) -> pd.Index | None:
    """Read stamps of a calendar that models use."""
    import cftime

    if calendar not in CALENDARS:
        faults.append(f'calendar "{calendar}" is not known; known: {", ".join(CALENDARS)}')
        return None
    offsets = text[text.str.contains(_OFFSET, regex=True)]
    if len(offsets):
        faults.append(f"time: offsets from UTC {where(offsets)}, which a calendar of a model has not")
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
    none = text[
        (
            (month < 1)
            | (month > 12)
            | (day < 1)
            | (day > last)
            | (parts[3] > 23)
            | (parts[4] > 59)
            | (parts[5] > 59)
            | (parts[0] < 1)
        )
        & ~leap_day
    ]
    if len(none):
        faults.append(f"time: no such date in the calendar {calendar} {where(none)}")
    if faults:
        return None
    return xr.CFTimeIndex([cftime.datetime(*row, calendar=calendar) for row in parts.to_numpy().tolist()])
