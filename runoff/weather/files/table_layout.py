"""How a plain table is laid out: what its reader must be told, since nothing is guessed in silence."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence

from runoff.errors import WeatherError, nearest, raise_faults
from runoff.weather.files.stamps import CALENDARS, DATE_ORDERS


@dataclasses.dataclass(frozen=True, kw_only=True)
class TableLayout:
    """How a plain table is laid out.

    Parameters
    ----------
    separator
        Default: semicolon, tab or comma, as the header shows.
    decimal
        ``"."`` or ``","``.
    skip_lines
        Lines before the header (or before the first value, without a header).
    header
        Whether there is a line of column names; without one, columns go by number, from 0.
    comment
        Lines that begin with this are passed over; a header right after `skip_lines` may be written as a comment.
    missing
        Codes that mean missing, beside empty and NaN, for example ``[-9999]``.
    trace
        Texts that mean too little to measure, counted and taken as 0, for example ``["T"]``.
    dates
        Order of the parts of a date: ``"year-month-day"``, or what must be declared, ``"day-month-year"`` and
        ``"month-day-year"``.
    stamp
        ``"start"`` or ``"end"`` of the interval the time names; ends are moved to starts.
    round_to
        Rounds stamps, for example ``"1min"``.
    time_zone
        The clock of the stamps: words that are kept (``"UTC+8"``, ``"CET"``), or a zone such as ``"Europe/Berlin"`` when
        the clock follows summer time; the stamps are then brought to standard time.
    day_start
        Time of day at which the days of a daily file begin, in words or as ``"07:00"``; kept in the attributes.
    calendar
        ``"standard"``, or a model's calendar: ``"noleap"`` (``"365_day"``), ``"360_day"``.
    first_time, step
        For a file of bare values: the start of the first interval and the step.
    wind_height_m
        Height of the anemometer, m; without it the wind is taken as measured at 2 m.
    """

    separator: str | None = None
    decimal: str = "."
    skip_lines: int = 0
    header: bool = True
    comment: str = "#"
    missing: Sequence[float] = ()
    trace: Sequence[str] = ()
    dates: str = "year-month-day"
    stamp: str = "start"
    round_to: str | None = None
    time_zone: str | None = None
    day_start: str | None = None
    calendar: str = "standard"
    first_time: str | None = None
    step: str | None = None
    wind_height_m: float | None = None

    def __post_init__(self) -> None:
        """Refuse what cannot be followed, all faults at once."""
        faults = []
        if self.decimal not in (".", ","):
            faults.append(f'decimal is "." or "," (given "{self.decimal}")')
        if self.dates not in DATE_ORDERS:
            faults.append(f'dates are {", ".join(DATE_ORDERS)} (given "{self.dates}")')
        if self.stamp not in ("start", "end"):
            faults.append(f'stamp is "start" or "end" of the interval (given "{self.stamp}")')
        if self.calendar not in CALENDARS:
            faults.append(f'calendar "{self.calendar}" is not known; known: {", ".join(CALENDARS)}')
        if isinstance(self.trace, str) or isinstance(self.missing, str | int | float):
            faults.append('missing and trace are lists, missing=[-9999] and trace=["T"]')
        if (self.first_time is None) != (self.step is None):
            faults.append('first_time and step belong together, first_time="2006-01-01 00:00", step="1h"')
        raise_faults("layout", faults, WeatherError)


def layout_of(given: TableLayout | Mapping[str, object] | None) -> TableLayout:
    """Return a layout from what the user gave."""
    if given is None or isinstance(given, TableLayout):
        return given or TableLayout()
    known = [field.name for field in dataclasses.fields(TableLayout)]
    faults = [
        f'"{name}" is not known{nearest(name, known)}; known: {", ".join(known)}' for name in given if name not in known
    ]
    raise_faults("layout", faults, WeatherError)
    return TableLayout(**given)  # type: ignore[arg-type]
