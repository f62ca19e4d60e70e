"""Design storms: one storm's rain, step by step, ready for `runoff.simulate`.

`design_storm` makes the usual patterns from a depth, a depth-duration table or an intensity formula;
`storm_from_series` takes a storm of one's own. Both return rain depth per step on a time axis whose date is invented.
"""

from __future__ import annotations

import math
import warnings
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from runoff.errors import RunoffWarning, StormError, nearest, raise_faults
from runoff.given_kinds import refuse_other_kinds
from runoff.quantities import label
from runoff.saying.patterns import pattern_words
from runoff.storms._durations import minutes_of, words_of
from runoff.storms.depth_duration import DepthDurationCurve, DepthDurationTable
from runoff.storms.hyetographs import (
    INTERPOLATIONS,
    alternating_blocks,
    chicago_blocks,
    euler_ii_blocks,
    nrcs_shares,
    ranked_blocks,
)
from runoff.storms.intensity_curves import IntensityCurve
from runoff.storms.nrcs_ordinates import NRCS_ORDINATES
from runoff.time_steps import time_step
from runoff.units import convert, unit_dimension

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr

NRCS_PATTERNS = tuple(NRCS_ORDINATES)
CURVE_PATTERNS = ("alternating-block", "chicago", "euler-II")
PATTERNS = (*NRCS_PATTERNS, "alternating-block", "chicago", "uniform", "euler-II")
INVENTED_DATE = "2001-07-01"

_DAY_MIN = 1440.0
_CHICAGO_PEAK = 0.375  # the ratio usually quoted for Chicago; from memory, so the storm says which value it used
_NOTES = {
    "linear": (
        "straight lines between the ordinates of the distribution; ordinates closer than half an hour are from memory"
    ),
    "monotone-cubic": (
        "monotone cubic through the ordinates of the distribution (those closer than half an hour are from memory): sums "
        "between ordinates are exact, the course within them is an assumption"
    ),
    "alternating-block": "over each duration of the table the storm brings its depth, or a little more",
    "chicago": (
        "windows divided by the peak as peak_position to the rest hold the depth of the table; a block beside the peak "
        "holds less than the table's depth for one step, so use a short step"
    ),
    "uniform": "constant intensity: no peak, so not a test of an outlet",
    "euler-II": "the reading of the rule (share of the blocks that rise to the peak) differs between sources",
}
_ROUND_STEPS_MIN = (60.0, 30.0, 20.0, 15.0, 12.0, 10.0, 6.0, 5.0, 4.0, 3.0, 2.0, 1.0, 0.5, 0.25)


