"""Grids piece by piece: same bits as in one go, stopped and taken up again; lazy weather stays lazy."""

import re
import sys
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

import runoff
from runoff import streaming
from runoff.errors import RunoffError

pytest.importorskip("dask", reason="large grids need the extra `large`")
zarr = pytest.importorskip("zarr", reason="large grids need the extra `large`")

# the cell that lacks a day is told of, as it should be; here its results are looked at
pytestmark = pytest.mark.filterwarnings("ignore:simulate. some cells of the grid know:runoff.errors.RunoffWarning")


@pytest.fixture(scope="module")
def roof() -> runoff.Roof:
    return runoff.open_sample_roof("cups")


@pytest.fixture(scope="module")
def grid() -> xr.Dataset:
    """Return a year of Ostrey on 3 x 4 cells that differ in rain; one cell lacks a day, as cells in the sea do."""
    days = runoff.open_sample().sel(time=slice("2001", "2001"))[["rain", "tmin", "tmax"]].drop_vars("lat")
    cells = days.expand_dims(lat=[46.0, 47.0, 48.0], lon=[4.0, 5.0, 6.0, 7.0]).copy(deep=True)
    factor = np.random.default_rng(5).uniform(0.5, 1.5, (3, 4, 1))
    cells["rain"] = cells["rain"].copy(data=cells["rain"].to_numpy() * factor)
    cells["rain"][1, 2, 40] = np.nan
    return cells


@pytest.fixture(scope="module")
def in_one_go(roof: runoff.Roof, grid: xr.Dataset) -> tuple[xr.Dataset, xr.Dataset]:
    run = runoff.simulate(roof, grid)
    return run, runoff.summarize(run)


def assert_same_bits(streamed: xr.Dataset, facts: xr.Dataset) -> None:
    for name in facts:
        if name == "years":  # one number for the whole grid; a cell with missing weather has none in one go
            assert (facts[name].isnull() | (facts[name] == streamed[name])).all()
            continue
        np.testing.assert_array_equal(streamed[name].to_numpy(), facts[name].to_numpy(), err_msg=str(name))
        assert streamed[name].dims == facts[name].dims
        assert streamed[name].attrs == facts[name].attrs


@pytest.mark.parametrize(
    "pieces", [{"lat": 2, "lon": 3}, {"lon": 1, "lat": 2}, None], ids=["uneven", "columns", "auto"]
)
def test_pieces_give_the_bits_of_one_go(roof, grid, in_one_go, tmp_path: Path, pieces) -> None:
    run, facts = in_one_go
    streamed = runoff.stream(roof, grid, tmp_path / "out.zarr", pieces=pieces, variables=["overflow"])
    assert_same_bits(streamed, facts)
    np.testing.assert_array_equal(streamed["overflow"].to_numpy(), run["overflow"].to_numpy())
    assert streamed["overflow"].chunks  # returned lazily
    np.testing.assert_array_equal(streamed["lat"], grid["lat"])


def test_from_zarr_to_zarr_with_members_and_designs(roof, grid, tmp_path: Path) -> None:
    members = xr.concat([grid, grid.assign(rain=(grid["rain"] * 1.1).assign_attrs(grid["rain"].attrs))], "member")
    members = members.isel(lat=slice(0, 1), lon=slice(1, 3)).transpose("member", "lat", "lon", "time")
    members.drop_attrs(deep=False).to_zarr(tmp_path / "in.zarr")
    roofs = {"as it is": roof, "thinner": roof.replace({"medium.depth_mm": 40})}
    streamed = runoff.stream(roofs, tmp_path / "in.zarr", tmp_path / "out.zarr", pieces={"lon": 1})
    facts = runoff.summarize(runoff.simulate(roofs, members))
    assert set(streamed["retention"].dims) == {"design", "member", "lat", "lon"}
    for name in ("retention", "annual_overflow", "bare_retention", "retention_by_month", "waterlogged_days"):
        same = streamed[name].transpose(*facts[name].dims)
        np.testing.assert_array_equal(same.to_numpy(), facts[name].to_numpy(), err_msg=name)
    assert list(streamed["design"].to_numpy()) == ["as it is", "thinner"]


class StoppedError(Exception):
    pass


def test_stopped_and_taken_up_again(roof, grid, in_one_go, tmp_path: Path, monkeypatch) -> None:
    target, pieces = tmp_path / "out.zarr", {"lat": 1, "lon": 2}

    def stop_after_two(done: int, of: int) -> None:
        assert of == 6
        if done == 2:
            raise StoppedError

    with pytest.raises(StoppedError):
        runoff.stream(roof, grid, target, pieces=pieces, progress=stop_after_two)
    assert streaming.pieces_left(target) == 4
    # killed half-way: the third piece has some of its figures and no mark
    zarr.open_group(target, mode="r+")["retention"][1, 0:2] = -99.0
    seen = []
    plain = streaming._run_piece
    monkeypatch.setattr(streaming, "_run_piece", lambda *given: (seen.append(given[2]), plain(*given))[1])
    streamed = runoff.stream(roof, grid, target, pieces=pieces)
    assert [(piece["lat"].start, piece["lon"].start) for piece in seen] == [(1, 0), (1, 2), (2, 0), (2, 2)]
    assert streaming.pieces_left(target) == 0
    assert_same_bits(streamed, in_one_go[1])
    seen.clear()
    runoff.stream(roof, grid, target, pieces=pieces)
    assert seen == []


