"""The chunks in which the weather of a run is stored: which of them a piece takes, each as a task of the graph it comes from.

A piece is run chunk by chunk, each with its own state, so memory holds the weather of one chunk however many a piece has, and no
chunk is copied to be put beside another.
"""

from __future__ import annotations

import functools
import itertools
from collections.abc import Callable, Iterable, Mapping
from typing import Any, NamedTuple

import numpy as np
import xarray as xr
from dask.blockwise import optimize_blockwise
from dask.highlevelgraph import HighLevelGraph

from runoff.weather.record.block_by_block import blocks_of


class Block(NamedTuple):
    """Cells of a piece that lie in one chunk: where in the grid, where in the chunk, and the chunk along each dimension."""

    cells: dict[str, slice]
    inside: dict[str, slice]
    chunk: dict[str, int]


class Chunks:
    """The weather of a run as tasks.

    Parameters
    ----------
    fed
        On disk (dask), all quantities on the same dimensions and in the same chunks.
    """

    def __init__(self, fed: xr.Dataset) -> None:
        rain = fed["rain"]
        self.dims = tuple(map(str, rain.dims))
        self._ends = {str(dim): np.cumsum(sizes) for dim, sizes in rain.chunksizes.items()}
        arrays = {str(name): series.variable.data for name, series in fed.data_vars.items()}
        self._names = {name: array.name for name, array in arrays.items()}
        self._makers = {name: blocks_of(array) for name, array in arrays.items()}
        whole = HighLevelGraph.merge(*(array.dask for array in arrays.values()))
        # reading and the checks of a chunk become one task; rules stay rules, so that a graph does not grow with the store
        self._graph = optimize_blockwise(whole, keys=[(name,) for name in self._names.values()])

    @property
    def alone(self) -> bool:
        """Whether every chunk can be made by itself, without a graph, by whoever needs it."""
        return all(self._makers.values())

    def each(self, block: Block, span: int) -> dict[str, Callable[[], np.ndarray]]:
        """Return what makes the chunks of all quantities that hold a block at a stretch of time, where they are `alone`."""
        place = self._place(block, span)
        return {name: functools.partial(make, place) for name, make in self._makers.items() if make is not None}

    def __getstate__(self) -> dict[str, Any]:
        """Be sent to other processes without the graph, which makes tasks here."""
        return {**self.__dict__, "_graph": None}

    def blocks(self, piece: Mapping[str, slice]) -> list[Block]:
        """Return the parts of a piece that lie in one chunk each."""
        along = [[(dim, *one) for one in self._within(dim, span)] for dim, span in piece.items()]
        return [
            Block(
                {dim: cells for dim, _, cells, _ in each},
                {dim: inside for dim, _, _, inside in each},
                {dim: number for dim, number, _, _ in each},
            )
            for each in itertools.product(*along)
        ]

    def of_time(self, steps: slice) -> tuple[int, slice]:
        """Return the chunk along time in which a stretch lies, and where in it."""
        ((number, _, inside),) = self._within("time", steps)
        return number, inside

    def keys(self, block: Block, time_chunk: int) -> dict[str, tuple[Any, ...]]:
        """Return the names in the graph of the chunks of all quantities that hold a block at a stretch of time."""
        place = self._place(block, time_chunk)
        return {name: (of_array, *place) for name, of_array in self._names.items()}

    def _place(self, block: Block, time_chunk: int) -> tuple[int, ...]:
        return tuple(time_chunk if dim == "time" else block.chunk[dim] for dim in self.dims)

    def graph(self, keys: Iterable[tuple[Any, ...]]) -> dict[Any, Any]:
        """Return the part of the graph that makes these chunks."""
        return dict(self._graph.cull(set(keys)))

    def _within(self, dim: str, span: slice) -> list[tuple[int, slice, slice]]:
        """Return of each chunk a stretch meets its number, and the part it has in common, in the grid and in the chunk."""
        ends = self._ends[dim]
        found = []
        for number in range(int(np.searchsorted(ends, span.start, side="right")), len(ends)):
            begin = int(ends[number - 1]) if number else 0
            if begin >= span.stop:
                break
            first, last = max(begin, span.start), min(int(ends[number]), span.stop)
            found.append((number, slice(first, last), slice(first - begin, last - begin)))
        return found
