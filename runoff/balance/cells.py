"""The loops over every combination of leading dimensions: arrays of many places or designs in, arrays out.

Weather has the shape ``(..., time)``, stores ``(...,)``; leading dimensions are broadcast against each other. A missing
value in the weather marks its whole cell missing, in every output.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np

from runoff.balance import column, minute_steps, minutes, surfaces
from runoff.balance.loop_choice import as_read, compiled, compiled_repays
from runoff.balance.minutes import MinuteColumns


def depression(liquid: np.ndarray, e0: np.ndarray, capacity: np.ndarray, water: np.ndarray) -> Any:
    """Run `surfaces.depression_store` for every cell.

    Parameters
    ----------
    liquid, e0
        Rain plus melt, and what can evaporate, mm per step, shape ``(..., time)``.
    capacity, water
        Depression storage, and water before the first step, mm, shape ``(...,)``.

    Returns
    -------
    tuple of numpy.ndarray
        Spilled and evaporated, mm per step, and stored, mm, shape ``(..., time)``.
    """
    lead = np.broadcast_shapes(liquid.shape[:-1], e0.shape[:-1], np.shape(capacity), np.shape(water))
    steps = liquid.shape[-1]
    liquid, e0 = (as_read(np.broadcast_to(each, (*lead, steps))) for each in (liquid, e0))
    return surfaces.depression_store(
        liquid, e0, capacity=np.broadcast_to(capacity, lead), water=np.broadcast_to(water, lead)
    )


def run_trace(
    liquid: np.ndarray, e0: np.ndarray, run_on: np.ndarray | None, par: np.ndarray, stores: np.ndarray, out: np.ndarray
) -> np.ndarray:
    """Run `column.trace_loop`, compiled where that repays.

    Parameters
    ----------
    liquid, e0, run_on, par, out
        As in `column.trace_loop`; without run-on, None.
    stores
        Stores before the first day, mm, shape ``(len(column.STORES),)``; left as they are.

    Returns
    -------
    numpy.ndarray
        Stores after the last day, mm, shape ``(len(column.STORES),)``.
    """
    if compiled_repays(liquid.size):
        last = np.array(stores, dtype=float)
        weather = liquid, e0, np.zeros_like(liquid) if run_on is None else run_on
        compiled(column.trace_loop)(*map(as_read, weather), as_read(par, float), last, out)
        return last
    carried = stores.tolist()
    led: Any = [0.0] * liquid.size if run_on is None else run_on.tolist()  # lists are what plain Python is quick with
    column.trace_loop(liquid.tolist(), e0.tolist(), led, par.tolist(), carried, out)
    return np.array(carried)


def run_watered(
    liquid: np.ndarray,
    e0: np.ndarray,
    run_on: np.ndarray | None,
    watering: tuple[np.ndarray, float, float],
    par: np.ndarray,
    stores: np.ndarray,
    out: np.ndarray,
) -> np.ndarray:
    """Run `column.irrigated_loop`, compiled where that repays.

    Parameters
    ----------
    liquid, e0, run_on, par, stores
        As in `run_trace`.
    watering
        Whether watering is allowed on each day, shape ``(time,)``; the water held below which a day is watered, and the
        water given, mm.
    out
        Receives the results, shape ``(len(column.TRACE) + 1, time)``: those of `column.TRACE`, then the water given, mm.

    Returns
    -------
    numpy.ndarray
        Stores after the last day, mm, shape ``(len(column.STORES),)``.
    """
    allowed, below, dose = watering
    led = np.zeros_like(liquid) if run_on is None else run_on
    if compiled_repays(liquid.size):
        last = np.array(stores, dtype=float)
        series = map(as_read, (liquid, e0, led, allowed))
        compiled(column.irrigated_loop)(
            *series, float(below), float(dose), as_read(par, float), last, out[:-1], out[-1]
        )
        return last
    carried = stores.tolist()
    weather = (liquid.tolist(), e0.tolist(), led.tolist(), allowed.tolist())
    column.irrigated_loop(*weather, float(below), float(dose), par.tolist(), carried, out[:-1], out[-1])
    return np.array(carried)


def trace_days(
    liquid: np.ndarray, e0: np.ndarray, run_on: np.ndarray, parameters: np.ndarray, *stores: np.ndarray
) -> np.ndarray:
    """Run the daily column for every cell.

    Parameters
    ----------
    liquid, e0, run_on
        Rain plus melt; reference evapotranspiration (0 under snow and in frost); run-on led to the outlets: mm per step,
        shape ``(..., time)``.
    parameters
        Shape ``(..., parameter)``, order of `column.PARAMETERS`.
    *stores
        Stores before the first step, mm, one array per entry of `column.STORES`, shape ``(...,)``.

    Returns
    -------
    numpy.ndarray
        Shape ``(..., variable, time)``, order of `column.TRACE`.
    """
    lead, (liquid, e0, run_on, parameters, before) = _broadcast(liquid, e0, run_on, parameters, _side_by_side(stores))
    out = np.empty((*lead, len(column.TRACE), liquid.shape[-1]))
    for cell in _cells(lead):
        run_trace(liquid[cell], e0[cell], run_on[cell], parameters[cell], before[cell], out[cell])
    out[np.isnan((liquid + e0 + run_on).sum(axis=-1))] = np.nan
    return out


def trace_watered_days(
    share: float,
    dose_mm: float,
    allowed: np.ndarray,
    liquid: np.ndarray,
    e0: np.ndarray,
    run_on: np.ndarray,
    parameters: np.ndarray,
    *stores: np.ndarray,
) -> np.ndarray:
    """Run the daily column with watering; see `trace_days`. The water given is the last variable, mm.

    Parameters
    ----------
    share
        Share of the medium's plant-available water below which a day begins with watering.
    dose_mm
        Water given on such a day, mm.
    allowed
        Whether watering is allowed on each day, shape ``(time,)``.
    liquid, e0, run_on, parameters, *stores
        As in `trace_days`.

    Returns
    -------
    numpy.ndarray
        Shape ``(..., variable, time)``, order of `column.TRACE`, then the water given, mm.
    """
    lead, (liquid, e0, run_on, parameters, before) = _broadcast(liquid, e0, run_on, parameters, _side_by_side(stores))
    out = np.empty((*lead, len(column.TRACE) + 1, liquid.shape[-1]))
    wilting, field = (column.PARAMETERS.index(name) for name in ("wilting_water", "field_water"))
    for cell in _cells(lead):
        par = parameters[cell]
        watering = allowed, float(par[wilting] + share * (par[field] - par[wilting])), dose_mm
        run_watered(liquid[cell], e0[cell], run_on[cell], watering, par, before[cell], out[cell])
    out[np.isnan((liquid + e0 + run_on).sum(axis=-1))] = np.nan
    return out


def trace_minutes(
    made: MinuteColumns,
    liquid: np.ndarray,
    e0: np.ndarray,
    run_on: np.ndarray,
    design: np.ndarray,
    *stores: np.ndarray,
    keep: tuple[str, ...] = minute_steps.TRACE,
    last_alone: bool = False,
    gapless: bool = False,
) -> np.ndarray:
    """Run columns in steps of minutes for every cell, planted, under gravel or bare.

    Parameters
    ----------
    made
        The columns, from `minutes.planted_columns` or `minutes.bare_columns`.
    liquid, e0, run_on
        As in `trace_days`.
    design
        Index of the column that a cell has, shape ``(...,)``.
    *stores
        Stores before the first step, mm, one array per entry of `minute_steps.STORES`, shape ``(...,)``.
    keep
        Names of `minute_steps.TRACE`.
    last_alone
        Whether the last step alone is kept; `keep` then names stores.
    gapless
        As in `minutes.run_trace`.

    Returns
    -------
    numpy.ndarray
        Shape ``(..., variable, time)``, order of `keep`; of one step where the last alone is kept.
    """
    lead, (liquid, e0, run_on, before) = _broadcast(liquid, e0, run_on, _side_by_side(stores), more=np.shape(design))
    designs = np.broadcast_to(design, lead) if lead else np.asarray(design)
    out = np.empty((*lead, len(keep), 1) if last_alone else (*lead, minutes.rows_of(keep), liquid.shape[-1]))
    for cell in _cells(lead):
        given = liquid[cell], e0[cell], made, before[cell]
        how: dict[str, Any] = {"run_on": run_on[cell], "design": int(designs[cell]), "gapless": gapless}
        if last_alone:
            _, stored = minutes.run_trace(*given, keep=(), **how)
            out[cell][:, 0] = stored[[minute_steps.STORES.index(name) for name in keep]]
        else:
            minutes.run_trace(*given, keep=keep, out=out[cell], **how)
    return out[..., : len(keep), :]


def _cells(lead: tuple[int, ...]) -> Iterable[tuple[int, ...]]:
    """Return the place of every cell; without leading dimensions there is one."""
    return np.ndindex(lead) if lead else [()]


def _side_by_side(stores: Sequence[np.ndarray]) -> np.ndarray:
    """Return the stores along a last dimension, shape ``(..., store)``."""
    if all(np.ndim(each) == 0 for each in stores):
        return np.array(stores)
    return np.stack(np.broadcast_arrays(*stores), axis=-1)


def _broadcast(*arrays: np.ndarray, more: tuple[int, ...] = ()) -> tuple[tuple[int, ...], list[np.ndarray]]:
    """Bring arrays to common leading dimensions, as loops read them."""
    shapes = {array.shape[:-1] for array in arrays} | {more}
    lead = np.broadcast_shapes(*shapes) if len(shapes) > 1 else more
    alike = arrays if not lead else [np.broadcast_to(array, (*lead, array.shape[-1])) for array in arrays]
    return lead, [as_read(array, float) for array in alike]
