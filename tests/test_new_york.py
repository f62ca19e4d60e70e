"""Thirty years of a real station: every day against a second reading, and the story a builder would recognise."""

from pathlib import Path

import numpy as np
import pytest
import xarray as xr

import runoff
from runoff.roof.column_values import column_parameters
from tests.balance.page_reading import read_days

pytestmark = [pytest.mark.real_weather, pytest.mark.slow]


@pytest.fixture(scope="module")
def new_york(shared_data: Path) -> xr.Dataset:
    path = shared_data / "daily" / "USW00094728.dly"
    return runoff.read_weather(path, start="1990", end="2019", latitude=40.78, et_method="hargreaves-samani")


def build_up(*, board: bool = True, depth_mm: float = 80.0) -> runoff.BuildUp:
    top = [
        runoff.Planting(canopy_storage_mm=1.0),
        runoff.GrowingMedium(depth_mm=depth_mm, porosity=0.60, field_capacity=0.33, wilting_point=0.08),
        runoff.FilterFleece(storage_mm=0.5, flow_mm_per_h=36000.0),
    ]
    with_cups = runoff.DrainageBoard(
        height_mm=25.0, cup_storage_mm=3.5, void_storage_mm=10.0, in_plane_flow_l_per_s_m=0.7, in_plane_gradient=0.02
    )
    mat = runoff.ProtectionMat(
        storage_mm=4.0, void_storage_mm=0.5, in_plane_flow_l_per_s_m=0.003, in_plane_gradient=1.0
    )
    return runoff.BuildUp(layers=[*top, *([with_cups] if board else []), mat])


OUTLET = runoff.Outlet(kind="round", diameter_mm=100.0, strainer=True, design_head_mm=35.0)


def roof(**given) -> runoff.Roof:
    board = given.pop("board", True)
    return runoff.Roof(
        build_up=build_up(board=board), area_m2=100.0, flow_length_m=8.0, outlets=[OUTLET],
        **{"fall": 0.02, **given},
    )  # fmt: skip


CASES = {
    "board": roof(),
    "mat alone, nearly flat": roof(board=False, fall=0.005),
    "blocked": roof(blocked_fraction=1.0),
    "blocked, overflow below the board's top": roof(
        blocked_fraction=1.0, emergency_overflow_mm=20.0, emergency_width_mm=300.0, emergency_height_mm=100.0
    ),
    "blocked, overflow within the medium": roof(
        blocked_fraction=1.0, emergency_overflow_mm=60.0, emergency_width_mm=300.0, emergency_height_mm=100.0
    ),
}
NOT_DEPTH = (
    "throughfall", "bypass", "percolation", "drained", "spilled", "evapotranspiration", "surface_water", "held_water",
    "cup_water", "mat_water", "free_water", "snow_water", "medium_water", "board_water", "pond_water", "waterlogged", "dry",
)  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_every_flux_and_store_of_ten_years(new_york: xr.Dataset, case: str) -> None:
    """Against the second reading, written from the equations: 1e-9 mm is far above rounding, far below any drop."""
    years = new_york.sel(time=slice("1990", "1999"))
    run = runoff.simulate(CASES[case], years, warm_up_years=0)
    mean = ((years["tmin"] + years["tmax"]) / 2.0).to_numpy()
    read = read_days(column_parameters(CASES[case]), years["rain"].to_numpy(), run["reference_et"].to_numpy(), mean)
    for name in NOT_DEPTH:
        assert np.abs(run[name].to_numpy().astype(float) - read[name].astype(float)).max() < 1e-9, name
    assert float(run["balance_error"]) < 1e-9


def test_the_story_a_builder_would_recognise(new_york: xr.Dataset) -> None:
    runs = runoff.summarize(runoff.simulate(CASES, new_york))
    wet = runs["waterlogged_days"].to_series()
    assert wet["board"] == 0.0 and wet["blocked, overflow below the board's top"] == 0.0
    assert wet["blocked"] > 300.0 and wet["mat alone, nearly flat"] > 50.0
    kept = runs["retention"].to_series()
    # a clogged roof keeps more, and drowns its plants for it
    assert kept["board"] < kept["blocked, overflow within the medium"] < kept["blocked"]