def design_storm(
    *,
    depth_mm: float | None = None,
    duration: Any = "24h",
    step: Any = "5min",
    pattern: str | None = None,
    depth_duration: DepthDurationTable | DepthDurationCurve | IntensityCurve | None = None,
    return_period_years: float | None = None,
    peak_position: float | None = None,
    leading_blocks: int | None = None,
    interpolation: str | None = None,
    central_part: bool = False,
    start: Any = INVENTED_DATE,
) -> xr.DataArray:
    """Return the rain of a design storm, mm per step.

    Parameters
    ----------
    depth_mm
        Depth of the whole storm returned, mm. With `depth_duration` as well, the storm of the table is scaled to it.
    duration, step
        Length of the storm and of one step, for example ``"24h"`` and ``"5min"``. The step must divide the duration.
    pattern
        ``"type-I"``, ``"type-IA"``, ``"type-II"``, ``"type-III"``: the NRCS 24-hour distributions (FHWA HDS-2, 2002,
        Table 6.5; Types II and III finer near the peak, from memory). ``"alternating-block"`` (HDS-2, Example 6.6),
        ``"chicago"`` (Keifer and Chu 1957), ``"euler-II"``: made from `depth_duration`. ``"uniform"``: constant
        intensity. Default: ``"alternating-block"`` where `depth_duration` is given, else ``"type-II"``, the sharpest of
        the four, so that a peak is not understated unasked.
    depth_duration
        A `DepthDurationTable` (with `return_period_years`), one column of it, or an `IntensityCurve`. Gives the shape
        of the patterns made from it, and the depth of the others when `depth_mm` is not given.
    return_period_years
        Return period, years. With `depth_mm` alone it is only written down.
    peak_position
        ``"chicago"`` only: the peak's place as a share of the duration, between 0 and 1. Default 0.375.
    leading_blocks
        ``"euler-II"`` only: the number of blocks that rise to the peak. Default a third of the blocks.
    interpolation
        NRCS patterns only: ``"linear"`` (default) or ``"monotone-cubic"`` between ordinates. Both keep the ordinates.
    central_part
        NRCS patterns only: for a duration under 24 h, take the most intense window of the 24-hour storm and scale it to
        the depth. Without it, other durations than 24 h are refused.
    start
        First time of the axis. The default is an invented date.

    Returns
    -------
    xarray.DataArray
        ``rain``, mm, on ``time`` (start of each step). Attributes: ``pattern``, ``duration``, ``step``, ``depth_mm``,
        ``return_period``, ``source``, ``note``, the options used, ``rain_notes`` (what is to be said of the table) and
        ``warning`` where there is one.

    Raises
    ------
    StormError
        When the storm cannot be made as asked; the message says what to change.

    Warns
    -----
    RunoffWarning
        When the step is shorter than what the distribution or the table knows (Type II 6 min near the peak, Type III
        15 min, Types I and IA 30 min; a table its first duration): straight lines understate intensities of shorter
        times.

    Examples
    --------
    >>> storm = design_storm(depth_mm=80, duration="24h", step="30min", pattern="type-II")
    >>> round(float(storm.max()) / 0.5, 1)  # mm/h from 11.5 to 12 h
    60.8
    """
    minutes, step_min, steps = _time_grid(duration, step)
    if pattern is None:
        pattern = "type-II" if depth_duration is None else "alternating-block"
    if pattern not in PATTERNS:
        own = "; for a storm of your own use storm_from_series" if pattern in ("series", "user") else ""
        raise StormError(
            f'design_storm: pattern "{pattern}" is not known{nearest(pattern, PATTERNS)}{own}; '
            f"known: {', '.join(PATTERNS)}"
        )
    options = {
        "peak_position": peak_position,
        "leading_blocks": leading_blocks,
        "interpolation": interpolation,
        "central_part": central_part or None,
    }
    raise_faults("design_storm", _option_faults(pattern, steps, options), StormError)
    curve = _one_curve(depth_duration, return_period_years)
    depth = _storm_depth(depth_mm, minutes, pattern, curve)
    if pattern in NRCS_PATTERNS:
        blocks, used = _nrcs_blocks(pattern, minutes, step_min, steps, interpolation or "linear", central_part)
    elif pattern == "uniform" or curve is None:
        blocks, used = np.full(steps, 1.0 / steps), {}
    else:
        blocks, used = _curve_blocks(pattern, curve, steps, step_min, peak_position, leading_blocks)
    attrs = {"pattern": pattern, "note": _NOTES.get(pattern, ""), **used}
    attrs |= _origin(pattern, curve, return_period_years, depth_mm)
    if notes := getattr(curve, "notes", ()):
        attrs["rain_notes"] = "; ".join(notes)
    if doubt := _too_fine(pattern, step_min, curve, interpolation):
        attrs["warning"] = doubt
        warnings.warn(f"design_storm: {doubt}", RunoffWarning, stacklevel=2)
    return _labelled(blocks * (depth / blocks.sum()), step_min, start, attrs)


