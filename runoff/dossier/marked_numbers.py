"""Numbers as they are printed: each one carries the figure it came from, so that it can be traced back and checked.

A number of the dossier stands in the page as ``<data value="24.13" data-figure="annual_capture_mm" ...>``. The value is
the one of the findings in their own unit, at full precision; the text is that value in the unit shown, rounded. `shown`
is the only place where the rounding happens, for the writing and for the checking of a dossier alike.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from runoff.errors import RunoffError, nearest
from runoff.units import convert

if TYPE_CHECKING:
    import xarray as xr
    from markupsafe import Markup

# units as a reader expects to see them
_SPELLED = {
    "m2": "m²",
    "m3": "m³",
    "ft2": "ft²",
    "kg/m2": "kg/m²",
    "kN/m2": "kN/m²",
    "lb/ft2": "lb/ft²",
    "percent": "%",
}


@dataclass(frozen=True)
class Scale:
    """How one kind of number is shown: unit and decimals in SI and in US customary units."""

    si: str
    si_digits: int
    us: str
    us_digits: int


#: Kinds of numbers. A kind with the same unit twice is shown once.
SCALES: dict[str, Scale] = {
    "yearly depth": Scale("mm", 0, "in", 1),
    "month depth": Scale("mm", 0, "in", 2),
    "depth": Scale("mm", 1, "in", 2),
    "layer depth": Scale("mm", 0, "in", 1),
    "volume": Scale("m3", 1, "gal", 0),
    "fine volume": Scale("m3", 2, "gal", 0),
    "area": Scale("m2", 1, "ft2", 0),
    "length": Scale("m", 1, "ft", 1),
    "flow": Scale("L/s", 2, "gpm", 1),
    "daily depth": Scale("mm/day", 1, "in/day", 2),
    "intensity": Scale("mm/h", 0, "in/h", 2),
    "load": Scale("kg/m2", 1, "lb/ft2", 1),
    "pressure": Scale("kN/m2", 2, "kN/m2", 2),
    "share": Scale("percent", 0, "percent", 0),
    "fine share": Scale("percent", 1, "percent", 1),
    "coefficient": Scale("1", 2, "1", 2),
    "count": Scale("", 1, "", 1),
    "whole": Scale("", 0, "", 0),
    "exact": Scale("", 6, "", 6),
}


def figure_key(name: str, **at: Any) -> str:
    """Return the name of one number of a labelled array: ``rain_by_month[month=3]``.

    Examples
    --------
    >>> figure_key("capture_mm", event="25.4", start="dry")
    'capture_mm[event=25.4,start=dry]'
    """
    place = ",".join(f"{dim}={label}" for dim, label in sorted(at.items()))
    return f"{name}[{place}]" if place else name


def flatten(figures: xr.Dataset) -> dict[str, float]:
    """Return every number of a Dataset under its `figure_key`, in the Dataset's order."""
    import numpy as np

    numbers: dict[str, float] = {}
    for name, array in figures.data_vars.items():
        labels = [[str(label) for label in array[dim].to_numpy()] for dim in array.dims]
        for place in np.ndindex(array.shape):
            at = {str(dim): labels[i][place[i]] for i, dim in enumerate(array.dims)}
            numbers[figure_key(str(name), **at)] = float(array.to_numpy()[place])
    return numbers


def shown(value: float, units: str, unit_shown: str, digits: int) -> str:
    """Return a number as printed: converted, rounded, with commas between thousands.

    Examples
    --------
    >>> shown(612.34, "mm", "in", 1)
    '24.1'
    >>> shown(45.2, "m3", "gal", 0)
    '11,941'
    """
    if unit_shown and unit_shown != units:
        value = convert(value, units, unit_shown)
    text = f"{value:,.{digits}f}"
    if digits > 3:
        text = text.rstrip("0").rstrip(".")
    return text[1:] if text.startswith("-") and not text.strip("-0.,") else text.replace("-", "\N{MINUS SIGN}")


def spelled(unit: str) -> str:
    """Return a unit as a reader expects to see it."""
    return _SPELLED.get(unit, unit)


