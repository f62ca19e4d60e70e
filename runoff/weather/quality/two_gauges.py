"""Two gauges of the same rain: how far they agree, and on which days they do not.

Nothing is averaged: a run takes the rain of one of them, and what the other says against it is named. The limits are own
proposals: gauges a few kilometres apart differ by some 10 % over a year and by more on days of thunderstorms.
"""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pandas as pd

from runoff.errors import WeatherError
from runoff.saying.numbers import fixed
from runoff.weather.quality.report_line import Check
from runoff.weather.quality.scale_parts import OddPart, odd_part, times_words
from runoff.weather.record.daily import daily_totals
from runoff.weather.record.drifting_clock import daily_sums
from runoff.weather.record.frames import as_weather
from runoff.weather.record.time_axis import counted, step_hours

_LEAST_DAYS, _LEAST_MM = 30, 20.0
_OFF, _FAR_OFF = 1.1, 1.5  # factors on the sum
_ALIKE, _SHIFTED = 0.5, 0.1  # correlation of days; by how much that of days moved by one is higher
#: A day of so much at one gauge, mm, and under this share of it at the other, the days beside it included.
_MISSED_MM, _MISSED_SHARE = 10.0, 0.2
_NAMED = 3


@dataclasses.dataclass(frozen=True, kw_only=True)
class GaugeComparison:
    """Two gauges held against each other, day by day.

    Parameters
    ----------
    names
        What they are called, the one that is used first.
    days
        Rain of both, mm: columns ``one`` and ``other``, every day of the time both cover; missing in both where one of them lacks it.
    left_out
        Days that one of them lacks.
    """

    names: tuple[str, str]
    days: pd.DataFrame
    left_out: int

    @property
    def known(self) -> int:
        """Number of days known at both."""
        return int(self.days["one"].notna().sum())

    @property
    def sums(self) -> tuple[float, float]:
        """Rain of both over the days known at both, mm."""
        return float(self.days["one"].sum()), float(self.days["other"].sum())

    @property
    def ratio(self) -> float:
        """Sum of the other over that of the one that is used; infinite where that one has none."""
        one, other = self.sums
        return other / one if one > 0.0 else np.inf

    @property
    def part(self) -> OddPart | None:
        """Months in which the other is in another scale than in the rest."""
        return odd_part(self.days["one"], self.days["other"])

    @property
    def missed(self) -> pd.DataFrame:
        """Days of 10 mm or more at one gauge and under a fifth of it at the other (days beside included), the wettest first."""
        around = self.days.rolling(3, center=True).sum()  # known on all three
        odd = pd.Series(False, index=self.days.index)
        for here, there in (("one", "other"), ("other", "one")):
            odd |= (self.days[here] >= _MISSED_MM) & (around[there] < _MISSED_SHARE * self.days[here])
        found = self.days[odd]
        return found.loc[found.max(axis=1).sort_values(ascending=False).index]

    @property
    def correlation(self) -> float:
        """Correlation of the days; missing where one of them never changes."""
        return _correlation(self.days["one"], self.days["other"])

    @property
    def moved_by(self) -> int:
        """Days by which the other must be moved to go with the first: 1 later, -1 earlier, 0 as it is."""
        moved = {by: _correlation(self.days["one"], self.days["other"].shift(by)) for by in (-1, 1)}
        best = max(moved, key=lambda by: np.nan_to_num(moved[by], nan=-1.0))
        return best if moved[best] > np.nan_to_num(self.correlation) + _SHIFTED else 0

    def check(self) -> Check:
        """Return the comparison as a line of the quality report."""
        one, other = self.sums
        if self.known < _LEAST_DAYS or max(one, other) < _LEAST_MM:
            found = f"{counted(self.known, 'day')} known at both, with {fixed(one, 0)} and {fixed(other, 0)} mm, are too few to compare"
            return Check("other gauge", "look", found, "give a longer record of the other gauge")
        found = f"{self._sums_words()}; correlation of days {fixed(self.correlation, 2)}"
        faults = self.disagreements
        if not faults:
            return Check("other gauge", "good", found)
        advice = (
            f"only {self.names[0]} counts, nothing is averaged; find out which of the two is right before relying on it"
        )
        return Check(
            "other gauge",
            "stop" if self._is_far or self.part is not None else "look",
            "; ".join([found, *faults]),
            advice,
        )

    @property
    def disagreements(self) -> list[str]:
        """What the two disagree in, a clause each; empty where they agree."""
        faults = []
        if not 1.0 / _OFF < self.ratio < _OFF:
            percent = f"{abs(100 * (self.ratio - 1)):.0f} % {'more' if self.ratio > 1.0 else 'less'}"
            times = times_words(self.ratio) if self._is_far and self.ratio > 0.0 else percent
            faults.append(
                f"{self.names[1]} has {times} in all"
                if np.isfinite(self.ratio)
                else f"{self.names[0]} has no rain at all"
            )
        if self.part is not None:
            times = times_words(self.part.factor)
            faults.append(
                f"{self.part.when} {self.names[1]} has {times}, compared with the rest of the record: the unit or scale of one of the two is wrong there"
            )
        if self.moved_by:
            faults.append(
                f"the days agree better when {self.names[1]} is moved a day {'later' if self.moved_by > 0 else 'earlier'}: their days begin at "
                "different hours, or one names the day on which the interval ends"
            )
        elif np.nan_to_num(self.correlation) < _ALIKE:
            faults.append("day by day they hardly agree")
        if len(self.missed) and not self.moved_by:
            named = ", ".join(
                f"{day:%Y-%m-%d} ({row['one']:.1f} and {row['other']:.1f} mm)"
                for day, row in self.missed.head(_NAMED).iterrows()
            )
            faults.append(
                f"{counted(len(self.missed), 'day')} of {_MISSED_MM:g} mm or more at one and under a fifth of it at the other, the wettest {named}"
            )
        return faults

    @property
    def _is_far(self) -> bool:
        return not 1.0 / _FAR_OFF < self.ratio < _FAR_OFF

    def _sums_words(self) -> str:
        one, other = self.sums
        lacking = f" ({counted(self.left_out, 'day')} known at one alone left out)" if self.left_out else ""
        return (
            f"{self.names[0]} {fixed(one, 0)} mm, {self.names[1]} {fixed(other, 0)} mm on {counted(self.known, 'day')} known at both{lacking}, "
            f"ratio {fixed(self.ratio, 2)}"
        )


