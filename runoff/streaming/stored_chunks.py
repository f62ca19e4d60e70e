"""The chunks in which the weather of a run is stored: which of them a piece takes, each as a task of the graph it comes from.

A piece is run chunk by chunk, each with its own state, so memory holds the weather of one chunk however many a piece has, and no
chunk is copied to be put beside another.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np
import xarray as xr


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
        self._tasks = {
            str(name): series.variable.data.to_delayed(optimize_graph=False) for name, series in fed.data_vars.items()
        }

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

    def tasks(self, block: Block, time_chunk: int) -> dict[str, Any]:
        """Return the chunks of all quantities that hold a block at a stretch of time, as delayed arrays."""
        place = tuple(time_chunk if dim == "time" else block.chunk[dim] for dim in self.dims)
        return {name: tasks[place] for name, tasks in self._tasks.items()}

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
