"""A look at a weather record before anything rests on it: what was checked, what was found, what to do.

Verdicts are words: ``good``, ``look`` (usable, but know this), ``stop`` (not usable as it is). The limits are common
practice and own choices; each line of the report says what it compares.
"""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import xarray as xr

from runoff.weather.frames import as_weather

GOOD_YEARS, LEAST_YEARS = 20.0, 5.0
#: A year wetter than this is met at a handful of places on earth; a mean this dry only in deserts.
_WETTEST_YEAR_MM, _DRIEST_YEAR_MM = 6000.0, 20.0
_WETTEST_DAY_MM = 500.0


@dataclasses.dataclass(frozen=True)
class Check:
    """One line of the report: what was looked at, what was found, the verdict, and what to do when it is not good."""

    name: str
    verdict: str
    found: str
    advice: str = ""


@dataclasses.dataclass(frozen=True)
class QualityReport:
    """The report as data; `str` gives the table a person reads.

    Parameters
    ----------
    title
        The record.
    checks
        One `Check` per line.
    """

    title: str
    checks: tuple[Check, ...]

    @property
    def verdict(self) -> str:
        """The worst verdict of all checks."""
        verdicts = {check.verdict for check in self.checks}
        return next(word for word in ("stop", "look", "good") if word in verdicts)

    def to_dataframe(self) -> Any:
        """Return the checks as a pandas DataFrame."""
        import pandas as pd

        return pd.DataFrame([dataclasses.asdict(check) for check in self.checks])

    def __str__(self) -> str:
        """Return the verdict table as aligned text, the advice below the line it belongs to."""
        names = max(len(check.name) for check in self.checks)
        lines = [f"Weather record: {self.title}", ""]
        for check in self.checks:
            lines.append(
                f"{check.verdict.upper() if check.verdict != 'good' else 'good':5s} {check.name:<{names}}  {check.found}"
            )
            if check.advice:
                lines.append(f"{'':5s} {'':<{names}}  -> {check.advice}")
        words = {
            "good": "The record can be used.",
            "look": "The record can be used; know what the lines marked LOOK say.",
            "stop": "The record cannot be used as it is; mend what the lines marked STOP say.",
        }
        return "\n".join([*lines, "", words[self.verdict]])


def check_weather(weather: Any) -> QualityReport:
    """Check a weather record of one site.

    Parameters
    ----------
    weather
        What `runoff.read_weather` returned, or any weather `runoff.simulate` accepts.

    Returns
    -------
    QualityReport
        Length, gaps, flags, extremes, wrong-unit suspicion, seasons, temperatures, evapotranspiration.
    """
    data = as_weather(weather)
    extra = [str(dim) for dim in data["rain"].dims if dim != "time"]
    if extra:
        data = data.isel({dim: 0 for dim in extra})
    step = _step_days(data)
    checks = [
        _length(data, step),
        _gaps(data),
        *_flags(data),
        _unit_suspicion(data, step),
        _resolution(data, step),
        _largest(data),
        _dry_runs(data, step),
        _seasons(data),
        *_temperature(data),
        _evapotranspiration(data),
    ]
    title = str(weather.attrs.get("title", "given series")) if hasattr(weather, "attrs") else "given series"
    return QualityReport(title, tuple(check for check in checks if check is not None))


def _step_days(data: xr.Dataset) -> float:
    time = data["time"].to_numpy()
    if time.size < 2:
        return 1.0
    step = time[1] - time[0]
    return (
        step.total_seconds() / 86400.0
        if hasattr(step, "total_seconds")
        else float(step / np.timedelta64(1, "s")) / 86400.0
    )


def _length(data: xr.Dataset, step: float) -> Check:
    years = data.sizes["time"] * step / 365.25
    first, last = (str(data["time"].to_numpy()[i])[:10] for i in (0, -1))
    found = f"{years:.1f} years, {first} to {last}, step {_step_words(step)}"
    if years < LEAST_YEARS:
        return Check(
            "length",
            "look",
            found,
            f"under {LEAST_YEARS:.0f} years: no ranges can be given, and a wet or dry run of years decides",
        )
    if years < GOOD_YEARS:
        return Check(
            "length", "look", found, f"under {GOOD_YEARS:.0f} years: rare events and ranges are weakly founded"
        )
    return Check("length", "good", found)


def _step_words(step: float) -> str:
    minutes = step * 1440.0
    return "1 day" if step == 1.0 else (f"{minutes / 60:g} h" if minutes >= 60 else f"{minutes:g} min")