def compare_gauges(
    one: Any, other: Any, *, names: tuple[str, str] = ("the gauge used", "the other")
) -> GaugeComparison:
    """Hold the rain of two gauges against each other, day by day.

    Parameters
    ----------
    one, other
        Rain as `runoff.simulate` accepts it, or a pandas Series of mm per step: days or shorter steps, one series of calendar dates each. A
        day that lacks a step is not compared.
    names
        What to call them, the one that is used first.

    Returns
    -------
    GaugeComparison
        The common days of both, mm; a day that either lacks is NaN and counted as left out.

    Raises
    ------
    WeatherError
        When one of them is no rain, or the two have no day in common.
    """
    first, second = _daily(one, names[0]), _daily(other, names[1])
    both = pd.concat([first.rename("one"), second.rename("other")], axis=1, join="inner")
    if both.empty:
        raise WeatherError(
            f"{names[1]}: no day in common with {names[0]} ({first.index[0].date()} to {first.index[-1].date()} and "
            f"{second.index[0].date()} to {second.index[-1].date()}); give a record of the same period"
        )
    days = both.asfreq("D")
    known = days.notna().all(axis=1)
    return GaugeComparison(names=names, days=days.where(known), left_out=int((~known).sum()))


def _daily(rain: Any, name: str) -> pd.Series:
    """Return rain as one value a day, missing where a step is."""
    if isinstance(rain, pd.Series) and isinstance(rain.index, pd.DatetimeIndex) and len(rain) > 1:
        rain = daily_sums(rain.sort_index())
    data = as_weather(rain)
    if data["rain"].ndim > 1 or not isinstance(data.indexes["time"], pd.DatetimeIndex):
        raise WeatherError(
            f"{name}: one series of rain on calendar dates is needed to compare gauges; choose a cell, or a site"
        )
    steps = data["rain"]
    days = daily_totals(steps) if step_hours(data["time"]) < 24.0 else steps
    series = days.to_series()
    return series.set_axis(pd.DatetimeIndex(series.index).floor("D"))


def _correlation(one: pd.Series, other: pd.Series) -> float:
    known = one.notna() & other.notna()
    if known.sum() < 2 or one[known].std() == 0.0 or other[known].std() == 0.0:
        return float("nan")
    return float(np.corrcoef(one[known], other[known])[0, 1])
