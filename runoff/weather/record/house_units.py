"""From the unit a file has to the unit the package has, for one quantity at a time.

Rates become the depth of the step here and nowhere else among the readers; a sum of radiation over the step becomes its
mean per day.
"""

from __future__ import annotations

import re
from typing import Any

from runoff.errors import RunoffError
from runoff.quantities import QUANTITIES
from runoff.units import canonical_unit, convert, unit_dimension

#: Endings of column names that say the unit, as in ``rain_mm`` and ``tmin_c``.
_ENDINGS = {
    "mm": "mm", "in": "in", "m": "m", "cm": "cm", "c": "degC", "degc": "degC", "f": "degF", "degf": "degF", "k": "K",
    "percent": "%", "fraction": "1", "m_per_s": "m s-1", "mph": "mph", "h": "h", "min": "min",
    "mj_per_m2": "MJ m-2 d-1", "w_per_m2": "W m-2", "mm_per_h": "mm/h", "mm_per_day": "mm/day",
    "kpa": "kPa", "hpa": "hPa",
}  # fmt: skip
_BRACKETS = re.compile(r"[\[(]([^\])]+)[\])]\s*$")
#: Attribute of a record: columns of its file that are called like rain beside the one that was read.
OTHER_RAIN = "other_rain"
_LIKE_RAIN = re.compile(r"(?<![a-z])rain(fall)?(?![a-z])|precip|prcp|niederschlag|neerslag|pluie|lluvia|pioggia")
#: Words that say that a column tells something else about rain than its amount.
NOT_AN_AMOUNT = r"max|duur|durat|\bhour|uur|type|form|intens|prob|days?\b|flag|quality|_qc|snow"
_SUMS_OF_RADIATION = {"J cm-2", "J/cm2", "MJ m-2", "MJ/m2"}  # per step; a daily file leaves "per day" out


def to_house(values: Any, quantity: str, unit: str, step_hours: float) -> Any:
    """Return values of a quantity in house units.

    Parameters
    ----------
    values
        Number or array in `unit`.
    quantity
        A name of `runoff.quantities`.
    unit
        As the file or the user spells it.
    step_hours
        Step of the record, h: turns rates into the depth of the step.

    Returns
    -------
    float or numpy.ndarray
        In the house unit of the quantity, in the kind and shape of `values`.

    Raises
    ------
    RunoffError
        When there is no unit, it is unknown, or it measures something else.
    """
    wanted = QUANTITIES[quantity].units
    if not unit.strip() and wanted == "1":
        return values  # a bare number is a fraction; percent says so
    if not unit.strip():
        raise RunoffError(f'its unit is not known; give units={{"{quantity}": "{wanted}"}}')
    if wanted == "m s-1" and unit.strip() in ("m/s", "m s**-1", "m.s-1"):
        return values
    name = canonical_unit(unit)
    if wanted == "mm" and name == "m s-1":
        name = "m/s"  # so CF spells the unit of a rate of water (lwe_precipitation_rate); elsewhere that is wind
    if wanted == "mm" and unit_dimension(name) == "intensity":
        return convert(values, name, "mm/h") * step_hours
    converted = convert(values, name, wanted)
    if quantity == "solar_radiation" and " ".join(unit.split()) in _SUMS_OF_RADIATION and step_hours != 24.0:
        return converted * (24.0 / step_hours)
    return converted


_QUANTITY = re.compile(rf"({'|'.join(sorted(QUANTITIES, key=len, reverse=True))})(?:_(.+))?")


def quantity_in_name(name: str) -> tuple[str, str] | None:
    """Return quantity and unit of a column called like a house quantity, ``rain_mm`` or ``rain``; None for others."""
    lower = name.strip().lower()
    known = _QUANTITY.fullmatch(_BRACKETS.sub("", lower[:100]).strip())  # a million names may come by
    if known is None or (known[2] and known[2] not in _ENDINGS):
        return None
    return known[1], (_ENDINGS[known[2]] if known[2] else unit_in_name(name, known[1]))


def unit_in_name(name: str, quantity: str) -> str:
    """Return the unit that a column name carries, ``P (mm)`` or ``P_mm``, or an empty text."""
    bracket = _BRACKETS.search(name)
    parts = name.strip().lower().split("_")
    said = bracket.group(1) if bracket else next(
        (_ENDINGS["_".join(parts[i:])] for i in range(1, len(parts)) if "_".join(parts[i:]) in _ENDINGS), ""
    )  # fmt: skip
    try:
        to_house(1.0, quantity, said, 24.0)
    except RunoffError:
        return ""  # a word in brackets that is no unit of this quantity
    return said


def called_like_rain(name: str) -> bool:
    """Tell whether a column is called like an amount of rain.

    Examples
    --------
    >>> [called_like_rain(name) for name in ("rain_b_mm", "Precipitation (mm)", "rain_flag", "drain_mm")]
    [True, True, False, False]
    """
    lower = name.lower()[:100]
    return bool(_LIKE_RAIN.search(lower)) and not re.search(NOT_AN_AMOUNT, lower)
