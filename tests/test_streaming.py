"""Grids piece by piece: the figures of one go, any chunks, stopped and taken up again; lazy weather stays lazy."""

import re
import sys
import threading
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

import runoff
from runoff import streaming
from runoff.errors import RunoffError
from runoff.streaming import pieces as cutting
from runoff.streaming import running, scheduling
from runoff.streaming import target as completing
from runoff.streaming.target import marks as target_marks
from runoff.writing import writing_alone
from tests.small_grids import grid_that_lacks_a_day
from tests.trials import kill_stream, kill_worker

dask = pytest.importorskip("dask", reason="large grids need the extra `large`")
zarr = pytest.importorskip("zarr", reason="large grids need the extra `large`")

# the cell that lacks a day is told of, as it should be; here its results are looked at
pytestmark = [
    pytest.mark.filterwarnings("ignore:simulate. some cells of the grid have:runoff.errors.RunoffWarning"),
    pytest.mark.filterwarnings("ignore:stream. 1 cell has weather:runoff.errors.RunoffWarning"),
]


@pytest.fixture(scope="module")
def roof() -> runoff.Roof:
    return runoff.open_sample_roof("cups")


@pytest.fixture(scope="module")
def grid() -> xr.Dataset:
    return grid_that_lacks_a_day()


@pytest.fixture(scope="module")
def in_one_go(roof: runoff.Roof, grid: xr.Dataset) -> tuple[xr.Dataset, xr.Dataset]:
    run = runoff.simulate(roof, grid)
    return run, runoff.summarize(run)


@pytest.fixture(scope="module")
def streamed(roof: runoff.Roof, grid: xr.Dataset, tmp_path_factory: pytest.TempPathFactory) -> xr.Dataset:
    return runoff.stream(roof, grid, tmp_path_factory.mktemp("whole") / "out.zarr").load()


def assert_figures_of(made: xr.Dataset, facts: xr.Dataset) -> None:
    """Hold streamed figures against those of `summarize`: sums are added up in another order, counts are the same."""
    for name in facts:
        if name == "years":  # one number for the whole grid; a cell with missing weather has none in one go
            assert (facts[name].isnull() | (facts[name] == made[name])).all()
            continue
        np.testing.assert_allclose(
            made[name].transpose(*facts[name].dims).to_numpy(),
            facts[name].to_numpy(),
            rtol=1e-10,
            atol=1e-9,
            err_msg=str(name),
        )
        assert made[name].attrs == facts[name].attrs


def assert_same_bits(one: xr.Dataset, other: xr.Dataset) -> None:
    assert set(one.data_vars) >= set(other.data_vars)
    for name in other.data_vars:
        np.testing.assert_array_equal(one[name].to_numpy(), other[name].to_numpy(), err_msg=str(name))


def test_figures_are_those_of_one_go(streamed, grid, in_one_go) -> None:
    assert_figures_of(streamed, in_one_go[1])
    assert streamed["retention"].dims == ("lat", "lon")
    np.testing.assert_array_equal(streamed["lat"], grid["lat"])
    assert np.isnan(streamed["retention"][1, 2]) and int(streamed["retention"].isnull().sum()) == 1
    assert streamed.attrs["start"] == "after a warm-up of 1 year"


@pytest.mark.parametrize(
    "chunks",
    [{"lat": 1, "lon": 2}, {"lat": 3, "lon": 4, "time": 200}, {"lat": 2, "lon": 3, "time": 50}],
    ids=["cells", "time", "both"],
)
def test_any_chunks_give_the_same_bits(roof, grid, streamed, tmp_path: Path, chunks) -> None:
    grid.chunk(chunks).drop_attrs(deep=False).to_zarr(tmp_path / "in.zarr")
    made = runoff.stream(roof, tmp_path / "in.zarr", tmp_path / "out.zarr")
    assert_same_bits(made, streamed)


