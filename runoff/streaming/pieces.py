"""Pieces of a grid: blocks of cells, each run with its whole record; by default they follow the chunks of the store."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np
import xarray as xr

from runoff.errors import RunoffError, nearest, raise_faults

Piece = dict[str, slice]

#: Chunks are put together to pieces of as many cells as have so many steps in all (about two seconds' work), for writing a piece
#: takes a twentieth of one; but a grid is shared out over so many pieces, as what is finished is kept by pieces (workers share the
#: chunks of a piece too), and a piece has so many cells at least.
_STEPS_OF_A_PIECE, _LEAST_PIECES, _LEAST_CELLS = 6e7, 2, 256
#: Bytes a run keeps per cell and design, and times the weather of a chunk is held while it is unpacked; measured, with headroom.
_BYTES_PER_CELL, _COPIES = 4000.0, 2.5
#: Numbers that a run holds per cell and step where series are asked for, measured with headroom.
_TRACED = 80


def refuse_wrong_pieces(pieces: Mapping[str, Any], grid: Mapping[str, int]) -> None:
    """Raise for pieces along a dimension the grid does not have, or of no cells."""
    faults = [
        f'pieces names "{name}"{nearest(str(name), grid)}; the weather has {", ".join(grid)}'
        for name in pieces
        if name not in grid
    ]
    faults += [
        f"pieces of {name} must be a whole number, 1 or more (given {size!r})"
        for name, size in pieces.items()
        if not isinstance(size, int | np.integer) or size < 1
    ]
    raise_faults("stream", faults)


def sizes_in_memory(grid: Mapping[str, int], steps: int, memory_mb: float, designs: int) -> dict[str, int]:
    """Return cells per piece and dimension for weather in memory: as many as `memory_mb` allows, the last dimension first.

    Parameters
    ----------
    grid
        Cells in all, by dimension.
    steps
        Number of steps of the record.
    memory_mb
        What a piece may take, MB.
    designs
        Number of designs run on each cell.

    Returns
    -------
    dict
        Dimension -> cells, at least 1, in the order of `grid`.
    """
    left = max(1, int(memory_mb * 1e6 / (8.0 * _TRACED * steps * designs)))
    sizes = {}
    for name in reversed(list(grid)):
        sizes[name] = min(grid[name], left)
        left = max(1, left // sizes[name])
    return {name: sizes[name] for name in grid}


def least_cells(grid: Mapping[str, int], steps: int) -> int:
    """Return how many cells a piece has at least, where there are as many."""
    share = math.prod(grid.values()) // _LEAST_PIECES
    return max(_LEAST_CELLS, min(share, int(_STEPS_OF_A_PIECE / steps)))


def sizes_on_disk(
    grid: Mapping[str, int], chunks: Mapping[str, int], memory_of: Any, memory_mb: float, least: int = _LEAST_CELLS
) -> dict[str, int]:
    """Return cells per piece and dimension: a chunk of the store, or several small ones as memory allows, the last dimension first.

    Parameters
    ----------
    grid, chunks
        Cells in all, and in a chunk, by dimension.
    memory_of
        Tells what a piece of so many cells takes, MB.
    memory_mb
        What it may take.
    least
        Cells of a piece below which chunks are put together.

    Returns
    -------
    dict
        Dimension -> cells, in the order of `grid`; never less than a chunk, even where that takes more than it may.
    """
    sizes = {name: min(chunks[name], size) for name, size in grid.items()}
    for name in reversed(list(grid)):
        while math.prod(sizes.values()) < least and sizes[name] < grid[name]:
            wider = {**sizes, name: min(grid[name], sizes[name] + chunks[name])}
            if memory_of(math.prod(wider.values())) > memory_mb:
                return sizes
            sizes = wider
    return sizes


def smaller_to_fit(sizes: Mapping[str, int], memory_of: Callable[[int], float], memory_mb: float) -> dict[str, int]:
    """Return cells per piece and dimension of which a piece takes no more than it may: parts of a chunk, if need be.

    Where series are kept they take many times the memory of the weather; a chunk is then read once and shared out.

    Parameters
    ----------
    sizes
        Cells per piece and dimension.
    memory_of, memory_mb
        As in `sizes_on_disk`.

    Returns
    -------
    dict
        Dimension -> cells, at least 1; even one cell may take more.
    """
    smaller = dict(sizes)
    while memory_of(math.prod(smaller.values())) > memory_mb and max(smaller.values()) > 1:
        name = max(smaller, key=lambda one: smaller[one])
        smaller[name] = -(-smaller[name] // 2)
    return smaller


def memory_mb(
    cells: int, at_once: int, steps: int, quantities: int, item_bytes: int, designs: int, traced: bool
) -> float:
    """Return what a piece takes while a stretch of so many steps of so many cells at once, one chunk, is run, MB.

    Parameters
    ----------
    cells, at_once
        Number of cells of the piece, and of those run at once.
    steps
        Number of steps of a stretch.
    quantities
        Number of series read.
    item_bytes
        Bytes of a stored value.
    designs
        Number of designs run on each cell.
    traced
        Whether series are kept for every step.

    Returns
    -------
    float
        MB.
    """
    weather = min(cells, at_once) * steps * quantities * item_bytes * _COPIES
    kept = cells * designs * _BYTES_PER_CELL
    series = 8.0 * _TRACED * cells * steps * designs if traced else 0.0
    return (weather + kept + series) / 1e6


def cut(grid: Mapping[str, int], sizes: Mapping[str, int]) -> list[Piece]:
    """Return the pieces of a grid."""
    spans = [
        [slice(first, min(first + sizes[name], grid[name])) for first in range(0, grid[name], sizes[name])]
        for name in grid
    ]
    return [dict(zip(grid, block, strict=True)) for block in itertools.product(*spans)]


def wanted_cells(cells: Any, weather: xr.Dataset, grid: Mapping[str, int]) -> np.ndarray | None:
    """Return which cells are to be run, in the shape of the grid; None for all.

    Parameters
    ----------
    cells
        A DataArray on dimensions of the grid: true, or not 0 and not missing, where a cell is to be run; or a list of places,
        one mapping of dimension to coordinate each.
    weather, grid
        The weather, and the sizes of its dimensions beside time.

    Returns
    -------
    numpy.ndarray or None
        Mask of the cells to run, in the shape of the grid; None for all.

    Raises
    ------
    RunoffError
        When a mask lies on other dimensions or coordinates, or a place is in no cell.
    """
    if cells is None:
        return None
    shape = tuple(grid.values())
    if isinstance(cells, xr.DataArray):
        wanted = _of_mask(cells, weather, grid)
    else:
        _refuse_other_kinds(cells, grid)
        wanted, faults = np.zeros(shape, dtype=bool), []
        for number, place in enumerate(cells, start=1):
            try:
                wanted[_cell_at(place, weather, grid)] = True
            except RunoffError as error:
                faults.append(f"place {number}: {error}")
        raise_faults("stream: cells", faults)
    if not wanted.any():
        raise RunoffError(
            "stream: cells picks no cell of the grid; a mask is true, or not 0, where a cell is to be run"
        )
    return wanted


def _refuse_other_kinds(cells: Any, grid: Mapping[str, int]) -> None:
    listed = isinstance(cells, Sequence) and not isinstance(cells, str | bytes)
    strange = cells if not listed else next((one for one in cells if not isinstance(one, Mapping)), None)
    if strange is not None:
        place = ", ".join(f"{name!r}: ..." for name in grid)
        raise RunoffError(
            f"stream: cells must be a mask (an xarray.DataArray on {', '.join(grid)}) or a list of places such as {{{place}}} (given "
            f"{type(strange).__name__}); of a table, table.to_dict('records')"
        )


def _of_mask(mask: xr.DataArray, weather: xr.Dataset, grid: Mapping[str, int]) -> np.ndarray:
    strange = [str(dim) for dim in mask.dims if dim not in grid]
    if strange:
        raise RunoffError(f"stream: the mask has the dimension {', '.join(strange)}; the grid has {', '.join(grid)}")
    for dim in map(str, mask.dims):
        same_size = mask.sizes[dim] == grid[dim]
        both = dim in mask.indexes and dim in weather.indexes
        alike = same_size and (not both or np.allclose(mask[dim].to_numpy(), weather[dim].to_numpy()) if _numbers(mask, dim) else
                               same_size and (not both or mask.indexes[dim].equals(weather.indexes[dim])))  # fmt: skip
        if not alike:
            raise RunoffError(
                f"stream: the mask has other coordinates along {dim} ({mask.sizes[dim]}) than the weather ({grid[dim]}); "
                "bring it to the grid of the weather first, for example mask.interp_like(weather, method='nearest')"
            )
    values = mask if mask.dtype.kind == "b" else (mask.notnull() & (mask != 0))
    plain = xr.DataArray(np.asarray(values), dims=mask.dims)
    template = xr.DataArray(np.zeros(tuple(grid.values()), dtype=bool), dims=tuple(grid))
    return np.asarray(plain.broadcast_like(template).transpose(*grid), dtype=bool)


def _numbers(mask: xr.DataArray, dim: str) -> bool:
    return dim in mask.coords and mask[dim].dtype.kind in "iuf"


def _cell_at(place: Mapping[str, Any], weather: xr.Dataset, grid: Mapping[str, int]) -> tuple[Any, ...]:
    strange = [name for name in place if name not in grid]
    if strange:
        raise RunoffError(
            f"no dimension of the grid is called {', '.join(map(str, strange))}; a place is one of {', '.join(grid)}"
        )
    where: list[Any] = []
    for name in grid:
        if name not in place:
            where.append(slice(None))
            continue
        known = weather[name].to_numpy() if name in weather.coords else np.arange(grid[name])
        if known.dtype.kind in "iuf":
            apart = np.abs(known - _number(name, place[name]))
            nearest_one = int(apart.argmin())
            half = 0.5 * float(np.abs(np.diff(known)).max()) if known.size > 1 else np.inf
            if apart[nearest_one] > half * (1.0 + 1e-6):
                raise RunoffError(
                    f"{name} {place[name]} lies in no cell; the grid runs from {known.min():g} to {known.max():g}"
                )
        else:
            found = np.flatnonzero(known.astype(str) == str(place[name]))
            if not found.size:
                raise RunoffError(f"there is no {name} {place[name]}{nearest(str(place[name]), known.astype(str))}")
            nearest_one = int(found[0])
        where.append(nearest_one)
    return tuple(where)


def _number(name: str, given: Any) -> float:
    """Return a coordinate as a number; nothing and text are in no cell."""
    try:
        value = float(given)
    except (TypeError, ValueError):
        value = np.nan
    if not np.isfinite(value):
        told = "empty" if given is None or (isinstance(given, float) and np.isnan(given)) else f"{given!r}"
        raise RunoffError(f"{name} must be a number (given {told})")
    return value
