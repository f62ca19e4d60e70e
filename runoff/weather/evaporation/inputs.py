"""The quantities that a formula of evapotranspiration takes, by day and in house units, with stand-ins where unknown.

Stand-ins are the rules of FAO-56 for missing data (Allen, Pereira, Raes and Smith 1998, chapter 3): the dew point is the
lowest temperature, solar radiation follows the root of the range of temperature, wind is 2 m/s. Each one that is used
is noted in words.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import xarray as xr

from runoff.errors import WeatherError
from runoff.quantities import QUANTITIES
from runoff.time_steps import ONE_DAY, time_step
from runoff.units import require_units
from runoff.weather.evaporation import formulas
from runoff.weather.evaporation.sun import day_of_year, daylight_hours, extraterrestrial_radiation, spread_onto

COASTAL_FACTOR, INLAND_FACTOR = 0.19, 0.16  # solar radiation from temperature, FAO-56 (1998) Eq. 50
UNKNOWN_WIND = 2.0  # m/s, FAO-56 (1998) chapter 3
STATION_WIND_M = 10.0  # standard height of anemometers (WMO guide No. 8, chapter on surface wind, from memory)
LEAST_WIND = 0.5  # m/s, FAO-56 (1998) p. 63: air over a crop is never quite still


def apply(formula: Callable[..., Any], *values: Any) -> xr.DataArray:
    """Apply a formula of plain arrays to labelled ones, by name of dimension, lazily where they are lazy."""
    return xr.apply_ufunc(formula, *values, dask="parallelized", output_dtypes=[float])


def step_is_short(time: xr.DataArray) -> bool:
    """Tell whether the steps are shorter than a day."""
    return time_step(time).length < ONE_DAY


class EvaporationInputs:
    """The quantities of a record by day, in house units, with FAO-56 stand-ins where they are missing.

    ``assumptions`` gathers the stand-ins in words as they are used.
    """

    def __init__(self, weather: xr.Dataset, title: str, coastal: bool) -> None:
        if "time" not in weather.dims:
            raise WeatherError("reference evapotranspiration needs a record on the dimension `time`")
        self.title = title
        self.coastal = coastal
        self.assumptions: list[str] = []
        self._weather = weather
        self._short = step_is_short(weather["time"])
        self._time = weather["time"].resample(time="1D").first()["time"] if self._short else weather["time"]
        self._J = day_of_year(self._time)

    def at_steps(self, daily: xr.DataArray) -> xr.DataArray:
        """Return the daily result on the steps of the record."""
        if not self._short:
            return daily
        return spread_onto(daily.assign_coords(lat=self.latitude()), self._weather["time"], noon_hour=self._noon_hour())

    def _noon_hour(self) -> float:
        """Return when the sun stands highest on the record's clock: known only for records kept in UTC."""
        zone = str(self._weather.attrs.get("time_zone", "")).strip().upper()
        if zone in ("UTC", "GMT", "Z") and "lon" in self._weather.variables and self._weather["lon"].ndim == 0:
            return 12.0 - float(self._weather["lon"]) / 15.0
        return 12.0

    def known(self, name: str, how: str) -> xr.DataArray | None:
        """Return a quantity by day, brought from short steps by `how` (min, max, mean, sum); None when it is absent."""
        if name not in self._weather:
            return None
        series = require_units(self._weather[name], QUANTITIES[name].units, "reference_et")
        if not self._short:
            return series
        days = series.resample(time="1D")
        return days.sum(skipna=False) if how == "sum" else getattr(days, how)()

    def latitude(self) -> xr.DataArray:
        """Return the latitude, degrees."""
        if "lat" not in self._weather.variables:
            raise WeatherError(
                f"reference evapotranspiration by {self.title} needs the latitude; give latitude= to read_weather "
                "(degrees, south negative)"
            )
        latitude = self._weather["lat"]
        if bool((np.abs(latitude) > 90.0).any()):
            raise WeatherError(
                f"reference evapotranspiration: a latitude of {float(latitude[np.abs(latitude) > 90.0][0]) if latitude.ndim else float(latitude):g} "
                "is impossible; it lies between -90 and 90 degrees, south negative"
            )
        return latitude

    def extremes(self) -> tuple[xr.DataArray, xr.DataArray]:
        """Return the lowest and the highest temperature of the day, degC."""
        lowest, highest = self.known("tmin", "min"), self.known("tmax", "max")
        if self._short and (lowest is None or highest is None):
            lowest, highest = self.known("tmean", "min"), self.known("tmean", "max")
        if lowest is None or highest is None:
            absent = " and ".join(f"`{name}`" for name in ("tmin", "tmax") if name not in self._weather)
            raise WeatherError(
                f"reference evapotranspiration by {self.title} needs `tmin` and `tmax`; {absent} missing. "
                'Give the columns, or choose the method "oudin", which needs `tmean` alone'
            )
        return lowest, highest

    def mean_temperature(self) -> xr.DataArray:
        """Return the mean temperature of the day, degC."""
        mean = self.known("tmean", "mean")
        if mean is not None:
            return mean
        if "tmin" in self._weather and "tmax" in self._weather:
            lowest, highest = self.extremes()
            return (lowest + highest) / 2.0
        raise WeatherError(
            f"reference evapotranspiration by {self.title} needs `tmean`, or `tmin` and `tmax`; none is given"
        )

    def extraterrestrial(self) -> xr.DataArray:
        """Return the radiation above the air, MJ m-2 d-1."""
        return apply(extraterrestrial_radiation, self._J, self.latitude())

    def daylight(self) -> xr.DataArray:
        """Return the hours of daylight."""
        return apply(daylight_hours, self._J, self.latitude())

    def elevation(self) -> xr.DataArray:
        """Return the height of the site, m."""
        if "elevation" in self._weather.variables:
            return self._weather["elevation"]
        self.assumptions.append("elevation not known: sea level")
        return xr.DataArray(0.0)

    def vapour_pressure(self) -> xr.DataArray:
        """Return the actual vapour pressure, kPa: given, or from dew point, humidity extremes, mean humidity, or ``tmin``."""
        lowest, highest = self.extremes()
        dew, mean = self.known("dew_point", "mean"), self.known("humidity", "mean")
        low, high = self.known("humidity_min", "min"), self.known("humidity_max", "max")
        if self._short and mean is not None and low is None and high is None:
            low, high = self.known("humidity", "min"), self.known("humidity", "max")
        given = self.known("vapour_pressure", "mean")
        found = [] if given is None else [given]
        if dew is not None:
            found.append(apply(formulas.saturation_vapour_pressure, dew))
        if low is not None and high is not None:
            found.append(apply(formulas.vapour_pressure_from_extremes, lowest, highest, low, high))
        if mean is not None:
            found.append(apply(formulas.vapour_pressure_from_mean, lowest, highest, mean))
        stand_in = apply(formulas.saturation_vapour_pressure, lowest)
        return self._first_known(found, stand_in, lowest, "humidity not known: dew point taken as tmin")

    def solar(self, extraterrestrial: xr.DataArray, clear_sky: xr.DataArray) -> xr.DataArray:
        """Return solar radiation, MJ m-2 d-1: measured, from sunshine, or from the range of temperature."""
        lowest, highest = self.extremes()
        measured, sunshine = self.known("solar_radiation", "mean"), self.known("sunshine_hours", "sum")
        found = [] if measured is None else [measured]
        if sunshine is not None:
            found.append(apply(formulas.solar_from_sunshine, extraterrestrial, sunshine, self.daylight()))
        factor = COASTAL_FACTOR if self.coastal else INLAND_FACTOR
        stand_in = apply(formulas.solar_from_temperature, extraterrestrial, lowest, highest, factor)
        stand_in = apply(np.minimum, stand_in, clear_sky)
        words = f"solar radiation not known: {factor} sqrt(tmax - tmin) Ra ({'coast' if self.coastal else 'inland'})"
        return self._first_known(found, stand_in, lowest, words)

    def wind(self) -> xr.DataArray:
        """Return wind speed at 2 m, m/s."""
        found, (lowest, _) = [], self.extremes()
        measured = self.known("wind_speed", "mean")
        if measured is not None:
            height = self._weather["wind_speed"].attrs.get("height_m")
            if height is None:
                self.assumptions.append(f"height of the wind not known: {STATION_WIND_M:g} m, as stations measure it")
            height = float(STATION_WIND_M if height is None else height)
            at_2m = measured if height == 2.0 else apply(formulas.wind_at_2m, measured, height)
            found.append(apply(np.maximum, at_2m, LEAST_WIND))
        stand_in = xr.full_like(lowest, UNKNOWN_WIND, dtype=float)
        return self._first_known(found, stand_in, lowest, f"wind not known: {UNKNOWN_WIND:g} m/s at 2 m")

    def net_radiation(self, vapour_pressure: xr.DataArray, elevation: xr.DataArray) -> xr.DataArray:
        """Return net radiation, MJ m-2 d-1."""
        lowest, highest = self.extremes()
        above = self.extraterrestrial()
        clear_sky = apply(formulas.clear_sky_radiation, above, elevation)
        return apply(formulas.net_radiation, lowest, highest, vapour_pressure, self.solar(above, clear_sky), clear_sky)

    def _first_known(
        self, found: list[xr.DataArray], stand_in: xr.DataArray, temperature: xr.DataArray, words: str
    ) -> xr.DataArray:
        """Return the first of `found` where it is known, else the stand-in, and note in words where that was used."""
        if not found:
            self.assumptions.append(words)
            return stand_in
        result = found[0]
        for other in found[1:]:
            result = result.fillna(other)
        if result.chunks is not None or temperature.chunks is not None:
            self.assumptions.append(f"where {words}")
            return result.fillna(stand_in)
        missing = int((temperature.notnull() & ~result.notnull()).sum())
        if missing:
            self.assumptions.append(f"on {missing} of {int(temperature.notnull().sum())} days {words}")
        return result.fillna(stand_in)

    def month_numbers(self) -> np.ndarray:
        """Return a number for the month of every day, 12 to a year, 0 for January when divided by 12."""
        return self._time.dt.year.to_numpy() * 12 + self._time.dt.month.to_numpy() - 1