def _gaps(data: xr.Dataset) -> Check:
    missing = data["rain"].isnull().to_numpy()
    if not missing.any():
        return Check("missing rain", "good", "none")
    where = np.flatnonzero(missing)
    longest = max(len(run) for run in np.split(where, np.flatnonzero(np.diff(where) > 1) + 1))
    found = f"{where.size} of {missing.size} steps, first {str(data['time'].to_numpy()[where[0]])[:10]}, longest run {longest}"
    if data.attrs.get("fill"):
        found += f" (after filling: {data.attrs['fill']})"
    return Check(
        "missing rain",
        "stop",
        found,
        "missing is not dry: choose other years, or fill by a named method (fill_gaps, --fill rain=monthly-mean)",
    )


def _flags(data: xr.Dataset) -> list[Check]:
    checks = []
    if data.attrs.get("fill"):
        checks.append(
            Check(
                "filled",
                "look",
                str(data.attrs["fill"]),
                "filled values are no measurements; say so beside every figure",
            )
        )
    if data.attrs.get("gathered"):
        amounts = str(data.attrs["gathered"]).split("; ")
        checks.append(
            Check("gathered amounts", "look", f"{len(amounts)} amounts cover several days, first {amounts[0]}",
                  "their days are missing, not dry; --fill rain=spread-gathered spreads them")
        )  # fmt: skip
    if "rain_flag" in data:
        flags = data["rain_flag"].to_numpy()
        traces, presumed = int((flags == "T").sum()), int((flags == "P").sum())
        checks.append(Check("traces", "good", f"{traces} days with too little to measure, counted as 0"))
        if presumed:
            share = presumed / flags.size
            checks.append(
                Check("presumed dry", "look" if share > 0.02 else "good", f"{presumed} days ({100 * share:.1f} %) missing in the source and presumed 0",
                      "the source took them as dry; rain may be understated" if share > 0.02 else "")
            )  # fmt: skip
    if "dropped_for_quality" in data.attrs:
        checks.append(
            Check(
                "quality flags",
                "good",
                f"{int(data.attrs['dropped_for_quality'])} values failed the source's own checks and were dropped",
            )
        )
    if int(data.attrs.get("clipped_negative", 0)):
        checks.append(
            Check(
                "tiny negatives",
                "good",
                f"{int(data.attrs['clipped_negative'])} amounts a hair below zero (packing) taken as 0",
            )
        )
    return checks


def expected_annual_rain_mm(latitude_deg: float) -> tuple[float, float]:
    """Return a wide band of annual rain by latitude, mm: 20 to 6000 in the tropics, narrower towards the poles."""
    share = np.clip(1.0 - (abs(latitude_deg) - 25.0) / 65.0, 0.15, 1.0)
    return _DRIEST_YEAR_MM, float(_WETTEST_YEAR_MM * share)


def _unit_suspicion(data: xr.Dataset, step: float) -> Check:
    """Compare the annual total with what the latitude allows, and the file with itself."""
    rain = data["rain"]
    known = int(rain.notnull().sum())
    if known == 0:
        return Check("units", "stop", "there is no rain value at all", "check the column map")
    annual = float(rain.sum()) / (known * step) * 365.25
    low, high = expected_annual_rain_mm(float(data["lat"]) if "lat" in data.coords and data["lat"].ndim == 0 else 0.0)
    found = f"{annual:.0f} mm a year"
    wet = rain.to_numpy()[rain.to_numpy() > 0]
    mean_wet = float(wet.mean()) if wet.size else 0.0
    if annual > high:
        return Check(
            "units",
            "stop",
            f"{found}: more than falls at this latitude",
            "tenths of mm, or cm, read as mm? Give the unit of the column (--unit rain='0.1 mm')",
        )
    if step == 1.0 and wet.size > 30 and mean_wet < 0.8 and annual < 150.0:
        return Check(
            "units",
            "stop",
            f"{found}, and a wet day brings only {mean_wet:.2f} mm",
            "inches read as mm? Give the unit of the column (--unit rain=in)",
        )
    if annual < low:
        return Check(
            "units",
            "look",
            f"{found}: as dry as the driest deserts",
            "metres or inches read as mm? Look at the unit of the column",
        )
    years = rain.groupby("time.year").sum(min_count=300 if step == 1.0 else 1).dropna("year")
    middle = float(years.median()) if years.size else 0.0
    odd = [
        int(year)
        for year in years["year"].to_numpy()
        if middle > 0 and not 0.1 < float(years.sel(year=year)) / middle < 5.0
    ]
    if odd:
        return Check(
            "units",
            "look",
            f"{found}, but {', '.join(map(str, odd[:4]))} differ by a factor of five or more",
            "did the unit or the gauge change?",
        )
    return Check("units", "good", f"{found}, a wet step brings {mean_wet:.1f} mm")


