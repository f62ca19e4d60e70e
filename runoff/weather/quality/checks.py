"""The checks of one record, each a line of the quality report.

The limits are common practice and own choices; each line says what it compares.
"""

from __future__ import annotations

import dataclasses

import numpy as np
import xarray as xr

from runoff.weather.quality.plausibility import TRUSTED, doubt_of_unit
from runoff.weather.record.time_axis import counted, stamp_words, step_hours, step_words

GOOD_YEARS, LEAST_YEARS = 20.0, 5.0
_GREAT_DAY_MM = 500.0  # passed at few places on earth
_PRESUMED_SHARE = 0.02
_STOPPED_GAUGE_DAYS, _STOPPED_GAUGE_FACTOR = 60.0, 2.5
_REPEATS, _REPEATED_MM = 5, 1.0
_THIN_MONTH = 0.8
_ET_YEAR_MM = (150.0, 2800.0)
_USUAL_MEAN_C = (-25.0, 33.0)  # mean annual temperature of inhabited places


@dataclasses.dataclass(frozen=True)
class Check:
    """One line of the report: what was looked at, what was found, the verdict, and what to do when it is not good."""

    name: str
    verdict: str
    found: str
    advice: str = ""


def all_checks(data: xr.Dataset) -> list[Check]:
    """Return every check of one record (``rain`` along ``time`` alone, house units, values in memory)."""
    days = step_hours(data["time"]) / 24.0
    doubt = doubt_of_unit(data["rain"], _latitude(data), trusted=data.attrs.get(TRUSTED) == "yes")
    checks = [_length(data, days), _missing_rain(data), *_flags(data), Check("unit of rain", *doubt)]
    if bool(data["rain"].notnull().any()):
        checks += [
            _resolution(data),
            _largest(data, days),
            _dry_runs(data, days),
            *_repeats(data, days),
            _seasons(data),
        ]
    return [*checks, *_temperature(data), _evapotranspiration(data, days)]


def _latitude(data: xr.Dataset) -> float | None:
    return float(data["lat"]) if "lat" in data.coords and data["lat"].ndim == 0 else None


def _stamp(data: xr.Dataset, position: int) -> str:
    return stamp_words(data["time"].to_numpy()[position])


def _length(data: xr.Dataset, days: float) -> Check:
    years = round(data.sizes["time"] * days / 365.25, 1)  # five years may have a single leap day, or none in a model
    found = f"{years:.1f} years, {_stamp(data, 0)} to {_stamp(data, -1)}, step {step_words(days)}"
    if years < LEAST_YEARS:
        advice = f"under {LEAST_YEARS:.0f} years: no ranges can be given, and a wet or dry run of years decides"
        return Check("length", "look", found, advice)
    if years < GOOD_YEARS:
        return Check(
            "length", "look", found, f"under {GOOD_YEARS:.0f} years: rare events and ranges are weakly founded"
        )
    return Check("length", "good", found)


def _missing_rain(data: xr.Dataset) -> Check:
    where = np.flatnonzero(data["rain"].isnull().to_numpy())
    if not where.size:
        return Check("missing rain", "good", "none")
    runs = np.split(where, np.flatnonzero(np.diff(where) > 1) + 1)
    longest = max(runs, key=len)
    absent = int(data.attrs.get("absent_steps", 0))
    found = (
        f"{where.size} of {data.sizes['time']} steps in {counted(len(runs), 'gap')}, first {_stamp(data, where[0])}, longest {longest.size} from "
        f"{_stamp(data, longest[0])}{f' ({absent} had no line in the file)' if absent else ''}"
    )
    advice = "missing is not dry: choose other years, or fill by a named method (fill_gaps, --fill rain=monthly-mean)"
    return Check("missing rain", "stop", found, advice)


