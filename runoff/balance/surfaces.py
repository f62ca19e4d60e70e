"""Snow, frost, and roofs that only hold a film of water: what stands beside the planted column.

All depend on the weather and at most one capacity, so every design under the same weather shares them. Nothing evaporates
under snow or in frost, from planted, bare and gravel surfaces alike.
"""

from __future__ import annotations

import numpy as np

from runoff.balance.loop_choice import pick


def snow_loop(
    rain: np.ndarray, temperature: np.ndarray, threshold: float, melt_factor: float, snow: float, liquid: np.ndarray,
    store: np.ndarray,
) -> float:  # fmt: skip
    """Split the precipitation of one place into liquid water and snow.

    Cold steps (temperature at or below `threshold`) keep their rain as snow. On the others
    ``melt = min(snow, melt_factor x temperature)``, never negative, is added to the rain (degree-day method).

    Parameters
    ----------
    rain, temperature
        mm per step, and degC of the day, shape ``(time,)``.
    threshold, melt_factor
        degC, and mm/C per step.
    snow
        Snow before the first step, mm as water.
    liquid, store
        Receive rain plus melt, mm per step, and snow at the end of each step, mm.

    Returns
    -------
    float
        Snow after the last step, mm.
    """
    for t in range(len(rain)):
        if temperature[t] <= threshold:
            snow = snow + rain[t]
            liquid[t] = 0.0
        else:
            melt = min(snow, max(0.0, melt_factor * temperature[t]))
            snow = snow - melt
            liquid[t] = rain[t] + melt
        store[t] = snow
    return snow


def depression_loop(
    liquid: np.ndarray, e0: np.ndarray, capacity: float, water: float, spilled: np.ndarray, evaporated: np.ndarray,
    store: np.ndarray,
) -> float:  # fmt: skip
    """Run one depression store, which fills, spills and evaporates at the reference rate.

    Parameters
    ----------
    liquid, e0
        Rain plus melt, and what can evaporate, mm per step, shape ``(time,)``.
    capacity, water
        What the store holds, and its water before the first step, mm.
    spilled, evaporated, store
        Receive mm per step, and mm at the end of each step.

    Returns
    -------
    float
        Water after the last step, mm.
    """
    for t in range(len(liquid)):
        water = water + liquid[t]
        over = max(0.0, water - capacity)
        water = water - over
        lost = min(water, max(0.0, e0[t]))
        water = water - lost
        spilled[t] = over
        evaporated[t] = lost
        store[t] = water
    return water


def snow_and_melt(
    rain: np.ndarray, temperature: np.ndarray, *, threshold: float, melt_per_step: float, snow: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Split precipitation into liquid water and snow.

    Parameters
    ----------
    rain
        Precipitation, mm per step, shape ``(..., time)``.
    temperature
        Mean air temperature of the day, degC, shape of `rain`.
    threshold
        At or below this temperature (degC) precipitation stays as snow.
    melt_per_step
        Degree-day factor times the step, mm/C per step.
    snow
        Snow before the first step, mm as water, shape ``(...,)``.

    Returns
    -------
    liquid, store
        Rain plus melt (mm per step) and snow at the end of each step (mm), both of the shape of `rain`. A cell
        with a missing value is missing throughout.
    """
    liquid, store = np.empty_like(rain), np.empty_like(rain)
    loop = pick(snow_loop, rain.size)
    for cell in np.ndindex(rain.shape[:-1]):
        loop(rain[cell], temperature[cell], threshold, melt_per_step, float(snow[cell]), liquid[cell], store[cell])
    missing = np.isnan(rain.sum(axis=-1) + temperature.sum(axis=-1))
    liquid[missing], store[missing] = np.nan, np.nan
    return liquid, store


def evaporation_demand(e0: np.ndarray, snow: np.ndarray, temperature: np.ndarray | None = None) -> np.ndarray:
    """Return the reference evapotranspiration that surfaces and plants can follow: nothing under snow or in frost.

    Parameters
    ----------
    e0
        Reference evapotranspiration, mm per step, shape ``(..., time)``; what is below 0 counts as 0.
    snow
        Snow at the end of each step, mm, from `snow_and_melt`.
    temperature
        Mean air temperature of the day, degC; at or below 0 a medium counts as frozen. None where it is not known.

    Returns
    -------
    numpy.ndarray
        mm per step; a missing value stays missing.
    """
    held_back = snow > 0.0
    if temperature is not None:
        held_back = held_back | (temperature <= 0.0)
    demand = np.empty(np.broadcast_shapes(e0.shape, held_back.shape))
    np.maximum(e0, 0.0, out=demand)
    if held_back.any():
        np.copyto(demand, 0.0, where=held_back & (demand >= 0.0))  # a missing one is not
    return demand


def depression_store(
    liquid: np.ndarray, e0: np.ndarray, *, capacity: np.ndarray, water: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Run a bare or gravel surface: one store that fills, spills and evaporates at the reference rate.

    Parameters
    ----------
    liquid, e0
        Rain plus melt, and what can evaporate (`evaporation_demand`), mm per step, shape ``(..., time)``.
    capacity
        Depression storage, mm, shape ``(...,)``: in steps of minutes the true one. A store that fills once a day in a daily
        run fills several times in minutes, so that a daily run takes a daily storage in its place, which is more.
    water
        Water before the first step, mm, shape ``(...,)``.

    Returns
    -------
    spilled, evaporated, store
        mm per step and mm, of the shape of `liquid`; a cell with a missing value is missing throughout.
    """
    spilled, evaporated, store = np.empty_like(liquid), np.empty_like(liquid), np.empty_like(liquid)
    loop = pick(depression_loop, liquid.size)
    for cell in np.ndindex(liquid.shape[:-1]):
        loop(
            liquid[cell],
            e0[cell],
            float(capacity[cell]),
            float(water[cell]),
            spilled[cell],
            evaporated[cell],
            store[cell],
        )
    missing = np.isnan(liquid.sum(axis=-1) + e0.sum(axis=-1))
    for array in (spilled, evaporated, store):
        array[missing] = np.nan
    return spilled, evaporated, store
