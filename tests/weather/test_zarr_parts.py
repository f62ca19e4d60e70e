"""A Zarr store of which parts are absent: what would be read as weather is refused or told of, never taken in silence."""

import warnings
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import runoff
from runoff.errors import RunoffWarning

pytest.importorskip("zarr", reason="reading Zarr needs the extra packages [large]")

PACKED = {"dtype": "i2", "scale_factor": 0.1, "_FillValue": -999}


@pytest.fixture
def store(tmp_path: Path) -> Path:
    """Write 300 days on 2 cells in parts of 100 days, packed as whole numbers; made up."""
    shape, time = (2, 300), pd.date_range("2001-01-01", periods=300)
    rng = np.random.default_rng(3)
    data = xr.Dataset(
        {
            "rain": (("site", "time"), rng.gamma(0.5, 8.0, shape), {"units": "mm"}),
            "tmin": (("site", "time"), rng.uniform(1.0, 5.0, shape), {"units": "degC"}),
            "tmax": (("site", "time"), rng.uniform(6.0, 15.0, shape), {"units": "degC"}),
        },
        coords={"time": time, "lat": 47.0},
    )
    encoding = {name: {**PACKED, "chunks": (2, 100)} for name in data}
    data.to_zarr(tmp_path / "in.zarr", zarr_format=3, consolidated=False, encoding=encoding)
    return tmp_path / "in.zarr"


def parts_of(store: Path, name: str) -> Iterator[Path]:
    return (path for path in sorted((store / name / "c").rglob("*")) if path.is_file())


def test_a_whole_store_is_read_without_a_word(store: Path) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error", RunoffWarning)
        assert int(runoff.read_weather(store)["rain"].notnull().sum()) == 600


@pytest.mark.parametrize("chunks", [None, {}], ids=["in memory", "on disk"])
def test_a_store_cut_short_is_no_dry_weather_at_0_degrees(store: Path, chunks) -> None:
    for name in ("rain", "tmin", "tmax"):
        list(parts_of(store, name))[-1].unlink()
    with pytest.raises(
        runoff.WeatherError, match=r"tmin: 1 of 3 parts .* would be read as 0; the store may have been cut"
    ) as told:
        runoff.read_weather(store, chunks=chunks)
    assert all(f"{name}: 1 of 3 parts" in str(told.value) for name in ("rain", "tmin", "tmax"))


def test_a_part_without_rain_may_be_dry_and_is_told_of(store: Path) -> None:
    next(parts_of(store, "rain")).unlink()
    with pytest.warns(
        RunoffWarning, match="in.zarr: rain: 1 of 3 parts .* as if nothing fell or flowed; if that is not so"
    ):
        weather = runoff.read_weather(store)
    assert float(weather["rain"].isel(time=slice(100)).max()) == 0.0


def test_an_absent_part_that_reads_as_missing_is_a_gap(tmp_path: Path, store: Path) -> None:
    with xr.open_zarr(store, consolidated=False) as data:
        plain = data.load().drop_encoding()
    plain.chunk(time=100).to_zarr(tmp_path / "plain.zarr", zarr_format=3, consolidated=False)
    next(parts_of(tmp_path / "plain.zarr", "rain")).unlink()
    assert int(runoff.read_weather(tmp_path / "plain.zarr", fill={})["rain"].isnull().sum()) == 200
