"""The checks of temperature and evapotranspiration, each a line of the quality report."""

from __future__ import annotations

import numpy as np
import xarray as xr

from runoff.weather.quality.day_by_day import Days
from runoff.weather.quality.plausibility import doubt_of_warmth
from runoff.weather.quality.rain import is_trusted
from runoff.weather.quality.report_line import Check, latitude_of, stamp_at
from runoff.weather.quality.seasons import doubt_of_hemisphere
from runoff.weather.record.time_axis import counted

_ET_YEAR_MM = (150.0, 2800.0)
_USUAL_MEAN_C = (-25.0, 33.0)  # mean annual temperature of inhabited places


def air_checks(data: xr.Dataset, days: Days, step_days: float) -> list[Check]:
    """Return the checks of temperature and evapotranspiration.

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
        One line for each look.
    """
    checks = _temperature(data)
    warmth, side = doubt_of_warmth(days, trusted=is_trusted(data)), doubt_of_hemisphere(days, latitude_of(data))
    checks += [Check("jump in temperature", *warmth)] if warmth else []
    checks += [Check("warm months", *side)] if side else []
    return [*checks, _evapotranspiration(data, step_days)]


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
            found = (
                f"{counted(crossed.size, 'day')}, first {stamp_at(data, crossed[0])} ({low:.1f} and {high:.1f} degC)"
            )
            advice = "evapotranspiration from the range of temperature is 0 on these days"
            checks.append(Check("tmin above tmax", "look", found, advice))
        else:
            checks.append(Check("tmin above tmax", "good", "on no day"))
    mean_suffices = "tmean" in names and not bool(data["tmean"].isnull().any()) and "reference_et" in data
    for name in names:
        missing = np.flatnonzero(data[name].isnull().to_numpy())
        if missing.size:
            found = f"{missing.size} of {data.sizes['time']} steps, first {stamp_at(data, missing[0])}"
            advice = "choose other years, or fill by a named method (--fill temperature=interpolate)"
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


def _evapotranspiration(data: xr.Dataset, step_days: float) -> Check:
    if "reference_et" not in data:
        why = data.attrs.get("reference_et_missing", "give temperatures and the latitude, or a series reference_et")
        return Check("evapotranspiration", "look", "none", str(why))
    et = data["reference_et"]
    missing = int(et.isnull().sum())
    annual = float(et.mean()) / step_days * 365.25
    found = f"{annual:.0f} mm a year, {et.attrs.get('method', 'given')}"
    reason = str(et.attrs.get("reason", ""))
    if missing:
        advice = "choose other years, or fill what it is formed from"
        return Check("evapotranspiration", "stop", f"{found}; missing on {counted(missing, 'step')}", advice)
    if not _ET_YEAR_MM[0] < annual < _ET_YEAR_MM[1]:
        return Check("evapotranspiration", "look", found, "outside 150-2800 mm a year; check its unit")
    return Check("evapotranspiration", "good", f"{found}; {reason}" if reason else found)
