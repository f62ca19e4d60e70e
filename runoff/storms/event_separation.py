"""Rain events: where one ends and the next begins, how large the usual large one is, and the volume to catch.

Sub-daily records are cut into events at dry gaps of a minimum length (`rain_events`). Daily records cannot resolve a
gap of hours, so they give runs of wet days (`wet_day_runs`). `percentile_event` is the depth that a given share of wet
days does not pass, with the two choices that move it, threshold side and percentile definition, named in the result.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal, get_args

import numpy as np

from runoff.errors import WeatherError, nearest
from runoff.given_kinds import refuse_other_kinds
from runoff.storms._durations import minutes_of, words_of
from runoff.storms._rain_series import RainSeries, rain_series

if TYPE_CHECKING:
    import xarray as xr

_DAY_MIN = 1440.0
PercentileDefinition = Literal["linear", "weibull", "hazen"]  # names as in numpy.quantile
PERCENTILE_DEFINITIONS = get_args(PercentileDefinition)
_SLACK = 1e-9  # a threshold converted from inches must meet a depth converted from inches


def rain_events(
    rain: xr.DataArray | xr.Dataset, *, minimum_gap: Any = "6h", wet_above_mm: float = 0.0, missing: str = "refuse"
) -> xr.Dataset:
    """Cut a sub-daily record into events at dry gaps of at least `minimum_gap`.

    Parameters
    ----------
    rain
        A weather Dataset or its rain, mm per step, steps shorter than a day.
    minimum_gap
        Minimum inter-event time: a dry gap of this length or longer separates two events. 6 h is the usual urban
        default (from memory: Driscoll et al. 1989).
    wet_above_mm
        A step is wet when it holds more than this.
    missing
        ``"refuse"``: stop when a value is missing. ``"split"``: a missing stretch ends an event, and events that touch
        one within `minimum_gap` are marked not ``is_complete``. Missing rain is never taken as dry.

    Returns
    -------
    xarray.Dataset
        On ``event``: ``start``, ``end`` (end of the last wet step), ``duration`` (h), ``depth`` (mm),
        ``peak_intensity`` (mm/h, over one step), ``dry_before`` (h since the last rain; NaN for the first event and
        after a missing stretch), ``is_complete``.

    Raises
    ------
    WeatherError
        For daily records, gaps shorter than a step, missing values, or a record without rain.
    """
    import xarray as xr

    where = "rain_events"
    series = rain_series(rain, where)
    gap_steps = _gap_steps(series, minimum_gap, where)
    _check_missing(series, missing, where)
    first, last, touches, known_before = _events(series, wet_above_mm, gap_steps)
    if first.size == 0:
        raise WeatherError(f"{where}: no step holds more than {wet_above_mm:g} mm; the record has no rain event")
    total = np.concatenate([[0.0], np.cumsum(np.nan_to_num(series.depth_mm))])
    hours = series.step_min / 60.0
    peaks = np.array([np.nanmax(series.depth_mm[a : b + 1]) for a, b in zip(first, last, strict=True)])
    dry = np.full(first.size, np.nan)
    dry[1:] = np.where(known_before[1:], (first[1:] - last[:-1] - 1) * hours, np.nan)
    step = series.times[1] - series.times[0]
    return xr.Dataset(
        {
            "start": ("event", series.times[first], {"long_name": "start of the event"}),
            "end": ("event", series.times[last] + step, {"long_name": "end of the last wet step"}),
            "duration": ("event", (last - first + 1) * hours, {"units": "h", "long_name": "duration"}),
            "depth": ("event", total[last + 1] - total[first], {"units": "mm", "long_name": "depth of rain"}),
            "peak_intensity": ("event", peaks / hours, {"units": "mm/h", "long_name": "largest intensity of one step"}),
            "dry_before": ("event", dry, {"units": "h", "long_name": "antecedent dry period"}),
            "is_complete": ("event", ~touches, {"long_name": "no missing rain within the minimum gap"}),
        },
        coords={"event": np.arange(1, first.size + 1)},
        attrs={
            "minimum_gap": words_of(gap_steps * series.step_min),
            "wet_above_mm": wet_above_mm,
            "step": words_of(series.step_min),
            "missing": f"{int(series.missing.sum())} of {series.depth_mm.size} steps; {missing}",
            "source": series.source,
        },
    )


def wet_day_runs(rain: xr.DataArray | xr.Dataset, *, wet_from_mm: float = 1.0) -> xr.Dataset:
    """Return the runs of consecutive wet days of a daily record.

    Parameters
    ----------
    rain
        A weather Dataset or its rain, mm per day.
    wet_from_mm
        A day is wet from this depth up.

    Returns
    -------
    xarray.Dataset
        On ``run``: ``start``, ``days``, ``depth`` (mm), ``is_complete`` (False when the day before or after is
        missing).

    Raises
    ------
    WeatherError
        For other steps than a day, or no wet day.
    """
    import xarray as xr

    where = "wet_day_runs"
    series = rain_series(rain, where)
    _need_daily(series, where, "use rain_events, which cuts at dry gaps of hours")
    wet = np.nan_to_num(series.depth_mm, nan=-1.0) >= wet_from_mm - _SLACK
    first, last = _stretches(wet)
    if first.size == 0:
        raise WeatherError(f"{where}: no day reaches {wet_from_mm:g} mm")
    holes = np.concatenate([[False], series.missing, [False]])
    depth = np.array([series.depth_mm[a : b + 1].sum() for a, b in zip(first, last, strict=True)])
    return xr.Dataset(
        {
            "start": ("run", series.times[first], {"long_name": "first wet day"}),
            "days": ("run", last - first + 1, {"units": "1", "long_name": "wet days"}),
            "depth": ("run", depth, {"units": "mm", "long_name": "depth of rain"}),
            "is_complete": ("run", ~(holes[first] | holes[last + 2]), {"long_name": "no missing day beside the run"}),
        },
        coords={"run": np.arange(1, first.size + 1)},
        attrs={"wet_from_mm": wet_from_mm, "missing_days": int(series.missing.sum()), "source": series.source},
    )


def percentile_event(
    rain: xr.DataArray | xr.Dataset,
    percentile: float = 95.0,
    *,
    threshold_mm: float = 2.54,
    keep_threshold_days: bool = False,
    definition: PercentileDefinition = "linear",
) -> xr.DataArray:
    """Return the daily depth that `percentile` per cent of the wet days do not pass.

    Parameters
    ----------
    rain
        A weather Dataset or its rain, mm per day. Missing days are left out and counted.
    percentile
        Per cent, 0 to 100; 95, 90 and 85 are in use.
    threshold_mm
        Small days are dropped; 2.54 mm is 0.1 in.
    keep_threshold_days
        False drops days of exactly the threshold as well ("0.1 in or less"); True keeps them ("under 0.1 in").
    definition
        ``"linear"`` (inclusive, what spreadsheets do), ``"weibull"`` (position i/(n+1)) or ``"hazen"``.

    Returns
    -------
    xarray.DataArray
        One depth in mm; the attributes carry threshold, side, definition, days kept, dropped and missing.

    Raises
    ------
    WeatherError
        For other steps than a day, unknown definitions, or no day above the threshold.

    Notes
    -----
    The steps follow the US EPA technical guidance on section 438 of the Energy Independence and Security Act
    (EPA 841-B-09-001, 2009) as remembered; that snow which does not melt at once is left out there is not done here.
    On short records threshold side and definition move the 95 % depth by several per cent.
    """
    import xarray as xr

    where = "percentile_event"
    series = rain_series(rain, where)
    _need_daily(series, where, "sum it to days first")
    if definition not in PERCENTILE_DEFINITIONS:
        known = ", ".join(PERCENTILE_DEFINITIONS)
        hint = nearest(definition, PERCENTILE_DEFINITIONS)
        raise WeatherError(f'{where}: definition "{definition}" is not known{hint}; known: {known}')
    if not 0.0 < percentile < 100.0:
        raise WeatherError(f"{where}: percentile {percentile:g} must lie between 0 and 100, for example 95")
    present = series.depth_mm[~series.missing]
    edge = threshold_mm - _SLACK if keep_threshold_days else threshold_mm + _SLACK
    kept = present[present > edge]
    if kept.size == 0:
        raise WeatherError(f"{where}: no day of the record passes the threshold of {threshold_mm:g} mm")
    depth = np.quantile(kept, percentile / 100.0, method=definition)
    return xr.DataArray(
        float(depth),
        name="percentile_event",
        attrs={
            "units": "mm",
            "long_name": f"{percentile:g} % daily rain",
            "percentile": percentile,
            "threshold": f"days {'under' if keep_threshold_days else 'of'} {threshold_mm:g} mm"
            f"{'' if keep_threshold_days else ' or less'} left out",
            "definition": definition,
            "days_kept": int(kept.size),
            "days_dropped": int(present.size - kept.size),
            "days_missing": int(series.missing.sum()),
            "source": series.source,
        },
    )


def water_quality_volume(depth_mm: float, *, impervious_fraction: float, area_m2: float) -> float:
    """Return the water-quality volume, m3: ``P Rv A`` with ``Rv = 0.05 + 0.9 I``.

    The short-cut form of US stormwater manuals (New Hampshire Env-Wq 1504.10; ``Rv = 0.05 + 0.009 I`` with I in per
    cent).

    Parameters
    ----------
    depth_mm
        Design rain, for example a `percentile_event` or 25.4 mm.
    impervious_fraction
        Impervious share of the area, 0 to 1; 1 for a roof.
    area_m2
        Area, m2.

    Returns
    -------
    float
        m3.

    Raises
    ------
    WeatherError
        When a number is out of its range.

    Examples
    --------
    >>> round(water_quality_volume(25.4, impervious_fraction=1.0, area_m2=100.0), 3)
    2.413
    """
    refuse_other_kinds(
        "water_quality_volume", depth_mm=depth_mm, impervious_fraction=impervious_fraction, area_m2=area_m2
    )
    if not 0.0 <= impervious_fraction <= 1.0:
        raise WeatherError(
            f"water_quality_volume: impervious_fraction {impervious_fraction:g} must lie between 0 and 1"
        )
    if not (depth_mm >= 0.0 and area_m2 > 0.0):
        raise WeatherError(f"water_quality_volume: depth_mm {depth_mm:g} and area_m2 {area_m2:g} must be positive")
    return float(depth_mm) / 1000.0 * (0.05 + 0.9 * impervious_fraction) * area_m2


def _events(
    series: RainSeries, wet_above_mm: float, gap_steps: int
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Return first and last step of each event, whether missing rain is near, whether the gap before is known dry."""
    wet = np.nan_to_num(series.depth_mm, nan=-1.0) > wet_above_mm + _SLACK * (wet_above_mm > 0.0)
    first, last = _stretches(wet)
    if first.size == 0:
        nothing = np.zeros(0, dtype=bool)
        return first, last, nothing, nothing
    holes = np.concatenate([[0], np.cumsum(series.missing)])
    between = holes[first[1:]] - holes[last[:-1] + 1]  # missing steps in each gap
    splits = (first[1:] - last[:-1] - 1 >= gap_steps) | (between > 0)
    first = first[np.concatenate([[True], splits])]
    last = last[np.concatenate([splits, [True]])]
    size = series.depth_mm.size
    before = holes[first] - holes[np.maximum(first - gap_steps, 0)]
    after = holes[np.minimum(last + 1 + gap_steps, size)] - holes[last + 1]
    known = np.concatenate([[False], holes[first[1:]] == holes[last[:-1] + 1]])
    return first, last, (before + after) > 0, known


