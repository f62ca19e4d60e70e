"""Formulas of reference evapotranspiration: plain numbers or numpy arrays in, the same out.

Each is a small calculation sheet: equation, units, where it holds, one worked number, and its source. FAO-56 is
Allen, Pereira, Raes and Smith (1998), FAO Irrigation and Drainage Paper 56, first edition; the numbers of the second
edition (2025) stand in brackets. Temperatures are degC, vapour pressures kPa, radiation MJ m-2 d-1, wind m/s.

Two constants differ between editions and libraries. Latent heat is held at 2.45 MJ/kg as FAO-56 does; libraries that
let it vary with temperature differ by 2 % at 0 degC and not at all near 22 degC. 0 degC is 273.16 K as in the edition
of 1998; with 273.15 the result moves by 0.0001 mm/d.
"""

from __future__ import annotations

from typing import Any

import numpy as np

LATENT_HEAT_MJ_PER_KG = 2.45
KELVIN_1998 = 273.16
STEFAN_BOLTZMANN = 4.903e-9  # MJ K-4 m-2 d-1
ALBEDO = 0.23  # of the reference crop
#: Where the sun does not rise nothing is known of the clouds: half way (own choice; evapotranspiration is then near 0).
CLEARNESS_WITHOUT_SUN = 0.5


def air_pressure(elevation_m: Any) -> Any:
    """Return air pressure, kPa: ``101.3 ((293 - 0.0065 z) / 293)^5.26``.

    FAO-56 Eq. 7 (3.1). At 1800 m 81.8 kPa (Example 2).
    """
    return 101.3 * ((293.0 - 0.0065 * np.asarray(elevation_m)) / 293.0) ** 5.26


def psychrometric_constant(pressure_kpa: Any) -> Any:
    """Return the psychrometric constant, kPa/degC: ``0.000665 P``.

    FAO-56 Eq. 8 (3.3). At 81.8 kPa 0.054 (Example 2).
    """
    return 0.000665 * np.asarray(pressure_kpa)


def saturation_vapour_pressure(temperature_c: Any) -> Any:
    """Return saturation vapour pressure, kPa: ``0.6108 exp(17.27 T / (T + 237.3))``.

    FAO-56 Eq. 11 (3.6). At 24.5 degC 3.075 (Example 3). Of the dew point it is the actual vapour pressure (Eq. 14).
    """
    t = np.asarray(temperature_c)
    return 0.6108 * np.exp(17.27 * t / (t + 237.3))


def saturation_slope(temperature_c: Any) -> Any:
    """Return the slope of the saturation curve, kPa/degC: ``4098 e0(T) / (T + 237.3)^2``.

    FAO-56 Eq. 13 (3.8). At 20 degC 0.145 (Table 2.4).
    """
    t = np.asarray(temperature_c)
    return 4098.0 * saturation_vapour_pressure(t) / (t + 237.3) ** 2


def mean_saturation_pressure(tmin_c: Any, tmax_c: Any) -> Any:
    """Return the day's mean saturation vapour pressure, kPa: the mean of that at the lowest and the highest temperature.

    FAO-56 Eq. 12 (3.7). For 15.0 and 24.5 degC 2.39 (Example 3).
    """
    return 0.5 * (saturation_vapour_pressure(tmin_c) + saturation_vapour_pressure(tmax_c))


def vapour_pressure_from_extremes(tmin_c: Any, tmax_c: Any, humidity_min: Any, humidity_max: Any) -> Any:
    """Return actual vapour pressure, kPa, from the lowest and the highest relative humidity (0-1).

    The highest humidity goes with the lowest temperature; FAO-56 Eq. 17 (3.12). For 18 and 25 degC, 0.54 and 0.82:
    1.70 (Example 5).

    Parameters
    ----------
    tmin_c, tmax_c
        Lowest and highest temperature of the day, degC.
    humidity_min, humidity_max
        Lowest and highest relative humidity of the day, 0-1.

    Returns
    -------
    float or numpy.ndarray
        kPa, in the shape of the arguments.
    """
    cool = saturation_vapour_pressure(tmin_c) * humidity_max
    warm = saturation_vapour_pressure(tmax_c) * humidity_min
    return 0.5 * (cool + warm)