@pytest.mark.parametrize("pieces", [{"lat": 2, "lon": 3}, {"lon": 1, "lat": 2}], ids=["uneven", "columns"])
def test_any_pieces_give_the_same_bits(roof, grid, streamed, tmp_path: Path, pieces) -> None:
    made = runoff.stream(roof, grid, tmp_path / "out.zarr", pieces=pieces)
    assert made["retention"].chunks  # returned lazily
    assert_same_bits(made, streamed)


@pytest.mark.parametrize("workers", [1, 2, 3])
def test_any_number_of_workers_gives_the_same_bits(roof, grid, streamed, tmp_path: Path, monkeypatch, workers) -> None:
    on: set[int] = set()
    step = running.step

    def seen(*given, **series):
        on.add(threading.get_ident())
        return step(*given, **series)

    monkeypatch.setattr(running, "step", seen)
    grid.chunk(lat=1, lon=1, time=100).drop_attrs(deep=False).to_zarr(tmp_path / "in.zarr")
    made = runoff.stream(roof, tmp_path / "in.zarr", tmp_path / "out.zarr", workers=workers)
    assert_same_bits(made, streamed)
    assert len(on) <= workers and (threading.get_ident() in on) is (workers == 1)


@pytest.mark.parametrize("scheduler", ["synchronous", "threads"])
def test_series_are_those_of_simulate(roof, grid, in_one_go, streamed, tmp_path: Path, scheduler) -> None:
    grid.chunk(lat=2, time=100).drop_attrs(deep=False).to_zarr(tmp_path / "in.zarr")
    with dask.config.set(scheduler=scheduler):
        made = runoff.stream(roof, tmp_path / "in.zarr", tmp_path / "out.zarr", variables=["overflow", "medium_water"])
    assert_same_bits(made, streamed)
    for name in ("overflow", "medium_water"):
        series = made[name].transpose("lat", "lon", "time").to_numpy()
        np.testing.assert_array_equal(series, in_one_go[0][name].to_numpy(), err_msg=name)
    np.testing.assert_array_equal(made["time"], grid["time"])


def test_members_designs_and_given_evapotranspiration(roof, grid, tmp_path: Path) -> None:
    given = grid.assign(reference_et=runoff.reference_et(grid)).drop_vars(["tmin"]).rename(tmax="tmean")
    given["tmean"].attrs = {"units": "degC"}
    members = xr.concat([given, given.assign(rain=(given["rain"] * 1.1).assign_attrs(given["rain"].attrs))], "member")
    members = members.isel(lat=slice(0, 1), lon=slice(1, 3)).transpose("member", "lat", "lon", "time")
    members.drop_attrs(deep=False).chunk(member=1, time=150).to_zarr(tmp_path / "in.zarr")
    roofs = {"as it is": roof, "thinner": roof.replace({"medium.depth_mm": 40})}
    made = runoff.stream(roofs, tmp_path / "in.zarr", tmp_path / "out.zarr")
    facts = runoff.summarize(runoff.simulate(roofs, members))
    assert set(made["retention"].dims) == {"design", "member", "lat", "lon"}
    for name in (
        "retention",
        "annual_overflow",
        "bare_retention",
        "retention_by_month",
        "waterlogged_days",
        "dry_days",
    ):
        same = made[name].transpose(*facts[name].dims)
        np.testing.assert_allclose(same.to_numpy(), facts[name].to_numpy(), rtol=1e-10, atol=1e-9, err_msg=name)
    assert list(made["design"].to_numpy()) == ["as it is", "thinner"]


def test_a_start_of_its_own_and_run_on(roof, grid, tmp_path: Path) -> None:
    led = roof.replace({"roof.run_on_area_m2": 20.0})
    for number, (one, moisture) in enumerate([(roof, "dry"), (led, None), (led, 0.5)]):
        made = runoff.stream(one, grid.chunk(lat=2, time=180), tmp_path / f"{number}.zarr", start_moisture=moisture)
        assert_figures_of(made, runoff.summarize(runoff.simulate(one, grid, start_moisture=moisture)))


