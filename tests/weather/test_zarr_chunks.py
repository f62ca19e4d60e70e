"""Chunks of Zarr folders unpacked here hold what Zarr itself reads, whatever the kind of store and whatever is wrong with it."""

import gc
import pickle
from pathlib import Path

import numcodecs
import numpy as np
import pytest
import xarray as xr
import zarr

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
    np.testing.assert_array_equal(made.to_numpy(), np.asarray(zarr.open_group(folder, mode="r")["rain"][:]))
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
    assert np.isnan(read_in_place(opened(tmp_path), tmp_path)["rain"][:10, :3].to_numpy()).all()


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
    data.blocks[1, 0, 0].compute(scheduler="sync")  # fills the memory
    with pytest.raises(Exception):  # noqa: B017 - whatever Zarr says of it
        data.blocks[0, 0, 0].compute(scheduler="sync")


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
