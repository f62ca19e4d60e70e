"""A changed climate: monthly factors on rain and degrees on temperature, or the change between two model periods."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import xarray as xr

from runoff.errors import WeatherError
from runoff.given_kinds import refuse_other_kinds
from runoff.weather.evaporation.evapotranspiration import with_reference_et

_TEMPERATURES = ("tmin", "tmax", "tmean", "dew_point")


def changed_climate(
    weather: xr.Dataset,
    *,
    rain_factor: float | Sequence[float] = 1.0,
    warming_c: float | Sequence[float] = 0.0,
    et_factor: float | Sequence[float] | None = None,
) -> xr.Dataset:
    """Return a record as it might be in a changed climate (delta-change method).

    Parameters
    ----------
    weather
        A record; its days and their order stay, so the number of wet days stays too.
    rain_factor
        Factor on rain: one number, or twelve, January to December.
    warming_c
        Degrees added to all temperatures, likewise.
    et_factor
        Factor on reference evapotranspiration. Default: it is formed again from the changed temperatures by the method
        it came from; a given series cannot be, so it needs a factor.

    Returns
    -------
    xarray.Dataset
        The record with the factors and degrees applied; its attributes say so.

    Raises
    ------
    WeatherError
        When a list does not hold twelve numbers, a factor is negative, or a given evapotranspiration has no factor.
    """
    refuse_other_kinds("changed_climate", weather=weather)
    factor, warming = _by_month("rain_factor", rain_factor), _by_month("warming_c", warming_c)
    if (factor < 0).any():
        raise WeatherError("changed_climate: rain_factor cannot be negative; 1.1 is ten percent more")
    month = weather["time"].dt.month

    def of_day(values: xr.DataArray) -> xr.DataArray:
        return values.sel(month=month).drop_vars("month")

    changed = weather.copy()
    changed["rain"] = (weather["rain"] * of_day(factor)).assign_attrs(weather["rain"].attrs)
    for name in _TEMPERATURES:
        if name in weather:
            changed[name] = (weather[name] + of_day(warming)).assign_attrs(weather[name].attrs)
    if "reference_et" in weather:
        changed = _changed_et(weather, changed, et_factor, of_day, bool((warming != 0).any()))
    words = f"rain x {_words(factor)}, temperature + {_words(warming)} C"
    changed.attrs["title"] = f"{weather.attrs.get('title', 'record')}, changed climate ({words})"
    changed.attrs["changed_climate"] = words
    return changed


def _changed_et(weather, changed, et_factor, of_day, warmer):
    given = weather["reference_et"]
    if et_factor is not None:
        factor = of_day(_by_month("et_factor", et_factor))
        return changed.assign(reference_et=(given * factor).assign_attrs(given.attrs))
    method = str(given.attrs.get("method", "given"))
    name = method.split(" (")[0].lower().replace("fao-56 ", "").replace(" ", "-")
    if not warmer:
        return changed
    if name == "given" or not {"tmin", "tmax"} <= set(weather.data_vars):
        raise WeatherError(
            "changed_climate: the evapotranspiration of this record was given, so it does not follow the temperature; "
            "say how it changes with et_factor=, for example 1.05"
        )
    return with_reference_et(changed.drop_vars("reference_et"), name)


def change_between(past: xr.Dataset, future: xr.Dataset) -> dict[str, list[float]]:
    """Return the monthly change between two model periods, ready for `changed_climate`.

    Parameters
    ----------
    past, future
        Records of the same model at the same place, for example read from a pair of CF files. Absolute values of a
        model are biased; its change is the usable part.

    Returns
    -------
    dict
        ``rain_factor`` and ``warming_c``, twelve numbers each.
    """
    refuse_other_kinds("change_between", past=past, future=future)
    months = [set(one["time"].dt.month.to_numpy().tolist()) for one in (past, future)]
    if any(len(one) < 12 for one in months):
        raise WeatherError("change_between: both periods must hold all twelve months")
    rain = [one["rain"].groupby("time.month").mean("time") for one in (past, future)]
    warmth = [((one["tmin"] + one["tmax"]) / 2.0).groupby("time.month").mean("time") for one in (past, future)]
    return {
        "rain_factor": [float(x) for x in (rain[1] / rain[0]).to_numpy()],
        "warming_c": [float(x) for x in (warmth[1] - warmth[0]).to_numpy()],
    }


def _by_month(name: str, values: float | Sequence[float]) -> xr.DataArray:
    array = np.atleast_1d(np.asarray(values, dtype=float))
    if array.size not in (1, 12) or not np.isfinite(array).all():
        raise WeatherError(f"changed_climate: {name} is one number or twelve, January to December (given {array.size})")
    return xr.DataArray(np.broadcast_to(array, 12).copy(), dims="month", coords={"month": np.arange(1, 13)})


def _words(values: xr.DataArray) -> str:
    numbers = values.to_numpy()
    if np.ptp(numbers) == 0:
        return f"{numbers[0]:.3g}"
    return f"{numbers.min():.3g} to {numbers.max():.3g} by month"