def test_a_mask_and_a_list_of_cells(roof, grid, streamed, tmp_path: Path) -> None:
    mask = xr.DataArray(np.eye(3, 4), dims=("lat", "lon"), coords={"lat": grid["lat"], "lon": grid["lon"]})
    made = runoff.stream(roof, grid, tmp_path / "mask.zarr", cells=mask, pieces={"lat": 1, "lon": 2})
    expected = streamed["retention"].where(mask == 1)
    np.testing.assert_array_equal(made["retention"], expected)
    places = [{"lat": 46.1, "lon": 4}, {"lat": 48.0, "lon": 7.4}]
    made = runoff.stream(roof, grid, tmp_path / "list.zarr", cells=places)
    assert int(made["retention"].notnull().sum()) == 2
    assert float(made["retention"][2, 3]) == float(streamed["retention"][2, 3])
    for cells, words in (
        (mask.rename(lat="y"), "the mask has the dimension y; the grid has lat, lon"),
        (mask.isel(lon=slice(0, 2)), "the mask has other coordinates along lon (2) than the weather (4)"),
        (mask * 0, "cells picks no cell of the grid"),
        ([{"lat": 60.0}], "cells: place 1: lat 60.0 lies in no cell; the grid runs from 46 to 48"),
        ([{"x": 60.0}], "cells: place 1: no dimension of the grid is called x; a place is one of lat, lon"),
    ):
        with pytest.raises(RunoffError, match=re.escape(words)):
            runoff.stream(roof, grid, tmp_path / "no.zarr", cells=cells)
    assert not (tmp_path / "no.zarr").exists()


class StoppedError(Exception):
    pass


def test_stopped_and_taken_up_again(roof, grid, streamed, tmp_path: Path, monkeypatch) -> None:
    target, pieces = tmp_path / "out.zarr", {"lat": 1, "lon": 2}

    def stop_after_two(done: int, of: int) -> None:
        assert of == 6
        if done == 2:
            raise StoppedError

    with dask.config.set(scheduler="synchronous"):
        with pytest.raises(StoppedError):
            runoff.stream(roof, grid, target, pieces=pieces, progress=stop_after_two)
        assert streaming.pieces_left(target) == 4
        # killed half-way: a piece has some of its figures and no mark, and what is there is damaged
        number = int(np.flatnonzero(target_marks(target) == 0)[0])
        damaged = target / "retention" / f"c.{number // 2}.{number % 2}"
        damaged.write_bytes(b"no chunk")
        half = damaged.with_suffix(".0123.partial")  # what the library was writing, under a name of its own
        half.write_bytes(b"half a chunk")
        seen = []
        plain = running.write_figures
        monkeypatch.setattr(running, "write_figures", lambda *given: (seen.append(given[1].number), plain(*given))[1])
        made = runoff.stream(roof, grid, target, pieces=pieces)
        assert len(seen) == 4
        assert not half.exists()
        assert streaming.pieces_left(target) == 0
        assert_same_bits(made, streamed)
        seen.clear()
        runoff.stream(roof, grid, target, pieces=pieces)
    assert seen == []


def test_a_run_killed_while_it_began_leaves_no_obstacle(roof, grid, streamed, tmp_path: Path) -> None:
    target = tmp_path / "out.zarr"
    (tmp_path / ".out.zarr.unfinished" / "retention").mkdir(parents=True)  # the frame is written beside and moved
    assert_same_bits(runoff.stream(roof, grid, target), streamed)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["out.zarr"]


def test_files_that_were_removed_are_missed(roof, grid, streamed, tmp_path: Path) -> None:
    target = tmp_path / "out.zarr"
    with dask.config.set(scheduler="synchronous"), pytest.raises(StoppedError):
        runoff.stream(roof, grid, target, pieces={"lat": 1}, progress=_stop)
    next((target / "annual_rain").glob("c.*")).unlink()
    with pytest.raises(RunoffError, match=r"1 of 3 pieces in .*out.zarr lack results they had"):
        runoff.stream(roof, grid, target, pieces={"lat": 1})
    assert_same_bits(runoff.stream(roof, grid, target, pieces={"lat": 1}), streamed)


def _stop(done: int, of: int) -> None:
    raise StoppedError


