"""Chunks of a Zarr folder unpacked into memory that is used again, on the thread that asks for them.

Zarr unpacks a chunk into fresh memory and copies it into other fresh memory, by way of a thread of its own that serves all others. Fresh
memory costs a long record nearly as much as unpacking it, and that one thread keeps two workers from being twice as fast. So
plain chunks on a local disk are unpacked here, by the codec of the same family (numcodecs); every other kind of store, and
every chunk that is missing or does not unpack, is left to Zarr, and so are its messages.

A chunk that holds a long record may also be given in stretches of time, each unpacked when it is asked for (zstandard), so that memory
holds a stretch of it and never the whole.
"""

from __future__ import annotations

import collections
import importlib.util
import io
import math
import os
import sys
import threading
import weakref
from collections.abc import Mapping
from pathlib import Path
from typing import Any, ClassVar

import numpy as np
import xarray as xr

from runoff.weather.record.block_by_block import Blocks, array_of

#: Rooms for chunks that are kept while no chunk is in them.
_IDLE = 8
#: What stands at the end of a room before a chunk is unpacked into it: a chunk that is too short leaves it there.
_CANARY = b"\xa5\xc3\xa5\x7f\x5a\x3c\xa5\x7f"
#: A stretch of a chunk has about so many values, and no fewer steps than the three years of days that tell whether a unit is right:
#: shorter ones stay in the cache of a core, longer ones are asked for less often.
_VALUES, _LEAST_STEPS = 600_000, 1100
#: Bytes of a file that are read at once, and streams of an array that are kept open at most: those of runs that went on elsewhere.
_READ_AT_ONCE, _MOST_OPEN = 2**18, 64


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


class _Stream:
    """A chunk that is unpacked from its beginning on."""

    def __init__(self, file: io.FileIO) -> None:
        import zstandard

        self._file = file
        self._unpacked = zstandard.ZstdDecompressor().stream_reader(
            self._file, read_size=_READ_AT_ONCE, read_across_frames=True
        )

    def fill(self, room: np.ndarray) -> None:
        """Unpack as many bytes as there is room for."""
        left = room.data
        while left:
            count = self._unpacked.readinto(left)
            if not count:
                raise EOFError
            left = left[count:]

    def skip(self, size: int) -> None:
        """Unpack so many bytes for nothing."""
        room = np.empty(min(size, _READ_AT_ONCE), dtype=np.uint8)
        for begin in range(0, size, _READ_AT_ONCE):
            self.fill(room[: size - begin])

    def end(self) -> None:
        """Look whether nothing is left, for a chunk of which something is left is no whole one."""
        if self._unpacked.read(1):
            raise EOFError

    def __del__(self) -> None:
        self._file.close()


class _Streams:
    """Chunks that are being unpacked, each by as many streams as have asked for it, under the step they have come to."""

    def __init__(self) -> None:
        self._open: dict[tuple[tuple[int, ...], int], list[_Stream]] = {}
        self._lock = threading.Lock()

    def take(self, chunk: tuple[int, ...], step: int) -> _Stream | None:
        """Return a stream that has come to this step, if there is one; nobody else has it then."""
        with self._lock:
            waiting = self._open.pop((chunk, step), [])
            found = waiting.pop() if waiting else None
            if waiting:
                self._open[chunk, step] = waiting
        return found

    def keep(self, chunk: tuple[int, ...], step: int, stream: _Stream) -> None:
        """Keep a stream for whoever asks for this step."""
        with self._lock:
            self._open.setdefault((chunk, step), []).append(stream)
            while len(self._open) > _MOST_OPEN:
                del self._open[next(iter(self._open))]

    def forget(self, chunk: tuple[int, ...], but: int) -> None:
        """Let go of the streams of a chunk that one has come to the end of: runs begin it anew. Who stands at the last step goes on."""
        with self._lock:
            for key in [key for key in self._open if key[0] == chunk and key[1] != but]:
                del self._open[key]


