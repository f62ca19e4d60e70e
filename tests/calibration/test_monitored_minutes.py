"""A roof measured in minutes: what days do not show comes back, with peaks and the time they come."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import runoff
from runoff.calibration import fit_roof
from runoff.calibration.observations import observed_steps
from runoff.calibration.overflow_events import event_peaks
from runoff.cli.entry import main
from runoff.plots import fitted_events_figure, fitted_overflow_figure
from runoff.roof import roof_from_toml
from runoff.sample_files import sample_folder
from runoff.simulation import RunRules, Trials
from runoff.weather.record.forcing import prepare_forcing

RAIN = sample_folder() / "ostrey_summer_5min.csv"
HIDDEN = {"planting.crop_coefficient": 0.8, "medium.detention_k": 0.003}


@pytest.fixture(scope="module")
def roof() -> runoff.Roof:
    return runoff.open_sample_roof("cups")


@pytest.fixture(scope="module")
def rain():
    return runoff.read_weather(RAIN)


@pytest.fixture(scope="module")
def climate():
    return runoff.open_sample().sel(time=slice("2009-05", "2009-09"))


@pytest.fixture(scope="module")
def measured(roof, rain, climate) -> pd.Series:
    """Return the overflow of a roof with hidden values; 5 % noise on each step."""
    run = runoff.simulate(roof.replace(HIDDEN), rain, climate=climate, warm_up_years=0)
    noise = 1.0 + 0.05 * np.random.default_rng(4).normal(size=run.sizes["time"])
    return (run["roof_overflow"].to_series() * noise).clip(lower=0.0)


@pytest.fixture(scope="module")
def fitted(roof, rain, climate, measured):
    return fit_roof(roof, rain, measured, climate=climate, parameters=list(HIDDEN))


def test_trials_of_unlike_decks_are_what_each_roof_does_alone(roof) -> None:
    """In minutes the unplanted part drains by fall, outlets and blockage of the roof that is tried, not of the one before."""
    rain = runoff.followed_by_dry(
        runoff.design_storm(depth_mm=40.0, duration="2h", step="5min", pattern="uniform"), 4.0
    )
    trials = Trials(prepare_forcing(rain), RunRules(warm_up_years=0))
    for changes in ({}, {"roof.blocked_fraction": 0.9}, {"roof.fall": 0.05, "outlet.diameter_mm": 60.0}, {}):
        one = roof.replace(changes)
        alone = runoff.simulate(one, rain, start_moisture="field-capacity")
        for name, whole_roof in (("roof_overflow", True), ("overflow", False)):
            np.testing.assert_array_equal(trials(one, whole_roof=whole_roof), alone[name], err_msg=str(changes))


def test_hidden_values_come_back_and_are_told_with_their_ranges(fitted) -> None:
    for name, value in HIDDEN.items():
        row = fitted.table.loc[name]
        # one standard deviation of the estimate, least squares linearised about the hidden values with 5 % noise on each
        # step: 1.8 % of the crop coefficient, 6.9 % of the detention, since twenty steps of 15,000 carry nine tenths of
        # the squares. Two of them hold 19 draws of 20
        assert row["fitted"] == pytest.approx(value, rel=0.14)
        assert row["low"] < value < row["high"]
    assert fitted.step_hours == pytest.approx(1.0 / 12.0)
    assert fitted.goodness.loc[("held back", "fitted"), "nash_sutcliffe"] > 0.98
    # 92 days, the first 14 run but not compared, a third of the rest held back
    assert list(fitted.goodness["days"]) == [52, 52, 26, 26]
    assert fitted.missing_days == 0


def test_no_fit_is_worse_than_the_hidden_values(fitted, roof, rain, climate) -> None:
    """Events that begin or cease to run off leave ridges: this record's search once ended before one, the detention 5 % high."""
    seen, part = fitted.series["observed"], fitted.series["part"] == "fitting"
    truth = runoff.simulate(roof.replace(HIDDEN), rain, climate=climate, warm_up_years=0)["roof_overflow"].to_series()
    sums = [float(((one - seen)[part] ** 2).sum()) for one in (fitted.series["fitted"], truth)]
    assert sums[0] <= sums[1]


def test_peaks_and_their_times_are_told(fitted) -> None:
    described, found = (
        fitted.events[f"{one}_peak"] / fitted.events["observed_peak"] for one in ("described", "fitted")
    )
    # the described roof passes water on four times as fast
    assert described.median() > 1.1 and found.median() == pytest.approx(1.0, abs=0.05)
    said = next(one for one in fitted.advice if one.startswith("Over "))
    assert (
        f"Over {len(fitted.events)} events the fitted peak is {found.median():.2f} of the measured one (median; "
        in said
    )
    assert not any("shape hours, not days" in one for one in fitted.advice)
    assert fitted.doubts == ()


def test_the_fitted_roof_carries_the_ranges(fitted) -> None:
    again = roof_from_toml(fitted.roof.to_toml())
    assert {one.property for one in again.fitted} == set(HIDDEN)
    assert again.fitted[0].fitted_on == "measured overflow, 2009-06-01 to 2009-08-31"


