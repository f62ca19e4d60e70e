"""The first line of a claim: what is expected, what four roofs of five exceed, the 5 to 95 % range beside it, or a refusal.

Poor drainage raises retention: water that stands on a roof does not run off it. A roof that drowns its roots, or whose outlets
are blocked, gets no capture headline.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import xarray as xr

from runoff.errors import SizingError
from runoff.findings.tables import kind_of_figure
from runoff.given_kinds import refuse_other_kinds
from runoff.saying.numbers import fixed
from runoff.saying.scales import converted, scale_of, unit_shown
from runoff.sizing.likely_ranges import FEW_YEARS

#: Figures of which more is claimed as better, and which carry the error of the model.
CLAIMED_UPWARDS = (
    "retention", "annual_capture_mm", "annual_capture_m3", "roof_retention", "roof_annual_capture_mm", "avoided_annual_mm",
    "avoided_annual_m3", "avoided_share",
)  # fmt: skip
#: Days a year at risk of root rot beyond which no capture is claimed. A choice of caution, no published limit exists.
MOST_ROT_RISK_DAYS = 10.0
#: Blocked share of the drainage from which outlets count as blocked. A choice of caution.
BLOCKED_FROM = 0.5


@dataclass(frozen=True, kw_only=True)
class FirstLine:
    """A claim as it is told first.

    Parameters
    ----------
    figure, title, unit
        Name of the figure, its words and the unit of the four numbers.
    expected, four_of_five, low, high
        Middle of the joined range, what four roofs of five exceed (one-sided at 80 %), 5 and 95 %. Missing (nan) where the
        claim is refused, so that no caller prints them by accident.
    roofs, sites
        Measured roofs the model was held against, and their sites; 0 where they were too few to form its error.
    years
        Years of weather.
    refused
        Why no capture is claimed; empty where it is.
    year_low, year_high
        5 and 95 % of a single year; missing where it was not asked for.
    """

    figure: str
    title: str
    unit: str
    expected: float
    four_of_five: float
    low: float
    high: float
    roofs: int
    sites: int
    years: float
    refused: str = ""
    year_low: float = math.nan
    year_high: float = math.nan

    def words(self, units: str = "si", *, brief: bool = False) -> str:
        """Return the line as a sentence or a few.

        Parameters
        ----------
        units
            ``"si"`` or ``"us"``.
        brief
            Leaves away how many roofs the model was held against, where a line beside it says so.
        """
        if self.refused:
            return f"{self.title}: no figure is claimed. {self.refused}"
        texts = self.texts(units)
        expected, four, low, high = texts[:4]
        unit = self.unit_text(units)
        of_five = f"four roofs of five like those measured keep at least {four} {unit}"
        if not self.roofs:
            of_five = f"four of five draws reach {four} {unit}"
        told = f"{self.title}: {expected} {unit} expected; {of_five} (5 to 95 %: {low} to {high} {unit}"
        if brief:
            return f"{told})."
        parts = [f"{told}; the model was compared with {self.roofs} measured roofs at {self.sites} sites)."]
        if not self.roofs:
            parts = [
                f"{told}).",
                "Too few measured roofs to form the error of the model: the range is too narrow by it.",
            ]
        if math.isfinite(self.year_low):
            parts.append(f"In a single year: {texts[4]} to {texts[5]} {unit}.")
        if self.years < FEW_YEARS:
            parts.append(
                f"With {self.years:.0f} years of weather it is still too narrow; {FEW_YEARS} years are wanted."
            )
        return " ".join(parts)

    def texts(self, units: str = "si") -> list[str]:
        """Return expected, four of five, 5 and 95 %, and those of a single year (a dash where not known), as shown.

        No more digits are told than the width of the range gives a meaning to.
        """
        kind = self._kind
        numbers = [float(converted(one, self.unit, kind, units)) for one in self._numbers]
        width = numbers[3] - numbers[2]
        usual = scale_of(kind).digits(units)
        # two digits of the width: a range 270 wide is told in tens, one of 2.7 in tenths
        digits = usual if not width > 0.0 else min(usual, 1 - math.floor(math.log10(width)))
        return [fixed(round(one, digits) if math.isfinite(one) else one, max(0, digits)) for one in numbers]

    def unit_text(self, units: str = "si") -> str:
        """Return the unit of `texts` as a word."""
        return unit_shown(self.unit, self._kind, units)

    @property
    def _numbers(self) -> tuple[float, ...]:
        return self.expected, self.four_of_five, self.low, self.high, self.year_low, self.year_high

    @property
    def _kind(self) -> str:
        return "fine share" if self.unit == "1" else kind_of_figure(self.figure, self.unit)


def first_line(
    ranges: xr.Dataset, figure: str = "retention", *, most_rot_risk_days: float = MOST_ROT_RISK_DAYS
) -> FirstLine:
    """Form the first line of a claim from its ranges.

    Parameters
    ----------
    ranges
        What `runoff.uncertainty` returned.
    figure
        Which figure: ``retention``, ``annual_capture_mm``, ``annual_capture_m3``, ``avoided_annual_m3`` and the like.
    most_rot_risk_days
        Days a year at risk of root rot beyond which nothing is claimed.

    Returns
    -------
    FirstLine
        The numbers, and `FirstLine.words` for the sentence.

    Raises
    ------
    SizingError
        For a figure of which more is not better, or that is not in the result.

    Examples
    --------
    >>> import runoff
    >>> ranges = runoff.uncertainty(runoff.open_sample_roof("cups"), runoff.open_sample())  # doctest: +SKIP
    >>> print(runoff.first_line(ranges, "annual_capture_m3").words())  # doctest: +SKIP
    """
    refuse_other_kinds("first_line", ranges=ranges)
    if figure not in CLAIMED_UPWARDS or figure not in ranges:
        raise SizingError(
            f'first_line: "{figure}" has no value to claim; known: {", ".join(CLAIMED_UPWARDS)} (of the others more is not '
            "better, so no value that four roofs of five exceed can be claimed)"
        )
    refused = refusal(
        rot_risk_days=float(ranges.attrs.get("rot_risk_days", 0.0)),
        blocked_fraction=float(ranges.attrs.get("blocked_fraction", 0.0)),
        most_rot_risk_days=most_rot_risk_days,
    )
    together = ranges[figure].sel(source="together")
    numbers = [math.nan if refused else float(together.sel(quantile=share)) for share in (0.5, 0.2, 0.05, 0.95)]
    numbers[0] = float(expected_of(numbers[0], ranges[figure].attrs.get("as_described", math.inf)))
    single, of_year = f"single_year_{figure}", (math.nan, math.nan)
    if single in ranges and not refused:
        of_year = float(ranges[single].sel(quantile=0.05)), float(ranges[single].sel(quantile=0.95))
    words = str(ranges[figure].attrs["long_name"])
    return FirstLine(
        figure=figure,
        title=words[0].upper() + words[1:],
        unit=str(ranges[figure].attrs["units"]),
        expected=numbers[0],
        four_of_five=numbers[1],
        low=numbers[2],
        high=numbers[3],
        roofs=int(ranges.attrs.get("judged_roofs", 0)),
        sites=int(ranges.attrs.get("judged_sites", 0)),
        years=float(ranges.attrs["years"]),
        refused=refused,
        year_low=of_year[0],
        year_high=of_year[1],
    )


def expected_of(middle: Any, as_described: Any) -> Any:
    """Return what is expected of a figure of which more is better: the middle of the draws, never more than the run itself.

    Gauges catch less than falls, so the middle of the draws may pass what the record gives: that much is not claimed.

    Examples
    --------
    >>> float(expected_of(54.7, 54.2)), float(expected_of(52.5, 54.2))
    (54.2, 52.5)
    """
    return np.minimum(middle, as_described)


def refusal(*, rot_risk_days: float, blocked_fraction: float, most_rot_risk_days: float = MOST_ROT_RISK_DAYS) -> str:
    """Say why no capture may be claimed of a roof; empty where it may.

    Parameters
    ----------
    rot_risk_days
        Days a year at risk of root rot, of the roof as described (`runoff.summarize`).
    blocked_fraction
        Blocked share of the drainage, 0-1.
    most_rot_risk_days
        The limit, days a year.

    Returns
    -------
    str
        A reason in whole sentences; blocked drainage is named before rot.

    Raises
    ------
    SizingError
        For a limit below 0.

    Examples
    --------
    >>> refusal(rot_risk_days=3.0, blocked_fraction=0.0)
    ''
    """
    if not most_rot_risk_days >= 0.0:
        raise SizingError(
            f"first_line: most_rot_risk_days must be 0 or more days a year (given {most_rot_risk_days:g})"
        )
    if blocked_fraction >= BLOCKED_FROM:
        return (
            f"{100 * blocked_fraction:.0f} % of the drainage is blocked, and water that cannot leave would count as kept: clear "
            "the outlets, and describe the roof as it then is."
        )
    if rot_risk_days > most_rot_risk_days:
        return (
            f"The roots stand in water beyond their tolerance on {rot_risk_days:.1f} days a year (limit {most_rot_risk_days:g}): "
            "water that cannot leave counts as kept, and the planting would not last. Drain the roof better first."
        )
    return ""
