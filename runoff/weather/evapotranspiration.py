"""Reference evapotranspiration: several formulae, one way to choose among them.

Formula functions take and return plain numbers or arrays and are named after their authors; `reference_et` picks the one
the data allow and says which. Numbers of equations and examples are those of FAO-56 (Allen, Pereira, Raes and Smith
1998) unless another paper is named. Choices that change the answer, stated once: the latent heat is the constant
2.45 MJ/kg; in Penman-Monteith its inverse is the printed 0.408, elsewhere exactly 1/2.45; Kelvin is degC + 273.16 as in
the 1998 edition; Rs/Rso is capped at 1.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np
import xarray as xr

from runoff.errors import WeatherError, nearest
from runoff.weather.sun import daylight_hours, extraterrestrial_radiation

LATENT_HEAT = 2.45  # MJ/kg
KELVIN = 273.16


# --- formulae ------------------------------------------------------------------------------------------------


def air_pressure(elevation_m: Any) -> Any:
    """Return the air pressure, kPa: ``101.3 ((293 - 0.0065 z)/293)^5.26`` (Eq. 7). Worked: 1800 m gives 81.8 (Ex. 2)."""
    return 101.3 * ((293.0 - 0.0065 * elevation_m) / 293.0) ** 5.26


def psychrometric_constant(pressure_kpa: Any) -> Any:
    """Return the psychrometric constant, kPa/K: ``0.000665 P`` (Eq. 8)."""
    return 0.000665 * pressure_kpa


def saturation_vapour_pressure(temperature_c: Any) -> Any:
    """Return the saturation vapour pressure, kPa: ``0.6108 exp(17.27 T/(T + 237.3))`` (Eq. 11)."""
    return 0.6108 * np.exp(17.27 * temperature_c / (temperature_c + 237.3))


def vapour_pressure_slope(temperature_c: Any) -> Any:
    """Return the slope of the saturation vapour pressure, kPa/K: ``4098 e0/(T + 237.3)^2`` (Eq. 13)."""
    return 4098.0 * saturation_vapour_pressure(temperature_c) / (temperature_c + 237.3) ** 2


def mean_saturation_pressure(tmax: Any, tmin: Any) -> Any:
    """Return the mean saturation vapour pressure of a day, kPa, from its extremes (Eq. 12)."""
    return (saturation_vapour_pressure(tmax) + saturation_vapour_pressure(tmin)) / 2.0


def actual_vapour_pressure(
    tmax: Any,
    tmin: Any,
    *,
    dew_point: Any = None,
    humidity_max: Any = None,
    humidity_min: Any = None,
    humidity: Any = None,
) -> Any:
    """Return the actual vapour pressure, kPa, from the best that is known.

    In order: dew point (Eq. 14), highest and lowest relative humidity (Eq. 17), mean relative humidity (Eq. 19), and
    with none of them the lowest temperature taken as dew point (Eq. 48). Humidities are fractions 0-1.
    """
    if dew_point is not None:
        return saturation_vapour_pressure(dew_point)
    if humidity_max is not None and humidity_min is not None:
        low = saturation_vapour_pressure(tmin) * humidity_max
        return (low + saturation_vapour_pressure(tmax) * humidity_min) / 2.0
    if humidity is not None:
        return humidity * mean_saturation_pressure(tmax, tmin)
    return saturation_vapour_pressure(tmin)


def radiation_from_sunshine(extraterrestrial: Any, sunshine_hours: Any, daylight: Any) -> Any:
    """Return solar radiation, MJ m-2 d-1: ``(0.25 + 0.50 n/N) Ra`` (Eq. 35)."""
    return (0.25 + 0.50 * sunshine_hours / daylight) * extraterrestrial


def radiation_from_temperature(extraterrestrial: Any, tmax: Any, tmin: Any, *, adjustment: float = 0.16) -> Any:
    """Return solar radiation, MJ m-2 d-1: ``k sqrt(Tmax - Tmin) Ra`` (Eq. 50); k 0.16 inland, 0.19 on coasts."""
    return adjustment * np.sqrt(np.maximum(tmax - tmin, 0.0)) * extraterrestrial


def clear_sky_radiation(extraterrestrial: Any, elevation_m: Any) -> Any:
    """Return clear-sky radiation, MJ m-2 d-1: ``(0.75 + 2e-5 z) Ra`` (Eq. 37)."""
    return (0.75 + 2e-5 * elevation_m) * extraterrestrial


def net_longwave_radiation(
    tmax: Any, tmin: Any, vapour_kpa: Any, share_of_clear_sky: Any, *, kelvin: float = KELVIN
) -> Any:
    """Return net outgoing longwave radiation, MJ m-2 d-1 (Eq. 39); the share Rs/Rso is capped at 1."""
    warmth = 4.903e-9 * ((tmax + kelvin) ** 4 + (tmin + kelvin) ** 4) / 2.0
    return warmth * (0.34 - 0.14 * np.sqrt(vapour_kpa)) * (1.35 * np.minimum(share_of_clear_sky, 1.0) - 0.35)


def net_radiation(
    solar: Any,
    extraterrestrial: Any,
    tmax: Any,
    tmin: Any,
    vapour_kpa: Any,
    elevation_m: Any,
    *,
    kelvin: float = KELVIN,
) -> Any:
    """Return net radiation over reference grass, MJ m-2 d-1: ``0.77 Rs - Rnl`` (Eq. 38 to 40)."""
    clear = clear_sky_radiation(extraterrestrial, elevation_m)
    share = np.where(clear > 0, solar / np.where(clear > 0, clear, 1.0), 1.0)  # polar night: nothing to cap
    return 0.77 * solar - net_longwave_radiation(tmax, tmin, vapour_kpa, share, kelvin=kelvin)


def wind_at_2m(wind_speed: Any, height_m: float) -> Any:
    """Return the wind speed at 2 m, m/s: ``u 4.87/ln(67.8 z - 5.42)`` (Eq. 47). Worked: 3.2 at 10 m gives 2.4 (Ex. 14)."""
    return wind_speed * 4.87 / np.log(67.8 * height_m - 5.42)


def penman_monteith_fao56(
    tmax: Any,
    tmin: Any,
    net: Any,
    wind_2m: Any,
    vapour_kpa: Any,
    elevation_m: Any,
    *,
    soil_heat: Any = 0.0,
    tmean: Any = None,
) -> Any:
    """Return FAO-56 Penman-Monteith reference evapotranspiration, mm/day (Eq. 6).

    ``(0.408 D (Rn - G) + g 900/(T + 273) u2 (es - ea)) / (D + g (1 + 0.34 u2))``, not below 0.

    Parameters
    ----------
    tmax, tmin
        Temperatures, degC.
    net
        Net radiation, MJ m-2 d-1.
    wind_2m
        Wind at 2 m, m/s; taken as at least 0.5 (advice of FAO-56, p. 63).
    vapour_kpa
        Actual vapour pressure, kPa.
    elevation_m
        Height, m.
    soil_heat
        Soil heat flux, MJ m-2 d-1; 0 for days.
    tmean
        Mean temperature, degC; default the mean of the extremes, as FAO-56 asks.

    Examples
    --------
    Uccle, 6 July (Example 18, printed 3.9 mm/day):

    >>> round(float(penman_monteith_fao56(21.5, 12.3, 13.28, 2.078, 1.409, 100.0)), 2)
    3.88
    """
    mean = (tmax + tmin) / 2.0 if tmean is None else tmean
    slope = vapour_pressure_slope(mean)
    gamma = psychrometric_constant(air_pressure(elevation_m))
    wind = np.maximum(wind_2m, 0.5)
    deficit = mean_saturation_pressure(tmax, tmin) - vapour_kpa
    top = 0.408 * slope * (net - soil_heat) + gamma * 900.0 / (mean + 273.0) * wind * deficit
    return np.maximum(top / (slope + gamma * (1.0 + 0.34 * wind)), 0.0)


def hargreaves_samani_1985(tmax: Any, tmin: Any, extraterrestrial: Any) -> Any:
    """Return Hargreaves-Samani reference evapotranspiration, mm/day, not below 0 (FAO-56 Eq. 52).

    ``0.0023 (T + 17.8) sqrt(Tmax - Tmin) Ra/2.45`` with Ra in MJ m-2 d-1.

    Examples
    --------
    Lyon, 15 July (Example 20, printed 5.0 mm/day):

    >>> round(float(hargreaves_samani_1985(26.6, 14.8, 40.554773)), 4)
    5.0351
    """
    mean, width = (tmax + tmin) / 2.0, np.maximum(tmax - tmin, 0.0)
    return np.maximum(0.0023 * (mean + 17.8) * np.sqrt(width) * extraterrestrial / LATENT_HEAT, 0.0)


def priestley_taylor_1972(
    temperature_c: Any, net: Any, elevation_m: Any, *, soil_heat: Any = 0.0, alpha: float = 1.26
) -> Any:
    """Return Priestley-Taylor evapotranspiration, mm/day, not below 0: ``alpha D (Rn - G)/(2.45 (D + g))``."""
    slope = vapour_pressure_slope(temperature_c)
    gamma = psychrometric_constant(air_pressure(elevation_m))
    return np.maximum(alpha * slope * (net - soil_heat) / (LATENT_HEAT * (slope + gamma)), 0.0)


def oudin_2005(temperature_c: Any, extraterrestrial: Any) -> Any:
    """Return Oudin evapotranspiration, mm/day: ``Ra (T + 5)/(100 x 2.45)`` above -5 degC, else 0 (Oudin et al. 2005)."""
    return np.maximum(extraterrestrial * (temperature_c + 5.0) / (100.0 * LATENT_HEAT), 0.0)


def thornthwaite_1948(monthly_c: Any, daylight: Any, days: Any) -> Any:
    """Return Thornthwaite evapotranspiration of each month of one year, mm per month.

    ``16 (L/12) (Nd/30) (10 T/I)^a`` with ``I = sum (T/5)^1.514`` over the twelve months and
    ``a = 6.75e-7 I^3 - 7.71e-5 I^2 + 1.792e-2 I + 0.49239``; months below 0 degC count as 0. Above 26.5 degC the usual fit
    ``-415.85 + 32.24 T - 0.43 T^2`` (Willmott et al. 1985, from memory) replaces the power.

    Parameters
    ----------
    monthly_c
        Mean temperatures, degC, months along the last axis (12).
    daylight
        Mean hours of daylight of each month.
    days
        Days of each month.
    """
    warm = np.maximum(np.asarray(monthly_c, dtype=float), 0.0)
    heat = ((warm / 5.0) ** 1.514).sum(axis=-1, keepdims=True)
    power = 6.75e-7 * heat**3 - 7.71e-5 * heat**2 + 1.792e-2 * heat + 0.49239
    plain = 16.0 * (10.0 * warm / np.where(heat > 0, heat, 1.0)) ** power * (warm > 0)
    hot = -415.85 + 32.24 * warm - 0.43 * warm**2
    return np.where(warm > 26.5, hot, plain) * np.asarray(daylight) / 12.0 * np.asarray(days) / 30.0


# --- choosing a method ---------------------------------------------------------------------------------------


class _Method(NamedTuple):
    title: str
    needs: tuple[tuple[str, ...], ...]  # of each group, one is enough
    compute: Callable[[xr.Dataset], tuple[xr.DataArray, list[str]]]


def reference_et(weather: xr.Dataset, method: str | None = None) -> xr.DataArray:
    """Return reference evapotranspiration by the best method the data allow, or by a named one.

    Parameters
    ----------
    weather
        Daily weather in house units, with the latitude as coordinate ``lat`` (degrees, south negative).
    method
        ``given``, ``penman-monteith``, ``hargreaves-samani``, ``priestley-taylor``, ``oudin`` or ``thornthwaite``. Default:
        given > Penman-Monteith with measured radiation, humidity and wind > Hargreaves-Samani > Oudin.

    Returns
    -------
    xarray.DataArray
        mm per day; ``attrs["method"]`` names the formula and what was assumed.

    Raises
    ------
    WeatherError
        When a method is unknown or lacks what it needs; the message says how to give it.
    """
    name = method or _best(weather)
    if name not in METHODS:
        raise WeatherError(
            f'reference evapotranspiration: method "{name}" is not known{nearest(name, METHODS)}; known: {", ".join(METHODS)}'
        )
    chosen = METHODS[name]
    _refuse_lacking(weather, name, chosen)
    if name == "given":
        et, assumed = weather["reference_et"], []
    else:
        et, assumed = chosen.compute(weather)
        et = et.transpose(*[dim for dim in weather["rain"].dims if dim in et.dims] if "rain" in weather else et.dims)
    title = weather["reference_et"].attrs.get("method", "given") if name == "given" else chosen.title
    et = et.rename("reference_et")
    et.attrs = {"units": "mm", "method": f"{title} ({'; '.join(assumed)})" if assumed else title}
    return et


def with_reference_et(weather: xr.Dataset, method: str | None = None) -> xr.Dataset:
    """Return the weather with ``reference_et`` by `reference_et`; a given one is kept unless a method is forced."""
    if "reference_et" in weather and method in (None, "given"):
        return weather
    return weather.assign(reference_et=reference_et(weather, method))


def can_form_reference_et(weather: xr.Dataset) -> bool:
    """Tell whether `reference_et` would find all it needs."""
    name = _best(weather)
    return not _lacking(weather, METHODS[name])


def _best(weather: xr.Dataset) -> str:
    has = {str(name) for name in weather.data_vars}
    if "reference_et" in has:
        return "given"
    measured = has & {"solar_radiation", "sunshine_hours"} and has & {"humidity", "humidity_max", "dew_point"}
    if measured and "wind_speed" in has and {"tmin", "tmax"} <= has:
        return "penman-monteith"
    return "oudin" if "tmean" in has and not {"tmin", "tmax"} <= has else "hargreaves-samani"


def _lacking(weather: xr.Dataset, method: _Method) -> list[str]:
    known = {str(name) for name in (*weather.data_vars, *weather.coords)}
    return [" or ".join(group) for group in method.needs if not known & set(group)]


def _refuse_lacking(weather: xr.Dataset, name: str, method: _Method) -> None:
    lacking = _lacking(weather, method)
    if lacking == ["lat"]:
        raise WeatherError(
            f"reference evapotranspiration by {method.title} needs the latitude; give latitude= to read_weather (degrees, south negative)"
        )
    if lacking:
        raise WeatherError(
            f"reference evapotranspiration by {method.title} needs {', '.join(lacking)}; given are "
            f"{', '.join(sorted(map(str, weather.data_vars)))}. Give a series `reference_et` (mm per step), or choose a method the data allow"
        )


def _temperatures(weather: xr.Dataset) -> tuple[xr.DataArray, xr.DataArray]:
    return weather["tmax"], weather["tmin"]


def _mean(weather: xr.Dataset) -> xr.DataArray:
    return weather["tmean"] if "tmean" in weather else (weather["tmax"] + weather["tmin"]) / 2.0


def _elevation(weather: xr.Dataset, assumed: list[str]) -> Any:
    if "elevation" in weather.coords:
        return weather["elevation"]
    assumed.append("sea level assumed")
    return 0.0


def _extraterrestrial(weather: xr.Dataset) -> xr.DataArray:
    return extraterrestrial_radiation(weather["lat"], weather["time"].dt.dayofyear)


def _solar(weather: xr.Dataset, assumed: list[str]) -> tuple[xr.DataArray, xr.DataArray]:
    """Return solar radiation, measured or estimated, and the extraterrestrial."""
    top = _extraterrestrial(weather)
    if "solar_radiation" in weather:
        return weather["solar_radiation"], top
    if "sunshine_hours" in weather:
        assumed.append("radiation from sunshine")
        return radiation_from_sunshine(
            top, weather["sunshine_hours"], daylight_hours(weather["lat"], weather["time"].dt.dayofyear)
        ), top
    assumed.append("radiation from the temperature range")
    return radiation_from_temperature(top, *_temperatures(weather)), top


def _net(weather: xr.Dataset, assumed: list[str]) -> tuple[xr.DataArray, xr.DataArray, Any]:
    tmax, tmin = _temperatures(weather)
    known = {
        name: weather[name] for name in ("dew_point", "humidity_max", "humidity_min", "humidity") if name in weather
    }
    if not known or set(known) == {"humidity_max"}:
        assumed.append("dew point taken as the lowest temperature")
    vapour = actual_vapour_pressure(tmax, tmin, **known)
    elevation = _elevation(weather, assumed)
    solar, top = _solar(weather, assumed)
    return net_radiation(solar, top, tmax, tmin, vapour, elevation), vapour, elevation


def _penman_monteith(weather: xr.Dataset) -> tuple[xr.DataArray, list[str]]:
    assumed: list[str] = []
    net, vapour, elevation = _net(weather, assumed)
    wind: Any = 2.0
    if "wind_speed" in weather:
        wind = wind_at_2m(weather["wind_speed"], float(weather["wind_speed"].attrs.get("height_m", 2.0)))
    else:
        assumed.append("wind 2 m/s assumed")
    return penman_monteith_fao56(*_temperatures(weather), net, wind, vapour, elevation), assumed


def _hargreaves_samani(weather: xr.Dataset) -> tuple[xr.DataArray, list[str]]:
    return hargreaves_samani_1985(*_temperatures(weather), _extraterrestrial(weather)), []


def _priestley_taylor(weather: xr.Dataset) -> tuple[xr.DataArray, list[str]]:
    assumed: list[str] = []
    net, _, elevation = _net(weather, assumed)
    return priestley_taylor_1972(_mean(weather), net, elevation), assumed


def _oudin(weather: xr.Dataset) -> tuple[xr.DataArray, list[str]]:
    return oudin_2005(_mean(weather), _extraterrestrial(weather)), []


def _thornthwaite(weather: xr.Dataset) -> tuple[xr.DataArray, list[str]]:
    """Spread each calendar month's value evenly over its days; the heat index is that of the mean year."""
    mean = _mean(weather)
    months = mean.groupby("time.month").mean("time")
    if months.sizes["month"] < 12:
        raise WeatherError(
            f"reference evapotranspiration by Thornthwaite needs all twelve months for its heat index; the record has {months.sizes['month']}"
        )
    length = xr.DataArray(
        [31, 28.25, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31], dims="month", coords={"month": months["month"]}
    )
    middle = xr.DataArray(
        [15, 46, 74, 105, 135, 166, 196, 227, 258, 288, 319, 349], dims="month", coords={"month": months["month"]}
    )
    daylight = daylight_hours(weather["lat"], middle)
    monthly = xr.apply_ufunc(
        thornthwaite_1948, months, daylight, length,
        input_core_dims=[["month"]] * 3, output_core_dims=[["month"]], dask="parallelized", output_dtypes=[float],
    )  # fmt: skip
    per_day = monthly / length
    return per_day.sel(month=mean["time"].dt.month).drop_vars("month"), ["mean year, spread evenly over each month"]


_EXTREMES = (("tmax",), ("tmin",), ("lat",))
METHODS: dict[str, _Method] = {
    "given": _Method("given", (("reference_et",),), lambda weather: (weather["reference_et"], [])),
    "penman-monteith": _Method("FAO-56 Penman-Monteith", _EXTREMES, _penman_monteith),
    "hargreaves-samani": _Method("Hargreaves-Samani", _EXTREMES, _hargreaves_samani),
    "priestley-taylor": _Method("Priestley-Taylor", _EXTREMES, _priestley_taylor),
    "oudin": _Method("Oudin", (("tmean", "tmax"), ("lat",)), _oudin),
    "thornthwaite": _Method("Thornthwaite", (("tmean", "tmax"), ("lat",)), _thornthwaite),
}
