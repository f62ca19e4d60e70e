"""Rain events of a daily record: when they begin, and which of them a roof held."""

from __future__ import annotations

import functools
from typing import Any

import numpy as np

from runoff.plain_arrays import applied
from runoff.time_steps import Calendar

#: A day with at least this much rain is a wet day, and a run of wet days is a rain event (the usual climatological
#: limit, 1 mm). A daily record cannot separate events by hours.
WET_DAY_MM = 1.0

#: An event counts as held when less than this share of its rain leaves as overflow (own proposal).
HELD_SHARE = 0.05
#: At or below this mean temperature (degC) precipitation is snow, where a run does not say otherwise.
SNOW_BELOW_C = 1.0


def event_starts(rain: np.ndarray, wet_day_mm: float = WET_DAY_MM) -> np.ndarray:
    """Mark the first day of each run of wet days, in daily rain of mm, shape ``(..., time)``."""
    wet: np.ndarray = rain >= wet_day_mm
    begins = wet.copy()
    begins[..., 1:] &= ~wet[..., :-1]
    return begins


def event_limits(
    rain: Any,
    tmean: Any = None,
    *,
    snow_below_c: float = SNOW_BELOW_C,
    wet_day_mm: float = WET_DAY_MM,
) -> Any:
    """Return, on the first day of each event, the overflow below which it counts as held.

    Parameters
    ----------
    rain
        Rain per day, mm, on ``time``: a variable, or a plain array of shape ``(time,)``.
    tmean
        Mean temperature, degC, where known: an event that is all snow is no rain event.
    snow_below_c
        At or below this temperature precipitation is snow, degC.
    wet_day_mm
        Rain of a wet day, mm.

    Returns
    -------
    xarray.Variable or numpy.ndarray
        mm: `HELD_SHARE` of the rain from the first day of the event to the day before the next; -1 where all of it is snow;
        0 on days on which no event begins.
    """
    known = [] if tmean is None else [tmean]
    function = functools.partial(limits_of_series, snow_below_c=snow_below_c, wet_day_mm=wet_day_mm)
    return applied(function, [rain, *known])[0]


def limits_of_series(
    rain: np.ndarray, tmean: np.ndarray | None = None, *, snow_below_c: float, wet_day_mm: float = WET_DAY_MM
) -> np.ndarray:
    """Do as `event_limits` for plain arrays of mm and degC, shape ``(..., time)``.

    Parameters
    ----------
    rain, tmean, snow_below_c, wet_day_mm
        As in `event_limits`; all of the rain counts as rain where no temperature is given.

    Returns
    -------
    numpy.ndarray
        mm, shape ``(..., time)``, as in `event_limits`.
    """
    begins = event_starts(rain, wet_day_mm)
    as_rain = rain if tmean is None else np.where(tmean <= snow_below_c, 0.0, rain)
    begins, rain, as_rain = np.broadcast_arrays(begins, rain, as_rain)
    out = np.zeros(begins.shape)
    for cell in np.ndindex(begins.shape[:-1]):
        first = np.flatnonzero(begins[cell])
        if first.size:
            whole, liquid = (
                np.add.reduceat(np.where(np.isnan(one[cell]), 0.0, one[cell]), first) for one in (rain, as_rain)
            )
            out[cell][first] = np.where(liquid > 0.0, HELD_SHARE * whole, -1.0)
    return out


def count_events(limits: Any, overflow: Any, calendar: Calendar) -> tuple[Any, ...]:
    """Count rain events, and those held, in the year in which they end.

    An event lasts from its first wet day to the day before the next event, so overflow that comes late (melting
    snow, slow drainage) still counts against it; the last event ends with the record.

    Parameters
    ----------
    limits
        From `event_limits`.
    overflow
        Overflow per day, mm, on ``time``, of the kind of `limits`.
    calendar
        Years of the record.

    Returns
    -------
    tuple of xarray.Variable or numpy.ndarray
        Counts of all events and of those held, along ``year``. All snow: counted in neither.
    """

    def counted(limits: np.ndarray, overflow: np.ndarray) -> tuple[np.ndarray, ...]:
        return tuple(np.moveaxis(events_of_series(limits, overflow, calendar), -2, 0))

    return applied(counted, [limits, overflow], [("year",)] * 2, sizes={"year": calendar.years.size})


def events_of_series(limits: np.ndarray, overflow: np.ndarray, calendar: Calendar) -> np.ndarray:
    """Do as `count_events` for plain arrays of mm, shape ``(..., time)``: all events and those held, ``(..., 2, year)``.

    Parameters
    ----------
    limits, overflow
        As in `count_events`, mm, shape ``(..., time)``.
    calendar
        Years of the record.

    Returns
    -------
    numpy.ndarray
        Counts, shape ``(..., 2, year)``.
    """
    years = calendar.years.size
    lead = np.broadcast_shapes(limits.shape[:-1], overflow.shape[:-1])
    limits = np.broadcast_to(limits, (*lead, limits.shape[-1]))
    overflow = np.broadcast_to(overflow, limits.shape)
    out = np.zeros((*lead, 2, years))
    for cell in np.ndindex(lead):
        first = np.flatnonzero(limits[cell])
        if first.size:
            of_event = limits[cell][first]
            held = np.add.reduceat(overflow[cell], first) < of_event
            ends = np.append(first[1:], limits.shape[-1] - 1)
            ends_in = np.searchsorted(calendar.starts, ends, side="right") - 1
            for counted, which in enumerate((of_event > 0.0, held)):
                out[(*cell, counted)] = np.bincount(ends_in, weights=which, minlength=years)
    return out