def vapour_pressure_from_mean(tmin_c: Any, tmax_c: Any, humidity: Any) -> Any:
    """Return actual vapour pressure, kPa, from mean relative humidity (0-1) and mean saturation pressure.

    FAO-56 Eq. 19. For 18 and 25 degC and 0.68: 1.78 (Example 5, which also has 1.70 from the extremes).

    Parameters
    ----------
    tmin_c, tmax_c
        Lowest and highest temperature of the day, degC.
    humidity
        Mean relative humidity of the day, 0-1.

    Returns
    -------
    float or numpy.ndarray
        kPa, in the shape of the arguments.
    """
    return humidity * mean_saturation_pressure(tmin_c, tmax_c)


def solar_from_sunshine(
    extraterrestrial: Any, sunshine_h: Any, daylight_h: Any, clouded: float = 0.25, clear: float = 0.50
) -> Any:
    """Return solar radiation, MJ m-2 d-1, from hours of bright sunshine: ``(a + b n / N) Ra``.

    FAO-56 Eq. 35 (3.32). For 7.1 of 10.9 h and Ra 25.1: 14.5 (Example 10). ``n / N`` is held at 1 or less, and is 0
    where the sun does not rise.

    Parameters
    ----------
    extraterrestrial
        Radiation above the air, Ra, MJ m-2 d-1.
    sunshine_h, daylight_h
        Hours of bright sunshine, n, and from sunrise to sunset, N.
    clouded, clear
        Share of Ra that comes down under full cloud, a, and what a clear sky adds, b: numbers without unit.

    Returns
    -------
    float or numpy.ndarray
        MJ m-2 d-1, in the shape of the arguments.
    """
    light = np.asarray(daylight_h, dtype=float)
    share = np.clip(np.asarray(sunshine_h) / np.where(light > 0.0, light, np.inf), 0.0, 1.0)
    return (clouded + clear * share) * extraterrestrial


def solar_from_temperature(extraterrestrial: Any, tmin_c: Any, tmax_c: Any, adjustment: float = 0.16) -> Any:
    """Return solar radiation, MJ m-2 d-1, from the range of temperature: ``k sqrt(Tmax - Tmin) Ra``.

    FAO-56 Eq. 50; k 0.16 inland, 0.19 at the coast. For 14.8 and 26.6 degC and Ra 40.6: 22.3 (Example 15).

    Parameters
    ----------
    extraterrestrial
        Radiation above the air, Ra, MJ m-2 d-1.
    tmin_c, tmax_c
        Lowest and highest temperature of the day, degC; a lowest above the highest counts as no range.
    adjustment
        The coefficient k, degC to the power -0.5.

    Returns
    -------
    float or numpy.ndarray
        MJ m-2 d-1, in the shape of the arguments.
    """
    return adjustment * _root_of_range(tmin_c, tmax_c) * extraterrestrial


def clear_sky_radiation(extraterrestrial: Any, elevation_m: Any) -> Any:
    """Return solar radiation under a clear sky, MJ m-2 d-1: ``(0.75 + 2e-5 z) Ra``.

    FAO-56 Eq. 37 (3.34). For Ra 38.06 at 2 m 28.54 (Example 17).
    """
    return (0.75 + 2e-5 * np.asarray(elevation_m)) * extraterrestrial


def net_longwave(
    tmin_c: Any, tmax_c: Any, vapour_pressure: Any, solar: Any, clear_sky: Any, kelvin: float = KELVIN_1998
) -> Any:
    """Return the net long-wave radiation that leaves the ground, MJ m-2 d-1.

    FAO-56 Eq. 39 (3.42), with ``Rs / Rso`` held at 1 or less. For 19.1 and 25.1 degC, 2.1 kPa, 14.5 of 18.8: 3.5
    (Example 11). Where the sun does not rise the ratio is taken as 0.5.

    Parameters
    ----------
    tmin_c, tmax_c
        Lowest and highest temperature of the day, degC.
    vapour_pressure
        Actual vapour pressure, kPa.
    solar, clear_sky
        Solar radiation as it came, Rs, and under a clear sky, Rso, MJ m-2 d-1.
    kelvin
        0 degC in K.

    Returns
    -------
    numpy.ndarray
        MJ m-2 d-1, in the shape of the arguments.
    """
    black = STEFAN_BOLTZMANN * 0.5 * ((np.asarray(tmin_c) + kelvin) ** 4 + (np.asarray(tmax_c) + kelvin) ** 4)
    clear = np.asarray(clear_sky, dtype=float)
    ratio = np.minimum(np.asarray(solar) / np.where(clear > 0.0, clear, 1.0), 1.0)
    ratio = np.where(clear == 0.0, CLEARNESS_WITHOUT_SUN, ratio)
    return black * (0.34 - 0.14 * np.sqrt(vapour_pressure)) * (1.35 * ratio - 0.35)


