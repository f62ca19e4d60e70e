"""Formulas of rain intensity against duration, fitted to a depth-duration table or typed.

One formula holds the usual ones, with i in mm/h and t in minutes:

    i = a / (t^e + b)^c

======================  ================  ============================================================
form                    fixed             name in the trade
======================  ================  ============================================================
``"sherman"``           e = 1             Sherman, ``i = a / (t + b)^c``
``"talbot"``            e = 1, c = 1      Talbot, ``i = a / (t + b)``
``"power"``             e = 1, b = 0      Bernard; in France Montana, depth ``h = a t^(1-c)``
``"rational-power"``    c = 1             ``i = a / (t^e + b)`` (Chow, Maidment and Mays 1988; typed, not fitted)
======================  ================  ============================================================

The depth in t minutes is ``D(t) = i t / 60``. Its slope in mm/h, ``dD/dt = a [(1 - c e) t^e + b] / (t^e + b)^(c + 1)``,
is the intensity of a storm arranged peak first (Keifer and Chu 1957 for e = 1).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from runoff.errors import StormError, nearest
from runoff.given_kinds import refuse_other_kinds
from runoff.storms._durations import minutes_of, words_of
from runoff.storms.depth_duration import DepthDurationCurve, DepthDurationTable
from runoff.units import convert

FORMS = ("sherman", "talbot", "power")


@dataclass(frozen=True, kw_only=True)
class IntensityCurve:
    """Intensity against duration, ``i = a / (t^e + b)^c`` with i in mm/h and t in minutes, for one return period.

    Parameters
    ----------
    a
        Scale, in mm/h times minutes to the power c e.
    b
        Offset, minutes to the power e, not negative.
    c, e
        Exponents, more than zero, with c e not above 1 (beyond that depth would fall with duration).
    return_period_years
        The return period it was fitted for, when known.
    longest_min
        Longest duration, minutes, the formula may be used for; beyond it nothing is extrapolated.
    shortest_min
        Shortest duration of the fit. Storms may ask for less, because a formula runs on to zero; they say so.
    worst_relative_error
        Largest relative difference between formula and table over the fit, when it was fitted.
    source, series
        Where the numbers come from, and of which kind of series.

    Examples
    --------
    >>> new_york = IntensityCurve.from_units(a=51.39, b=7.85, c=0.75, units="in/h")
    >>> round(new_york.depth("60min") / 25.4, 4)
    2.1738
    """

    a: float
    b: float = 0.0
    c: float = 1.0
    e: float = 1.0
    return_period_years: float | None = None
    shortest_min: float = 0.0
    longest_min: float = float("inf")
    worst_relative_error: float | None = None
    source: str = "typed intensity formula"
    series: str = "not stated"

    def __post_init__(self) -> None:
        if not (self.a > 0 and self.b >= 0 and self.c > 0 and self.e > 0 and self.c * self.e <= 1.0):
            raise StormError(
                f"{self.source}: i = {self.a:g} / (t^{self.e:g} + {self.b:g})^{self.c:g} is not usable; a, c and e "
                "must be more than zero, b not negative, and c x e at most 1, so that depth rises with duration"
            )

    @classmethod
    def from_units(cls, *, a: float, units: str, **rest: Any) -> IntensityCurve:
        """Make a curve whose `a` is for intensities in other units, for example ``"in/h"`` (t stays in minutes).

        Parameters
        ----------
        a
            The factor of the formula, in `units`.
        units
            A unit of intensity.
        **rest
            The other fields, as in the class.

        Returns
        -------
        IntensityCurve
            The curve, in mm/h.

        Raises
        ------
        RunoffError
            For a unit of another kind, and where the formula is not usable.
        """
        return cls(a=float(convert(a, units, "mm/h")), **rest)

    @property
    def formula(self) -> str:
        """The formula with its numbers, for reports."""
        power = "t" if self.e == 1.0 else f"t^{self.e:.4g}"
        bracket = f"({power} + {self.b:.4g})" if self.b else power
        exponent = "" if self.c == 1.0 else f"^{self.c:.4g}"
        return f"i = {self.a:.5g} / {bracket}{exponent}, i in mm/h, t in min"

    def intensity(self, duration: Any) -> float:
        """Return the mean intensity, mm/h, over a duration such as ``"15min"``."""
        minutes = minutes_of(duration, "duration", self.source)
        return float(self.depth_mm(minutes)) / minutes * 60.0

    def depth(self, duration: Any) -> float:
        """Return the depth, mm, of a duration such as ``"15min"``."""
        return float(self.depth_mm(minutes_of(duration, "duration", self.source)))

    def depth_mm(self, minutes: Any) -> np.ndarray:
        """Return the depth, mm, of durations in minutes.

        Raises
        ------
        StormError
            When a duration is longer than `longest_min`.
        """
        t = np.asarray(minutes, dtype=float)
        if t.size and t.max() > self.longest_min * (1 + 1e-9):
            raise StormError(
                f"{self.source}: duration {words_of(float(t.max()))} is beyond the formula, which holds to "
                f"{words_of(self.longest_min)}; nothing is extrapolated"
            )
        with np.errstate(divide="ignore", invalid="ignore"):
            depth = self.a * t / (t**self.e + self.b) ** self.c / 60.0
        return np.where(t > 0.0, depth, 0.0)


def fit_intensity(
    table: DepthDurationTable | DepthDurationCurve,
    *,
    form: str = "sherman",
    return_period_years: float | None = None,
    shortest: Any = None,
    longest: Any = None,
) -> IntensityCurve:
    """Fit an intensity formula to one return period of a depth-duration table by least squares.

    Sherman and power curves are fitted to the logarithm of intensity, so that every duration counts by its relative
    error; Talbot is the straight line of ``1/i`` against t.

    Parameters
    ----------
    table
        A table, with `return_period_years`, or one column of it.
    form
        ``"sherman"``, ``"talbot"`` or ``"power"`` (Bernard, Montana).
    return_period_years
        Return period, years; interpolated between columns when needed.
    shortest, longest
        Durations of the table to use, for example ``"5min"`` and ``"1h"``. One formula seldom holds from minutes to a
        day: look at `worst_relative_error`.

    Returns
    -------
    IntensityCurve
        The formula, with its parameters, the durations (min) it was fitted to and how far it lies from them.

    Raises
    ------
    StormError
        For an unknown form, a return period outside the table, or too few durations.
    """
    refuse_other_kinds("fit_intensity", table=table)
    fits: dict[str, Callable[[np.ndarray, np.ndarray], tuple[float, float, float]]] = {
        "sherman": _sherman,
        "talbot": _talbot,
        "power": _power,
    }
    if form not in fits:
        raise StormError(f'fit_intensity: form "{form}" is not known{nearest(form, FORMS)}; known: {", ".join(FORMS)}')
    column = table.curve(return_period_years) if isinstance(table, DepthDurationTable) else table
    durations = np.array(column.durations_min)
    low = durations[0] if shortest is None else minutes_of(shortest, "shortest", "fit_intensity")
    high = durations[-1] if longest is None else minutes_of(longest, "longest", "fit_intensity")
    used = (durations >= low) & (durations <= high)
    needed = 4 if form == "sherman" else 3
    if used.sum() < needed:
        raise StormError(
            f"fit_intensity: {used.sum()} durations between {words_of(low)} and {words_of(high)}; "
            f"a {form} curve needs {needed}"
        )
    t, intensity = durations[used], np.array(column.depths_mm)[used] / durations[used] * 60.0
    a, b, c = fits[form](t, intensity)
    error = float(np.max(np.abs(a / (t + b) ** c / intensity - 1.0)))
    return IntensityCurve(
        a=a,
        b=b,
        c=c,
        return_period_years=column.return_period_years,
        shortest_min=float(t[0]),
        longest_min=float(t[-1]),
        worst_relative_error=error,
        source=f"{form} curve fitted to {column.source}",
        series=column.series,
    )


def _power(t: np.ndarray, intensity: np.ndarray) -> tuple[float, float, float]:
    slope, intercept = np.polyfit(np.log(t), np.log(intensity), 1)
    return float(np.exp(intercept)), 0.0, float(-slope)


def _talbot(t: np.ndarray, intensity: np.ndarray) -> tuple[float, float, float]:
    slope, intercept = np.polyfit(t, 1.0 / intensity, 1)
    if intercept < 0.0:
        raise StormError(
            "fit_intensity: a talbot curve does not suit these durations (its b would be negative); use sherman"
        )
    return float(1.0 / slope), float(intercept / slope), 1.0


def _sherman(t: np.ndarray, intensity: np.ndarray) -> tuple[float, float, float]:
    from scipy.optimize import least_squares

    log_i = np.log(intensity)

    def residual(parameters: np.ndarray) -> np.ndarray:
        log_a, b, c = parameters
        return log_a - c * np.log(t + b) - log_i

    start = [log_i[0] + 0.7 * np.log(t[0] + 5.0), 5.0, 0.7]
    found = least_squares(
        residual, start, bounds=([-np.inf, 0.0, 1e-3], [np.inf, np.inf, 1.0]), x_scale=[1, 10, 1], xtol=1e-14
    )
    log_a, b, c = found.x
    return float(np.exp(log_a)), float(b), float(c)
