"""Soil-water examples of FAO-56 as a water balance through the package's own column."""

import functools

import numpy as np
import pytest

from tests.published.cases import read_cases
from tests.published.soil_water import available_and_ready, bare_soil, decay, drying, irrigated

drying = functools.cache(drying)
decay = functools.cache(decay)
EXACT = 1e-4  # unrounded values are given to four decimals


def rows(name: str, **kept: tuple[str, ...]) -> list[dict[str, str]]:
    return [param.values[0] for param in read_cases(name, **kept)]


@pytest.mark.parametrize("row", read_cases("fao56_available_water.csv"))
def test_total_and_readily_available_water(row: dict) -> None:
    available, ready = available_and_ready(row)
    assert available == pytest.approx(float(row["expected_available_mm"]), abs=float(row["tolerance"]))
    assert ready == pytest.approx(float(row["expected_ready_mm"]), abs=float(row["tolerance"]))


@pytest.mark.parametrize("row", read_cases("fao56_stress_days.csv"))
def test_stress_and_depletion_day_by_day(row: dict) -> None:
    day = drying(float(row["crop_coefficient"])).isel(time=int(row["day"]) - 1)
    assert float(day["depletion"]) == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))
    assert float(day["depletion"]) == pytest.approx(float(row["unrounded"]), abs=EXACT)
    stress = 1.0 - float(day["water_stress"])
    assert stress == pytest.approx(float(row["expected_stress"]), abs=float(row["stress_tolerance"]))


def test_the_misprint_of_the_second_edition_is_still_one() -> None:
    (row,) = rows("fao56_stress_days.csv", statuses=("misprint",))
    found = float(drying(float(row["crop_coefficient"]))["depletion"][-1])
    assert abs(found - float(row["expected"])) > float(row["tolerance"])
    assert found == pytest.approx(float(row["unrounded"]), abs=EXACT)


TABLE = rows("fao56_daily_balance.csv")
IRRIGATED = irrigated(TABLE)


@pytest.mark.parametrize("row", read_cases("fao56_daily_balance.csv"))
def test_irrigation_and_percolation_day_by_day(row: dict) -> None:
    day = IRRIGATED.isel(time=int(row["day"]) - 1)
    assert float(day["overflow"]) == pytest.approx(float(row["expected_percolation_mm"]), abs=float(row["tolerance"]))
    assert float(day["depletion"]) == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))
    # day 10: the print takes 27 mm to fill 27.457 mm exactly; unrounded 0.457 mm stay open, as they do here
    assert float(day["depletion"]) == pytest.approx(float(row["unrounded"]), abs=1e-3)  # given to three decimals


def test_the_order_of_the_table_and_not_of_its_equation() -> None:
    # Ex. 38 is tabulated spill first: 40 - 23.4 = 16.6 mm on day 1. Eq. 88 would give 40 - 5.445 - 23.4 = 11.155 mm.
    assert float(IRRIGATED["overflow"][0]) == pytest.approx(16.6, abs=1e-9)
    arrived, left = float(IRRIGATED["rain"].sum()), float(IRRIGATED["overflow"].sum())
    change = float(IRRIGATED["depletion"][-1]) - 23.4
    assert arrived == pytest.approx(float(IRRIGATED["evapotranspiration"].sum()) + left - change, abs=1e-9)


@pytest.mark.parametrize("row", read_cases("fao56_two_stage_drying.csv"))
def test_two_stage_drying_of_a_bare_surface(row: dict) -> None:
    found = float(bare_soil()["depletion"][int(row["day"]) - 1])
    assert found == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))
    assert found == pytest.approx(float(row["unrounded"]), abs=EXACT)


@pytest.mark.parametrize("row", read_cases("moisture_decay.csv"))
def test_linear_drying_has_a_closed_form(row: dict) -> None:
    run = decay(float(row["capacity_mm"]), float(row["reference_et_mm"]), 28)
    evaporated = run["evapotranspiration"].to_numpy()[: int(row["day"])]
    assert evaporated[-1] == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))
    assert np.sum(evaporated) == pytest.approx(float(row["expected_sum_mm"]), abs=float(row["tolerance"]))
