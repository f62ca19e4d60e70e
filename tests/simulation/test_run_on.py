"""Water from an adjoining surface, by the public names: worked by hand on one day of rain without evaporation."""

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import runoff


def one_day(rain_mm: float) -> xr.Dataset:
    time = pd.date_range("2001-06-01", periods=1, freq="D")
    made = xr.Dataset(coords={"time": time})
    made["rain"] = ("time", [rain_mm], {"units": "mm"})
    made["reference_et"] = ("time", [0.0], {"units": "mm"})
    made["time"].attrs["step_hours"] = 24.0
    return made


def roof(**given: object) -> runoff.Roof:
    layers = [runoff.Planting(canopy_storage_mm=1.0), runoff.GrowingMedium(depth_mm=80.0), runoff.DrainageBoard()]
    return runoff.Roof(build_up=runoff.BuildUp(layers=layers), area_m2=100.0, planted_fraction=0.8, **given)


# 40 m2 of a surface that holds 2 mm, onto 80 m2 of planting: of 10 mm of rain (10 - 2) x 40/80 = 4 mm run on
RUN_ON = {"run_on_area_m2": 40.0, "run_on_loss_mm": 2.0}


@pytest.mark.parametrize("to", ["planting", "outlet"])
def test_what_runs_on_stands_beside_rain_in_balance_and_retention(to: str) -> None:
    run = runoff.simulate(roof(run_on_to=to, **RUN_ON), one_day(10.0), start_moisture="field-capacity")
    assert run["run_on"].item() == pytest.approx(4.0, abs=1e-12)
    # at field capacity all but the 1 mm that the canopy takes leaves, wherever the water comes in
    assert run["overflow"].item() == pytest.approx(13.0, abs=1e-9)
    assert float(runoff.summarize(run)["retention"]) == pytest.approx(1.0 - 13.0 / 14.0, abs=1e-12)
    assert float(run["balance_error"]) < 1e-9


def test_a_dry_medium_drinks_what_runs_onto_it_and_not_what_is_led_past() -> None:
    onto, past = (
        runoff.simulate(roof(run_on_to=to, **RUN_ON), one_day(10.0), start_moisture="dry")
        for to in ("planting", "outlet")
    )
    none = runoff.simulate(roof(), one_day(10.0), start_moisture="dry")
    assert "run_on" not in none
    # led to the outlet it joins the free water, which leaves an open roof the same day, before cups fill from what stands
    assert (past["overflow"] - none["overflow"]).item() == pytest.approx(4.0, abs=1e-9)
    np.testing.assert_allclose(past["held_water"], none["held_water"], atol=1e-12)
    assert (onto["held_water"] - none["held_water"]).item() > 2.0


def test_a_roof_without_run_on_has_none() -> None:
    assert roof().run_on_area_m2 == 0.0


def test_the_whole_roof_is_credited_with_what_runs_on_and_not_charged_for_it() -> None:
    """80 of 100 m2 planted: 4 mm of run-on are 3.2 mm of the roof. What leaves is rain and run-on less what is kept; without the
    planting the run-on would leave all the same, beside the rain of the bare roof."""
    run = runoff.simulate(roof(**RUN_ON), one_day(10.0), start_moisture="field-capacity")
    facts = runoff.summarize(run)
    years = float(facts["years"])
    left, bare = run["roof_overflow"].item(), run["bare_overflow"].item()
    assert float(facts["annual_capture_m3"]) * years == pytest.approx((10.0 + 3.2 - left) * 0.1, abs=1e-9)
    assert float(facts["roof_retention"]) == pytest.approx(1.0 - left / 13.2, abs=1e-9)
    assert float(facts["avoided_annual_mm"]) * years == pytest.approx(bare + 3.2 - left, abs=1e-9)
    assert float(facts["avoided_share"]) == pytest.approx(1.0 - left / (bare + 3.2), abs=1e-9)
    assert float(facts["retention_by_month"].sel(month=6)) == pytest.approx(1.0 - 13.0 / 14.0, abs=1e-12)
    assert float(facts["month_capture"].sel(month=6)) * years == pytest.approx(1.0, abs=1e-9)


def test_a_sweep_and_a_run_agree_about_run_on() -> None:
    led = roof(**RUN_ON)
    weather = runoff.open_sample().sel(time=slice("2001", "2003"))
    swept = runoff.sweep(led, weather, {"medium.depth_mm": [80.0]}).isel(design=0)
    facts = runoff.summarize(runoff.simulate(led, weather))
    assert float(facts["annual_capture_m3"]) > 0.0 and float(facts["avoided_annual_m3"]) > 0.0
    for name in (
        "annual_capture_m3",
        "roof_retention",
        "avoided_annual_m3",
        "avoided_share",
        "retention_by_month",
        "month_capture",
    ):
        np.testing.assert_allclose(swept[name], facts[name], rtol=1e-12, err_msg=name)
