"""Runoff of one storm by curve number, and the curve number of a measured storm.

    S = 25400/CN - 254 mm,   Ia = ratio S,   Q = (P - Ia)^2 / (P - Ia + S) above Ia, else 0

Sources: USDA-NRCS TR-55 (1986) eq. 2-1 to 2-4; NEH Part 630 ch. 10 (2004) eq. 10-9 to 10-13. An equivalent curve number is what permits ask for. It says nothing of a planted roof's state before the storm,
and `CURVE_NUMBER_LIMITS` belongs beside every one that is shown.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from runoff.errors import RunoffError
from runoff.saying.scales import both
from runoff.units import require_units

TR55_ABSTRACTION_RATIO = 0.2
ROOF_CURVE_NUMBER = 98.0  # TR-55 Table 2-2a: paved areas, roofs and drives, all soil groups

CURVE_NUMBER_LIMITS = (
    "A curve number gives the depth of runoff of one storm: no time, no peak, no recovery between storms (TR-55).",
    "TR-55 does not use it below a weighted curve number of 40.",
    "It is less accurate where runoff is under 0.5 in (12.7 mm).",
    "Curve numbers are tabled for an initial abstraction of 0.2 S; another ratio needs another set (TR-55 p. 2-11).",
    "One fitted to a single storm holds for that depth and that wetness before it; on a planted roof both move it.",
)


def potential_retention(curve_number: Any) -> Any:
    """Return S, mm: ``25400/CN - 254``.

    Raises
    ------
    RunoffError
        When a curve number is not above 0 and at most 100.
    """
    number = np.asarray(curve_number) if not hasattr(curve_number, "dims") else curve_number
    outside = np.asarray(~((number > 0.0) & (number <= 100.0)))
    if outside.any():
        bad = np.asarray(number, dtype=float).ravel()[int(np.argmax(outside.ravel()))]
        raise RunoffError(f"curve number {bad:g} must be above 0 and at most 100 (a bare roof is 98)")
    return 25400.0 / number - 254.0


def curve_number_runoff(
    rain_mm: Any, curve_number: Any, *, initial_abstraction_ratio: float = TR55_ABSTRACTION_RATIO
) -> Any:
    """Return the runoff depth, mm, of a storm.

    Parameters
    ----------
    rain_mm
        Depth of the storm, mm, or the cumulative depth during it: numbers, arrays, or a DataArray with units of depth.
    curve_number
        Above 0, at most 100. Not for weighted curve numbers under 40 (TR-55, chapter 2).
    initial_abstraction_ratio
        Ia / S; 0.2 in TR-55. Another value needs another set of curve numbers.

    Returns
    -------
    float, numpy.ndarray or xarray.DataArray
        mm, in the shape of rain and curve number together.

    Raises
    ------
    RunoffError
        For negative rain, curve numbers out of range, or a ratio outside 0 to 1.

    Examples
    --------
    >>> print(round(float(curve_number_runoff(6.0 * 25.4, 70)) / 25.4, 4))  # TR-55 Example 2-1, printed 2.81 in
    2.8052
    """
    rain = _depth(rain_mm, "rain_mm")
    retention = potential_retention(curve_number)
    _check_ratio(initial_abstraction_ratio)
    excess = rain - initial_abstraction_ratio * retention
    excess = excess.clip(0.0) if hasattr(excess, "dims") else np.clip(excess, 0.0, None)
    nothing = excess == 0.0  # keeps 0/0 out where curve number 100 meets no rain
    runoff = excess**2 / (excess + retention + nothing)
    return _labelled(runoff, "curve-number runoff")


def event_retention(rain_mm: Any, runoff_mm: Any, *, initial_abstraction_ratio: float = TR55_ABSTRACTION_RATIO) -> Any:
    """Return S, mm, of a measured storm: the root of the runoff equation.

    ``S = 5 (P + 2 Q - sqrt(4 Q^2 + 5 P Q))`` for the ratio 0.2, any unit (algebra; usual attribution Hawkins).

    Parameters
    ----------
    rain_mm, runoff_mm
        Depths of the storm, mm: numbers, arrays, or DataArrays with units of depth.
    initial_abstraction_ratio
        Ia / S; 0.2 in TR-55.

    Returns
    -------
    float, numpy.ndarray or xarray.DataArray
        S, mm.

    Raises
    ------
    RunoffError
        When runoff is not above zero (any curve number low enough gives none) or is more than the rain.
    """
    rain, runoff = _depth(rain_mm, "rain_mm"), _depth(runoff_mm, "runoff_mm")
    _check_ratio(initial_abstraction_ratio)
    if not np.all(np.asarray(runoff) > 0.0):
        raise RunoffError("a storm without runoff has no curve number; only an upper bound is known (leave it out)")
    if np.any(np.asarray(runoff > rain)):
        raise RunoffError("runoff is more than rain; the area, the units or the time window of one of them is wrong")
    ratio = initial_abstraction_ratio
    if ratio == 0.0:
        return rain**2 / runoff - rain
    half = 2.0 * ratio * rain + (1.0 - ratio) * runoff
    return (half - np.sqrt(half**2 - 4.0 * ratio**2 * (rain**2 - rain * runoff))) / (2.0 * ratio**2)


def event_curve_number(
    rain_mm: Any, runoff_mm: Any, *, initial_abstraction_ratio: float = TR55_ABSTRACTION_RATIO
) -> Any:
    """Return the curve number of a measured or simulated storm, ``25400/(254 + S)``. See `CURVE_NUMBER_LIMITS`.

    Parameters
    ----------
    rain_mm, runoff_mm, initial_abstraction_ratio
        As in `event_retention`.

    Returns
    -------
    float, numpy.ndarray or xarray.DataArray
        Curve number, at most 100.

    Raises
    ------
    RunoffError
        As in `event_retention`.

    Examples
    --------
    >>> print(round(float(event_curve_number(50.0, 12.0)), 4))
    78.1534
    """
    retention = event_retention(rain_mm, runoff_mm, initial_abstraction_ratio=initial_abstraction_ratio)
    return 25400.0 / (254.0 + retention)


def curve_number_cautions(curve_number: float, *, rain_mm: float, runoff_mm: float) -> tuple[str, ...]:
    """Return the limits that this storm runs into, then the ones that always hold.

    Parameters
    ----------
    curve_number
        Of the storm, a number up to 100.
    rain_mm, runoff_mm
        Its depths, mm.

    Returns
    -------
    tuple of str
        Sentences, depths in mm and inches.
    """
    always, low_number, small_runoff, ratio, single = CURVE_NUMBER_LIMITS
    found = []
    if curve_number < 40.0:
        found.append(low_number)
    if runoff_mm < 12.7:
        found.append(small_runoff)
    plain = (
        f"A plain roof has curve number {ROOF_CURVE_NUMBER:g} in TR-55, by which this storm would leave "
        f"{both(float(curve_number_runoff(rain_mm, ROOF_CURVE_NUMBER)), 'mm')}."
    )
    return (*found, always, ratio, plain, f"{single} This one is for {both(rain_mm, 'mm')} of rain.")


def _depth(values: Any, name: str) -> Any:
    depth = require_units(values, "mm", "curve number") if hasattr(values, "dims") else np.asarray(values, dtype=float)
    if np.any(np.asarray(depth) < 0.0):
        raise RunoffError(f"{name} has negative values; depths of rain and runoff cannot be negative")
    return depth


def _check_ratio(ratio: float) -> None:
    if not 0.0 <= ratio < 1.0:
        raise RunoffError(f"initial_abstraction_ratio {ratio:g} must lie between 0 and 1 (0.2 in TR-55)")


def _labelled(values: Any, long_name: str) -> Any:
    if hasattr(values, "dims"):
        values.attrs = {"units": "mm", "long_name": long_name}
        return values.rename("runoff")
    return values
