"""The tray on the scales: the closed form comes back, ranges hold the truth, and tests that cannot carry a fit are refused."""

import re

import numpy as np
import pandas as pd
import pytest

import runoff
from runoff.calibration import fit_tray
from runoff.errors import RunoffError


@pytest.fixture(scope="module")
def roof() -> runoff.Roof:
    return runoff.open_sample_roof("cups")


def refused(message: str, call, *given, **named) -> None:
    with pytest.raises(RunoffError) as caught:
        call(*given, **named)
    assert str(caught.value) == message


def drying(days: int, *, wilting_mm: float = 0.0, usable_mm: float = 20.0, daily_mm: float = 3.0) -> np.ndarray:
    """Return the closed form of exponential drying, S_n = S_wp + (S_0 - S_wp) (1 - E/(S_fc - S_wp))^n."""
    return wilting_mm + usable_mm * (1.0 - daily_mm / usable_mm) ** np.arange(days)


def test_tray_of_the_closed_form() -> None:
    water = drying(29)
    # 20 (1 - 3/20)^n, by hand: 17 after 1 day; 6.411542, 2.055393 and 0.211232 after 7, 14 and 28
    assert water[[1, 7, 14, 28]] == pytest.approx([17.0, 6.411542, 2.055393, 0.211232], abs=1e-6)
    table = pd.DataFrame({"water_mm": water, "reference_et": 3.0})
    found = fit_tray(table, 80.0, wilting_point=0.0)
    # no noise: the search ends within the step of its slopes
    assert found.usable_water_mm == pytest.approx(20.0, rel=1e-6)
    assert found.crop_coefficient == pytest.approx(1.0, rel=1e-6)
    assert list(found.table["status"]) == ["held", "fitted", "fitted", "held"]
    assert found.rmse_mm < 1e-6


def test_weighed_tray_with_a_wilting_point_and_missing_readings(roof) -> None:
    # 100 mm of medium: wilting point 0.08, field capacity 0.33, crop coefficient 0.7 on 4 mm: 2.8 mm at first
    water = drying(22, wilting_mm=8.0, usable_mm=25.0, daily_mm=2.8)
    table = pd.DataFrame(
        {"weight_kg": 12.0 + 0.25 * water, "reference_et": 4.0}, index=pd.date_range("2020-06-01", periods=22)
    )
    table.loc[["2020-06-06", "2020-06-07"], "weight_kg"] = np.nan
    table.loc["2020-06-22", "reference_et"] = np.nan  # nothing is read after the last day
    found = fit_tray(table, 100.0, area_m2=0.25, empty_kg=12.0)
    assert found.field_capacity == pytest.approx(0.33, rel=1e-5)
    assert found.wilting_point == pytest.approx(0.08, rel=1e-4)
    assert found.crop_coefficient == pytest.approx(0.7, rel=1e-4)
    assert (found.readings, found.missing_readings) == (20, 2)
    measured = found.applied_to(roof)
    assert measured.build_up.layer("medium").field_capacity == pytest.approx(found.field_capacity, abs=5e-5)


def test_watered_tray_that_did_not_start_drained() -> None:
    """Ten dry days, 30 mm of water, ten dry days; the water by the three lines of the method, worked in this test."""
    rain = np.zeros(22)
    rain[10] = 30.0
    water, readings = 15.0, []
    for given in rain:
        readings.append(water)
        water = min(water + given, 27.0)  # field capacity 0.30 of 90 mm
        water -= 0.9 * 3.0 * (water - 4.5) / (27.0 - 4.5)  # wilting point 0.05, crop coefficient 0.9
    table = pd.DataFrame({"water_mm": readings, "rain_mm": rain, "reference_et": 3.0})
    found = fit_tray(table, 90.0, starts_drained=False)
    assert found.field_capacity == pytest.approx(0.30, rel=1e-4)
    assert found.wilting_point == pytest.approx(0.05, rel=1e-3)
    assert found.crop_coefficient == pytest.approx(0.9, rel=1e-3)


def test_a_tray_that_did_not_dry_far_says_so() -> None:
    slow = drying(11, wilting_mm=6.4, daily_mm=1.5) + np.random.default_rng(1).normal(0.0, 0.1, 11)
    short = fit_tray(pd.DataFrame({"water_mm": slow, "reference_et": 1.5}), 80.0, wilting_point=0.08)
    # (1 - 0.925^10) = 0.541 of the usable water is gone after 10 days; noise of 0.1 mm in 20 moves it by a point or two
    assert any(
        re.match(r"The tray gave up 5[2-6] % of its plant-available water\.", sentence) for sentence in short.advice
    )


def test_trays_that_are_refused() -> None:
    table = pd.DataFrame(
        {"weight_kg": [5.0] * 12, "rain_mm": [np.nan] * 12}, index=pd.date_range("2020-06-01", periods=12)
    )
    refused(
        "fit_tray: depth_mm must be more than 0 (given 0)\n"
        "fit_tray: weight_kg needs area_m2 and empty_kg, the weight of the tray with oven-dry medium and plants\n"
        "fit_tray: needs a column reference_et, mm of the day that follows each reading\n"
        "fit_tray: rain_mm is missing on some days; write 0 for a day that was dry for certain\n"
        "fit_tray: rows must be one day apart; they are not before 2020-06-04; a day without a reading is missing",
        fit_tray, table.drop(index="2020-06-03"), 0.0,
    )  # fmt: skip
    steady = pd.DataFrame({"water_mm": [20.0, 20.1] * 6, "reference_et": 3.0})
    refused(
        "fit_tray: the tray lost only 0.1 mm between its wettest and driest readings, too little beside their scatter (0.12 mm); "
        "let it dry for at least a week without rain or watering",
        fit_tray, steady, 80.0,
    )  # fmt: skip
    refused(
        "fit_tray: 9 readings are given, at least 10 are needed; weigh the tray on more days",
        fit_tray, steady.iloc[:9], 80.0,
    )  # fmt: skip
    dry = pd.DataFrame({"water_mm": drying(12), "reference_et": 3.0})
    refused(
        "fit_tray: field capacity cannot be read from this test: the tray did not start drained and was never watered; soak "
        "it, let it drain and weigh it first, or give field_capacity",
        fit_tray, dry, 80.0, starts_drained=False,
    )  # fmt: skip
    refused(
        "fit_tray: the tray holds -6.0 mm at its driest, which is below 0; check empty_kg and area_m2, "
        "and whether something was spilled",
        fit_tray, dry.assign(water_mm=dry["water_mm"] - dry["water_mm"].min() - 6.0), 80.0,
    )  # fmt: skip


def test_a_tray_that_was_watered_all_the_time() -> None:
    watered = pd.DataFrame({"water_mm": drying(12), "reference_et": 3.0, "rain_mm": 2.0})
    refused(
        "fit_tray: the tray never dried: at most 0 days in a row passed without 1 mm of rain or watering, at least 5 are needed, "
        "better two weeks. Keep rain off it, and do not water it",
        fit_tray, watered, 80.0,
    )  # fmt: skip