def test_a_first_cell_without_weather_is_no_obstacle(roof, grid, tmp_path: Path) -> None:
    sea = grid.copy(deep=True)
    sea["rain"][0, 0] = np.nan
    made = runoff.stream(roof, sea, tmp_path / "out.zarr", pieces={"lat": 1})
    assert_figures_of(made, runoff.summarize(runoff.simulate(roof, sea)))
    assert np.isnan(made["retention"][0, 0])


def test_another_run_is_refused_naming_what_differs(roof, grid, tmp_path: Path, monkeypatch) -> None:
    target = tmp_path / "out.zarr"
    small = grid.isel(lat=slice(0, 1), lon=slice(0, 2))
    runoff.stream(roof, small, target)
    wetter = small.assign(rain=(small["rain"] * 1.01).assign_attrs(small["rain"].attrs))
    monkeypatch.setattr("runoff.streaming.plan.__version__", "99")
    with pytest.raises(RunoffError) as caught:
        runoff.stream(roof.replace({"medium.depth_mm": 60}), wetter, target, warm_up_years=0)
    said = str(caught.value)
    assert f"stream: {target} holds another run; choose another folder, or remove it. What differs:" in said
    assert "roof: was depth_mm = 80" in said and "is now depth_mm = 60" in said
    assert "rules: warm_up_years was not given, is now 0" in said
    assert "weather: files or values was " in said
    assert "version: was " in said and "is now 99" in said


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
        'stream: pieces names "long" (did you mean "lon"?); the weather has lat, lon\n'
        "stream: pieces of lat must be a whole number, 1 or more (given 0)"
    )
    for workers in (0, 1.5, True):
        with pytest.raises(
            RunoffError, match=rf"stream: workers must be a whole number, 1 or more \(given {workers!r}\)"
        ):
            runoff.stream(roof, grid, tmp_path / "a.zarr", workers=workers)
    with pytest.raises(
        RunoffError, match=re.escape('stream: variable "overfow" is not known (did you mean "overflow"?)')
    ):
        runoff.stream(roof, grid, tmp_path / "a.zarr", variables=["overfow"])
    layout = (
        r"stored in chunks of 3 lat x 4 lon x 424 time; a piece of 3 lat x 4 lon takes about 0 MB and 0 MB are allowed"
    )
    with pytest.raises(runoff.WeatherError, match=layout):
        runoff.stream(roof, grid.chunk(), tmp_path / "a.zarr", memory_mb=0.01)
    assert not (tmp_path / "a.zarr").exists()


def test_impossible_values_are_refused_with_their_place(roof, grid, tmp_path: Path) -> None:
    for name, value, words in (
        (
            "rain",
            -3.0,
            "weather: `rain` is negative on 1 value, first -3 at 2001-03-02, lat 48.0, lon 5.0; a missing value is",
        ),
        (
            "tmax",
            285.0,
            "weather: `tmax` is impossible on 1 value, first 285 at 2001-03-02, lat 48.0, lon 5.0; Kelvin, Fahrenheit",
        ),
    ):
        wrong = grid.copy(deep=True)
        wrong[name][2, 1, 60] = value
        wrong.chunk(lat=1, time=50).drop_attrs(deep=False).to_zarr(tmp_path / f"{name}.in")
        with pytest.raises(runoff.WeatherError, match=re.escape(words)):
            runoff.stream(roof, tmp_path / f"{name}.in", tmp_path / f"{name}.out")


def test_inches_called_mm_are_refused(roof, grid, tmp_path: Path) -> None:
    inches = grid.assign(rain=(grid["rain"] / 25.4).assign_attrs(grid["rain"].attrs))
    words = (
        r"stream: rain: lat 46.0, lon 4.0, and others: .* inches, cm or m read as mm.* say trust_unit=True, or weather"
    )
    with pytest.raises(runoff.WeatherError, match=words):
        runoff.stream(roof, inches.chunk(), tmp_path / "a.zarr")
    with pytest.raises(runoff.WeatherError, match=r"simulate: rain: lat 46.0, lon 4.0, and others"):
        runoff.simulate(roof, inches)
    trusted = inches.assign_attrs(unit_trusted="yes")
    assert float(runoff.stream(roof, trusted, tmp_path / "b.zarr")["annual_rain"].max()) < 80.0


