"""Chunks of a Zarr folder unpacked into memory that is used again, on the thread that asks for them.

Zarr unpacks a chunk into fresh memory and copies it into other fresh memory, by way of a thread of its own that serves all others. Fresh
memory costs a long record nearly as much as unpacking it, and that one thread keeps two workers from being twice as fast. So
plain chunks on a local disk are unpacked here, by the codec of the same family (numcodecs); every other kind of store, and
every chunk that is missing or does not unpack, is left to Zarr, and so are its messages.
"""

from __future__ import annotations

import collections
import os
import sys
import weakref
from collections.abc import Mapping
from pathlib import Path
from typing import Any, ClassVar

import numpy as np
import xarray as xr

#: Rooms for chunks that are kept while no chunk is in them.
_IDLE = 8
#: What stands at the end of a room before a chunk is unpacked into it: a chunk that is too short leaves it there.
_CANARY = b"\xa5\xc3\xa5\x7f\x5a\x3c\xa5\x7f"


class _Rooms:
    """Memory for chunks of so many bytes; it comes back when the last view of a chunk is gone."""

    _alive: ClassVar[weakref.WeakValueDictionary[int, _Rooms]] = weakref.WeakValueDictionary()

    def __init__(self, size: int) -> None:
        self.size = size
        self._idle: collections.deque[np.ndarray] = collections.deque(maxlen=_IDLE)

    @classmethod
    def of(cls, size: int) -> _Rooms:
        """Return the rooms of this size: all that read chunks of one size share them."""
        found = cls._alive.get(size)
        if found is None:
            found = cls._alive[size] = cls(size)
        return found

    def take(self) -> np.ndarray:
        """Return bytes to write into. All views of them, and theirs, keep them from being used again."""
        try:
            room = self._idle.pop()
        except IndexError:
            room = np.empty(self.size, dtype=np.uint8)
        # views of an array that lies in foreign memory refer to that array, not to the memory: it goes last
        lent = np.frombuffer(room.data, dtype=np.uint8)
        weakref.finalize(lent, self._idle.append, room).atexit = False
        return lent


class ChunkReader:
    """Reads a chunk of one array of a Zarr folder, as a task of a graph.

    Parameters
    ----------
    folder, name
        The Zarr folder (whole path) and the array in it.
    token
        Stands for the folder as it was opened.
    """

    _alive: ClassVar[weakref.WeakValueDictionary[tuple[Path, str, str], ChunkReader]] = weakref.WeakValueDictionary()

    def __init__(self, folder: Path, name: str, token: str) -> None:
        import zarr

        self._given = folder, name, token
        group: Any = zarr.open_group(folder, mode="r")
        self.array = group[name]
        self._place = folder / name
        self._codec = _codec_of(self.array)
        shape = self.array.chunks
        self._rooms = _Rooms.of(int(np.prod(shape)) * self.array.dtype.itemsize)

    @classmethod
    def of(cls, folder: Path, name: str, token: str) -> ChunkReader:
        """Return the reader of this process: tasks that are sent to it share one, and with it the rooms.

        Parameters
        ----------
        folder, name, token
            As of the class.

        Returns
        -------
        ChunkReader
            One that is in use here, or a new one.
        """
        key = folder, name, token
        found = cls._alive.get(key)
        if found is None:
            found = cls._alive[key] = cls(*key)
        return found

    def __reduce__(self) -> tuple[Any, ...]:
        """Be sent to other processes as a name."""
        return ChunkReader.of, self._given

    @property
    def plain(self) -> bool:
        """Whether chunks are of a kind that is unpacked here."""
        return self._codec is not None

    def __call__(self, block_id: tuple[int, ...]) -> np.ndarray:
        """Return a chunk, shorter at the end of the array.

        Parameters
        ----------
        block_id
            Number of the chunk along each dimension.

        Returns
        -------
        numpy.ndarray
            Its values.
        """
        spans = tuple(
            slice(number * size, min((number + 1) * size, whole))
            for number, size, whole in zip(block_id, self.array.chunks, self.array.shape, strict=True)
        )
        values = self._unpacked(block_id)
        if values is None:
            return np.asarray(self.array[spans])
        return np.ascontiguousarray(values[tuple(slice(0, span.stop - span.start) for span in spans)])

    def _unpacked(self, block_id: tuple[int, ...]) -> np.ndarray | None:
        """Return a whole chunk; None where it is missing or cannot be unpacked, for Zarr to say."""
        room = self._rooms.take()
        room[-len(_CANARY) :] = np.frombuffer(_CANARY, dtype=np.uint8)[-room.size :]
        try:
            self._codec.decode(self._packed(block_id), out=room)
        except Exception:  # whatever it is, Zarr meets it too
            return None
        if room[-len(_CANARY) :].tobytes() == _CANARY[-room.size :]:
            return None
        made: np.ndarray = room.view(self.array.dtype).reshape(self.array.chunks)
        return made

    def _packed(self, block_id: tuple[int, ...]) -> np.ndarray:
        """Return the bytes of the file of a chunk."""
        with (self._place / self.array.metadata.encode_chunk_key(block_id)).open("rb", buffering=0) as file:
            size = os.fstat(file.fileno()).st_size
            room = self._rooms.take() if size <= self._rooms.size else np.empty(size, dtype=np.uint8)
            read = file.readinto(room[:size])
        if read != size:
            raise EOFError
        return room[:size]


