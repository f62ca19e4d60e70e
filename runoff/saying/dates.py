"""Dates and months in words, whatever the calendar and the language of the machine."""

from __future__ import annotations

import calendar
from typing import Any

import numpy as np

MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip


def date_words(stamp: Any) -> str:
    """Return a date as ``12 July 2003``."""
    year, month, day = str(stamp)[:10].split("-")
    return f"{int(day)} {MONTHS[int(month) - 1]} {int(year)}"


def month_starts(kind: str = "standard", year: int = 2001) -> list[int]:
    """Return the days since 1 January on which the months begin, and the length of the year (13 numbers)."""
    if kind == "360_day":
        lengths = [30] * 12
    else:
        if kind in ("noleap", "365_day"):
            year = 2001
        elif kind in ("all_leap", "366_day"):
            year = 2000
        lengths = [calendar.monthrange(max(1, min(year, 9999)), month)[1] for month in range(1, 13)]
    return [0, *np.cumsum(lengths).tolist()]
