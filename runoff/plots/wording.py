"""Units and words on figures: two unit systems, names of properties and stores, dates, numbers."""

from __future__ import annotations

import calendar
from typing import Any

import numpy as np

from runoff.errors import RunoffError
from runoff.findings.summary import FACTS
from runoff.findings.tables import shown
from runoff.roof.property_names import property_words
from runoff.units import convert, unit_dimension

MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip

_UNIT_OF = {
    "si": {"depth": "mm", "intensity": "mm/h", "flow": "L/s", "load": "kg/m2", "density": "kg/m3", "area": "m2"},
    "us": {"depth": "in", "intensity": "in/h", "flow": "gpm", "load": "lb/ft2", "density": "lb/ft3", "area": "ft2"},
}
_UNIT_OF["si"]["flow per width"], _UNIT_OF["us"]["flow per width"] = "L/(s m)", "gpm/ft"
_OTHER_FIGURES = {
    "drained_mass": ("kg/m2", "mass, drained"),
    "build_up_depth": ("mm", "depth of the build-up"),
    "cost": ("1", "cost per m2"),
}
# words short enough for an axis; the long ones stand in tables
_SHORT = {
    "retention": "rain kept (retention)",
    "annual_capture_mm": "rain kept per year",
    "annual_capture_m3": "rain kept per year, whole roof",
    "events_held": "rain events without overflow",
    "peak_overflow": "wettest day's overflow (not a storm peak)",
    "peak_discharge": "largest discharge, mean of one step",
    "rot_risk_days": "days at risk of root rot",
    "waterlogged_days": "waterlogged days",
    "dry_days": "dry days",
}


class Units:
    """One of the two unit systems, and how numbers are turned into it."""

    def __init__(self, system: str) -> None:
        if system not in _UNIT_OF:
            raise RunoffError(f'units must be "si" or "us" (given "{system}")')
        self.system = system

    def name(self, unit: str) -> str:
        """Return the unit shown in place of `unit`, as plain text (``kg/m²``)."""
        return pretty(self._target(unit))

    def show(self, values: Any, unit: str) -> Any:
        """Return numbers given in `unit` as they are shown."""
        return convert(values, unit, self._target(unit))

    def say(self, value: float, unit: str, digits: int = 2) -> str:
        """Return one number with its unit, for sentences; `digits` are the significant ones."""
        return f"{number(float(self.show(float(value), unit)), digits)} {self.name(unit)}"

    def _target(self, unit: str) -> str:
        if unit == "m":
            return "m" if self.system == "si" else "ft"
        return _UNIT_OF[self.system].get(unit_dimension(unit), unit)


def pretty(unit: str) -> str:
    """Return a unit as it is printed."""
    return unit.replace("m2", "m²").replace("ft2", "ft²").replace("m3", "m³").replace("ft3", "ft³")


def number(value: float, digits: int = 2) -> str:
    """Return a number for a sentence: `digits` significant digits, none lost before the point, no idle zeros after it.

    Examples
    --------
    >>> number(1234.5), number(3.456), number(0.0123), number(5.0)
    ('1,234', '3.5', '0.012', '5')
    """
    if not np.isfinite(value):
        return "missing"
    if value == 0.0:
        return "0"
    places = max(0, digits - 1 - int(np.floor(np.log10(abs(value)))))
    text = f"{value:,.{min(places, 6)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def plain(value: Any) -> str:
    """Return a value of a property as a designer writes it: three significant digits, no idle zeros.

    Examples
    --------
    >>> plain(80.0), plain(0.005), plain(36000.0), plain("brick")
    ('80', '0.005', '36,000', 'brick')
    """
    if isinstance(value, int | float | np.number) and not isinstance(value, bool | np.bool_):
        return f"{float(f'{float(value):.3g}'):,.10g}"
    return str(value)


def share(value: float) -> str:
    """Return a fraction as whole percent."""
    return f"{100.0 * value:.0f} %"


def days(count: float) -> str:
    """Return a count of days in words."""
    whole = round(count)
    return f"{whole} day{'' if whole == 1 else 's'}"


def figure_label(name: str, values: Any, attrs: Any, units: Units) -> tuple[Any, str, str]:
    """Return a headline figure as shown: numbers, words, unit.

    Parameters
    ----------
    name
        A figure of `runoff.summarize`, or ``drained_mass``, ``build_up_depth``, ``cost``.
    values
        Its numbers.
    attrs
        Attributes of its array, for figures that are none of the known ones.
    units
        The system shown.
    """
    unit, words = _OTHER_FIGURES.get(name) or FACTS.get(name.removeprefix("bare_")) or ("", "")
    unit = unit or str(attrs.get("units", "1"))
    words = _SHORT.get(name, words) or str(attrs.get("long_name", name.replace("_", " ")))
    if unit in ("kg/m2", "mm"):
        return units.show(values, unit), words, units.name(unit)
    numbers, shown_unit, _ = shown(name, values, unit, units.system)
    return numbers, words, pretty(shown_unit)


def property_label(name: str, values: Any, units: Units) -> tuple[Any, str, str]:
    """Return a swept property as shown: numbers, words, unit; the unit is read from the end of its name.

    Examples
    --------
    >>> property_label("medium.depth_mm", 101.6, Units("us"))
    (4.0, 'medium: depth', 'in')
    """
    part, words, unit = property_words(name)
    words = f"{part}: {words}" if part else words
    if not unit or np.asarray(values).dtype.kind not in "fiu":
        return values, words, pretty(unit)
    return (
        units.show(np.asarray(values, dtype=float), unit)
        if np.ndim(values)
        else float(units.show(float(values), unit)),
        words,
        units.name(unit),
    )


def with_unit(words: str, unit: str) -> str:
    """Return the text of an axis: words, then the unit."""
    return f"{words}, {unit}" if unit else words


def date_words(stamp: Any) -> str:
    """Return a date as ``12 July 2003``, whatever the calendar and the language of the machine."""
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


def invented_note(attrs: Any) -> str:
    """Return the mark of invented weather, or nothing; it must stand wherever such a result is shown."""
    return " (invented weather)" if str(attrs.get("invented", "no")) == "yes" else ""
