"""The checks of rain, each a line of the quality report. The limits are common practice and own choices; each line says what it compares."""

from __future__ import annotations

import numpy as np
import xarray as xr

from runoff.weather.quality.day_by_day import Days
from runoff.weather.quality.plausibility import (
    TRUSTED,
    doubt_of_counter,
    doubt_of_jumps,
    doubt_of_repeats,
    doubt_of_unit,
)
from runoff.weather.quality.report_line import Check, latitude_of, stamp_at
from runoff.weather.quality.seasons import doubt_of_rainless_months, doubt_of_winter
from runoff.weather.record.time_axis import counted, step_words

_GREAT_DAY_MM = 500.0  # passed at few places on earth
_GREAT_SHARE, _GREAT_SHARE_MM = 1.0 / 3.0, 40.0  # of a year's rain in one day
_STOPPED_GAUGE_DAYS, _STOPPED_GAUGE_FACTOR = 60.0, 2.5
_REPEATS, _REPEATED_MM = 5, 1.0
_THIN_MONTH = 0.8
_LEAST_WET_DAYS, _FEWER_ON_WEEKENDS = 150, 0.5  # of the median of all weekdays: measured 0.8 and more
_LEAST_GAPS, _MORE_AFTER_GAPS = 10, 2.0  # times the mean day: measured 0.8 to 1.2


def rain_checks(data: xr.Dataset, days: Days, step_days: float) -> list[Check]:
    """Return the checks of rain that is known on some steps at least.

    Parameters
    ----------
    data
        A record in house units.
    days
        Its days.
    step_days
        Length of a step, days.

    Returns
    -------
    list of Check
        One line for each look, in the order of the report.
    """
    rain, trusted = data["rain"].to_numpy(), is_trusted(data)
    checks = [
        _resolution(data),
        _largest(data, days, step_days),
        Check("largest repeated", *doubt_of_repeats(rain, trusted=trusted)),
        Check("jump in units", *doubt_of_jumps(days, trusted=trusted)),
        Check("running total", *doubt_of_counter(rain, trusted=trusted)),
        _dry_runs(data, step_days),
        *_repeats(data, step_days),
        _seasons(data),
        *_gathered_by_habit(data, days),
    ]
    winter, rainless = doubt_of_winter(days), doubt_of_rainless_months(days)
    checks += [Check("winter", *winter)] if winter else []
    return checks + ([Check("rainless months", *rainless)] if rainless else [])


def unit_check(data: xr.Dataset) -> Check:
    """Return the check of the unit of rain."""
    return Check("unit of rain", *doubt_of_unit(data["rain"], latitude_of(data), trusted=is_trusted(data)))


def is_trusted(data: xr.Dataset) -> bool:
    """Tell whether the user has confirmed the unit."""
    return data.attrs.get(TRUSTED) == "yes"


def _resolution(data: xr.Dataset) -> Check:
    values = data["rain"].to_numpy()
    wet = np.unique(np.round(values[values > 0], 4))
    wet = wet[wet > 0]
    if wet.size < 5:
        return Check("resolution", "look", f"only {wet.size} different amounts", "is this a measured series?")
    found = f"smallest amount {wet[0]:g} mm, smallest difference {np.diff(wet).min():.3g} mm"
    return Check("resolution", "good", found)


def _largest(data: xr.Dataset, days: Days, step_days: float) -> Check:
    place = int(np.nanargmax(data["rain"].to_numpy()))
    value = float(data["rain"][place])
    found = f"{value:.1f} mm in {step_words(step_days)}, {stamp_at(data, place)}"
    if value > _GREAT_DAY_MM:
        advice = "few places on earth have seen this; one value, or several days in one?"
        return Check("largest", "look", found, advice)
    sums = days.rain[days.known]
    year = float(sums.sum()) / sums.size * 365.25
    day = int(np.nanargmax(days.rain))
    most = float(days.rain[day])
    if sums.size >= 365 and most > _GREAT_SHARE * year and most > _GREAT_SHARE_MM:
        told = f"{found}; {days.words(day)} brings {100 * most / year:.0f} % of a mean year's rain"
        return Check("largest", "look", told, "beyond belief except in deserts: one day, or a month in one? Look at it")
    return Check("largest", "good", found)