def _stretches(flags: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return first and last index of every stretch of True."""
    edges = np.diff(np.concatenate([[0], flags.astype(int), [0]]))
    return np.flatnonzero(edges == 1), np.flatnonzero(edges == -1) - 1


def _gap_steps(series: RainSeries, gap: Any, where: str) -> int:
    minutes = minutes_of(gap, "minimum_gap", where)
    if series.step_min >= _DAY_MIN:
        raise WeatherError(
            f"{where}: the record has steps of {words_of(series.step_min)} and cannot resolve a dry gap "
            f"of {words_of(minutes)}; use wet_day_runs"
        )
    steps = round(minutes / series.step_min)
    if steps < 1 or abs(steps * series.step_min - minutes) > 1e-9 * minutes:
        raise WeatherError(
            f"{where}: minimum_gap {words_of(minutes)} is not a whole number of steps of {words_of(series.step_min)}"
        )
    return steps


def _check_missing(series: RainSeries, missing: str, where: str) -> None:
    if missing not in ("refuse", "split"):
        raise WeatherError(f'{where}: missing "{missing}" is not known; known: refuse, split')
    count = int(series.missing.sum())
    if count and missing == "refuse":
        first = series.times[int(np.argmax(series.missing))]
        fix = 'fill them, or pass missing="split"' if where == "rain_events" else "fill them first"
        raise WeatherError(
            f"{where}: {count} of {series.depth_mm.size} steps are missing, the first at {first}; missing rain is not "
            f"dry weather: {fix}"
        )


def _need_daily(series: RainSeries, where: str, fix: str) -> None:
    if series.step_min != _DAY_MIN:
        raise WeatherError(
            f"{where}: the record has steps of {words_of(series.step_min)}, daily values are needed; {fix}"
        )