class ChunkReader:
    """Reads a chunk of one array of a Zarr folder, or stretches of it one after the other, as a task of a graph.

    Parameters
    ----------
    folder, name
        The Zarr folder (whole path) and the array in it.
    token
        Stands for the folder as it was opened.
    steps
        Steps along the first dimension that are read at a time; 0 for whole chunks.
    """

    _alive: ClassVar[weakref.WeakValueDictionary[tuple[Path, str, str, int], ChunkReader]] = (
        weakref.WeakValueDictionary()
    )

    def __init__(self, folder: Path, name: str, token: str, steps: int = 0) -> None:
        import zarr

        self._given = folder, name, token, steps
        group: Any = zarr.open_group(folder, mode="r")
        self.array = group[name]
        self._place = folder / name
        self._codec = _codec_of(self.array)
        self._steps = steps or self.array.chunks[0]
        self._row = math.prod(self.array.chunks[1:]) * self.array.dtype.itemsize
        self._rooms = _Rooms.of(self._steps * self._row)
        self._streams = _Streams()

    @classmethod
    def of(cls, folder: Path, name: str, token: str, steps: int = 0) -> ChunkReader:
        """Return the reader of this process: tasks that are sent to it share one, and with it the rooms.

        Parameters
        ----------
        folder, name, token, steps
            As of the class.

        Returns
        -------
        ChunkReader
            One that is in use here, or a new one.
        """
        key = folder, name, token, steps
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

    @property
    def streams(self) -> bool:
        """Whether chunks can be given in stretches."""
        return self.plain and self._codec.codec_id == "zstd" and importlib.util.find_spec("zstandard") is not None

    @property
    def gives_stretches(self) -> bool:
        """Whether it gives stretches of chunks, which are to be asked for one after the other."""
        return self._given[3] > 0

    @property
    def token(self) -> str:
        """What stands for this way of reading in a graph."""
        return f"{self._given[2]}-{self._given[3]}"

    def by_stretches(self, steps: int) -> ChunkReader:
        """Return a reader of the same array that gives so many steps at a time."""
        return ChunkReader.of(*self._given[:3], steps)

    @property
    def chunks(self) -> tuple[tuple[int, ...], ...]:
        """Sizes of what is read at a time, along each dimension."""
        whole = tuple(
            tuple(min(size, length - begin) for begin in range(0, length, size))
            for size, length in zip(self.array.chunks, self.array.shape, strict=True)
        )
        return tuple(
            min(self._steps, size - begin) for size in whole[0] for begin in range(0, size, self._steps)
        ), *whole[1:]

    def __call__(self, block_id: tuple[int, ...]) -> np.ndarray:
        """Return a chunk or a stretch of one, shorter at the end of the array.

        Parameters
        ----------
        block_id
            Number along each dimension of `chunks`.

        Returns
        -------
        numpy.ndarray
            Its values.
        """
        size = self.array.chunks[0]
        number, stretch = divmod(block_id[0], -(-size // self._steps))
        chunk, first = (number, *block_id[1:]), stretch * self._steps
        spans = [
            slice(at * length, min((at + 1) * length, whole))
            for at, length, whole in zip(chunk, self.array.chunks, self.array.shape, strict=True)
        ]
        known = spans[0].stop - spans[0].start
        spans[0] = slice(spans[0].start + first, min(spans[0].start + first + self._steps, spans[0].stop))
        if self._steps == size:
            values = self._unpacked(chunk)
        else:
            values = self._next_unpacked(chunk, first, last=first + self._steps >= known)
        if values is None:
            return np.asarray(self.array[tuple(spans)])
        return np.ascontiguousarray(values[tuple(slice(0, span.stop - span.start) for span in spans)])

    def _next_unpacked(self, chunk: tuple[int, ...], first: int, *, last: bool) -> np.ndarray | None:
        """Return the stretch of a chunk that begins at its step `first`; None as of `_unpacked`."""
        steps = min(self._steps, self.array.chunks[0] - first)
        room = self._rooms.take()[: steps * self._row]
        try:
            stream = self._streams.take(chunk, first)
            if stream is None:
                stream = _Stream(self._file(chunk).open("rb", buffering=0))
                stream.skip(first * self._row)
            stream.fill(room)
            if last:
                stream.skip((self.array.chunks[0] - first - steps) * self._row)
                stream.end()
                self._streams.forget(chunk, but=first)
            else:
                self._streams.keep(chunk, first + steps, stream)
        except Exception:  # whatever it is, Zarr meets it too
            return None
        made: np.ndarray = room.view(self.array.dtype).reshape(steps, *self.array.chunks[1:])
        return made

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
        with self._file(block_id).open("rb", buffering=0) as file:
            size = os.fstat(file.fileno()).st_size
            room = self._rooms.take() if size <= self._rooms.size else np.empty(size, dtype=np.uint8)
            read = file.readinto(room[:size].data)
        if read != size:
            raise EOFError
        return room[:size]

    def _file(self, chunk: tuple[int, ...]) -> Path:
        return self._place / self.array.metadata.encode_chunk_key(chunk)


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


def read_in_place(opened: xr.Dataset, folder: Path, *, in_stretches: bool = False) -> xr.Dataset:
    """Return a Zarr folder that was opened lazily with its plain variables read by `ChunkReader`.

    Parameters
    ----------
    opened
        As `xarray.open_dataset` gives it, on disk as dask arrays.
    folder
        The Zarr folder.
    in_stretches
        Whether chunks with a long record are given in stretches of time, for who asks for one after the other.

    Returns
    -------
    xarray.Dataset
        The same values, ``time`` last. Variables that are packed as whole numbers, have a fill value or lie otherwise in chunks are left as they are.
    """
    from dask.base import tokenize

    readers: dict[str, ChunkReader] = {}
    found: dict[str, xr.Variable] = {}
    for name, variable in opened.variables.items():
        if not variable.chunks or not _as_it_lies(variable):
            continue
        token = str(tokenize(variable.data.name, str(folder)))
        reader = ChunkReader.of(folder.absolute(), str(name), token)
        if reader.plain and variable.chunks == reader.chunks and variable.dtype == reader.array.dtype:
            readers[str(name)] = reader
    steps = _steps_of_a_stretch(opened, readers) if in_stretches else 0
    for name, whole in readers.items():
        variable = opened.variables[name]
        dims = sorted(variable.dims, key=lambda dim: bool(dim == "time"))
        order = [variable.dims.index(dim) for dim in dims]
        reader = whole.by_stretches(steps) if steps and dims != ["time"] else whole
        chunks = tuple(reader.chunks[axis] for axis in order)
        values = array_of(Blocks(reader, order), chunks, variable.data, f"chunks-{reader.token}")
        found[name] = xr.Variable(dims, values, variable.attrs, variable.encoding)
    return opened.assign(found)


def _steps_of_a_stretch(opened: xr.Dataset, readers: Mapping[str, ChunkReader]) -> int:
    """Return how many steps a stretch of a chunk has; 0 where chunks are short, or the records lie apart and do not go by together."""
    on_disk = {str(name): variable for name, variable in opened.variables.items() if variable.chunks}
    most = max((variable.ndim for variable in on_disk.values()), default=0)
    records = {name: one for name, one in on_disk.items() if one.ndim == most and "time" in one.dims}
    layouts = {(one.dims, one.chunks or ()) for one in records.values()}
    if len(layouts) != 1 or not all(name in readers and readers[name].streams for name in records):
        return 0
    ((dims, chunks),) = layouts
    steps, cells = chunks[0][0], math.prod(sizes[0] for sizes in chunks[1:])
    count = min(steps * cells // _VALUES, steps // _LEAST_STEPS)
    return -(-steps // count) if dims[0] == "time" and count > 1 else 0


def _as_it_lies(variable: xr.Variable) -> bool:
    """Tell whether values are given as they are stored: floats that are neither packed nor filled."""
    encoding: Mapping[Any, Any] = variable.encoding
    fills = [encoding.get(key) for key in ("_FillValue", "missing_value")]
    unfilled = all(fill is None or np.isnan(np.asarray(fill, dtype=float)).all() for fill in fills)
    return variable.dtype.kind == "f" and unfilled and not {"scale_factor", "add_offset"} & set(encoding)