def net_radiation(
    tmin_c: Any, tmax_c: Any, vapour_pressure: Any, solar: Any, clear_sky: Any, kelvin: float = KELVIN_1998
) -> Any:
    """Return net radiation at the reference crop, MJ m-2 d-1: ``0.77 Rs`` less net long-wave.

    FAO-56 Eq. 38 and 40. For Uccle on 6 July 13.28 (Example 18).

    Parameters
    ----------
    tmin_c, tmax_c, vapour_pressure, solar, clear_sky, kelvin
        As in `net_longwave`.

    Returns
    -------
    numpy.ndarray
        MJ m-2 d-1, in the shape of the arguments.
    """
    return (1.0 - ALBEDO) * np.asarray(solar) - net_longwave(tmin_c, tmax_c, vapour_pressure, solar, clear_sky, kelvin)


def wind_at_2m(wind_speed: Any, height_m: float) -> Any:
    """Return wind speed 2 m above grass, m/s: ``uz 4.87 / ln(67.8 z - 5.42)``.

    FAO-56 Eq. 47 (3.50); z above 0.1 m or so. From 3.2 m/s at 10 m 2.4 (Example 14).
    """
    return np.asarray(wind_speed) * 4.87 / np.log(67.8 * height_m - 5.42)


def penman_monteith_fao56(
    tmin_c: Any,
    tmax_c: Any,
    net_radiation: Any,
    vapour_pressure: Any,
    wind_2m: Any,
    psychrometric: Any,
    soil_heat_flux: Any = 0.0,
) -> Any:
    """Return reference evapotranspiration by Penman-Monteith, mm/d.

    ``(0.408 D (Rn - G) + g 900 / (T + 273) u2 (es - ea)) / (D + g (1 + 0.34 u2))`` with D the slope of the saturation
    curve at T, the mean of lowest and highest temperature; FAO-56 Eq. 6 (2.4). For Uccle on 6 July 3.9 (Example 18).
    It holds for the day and longer; it is not held above 0.

    Parameters
    ----------
    tmin_c, tmax_c
        Lowest and highest temperature of the day, degC.
    net_radiation, soil_heat_flux
        Rn and G, MJ m-2 d-1.
    vapour_pressure
        Actual vapour pressure, ea, kPa.
    wind_2m
        Mean wind at 2 m, u2, m/s.
    psychrometric
        Psychrometric constant, g, kPa/degC.

    Returns
    -------
    float or numpy.ndarray
        mm/d, in the shape of the arguments.
    """
    t = 0.5 * (np.asarray(tmin_c) + np.asarray(tmax_c))
    slope = saturation_slope(t)
    deficit = mean_saturation_pressure(tmin_c, tmax_c) - vapour_pressure
    heat = 0.408 * slope * (net_radiation - soil_heat_flux)
    drying = psychrometric * 900.0 / (t + 273.0) * wind_2m * deficit
    return (heat + drying) / (slope + psychrometric * (1.0 + 0.34 * wind_2m))


def priestley_taylor_1972(
    tmean_c: Any, net_radiation: Any, psychrometric: Any, soil_heat_flux: Any = 0.0, alpha: float = 1.26
) -> Any:
    """Return potential evapotranspiration by Priestley and Taylor, mm/d: ``alpha D (Rn - G) / (2.45 (D + g))``.

    Priestley and Taylor (1972), Monthly Weather Review 100(2) 81-92; alpha 1.26 for wet surfaces. For 11.5 degC,
    Rn 8.6401 and g 0.0632: 2.608 (McMahon et al. 2013, Hydrology and Earth System Sciences 17, supplement).

    Parameters
    ----------
    tmean_c
        Mean temperature of the day, degC.
    net_radiation, soil_heat_flux
        Rn and G, MJ m-2 d-1.
    psychrometric
        Psychrometric constant, g, kPa/degC.
    alpha
        A number without unit.

    Returns
    -------
    float or numpy.ndarray
        mm/d, in the shape of the arguments.
    """
    slope = saturation_slope(tmean_c)
    return alpha * slope * (net_radiation - soil_heat_flux) / (LATENT_HEAT_MJ_PER_KG * (slope + psychrometric))


