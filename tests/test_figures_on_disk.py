"""Figures of a run on disk are formed without its series, and are those of the same run in memory."""

from typing import Any

import numpy as np
import pytest
import xarray as xr

import runoff
from runoff.simulation.on_disk import origin_of
from tests.small_grids import grid_that_lacks_a_day

pytest.importorskip("dask", reason="weather on disk needs the extra `large`")
pytestmark = pytest.mark.filterwarnings("ignore:simulate. some cells of the grid have:runoff.errors.RunoffWarning")


@pytest.fixture(scope="module")
def roof() -> runoff.Roof:
    return runoff.open_sample_roof("cups")


@pytest.fixture(scope="module")
def grid() -> xr.Dataset:
    return grid_that_lacks_a_day()


def assert_alike(on_disk: xr.Dataset, in_memory: xr.Dataset) -> None:
    """Sums are added up in another order, counts are the same."""
    assert list(on_disk) == list(in_memory) and on_disk.attrs == in_memory.attrs
    for name in in_memory:
        one, other = on_disk[name], in_memory[name]
        assert set(one.dims) == set(other.dims) and one.attrs == other.attrs and set(one.coords) == set(other.coords), (
            name
        )
        one = one.transpose(*other.dims)
        np.testing.assert_allclose(one, other, rtol=1e-10, atol=1e-9, err_msg=str(name))
        if name.endswith(("_days", "_spell")):
            np.testing.assert_allclose(one, other, rtol=1e-14, err_msg=str(name))


CASES: dict[str, tuple[dict[str, int], dict[str, Any]]] = {
    "cells": ({"lat": 1, "lon": 2}, {}),
    "time": ({"time": 50}, {}),
    "a start": ({"lat": 1}, {"start_moisture": "dry"}),
    "a share and two years before": ({"lat": 1, "time": 100}, {"start_moisture": 0.5, "warm_up_years": 2}),
    "other limits": ({"lat": 1}, {"limits": runoff.RootLimits(tolerance_days=4.0, warm_c=8.0, dry_share=0.3)}),
}


@pytest.mark.parametrize(("chunks", "words"), CASES.values(), ids=list(CASES))
def test_figures_of_one_roof(roof, grid, chunks, words) -> None:
    run = runoff.simulate(roof, grid.chunk(chunks), **words)
    assert origin_of(run) is not None
    facts = runoff.summarize(run)
    assert facts["retention"].chunks
    assert_alike(facts.compute(), runoff.summarize(runoff.simulate(roof, grid, **words)))


def test_roofs_and_members(roof, grid) -> None:
    roofs = {
        "as it is": roof,
        "thin": roof.replace({"medium.depth_mm": 40}),
        "blocked": roof.replace({"roof.blocked_fraction": 0.995}),
    }
    grid = grid.isel(
        lat=[0, 2]
    )  # without the cell that lacks a day: where one does, a run in memory repeats rain for each design
    members = grid.assign(rain=xr.concat([grid["rain"], 1.2 * grid["rain"]], "member").assign_attrs(units="mm"))
    for weather in (grid, members):
        facts = runoff.summarize(runoff.simulate(roofs, weather.chunk(lat=1))).compute()
        assert_alike(facts, runoff.summarize(runoff.simulate(roofs, weather)))


def test_given_evapotranspiration_without_temperature(roof, grid) -> None:
    given = grid.assign(reference_et=runoff.reference_et(grid)).drop_vars(["tmin", "tmax"])
    facts = runoff.summarize(runoff.simulate(roof, given.chunk(lat=1))).compute()
    assert_alike(facts, runoff.summarize(runoff.simulate(roof, given)))


def test_months_that_a_record_lacks_are_missing_and_not_without_rain(roof, grid, tmp_path) -> None:
    pytest.importorskip("zarr", reason="a stream needs the extra `large`")
    summer = grid.sel(time=slice("2001-05", "2001-09"))
    facts = runoff.summarize(runoff.simulate(roof, summer.chunk(lat=1))).compute()
    assert_alike(facts, runoff.summarize(runoff.simulate(roof, summer)))
    streamed = runoff.stream(roof, summer.isel(lat=[0]).chunk(), tmp_path / "out.zarr").load()
    for made in (facts, streamed):
        known = made["month_rain"].isel(lat=0, lon=0).notnull()
        np.testing.assert_array_equal(made["month"].where(known, drop=True), [5, 6, 7, 8, 9])


def test_no_series_is_worked_out(roof, grid, monkeypatch) -> None:
    facts = runoff.summarize(runoff.simulate(roof, grid.chunk(lat=1)))
    names = " ".join(str(key) for key in facts.__dask_graph__())
    assert "run_part" in names and "trace" not in names


def test_a_run_that_was_changed_is_summed_from_its_series(roof, grid) -> None:
    run, alone = runoff.simulate(roof, grid.chunk(lat=1)), runoff.simulate(roof, grid)
    changes = [
        lambda one: one.sel(time=slice("2001-03", "2001-10")),
        lambda one: one.isel(lat=[0]),
        lambda one: one.assign(rain=2.0 * one["rain"]),
        lambda one: one.assign_coords(time=one["time"] + np.timedelta64(30, "D")),
    ]
    for change in changes:
        assert origin_of(change(run)) is None
        assert_alike(runoff.summarize(change(run)).compute(), runoff.summarize(change(alone)))
    assert_alike(runoff.summarize(run, warm_c=12.0).compute(), runoff.summarize(alone, warm_c=12.0))


def test_checks_stay_part_of_the_graph(roof, grid) -> None:
    wrong = grid.copy(deep=True)
    wrong["rain"][2, 1, 60] = -3.0
    with pytest.raises(runoff.WeatherError, match="`rain` is negative"):
        runoff.summarize(runoff.simulate(roof, wrong.chunk(lat=1)))["retention"].compute()


@pytest.mark.parametrize("kind", ["run-on", "irrigation"])
def test_what_needs_its_series_keeps_them(roof, grid, kind: str) -> None:
    other = roof.replace({"roof.run_on_area_m2": 50.0}) if kind == "run-on" else roof
    words = {} if kind == "run-on" else {"irrigation": runoff.IrrigationRule()}
    run = runoff.simulate(other, grid.chunk(lat=1), **words)
    assert origin_of(run) is None
    assert_alike(runoff.summarize(run).compute(), runoff.summarize(runoff.simulate(other, grid, **words)))
