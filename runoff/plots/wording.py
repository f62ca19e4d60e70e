"""Words on figures: names of headline figures and of properties, short enough for an axis."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from runoff.findings.summary import FACTS
from runoff.findings.tables import kind_of_figure
from runoff.saying.properties import property_words
from runoff.saying.scales import Units, converted, typeset, unit_shown

if TYPE_CHECKING:
    import xarray as xr

_OTHER_FIGURES = {
    "drained_mass": ("kg/m2", "drained mass"),
    "build_up_depth": ("mm", "depth of the build-up"),
    "cost": ("1", "cost per m2"),
}


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

    Returns
    -------
    float or numpy.ndarray
        `values` in the unit shown.
    str
        Name of the figure.
    str
        Unit as it stands on an axis; empty for a number without unit.
    """
    unit, words = _OTHER_FIGURES.get(name) or FACTS.get(name.removeprefix("bare_")) or ("", "")
    unit = unit or str(attrs.get("units", "1"))
    words = words or str(attrs.get("long_name", name.replace("_", " ")))
    kind = kind_of_figure(name, unit)
    numbers = converted(values, unit, kind, units.system)
    return numbers, words, typeset(unit_shown(unit, kind, units.system))


def property_label(name: str, values: Any, units: Units) -> tuple[Any, str, str]:
    """Return a swept property as shown: numbers, words, unit; the unit is read from the end of its name.

    Parameters
    ----------
    name
        Dotted name of the property, such as ``medium.depth_mm``.
    values
        One value or an array, in that unit; words pass through.
    units
        The system shown.

    Returns
    -------
    float or numpy.ndarray
        `values` in the unit shown.
    str
        Name of the property.
    str
        Unit as it stands on an axis; empty for a number without unit.

    Examples
    --------
    >>> property_label("medium.depth_mm", 101.6, Units("us"))
    (4.0, 'medium: depth', 'in')
    """
    part, words, unit = property_words(name)
    words = f"{part}: {words}" if part else words
    if not unit or np.asarray(values).dtype.kind not in "fiu":
        return values, words, typeset(unit)
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


def invented_note(attrs: Any) -> str:
    """Return the mark of invented weather, or nothing; it must stand wherever such a result is shown."""
    return " (invented weather)" if str(attrs.get("invented", "no")) == "yes" else ""


def nearest_words(table: xr.Dataset) -> str:
    """Say of the candidate nearest to the targets how many of them it misses."""
    missed = ~table["meets"].isel(design=int(table["nearest"]))
    count, whole = int(missed.sum()), int(missed.size)
    return "nearest, misses the target" if whole == 1 else f"nearest, misses {count} of {whole} targets"
