"""Checks of weather that stays on disk: they travel with the data and speak when a part of it is read."""

from __future__ import annotations

import functools
import warnings

import numpy as np
import xarray as xr

from runoff.errors import RunoffWarning, WeatherError

_LAYER = "checked-values"  # name of the layer in the graph: what carries it is not checked again


def refuse_when_read(series: xr.DataArray, low: float, high: float, words: str) -> xr.DataArray:
    """Return a series on disk that refuses impossible values when a part of it is read.

    Parameters
    ----------
    series
        dask-backed values.
    low, high
        What the quantity can be.
    words
        What such values usually are, for the message.

    Raises
    ------
    WeatherError
        Not here: when values outside are read, naming the quantity and the first of them.
    """
    if str(series.data.name).startswith(_LAYER):
        return series
    check = functools.partial(_refuse_part, quantity=str(series.name), low=low, high=high, words=words)
    checked = series.data.map_blocks(check, dtype=series.dtype, meta=series.data._meta, token=_LAYER)
    return series.copy(data=checked)


def _refuse_part(values: np.ndarray, *, quantity: str, low: float, high: float, words: str) -> np.ndarray:
    bad = (values < low) | (values > high)
    if bad.any():
        first = float(values[bad].flat[0])
        kind = "negative" if low == 0.0 and first < 0 else "impossible"
        raise WeatherError(
            f"weather: `{quantity}` is {kind} on {int(bad.sum())} values of a part of the grid, first {first:g}; {words}"
        )
    return values


def tell_of_gaps(forcing: xr.Dataset) -> xr.Dataset:
    """Warn of cells that are known in part only: every result of theirs is missing. A mask, missing throughout, is none.

    Of weather on disk the warning comes when the part is read.
    """
    for name in map(str, forcing.data_vars):
        series = forcing[name]
        if "time" not in series.dims or series.ndim < 2:
            continue
        if not series.chunks:
            _warn_of_gaps(series.transpose(..., "time").to_numpy(), name)
            continue
        whole = series.chunk({"time": -1})
        told = xr.apply_ufunc(
            functools.partial(_warn_of_gaps, quantity=name), whole, input_core_dims=[["time"]], output_core_dims=[["time"]],
            dask="parallelized", output_dtypes=[series.dtype],
        )  # fmt: skip
        forcing = forcing.assign({name: told.transpose(*series.dims).assign_attrs(series.attrs)})
    return forcing


def _warn_of_gaps(values: np.ndarray, quantity: str) -> np.ndarray:
    missing = np.isnan(values)
    if bool((missing.any(axis=-1) & ~missing.all(axis=-1)).any()):
        warnings.warn(
            f"simulate: some cells of the grid know `{quantity}` on a part of the steps only; they are missing in every result. "
            "runoff.check_weather names them, runoff.fill_gaps fills them by a named method",
            RunoffWarning,
            stacklevel=2,
        )
    return values