class Numbers:
    """The numbers of one dossier, ready for the page.

    Parameters
    ----------
    figures
        The findings: every number printed is one of them.
    """

    def __init__(self, figures: xr.Dataset) -> None:
        self.values = flatten(figures)
        self.units = {str(name): str(array.attrs.get("units", "")) for name, array in figures.data_vars.items()}

    def value(self, name: str, **at: Any) -> float:
        """Return one number in its own unit.

        Raises
        ------
        RunoffError
            When the findings hold no such number.
        """
        key = figure_key(name, **at)
        if key not in self.values:
            raise RunoffError(f'dossier: the findings hold no number "{key}"{nearest(key, self.values)}')
        return self.values[key]

    def is_known(self, name: str, **at: Any) -> bool:
        """Tell whether the findings hold this number and it is not missing."""
        return math.isfinite(self.values.get(figure_key(name, **at), math.nan))

    def si(self, name: str, kind: str, *, unit: bool = True, **at: Any) -> Markup:
        """Return one number in SI units, marked."""
        scale = SCALES[kind]
        return self._marked(name, scale.si, scale.si_digits, unit, at)

    def us(self, name: str, kind: str, *, unit: bool = True, **at: Any) -> Markup:
        """Return one number in US customary units, marked."""
        scale = SCALES[kind]
        return self._marked(name, scale.us, scale.us_digits, unit, at)

    def both(self, name: str, kind: str, **at: Any) -> Markup:
        """Return one number in SI units with the US one in brackets."""
        from markupsafe import Markup

        scale = SCALES[kind]
        if scale.si == scale.us:
            return self.si(name, kind, **at)
        return Markup("{} ({})").format(self.si(name, kind, **at), self.us(name, kind, **at))

    @staticmethod
    def is_pair(kind: str) -> bool:
        """Tell whether a kind of number has two units, SI and US."""
        return SCALES[kind].si != SCALES[kind].us

    def span(self, name: str, kind: str, *, system: str = "si", unit: bool = False, **at: Any) -> Markup:
        """Return the 5 to 95 % range of a number, or a dash where none was formed."""
        from markupsafe import Markup

        if not self.is_known(f"{name}_range", bound="5", **at):
            return Markup("–")
        write = self.si if system == "si" else self.us
        low = write(f"{name}_range", kind, unit=False, bound="5", **at)
        high = write(f"{name}_range", kind, unit=unit, bound="95", **at)
        return Markup("{} to {}").format(low, high)

    def plain(self, name: str, kind: str, *, system: str = "si", unit: bool = True, **at: Any) -> str:
        """Return one number as bare text, for alternative texts of figures, which cannot hold marks."""
        scale = SCALES[kind]
        wanted, digits = (scale.si, scale.si_digits) if system == "si" else (scale.us, scale.us_digits)
        text = shown(self.value(name, **at), self.units[name], wanted, digits)
        return f"{text} {spelled(wanted)}" if unit and wanted not in ("", "1") else text

    def _marked(self, name: str, wanted: str, digits: int, unit: bool, at: dict[str, Any]) -> Markup:
        from markupsafe import Markup

        value = self.value(name, **at)
        if not math.isfinite(value):
            return Markup("–")
        text = shown(value, self.units[name], wanted, digits)
        mark = Markup('<data value="{}" data-figure="{}" data-shown="{}" data-digits="{}">{}</data>').format(
            repr(value), figure_key(name, **at), wanted, digits, text
        )
        return (
            mark + Markup("\N{NO-BREAK SPACE}{}").format(spelled(wanted)) if unit and wanted not in ("", "1") else mark
        )


def relative_difference(a: float, b: float) -> float:
    """Return how far two numbers lie apart, relative to the larger; 0 for two missing ones, infinite for one."""
    if math.isnan(a) or math.isnan(b):
        return 0.0 if math.isnan(a) and math.isnan(b) else math.inf
    if math.isinf(a) or math.isinf(b):
        return 0.0 if a == b else math.inf
    return abs(a - b) / max(abs(a), abs(b), 1e-9)