def test_a_first_cell_without_weather_is_no_obstacle(roof, grid, tmp_path: Path) -> None:
    sea = grid.copy(deep=True)
    sea["rain"][0, 0] = np.nan
    streamed = runoff.stream(roof, sea, tmp_path / "out.zarr", pieces={"lat": 1})
    assert_same_bits(streamed, runoff.summarize(runoff.simulate(roof, sea)))
    assert float(streamed["years"]) == 1.0  # 2001, whole
    assert np.isnan(streamed["retention"][0, 0])


def test_another_run_is_refused(roof, grid, tmp_path: Path) -> None:
    target = tmp_path / "out.zarr"
    small = grid.isel(lat=slice(0, 1), lon=slice(0, 2))
    runoff.stream(roof, small, target)
    with pytest.raises(
        RunoffError,
        match=re.escape(
            f"stream: {target} holds another run (different: roof, rules); choose another folder, or remove it"
        ),
    ):
        runoff.stream(roof.replace({"medium.depth_mm": 60}), small, target, warm_up_years=0)


def test_a_folder_of_something_else_is_refused(roof, grid, tmp_path: Path) -> None:
    (tmp_path / "letter.txt").write_text("keep me", encoding="utf-8")
    message = f"stream: {tmp_path} exists and is not the target of a streamed run; choose another folder"
    with pytest.raises(RunoffError, match=re.escape(message)):
        runoff.stream(roof, grid, tmp_path)
    assert (tmp_path / "letter.txt").read_text(encoding="utf-8") == "keep me"


def test_single_series_and_wrong_pieces_are_refused(roof, grid, tmp_path: Path) -> None:
    single = "stream: the weather is a single series, which fits in memory; use runoff.simulate"
    with pytest.raises(RunoffError, match=re.escape(single)):
        runoff.stream(roof, runoff.open_sample(), tmp_path / "a.zarr")
    with pytest.raises(RunoffError) as caught:
        runoff.stream(roof, grid, tmp_path / "a.zarr", pieces={"lat": 0, "long": 2})
    assert str(caught.value) == (
        'stream: pieces names "long"; did you mean "lon"?; the weather has lat, lon\n'
        "stream: pieces of lat must be a whole number, 1 or more (given 0)"
    )
    with pytest.raises(
        RunoffError, match=re.escape('stream: variable "overfow" is not known; did you mean "overflow"?')
    ):
        runoff.stream(roof, grid, tmp_path / "a.zarr", variables=["overfow"])
    assert not (tmp_path / "a.zarr").exists()


@pytest.mark.parametrize(
    ("lacking", "words"), [(["zarr"], "zarr is not installed"), (["dask", "zarr"], "dask and zarr are not installed")]
)
def test_without_the_extra(roof, grid, tmp_path: Path, monkeypatch, lacking, words) -> None:
    for name in lacking:
        monkeypatch.setitem(sys.modules, name, None)
    message = f'stream: {words}; large grids need the extra packages: pip install "runoff[large]"'
    with pytest.raises(RunoffError, match=re.escape(message)):
        runoff.stream(roof, grid, tmp_path / "a.zarr")


def test_memory_decides_the_default_pieces() -> None:
    # worked by hand: 80 numbers x 8 byte x 1000 steps = 0.64 MB per cell; 10 MB hold 15 cells: 10 along lon, 1 along lat
    assert streaming._piece_sizes({"lat": 30, "lon": 10}, 1000, None, 10.0, 1) == {"lat": 1, "lon": 10}
    # 100 MB hold 156 cells: all 10 along lon, 15 along lat
    assert streaming._piece_sizes({"lat": 30, "lon": 10}, 1000, None, 100.0, 1) == {"lat": 15, "lon": 10}


def test_lazy_weather_stays_lazy_and_runs_on_a_cluster(roof, grid, in_one_go) -> None:
    distributed = pytest.importorskip("distributed", reason="the cluster needs the extra `large`")
    lazy = runoff.summarize(runoff.simulate(roof, grid.chunk({"lat": 1, "lon": 2})))
    assert lazy["retention"].chunks, "the run was computed before it was asked for"
    cluster = distributed.LocalCluster(n_workers=1, threads_per_worker=2, processes=False, dashboard_address=None)
    with cluster, distributed.Client(cluster):
        computed = lazy.compute()
    for name in in_one_go[1]:
        np.testing.assert_array_equal(computed[name], in_one_go[1][name], err_msg=str(name))
