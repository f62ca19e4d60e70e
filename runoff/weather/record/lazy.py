"""Checks of weather that stays on disk: they travel with the data and speak when a part of it is read."""

from __future__ import annotations

import functools
import warnings
from collections.abc import Callable
from typing import Any

import numpy as np
import xarray as xr

from runoff.errors import RunoffWarning, WeatherError
from runoff.weather.record.block_by_block import changed
from runoff.weather.record.extremes import least_and_largest

_LAYER = "checked-values"  # name of the layer in the graph: what carries it is not checked again


def chunk_by_chunk(series: xr.DataArray, function: Callable[[np.ndarray], np.ndarray]) -> xr.DataArray:
    """Apply a function that changes values one by one, neither their number nor their kind; on disk, when a chunk is read.

    Unlike with `xarray.apply_ufunc`, the graph stays a rule, however many chunks there are, and is joined with what comes next.
    """
    if series.chunks:
        from dask.base import tokenize

        values = changed(series, function, f"changed-{tokenize(series.data.name, function)}")
    else:
        values = function(series.to_numpy())
    return series.copy(data=values).drop_encoding()  # how the values were packed is no matter of those that come out


def refuse_when_read(series: xr.DataArray, low: float, high: float, words: str) -> xr.DataArray:
    """Return a series on disk that refuses impossible values when a part of it is read.

    Parameters
    ----------
    series
        dask-backed values, in the unit of the quantity.
    low, high
        What the quantity can be, in its unit.
    words
        What such values usually are, for the message.

    Returns
    -------
    xarray.DataArray
        The same values, dask-backed, in the unit of the quantity; one that already refuses comes back as it is.

    Raises
    ------
    WeatherError
        Not here: when values outside are read, naming the quantity and the first of them.
    """
    if str(series.data.name).startswith(_LAYER):
        return series
    check = functools.partial(
        _refuse_part, quantity=str(series.name), low=low, high=high, words=words, dims=series.dims, axes=_axes(series),
        chunks=series.data.chunks,
    )  # fmt: skip
    return series.copy(data=changed(series, check, f"{_LAYER}-{_token(series, low, high)}", told=True))


def _token(series: xr.DataArray, low: float, high: float) -> str:
    from dask.base import tokenize

    return str(tokenize(series.data.name, low, high))


def _axes(series: xr.DataArray) -> dict[str, Any]:
    """Return the coordinates along a series, for messages; of time the first stamp and the step alone, as it may be long."""
    axes: dict[str, Any] = {
        str(dim): series[dim].to_numpy() for dim in series.dims if dim in series.coords and dim != "time"
    }
    if "time" in series.coords and series.sizes.get("time", 0) > 1:
        first, second = series["time"].to_numpy()[:2]
        axes["time"] = first, second - first
    return axes


def _refuse_part(
    values: np.ndarray,
    *,
    quantity: str,
    low: float,
    high: float,
    words: str,
    dims: tuple[Any, ...],
    axes: dict[str, Any],
    chunks: tuple[tuple[int, ...], ...],
    block_id: tuple[int, ...] = (),
) -> np.ndarray:
    lowest, highest = least_and_largest(values)
    if not (lowest < low or highest > high):
        return values
    bad = (values < low) | (values > high)
    at = np.unravel_index(int(bad.argmax()), bad.shape)
    first = float(values[at])
    kind = "negative" if low == 0.0 and first < 0 else "impossible"
    begins = _begins(chunks, block_id)
    places = [_place(str(dim), axes, begin + int(k)) for dim, begin, k in zip(dims, begins, at, strict=True)]
    places.sort(key=lambda place: place.split(" ")[0] in map(str, dims))  # the date first
    count = int(bad.sum())
    raise WeatherError(
        f"weather: `{quantity}` is {kind} on {count} value{'s' if count > 1 else ''}, first {first:g} at {', '.join(places)}; {words}"
    )


def _begins(chunks: tuple[tuple[int, ...], ...], block_id: tuple[int, ...]) -> tuple[int, ...]:
    """Return where a chunk begins along each dimension (dask tells too, at the price of a table of all chunks)."""
    return tuple(sum(sizes[:number]) for sizes, number in zip(chunks, block_id, strict=True))


def _place(dim: str, axes: dict[str, Any], at: int) -> str:
    if dim == "time" and "time" in axes:
        first, step = axes["time"]
        text = str(first + at * step)
        return text[:10] if text[11:16] in ("00:00", "12:00", "") else text[:16]
    return f"{dim} {axes[dim][at]}" if dim in axes else f"{dim} {at}"


def look_when_read(series: xr.DataArray, look: Callable[[np.ndarray, tuple[int, ...]], None]) -> xr.DataArray:
    """Return a series on disk of which every part, with its whole record, is shown to `look` when it is read.

    Parameters
    ----------
    series
        dask-backed values on ``time`` and any dimensions of places.
    look
        Takes values in the unit of the series, ``time`` last, and where they begin along each dimension; it warns or raises.
    """
    from dask.base import tokenize

    whole = series.transpose(..., "time").chunk({"time": -1})
    shown = whole.data.map_blocks(
        functools.partial(_shown, look=look, chunks=whole.data.chunks),
        dtype=series.dtype,
        meta=whole.data._meta,
        name=f"looked-at-{tokenize(whole.data.name, look)}",
    )
    return whole.copy(data=shown).transpose(*series.dims)


def _shown(
    values: np.ndarray,
    *,
    look: Callable[[np.ndarray, tuple[int, ...]], None],
    chunks: tuple[tuple[int, ...], ...],
    block_id: tuple[int, ...] = (),
) -> np.ndarray:
    look(values, _begins(chunks, block_id))
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
            f"simulate: some cells of the grid have `{quantity}` on a part of the steps only; they are missing in every result. "
            "runoff.check_weather names them, runoff.fill_gaps fills them by a named method",
            RunoffWarning,
            stacklevel=2,
        )
    return values