def _resolution(data: xr.Dataset, step: float) -> Check:
    values = data["rain"].to_numpy()
    wet = np.unique(np.round(values[values > 0], 4))
    if wet.size < 5:
        return Check("resolution", "look", f"only {wet.size} different amounts", "is this a measured series?")
    return Check(
        "resolution", "good", f"smallest amount {wet[0]:g} mm, smallest difference {np.diff(wet).min():.3g} mm"
    )


def _largest(data: xr.Dataset) -> Check:
    i = int(np.nanargmax(data["rain"].to_numpy()))
    value = float(data["rain"][i])
    found = f"{value:.1f} mm at {str(data['time'].to_numpy()[i])[:16].replace('T00:00', '')}"
    if value > _WETTEST_DAY_MM:
        return Check(
            "largest", "look", found, "few places on earth have seen this; is it one value or several days in one?"
        )
    return Check("largest", "good", found)


def _dry_runs(data: xr.Dataset, step: float) -> Check:
    """A gauge that has died writes zeros: a dry run far beyond the others is worth a look."""
    dry = data["rain"].to_numpy() == 0
    edges = np.flatnonzero(np.diff(np.concatenate([[0], dry.astype(int), [0]])))
    lengths = (edges[1::2] - edges[::2]) * step
    if lengths.size < 10:
        return Check("longest dry run", "good", f"{lengths.max() if lengths.size else 0:.0f} days")
    longest, other = np.sort(lengths)[-1], np.sort(lengths)[-2]
    begin = str(data["time"].to_numpy()[edges[::2][lengths.argmax()]])[:10]
    found = f"{longest:.0f} days from {begin}, the next longest {other:.0f}"
    if longest > 60 and longest > 2.5 * other:
        return Check("longest dry run", "look", found, "a drought, or a gauge that had stopped?")
    return Check("longest dry run", "good", found)


def _seasons(data: xr.Dataset) -> Check:
    present = data["rain"].notnull().groupby("time.month").sum()
    share = present / present.max()
    poor = [int(month) for month in range(1, 13) if month not in share["month"] or float(share.sel(month=month)) < 0.8]
    if poor:
        return Check(
            "seasons",
            "look",
            f"months {', '.join(map(str, poor))} are missing or thin",
            "annual figures from part of the year mislead; use whole years",
        )
    return Check("seasons", "good", "all twelve months alike")


def _temperature(data: xr.Dataset) -> list[Check]:
    checks = []
    if {"tmin", "tmax"} <= set(data.data_vars):
        crossed = (data["tmin"] > data["tmax"]).to_numpy()
        if crossed.any():
            first = str(data["time"].to_numpy()[np.flatnonzero(crossed)[0]])[:10]
            checks.append(
                Check(
                    "tmin above tmax",
                    "look",
                    f"{int(crossed.sum())} days, first {first}",
                    "the range counts as 0 on these days; evapotranspiration is understated there",
                )
            )
        low, high = float(data["tmin"].min()), float(data["tmax"].max())
        verdict = "good" if -70 < low and high < 58 else "look"
        checks.append(
            Check(
                "temperature",
                verdict,
                f"{low:.1f} to {high:.1f} degC",
                "" if verdict == "good" else "degrees Fahrenheit or tenths read as degrees Celsius?",
            )
        )
    for name in ("tmin", "tmax"):
        if name in data and bool(data[name].isnull().any()):
            count = int(data[name].isnull().sum())
            checks.append(
                Check(
                    f"missing {name}",
                    "stop",
                    f"{count} days",
                    "fill by a named method (--fill temperature=interpolate), or choose other years",
                )
            )
    if not checks:
        checks.append(
            Check(
                "temperature",
                "look",
                "none given",
                "no snow, and rot risk counts all days; evapotranspiration must be given",
            )
        )
    return checks


def _evapotranspiration(data: xr.Dataset) -> Check:
    if "reference_et" not in data:
        return Check(
            "evapotranspiration",
            "look",
            "none",
            str(data.attrs.get("reference_et_missing", "give temperatures and the latitude, or a series reference_et")),
        )
    et = data["reference_et"]
    annual = float(et.mean()) / _step_days(data) * 365.25
    found = f"{annual:.0f} mm a year by {et.attrs.get('method', 'given')}"
    if not 150.0 < annual < 2800.0:
        return Check("evapotranspiration", "look", found, "outside 150-2800 mm a year; look at its unit")
    return Check("evapotranspiration", "good", found)
