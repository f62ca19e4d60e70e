"""Thirty years of a real station: every day against a second reading, and the story a builder would recognise."""

from pathlib import Path

import numpy as np
import pytest
import xarray as xr

import runoff
from tests.balance.page_reading import Column

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


# The same roofs in the words of the second reading, worked out by hand from the numbers above:
# S_wp = 0.08 x 80 = 6.4, S_fc = 0.33 x 80 = 26.4, S_sat = 0.60 x 80 = 48; M_max = 4 + 0.5.
# Outlet at 35 mm with a strainer: 0.5 x 100 x 35^1.5 / 7500 L/s = 1.38042 L/s, over 100 m2 3600/100 times that, mm/h.
OUTLET_MM_PER_H = 36.0 * 0.5 * 100.0 * 35.0**1.5 / 7500.0
# Board at its test gradient: 3600 x 0.7 / 8 = 315 mm/h, so the outlet limits. Mat at 0.5 %: 3600 x 0.003 x 0.005 / 8.
MAT_MM_PER_H = 3600.0 * 0.003 * 0.005 / 8.0
COMMON = {"U_max": 1.0, "S_wp": 6.4, "S_fc": 26.4, "S_sat": 48.0, "z": 80.0, "K_s": 600.0, "K_f": 36000.0, "M_max": 4.5,
          "mat_supply": 0.25}  # fmt: skip
BOARD = {"C_max": 3.5, "B_max": 10.0, "h_b": 25.0, "cup_supply": 0.5}
CASES = {
    "board": (roof(), Column(**COMMON, **BOARD, q_d=OUTLET_MM_PER_H)),
    "mat alone, nearly flat": (roof(board=False, fall=0.005), Column(**COMMON, B_max=0.5, q_d=MAT_MM_PER_H)),
    "blocked": (roof(blocked_fraction=1.0), Column(**COMMON, **BOARD, q_d=0.0)),
    "blocked, overflow below the board's top": (
        roof(blocked_fraction=1.0, emergency_overflow_mm=20.0),
        Column(**COMMON, **BOARD, q_d=0.0, H=20.0),
    ),
    "half blocked, overflow within the medium": (
        roof(blocked_fraction=0.999, emergency_overflow_mm=60.0),
        Column(**COMMON, **BOARD, q_d=0.001 * OUTLET_MM_PER_H, H=60.0),
    ),
    "blocked, overflow above the medium": (
        roof(blocked_fraction=1.0, emergency_overflow_mm=130.0),
        Column(**COMMON, **BOARD, q_d=0.0, H=130.0),
    ),
}
COMPARED = [
    "throughfall", "percolation", "drained", "spilled", "overflow", "evapotranspiration", "surface_water", "pond_water",
    "medium_water", "cup_water", "mat_water", "board_water", "snow_water", "air_filled_porosity", "waterlogged",
]  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_every_day_of_thirty_years_equals_the_second_reading(new_york: xr.Dataset, case: str) -> None:
    described, page = CASES[case]
    run = runoff.simulate(described, new_york)
    rain, e0 = new_york["rain"].to_numpy(), new_york["reference_et"].to_numpy()
    mean = ((new_york["tmin"] + new_york["tmax"]) / 2.0).to_numpy()
    page.start()
    for day in range(365):  # 1990: the warm-up, left out of every figure
        page.day(rain[day], e0[day], mean[day])
    theirs = [page.day(rain[day], e0[day], mean[day]) for day in range(rain.size)]
    for name in COMPARED:
        expected = np.array([day[name] for day in theirs])
        # the figure the design of the balance asks for: 1 nm of water on every day of 10,957
        np.testing.assert_allclose(run[name].to_numpy(), expected, rtol=0, atol=1e-9, err_msg=name)
    assert max(abs(day["balance"]) for day in theirs) < 1e-9
    assert float(run["balance_error"]) < 1e-9
    stores = COMPARED[6:13]
    change = sum(theirs[-1][name] for name in stores) - (sum(theirs[0][name] for name in stores))
    first = theirs[0]
    total = rain[1:].sum() - sum(day["evapotranspiration"] + day["overflow"] for day in theirs[1:]) - change
    assert abs(total) < 1e-8  # over thirty years
    assert first["balance"] == pytest.approx(0.0, abs=1e-9)


@pytest.fixture(scope="module")
def facts(new_york: xr.Dataset) -> dict[str, xr.Dataset]:
    return {case: runoff.summarize(runoff.simulate(described, new_york)) for case, (described, _) in CASES.items()}


def test_without_a_board_it_stands_waterlogged_for_weeks_a_year(facts: dict[str, xr.Dataset]) -> None:
    assert float(facts["mat alone, nearly flat"]["waterlogged_days"]) > 3 * 7
    assert float(facts["board"]["waterlogged_days"]) == 0.0


def test_a_blocked_outlet_drowns_it_and_a_low_overflow_saves_it(facts: dict[str, xr.Dataset]) -> None:
    assert float(facts["blocked"]["longest_waterlogged_spell"]) > 28  # beyond the published pot test
    assert float(facts["blocked, overflow below the board's top"]["waterlogged_days"]) == 0.0


def test_retention_lies_between_the_bare_roof_and_what_could_evaporate(
    facts: dict[str, xr.Dataset], new_york: xr.Dataset
) -> None:
    board = facts["board"]
    assert float(board["bare_retention"]) < float(board["retention"]) < 1.0
    # nothing retained can exceed what the reference evapotranspiration could take (published check: 40-75 % of it)
    assert float(board["annual_capture_mm"]) < float(new_york["reference_et"].sum()) / 30.0
