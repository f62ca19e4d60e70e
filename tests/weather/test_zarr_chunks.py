"""Chunks of Zarr folders unpacked here hold what Zarr itself reads, whatever the kind of store and whatever is wrong with it."""

import gc
import pickle
from pathlib import Path

import numcodecs
import numpy as np
import pytest
import xarray as xr
import zarr

from runoff.weather.files import zarr_chunks
from runoff.weather.files.zarr_chunks import ChunkReader, _Rooms, read_in_place

SHAPE, CHUNKS = (23, 7, 5), (10, 3, 5)  # chunks at the ends are cut short


def values(dtype: str = "f4") -> np.ndarray:
    """Return numbers without a pattern, some of them missing."""
    made = np.random.default_rng(3).normal(size=SHAPE).astype(dtype)
    made[::4, 1] = np.nan
    return made


def store(folder: Path, dtype: str = "f4", **how: object) -> Path:
    """Write one variable of a Zarr folder."""
    group = zarr.open_group(folder, mode="w", zarr_format=how.pop("zarr_format", 3))  # type: ignore[arg-type]
    known = {"chunks": CHUNKS, "fill_value": np.nan, **how}
    if group.metadata.zarr_format == 3:
        known["dimension_names"] = ("time", "lat", "lon")
    else:
        known["attributes"] = {"_ARRAY_DIMENSIONS": ["time", "lat", "lon"]}
    array = group.create_array("rain", shape=SHAPE, dtype=dtype, **known)  # type: ignore[arg-type]
    array[:] = values(dtype)
    return folder


def opened(folder: Path) -> xr.Dataset:
    """Open a folder as a stream does, before its chunks are read in place."""
    return xr.open_dataset(folder, engine="zarr", chunks={}, backend_kwargs={"consolidated": False})


def read_here(folder: Path) -> bool:
    """Tell whether a folder's variable is unpacked here; its values must be those that Zarr reads, to the last bit."""
    made = read_in_place(opened(folder), folder)["rain"]
    np.testing.assert_array_equal(
        made.transpose("time", ...).to_numpy(), np.asarray(zarr.open_group(folder, mode="r")["rain"][:])
    )
    return str(made.data.name).startswith("chunks-")


@pytest.mark.parametrize(
    ("how", "here"),
    [
        ({}, True),
        ({"dtype": "f8"}, True),
        ({"compressors": zarr.codecs.BloscCodec(cname="lz4", shuffle="shuffle")}, True),
        ({"compressors": zarr.codecs.ZstdCodec(level=7, checksum=True)}, True),
        ({"zarr_format": 2, "compressors": numcodecs.Blosc()}, True),
        ({"zarr_format": 2, "compressors": numcodecs.Zstd()}, True),
        ({"compressors": zarr.codecs.GzipCodec()}, False),
        ({"compressors": None}, False),
        ({"compressors": [zarr.codecs.ZstdCodec(), zarr.codecs.GzipCodec()]}, False),
        ({"zarr_format": 2, "compressors": numcodecs.Zstd(), "dtype": ">f4"}, False),
        ({"serializer": zarr.codecs.BytesCodec(endian="big")}, False),
        ({"zarr_format": 2, "compressors": numcodecs.Zstd(), "order": "F"}, False),
        ({"filters": [zarr.codecs.TransposeCodec(order=(2, 1, 0))]}, False),
        ({"shards": (20, 6, 5)}, False),
        ({"dtype": "i4", "fill_value": -9}, False),
    ],
)
@pytest.mark.filterwarnings("ignore::UserWarning")
def test_every_kind_of_store_is_read_as_zarr_reads_it(how: dict[str, object], here: bool, tmp_path: Path) -> None:
    """Plain chunks are unpacked here, all others by Zarr."""
    if how.get("dtype") == "i4":
        group = zarr.open_group(tmp_path, mode="w")
        group.create_array(
            "rain", shape=SHAPE, dtype="i4", chunks=CHUNKS, fill_value=-9, dimension_names=("time", "lat", "lon")
        )[:] = 7
    else:
        store(tmp_path, **how)  # type: ignore[arg-type]
    assert read_here(tmp_path) is here


@pytest.mark.parametrize("attributes", [{"scale_factor": 0.1}, {"add_offset": 2.0}, {"_FillValue": -9999.0}])
def test_packed_values_are_left_to_xarray(attributes: dict[str, float], tmp_path: Path) -> None:
    """What is stored is not the value then."""
    data = xr.Dataset({"rain": (("time", "lat", "lon"), values().astype("f8"))}).chunk(time=10, lat=3, lon=5)
    data.to_zarr(tmp_path / "in", encoding={"rain": attributes}, zarr_format=3, consolidated=False)
    made = read_in_place(opened(tmp_path / "in"), tmp_path / "in")["rain"]
    assert not str(made.data.name).startswith("chunks-")


def chunk_file(folder: Path) -> Path:
    """Return the file of the first chunk."""
    return folder / "rain" / "c" / "0" / "0" / "0"


def test_a_chunk_that_was_never_written_is_missing(tmp_path: Path) -> None:
    """Zarr gives its fill value."""
    chunk_file(store(tmp_path)).unlink()
    assert read_here(tmp_path)
    assert np.isnan(read_in_place(opened(tmp_path), tmp_path)["rain"][:3, :, :10].to_numpy()).all()


