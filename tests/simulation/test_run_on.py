"""Water from an adjoining surface, by the public names: worked by hand on one day of rain without evaporation."""

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import runoff
from runoff.findings.storm_comparison import storm_note
from runoff.findings.storm_peaks import storm_figures
from runoff.findings.summary import facts_from_totals
from runoff.findings.tables import facts_shown, facts_table


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


def test_the_year_of_run_on_stands_after_that_of_rain_so_that_retention_can_be_checked() -> None:
    """365 days of 10 mm, nothing evaporates: 4 mm run on the first day, when the surface fills its 2 mm, and 5 mm on 364 more, 1,824 mm
    or 71.8 in of a whole year."""
    weather = one_day(10.0).isel(time=0).expand_dims(time=pd.date_range("2001-01-01", periods=365, freq="D"))
    weather["time"].attrs["step_hours"] = 24.0
    run = runoff.simulate(roof(**RUN_ON), weather, start_moisture="field-capacity")
    facts = runoff.summarize(run)
    xr.testing.assert_identical(
        facts_from_totals(runoff.yearly_totals(run)), facts
    )  # the totals tell that water runs on
    assert float(facts["annual_run_on"]) == pytest.approx(1824.0 / float(facts["years"]), rel=1e-12)
    received = float(facts["annual_rain"] + facts["annual_run_on"])
    assert float(facts["retention"]) == pytest.approx(1.0 - float(facts["annual_overflow"]) / received, abs=1e-12)
    for units, told, unit in (("si", "1,824", "mm"), ("us", "71.8", "in")):
        rows = facts_shown(facts, units=units).rows
        assert [row[0] for row in rows[1:4]] == [
            "annual rain",
            "annual run-on, per planted area",
            "annual overflow, per planted area",
        ]
        assert rows[2][1:] == [told, "", unit]
        assert list(facts_table(facts, units=units)["figure"][1:3]) == [row[0] for row in rows[1:3]]
    assert "comparison roof is reckoned without the run-on" in facts.attrs["note"]
    assert list(facts)[1:4] == ["annual_rain", "annual_run_on", "annual_overflow"]


def test_a_roof_without_run_on_has_no_row_and_no_word_of_it() -> None:
    facts = runoff.summarize(runoff.simulate(roof(), one_day(10.0), start_moisture="field-capacity"))
    assert "annual_run_on" not in facts and "run-on" not in facts.attrs["note"] + facts_shown(facts).text()
    comparison = in_a_storm(roof(), 60.0)
    assert "run_on" not in comparison and "run-on" not in comparison.attrs["note"]


def in_a_storm(one: runoff.Roof, rain_mm: float) -> xr.Dataset:
    """Compare a roof in an hour of even rain, a day of dry hours after it."""
    time = pd.date_range("2001-06-01", periods=12, freq="5min")
    storm = xr.DataArray(np.full(12, rain_mm / 12.0), dims="time", coords={"time": time}, attrs={"units": "mm"})
    run = runoff.simulate(one, runoff.followed_by_dry(storm), start_moisture="field-capacity")
    return runoff.compare_storm(run, one)


@pytest.mark.parametrize("to", ["planting", "outlet"])
def test_in_a_storm_the_roofs_compared_get_the_same_run_on(to: str) -> None:
    """(60 - 2) x 40/80 = 29 mm of planted area, 23.2 mm of the roof. The membrane keeps 1 mm, gravel 5 mm, and all else leaves."""
    comparison = in_a_storm(roof(run_on_to=to, **RUN_ON), 60.0)
    assert float(comparison["run_on"].sum()) == pytest.approx(23.2, abs=1e-9)
    bare, gravel = (float(comparison["runoff_depth"].sel(surface=f"{name} roof")) for name in ("bare", "gravel"))
    # what is still on its way a day after the rain is far below a hundredth of a millimetre
    assert (bare, gravel) == pytest.approx((60.0 + 23.2 - 1.0, 60.0 + 23.2 - 5.0), abs=0.01)
    assert (
        "Of 60.0 mm of rain and 23.2 mm of run-on (mean of the whole roof) the bare roof sheds 82.2 mm"
        in storm_note(comparison)
    )
    assert "Of 2.36 in of rain and 0.91 in of run-on" in storm_note(comparison, units="us")
    assert "Each roof compared gets the same run-on" in comparison.attrs["note"]


def test_run_on_wets_a_bare_roof_only_where_it_arrives_with_the_rain() -> None:
    """0.5 mm of rain and 0.5 x 40/80 x 0.8 = 0.2 mm of run-on are less than the 1 mm that a membrane keeps."""
    onto, past = (
        float(
            in_a_storm(roof(run_on_area_m2=40.0, run_on_loss_mm=0.0, run_on_to=to), 0.5)["runoff_depth"].sel(
                surface="bare roof"
            )
        )
        for to in ("planting", "outlet")
    )
    assert onto == 0.0
    assert past == pytest.approx(0.2, abs=0.01)


def test_what_the_outlets_hold_back_of_the_bare_roof_is_told_of_rain_and_run_on() -> None:
    comparison = in_a_storm(roof(run_on_area_m2=400.0, run_on_loss_mm=0.0), 60.0)
    # even rain of 60 mm/h, and 60 x 400/80 x 0.8 = 240 mm/h of run-on
    bare = comparison.sel(surface="bare roof")
    share = float(bare["peak_runoff"]) / 300.0
    assert share < 0.85 and f"it passes {100.0 * share:.0f} % of the heaviest rain and run-on" in storm_note(comparison)


def test_the_capture_of_a_storm_counts_its_run_on() -> None:
    comparison = in_a_storm(roof(**RUN_ON), 60.0)
    kept = float(storm_figures({10: comparison})["storm_capture_mm"].squeeze())
    left = float(comparison["runoff_depth"].sel(surface="planted roof"))
    assert kept == pytest.approx(60.0 + 23.2 - left, abs=1e-9)