def test_events_by_hand() -> None:
    """Two showers of an hour; the second event lacks a reading and is left out."""
    time = pd.date_range("2024-05-01", periods=48 * 12, freq="5min")
    rain = pd.Series(0.0, time)
    rain.iloc[12:24] = 1.0
    rain.iloc[300:312] = 1.0
    series = pd.DataFrame({name: 0.0 for name in ("observed", "described", "fitted")}, time).assign(part="fitting")
    series.iloc[20:24, 0] = [0.5, 1.0, 0.5, 0.2]
    series.iloc[22:26, 2] = [0.2, 0.6, 0.8, 0.2]
    series.iloc[310, 0] = np.nan
    found = event_peaks(series, runoff_rain(rain))
    assert len(found) == 1
    row = found.iloc[0]
    assert (row["rain_mm"], row["observed_mm"], row["fitted_mm"]) == pytest.approx((12.0, 2.2, 1.8))
    # 1.0 mm in 5 min are 12 mm/h; the fitted peak comes three steps later
    assert (row["observed_peak"], row["fitted_peak"], row["fitted_lag_min"]) == pytest.approx((12.0, 9.6, 15.0))


def runoff_rain(rain: pd.Series):
    array = rain.rename_axis("time").to_xarray()
    array.attrs["units"] = "mm"
    return array


def test_finer_records_are_summed_and_others_refused(measured) -> None:
    minutes = pd.Series(0.1, pd.date_range("2024-05-01", periods=600, freq="1min"))
    assert observed_steps(minutes, pd.Timedelta("5min")).tolist() == pytest.approx([0.5] * 120)
    hours = measured.resample("1h").sum()
    assert len(observed_steps(hours, pd.Timedelta("5min"))) == len(hours)
    with pytest.raises(runoff.RunoffError) as refused:
        observed_steps(measured, pd.Timedelta("7min"))
    assert str(refused.value) == (
        "fit_roof: the record is in steps of 5 min, the weather of 7 min; one must be a multiple of the other"
    )


def test_an_hourly_gauge_beside_rain_in_minutes(roof, rain, climate, measured) -> None:
    known = roof.replace({"planting.crop_coefficient": HIDDEN["planting.crop_coefficient"]})
    hours = measured.resample("1h").sum()
    hourly = fit_roof(known, rain, hours, climate=climate, parameters=["medium.detention_k"], held_back=0.5)
    assert hourly.step_hours == 1.0
    # hours blur a peak, so detention is found less sharply than in 5 minutes
    assert hourly.table.loc["medium.detention_k", "fitted"] == pytest.approx(HIDDEN["medium.detention_k"], rel=0.15)


def test_what_does_not_go_together(roof, rain, climate, measured) -> None:
    with pytest.raises(runoff.RunoffError) as refused:
        fit_roof(roof, rain, measured.resample("1D").sum(), climate=climate)
    assert str(refused.value) == (
        "fit_roof: daily overflow needs daily weather, the weather here is in shorter steps; sum it with runoff.daily_totals, or give "
        "the overflow at shorter steps too"
    )
    with pytest.raises(
        runoff.RunoffError, match=r"^fit_roof: 288 observed steps lie outside the weather \(2009-06-01 to 2009-08-30\)"
    ):
        fit_roof(roof, rain.sel(time=slice(None, "2009-08-30")), measured, climate=climate)
    with pytest.raises(runoff.RunoffError) as refused:
        fit_roof(roof, rain, measured.loc["2009-06-01":"2009-07-10"], climate=climate)
    assert str(refused.value) == (
        "fit_roof: 26 observed days, 17 of them to fit, are too few; at least 30 are needed to fit, better two years. Give a longer "
        "record, or hold back less"
    )


def test_figures(fitted) -> None:
    figure = fitted_events_figure(fitted, units="us")
    above = figure.axes[0]
    marks = [line for line in above.lines if line.get_marker() in ("o", "^")]
    assert sum(len(line.get_xdata()) for line in marks) == len(fitted.events)
    highest = max(float(np.max(line.get_xdata())) for line in marks)
    assert highest == pytest.approx(fitted.events["observed_peak"].max() / 25.4)  # mm/h to in/h
    assert len(figure.axes) == 3 and "events the fitted peak is" in figure.description
    monthly = fitted_overflow_figure(fitted)
    # by days: 78 with all their steps, the first 14 left out
    marks = [line for line in monthly.axes[1].lines if line.get_marker() in ("o", "^")]
    assert sum(len(line.get_xdata()) for line in marks) == 78


def test_as_it_is_typed(capsys, tmp_path: Path, measured) -> None:
    gauge = tmp_path / "gauge.csv"
    measured.rename_axis("time").rename("overflow_mm").to_csv(gauge)
    roof, climate = str(sample_folder() / "roof_cups_80mm.toml"), str(sample_folder() / "ostrey_daily.csv")
    words = ["fit", roof, str(RAIN), "--observed", str(gauge), "--climate", climate, "--latitude", "47.5"]
    assert (
        main([*words, "--parameter", "medium.detention_k", "--held-back", "0.3", "--out", str(tmp_path / "out")]) == 0
    )
    said = capsys.readouterr().out
    assert "on overflow in steps of 5 min" in said and "medium.detention_k" in said
    assert {"fit.png", "fitted_events.csv", "fitted_events.png"} <= {path.name for path in (tmp_path / "out").iterdir()}
