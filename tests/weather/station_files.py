"""Station files written by the layout in the readme of GHCN-Daily (NOAA), with values made up for the tests."""

from __future__ import annotations

MISSING = "-9999   "


def group(value: int | None, flags: str = "   ") -> str:
    """Return one of the 31 groups of a line: value in 5 places, then measurement, quality and source flag."""
    return MISSING if value is None else f"{value:5d}{flags}"


def line(element: str, days: dict[int, str], month: str = "202401", station: str = "OSW00000001") -> str:
    """Return a line of one month; days that are not given are missing."""
    return f"{station}{month}{element}" + "".join(days.get(day, MISSING) for day in range(1, 32))


def month_of(values: list[int], flags: str = "   ") -> dict[int, str]:
    """Return the groups of the first days of a month."""
    return {day: group(value, flags) for day, value in enumerate(values, 1)}