def test_a_store_cut_short_is_refused(roof, grid, tmp_path: Path) -> None:
    short = grid.copy(deep=True)
    short["rain"][:, :, 400:] = np.nan
    with pytest.raises(
        runoff.WeatherError, match="none of the 12 cells has weather for all of 424 steps; the store may have been cut"
    ):
        runoff.stream(roof, short, tmp_path / "a.zarr")


@pytest.mark.parametrize("calendar", ["noleap", "360_day"])
def test_calendars_of_climate_models(roof, grid, tmp_path: Path, calendar) -> None:
    other = grid.isel(lat=slice(0, 1)).convert_calendar(calendar, align_on="year" if calendar == "360_day" else None)
    other = other.drop_attrs(deep=False)
    made = runoff.stream(roof, other.chunk(time=100), tmp_path / "out.zarr")
    assert_figures_of(made, runoff.summarize(runoff.simulate(roof, other)))


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
    assert cutting.sizes_in_memory({"lat": 30, "lon": 10}, 1000, 10.0, 1) == {"lat": 1, "lon": 10}
    # 100 MB hold 156 cells: all 10 along lon, 15 along lat
    assert cutting.sizes_in_memory({"lat": 30, "lon": 10}, 1000, 100.0, 1) == {"lat": 15, "lon": 10}
    # chunks of 4 x 5 cells, at least 256 together, at 1 MB a cell: along lon to 65 (260 cells)
    sizes = cutting.sizes_on_disk({"lat": 40, "lon": 100}, {"lat": 4, "lon": 5}, lambda cells: float(cells), 1000.0)
    assert sizes == {"lat": 4, "lon": 65}


def test_lazy_weather_stays_lazy_and_runs_on_a_cluster(roof, grid, in_one_go) -> None:
    distributed = pytest.importorskip("distributed", reason="the cluster needs the extra `large`")
    lazy = runoff.summarize(runoff.simulate(roof, grid.chunk({"lat": 1, "lon": 2})))
    assert lazy["retention"].chunks, "the run was computed before it was asked for"
    cluster = distributed.LocalCluster(n_workers=1, threads_per_worker=2, processes=False, dashboard_address=None)
    with cluster, distributed.Client(cluster):
        computed = lazy.compute()
    assert_figures_of(computed, in_one_go[1])
    assert_same_bits(computed, lazy.compute(scheduler="synchronous"))


def test_stream_runs_on_a_cluster(roof, grid, streamed, tmp_path: Path) -> None:
    distributed = pytest.importorskip("distributed", reason="the cluster needs the extra `large`")
    seen = []
    cluster = distributed.LocalCluster(n_workers=1, threads_per_worker=2, processes=False, dashboard_address=None)
    with cluster, distributed.Client(cluster):
        made = runoff.stream(
            roof,
            grid.chunk(lat=1, time=200),
            tmp_path / "a.zarr",
            pieces={"lat": 1},
            progress=lambda done, of: seen.append(done),
        )
        with pytest.raises(RunoffError, match="stream: workers=2 are threads of this machine, but a cluster is open"):
            runoff.stream(roof, grid, tmp_path / "b.zarr", workers=2)
    assert seen == [1, 2, 3]
    assert_same_bits(made, streamed)


def test_a_store_without_rain_on_time(roof: runoff.Roof, grid: xr.Dataset, tmp_path: Path) -> None:
    for weather in (grid.drop_vars("rain"), grid.assign(rain=grid["rain"].isel(time=0, drop=True))):
        with pytest.raises(RunoffError, match=r"stream: the weather needs `rain` on time \(given "):
            runoff.stream(roof, weather, tmp_path / "out.zarr")


