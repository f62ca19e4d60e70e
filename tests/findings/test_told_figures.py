"""Figures that captions quote: each worked by hand on a few days."""

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import runoff
from runoff.findings.measured import days_with_reading, overflow_by_month, overflow_of_record
from runoff.findings.monthly import monthly_balance, water_of_record
from runoff.findings.spells import DRY_BANDS, WET_BANDS, Spell, spells_of_record, years_of_harm
from runoff.findings.yearly import day_of_most_overflow, typical_year, yearly_totals
from runoff.plots import monthly_balance_figure, year_figure


def run_of(rain_mm: list[float], first: str = "2001-06-01", **roof_words: object) -> xr.Dataset:
    """Run 100 m2 of an 80 mm medium from field capacity, where nothing evaporates."""
    time = pd.date_range(first, periods=len(rain_mm), freq="D")
    weather = xr.Dataset(coords={"time": time})
    weather["rain"] = ("time", rain_mm, {"units": "mm"})
    weather["reference_et"] = ("time", np.zeros(len(rain_mm)), {"units": "mm"})
    weather["time"].attrs["step_hours"] = 24.0
    layers = [runoff.Planting(canopy_storage_mm=1.0), runoff.GrowingMedium(depth_mm=80.0), runoff.DrainageBoard()]
    roof = runoff.Roof(build_up=runoff.BuildUp(layers=layers), area_m2=100.0, planted_fraction=0.8, **roof_words)
    return runoff.simulate(roof, weather, start_moisture="field-capacity")


# 40 m2 that hold 2 mm, onto 80 m2 of planting: of 10 mm of rain (10 - 2) x 40/80 = 4 mm run on; the canopy takes 1 mm
RUN_ON = {"run_on_area_m2": 40.0, "run_on_loss_mm": 2.0}


@pytest.fixture(scope="module")
def led() -> xr.Dataset:
    return run_of([10.0], **RUN_ON)


def test_run_on_stands_in_the_monthly_balance(led: xr.Dataset) -> None:
    june = monthly_balance(led).sel(month=6)  # one of 30 days: a whole June of such days
    found = {name: float(june[name]) / 30.0 for name in june.data_vars}
    assert found == pytest.approx(
        {"rain": 10.0, "run_on": 4.0, "irrigation": 0.0, "evapotranspiration": 0.0, "overflow": 13.0, "storage_change": 1.0},
        abs=1e-9,  # rounding
    )  # fmt: skip


def test_a_short_record_is_told_by_its_own_sums_and_the_months_by_their_retention(led: xr.Dataset) -> None:
    water = water_of_record(led)
    assert water[:6] == pytest.approx((1, 10.0, 4.0, 0.0, 0.0, 13.0), abs=1e-9)
    assert float(water.retention_by_month.sel(month=6)) == pytest.approx(1.0 - 13.0 / 14.0, abs=1e-12)


def test_a_whole_year_is_told_by_the_annual_figures() -> None:
    run = runoff.simulate(runoff.open_sample_roof("thin"), runoff.open_sample().sel(time=slice("2002", "2003")))
    water, facts = water_of_record(run), runoff.summarize(run)
    assert water.months == 12
    assert water.overflow_mm == float(facts["annual_overflow"])
    assert water.rain_mm == pytest.approx(float(run["rain"].sum()) / 2.0)  # two whole years
    np.testing.assert_array_equal(water.retention_by_month, facts["retention_by_month"])


def test_captions_tell_run_on_and_bars_show_it(led: xr.Dataset) -> None:
    months = monthly_balance_figure(led)
    assert months.description == (
        "In the month of the record 10 mm of rain fell, 4 mm ran on from outside, 0 mm went back to the air and 13 mm "
        "left as overflow."
    )
    words = [text.get_text() for text in months.axes[0].get_legend().get_texts()]
    assert words[:2] == ["rain", "run-on"] and "watering" not in words
    rain, run_on = months.axes[0].containers[:2]
    assert run_on[5].get_y() == pytest.approx(rain[5].get_height())
    assert "of 10 mm of rain and 4 mm of run-on 13 mm left as overflow" in year_figure(led).description


def test_the_year_shown_first_and_its_wettest_day() -> None:
    # rain of three years of 1, 3 and 2 mm a day: 2003 has the median, its three days only as full as the others
    days = [run_of([mm] * 3, f"{year}-06-01") for year, mm in ((2001, 1.0), (2002, 3.0), (2003, 2.0))]
    totals = xr.concat([yearly_totals(one)[["rain"]] for one in days], "year", data_vars="minimal", coords="minimal")
    time = xr.concat([one["time"] for one in days], "time")
    assert typical_year(totals, time) == 2003
    assert str(day_of_most_overflow(run_of([0.0, 5.0, 9.0, 9.0]), 2001))[:10] == "2001-06-03"


def test_spells_of_a_hand_made_record() -> None:
    flags = np.array([1] * 8 + [0] + [1] * 9 + [0, 1, 1])
    found = spells_of_record(flags, WET_BANDS, 8)
    assert found == (2, Spell(first=9, length=9), WET_BANDS[2])  # 8 to 14 days: stress likely
    assert spells_of_record(np.zeros(4), DRY_BANDS, 14) == (0, None, None)


def test_years_in_which_harm_is_borne() -> None:
    time = pd.to_datetime(["2001-12-30", "2001-12-31", "2002-01-01", "2003-05-01"])
    harm = xr.DataArray([1, 2, 3, 1], dims="time", coords={"time": time})
    assert years_of_harm(harm, 2) == 2
    assert years_of_harm(harm, 4) == 0


def test_measured_overflow_by_days_and_months() -> None:
    time = pd.date_range("2001-05-31", periods=6, freq="12h")  # three days, the second without its second reading
    series = pd.DataFrame(
        {"observed": [1.0, 2.0, 4.0, np.nan, 8.0, 16.0], "described": 1.0, "fitted": 2.0, "part": "fitting"}, index=time
    )
    days = days_with_reading(series, 12.0)
    assert days["observed"].tolist() == [3.0, 24.0] and days["fitted"].tolist() == [4.0, 4.0]
    assert overflow_by_month(days)["observed"].tolist() == [3.0, 24.0]  # May and June
    assert overflow_of_record(days) == {"observed": 27.0, "described": 4.0, "fitted": 8.0}
    daily = series.iloc[[0, 3]]
    assert days_with_reading(daily, 24.0)["observed"].tolist() == [1.0]