def storm_from_series(
    rain: xr.DataArray | pd.Series | Sequence[float] | np.ndarray,
    *,
    step: Any = None,
    units: str | None = None,
    depth_mm: float | None = None,
    start: Any = INVENTED_DATE,
    source: str = "series of the user",
) -> xr.DataArray:
    """Return a storm of one's own in the form of `design_storm`.

    Parameters
    ----------
    rain
        Rain, mm per step: plain values with `step`, or an array or Series with its own regular time axis.
    step
        Length of one step, for values without a time axis.
    units
        ``"mm"``, ``"in"`` for depths or ``"mm/h"``, ``"in/h"`` for intensities. A DataArray may carry it as ``units``.
    depth_mm
        When given, the whole storm is scaled to this depth.
    start, source
        First time, for values without one; words for the attribute ``source``.

    Returns
    -------
    xarray.DataArray
        ``rain``, mm per step, on ``time`` (start of each step), with the attributes of `design_storm`.

    Raises
    ------
    StormError
        For missing or negative values, an irregular time axis, or unknown units and step.

    Examples
    --------
    >>> storm = storm_from_series([6, 24, 12], step="10min", units="mm/h")
    >>> storm.values
    array([1., 4., 2.])
    """
    where = "storm_from_series"
    refuse_other_kinds(where, series=rain)
    values, step_min, first = _own_steps(rain, step, start, where)
    unit = units or getattr(rain, "attrs", {}).get("units")
    if unit is None:
        raise StormError(f'{where}: the rain has no units; give units="mm" for depths or units="mm/h" for intensities')
    kind = unit_dimension(unit)
    if kind not in ("depth", "intensity"):
        raise StormError(f'{where}: units "{unit}" measure {kind}; give a depth (mm, in) or an intensity (mm/h, in/h)')
    blocks = convert(values, unit, "mm") if kind == "depth" else convert(values, unit, "mm/h") * step_min / 60.0
    faults = [
        f"{int(bad.sum())} {what} value(s), the first at step {int(np.argmax(bad)) + 1}; {fix}"
        for bad, what, fix in (
            (~np.isfinite(blocks), "missing", "missing rain is not dry weather: fill it or leave the storm out"),
            (blocks < 0.0, "negative", "rain cannot be negative"),
        )
        if bad.any()
    ]
    raise_faults(where, faults, StormError)
    if blocks.sum() <= 0.0:
        raise StormError(f"{where}: the series holds no rain")
    if depth_mm is not None:
        blocks = blocks * (_positive(depth_mm, "depth_mm", where) / blocks.sum())
    attrs = {"pattern": "series", "return_period": "not given", "source": source, "series": "not stated", "note": ""}
    return _labelled(blocks, step_min, first, attrs)


def _one_curve(depth_duration: Any, return_period_years: float | None) -> Any:
    """Return the one depth-duration curve of the storm, or None."""
    if isinstance(depth_duration, DepthDurationTable):
        return depth_duration.curve(return_period_years)
    if not isinstance(depth_duration, DepthDurationCurve | IntensityCurve | None):
        raise StormError(
            f"design_storm: depth_duration is a {type(depth_duration).__name__}; it must be a DepthDurationTable "
            "(read_depth_duration, DepthDurationTable.from_rows) or an IntensityCurve (fit_intensity)"
        )
    own = getattr(depth_duration, "return_period_years", None)
    if own is not None and return_period_years is not None and own != return_period_years:
        raise StormError(
            f"design_storm: depth_duration is a curve for {own:g} years, return_period_years is "
            f"{return_period_years:g}; leave return_period_years out or pass the whole table"
        )
    return depth_duration


def _origin(pattern: str, curve: Any, return_period_years: float | None, depth_mm: float | None) -> dict[str, str]:
    """Return where depth and shape come from, in words."""
    period = return_period_years or getattr(curve, "return_period_years", None)
    words = f"{period:g} years" if period else "not given"
    depth_source = "depth given" if curve is None or depth_mm is not None else f"depth from {curve.source}"
    if curve is not None and depth_mm is not None:
        words += f"; depth scaled to {depth_mm:g} mm"
    if pattern in NRCS_PATTERNS:
        finer = ", finer near the peak (from memory)" if NRCS_ORDINATES[pattern].finest_min < 30.0 else ""
        source = f"NRCS 24-h distribution, FHWA HDS-2 (2002) Table 6.5{finer}; {depth_source}"
    else:
        source = (
            depth_source if curve is None or pattern == "uniform" else f"{pattern_words(pattern)} from {curve.source}"
        )
    return {"return_period": words, "source": source, "series": getattr(curve, "series", "not stated")}


def _time_grid(duration: Any, step: Any) -> tuple[float, float, int]:
    minutes = minutes_of(duration, "duration", "design_storm")
    step_min = minutes_of(step, "step", "design_storm")
    if minutes < step_min:
        raise StormError(
            f"design_storm: the storm ({words_of(minutes)}) is shorter than its step ({words_of(step_min)}); "
            f"give a step of {words_of(minutes)} or less"
        )
    steps = round(minutes / step_min)
    if abs(steps * step_min - minutes) > 1e-9 * minutes:
        good = [words_of(size) for size in _ROUND_STEPS_MIN if minutes % size == 0.0 and size < 2.0 * step_min][:2]
        fix = f"; use {' or '.join(good)}" if good else ""
        raise StormError(
            f"design_storm: a step of {words_of(step_min)} does not divide the duration of {words_of(minutes)} "
            f"({minutes / step_min:.2f} steps){fix}"
        )
    return minutes, step_min, steps


