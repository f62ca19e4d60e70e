"""How a plain table is laid out: what its reader must be told, since nothing is guessed in silence."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence

import pandas as pd

from runoff.errors import WeatherError, nearest, raise_faults, shown
from runoff.weather.files.stamps import CALENDARS, DATE_ORDERS

#: Separators that a command line cannot well spell: tabulators, and any number of blanks.
NAMED_SEPARATORS = ("tab", "space")


@dataclasses.dataclass(frozen=True, kw_only=True)
class TableLayout:
    """How a plain table is laid out.

    Parameters
    ----------
    separator
        One character, ``"tab"``, or ``"space"`` for any number of blanks. Default: semicolon, tab or comma, as the header
        shows.
    decimal
        ``"."`` or ``","``.
    skip_lines
        Lines before the header (or before the first value, without a header).
    header
        Whether there is a line of column names; without one, columns go by number, from 0.
    comment
        Lines that begin with this are passed over; a header right after `skip_lines` may be written as a comment.
    missing
        Codes that mean missing, beside empty, NA and NaN: numbers, ``[-9999]``, or texts, ``["M"]``.
    trace
        Texts that mean too little to measure, counted and taken as 0, for example ``["T"]``.
    dates
        Order of the parts of a date: ``"year-month-day"``, or what must be declared, ``"day-month-year"`` and
        ``"month-day-year"``.
    stamp
        ``"start"`` or ``"end"`` of the interval the time names; ends are moved to starts. Default: the start, which is then
        told as assumed.
    round_to
        Rounds stamps, for example ``"1min"``.
    regular_to
        Brings amounts of a logger whose clock drifts or was set to regular steps, for example ``"5min"``: each is shared
        out over the steps it overlaps, so that none is lost. For tables of rain and evapotranspiration alone.
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
        Height of the anemometer, m; without it 10 m is taken, the standard height of stations.
    site_column
        Column with the names of the sites, by name or number, where a table holds several one below the other; one of them is
        read, see `runoff.read_weather`.
    """

    separator: str | None = None
    decimal: str = "."
    skip_lines: int = 0
    header: bool = True
    comment: str = "#"
    missing: Sequence[float | str] = ()
    trace: Sequence[str] = ()
    dates: str = "year-month-day"
    stamp: str | None = None
    round_to: str | None = None
    regular_to: str | None = None
    time_zone: str | None = None
    day_start: str | None = None
    calendar: str = "standard"
    first_time: str | None = None
    step: str | None = None
    wind_height_m: float | None = None
    site_column: str | None = None

    def __post_init__(self) -> None:
        """Refuse what cannot be followed, all faults at once."""
        faults = []
        if self.decimal not in (".", ","):
            faults.append(f'decimal is "." or "," (given "{self.decimal}")')
        if self.dates not in DATE_ORDERS:
            faults.append(f'dates are {", ".join(DATE_ORDERS)} (given "{self.dates}")')
        if self.stamp not in (None, "start", "end"):
            faults.append(f'stamp is "start" or "end" of the interval (given "{self.stamp}")')
        if self.calendar not in CALENDARS:
            faults.append(f'calendar "{self.calendar}" is not known; known: {", ".join(CALENDARS)}')
        if isinstance(self.trace, str) or isinstance(self.missing, str | int | float):
            faults.append('missing and trace are lists, missing=[-9999] and trace=["T"]')
        faults += self._faults_of_marks() + self._faults_of_times()
        if (self.first_time is None) != (self.step is None):
            faults.append('first_time and step belong together, first_time="2006-01-01 00:00", step="1h"')
        raise_faults("layout", faults, WeatherError)

    def _faults_of_marks(self) -> list[str]:
        faults = []
        if self.separator is not None and len(self.separator) != 1 and self.separator not in NAMED_SEPARATORS:
            named = ", ".join(f'"{name}"' for name in NAMED_SEPARATORS)
            faults.append(f'separator is one character, or {named} (given "{shown(self.separator)}")')
        if self.separator is not None and self.separator in (self.decimal, '"', "\n"):
            faults.append(
                f'separator "{shown(self.separator)}" cannot part cells here; it is the decimal mark, a quote or an end of line'
            )
        if not isinstance(self.skip_lines, int) or self.skip_lines < 0:
            faults.append(f"skip_lines is a number of lines, 0 or more (given {shown(self.skip_lines)})")
        height = self.wind_height_m
        if height is not None and not (isinstance(height, int | float) and 0.5 <= height <= 200.0):
            faults.append(f"wind_height_m lies between 0.5 and 200 m (given {shown(height)})")
        return faults

    def _faults_of_times(self) -> list[str]:
        faults = []
        for name, example in (("step", "1h"), ("round_to", "1min"), ("regular_to", "5min")):
            given = getattr(self, name)
            if given is not None and not _is_duration(given):
                faults.append(
                    f'{name} is a duration longer than nothing, for example "{example}" (given "{shown(given)}")'
                )
        if self.first_time is not None:
            try:
                known = pd.Timestamp(self.first_time)
                if known.tz is not None or known is pd.NaT:
                    raise ValueError("no zone is wanted")
            except (ValueError, TypeError, OverflowError):
                faults.append(
                    f'first_time reads like "2006-01-01 00:00", without a zone (given "{shown(self.first_time)}")'
                )
        return faults


def _is_duration(text: str) -> bool:
    try:
        return bool(pd.Timedelta(text) > pd.Timedelta(0))
    except (ValueError, TypeError, OverflowError):
        return False


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
