"""Grids piece by piece when something is wrong: units in any chunks, full disks, places that are none; what is left then."""

import errno
import os
import re
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import runoff
from runoff.errors import RunoffError, RunoffWarning
from runoff.streaming import damage, grid_weather, pieces_left, scheduling
from runoff.streaming import target as targets
from tests.small_grids import grid_of_ostrey

pytest.importorskip("dask", reason="large grids need the extra `large`")
pytest.importorskip("zarr", reason="large grids need the extra `large`")


@pytest.fixture(scope="module")
def roof() -> runoff.Roof:
    return runoff.open_sample_roof("cups")


@pytest.fixture(scope="module")
def grid() -> xr.Dataset:
    return grid_of_ostrey(7, 0.8, 1.2)


def in_inches(grid: xr.Dataset, where: tuple[int, ...] | slice) -> xr.Dataset:
    """Return the grid with rain of some cells in inches, still called mm."""
    wrong = grid.copy(deep=True)
    wrong["rain"][where] = wrong["rain"][where] / 25.4
    return wrong


@pytest.mark.parametrize("days", [-1, 400, 100, 30, 1], ids="in stretches of {} days".format)
@pytest.mark.parametrize("start", [None, "dry"], ids=["after a warm-up", "from a start"])
def test_inches_called_mm_are_refused_however_time_is_cut(roof, grid, tmp_path: Path, days: int, start) -> None:
    wrong = in_inches(grid, slice(None)).isel(lon=slice(2)).chunk(time=days)
    with pytest.raises(runoff.WeatherError, match=r"stream: rain: lat 46.0, lon 4.0, and others: .* inches, cm or m"):
        runoff.stream(roof, wrong, tmp_path / "out.zarr", start_moisture=start)
    assert list(tmp_path.iterdir()) == []


def test_inches_of_a_record_shorter_than_a_year_are_refused(roof, grid, tmp_path: Path) -> None:
    wrong = in_inches(grid, slice(None)).isel(time=slice(330)).chunk(time=50)
    for years in (0, 1):  # as it is, and gone through twice
        with pytest.raises(runoff.WeatherError, match="inches, cm or m read as mm"):
            runoff.stream(roof, wrong, tmp_path / "out.zarr", warm_up_years=years)


@pytest.mark.parametrize("chunks", [{"lat": 1}, {"lat": 2, "lon": 2, "time": 90}, {"time": 30}], ids=str)
def test_a_single_odd_cell_is_told_of_and_not_refused_however_small_its_chunk(
    roof, grid, tmp_path: Path, chunks
) -> None:
    """Of the 12 cells one is odd, less than a tenth; in its own chunk of 4 it would be more."""
    wrong = in_inches(grid, (2, 3))
    words = r"rain: 1 of {} cells looks odd, first lat 48.0, lon 7.0: .* inches, cm or m read as mm"
    with pytest.warns(RunoffWarning, match="simulate: " + words.format(12)):
        runoff.simulate(roof, wrong)
    for scheduler in ("threads", "processes"):
        if scheduler == "processes" and chunks != {"lat": 1}:
            continue
        import dask

        with (
            dask.config.set(scheduler=scheduler, num_workers=2),
            pytest.warns(RunoffWarning, match="stream: " + words.format(12)),
        ):
            made = runoff.stream(roof, wrong.chunk(chunks), tmp_path / f"{scheduler}.zarr")
        assert int(made["retention"].notnull().sum()) == 12
    with pytest.warns(RunoffWarning, match="simulate: " + words.format("[0-9]+")):
        runoff.simulate(roof, wrong.chunk(chunks))["overflow"].sum().compute()


def test_a_chunk_of_one_odd_cell_is_refused_and_named_alone(roof, grid, tmp_path: Path) -> None:
    wrong = in_inches(grid, (2, 3)).chunk(lat=1, lon=1)
    with pytest.raises(runoff.WeatherError, match=r"stream: rain: lat 48.0, lon 7.0: .* inches, cm or m read as mm"):
        runoff.stream(roof, wrong, tmp_path / "out.zarr", pieces={"lat": 1, "lon": 1})


