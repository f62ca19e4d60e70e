"""The one table of how quantities are shown: kind of quantity -> unit and decimals, in SI and in US customary units.

A kind is named after what a unit measures (``depth``, ``flow``), or, where the same unit wants other decimals, after its
use (``yearly depth``). A number without a kind gets the one of its unit. Nothing else in the package holds a unit to show
or a count of decimals.
"""

from __future__ import annotations

import re
from typing import Any, NamedTuple

from runoff.errors import RunoffError, nearest
from runoff.saying.numbers import fixed, number
from runoff.units import convert, unit_dimension

SYSTEMS = ("si", "us")


class Scale(NamedTuple):
    """How one kind of quantity is shown: unit and decimals in SI and in US customary units.

    Parameters
    ----------
    si, us
        Units of `runoff.units`; empty where the number is shown as it is, without a unit.
    si_digits, us_digits
        Decimals.
    trimmed
        Zeros at the end are left away: for what a person wrote down (80 mm), not for what was computed (80.0 mm).
    """

    si: str
    si_digits: int
    us: str
    us_digits: int
    trimmed: bool = False

    def unit(self, system: str) -> str:
        """Return the unit of a system."""
        return self.si if system == "si" else self.us

    def digits(self, system: str) -> int:
        """Return the decimals of a system."""
        return self.si_digits if system == "si" else self.us_digits


#: Kinds of quantities. A kind with the same unit twice is shown once where both systems stand side by side.
SCALES: dict[str, Scale] = {
    # depths of water and of layers
    "depth": Scale("mm", 1, "in", 2),
    "fine depth": Scale("mm", 2, "in", 3),
    "month depth": Scale("mm", 0, "in", 2),
    "yearly depth": Scale("mm", 0, "in", 1),
    "level": Scale("mm", 0, "in", 2),
    "layer depth": Scale("mm", 1, "in", 2, trimmed=True),
    "daily depth": Scale("mm/day", 1, "in/day", 2),
    "excess": Scale("mm day/year", 0, "in day/year", 1),
    "per depth": Scale("1/mm", 4, "1/in", 3, trimmed=True),
    "intensity": Scale("mm/h", 1, "in/h", 2),
    # volumes and flows
    "volume": Scale("m3", 1, "gal", 0),
    "claimed volume": Scale("m3", 1, "gal", 0),
    "storm volume": Scale("m3", 2, "gal", 0),
    "bulk volume": Scale("m3", 2, "ft3", 1),
    "flow": Scale("L/s", 2, "gpm", 1),
    "release": Scale("L/(s ha)", 0, "ft3/(s acre)", 2),
    "flow per width": Scale("L/(s m)", 2, "gpm/ft", 2),
    # extent
    "length": Scale("m", 1, "ft", 1, trimmed=True),
    "area": Scale("m2", 1, "ft2", 0, trimmed=True),
    # masses and loads
    "mass": Scale("kg", 0, "lb", 0),
    "load": Scale("kg/m2", 1, "lb/ft2", 1),
    "whole load": Scale("kg/m2", 0, "lb/ft2", 0),
    "force": Scale("kN/m2", 2, "lb/ft2", 1),
    "density": Scale("kg/m3", 0, "lb/ft3", 1),
    # weather
    "temperature": Scale("degC", 1, "degF", 1),
    "speed": Scale("m s-1", 1, "mph", 1),
    # time
    "minutes": Scale("min", 0, "min", 0),
    "hours": Scale("h", 1, "h", 1),
    "days": Scale("day", 0, "day", 0),
    "days a year": Scale("day/year", 1, "day/year", 1),
    # shares, and numbers that stand without a unit, whatever they count
    "share": Scale("%", 0, "%", 0),
    "fine share": Scale("%", 1, "%", 1),
    "coefficient": Scale("", 2, "", 2),
    "count": Scale("", 1, "", 1),
    "whole": Scale("", 0, "", 0),
    "exact": Scale("", 6, "", 6, trimmed=True),
}