def test_a_place_that_the_grid_does_not_have(roof: runoff.Roof, grid: xr.Dataset, tmp_path: Path) -> None:
    sites = (
        grid.stack(site=("lat", "lon"))
        .drop_vars(["site", "lat", "lon"])
        .assign_coords(site=list("abcdefghijkl"), lat=47.0)
    )
    with pytest.raises(RunoffError, match="stream: cells: place 1: there is no site z"):
        runoff.stream(roof, sites, tmp_path / "out.zarr", cells=[{"site": "z"}])


def test_a_figure_is_no_series(roof: runoff.Roof, grid: xr.Dataset, tmp_path: Path) -> None:
    with pytest.raises(
        RunoffError, match="stream: balance_error is no series; series vary on time, for example overflow"
    ):
        runoff.stream(roof, grid, tmp_path / "out.zarr", variables=("balance_error",))


def test_results_that_were_taken_away(roof: runoff.Roof, grid: xr.Dataset, tmp_path: Path) -> None:
    target = tmp_path / "out.zarr"
    runoff.stream(roof, grid, target, pieces={"lat": 1})
    group = zarr.open_group(target, mode="r+")
    group.attrs[completing._COMPLETE] = False
    array = group[completing._COUNTED]
    array[0] = np.nan
    with pytest.raises(RunoffError, match=r"1 of 3 pieces in .* lack results they had; were files removed"):
        completing.check_complete(target, [{"lat": slice(i, i + 1), "lon": slice(0, 4)} for i in range(3)])


def test_cells_that_lack_a_day_are_told_of(roof: runoff.Roof, grid: xr.Dataset, tmp_path: Path) -> None:
    with pytest.warns(
        runoff.errors.RunoffWarning, match="1 cell has weather on a part of the steps only; it is missing in"
    ):
        runoff.stream(roof, grid, tmp_path / "out.zarr")


@pytest.mark.parametrize("fault", ["closed", "called off", "killed", "not seen"])
def test_a_cluster_that_goes_away_is_a_sentence(fault: str, monkeypatch: pytest.MonkeyPatch) -> None:
    distributed = pytest.importorskip("distributed", reason="clusters need the extra `large`")
    faults = {
        "closed": (
            distributed.comm.CommClosedError("in <TCP>: Stream is closed"),
            "stream: the connection to the cluster was lost (in <TCP>: Stream is closed); 3 of 12 pieces are finished and kept. Call it again, with a "
            "cluster or without, and the rest is done",
        ),
        "called off": (
            distributed.CancelledError("write_figures-a86b cancelled"),
            "stream: the connection to the cluster was lost (its results were called off); 3 of 12 pieces are finished and kept. Call it again",
        ),
        "not seen": (
            FileNotFoundError(2, "No such file or directory", "/data/out.zarr"),
            "stream: a worker of the cluster does not find /data/out.zarr; 3 of 12 pieces are finished and kept. Workers need to see the",
        ),
        "killed": (
            distributed.KilledWorker("step-1", None, 3),
            "stream: workers of the cluster ended while they ran one and the same piece, often for want of memory; 3 of 12 pieces are",
        ),
    }
    error, message = faults[fault]
    given_back = []

    class Client:
        status = "running"

        def compute(self, chains, optimize_graph):
            return chains

        def cancel(self, futures):
            given_back.extend(futures)
            raise distributed.comm.CommClosedError  # it went away in the meantime: no word of that

    class Gone:
        def result(self):
            raise error

    monkeypatch.setattr(distributed, "as_completed", iter)
    with pytest.raises(RunoffError, match=re.escape(message)):
        list(scheduling._on_cluster(Client(), [Gone()], lambda: (3, 12)))
    assert len(given_back) == 1


