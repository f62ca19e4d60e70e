"""Reference evapotranspiration of a weather record: which method its data allow, and the labelled result.

The formulas are in `runoff.weather.evaporation.formulas`, the sun in `runoff.weather.evaporation.sun`. Works on any extra
dimensions, stays lazy on dask-backed data, and on any CF calendar. Records with steps shorter than a day are brought to
days, and each day's value is spread over its daylight again.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import xarray as xr

from runoff.errors import WeatherError, nearest
from runoff.given_kinds import refuse_other_kinds
from runoff.plain_arrays import with_variables
from runoff.quantities import QUANTITIES
from runoff.units import require_units
from runoff.weather.evaporation import formulas
from runoff.weather.evaporation.inputs import EvaporationInputs, apply, step_is_short

_KNOWN_SHARE = 0.9  # a quantity missing on more than a tenth of the days does not choose the method

_TITLES = {
    "given": "given",
    "penman-monteith": "FAO-56 Penman-Monteith",
    "hargreaves-samani": "Hargreaves-Samani",
    "priestley-taylor": "Priestley-Taylor",
    "oudin": "Oudin",
    "thornthwaite": "Thornthwaite",
}
METHODS = tuple(_TITLES)


def with_reference_et(weather: xr.Dataset, method: str | None = None) -> xr.Dataset:
    """Return the weather with ``reference_et`` on it; see `reference_et`."""
    formed = reference_et(weather, method)
    return with_variables(weather, {"reference_et": formed.variable})


def reference_et(weather: xr.Dataset, method: str | None = None, *, coastal: bool = False) -> xr.DataArray:
    """Return reference evapotranspiration, mm per step of the weather.

    Parameters
    ----------
    weather
        Dataset on ``time`` with what the method needs, each variable with its units: ``tmin`` and ``tmax``, or
        ``tmean``; for radiation methods ``solar_radiation`` or ``sunshine_hours``, ``vapour_pressure``, ``dew_point``,
        ``humidity_min`` and ``humidity_max``, or ``humidity``, and ``wind_speed`` (``attrs["height_m"]``, default 10,
        the height of stations); the coordinates ``lat`` and, for radiation methods, ``elevation``.
    method
        ``"given"``, ``"penman-monteith"``, ``"hargreaves-samani"``, ``"priestley-taylor"``, ``"oudin"`` or
        ``"thornthwaite"``. Without it the data decide: a given series; else Penman-Monteith when radiation, humidity
        and wind are known; else Hargreaves-Samani from ``tmin`` and ``tmax``; else Oudin from ``tmean``.
    coastal
        When radiation is taken from the range of temperature: the factor of coasts, 0.19, in place of 0.16.

    Returns
    -------
    xarray.DataArray
        mm per step, never negative, missing where the temperature is missing. ``attrs``: ``units``, ``long_name``,
        ``method``, with every rule for missing data that stood in for a quantity, and ``reason``, why this method.

    Raises
    ------
    WeatherError
        When the method is not known, or what it needs is missing; the message names it.

    Notes
    -----
    Rules for missing data in Penman-Monteith and Priestley-Taylor (FAO-56, 1998, chapter 3), used for every day on
    which the quantity is missing, and named in ``method``: the dew point is the lowest temperature; solar
    radiation follows the root of the range of temperature; wind is 2 m/s. Without ``elevation`` the site is taken at
    sea level. Wind is held at 0.5 m/s or more, and the ratio of solar to clear-sky radiation at 1 or less.

    Thornthwaite takes each month's mean temperature and mean daylight, and one heat index from the mean year of the
    whole record; the month's value is spread evenly over its days.
    """
    refuse_other_kinds("reference_et", weather=weather)
    chosen = _choose(weather) if method is None else _known_method(method)
    if chosen == "given":
        return _given(weather)
    inputs = EvaporationInputs(weather, _TITLES[chosen], coastal)
    daily = _CALCULATIONS[chosen](inputs)
    daily = xr.where(daily > 0.0, daily, daily * 0.0)  # not below 0, and missing stays missing
    daily.attrs = {"units": "mm", "long_name": QUANTITIES["reference_et"].long_name, "cell_methods": "time: sum"}
    stand_ins = f" ({'; '.join(inputs.assumptions)})" if inputs.assumptions else ""
    daily.attrs["method"] = _TITLES[chosen] + stand_ins
    daily.attrs["reason"] = why_method(weather) if method is None else "the method was asked for"
    daily = inputs.at_steps(daily)
    return _in_order_of(weather, daily).rename("reference_et")


def _known_method(method: str) -> str:
    word = str(method).strip().lower().replace("_", "-").replace(" ", "-")
    if word not in _TITLES:
        raise WeatherError(
            f'reference evapotranspiration by "{method}" is not known{nearest(word, METHODS)}; '
            f"known methods: {', '.join(METHODS)}"
        )
    return word


def _choose(weather: xr.Dataset) -> str:
    """Return the method that the data allow."""
    if "reference_et" in weather:
        return "given"
    extremes = "tmin" in weather and "tmax" in weather
    if extremes and _radiation_is_known(weather) and _humidity_is_known(weather) and _is_known(weather, "wind_speed"):
        return "penman-monteith"
    if extremes or ("tmean" in weather and step_is_short(weather["time"])):
        return "hargreaves-samani"
    if "tmean" in weather:
        return "oudin"
    given = ", ".join(map(str, weather.data_vars)) or "nothing"
    raise WeatherError(
        f"reference evapotranspiration needs `tmin` and `tmax`, or `tmean`, or a ready `reference_et` (given: {given}); "
        "add temperature columns, or a column of reference evapotranspiration in mm"
    )


def why_method(weather: xr.Dataset) -> str:
    """Return in words why the data lead to the method they lead to: what the better one lacks, and how much of it is known.

    Parameters
    ----------
    weather
        As for `reference_et`, without a given series.
    """
    chosen = _choose(weather)
    if chosen == "given":
        return "a series is given"
    needs = {
        "solar radiation or sunshine": ("solar_radiation", "sunshine_hours"),
        "humidity": ("vapour_pressure", "dew_point", "humidity", "humidity_min"),
        "wind": ("wind_speed",),
    }
    known = {
        "solar radiation or sunshine": _radiation_is_known(weather),
        "humidity": _humidity_is_known(weather),
        "wind": _is_known(weather, "wind_speed"),
    }
    if chosen == "penman-monteith":
        return "radiation, humidity and wind are known"
    lacking = [f"{words} ({_known_words(weather, names)})" for words, names in needs.items() if not known[words]]
    if chosen == "oudin":
        return "the mean temperature alone is known; lowest and highest would give Hargreaves-Samani"
    return f"for Penman-Monteith it lacks {', '.join(lacking)}"


def _known_words(weather: xr.Dataset, names: tuple[str, ...]) -> str:
    shares = [
        float(weather[name].notnull().mean()) for name in names if name in weather and weather[name].chunks is None
    ]
    return f"known on {100 * max(shares):.0f} % of the steps" if shares else "not given"


def _is_known(weather: xr.Dataset, name: str) -> bool:
    """Tell whether a quantity is there on nearly every day (lazy data are taken at their word)."""
    if name not in weather:
        return False
    return weather[name].chunks is not None or float(weather[name].notnull().mean()) >= _KNOWN_SHARE


def _radiation_is_known(weather: xr.Dataset) -> bool:
    return _is_known(weather, "solar_radiation") or _is_known(weather, "sunshine_hours")


def _humidity_is_known(weather: xr.Dataset) -> bool:
    extremes = _is_known(weather, "humidity_min") and _is_known(weather, "humidity_max")
    return extremes or any(_is_known(weather, name) for name in ("vapour_pressure", "dew_point", "humidity"))


def _given(weather: xr.Dataset) -> xr.DataArray:
    if "reference_et" not in weather:
        raise WeatherError(
            'method "given" needs a variable `reference_et` (mm per step); add it, or leave the method out and it follows the data'
        )
    series = require_units(weather["reference_et"], "mm", "reference_et")
    return series.assign_attrs(
        {"long_name": QUANTITIES["reference_et"].long_name, "method": "given", **series.attrs, "units": "mm"}
    )


def _penman_monteith(inputs: EvaporationInputs) -> xr.DataArray:
    lowest, highest = inputs.extremes()
    pressure, elevation = inputs.vapour_pressure(), inputs.elevation()
    constant = apply(lambda z: formulas.psychrometric_constant(formulas.air_pressure(z)), elevation)
    net = inputs.net_radiation(pressure, elevation)
    return apply(formulas.penman_monteith_fao56, lowest, highest, net, pressure, inputs.wind(), constant)


def _priestley_taylor(inputs: EvaporationInputs) -> xr.DataArray:
    lowest, highest = inputs.extremes()
    elevation = inputs.elevation()
    constant = apply(lambda z: formulas.psychrometric_constant(formulas.air_pressure(z)), elevation)
    net = inputs.net_radiation(inputs.vapour_pressure(), elevation)
    return apply(formulas.priestley_taylor_1972, (lowest + highest) / 2.0, net, constant)


def _hargreaves_samani(inputs: EvaporationInputs) -> xr.DataArray:
    above = inputs.extraterrestrial()
    return apply(formulas.hargreaves_samani_1985, *inputs.extremes(), above)


def _oudin(inputs: EvaporationInputs) -> xr.DataArray:
    above = inputs.extraterrestrial()
    return apply(formulas.oudin_2005, inputs.mean_temperature(), above)


def _thornthwaite(inputs: EvaporationInputs) -> xr.DataArray:
    daily, months = inputs.mean_temperature(), inputs.month_numbers()
    absent = [month for month in range(1, 13) if month - 1 not in months % 12]
    if absent:
        raise WeatherError(
            "reference evapotranspiration by Thornthwaite needs every month of the year for its heat index; the record has "
            f'no day in month {", ".join(map(str, absent))}. Give a longer record, or choose "oudin"'
        )
    return xr.apply_ufunc(
        _thornthwaite_days, daily, inputs.daylight(), input_core_dims=[["time"], ["time"]], output_core_dims=[["time"]],
        kwargs={"months": months}, dask="parallelized", dask_gufunc_kwargs={"allow_rechunk": True}, output_dtypes=[float],
    )  # fmt: skip


def _thornthwaite_days(tmean: np.ndarray, daylight: np.ndarray, months: np.ndarray) -> np.ndarray:
    """Return Thornthwaite's value of each month on each of its days, mm per day; ``time`` is the last axis."""
    starts = np.flatnonzero(np.diff(months, prepend=months[0] - 1))
    days = np.diff(np.append(starts, months.size))
    known = np.isfinite(tmean)
    with np.errstate(invalid="ignore"):  # a month without a known day is 0/0: missing
        means = np.add.reduceat(np.where(known, tmean, 0.0), starts, axis=-1) / np.add.reduceat(
            known.astype(float), starts, axis=-1
        )
        calendar_month = months[starts] % 12
        of_year = np.stack([_mean_of_known(means[..., calendar_month == month]) for month in range(12)], axis=-1)
    index = formulas.thornthwaite_heat_index(of_year)[..., np.newaxis]
    light = (
        np.add.reduceat(np.broadcast_to(daylight, np.broadcast_shapes(daylight.shape, tmean.shape)), starts, axis=-1)
        / days
    )
    per_day = formulas.thornthwaite_1948(means, index, light, 1.0)
    return np.where(known, np.repeat(per_day, days, axis=-1), np.nan)


def _mean_of_known(values: np.ndarray) -> np.ndarray:
    """Return the mean over the last axis without the missing values, missing where all are."""
    known = np.isfinite(values)
    return np.where(known, values, 0.0).sum(axis=-1) / known.sum(axis=-1)


_CALCULATIONS: dict[str, Callable[[EvaporationInputs], xr.DataArray]] = {
    "penman-monteith": _penman_monteith,
    "hargreaves-samani": _hargreaves_samani,
    "priestley-taylor": _priestley_taylor,
    "oudin": _oudin,
    "thornthwaite": _thornthwaite,
}


def _in_order_of(weather: xr.Dataset, result: xr.DataArray) -> xr.DataArray:
    """Return the result with its dimensions in the order of the record."""
    for name in ("rain", "tmean", "tmin"):
        if name in weather and set(result.dims) <= set(weather[name].dims):
            return result.transpose(*(dim for dim in weather[name].dims if dim in result.dims))
    return result
