"""Is the rain in the unit it is said to be? The record against the latitude, against itself, and part against part.

A wrong unit scales every amount and leaves the number of wet days alone. So a record is doubted when it rains on many
days and even its telling days bring next to nothing (inches, cm, metres or mm/h read as mm), when a year brings more than
falls anywhere at this latitude (tenths of mm read as mm), and when a part of it brings several times more or less than
the same season of the other years. A telling day is one with more than a twenty-fifth of the largest day's rain: that
count does not change with the unit. The limits are own choices, wide enough for deserts and for all but a handful of the
wettest places on earth, and were held against 38 open records (stations, reanalysis, climate models).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
import pandas as pd
import xarray as xr

from runoff.weather.quality.day_by_day import Days

#: A year wetter than this is met at a handful of places on earth; a mean this dry only in deserts.
WETTEST_YEAR_MM, DRIEST_YEAR_MM = 6000.0, 20.0
_LEAST_DAYS = 300  # fewer known days say nothing about a year
_LEAST_SEASON, _LEAST_TELLING = 90, 15  # fewer say nothing about amounts
_POLAR_DEG = 60.0  # beyond, snow is light and frequent, and a year under 150 mm is usual
_SCANT_YEAR_MM, _SCANT_DAY_MM, _OFTEN_DAYS = 150.0, 5.0, 40.0
_DRIZZLE_STOP_MM, _DRIZZLE_LOOK_MM, _DRIZZLE_DAYS = 60.0, 160.0, 100.0  # a year; deserts have few wet days
_GREAT_DAY_MM = 250.0  # a mean annual largest day above this is met on typhoon coasts and mountains only
_TELLING = 0.04
#: Mean of the telling days: measured 1.1 to 65 mm over a year; inches read as mm 0.04 to 2.6, nearly all under 1.
_SCANT_TELLING_MM, _GREAT_TELLING_MM, _ENDLESS_TELLING_MM = 1.0, 60.0, 130.0
TRUSTED = "unit_trusted"  # attribute set by read_weather(..., trust_unit=True)

_SEASON_MONTHS, _SEASON_WET_DAYS, _YEAR_WET_DAYS, _LEAST_YEARS = 3, 15, 12, 4
_JUMP, _JUMP_OF_SHORT = 4.5, 7.0  # times the usual of the season: measured 0.25 to 3.9
#: Years with so many wet days are pointed out where these bring 2.1 times or a 2.1th of the usual and lie so many standard deviations away:
#: of some 350 years of eight open records none does (own choice).
_DOUBTED_WET_DAYS, _LEAST_DOUBTED_YEARS, _DOUBTED, _FAR_FROM_USUAL = 60, 5, 2.1, 4.0
_LEAST_CHANGES, _COUNTER, _RESET_COUNTER = 20, 0.05, 0.3
_WARMER_C = 12.0  # mean of three months against the usual: measured 7.4


class RainStatistics(NamedTuple):
    """What the doubt rests on: per year total (mm), wet days, largest day (mm); whole values; days; telling days."""

    annual_mm: float
    wet_days: float
    largest_day_mm: float
    is_whole: bool
    known_days: int
    telling_days: int
    telling_mm: float


class Doubt(NamedTuple):
    """A verdict (good, look, stop), what was found and what to do."""

    verdict: str
    found: str
    advice: str = ""


def doubt_of_unit(rain: xr.DataArray, latitude: float | None, *, trusted: bool = False) -> Doubt:
    """Judge the unit of one rain series.

    Parameters
    ----------
    rain
        mm per step on ``time``, steps of a day or shorter; missing values as NaN.
    latitude
        Of the place, degrees; None when not known (the wettest band is taken).
    trusted
        The user has confirmed the unit: what would stop is only pointed out.

    Returns
    -------
    Doubt
        The verdict, what was found, and what to do about it.
    """
    if not bool(rain.notnull().any()):
        return Doubt("stop", "there is no rain value at all", "check the column and its code for missing")
    facts = rain_statistics(rain)
    return _softened(_judge(facts, latitude), trusted)


def _softened(doubt: Doubt, trusted: bool) -> Doubt:
    if trusted and doubt.verdict == "stop":
        return Doubt("look", f"{doubt.found}; the unit was confirmed by the user", doubt.advice)
    return doubt


def _judge(facts: RainStatistics, latitude: float | None) -> Doubt:
    by_amounts = _judge_amounts(facts, latitude)
    if facts.known_days < _LEAST_DAYS:
        if by_amounts is not None:
            return by_amounts
        few = facts.known_days < _LEAST_SEASON or facts.telling_days < _LEAST_TELLING
        found = f"{facts.known_days} known days are too few to judge the unit by"
        if not few:
            found += f" a year's total; their {facts.telling_days} wetter days bring {facts.telling_mm:.1f} mm each"
        return Doubt("look", found, "check the amounts yourself")
    return _judge_years(facts, latitude, by_amounts)


def _judge_years(facts: RainStatistics, latitude: float | None, by_amounts: Doubt | None) -> Doubt:
    found = f"{facts.annual_mm:.0f} mm a year"
    details = f"{facts.wet_days:.0f} days with rain, {facts.largest_day_mm:.1f} mm on the wettest day of a mean year"
    if facts.annual_mm == 0:
        return Doubt("stop", "no rain at all in the whole record", "a gauge that failed, or the wrong column?")
    if facts.annual_mm > wettest_year_mm(latitude):
        place = "anywhere" if latitude is None else f"at {abs(latitude):.0f} degrees latitude"
        return Doubt(
            "stop",
            f"{found}: more than the {wettest_year_mm(latitude):.0f} mm that may fall {place}",
            'tenths of mm read as mm? Give the unit of the column, for example "0.1 mm"',
        )
    scant = facts.annual_mm < _SCANT_YEAR_MM and facts.largest_day_mm < _SCANT_DAY_MM and facts.wet_days > _OFTEN_DAYS
    scant = scant or (facts.annual_mm < _DRIZZLE_STOP_MM and facts.wet_days > _DRIZZLE_DAYS)
    if scant and abs(latitude or 0.0) < _POLAR_DEG:
        return Doubt(
            "stop",
            f"{found}, though it rains often: {details}",
            'inches, cm or m read as mm, or mm/h as mm? Give the unit of the column, for example "in"',
        )
    great = facts.largest_day_mm > _GREAT_DAY_MM
    if by_amounts is not None and not (great and facts.is_whole):
        return by_amounts
    if great:
        return Doubt(
            "stop" if facts.is_whole else "look",
            f"{found}: {details}{', and all values are whole numbers' if facts.is_whole else ''}",
            'tenths of mm read as mm? Give the unit of the column, for example "0.1 mm"',
        )
    drizzle = facts.annual_mm < _DRIZZLE_LOOK_MM and facts.wet_days > _DRIZZLE_DAYS
    if facts.annual_mm < DRIEST_YEAR_MM or scant or drizzle:
        words = "though it rains often" if drizzle else "as dry as deserts"
        return Doubt("look", f"{found}, {words}: {details}", "inches, cm or m read as mm? Check the unit")
    return Doubt("good", f"{found}, {details}")


def _judge_amounts(facts: RainStatistics, latitude: float | None) -> Doubt | None:
    """Judge by what the telling days bring, which a season shows already; None where nothing is odd."""
    if facts.known_days < _LEAST_SEASON or facts.telling_days < _LEAST_TELLING:
        return None
    found = f"the {facts.telling_days} wetter days of {facts.known_days} (each over 4 % of the largest) bring {facts.telling_mm:{'.2g' if facts.telling_mm < 10 else '.0f'}} mm each"
    if facts.telling_mm < _SCANT_TELLING_MM:
        polar = abs(latitude or 0.0) >= _POLAR_DEG
        advice = 'inches, cm or m read as mm, or mm/h as mm? Give the unit of the column, for example "in"'
        return Doubt("look" if polar else "stop", f"{found}, which is next to nothing", advice)
    if facts.telling_mm > _GREAT_TELLING_MM:
        whole = ", and all values are whole numbers" if facts.is_whole else ""
        sure = facts.is_whole or facts.telling_mm > _ENDLESS_TELLING_MM
        advice = 'tenths of mm read as mm, or mm as inches? Give the unit of the column, for example "0.1 mm"'
        return Doubt("stop" if sure else "look", f"{found}, as hurricanes do{whole}", advice)
    return None


def wettest_year_mm(latitude: float | None) -> float:
    """Return the annual rain that is passed at a handful of places only, mm: 6000 in the tropics, less towards the poles."""
    away = max(abs(latitude or 0.0) - 25.0, 0.0)
    return WETTEST_YEAR_MM * max(1.0 - away / 65.0, 0.15)


def rain_statistics(rain: xr.DataArray) -> RainStatistics:
    """Return the annual statistics of one rain series."""
    days = Days.of(rain.to_dataset(name="rain"))
    sums = days.rain[days.known]
    if not sums.size:
        return RainStatistics(0.0, 0.0, 0.0, False, 0, 0, 0.0)
    years = sums.size / 365.25
    block = np.array_split(sums, max(1, round(years)))
    values = rain.to_numpy()
    wet = values[np.isfinite(values) & (values > 0)]
    count, mean = telling_days(sums, 1)
    return RainStatistics(
        annual_mm=float(sums.sum() / years),
        wet_days=float((sums > 0).sum() / years),
        largest_day_mm=float(np.mean([part.max() for part in block])),
        is_whole=bool(wet.size and (wet == np.round(wet)).all()),
        known_days=int(sums.size),
        telling_days=count,
        telling_mm=mean,
    )


def telling_days(values: np.ndarray, per_day: int) -> tuple[int, float]:
    """Return how many days tell, and what they bring on average, mm; ``values`` are whole days of so many steps."""
    known = values if np.isfinite(values.sum()) else np.nan_to_num(values)
    sums = known if per_day == 1 else known[: known.size - known.size % per_day].reshape(-1, per_day).sum(axis=1)
    top = sums.max(initial=0.0)
    telling = sums[sums > _TELLING * top] if top > 0 else sums[:0]
    return int(telling.size), float(telling.mean()) if telling.size else 0.0


def doubt_of_jumps(days: Days, *, trusted: bool = False) -> Doubt:
    """Judge whether a part of the record is in another unit than the rest.

    Parameters
    ----------
    days
        The record.
    trusted
        The user has confirmed the unit: what would stop is only pointed out.

    Returns
    -------
    Doubt
        By the mean of the wet days in blocks of three months, each against the same months of the other years.
    """
    odd = _odd_seasons(days) or _odd_years(days)
    if not odd:
        return _doubt_of_years(days)
    at, ratio = odd[0]
    times = f"{ratio:.1f} times" if ratio > 1 else f"a {1 / ratio:.1f}th of"
    first = at if len(odd) == 1 else f"{at} and {len(odd) - 1} other part{'s' if len(odd) > 2 else ''}"
    advice = "another unit in a part of the record (inches, tenths)? Choose years before or after, or correct the file"
    return _softened(
        Doubt("stop", f"{first}: the wet days bring {times} what they bring in other years", advice), trusted
    )


def _odd_seasons(days: Days) -> list[tuple[str, float]]:
    table = days.table(block=days.block(_SEASON_MONTHS), season=(days.month - 1) // _SEASON_MONTHS)
    wet = table[table["rain"] > 0].groupby("block")
    mean, season = wet["rain"].mean(), wet["season"].first()
    kept = wet.size() >= _SEASON_WET_DAYS
    mean, season = mean[kept], season[kept]
    if len(mean) < 3:
        return []
    years = mean.groupby(season).transform("size") >= _LEAST_YEARS
    usual = mean.groupby(season).transform("median").where(years, mean.median())
    limit = pd.Series(np.where(years, _JUMP, _JUMP_OF_SHORT), index=mean.index)
    return _outside(
        mean / usual,
        limit,
        lambda block: f"{block * _SEASON_MONTHS // 12}, months {block * 3 % 12 + 1}-{block * 3 % 12 + 3}",
    )


def _odd_years(days: Days) -> list[tuple[str, float]]:
    """The same by whole years, for places where three months hold too few wet days."""
    wet = days.table(year=days.year)
    yearly = wet[wet["rain"] > 0].groupby("year")["rain"]
    whole = wet.groupby("year").size() >= _LEAST_DAYS
    mean = yearly.mean()[(yearly.size() >= _YEAR_WET_DAYS) & whole.reindex(yearly.size().index, fill_value=False)]
    if len(mean) < 3:
        return []
    return _outside(mean / mean.median(), pd.Series(_JUMP, index=mean.index), str)


def _doubt_of_years(days: Days) -> Doubt:
    """Point out years whose wet days bring twice or half the usual, and further from it than years here scatter."""
    wet = days.table(year=days.year)
    yearly = wet[wet["rain"] > 0].groupby("year")["rain"]
    whole = wet.groupby("year").size() >= _LEAST_DAYS
    log = np.log(
        yearly.mean()[(yearly.size() >= _DOUBTED_WET_DAYS) & whole.reindex(yearly.size().index, fill_value=False)]
    )
    if len(log) < _LEAST_DOUBTED_YEARS:
        return Doubt("good", "none")
    apart = log - log.median()
    scatter = 1.4826 * float(apart.abs().median())  # of a normal distribution its standard deviation
    odd = apart[apart.abs() > max(np.log(_DOUBTED), _FAR_FROM_USUAL * scatter)]
    if not len(odd):
        return Doubt("good", "none")
    listed = ", ".join(f"{year} ({np.exp(by):.2g} times)" for year, by in odd.items())
    return Doubt(
        "look",
        f"wet days bring far from the usual in {listed}",
        "inches and cm mixed up give 2.54 times; an extreme year, or another unit or gauge? Compare it with another gauge, --other-gauge FILE",
    )


def _outside(ratio: pd.Series, limit: pd.Series, words: Callable[[int], str]) -> list[tuple[str, float]]:
    odd = ratio[(ratio > limit) | (ratio < 1.0 / limit)]
    return [(words(int(at)), float(value)) for at, value in zip(odd.index.to_numpy(), odd, strict=True)]


def doubt_of_warmth(days: Days, *, trusted: bool = False) -> Doubt | None:
    """Judge whether a part of the temperatures is in another unit (degrees Fahrenheit, tenths); None without any."""
    if days.mean is None:
        return None
    table = pd.DataFrame(
        {"mean": days.mean, "block": days.block(_SEASON_MONTHS), "season": (days.month - 1) // 3}
    ).dropna()
    blocks = table.groupby("block")
    mean, season = blocks["mean"].mean(), blocks["season"].first()
    kept = blocks.size() >= 60
    mean, season = mean[kept], season[kept]
    apart = mean - mean.groupby(season).transform("median")
    odd = apart[apart.abs() > _WARMER_C]
    if not len(odd):
        return Doubt("good", "none")
    block, by = int(odd.index[0]), float(odd.iloc[0])
    found = f"{block * 3 // 12}, months {block * 3 % 12 + 1}-{block * 3 % 12 + 3}: {abs(by):.0f} degC {'warmer' if by > 0 else 'colder'} than usual"
    more = f" (and {len(odd) - 1} other part{'s' if len(odd) > 2 else ''} of the record)" if len(odd) > 1 else ""
    advice = "degrees Fahrenheit or tenths in a part of the record? Choose years before or after, or correct the file"
    return _softened(Doubt("stop", f"{found}{more}", advice), trusted)


def doubt_of_repeats(rain: np.ndarray, *, trusted: bool = False) -> Doubt:
    """Judge whether the largest amount is a measurement: a code for missing or the end of a gauge's range comes again.

    Parameters
    ----------
    rain
        mm per step.
    trusted
        The user has confirmed the amounts: what would stop is only pointed out.
    """
    known = rain[np.isfinite(rain)]
    top = float(known.max(initial=0.0))
    count = int(np.isclose(known, top, rtol=1e-6, atol=0.0).sum()) if top > 0 else 0
    if count < 2 or top < 1.0:
        return Doubt("good", "the largest amount comes once" if count == 1 else "none")
    spelled = next((text for factor in (1.0, 10.0, 0.1, 1 / 25.4) if _only_nines(text := f"{top * factor:.6g}")), "")
    found = f"the largest amount, {top:.4g} mm, comes {count} times"
    if spelled:
        advice = f"{spelled} is how files write missing; declare it, missing=[{spelled}]"
        return _softened(Doubt("stop", found, advice), trusted)
    if count >= 3:
        return Doubt("look", found, "the end of the gauge's range, or a code for missing?")
    return Doubt("good", found)


def _only_nines(text: str) -> bool:
    digits = text.replace(".", "")
    return len(digits) >= 2 and set(digits) == {"9"}


def doubt_of_counter(rain: np.ndarray, *, trusted: bool = False) -> Doubt:
    """Judge whether the values are a running total: amounts go down as often as up, a counter nearly never does.

    Of all changes of 38 open records 48 to 53 % were downwards.

    Parameters
    ----------
    rain
        mm per step.
    trusted
        The user has confirmed the amounts: what would stop is only pointed out.
    """
    change = np.diff(rain[np.isfinite(rain)])
    change = change[change != 0]
    if change.size < _LEAST_CHANGES:
        return Doubt("good", "too few amounts to tell")
    down = float((change < 0).mean())
    found = f"{100 * down:.0f} % of all changes from step to step are downwards"
    if down < _COUNTER:
        advice = "a counter that is read at each step? The differences of its readings are the rain"
        return _softened(Doubt("stop", f"{found}: the values only grow", advice), trusted)
    if down < _RESET_COUNTER and change.size >= 5 * _LEAST_CHANGES:
        return Doubt("look", found, "a counter that begins anew each day? The differences of its readings are the rain")
    return Doubt("good", found)