def test_all_places_that_are_none_are_named_in_one_message(roof, grid, tmp_path: Path) -> None:
    places = [
        {"lat": 46.0, "lon": 4.0},
        {"lat": 60.0, "lon": 4.0},
        {"lat": 46.0, "lon": np.nan},
        {"lat": "north", "lon": 4.0},
    ]
    words = (
        "stream: cells: place 2: lat 60.0 lies in no cell; the grid runs from 46 to 48\n"
        "stream: cells: place 3: lon must be a number (given empty)\n"
        "stream: cells: place 4: lat must be a number (given 'north')"
    )
    with pytest.raises(RunoffError, match=f"^{re.escape(words)}$"):
        runoff.stream(roof, grid, tmp_path / "out.zarr", cells=places)


@pytest.mark.parametrize(
    "cells",
    ["cells.csv", ["46,4"], np.ones((3, 4), dtype=bool), pd.DataFrame({"lat": [46.0], "lon": [4.0]}), 5],
    ids=["path", "text", "array", "table", "number"],
)
def test_cells_of_another_kind_are_refused(roof, grid, tmp_path: Path, cells) -> None:
    words = r"stream: cells must be a mask \(an xarray.DataArray on lat, lon\) or a list of places such as "
    with pytest.raises(RunoffError, match=words):
        runoff.stream(roof, grid, tmp_path / "out.zarr", cells=cells)


@pytest.mark.parametrize("kind", [errno.ENOSPC, errno.EDQUOT], ids=["full", "over quota"])
def test_a_full_disk_is_a_sentence_and_the_rest_is_done_later(
    roof, grid, tmp_path: Path, monkeypatch, kind: int
) -> None:
    whole, write, written = tmp_path / "out.zarr", targets.write, []

    def filling(*given) -> None:
        if len(written) == 2:
            raise OSError(kind, os.strerror(kind))
        written.append(1)
        write(*given)

    monkeypatch.setattr(targets, "write", filling)
    words = f"stream: cannot write into {whole}: {os.strerror(kind)}; 2 of 3 pieces are finished and kept. Make room and call it again: the rest is done"
    import dask

    with dask.config.set(scheduler="synchronous"), pytest.raises(RunoffError, match=f"^{re.escape(words)}$"):
        runoff.stream(roof, grid, whole, pieces={"lat": 1})
    assert pieces_left(whole) == 1
    monkeypatch.undo()
    assert int(runoff.stream(roof, grid, whole, pieces={"lat": 1})["retention"].notnull().sum()) == 12


def test_a_disk_that_is_full_as_a_target_begins_leaves_nothing(roof, grid, tmp_path: Path, monkeypatch) -> None:
    def full(*given, **words) -> None:
        (Path(given[1]) / "half").mkdir(parents=True)
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(xr.Dataset, "to_zarr", full)
    words = f"stream: cannot write {tmp_path / 'out.zarr'}: No space left on device; nothing is left of it. Make room, or choose another folder"
    with pytest.raises(RunoffError, match=f"^{re.escape(words)}$"):
        runoff.stream(roof, grid, tmp_path / "out.zarr")
    assert list(tmp_path.iterdir()) == []


def test_a_disk_that_is_full_for_a_moment_is_no_obstacle(roof, grid, tmp_path: Path, monkeypatch) -> None:
    """Of the arrays that are written side by side as a target begins, one fails: the others are not written after it, into the next try."""
    from zarr.storage import LocalStore

    put, done = LocalStore.set, []

    async def full_once(store, key, value) -> None:
        if "/zarr.json" in key:
            done.append(key)
            if len(done) == 20:
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        await put(store, key, value)

    monkeypatch.setattr(LocalStore, "set", full_once)
    words = f"stream: cannot write {tmp_path / 'out.zarr'}: No space left on device; nothing is left of it. Make room, or choose another folder"
    with pytest.raises(RunoffError, match=f"^{re.escape(words)}$"):
        runoff.stream(roof, grid, tmp_path / "out.zarr")
    assert list(tmp_path.iterdir()) == []
    assert int(runoff.stream(roof, grid, tmp_path / "out.zarr")["retention"].notnull().sum()) == 12
    assert sorted(path.name for path in tmp_path.iterdir()) == ["out.zarr"]