def _dry_runs(data: xr.Dataset, step_days: float) -> Check:
    """A gauge that has stopped writes zeros: a dry run far beyond the others is worth a look."""
    starts, lengths = _runs(data["rain"].to_numpy() == 0)
    if not lengths.size:
        return Check("longest rainless spell", "good", "no dry step")
    order = np.argsort(lengths)
    longest, other = lengths[order[-1]] * step_days, (lengths[order[-2]] * step_days if lengths.size > 1 else 0.0)
    found = f"{longest:.0f} days from {stamp_at(data, starts[order[-1]])}, the next longest {other:.0f}"
    if longest > _STOPPED_GAUGE_DAYS and longest > _STOPPED_GAUGE_FACTOR * other:
        return Check("longest rainless spell", "look", found, "a drought, or a gauge that had stopped?")
    return Check("longest rainless spell", "good", found)


def _repeats(data: xr.Dataset, step_days: float) -> list[Check]:
    """The same amount day after day is a fault of the gauge or a filled gap."""
    rain = data["rain"].to_numpy()
    if step_days != 1.0 or rain.size < _REPEATS:
        return []
    starts, lengths = _runs((np.diff(rain) == 0) & (rain[1:] >= _REPEATED_MM))
    if lengths.size and lengths.max() + 1 >= _REPEATS:
        place = starts[lengths.argmax()]
        found = f"{rain[place]:.1f} mm on {int(lengths.max()) + 1} days running from {stamp_at(data, place)}"
        return [Check("repeated amounts", "look", found, "a filled gap, or several days' rain shared out?")]
    return [Check("repeated amounts", "good", "none")]


def _runs(flags: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return where runs of True start, and how long they are."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], flags.astype(int), [0]])))
    return edges[::2], edges[1::2] - edges[::2]


def _seasons(data: xr.Dataset) -> Check:
    present = data["rain"].notnull().groupby("time.month").sum().reindex(month=range(1, 13), fill_value=0)
    share = (present / present.max()).to_numpy()
    poor = [str(month) for month in range(1, 13) if share[month - 1] < _THIN_MONTH]
    if poor:
        found = f"months {', '.join(poor)} are missing or thin"
        return Check("seasons", "look", found, "annual figures from part of the year mislead; use whole years")
    return Check("seasons", "good", "all twelve months equally covered")


def _gathered_by_habit(data: xr.Dataset, days: Days) -> list[Check]:
    """Amounts of several days on one: a gauge that is read on working days, or after a pause."""
    checks = []
    table = days.table(weekday=_weekdays(data, days))
    wet = (table["rain"] > 0).groupby(table["weekday"]).mean()
    if (
        len(wet) == 7
        and int((table["rain"] > 0).sum()) >= _LEAST_WET_DAYS
        and wet.min() < _FEWER_ON_WEEKENDS * wet.median()
    ):
        names = ("Mondays", "Tuesdays", "Wednesdays", "Thursdays", "Fridays", "Saturdays", "Sundays")
        found = f"rain on {100 * wet.min():.0f} % of {names[int(wet.argmin())]}, {100 * wet.median():.0f} % of the other days"
        advice = "a gauge read on working days? Monday then holds the weekend: dry days and storms are both wrong"
        checks.append(Check("weekdays", "look", found, advice))
    after = np.flatnonzero(~days.known[:-1] & days.known[1:]) + 1
    mean = float(np.nanmean(days.rain))
    if after.size >= _LEAST_GAPS and mean > 0:
        ratio = float(days.rain[after].mean()) / mean
        if ratio > _MORE_AFTER_GAPS:
            found = f"{counted(after.size, 'day')} after a gap bring {ratio:.1f} times the mean day"
            checks.append(
                Check("after gaps", "look", found, "do they hold the rain of the gap? Then it is not one day's")
            )
    return checks


def _weekdays(data: xr.Dataset, days: Days) -> np.ndarray:
    """Return 0 for Monday to 6, or nothing in a calendar of a model, which has no weeks."""
    if data["time"].dtype.kind != "M":
        return np.zeros(days.rain.size, dtype=int)
    dates = (days.year - 1970).astype("datetime64[Y]").astype("datetime64[M]") + (days.month - 1)
    numbers = dates.astype("datetime64[D]").astype(int) + days.day - 1
    return (numbers + 3) % 7  # 1 January 1970 was a Thursday
