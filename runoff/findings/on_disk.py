"""Figures of weather on disk, formed in one pass: sums go along with the balance, and no series is kept."""

from __future__ import annotations

import functools
from typing import Any

import numpy as np
import xarray as xr

from runoff.findings.events import HELD_SHARE, WET_DAY_MM
from runoff.findings.yearly import years_of_record
from runoff.simulation.grid_runs import EventRule, GridRun, GridWeather, months_in, totals_of
from runoff.simulation.on_disk import Origin
from runoff.time_steps import Calendar
from runoff.weather.record.forcing import steps_in_first_years

EVENT = EventRule(WET_DAY_MM, HELD_SHARE)


def totals_on_disk(origin: Origin) -> xr.Dataset:
    """Return the totals of a run as of one long year, still on disk: worked out when they are asked for.

    Parameters
    ----------
    origin
        What the run was made of.

    Returns
    -------
    xarray.Dataset
        As `runoff.simulation.grid_runs.totals_of`, on the dimensions of the weather beside time.
    """
    forcing, time = origin.forcing, origin.forcing["time"]
    series = [forcing.variables[name] for name in ("rain", "reference_et", "tmean") if name in forcing]
    widths = {name: (1 if one.ndim == 2 else 12) for name, one in _sums_of(origin, 1).items()}
    designs = origin.columns.count
    steps = steps_in_first_years(time, origin.warm_up_years) if origin.warm_up_years else 0
    run = functools.partial(
        _run_part,
        origin=origin._replace(forcing=xr.Dataset(), arrays={}),
        month=Calendar.of(time).month - 1,
        steps=steps,
    )
    packed = xr.apply_ufunc(
        run, *series, input_core_dims=[["time"]] * len(series), output_core_dims=[["total"]], dask="parallelized", output_dtypes=[float],
        dask_gufunc_kwargs={"output_sizes": {"total": designs * sum(widths.values())}},
    )  # fmt: skip
    sums, first = {}, 0
    for name, width in widths.items():
        each = []
        for _ in range(designs):
            one = packed[..., first : first + width]
            each.append(one.isel(total=0) if width == 1 else xr.Variable((*one.dims[:-1], "month"), one.data))
            first += width
        along: Any = xr.Variable.concat(each, "design") if designs > 1 else each[0].expand_dims("design")
        sums[name] = along.transpose(..., "design")  # as in a run in memory
    return totals_of(sums, origin.columns, "", float(years_of_record(time)), {}, months_in(time))


def _sums_of(origin: Origin, cells: int) -> dict[str, np.ndarray]:
    run = GridRun(origin.columns, origin.rules, _start(origin), cells, EVENT)
    run.begin_record(0)
    return run.sums()


def _start(origin: Origin) -> str | float:
    return "field-capacity" if origin.moisture is None else origin.moisture


def _run_part(*series: np.ndarray, origin: Origin, month: np.ndarray, steps: int) -> np.ndarray:
    """Run a part of the cells through the record, ``(..., time)``, and return its sums, packed, ``(..., total)``."""
    shape = np.broadcast_shapes(*(one.shape for one in series))
    flat = [np.broadcast_to(one, shape).reshape(-1, shape[-1]).T for one in series]
    run = GridRun(origin.columns, origin.rules, _start(origin), flat[0].shape[1], EVENT)
    for some in (slice(0, steps), slice(None)) if steps else (slice(None),):
        run.begin_record(int(month[0]))
        rain, reference_et, *tmean = (one[some] for one in flat)
        run.advance(GridWeather(rain, reference_et, None, tmean[0] if tmean else None, month[some]))
    sums = [one.reshape(*one.shape[:2], -1) for one in run.sums().values()]  # (design, cell, width)
    packed = np.concatenate([one[design] for one in sums for design in range(len(one))], axis=-1)
    return packed.reshape(*shape[:-1], -1)