def hargreaves_samani_1985(tmin_c: Any, tmax_c: Any, extraterrestrial: Any) -> Any:
    """Return reference evapotranspiration by Hargreaves and Samani, mm/d.

    ``0.0023 (T + 17.8) sqrt(Tmax - Tmin) (Ra / 2.45)``; Hargreaves and Samani (1985), Applied Engineering in
    Agriculture 1(2) 96-99, as FAO-56 Eq. 52. For Lyon in July 5.0 (Example 20). Calibrated on weeks; single windy or
    humid days stray. A lowest temperature above the highest counts as no range.

    Parameters
    ----------
    tmin_c, tmax_c
        Lowest and highest temperature of the day, degC.
    extraterrestrial
        Radiation above the air, Ra, MJ m-2 d-1.

    Returns
    -------
    float or numpy.ndarray
        mm/d, in the shape of the arguments.
    """
    t = 0.5 * (np.asarray(tmin_c) + np.asarray(tmax_c))
    # grids take the division first too: once for a day of the year and not for every day, and both give the same bits
    return 0.0023 * (t + 17.8) * _root_of_range(tmin_c, tmax_c) * (np.asarray(extraterrestrial) / LATENT_HEAT_MJ_PER_KG)


def oudin_2005(tmean_c: Any, extraterrestrial: Any) -> Any:
    """Return potential evapotranspiration by Oudin et al., mm/d: ``Ra (T + 5) / (100 x 2.45)``, 0 below -5 degC.

    Oudin et al. (2005), Journal of Hydrology 303, 290-306, Eq. 3 (cited from memory; the numbers are checked against
    a library). For 16.9 degC and Ra 41.09: 3.67.
    """
    return np.asarray(extraterrestrial) * np.maximum(np.asarray(tmean_c) + 5.0, 0.0) / (100.0 * LATENT_HEAT_MJ_PER_KG)


def thornthwaite_heat_index(monthly_means_c: Any, axis: int = -1) -> Any:
    """Return the yearly heat index of Thornthwaite: the sum over 12 months of ``(T / 5)^1.514``, cold months 0.

    Thornthwaite (1948), Geographical Review 38(1) 55-94, as quoted by later text books.
    """
    return np.sum((np.maximum(np.asarray(monthly_means_c), 0.0) / 5.0) ** 1.514, axis=axis)


def thornthwaite_1948(tmean_c: Any, heat_index: Any, daylight_h: Any, days: Any = 30.0) -> Any:
    """Return potential evapotranspiration of a month by Thornthwaite, mm per month of `days` days.

    ``16 (L / 12) (days / 30) (10 T / I)^a`` with a of the heat index I; Thornthwaite (1948). For 10.7 degC, I 25.256
    and 15.2 h in a month of 30 days 75.0. Above 26.5 degC the table of the paper is replaced by
    ``-415.85 + 32.24 T - 0.43 T^2`` (Willmott et al. 1985, from memory, unchecked: treat hot months with caution).

    Parameters
    ----------
    tmean_c
        Mean temperature of the month, degC; below 0 it counts as 0.
    heat_index
        The sum over the year's months, I, see `thornthwaite_heat_index`.
    daylight_h
        Mean hours from sunrise to sunset, L.
    days
        Number of days in the month.

    Returns
    -------
    numpy.ndarray
        mm in the month, in the shape of the arguments.
    """
    t = np.maximum(np.asarray(tmean_c), 0.0)
    index = np.asarray(heat_index)
    exponent = 6.75e-7 * index**3 - 7.71e-5 * index**2 + 1.792e-2 * index + 0.49239
    power = 16.0 * (10.0 * t / np.where(index == 0.0, np.inf, index)) ** exponent
    standard = np.where(t < 26.5, power, -415.85 + 32.24 * t - 0.43 * t**2)
    return standard * np.asarray(daylight_h) / 12.0 * np.asarray(days) / 30.0


def _root_of_range(tmin_c: Any, tmax_c: Any) -> Any:
    return np.sqrt(np.maximum(np.asarray(tmax_c) - np.asarray(tmin_c), 0.0))
