"""Soil-water examples of FAO-56 as a water balance through the package's own column."""

import functools

import numpy as np
import pytest

from tests.published.cases import each_row, hold, read_cases
from tests.published.soil_water import available_and_ready, bare_soil, decay, drying, irrigated

drying = functools.cache(drying)
decay = functools.cache(decay)
bare_soil = functools.cache(bare_soil)
WITH_MISPRINTS = ("V+R", "R", "misprint")
IRRIGATED = irrigated([param.values[0] for param in read_cases("fao56_daily_balance.csv", quantity="depletion")])


@each_row(read_cases("available_water.csv"))
def test_total_and_readily_available_water(row: dict) -> None:
    available, ready = available_and_ready(row)
    hold(available if row["quantity"] == "available" else ready, row)


@each_row(read_cases("fao56_stress_days.csv", statuses=WITH_MISPRINTS))
def test_stress_and_depletion_day_by_day(row: dict) -> None:
    day = drying(float(row["crop_coefficient"])).isel(time=int(row["day"]) - 1)
    if row["quantity"] == "stress coefficient":
        hold(1.0 - float(day["water_stress"]), row)
    else:
        hold(day[row["quantity"]], row)


@each_row(read_cases("fao56_daily_balance.csv"))
def test_irrigation_and_percolation_day_by_day(row: dict) -> None:
    # day 10: the print takes 27 mm to fill 27.457 mm exactly; unrounded 0.457 mm stay open, as they do here
    day = IRRIGATED.isel(time=int(row["day"]) - 1)
    hold(day["overflow" if row["quantity"] == "percolation" else row["quantity"]], row)


def test_the_order_of_the_table_and_not_of_its_equation() -> None:
    # Ex. 38 is tabulated spill first: 40 - 23.4 = 16.6 mm on day 1. Eq. 88 would give 40 - 5.445 - 23.4 = 11.155 mm.
    assert float(IRRIGATED["overflow"][0]) == pytest.approx(16.6, abs=1e-9)
    arrived, left = float(IRRIGATED["rain"].sum()), float(IRRIGATED["overflow"].sum())
    change = float(IRRIGATED["depletion"][-1]) - 23.4
    assert arrived == pytest.approx(float(IRRIGATED["evapotranspiration"].sum()) + left - change, abs=1e-9)


@each_row(read_cases("fao56_two_stage_drying.csv"))
def test_two_stage_drying_of_a_bare_surface(row: dict) -> None:
    day = bare_soil().isel(time=int(row["day"]) - 1)
    evaporation = float(day["evapotranspiration"])
    found = {
        "depletion": float(day["depletion"]),
        "evaporation": evaporation,
        "reduction": 1.0 - float(day["water_stress"]),
        "coefficient": evaporation / 4.5,  # of 4.5 mm/day
    }
    hold(found[row["quantity"]], row)


@each_row(read_cases("moisture_decay.csv"))
def test_linear_drying_has_a_closed_form(row: dict) -> None:
    capacity = float(row["capacity_mm"])
    evaporated = decay(capacity, float(row["reference_et_mm"]), 28)["evapotranspiration"].to_numpy()[: int(row["day"])]
    found = {
        "evapotranspiration of the day": evaporated[-1],
        "evapotranspiration so far": np.sum(evaporated),
        "storage after it": capacity - np.sum(evaporated),
    }
    hold(found[row["quantity"]], row)