def _codec_of(array: Any) -> Any:
    """Return what unpacks the chunks of an array; None where they are of another kind than plain numbers, packed once."""
    import numcodecs

    known = {"ZstdCodec": "zstd", "BloscCodec": "blosc", "Zstd": "zstd", "Blosc": "blosc"}
    packers = [known.get(type(one).__name__) for one in array.compressors]
    serializer = array.serializer
    little = serializer is None or getattr(getattr(serializer, "endian", None), "value", None) == "little"
    native = array.dtype.isnative and sys.byteorder == "little"
    plain = little and native and array.order == "C" and not array.filters and array.shards is None
    if not plain or len(packers) != 1 or packers[0] is None or not all(array.chunks):
        return None
    return numcodecs.get_codec({"id": packers[0]})


def read_in_place(opened: xr.Dataset, folder: Path) -> xr.Dataset:
    """Return a Zarr folder that was opened lazily with its plain variables read by `ChunkReader`.

    Parameters
    ----------
    opened
        As `xarray.open_dataset` gives it, on disk as dask arrays.
    folder
        The Zarr folder.

    Returns
    -------
    xarray.Dataset
        The same values. Variables that are packed as whole numbers, have a fill value or lie otherwise in chunks are left as they are.
    """
    from dask.array import map_blocks
    from dask.base import tokenize

    found: dict[str, xr.Variable] = {}
    for name, variable in opened.variables.items():
        if not variable.chunks or not _as_it_lies(variable):
            continue
        token = str(tokenize(variable.data.name, str(folder)))
        reader = ChunkReader.of(folder.absolute(), str(name), token)
        chunks = tuple(
            tuple(min(size, whole - begin) for begin in range(0, whole, size))
            for size, whole in zip(reader.array.chunks, reader.array.shape, strict=True)
        )
        if reader.plain and variable.chunks == chunks and variable.dtype == reader.array.dtype:
            values = map_blocks(
                reader, chunks=chunks, dtype=variable.dtype, meta=variable.data._meta, name=f"chunks-{token}"
            )
            found[str(name)] = xr.Variable(variable.dims, values, variable.attrs, variable.encoding)
    return opened.assign(found)


def _as_it_lies(variable: xr.Variable) -> bool:
    """Tell whether values are given as they are stored: floats that are neither packed nor filled."""
    encoding: Mapping[Any, Any] = variable.encoding
    fills = [encoding.get(key) for key in ("_FillValue", "missing_value")]
    unfilled = all(fill is None or np.isnan(np.asarray(fill, dtype=float)).all() for fill in fills)
    return variable.dtype.kind == "f" and unfilled and not {"scale_factor", "add_offset"} & set(encoding)
