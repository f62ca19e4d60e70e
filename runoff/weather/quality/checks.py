"""The checks of one record, put together: its length, its gaps, what its source says, then rain and air.

The limits are common practice and own choices; each line says what it compares.
"""

from __future__ import annotations

import numpy as np
import xarray as xr

from runoff.weather.quality.air import air_checks
from runoff.weather.quality.day_by_day import Days
from runoff.weather.quality.rain import rain_checks, unit_check
from runoff.weather.quality.report_line import Check, stamp_at
from runoff.weather.quality.years import complete_words
from runoff.weather.record.house_units import OTHER_RAIN
from runoff.weather.record.time_axis import counted, step_hours, step_words

GOOD_YEARS, LEAST_YEARS = 20.0, 5.0
_PRESUMED_SHARE = 0.02


def all_checks(data: xr.Dataset, *, compared: bool = False) -> list[Check]:
    """Return every check of one record (``rain`` along ``time`` alone, house units, values in memory).

    Parameters
    ----------
    data
        The record.
    compared
        Whether another gauge is held against it, so that other columns of rain in the file need no word.
    """
    step_days = step_hours(data["time"]) / 24.0
    days = Days.of(data)
    checks = [_length(data, step_days), _years(data, days), _missing_rain(data, days), *_flags(data), unit_check(data)]
    if bool(data["rain"].notnull().any()):
        checks += rain_checks(data, days, step_days)
    if data.attrs.get(OTHER_RAIN) and not compared:
        found = f"the file has more columns of rain than the one used: {data.attrs[OTHER_RAIN]}"
        advice = "compare the two, --other-column NAME or check_weather(..., other=...); nothing is averaged"
        checks.append(Check("other gauge", "look", found, advice))
    return [*checks, *air_checks(data, days, step_days)]


def _length(data: xr.Dataset, days: float) -> Check:
    years = round(data.sizes["time"] * days / 365.25, 1)  # five years may have a single leap day, or none in a model
    found = f"{years:.1f} years, {stamp_at(data, 0)} to {stamp_at(data, -1)}, step {step_words(days)}"
    if years < LEAST_YEARS:
        advice = f"under {LEAST_YEARS:.0f} years: no ranges can be given, and a wet or dry run of years decides"
        return Check("length", "look", found, advice)
    if years < GOOD_YEARS:
        return Check("length", "look", found, f"under {GOOD_YEARS:.0f} years: rare events and ranges rest on few years")
    return Check("length", "good", found)


def _years(data: xr.Dataset, days: Days) -> Check:
    found, flags = complete_words(data, days)
    none = found.startswith("0 of")
    return Check("years", "look" if none else "good", found, f"take it: {flags}" if flags else "")


def _missing_rain(data: xr.Dataset, days: Days) -> Check:
    where = np.flatnonzero(data["rain"].isnull().to_numpy())
    if not where.size:
        return Check("missing rain", "good", "none")
    runs = np.split(where, np.flatnonzero(np.diff(where) > 1) + 1)
    longest = max(runs, key=len)
    absent = int(data.attrs.get("absent_steps", 0))
    found = (
        f"{where.size} of {data.sizes['time']} steps in {counted(len(runs), 'gap')}, first {stamp_at(data, where[0])}, longest {longest.size} from "
        f"{stamp_at(data, longest[0])}{f' ({absent} had no line in the file)' if absent else ''}"
    )
    _, flags = complete_words(data, days)
    other = f"choose other years ({flags})" if flags else "choose another record"
    advice = (
        f"missing is not dry: {other}; or fill by a named method (fill_gaps, --fill rain=same-day-of-other-years), which says what it "
        "does to retention"
    )
    return Check("missing rain", "stop", found, advice)


def _flags(data: xr.Dataset) -> list[Check]:
    """Return what the source itself says about its values, and what was done to them."""
    checks, attrs = [], data.attrs
    if attrs.get("fill"):
        checks.append(
            Check(
                "filled",
                "look",
                str(attrs["fill"]),
                "filled values are no measurements; name the method with the results",
            )
        )
    if attrs.get("days_in_part"):
        found = f"{counted(int(attrs['days_in_part']), 'day')} without all of their steps, which count as dry"
        checks.append(Check("days in part", "look", found, "rain may be understated on them"))
    if attrs.get("gathered"):
        amounts = str(attrs["gathered"]).split("; ")
        last, count, depth = amounts[0].split(" ")
        found = f"{counted(len(amounts), 'amount')} over several days, first {depth} mm over {count} days to {last}"
        if int(attrs.get("gathered_overruled", 0)):
            found += f"; {int(attrs['gathered_overruled'])} of their days held a value of their own, which was dropped"
        advice = (
            "their days are missing, not dry: choose other years, or --fill rain=spread-gathered, which flattens storms"
        )
        checks.append(Check("merged days", "look", found, advice))
    if "rain_flag" in data:
        flags = data["rain_flag"].to_numpy()
        traces, presumed = int((flags == "T").sum()), int((flags == "P").sum())
        checks.append(Check("traces", "good", f"{counted(traces, 'day')} with too little to measure, counted as 0"))
        share = presumed / max(1, int(data["rain"].notnull().sum()))
        found = f"{counted(presumed, 'day')} ({100 * share:.1f} %) missing in the source and presumed 0 by it"
        if share > _PRESUMED_SHARE:
            checks.append(Check("presumed dry", "look", found, "rain may be understated"))
        else:
            checks.append(Check("presumed dry", "good", found))
    elif int(attrs.get("traces", 0)):
        checks.append(Check("traces", "good", f"{int(attrs['traces'])} steps with too little to measure, counted as 0"))
    if "dropped_for_quality" in attrs:
        found = f"{counted(int(attrs['dropped_for_quality']), 'value')} of the file failed the source's own checks and were dropped"
        checks.append(
            Check("quality flags", "good", f"{found} ({int(attrs.get('rain_dropped_for_quality', 0))} of rain)")
        )
    if attrs.get("source_flags"):
        advice = "the file itself marks these values; what is dropped is missing, what is kept in spite of its mark may be wrong"
        checks.append(Check("source flags", "look", str(attrs["source_flags"]), advice))
    if attrs.get("left_aside"):
        advice = (
            "their names are familiar, their attributes say otherwise; name the variable (columns=) when it is right"
        )
        checks.append(Check("left aside", "look", str(attrs["left_aside"]), advice))
    clipped = attrs.get("clipped_negative", 0)
    if clipped:
        checks.append(
            Check("tiny negatives", "good", f"{clipped} amounts of the file just below zero (packing) taken as 0")
        )
    return checks