def test_workers_that_run_in_another_folder_find_a_target_given_shortly(
    roof: runoff.Roof, grid: xr.Dataset, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What the steps of a piece carry is the whole path; what a person is told is the path as given."""
    grid.chunk().drop_attrs(deep=False).to_zarr(tmp_path / "in.zarr", zarr_format=3, consolidated=False)
    monkeypatch.chdir(tmp_path)
    carried: list[Path] = []
    plain = running.write_figures
    monkeypatch.setattr(running, "write_figures", lambda *given: (carried.append(given[0].target), plain(*given))[1])
    runoff.stream(roof, "in.zarr", "out.zarr")
    assert carried == [tmp_path / "out.zarr"]


@pytest.mark.slow
def test_a_worker_killed_in_the_middle_costs_nothing_but_time(tmp_path: Path) -> None:
    """The short version of `tests.trials.kill_worker`."""
    distributed = pytest.importorskip("distributed", reason="clusters need the extra `large`")
    source, whole = kill_stream.store(tmp_path, last_year=2002), tmp_path / "whole.zarr"
    kill_worker.streamed(source, whole, -1, lambda: None)
    with kill_worker.two_workers() as cluster, distributed.Client(cluster) as client:
        assert kill_worker.worker_killed(client, source, tmp_path / "out.zarr", whole, 3) == ""


def test_two_runs_into_one_target(roof: runoff.Roof, grid: xr.Dataset, tmp_path: Path) -> None:
    with writing_alone(tmp_path, "out.zarr"):
        with pytest.raises(RunoffError, match=r"another run is writing into .*out\.zarr: wait until it has ended"):
            runoff.stream(roof, grid, tmp_path / "out.zarr")
    assert not (tmp_path / "out.zarr").exists()


def test_a_damaged_part_of_the_store_is_a_sentence(roof: runoff.Roof, grid: xr.Dataset, tmp_path: Path) -> None:
    grid.chunk(lat=1, time=200).drop_attrs(deep=False).to_zarr(tmp_path / "in.zarr", zarr_format=3, consolidated=False)
    part = next(path for path in (tmp_path / "in.zarr" / "rain" / "c").rglob("*") if path.is_file())
    part.write_bytes(part.read_bytes()[:60])
    words = r"stream: a part of the weather cannot be read; the store may be damaged or cut short, fetch it again \(the library says: "
    for told in (None, print):
        with pytest.raises(runoff.WeatherError, match=words):
            runoff.stream(roof, tmp_path / "in.zarr", tmp_path / "out.zarr", told=told)


def test_a_run_that_has_nothing_yet_is_no_obstacle(roof: runoff.Roof, grid: xr.Dataset, tmp_path: Path) -> None:
    """An estimate, or a refusal before the first piece is done, leaves nothing that another run would stumble over."""
    target, wrong = tmp_path / "out.zarr", grid.assign(rain=(-grid["rain"]).assign_attrs(units="mm"))
    with pytest.raises(StoppedError):
        runoff.stream(roof, grid, target, told=_stop_at_estimate)
    assert list(tmp_path.iterdir()) == []
    with pytest.raises(runoff.WeatherError, match="`rain` is negative"):
        runoff.stream(roof, wrong.chunk(lat=1), target)
    assert list(tmp_path.iterdir()) == []
    made = runoff.stream(roof, grid, target)
    assert int(made["retention"].notnull().sum()) == 11


def _stop_at_estimate(estimate: object) -> None:
    raise StoppedError


def test_a_grid_without_any_weather_is_told_of(roof: runoff.Roof, grid: xr.Dataset, tmp_path: Path) -> None:
    with pytest.warns(
        runoff.errors.RunoffWarning, match="stream: no cell has weather at the first step; every result is"
    ):
        made = runoff.stream(roof, grid.assign(rain=grid["rain"] * np.nan), tmp_path / "out.zarr")
    assert made["retention"].isnull().all()


def test_members_with_names_give_no_warning_of_the_library(
    roof: runoff.Roof, grid: xr.Dataset, tmp_path: Path, recwarn: pytest.WarningsRecorder
) -> None:
    named = xr.concat([grid, grid], "member").assign_coords(member=["wet", "dry"]).isel(lon=[0])
    made = runoff.stream(roof, named, tmp_path / "out.zarr")
    assert list(made["member"].to_numpy()) == ["wet", "dry"]
    assert not [str(one.message) for one in recwarn if "Zarr V3 specification" in str(one.message)]