# units whose kind is not what they measure; all others go by `runoff.units.unit_dimension`
_KIND_OF_UNIT = {
    "m": "length",
    "ft": "length",
    "mm/day": "daily depth",
    "in/day": "daily depth",
    "kN/m2": "force",
    "min": "minutes",
    "h": "hours",
    "day": "days",
    "day/year": "days a year",
    "1": "count",
    "": "count",
    "%": "share",
    "percent": "share",
}
# plural or typographic forms for text
_IN_WORDS = {"1": "", "day": "days", "day/year": "days/year", "percent": "%"}
_TYPESET = {
    "m2": "m²",
    "m3": "m³",
    "ft2": "ft²",
    "ft3": "ft³",
    "yd3": "yd³",
    "degC": "°C",
    "degF": "°F",
    "percent": "%",
}


def require_system(system: str) -> str:
    """Return the unit system asked for.

    Raises
    ------
    RunoffError
        When it is neither ``"si"`` nor ``"us"``.
    """
    if system not in SYSTEMS:
        raise RunoffError(f'units must be "si" or "us" (given "{system}")')
    return system


def kind_of(unit: str) -> str:
    """Return the kind a number has by its unit alone.

    Examples
    --------
    >>> kind_of("gpm"), kind_of("mm/day"), kind_of("%")
    ('flow', 'daily depth', 'share')
    """
    return _KIND_OF_UNIT.get(unit) or unit_dimension(unit)


def scale_of(kind: str) -> Scale:
    """Return how a kind of quantity is shown.

    Raises
    ------
    RunoffError
        When there is no such kind.
    """
    if kind not in SCALES:
        raise RunoffError(f'"{kind}" is no kind of quantity{nearest(kind, SCALES)}; kinds: {", ".join(SCALES)}')
    return SCALES[kind]


class Shown(NamedTuple):
    """One number as shown: in the unit shown, with the decimals it is rounded to on paper."""

    value: float
    unit: str
    digits: int
    trimmed: bool = False

    @property
    def text(self) -> str:
        """The number alone; a dash where it is missing."""
        return fixed(self.value, self.digits, trimmed=self.trimmed)

    def __str__(self) -> str:
        """Return number and unit; a dash alone where the number is missing."""
        unit = unit_words(self.unit)
        gap = "" if self.text == "-" or not unit else " "
        return self.text if self.text == "-" else f"{self.text}{gap}{unit}"


def shown(value: float, unit: str, kind: str = "", system: str = "si") -> Shown:
    """Return one number as it is shown to a person.

    Parameters
    ----------
    value, unit
        The number and its unit.
    kind
        A key of `SCALES`; by default the kind of the unit.
    system
        ``"si"`` or ``"us"``.

    Returns
    -------
    Shown
        Value in the unit shown, unrounded, with its decimals.

    Raises
    ------
    RunoffError
        For an unknown system, kind or unit, or a kind that measures something else.

    Examples
    --------
    >>> str(shown(612.34, "mm", "yearly depth", "us"))
    '24.1 in'
    >>> str(shown(0.425, "1", "share"))
    '43 %'
    """
    require_system(system)
    scale = scale_of(kind or kind_of(unit))
    target = scale.unit(system)
    return Shown(float(_to(value, unit, target)), target, scale.digits(system), scale.trimmed)


def converted(values: Any, unit: str, kind: str = "", system: str = "si") -> Any:
    """Return numbers, or an array of them, in the unit in which they are shown, unrounded.

    Parameters
    ----------
    values, unit
        A number or an array and its unit.
    kind, system
        As in `shown`.

    Returns
    -------
    float or array
        In the unit shown, in the shape given.

    Raises
    ------
    RunoffError
        As in `shown`.
    """
    scale = scale_of(kind or kind_of(unit))
    return _to(values, unit, scale.unit(require_system(system)))


def _to(values: Any, unit: str, target: str) -> Any:
    """Convert, unless the number is shown as it is."""
    return convert(values, unit or "1", target) if target else values