def _option_faults(pattern: str, steps: int, options: dict[str, Any]) -> list[str]:
    """Return faults of options: given to a pattern that has no use for them, or out of range."""
    owners = {
        "peak_position": ("chicago",),
        "leading_blocks": ("euler-II",),
        "interpolation": NRCS_PATTERNS,
        "central_part": NRCS_PATTERNS,
    }
    faults = [
        f'{name} belongs to {", ".join(owners[name])}; leave it out for pattern "{pattern}"'
        for name, value in options.items()
        if value is not None and pattern not in owners[name]
    ]
    position, leading, between = options["peak_position"], options["leading_blocks"], options["interpolation"]
    if position is not None and not 0.0 < position < 1.0:
        faults.append(f"peak_position {position:g} must lie between 0 and 1; it is a share of the duration")
    if leading is not None and not 1 <= leading <= steps:
        faults.append(f"leading_blocks {leading} must lie between 1 and the number of steps, {steps}")
    if between is not None and between not in INTERPOLATIONS:
        faults.append(
            f'interpolation "{between}" is not known{nearest(between, INTERPOLATIONS)}; known: linear, monotone-cubic'
        )
    return faults


def _storm_depth(depth_mm: float | None, minutes: float, pattern: str, curve: Any) -> float:
    if curve is None and pattern in CURVE_PATTERNS:
        raise StormError(
            f'design_storm: pattern "{pattern}" is made from a depth-duration table or an intensity formula, and '
            "none is given; pass depth_duration (depth_mm alone does not say how the rain is spread)"
        )
    if depth_mm is not None:
        return _positive(depth_mm, "depth_mm", "design_storm")
    if curve is None:
        raise StormError("design_storm: no depth; give depth_mm, or depth_duration with return_period_years")
    return float(curve.depth_mm(minutes))


def _positive(value: Any, name: str, where: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float | np.number):
        raise StormError(f"{where}: {name} {value!r} must be a number of millimetres")
    if not (math.isfinite(value) and value > 0.0):
        raise StormError(f"{where}: {name} {value:g} must be more than zero and finite")
    return float(value)


def _nrcs_blocks(
    pattern: str, minutes: float, step_min: float, steps: int, interpolation: str, central_part: bool
) -> tuple[np.ndarray, dict[str, Any]]:
    used = {"interpolation": interpolation, "note": _NOTES[interpolation]}
    if minutes == _DAY_MIN:
        return nrcs_shares(pattern, steps, interpolation=interpolation), used
    whole = round(_DAY_MIN / step_min)
    if central_part and minutes < _DAY_MIN and whole * step_min == _DAY_MIN:
        used["note"] += f"; most intense {words_of(minutes)} of the 24-h distribution, scaled to the depth"
        return nrcs_shares(pattern, whole, window_steps=steps, interpolation=interpolation), used
    if central_part and minutes < _DAY_MIN:
        raise StormError(
            f"design_storm: with central_part the step must divide 24 h, and {words_of(step_min)} does not"
        )
    part = f", or central_part=True for the most intense {words_of(minutes)} of it" if minutes < _DAY_MIN else ""
    raise StormError(
        f'design_storm: pattern "{pattern}" is a 24-hour distribution and holds for a duration of 24 h only (given '
        f'{words_of(minutes)}); use duration="24h"{part}, or a pattern made from a depth-duration table: '
        f"{', '.join(CURVE_PATTERNS)}"
    )


