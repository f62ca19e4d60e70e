"""The year of a record: does it lie on the half of the earth it is said to, and does its gauge measure snow?"""

from __future__ import annotations

import numpy as np
import pandas as pd

from runoff.weather.quality.day_by_day import Days
from runoff.weather.quality.plausibility import Doubt

_MONTH_DAYS = 20  # known days that a month needs to count
_TELLING_LATITUDE, _TELLING_RANGE_C = 25.0, 6.0  # nearer the equator, or with less of a season, the months tell nothing
_EMPTY_WINTER = 0.1  # share of the other months' rain: measured 0.35 (prairie) and more; own choice
_FROST_C = -1.0
# three months without a drop are questioned where the other years bring rain then; own choice, dry seasons bring less or fail often
_RUN_MONTHS, _RUN_DAYS, _LEAST_OTHERS = 3, 80, 3
_USUAL_MM, _DRIEST_OTHER, _RARE = 30.0, 0.2, 0.25


def doubt_of_hemisphere(days: Days, latitude: float | None) -> Doubt | None:
    """Judge whether the warm months are those of the latitude; None where temperatures or latitude tell nothing."""
    months = _warmth_of_months(days)
    if latitude is None or months is None or abs(latitude) < _TELLING_LATITUDE:
        return None
    if float(months.max() - months.min()) < _TELLING_RANGE_C:
        return None
    turned = np.cos(2 * np.pi * (months.index.to_numpy() - 7.5) / 12)  # 1 in the middle of July
    north = float((months.to_numpy() * turned).sum())
    warmest = int(months.index.to_numpy()[months.to_numpy().argmax()])
    side = "north" if latitude > 0 else "south"
    if (north > 0) == (latitude > 0):
        return Doubt("good", f"month {warmest} is the warmest, as {side} of the equator")
    found = f"month {warmest} is the warmest at latitude {latitude:g}, {side} of the equator"
    return Doubt(
        "stop", found, "a sign of the latitude forgotten (south is negative), or dates that are not the record's?"
    )


def doubt_of_winter(days: Days) -> Doubt | None:
    """Judge whether a gauge without heating left the snow out; None without months of frost."""
    months = _warmth_of_months(days)
    if months is None:
        return None
    cold = months.index[months < _FROST_C].to_numpy()
    if not cold.size or cold.size == 12:
        return None
    per_day = days.table(month=days.month).groupby("month")["rain"].mean()
    frost, other = per_day.reindex(cold).mean(), per_day.drop(cold, errors="ignore").mean()
    listed = ", ".join(map(str, cold))
    if not other > 0 or not np.isfinite(frost):
        return None
    share = float(frost / other)
    if share < _EMPTY_WINTER:
        found = f"months of frost ({listed}) bring {100 * share:.0f} % of the rain of the others"
        return Doubt(
            "look", found, "a gauge without heating measures no snow: leave the winter out, or take another station"
        )
    return Doubt("good", f"months of frost ({listed}) bring {100 * share:.0f} % of the rain of the others")


def doubt_of_rainless_months(days: Days) -> Doubt | None:
    """Judge whether three months in a row lack rain that every other year brings then; None where none do.

    A winter that a gauge slept through is known zeros, as a drought is: only the same months of the other years tell them
    apart. A climate with a dry season is not questioned, since those months bring little, or fail, in other years too.
    """
    blocks = days.table(month=days.year * 12 + days.month - 1).groupby("month")["rain"]
    sums, known = blocks.sum(), blocks.size()
    if not len(sums):
        return None
    whole = range(int(sums.index.min()), int(sums.index.max()) + 1)
    run = sums.reindex(whole, fill_value=0.0).rolling(_RUN_MONTHS).sum()
    run = run[known.reindex(whole, fill_value=0).rolling(_RUN_MONTHS).sum() >= _RUN_DAYS]
    odd = []
    for at in run.index[run.to_numpy() <= 0.0]:
        same = run[run.index.to_numpy() % 12 == at % 12]
        others = same[same > 0.0]
        rare = len(same) - len(others) <= max(1.0, _RARE * len(same))
        if rare and len(others) >= _LEAST_OTHERS and others.median() >= _USUAL_MM:
            if others.min() >= _DRIEST_OTHER * others.median():
                odd.append((int(at), float(others.min()), float(others.median())))
    if not odd:
        return None
    last, least, usual = odd[0]
    first = last - _RUN_MONTHS + 1
    found = (
        f"not a drop from {first // 12:04d}-{first % 12 + 1:02d} to {last // 12:04d}-{last % 12 + 1:02d}; other years bring {usual:.0f} mm "
        f"in these months, the driest {least:.0f} mm"
    )
    return Doubt(
        "look",
        found,
        "a gauge that had stopped, or snow it did not measure? Leave that year out, or compare a gauge near by",
    )


def _warmth_of_months(days: Days) -> pd.Series | None:
    """Return the mean temperature of each month, degC; None unless all twelve are known."""
    if days.mean is None:
        return None
    table = pd.DataFrame({"mean": days.mean, "month": days.month}).dropna().groupby("month")["mean"]
    kept = table.size() >= _MONTH_DAYS
    months: pd.Series = table.mean()[kept]
    return months if len(months) == 12 else None