def _flags(data: xr.Dataset) -> list[Check]:
    """Return what the source itself says about its values, and what was done to them."""
    checks, attrs = [], data.attrs
    if attrs.get("fill"):
        checks.append(
            Check("filled", "look", str(attrs["fill"]), "filled values are no measurements; say so beside every figure")
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
        advice = "their days are missing, not dry; --fill rain=spread-gathered spreads them"
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
        advice = "the file itself marks these values; what is dropped is missing, what is not heeded may be wrong"
        checks.append(Check("source flags", "look", str(attrs["source_flags"]), advice))
    if attrs.get("left_aside"):
        advice = "their names are familiar, their attributes say another thing; name the variable (columns=) when it is right"
        checks.append(Check("left aside", "look", str(attrs["left_aside"]), advice))
    clipped = attrs.get("clipped_negative", 0)
    if clipped:
        checks.append(
            Check("tiny negatives", "good", f"{clipped} amounts of the file a hair below zero (packing) taken as 0")
        )
    return checks


def _resolution(data: xr.Dataset) -> Check:
    values = data["rain"].to_numpy()
    wet = np.unique(np.round(values[values > 0], 4))
    wet = wet[wet > 0]
    if wet.size < 5:
        return Check("resolution", "look", f"only {wet.size} different amounts", "is this a measured series?")
    found = f"smallest amount {wet[0]:g} mm, smallest difference {np.diff(wet).min():.3g} mm"
    return Check("resolution", "good", found)


def _largest(data: xr.Dataset, days: float) -> Check:
    place = int(np.nanargmax(data["rain"].to_numpy()))
    value = float(data["rain"][place])
    found = f"{value:.1f} mm in {step_words(days)}, {_stamp(data, place)}"
    if value > _GREAT_DAY_MM:
        advice = "few places on earth have seen this; one value, or several days in one?"
        return Check("largest", "look", found, advice)
    return Check("largest", "good", found)


def _dry_runs(data: xr.Dataset, days: float) -> Check:
    """A gauge that has stopped writes zeros: a dry run far beyond the others is worth a look."""
    starts, lengths = _runs(data["rain"].to_numpy() == 0)
    if not lengths.size:
        return Check("longest dry run", "good", "no dry step")
    order = np.argsort(lengths)
    longest, other = lengths[order[-1]] * days, (lengths[order[-2]] * days if lengths.size > 1 else 0.0)
    found = f"{longest:.0f} days from {_stamp(data, starts[order[-1]])}, the next longest {other:.0f}"
    if longest > _STOPPED_GAUGE_DAYS and longest > _STOPPED_GAUGE_FACTOR * other:
        return Check("longest dry run", "look", found, "a drought, or a gauge that had stopped?")
    return Check("longest dry run", "good", found)


def _repeats(data: xr.Dataset, days: float) -> list[Check]:
    """The same amount day after day is a fault of the gauge or a filled gap."""
    rain = data["rain"].to_numpy()
    if days != 1.0 or rain.size < _REPEATS:
        return []
    starts, lengths = _runs((np.diff(rain) == 0) & (rain[1:] >= _REPEATED_MM))
    if lengths.size and lengths.max() + 1 >= _REPEATS:
        place = starts[lengths.argmax()]
        found = f"{rain[place]:.1f} mm on {int(lengths.max()) + 1} days running from {_stamp(data, place)}"
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
    return Check("seasons", "good", "all twelve months alike")


def _temperature(data: xr.Dataset) -> list[Check]:
    names = [name for name in ("tmin", "tmax", "tmean") if name in data]
    if not names:
        advice = "no snow, and rot risk counts all days; evapotranspiration must be given"
        return [Check("temperature", "look", "none given", advice)]
    checks = [_range_of_temperature(data, names)]
    if {"tmin", "tmax"} <= set(names):
        crossed = np.flatnonzero((data["tmin"] > data["tmax"]).to_numpy())
        if crossed.size:
            low, high = (float(data[name][crossed[0]]) for name in ("tmin", "tmax"))
            found = f"{counted(crossed.size, 'day')}, first {_stamp(data, crossed[0])} ({low:.1f} and {high:.1f} degC)"
            advice = "evapotranspiration from the range of temperature is 0 on these days"
            checks.append(Check("tmin above tmax", "look", found, advice))
        else:
            checks.append(Check("tmin above tmax", "good", "on no day"))
    mean_suffices = "tmean" in names and not bool(data["tmean"].isnull().any()) and "reference_et" in data
    for name in names:
        missing = np.flatnonzero(data[name].isnull().to_numpy())
        if missing.size:
            found = f"{missing.size} of {data.sizes['time']} steps, first {_stamp(data, missing[0])}"
            advice = "fill by a named method (--fill temperature=interpolate), or choose other years"
            checks.append(Check(f"missing {name}", "look" if mean_suffices else "stop", found, advice))
    return checks


def _range_of_temperature(data: xr.Dataset, names: list[str]) -> Check:
    low = min(float(data[name].min()) for name in names)
    high = max(float(data[name].max()) for name in names)
    mean = float(np.mean([float(data[name].mean()) for name in names]))
    found = f"{low:.1f} to {high:.1f} degC, mean {mean:.1f}"
    if not _USUAL_MEAN_C[0] < mean < _USUAL_MEAN_C[1]:
        return Check("temperature", "look", found, "degrees Fahrenheit or tenths read as degrees Celsius?")
    return Check("temperature", "good", found)


def _evapotranspiration(data: xr.Dataset, days: float) -> Check:
    if "reference_et" not in data:
        why = data.attrs.get("reference_et_missing", "give temperatures and the latitude, or a series reference_et")
        return Check("evapotranspiration", "look", "none", str(why))
    et = data["reference_et"]
    missing = int(et.isnull().sum())
    annual = float(et.mean()) / days * 365.25
    found = f"{annual:.0f} mm a year, {et.attrs.get('method', 'given')}"
    if missing:
        return Check(
            "evapotranspiration",
            "stop",
            f"{found}; missing on {counted(missing, 'step')}",
            "fill what it is formed from, or choose other years",
        )
    if not _ET_YEAR_MM[0] < annual < _ET_YEAR_MM[1]:
        return Check("evapotranspiration", "look", found, "outside 150-2800 mm a year; look at its unit")
    return Check("evapotranspiration", "good", found)
