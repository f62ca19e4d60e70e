"""The weather of a grid on its way into a run: opened lazily, its quantities chosen, its chunks looked at."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import xarray as xr

from runoff.errors import RunoffError, WeatherError
from runoff.time_steps import time_step
from runoff.weather.evaporation.evapotranspiration import with_reference_et
from runoff.weather.evaporation.formulas import LATENT_HEAT_MJ_PER_KG
from runoff.weather.evaporation.sun import day_of_year, extraterrestrial_radiation
from runoff.weather.quality.plausibility import TRUSTED
from runoff.weather.record.block_by_block import blocks_of
from runoff.weather.record.frames import as_weather

_FROM_RANGE = "Hargreaves-Samani"


class Source(NamedTuple):
    """The weather of a grid as a run reads it.

    Parameters
    ----------
    fed
        On disk (dask), all in the dimensions and chunks of rain: ``rain``; ``tmin`` and ``tmax`` where evapotranspiration
        follows from them in the loop, else ``reference_et``; ``tmean`` where it is known apart.
    grid
        Sizes of the dimensions beside ``time``.
    hours
        Step, h.
    told
        A Dataset of no size that says how evapotranspiration was chosen, and whether temperature is known, for provenance.
    from_range
        Whether evapotranspiration follows from ``tmin`` and ``tmax`` in the loop.
    """

    fed: xr.Dataset
    grid: dict[str, int]
    hours: float
    told: xr.Dataset
    from_range: bool

    @property
    def time(self) -> xr.DataArray:
        """The time axis."""
        return self.fed["time"]

    def latitudes(self) -> xr.DataArray:
        """Return the latitude of every cell, degrees."""
        one = xr.DataArray(np.zeros(tuple(self.grid.values())), dims=tuple(self.grid))
        known = self.fed["lat"] if "lat" in self.fed.coords else xr.DataArray(np.nan)
        return (one + known.drop_vars([name for name in known.coords if name not in known.dims])).transpose(*self.grid)

    def sun_rows(self) -> tuple[np.ndarray, np.ndarray]:
        """Return the different days of the sun in the record, J, and which of them each step has."""
        days = np.asarray(day_of_year(self.time), dtype=float)
        return np.unique(days, return_inverse=True)

    @staticmethod
    def sun(days: np.ndarray, latitudes: np.ndarray) -> np.ndarray:
        """Return the radiation above the air as evaporated water, Ra / 2.45, mm a day, shape ``(day, cell)``."""
        alike, which = np.unique(latitudes, return_inverse=True)
        radiation = extraterrestrial_radiation(days[:, None], alike[None, :])
        return np.asarray(radiation / LATENT_HEAT_MJ_PER_KG)[:, which]


def opened(source: str | Path | xr.Dataset, reading: Mapping[str, Any], *, in_stretches: bool = False) -> xr.Dataset:
    """Return the weather of a store, a file or a Dataset, lazily and in house units.

    Parameters
    ----------
    source
        The weather.
    reading
        Words of `runoff.read_weather`, for weather on disk.
    in_stretches
        As in `runoff.weather.files.reading.read_stored`, for weather on disk.

    Returns
    -------
    xarray.Dataset
        Quantities on their dimensions, in house units: mm, degC.

    Raises
    ------
    RunoffError
        When there is no rain on time, or no grid.
    """
    if isinstance(source, xr.Dataset):
        weather = source
    else:
        from runoff.weather.files.reading import read_stored

        weather = read_stored(
            Path(source).absolute(), reading.get("columns"), reading.get("units"), in_stretches=in_stretches
        )
        if reading.get("trust_unit"):
            weather = weather.assign_attrs({TRUSTED: "yes"})
    if "rain" not in weather or "time" not in weather["rain"].dims:
        raise RunoffError(f"stream: the weather needs `rain` on time (given {', '.join(map(str, weather.data_vars))})")
    if weather["rain"].ndim == 1:
        raise RunoffError("stream: the weather is a single series, which fits in memory; use runoff.simulate")
    return weather


def in_stretches(weather: xr.Dataset) -> bool:
    """Tell whether chunks of the weather come in stretches of time, which are to be asked for one after the other."""
    blocks = blocks_of(weather["rain"].data)
    return bool(getattr(getattr(blocks, "read", None), "gives_stretches", False))


def prepared(weather: xr.Dataset, et_method: str | None, chunks: Mapping[str, int], *, traced: bool) -> Source:
    """Choose what a run reads of the weather; see `Source`.

    Parameters
    ----------
    weather
        From `opened`.
    et_method
        Forces a method of reference evapotranspiration.
    chunks
        Cells by which weather in memory is cut.
    traced
        Whether series are asked for: then evapotranspiration is formed beforehand in any case.

    Returns
    -------
    Source
        What a run reads, dask-backed: left on disk, or cut into chunks where it lies in memory.

    Raises
    ------
    WeatherError
        When evapotranspiration neither is given nor can be formed.
    """
    lazy = weather if weather["rain"].chunks else weather.chunk({**chunks, "time": -1})
    known = as_weather(lazy)
    if "tmean" not in known and {"tmin", "tmax"} <= set(known.data_vars):
        known = known.assign(tmean=(known["tmin"].astype(float) + known["tmax"].astype(float)) / 2.0)
        apart = False
    else:
        apart = "tmean" in known
    grid = {str(name): size for name, size in known["rain"].sizes.items() if name != "time"}
    corner = with_reference_et(known.isel({name: slice(0, 1) for name in grid if name in known.dims}), et_method)
    method = str(corner["reference_et"].attrs.get("method", "given"))
    hours = time_step(known["time"]).hours
    extremes = {"tmin", "tmax"} <= set(known.data_vars) and ("reference_et" not in known or et_method is not None)
    from_range = method == _FROM_RANGE and extremes and hours == 24.0 and not traced
    if from_range:
        names = ["rain", "tmin", "tmax", *(["tmean"] if apart else [])]
        fed = known[names]
    else:
        doubles = {name: known[name].astype(float) for name in known.data_vars if known[name].dtype.kind == "f"}
        known = with_reference_et(known.assign(doubles), et_method)
        # spread from days to hours it comes in a chunk a step, and every chunk is a stretch that is run by itself
        known = known.assign(reference_et=known["reference_et"].chunk(_of(known["rain"], known["reference_et"].dims)))
        fed = known[[name for name in ("rain", "reference_et", "tmean") if name in known]]
    like = fed["rain"]
    other = {
        str(name): series.broadcast_like(like).transpose(*like.dims)
        for name, series in fed.data_vars.items()
        if series.dims != like.dims
    }
    fed = fed.assign(other).unify_chunks()
    told = xr.Dataset({"reference_et": ((), 0.0, dict(corner["reference_et"].attrs))}, attrs=dict(weather.attrs))
    if "tmean" in known:
        told["tmean"] = ((), 0.0)
    return Source(fed, grid, hours, told, from_range)


def _of(rain: xr.DataArray, dims: tuple[Any, ...]) -> dict[Any, tuple[int, ...]]:
    """Return the chunks of rain along some dimensions."""
    return {dim: rain.chunksizes[dim] for dim in dims if dim in rain.chunksizes}


def first_fault_of_layout(source: Source, memory_mb: float, needed_mb: float, sizes: Mapping[str, int]) -> None:
    """Refuse a store whose chunks cannot be worked on within the memory allowed, naming its layout.

    Parameters
    ----------
    source
        The weather on disk.
    memory_mb, needed_mb
        What a piece may take, and what it takes, MB.
    sizes
        Cells of a piece by dimension.

    Raises
    ------
    WeatherError
        When it takes more than it may.
    """
    if needed_mb <= memory_mb:
        return
    rain = source.fed["rain"]
    layout = " x ".join(f"{max(rain.chunksizes[dim])} {dim}" for dim in rain.dims)
    raise WeatherError(
        f"stream: the weather is stored in chunks of {layout}; a piece of {' x '.join(f'{size} {dim}' for dim, size in sizes.items())} "
        f"takes about {needed_mb:,.0f} MB and {memory_mb:,.0f} MB are allowed. Allow more (memory_mb=), or store it in "
        "smaller chunks: weather.chunk({...}).to_zarr(...)"
    )


def time_spans(source: Source) -> list[slice]:
    """Return the stretches of time in which the weather is stored."""
    ends = np.cumsum(source.fed["rain"].chunksizes["time"])
    return [
        slice(int(end - size), int(end)) for end, size in zip(ends, source.fed["rain"].chunksizes["time"], strict=True)
    ]


def spans_within(spans: list[slice], steps: int) -> list[slice]:
    """Return the stretches that cover the first `steps` steps."""
    return [slice(one.start, min(one.stop, steps)) for one in spans if one.start < steps]
