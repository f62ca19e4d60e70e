"""Values on disk whose blocks are made one by one, each by itself: read, then looked at and changed by functions in turn.

An array of dask holds them, as any other; but whoever wants block after block may have each made on the spot, without a graph, which
takes as long to put together and to go through as a block of a grid takes to run.
"""

from __future__ import annotations

import weakref
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import xarray as xr

#: Name of an array of dask -> what makes its blocks; it lives as long as the graph that has it.
_made: weakref.WeakValueDictionary[str, Blocks] = weakref.WeakValueDictionary()


class Blocks:
    """Makes the blocks of an array.

    Parameters
    ----------
    read
        Gives a block, from its number along each dimension in which it is stored.
    order
        Which of those dimensions each one of the array is.
    changes
        Functions that are applied in turn to a block, and whether they are told its number as `block_id`.
    """

    def __init__(
        self,
        read: Callable[[tuple[int, ...]], np.ndarray],
        order: Sequence[int],
        changes: tuple[tuple[Callable[..., np.ndarray], bool], ...] = (),
    ) -> None:
        self.read, self._order, self._changes = read, tuple(order), changes

    def __call__(self, block_id: tuple[int, ...]) -> np.ndarray:
        """Return a block.

        Parameters
        ----------
        block_id
            Its number along each dimension.

        Returns
        -------
        numpy.ndarray
            Its values.
        """
        stored = tuple(block_id[self._order.index(axis)] for axis in range(len(self._order)))
        values = self.read(stored).transpose(self._order)
        for change, told in self._changes:
            values = change(values, block_id=block_id) if told else change(values)
        return values

    def then(self, change: Callable[..., np.ndarray], *, told: bool = False) -> Blocks:
        """Return what makes blocks that are changed once more; the function keeps shape and type."""
        return Blocks(self.read, self._order, (*self._changes, (change, told)))


def array_of(blocks: Blocks, chunks: tuple[tuple[int, ...], ...], like: Any, name: str) -> Any:
    """Return a dask array of blocks.

    Parameters
    ----------
    blocks
        Makes them.
    chunks
        Their sizes along each dimension.
    like
        A dask array of the same type.
    name
        Its name in graphs, of these values alone.

    Returns
    -------
    dask.array.Array
        The array.
    """
    from dask.array import map_blocks

    _made[name] = blocks
    return map_blocks(blocks, chunks=chunks, dtype=like.dtype, meta=like._meta, name=name)


def blocks_of(array: Any) -> Blocks | None:
    """Return what makes the blocks of a dask array; None where they come from a graph."""
    return _made.get(getattr(array, "name", ""))


def changed(series: xr.DataArray, change: Callable[..., np.ndarray], name: str, *, told: bool = False) -> Any:
    """Return the dask array of a series with a function applied to each block.

    Parameters
    ----------
    series
        On disk, in the unit of its quantity (mm, degC).
    change
        Takes a block, in the unit of the series, and returns one of the same shape and type.
    name
        Name of the new array in graphs.
    told
        Whether it is told the number of the block, as `block_id`.

    Returns
    -------
    dask.array.Array
        The array.
    """
    blocks = blocks_of(series.data)
    if blocks is None:
        return series.data.map_blocks(change, dtype=series.dtype, meta=series.data._meta, name=name)
    return array_of(blocks.then(change, told=told), series.data.chunks, series.data, name)