def test_a_full_disk_of_a_worker_is_not_called_a_lost_cluster() -> None:
    assert damage.is_of_the_disk(OSError(errno.ENOSPC, "No space left on device"))
    assert not damage.is_of_the_disk(FileNotFoundError(errno.ENOENT, "No such file"))


def test_a_refusal_leaves_the_pieces_that_are_done(roof, grid, tmp_path: Path) -> None:
    """Each row of cells is wrong in turn: whatever the order of the pieces, in one of the runs others are done before."""
    import dask

    left = []
    for row in range(3):
        wrong, target = grid.copy(deep=True), tmp_path / f"{row}.zarr"
        wrong["rain"][row, 0, 50] = -1.0
        with dask.config.set(scheduler="synchronous"), pytest.raises(runoff.WeatherError, match="negative"):
            runoff.stream(roof, wrong.chunk(lat=1), target, pieces={"lat": 1})
        left.append(pieces_left(target) if target.exists() else 3)
    assert sorted(left) == [1, 2, 3]


def test_threads_rest_when_a_run_has_ended_in_an_error() -> None:
    """What a thread had begun is written before the target may be removed, or written by another run."""
    import threading
    import time

    import dask

    begun, ended = threading.Event(), []

    def slow() -> int:
        begun.set()
        time.sleep(0.3)
        ended.append(1)
        return 1

    def wrong() -> int:
        begun.wait(5.0)
        raise ValueError("wrong")

    with dask.config.set(num_workers=2), pytest.raises(ValueError, match="wrong"):
        scheduling._here([dask.delayed(slow)(), dask.delayed(wrong)()], lambda one: None)
    assert ended == [1]


@pytest.mark.parametrize("chunks", [{}, {"time": 100}, {"lat": 1, "time": 399}], ids=str)
def test_hours_are_run_in_the_stretches_in_which_they_are_stored(roof, grid, tmp_path: Path, chunks) -> None:
    """The last stretch of 399 and 1 hours is of one step, which still knows how long it is."""
    hours = grid.isel(time=slice(400), lon=slice(2)).assign_coords(
        time=np.datetime64("2001-06-01", "ns") + np.arange(400) * np.timedelta64(1, "h")
    )
    hours = hours.assign(rain=(hours["rain"] / 10.0).assign_attrs(units="mm"))
    lazy = hours.chunk(chunks)
    spans = grid_weather.time_spans(grid_weather.prepared(lazy, None, {"lat": 3, "lon": 2}, traced=True))
    assert len(spans) == len(lazy["rain"].chunksizes["time"])
    made, alone = runoff.stream(roof, lazy, tmp_path / "out.zarr"), runoff.summarize(runoff.simulate(roof, hours))
    for name in ("retention", "peak_discharge", "annual_rain"):
        np.testing.assert_allclose(made[name], alone[name], rtol=1e-12)


@pytest.mark.parametrize("chunks", [{}, {"time": 100}], ids=str)
def test_series_of_a_large_chunk_are_run_in_parts_of_it(roof, grid, tmp_path: Path, chunks) -> None:
    """12 cells of 424 days take 3.3 MB with their series; in 1.5 MB no more than 5 cells fit."""
    pieces: list[int] = []
    lazy = grid.chunk(chunks)
    made = runoff.stream(
        roof, lazy, tmp_path / "out.zarr", variables=["overflow"], memory_mb=1.5 if not chunks else 0.5,
        progress=lambda done, whole: pieces.append(whole),
    )  # fmt: skip
    assert pieces[0] > 1
    whole = runoff.simulate(roof, grid)["overflow"]
    np.testing.assert_array_equal(made["overflow"].transpose(*whole.dims), whole)
    with pytest.raises(
        runoff.WeatherError, match=r"a piece of 1 lat x 1 lon takes about .* Allow more \(memory_mb=\), or store"
    ):
        runoff.stream(roof, lazy, tmp_path / "no.zarr", variables=["overflow"], memory_mb=0.01)


def test_pieces_left_of_no_target(tmp_path: Path) -> None:
    with pytest.raises(
        RunoffError, match=r"pieces_left: .*nowhere.zarr is not the target of a streamed run; give the folder"
    ):
        pieces_left(tmp_path / "nowhere.zarr")