def say(value: float, unit: str, kind: str = "", system: str = "si") -> str:
    """Return one number with its unit as a person reads it; a dash where it is missing.

    Parameters
    ----------
    value, unit, kind, system
        As in `shown`.

    Returns
    -------
    str
        Rounded number, a blank and the unit.

    Raises
    ------
    RunoffError
        As in `shown`.

    Examples
    --------
    >>> say(3.05, "L/s", system="us"), say(float("nan"), "mm")
    ('48.3 gpm', '-')
    """
    return str(shown(value, unit, kind, system))


def both(value: float, unit: str, kind: str = "") -> str:
    """Return one number in SI with US customary units in brackets, for words that are kept with a result.

    Parameters
    ----------
    value, unit, kind
        As in `shown`.

    Returns
    -------
    str
        Without brackets where both systems read alike.

    Raises
    ------
    RunoffError
        As in `shown`.

    Examples
    --------
    >>> both(102.0, "mm", "layer depth")
    '102 mm (4.02 in)'
    """
    si, us = (say(value, unit, kind, system) for system in SYSTEMS)
    return si if si == us else f"{si} ({us})"


_AMOUNT = r"-?\d[\d,.]*(?: to -?\d[\d,.]*)?"
_PAIR = re.compile(rf"({_AMOUNT} (?:mm|m²|L/m²)) \(({_AMOUNT} (?:in|ft²))\)")


def in_order(text: str, system: str) -> str:
    """Return the words of `both` within a sentence, the unit system asked for in front.

    Examples
    --------
    >>> in_order("depth 102 mm (4.02 in), porosity 0.60", "us")
    'depth 4.02 in (102 mm), porosity 0.60'
    >>> in_order("a strip of 300 to 500 mm (12 to 20 in)", "us")
    'a strip of 12 to 20 in (300 to 500 mm)'
    """
    return _PAIR.sub(r"\2 (\1)", text) if system == "us" else text


def unit_shown(unit: str, kind: str = "", system: str = "si") -> str:
    """Return the unit that stands over a column, as a word of plain text.

    Parameters
    ----------
    unit, kind, system
        As in `shown`.

    Returns
    -------
    str
        Empty for a number that stands without a unit.

    Raises
    ------
    RunoffError
        As in `shown`.

    Examples
    --------
    >>> unit_shown("mm", "yearly depth", "us"), unit_shown("day/year"), unit_shown("1")
    ('in', 'days/year', '')
    """
    return unit_words(scale_of(kind or kind_of(unit)).unit(require_system(system)))


def unit_words(unit: str) -> str:
    """Return a unit as a word of plain text."""
    return _IN_WORDS.get(unit, unit)


def typeset(unit: str) -> str:
    """Return a unit as it is printed, with raised figures.

    Examples
    --------
    >>> typeset("kN/m2"), typeset("1"), typeset("degC")
    ('kN/m²', '', '°C')
    """
    whole = unit_words(unit)
    if whole in _TYPESET:
        return _TYPESET[whole]
    return whole.replace("m2", "m²").replace("ft2", "ft²").replace("m3", "m³").replace("ft3", "ft³")


class Units:
    """One of the two unit systems, for figures: whole arrays are turned into it, sentences get significant digits.

    Parameters
    ----------
    system
        ``"si"`` or ``"us"``.
    """

    def __init__(self, system: str) -> None:
        self.system = require_system(system)

    def name(self, unit: str) -> str:
        """Return the unit shown in place of `unit`, as it is printed (``kg/m²``)."""
        return typeset(self._target(unit))

    def show(self, values: Any, unit: str) -> Any:
        """Return numbers given in `unit` as they are shown."""
        return convert(values, unit, self._target(unit))

    def say(self, value: float, unit: str, digits: int = 2) -> str:
        """Return one number with its unit, for sentences; `digits` are the significant ones.

        Parameters
        ----------
        value, unit
            The number and its unit.
        digits
            Significant digits, a count.

        Returns
        -------
        str
            Number and unit as it is printed.
        """
        return f"{number(float(self.show(float(value), unit)), digits)} {self.name(unit)}".rstrip()

    def _target(self, unit: str) -> str:
        kind = kind_of(unit)
        return (SCALES[kind].unit(self.system) if kind in SCALES else "") or unit
