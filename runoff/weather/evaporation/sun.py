"""Where the sun stands: radiation above the air, hours of daylight, and how a day's evaporation falls within the day.

Solar geometry is that of FAO Irrigation and Drainage Paper 56 (Allen, Pereira, Raes and Smith, 1998), chapter 3. The
formulas take and return plain numbers or numpy arrays; `spread_onto` works on labelled series.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import xarray as xr

from runoff.errors import WeatherError
from runoff.time_steps import time_step

SOLAR_CONSTANT_MJ_PER_M2_MIN = 0.0820


def inverse_distance(day_of_year: Any) -> Any:
    """Return the inverse relative distance from earth to sun, squared (no unit).

    ``dr = 1 + 0.033 cos(2 pi J / 365)``; FAO-56 (1998) Eq. 23. For 3 September (J = 246) 0.985 (Example 8).

    Parameters
    ----------
    day_of_year
        J, 1 on 1 January.
    """
    return 1.0 + 0.033 * np.cos(2.0 * np.pi / 365.0 * np.asarray(day_of_year))


def declination(day_of_year: Any) -> Any:
    """Return the declination of the sun, rad.

    ``0.409 sin(2 pi J / 365 - 1.39)``; FAO-56 (1998) Eq. 24. For J = 246 0.120 (Example 8).

    Parameters
    ----------
    day_of_year
        J, 1 on 1 January.
    """
    return 0.409 * np.sin(2.0 * np.pi / 365.0 * np.asarray(day_of_year) - 1.39)


def sunset_angle(day_of_year: Any, latitude_deg: Any) -> Any:
    """Return the hour angle of sunset, rad: 0 in the polar night, pi under the midnight sun.

    ``arccos(-tan(latitude) tan(declination))``; FAO-56 (1998) Eq. 25, with the argument held within -1 to 1, which
    is what makes it valid at every latitude. For 20 degrees south and J = 246 1.527 (Example 8).

    Parameters
    ----------
    day_of_year
        J, 1 on 1 January.
    latitude_deg
        Degrees, south negative.
    """
    argument = -np.tan(np.radians(latitude_deg)) * np.tan(declination(day_of_year))
    return np.arccos(np.clip(argument, -1.0, 1.0))


def daylight_hours(day_of_year: Any, latitude_deg: Any) -> Any:
    """Return the hours from sunrise to sunset.

    ``24 / pi`` times the sunset angle; FAO-56 (1998) Eq. 34. For 20 degrees south and J = 246 11.7 h (Example 9).

    Parameters
    ----------
    day_of_year
        J, 1 on 1 January.
    latitude_deg
        Degrees, south negative.
    """
    return 24.0 / np.pi * sunset_angle(day_of_year, latitude_deg)


def extraterrestrial_radiation(day_of_year: Any, latitude_deg: Any) -> Any:
    """Return the radiation that reaches a level surface above the air, MJ m-2 d-1.

    FAO-56 (1998) Eq. 21; never negative. For 20 degrees south and J = 246 32.2 (Example 8). The printed Table 2.6
    differs from the equation by up to 0.15.

    Parameters
    ----------
    day_of_year
        J, 1 on 1 January.
    latitude_deg
        Degrees, south negative.
    """
    latitude = np.radians(latitude_deg)
    dec = declination(day_of_year)
    ws = sunset_angle(day_of_year, latitude_deg)
    height = ws * np.sin(latitude) * np.sin(dec) + np.cos(latitude) * np.cos(dec) * np.sin(ws)
    per_day = 24.0 * 60.0 / np.pi * SOLAR_CONSTANT_MJ_PER_M2_MIN * inverse_distance(day_of_year) * height
    return np.maximum(per_day, 0.0)


def day_of_year(time: xr.DataArray) -> xr.DataArray:
    """Return J of each time, 1 on 1 January; leap days count.

    Calendars of 360 days are stretched to 365, so that their seasons stay where they belong.

    Parameters
    ----------
    time
        Times, datetime64 or of any CF calendar.
    """
    days = time.dt.dayofyear
    if getattr(time.dt, "calendar", "standard") == "360_day":
        return 1.0 + (days - 1.0) * 365.0 / 360.0
    return days


def daylight_share(
    day_of_year: Any, latitude_deg: Any, start_hour: Any, step_hours: float, *, noon_hour: float = 12.0
) -> Any:
    """Return the share (0-1) of a day's evaporation that falls in one step of the day.

    A half sine from sunrise to sunset, integrated over the step, so that the steps of a day add up to 1. In the
    polar night, when nothing rises, the share is even over 24 h. Common practice; no single source.

    Parameters
    ----------
    day_of_year
        J, 1 on 1 January.
    latitude_deg
        Degrees, south negative.
    start_hour
        Start of the step, hours since midnight.
    step_hours
        Length of the step, h; 24 or less.
    noon_hour
        When the sun stands highest, hours on the clock of `start_hour`.

    Returns
    -------
    float or numpy.ndarray
        Share of the day's evaporation, 0-1, in the shape of the arguments.
    """
    length = daylight_hours(day_of_year, latitude_deg)

    def share_before(clock_hour: Any) -> Any:
        solar = np.asarray(clock_hour) + 12.0 - noon_hour
        whole_days = np.floor(solar / 24.0)
        risen = np.clip(solar - 24.0 * whole_days - (12.0 - length / 2.0), 0.0, length)
        with np.errstate(invalid="ignore", divide="ignore"):
            sine = 0.5 * (1.0 - np.cos(np.pi * risen / length))
        return whole_days + np.where(length > 0.0, sine, solar / 24.0 - whole_days)

    return share_before(np.asarray(start_hour) + step_hours) - share_before(start_hour)


def spread_onto(daily_et: xr.DataArray, time: xr.DataArray, *, noon_hour: float = 12.0) -> xr.DataArray:
    """Spread daily evapotranspiration onto the steps of a given axis, over the daylight of each day as a half sine.

    Parameters
    ----------
    daily_et
        mm per day; every day of `time` must be among its days. With the coordinate ``lat`` (degrees, south negative); without it
        every day has 12 hours of light, and the result says so in ``attrs["daylight"]``.
    time
        Starts of regular steps shorter than a day.
    noon_hour
        When the sun stands highest on the clock of the record; 12 for local solar time.

    Returns
    -------
    xarray.DataArray
        mm per step; the steps of a day add up to that day's value.

    Raises
    ------
    WeatherError
        When a day of `time` has no daily value.

    Examples
    --------
    Day length 15.69 h: the hour after noon has ``4 sin(pi / 15.69) / 2 = 0.398`` mm.

    >>> day = xr.DataArray([4.0], {"time": np.array(["2001-06-21"], "datetime64[ns]"), "lat": 47.0}, ["time"])
    >>> stamps = np.datetime64("2001-06-21", "ns") + np.arange(24) * np.timedelta64(1, "h")
    >>> hours = spread_onto(day, xr.DataArray(stamps, {"time": stamps}, ["time"]))
    >>> round(float(hours.sum()), 12), round(float(hours[12]), 3), float(hours[0])
    (4.0, 0.398, 0.0)
    """
    day_index = daily_et["time"].dt.floor("D").to_index()
    position = day_index.get_indexer(time.dt.floor("D").to_index())
    if (position < 0).any():
        missing = str(time.to_numpy()[int((position < 0).argmax())])[:10]
        raise WeatherError(f"daily evapotranspiration is needed for every day of the record; {missing} is missing")
    hour = time.dt.hour + time.dt.minute / 60.0 + time.dt.second / 3600.0
    latitude = daily_et["lat"] if "lat" in daily_et.coords else xr.DataArray(0.0)
    share = xr.apply_ufunc(
        daylight_share,
        day_of_year(time),
        latitude,
        hour,
        kwargs={"step_hours": time_step(time).hours, "noon_hour": noon_hour},
    )
    of_day = daily_et.isel(time=xr.DataArray(position, dims="time")).assign_coords(time=time)
    spread = (of_day * share).transpose(*daily_et.dims)
    light = (
        "between sunrise and sunset" if "lat" in daily_et.coords else "12 hours every day: the latitude is not known"
    )
    return spread.assign_attrs({**daily_et.attrs, "daylight": f"half sine, {light}"})