def _curve_blocks(
    pattern: str, curve: Any, steps: int, step_min: float, peak_position: float | None, leading_blocks: int | None
) -> tuple[np.ndarray, dict[str, Any]]:
    if pattern == "chicago":
        position = _CHICAGO_PEAK if peak_position is None else float(peak_position)
        return chicago_blocks(curve, steps, step_min, position), {
            "peak_position": position,
            **_short_note(curve, step_min, pattern),
        }
    ranked = ranked_blocks(curve, steps, step_min)
    if pattern == "alternating-block":
        return alternating_blocks(ranked), _short_note(curve, step_min, pattern)
    leading = max(1, steps // 3) if leading_blocks is None else leading_blocks
    return euler_ii_blocks(ranked, leading), {"leading_blocks": leading, **_short_note(curve, step_min, pattern)}


def _too_fine(pattern: str, step_min: float, curve: Any, interpolation: str | None) -> str:
    """Return what is understated when a step is shorter than the distribution or the table knows, or nothing."""
    finest, known = 0.0, ""
    if pattern in NRCS_PATTERNS:
        finest = NRCS_ORDINATES[pattern].finest_min
        known = f"the ordinates of {pattern} near its peak ({words_of(finest)})"
    elif pattern in CURVE_PATTERNS:
        finest = getattr(curve, "durations_min", (0.0,))[0]
        known = f"the first duration of the table ({words_of(finest)})"
    if step_min >= finest * (1 - 1e-9):
        return ""
    fix = "make the storm from a depth-duration table" if pattern in NRCS_PATTERNS else "pass a formula (fit_intensity)"
    line = "a smooth curve" if interpolation == "monotone-cubic" else "straight lines"
    return (
        f"a step of {words_of(step_min)} is finer than {known}; between them the storm is drawn by {line}, so intensities "
        f"over less than {words_of(finest)} are understated: for outlets {fix}"
    )


def _short_note(curve: Any, step_min: float, pattern: str) -> dict[str, str]:
    """Say so when a fitted formula is used for durations shorter than it was fitted to."""
    shortest = getattr(curve, "shortest_min", 0.0)
    if step_min >= shortest and pattern != "chicago":
        return {}
    if shortest == 0.0:
        return {}
    return {"note": f"{_NOTES[pattern]}; the formula, fitted from {words_of(shortest)} up, is used below that"}


def _own_steps(rain: Any, step: Any, start: Any, where: str) -> tuple[np.ndarray, float, Any]:
    """Return values, step in minutes and first time of a user's series."""
    import pandas as pd

    times = None
    if hasattr(rain, "dims"):
        if rain.ndim != 1:
            raise StormError(
                f"{where}: the rain has dimensions {', '.join(rain.dims)}; pass one storm, on one dimension"
            )
        if rain.dims[0] in rain.coords and np.issubdtype(rain[rain.dims[0]].dtype, np.datetime64):
            times = pd.DatetimeIndex(rain[rain.dims[0]].values)
    elif isinstance(getattr(rain, "index", None), pd.DatetimeIndex):
        times = rain.index
    values = np.asarray(rain, dtype=float).ravel()
    if times is None or len(times) < 2:
        if step is None:
            raise StormError(f'{where}: the rain has no time axis; give the length of a step, for example step="5min"')
        return values, minutes_of(step, "step", where), start if times is None else times[0]
    own = time_step(times)
    if own.first_odd is not None or own.minutes <= 0.0:
        place = times[own.first_odd + 1] if own.first_odd is not None else times[0]
        raise StormError(f"{where}: the time axis is not regular; the first irregular time is {place}")
    if step is not None and minutes_of(step, "step", where) != own.minutes:
        raise StormError(f"{where}: step {step} differs from the time axis ({words_of(own.minutes)}); leave step out")
    return values, own.minutes, times[0]


def _labelled(blocks: np.ndarray, step_min: float, start: Any, attrs: dict[str, Any]) -> xr.DataArray:
    """Put depths on a time axis with the attributes every storm carries."""
    import pandas as pd
    import xarray as xr

    times = pd.date_range(pd.Timestamp(start), periods=blocks.size, freq=pd.Timedelta(minutes=step_min))
    storm = xr.DataArray(blocks, dims="time", coords={"time": times}, name="rain")
    storm = label(storm.to_dataset())["rain"]
    storm.attrs |= attrs | {
        "duration": words_of(step_min * blocks.size),
        "step": words_of(step_min),
        "depth_mm": round(float(blocks.sum()), 6),
        "time_label": "start of interval; the date is invented" if str(start) == INVENTED_DATE else "start of interval",
    }
    return storm