@pytest.mark.parametrize("damage", ["cut", "short", "long", "noise"])
def test_a_damaged_chunk_is_no_chunk_read_before(damage: str, tmp_path: Path) -> None:
    """Memory that is used again holds another chunk's values: a chunk that does not fill it must not pass as whole."""
    file, codec = chunk_file(store(tmp_path)), numcodecs.Zstd()
    raw = file.read_bytes()
    whole = codec.decode(raw)
    file.write_bytes(
        {
            "cut": raw[:-9],
            "short": codec.encode(whole[:-20]),
            "long": codec.encode(whole + whole[:40]),
            "noise": b"\x01" * len(raw),
        }[damage]
    )
    data = read_in_place(opened(tmp_path), tmp_path)["rain"].data
    data.blocks[0, 0, 1].compute(scheduler="sync")  # fills the memory
    with pytest.raises(Exception):  # noqa: B017 - whatever Zarr says of it
        data.blocks[0, 0, 0].compute(scheduler="sync")


def stretches(folder: Path, steps: int = 4) -> ChunkReader:
    """Return a reader of stretches: a chunk of 10 steps comes in 4, 4 and 2, the last one of the array, 3 steps, in one."""
    return ChunkReader(folder, "rain", "1", steps)


#: First and last step of each stretch of the array (23 steps in chunks of 10), by hand.
STEPS = [(0, 4), (4, 8), (8, 10), (10, 14), (14, 18), (18, 20), (20, 23)]


@pytest.mark.parametrize("order", [range(7), [0, 1, 0, 1, 2, 2], [6, 2, 4, 0, 1, 1, 5, 3]])
def test_stretches_of_a_chunk_are_its_values_in_whatever_order_they_are_asked_for(order, tmp_path: Path) -> None:
    """In turn they come from one stream; a warm-up begins it anew, and who asks out of turn is given the same."""
    reader = stretches(store(tmp_path))
    assert reader.chunks == ((4, 4, 2, 4, 4, 2, 3), (3, 3, 1), (5,))
    for number in order:
        begin, end = STEPS[number]
        np.testing.assert_array_equal(reader((number, 1, 0)), values()[begin:end, 3:6])
        np.testing.assert_array_equal(reader((number, 2, 0)), values()[begin:end, 6:])


def test_a_stream_goes_on_where_it_stands(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A chunk that is asked for in turn is unpacked once, and nothing of it stays open at its end."""
    begun = []
    stream = zarr_chunks._Stream
    monkeypatch.setattr(zarr_chunks, "_Stream", lambda file: begun.append(file) or stream(file))
    reader = stretches(store(tmp_path))
    for number in (0, *range(7)):  # a warm-up of one stretch, then the record
        reader((number, 0, 0))
    assert len(begun) == 3 + 1 and not reader._streams._open


@pytest.mark.parametrize("damage", ["cut", "short", "long", "noise", "gone"])
def test_a_damaged_chunk_is_refused_before_its_last_stretch(damage: str, tmp_path: Path) -> None:
    """What Zarr says of it is raised, or its fill value given where the file is gone."""
    file, codec = chunk_file(store(tmp_path)), numcodecs.Zstd()
    raw = file.read_bytes()
    whole = codec.decode(raw)
    damaged = {
        "cut": raw[:-9],
        "short": codec.encode(whole[:-20]),
        "long": codec.encode(whole + whole[:40]),
        "noise": b"\x01" * len(raw),
    }
    reader = stretches(tmp_path)
    if damage == "gone":
        file.unlink()
        assert all(np.isnan(reader((number, 0, 0))).all() for number in range(3))
        return
    file.write_bytes(damaged[damage])
    with pytest.raises(Exception):  # noqa: B017 - whatever Zarr says of it, at one of them
        for number in range(3):
            reader((number, 0, 0))


@pytest.mark.parametrize(
    ("how", "sizes"),
    [
        ({}, (5, 5, 5, 5, 3)),
        ({"compressors": zarr.codecs.BloscCodec()}, (10, 10, 3)),  # unpacked as a whole alone
    ],
)
def test_long_chunks_are_given_in_stretches(how: dict[str, object], sizes, tmp_path: Path, monkeypatch) -> None:
    """Chunks of 10 x 3 x 5 = 150 values come in two stretches where one has about 75."""
    monkeypatch.setattr(zarr_chunks, "_VALUES", 75)
    monkeypatch.setattr(zarr_chunks, "_LEAST_STEPS", 2)
    store(tmp_path, **how)
    made = read_in_place(opened(tmp_path), tmp_path, in_stretches=True)["rain"]
    assert made.chunksizes["time"] == sizes
    np.testing.assert_array_equal(made.transpose("time", ...).to_numpy(), values())


def test_memory_is_used_again_when_nothing_looks_at_it_any_more() -> None:
    """A view of a view keeps it; the last one gives it back."""
    rooms = _Rooms(80)
    first = rooms.take()
    view = first.view("f8").reshape(2, 5)[1:, ::2]
    address = first.__array_interface__["data"][0]
    del first
    gc.collect()
    other = rooms.take()
    assert other.__array_interface__["data"][0] != address
    del view
    assert rooms.take().__array_interface__["data"][0] == address


def test_tasks_in_another_process_share_one_reader(tmp_path: Path) -> None:
    """What is sent is a name: the reader, with its memory, is there once as long as a task has it."""
    reader = ChunkReader.of(store(tmp_path), "rain", "1")
    assert pickle.loads(pickle.dumps(reader)) is reader
    sent = pickle.dumps(reader)
    del reader
    again = pickle.loads(sent)
    np.testing.assert_array_equal(again((2, 2, 0)), values()[20:, 6:])
