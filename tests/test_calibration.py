"""Parameters from measurements: known values come back, ranges hold them, and bad observations are refused in words."""

import re
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import runoff
from runoff.calibration import fit_roof, fit_tray, read_observed
from runoff.calibration.fitting import fit, goodness
from runoff.calibration.invented_monitoring import HIDDEN, invented_observations, observations_text
from runoff.calibration.observations import OBSERVED_FILE, sample_observations
from runoff.cli.entry import main
from runoff.errors import RunoffError
from runoff.plots import fitted_overflow_figure
from runoff.sample_files import sample_folder


@pytest.fixture(scope="module")
def roof() -> runoff.Roof:
    return runoff.open_sample_roof("cups")


@pytest.fixture(scope="module")
def weather():
    return runoff.open_sample()


@pytest.fixture(scope="module")
def clean() -> pd.Series:
    return invented_observations(noise=0.0, lost_days=0)


@pytest.fixture(scope="module")
def from_clean(roof, weather, clean):
    return fit_roof(roof, weather, clean)


@pytest.fixture(scope="module")
def from_sample(roof, weather):
    return fit_roof(roof, weather, sample_observations())


# --- the monitored roof ----------------------------------------------------------------------------------------


def test_hidden_values_come_back_from_clean_overflow(from_clean) -> None:
    # the hidden roof leaves no difference at all, so the search ends within the step of its slopes, 1e-5 of the range
    for name, value in HIDDEN.items():
        assert from_clean.table.loc[name, "fitted"] == pytest.approx(value, rel=1e-4)
    assert list(from_clean.table["status"]) == ["fitted", "fitted"]
    held_back = from_clean.goodness.loc[("held back", "fitted")]
    assert held_back["nash_sutcliffe"] > 0.999999
    assert abs(held_back["volume_error_percent"]) < 0.01
    assert from_clean.goodness.loc[("held back", "described"), "nash_sutcliffe"] < held_back["nash_sutcliffe"]
    assert list(from_clean.goodness["days"]) == [487, 487, 243, 243]  # 730 days, a third of them held back
    assert not any("cannot be told apart" in sentence for sentence in from_clean.advice)


def test_hidden_values_lie_in_the_range_of_the_noisy_sample(from_sample) -> None:
    for name, value in HIDDEN.items():
        row = from_sample.table.loc[name]
        assert row["low"] < value < row["high"]
        assert row["high"] - row["low"] < 0.5 * (row["highest"] - row["lowest"])
    assert from_sample.missing_days == 12
    assert "12 days without a reading were left out; they were not taken as dry." in from_sample.advice
    assert (
        from_sample.goodness.loc[("held back", "fitted"), "nash_sutcliffe"] > 0.99
    )  # 5 % noise costs far less than 1 %


@pytest.mark.slow
def test_ranges_hold_the_hidden_values_as_often_as_they_claim(roof, weather) -> None:
    held = []
    for seed in range(12):
        table = fit_roof(roof, weather, invented_observations(seed=100 + seed)).table
        held += [table.loc[name, "low"] <= value <= table.loc[name, "high"] for name, value in HIDDEN.items()]
    # 95 % claimed; with 24 ranges, 19 or fewer held would come up once in 500 sets
    assert sum(held) >= 20


def test_differential_evolution_ends_at_the_same_place(roof, weather, clean, from_clean) -> None:
    again = fit_roof(roof, weather, clean, method="differential evolution")
    # both end at a difference of zero; see the tolerance above
    np.testing.assert_allclose(again.table["fitted"], from_clean.table["fitted"], rtol=1e-4)


def test_the_fitted_roof_is_what_was_compared(from_clean, roof, weather) -> None:
    days = from_clean.series.index
    run = runoff.simulate(from_clean.roof, weather.sel(time=slice("2013-01-01", "2015-12-31")), warm_up_years=0)
    np.testing.assert_array_equal(from_clean.series["fitted"], run["roof_overflow"].sel(time=days).to_numpy())
    run = runoff.simulate(roof, weather.sel(time=slice("2013-01-01", "2015-12-31")), warm_up_years=0)
    np.testing.assert_array_equal(from_clean.series["described"], run["roof_overflow"].sel(time=days).to_numpy())
    assert from_clean.described == roof


def test_without_a_year_before_the_first_year_warms_the_stores(roof, weather) -> None:
    """Weather that begins with the observation, in a snowy January: the same numbers as simulate with its warm-up."""
    two = weather.sel(time=slice("2014", "2015"))
    run = runoff.simulate(roof, two)
    planted = run["overflow"].to_series()
    fitted = fit_roof(roof, two, planted, measured="overflow", parameters=["planting.crop_coefficient"], held_back=0.0)
    np.testing.assert_array_equal(fitted.series["described"], planted)
    assert fitted.table.loc["planting.crop_coefficient", "fitted"] == pytest.approx(1.0, rel=1e-4)
    assert any(sentence.startswith("No days were held back") for sentence in fitted.advice)


def test_missing_days_are_left_out_not_dry(roof, weather, clean) -> None:
    holes = clean.copy()
    holes[clean.nlargest(40).index] = np.nan  # taken as dry, the fit would want a larger store
    fitted = fit_roof(roof, weather, holes)
    for name, value in HIDDEN.items():
        assert fitted.table.loc[name, "fitted"] == pytest.approx(value, rel=1e-3)  # the days left tell a little less
    assert fitted.missing_days == 40
    dropped = fit_roof(roof, weather, holes.dropna())
    assert dropped.missing_days == 40
    np.testing.assert_allclose(dropped.table["fitted"], fitted.table["fitted"], rtol=1e-3)


def test_what_days_do_not_show_is_said(roof, weather) -> None:
    known = roof.replace({"planting.crop_coefficient": HIDDEN["planting.crop_coefficient"]})
    names = ["medium.field_capacity", "medium.wilting_point", "medium.detention_k"]
    fitted = fit_roof(known, weather, sample_observations(), parameters=names)
    assert fitted.table.loc["medium.detention_k", "status"] == "not felt"
    assert (
        "medium.detention_k does not change the daily overflow: any value fits as well. Leave it as described. "
        "It shapes the hours of a storm; a record in minutes would show it."
    ) in fitted.advice
    # only their difference is felt: both may rise together over all that is allowed
    assert fitted.table.loc["medium.wilting_point", ["low", "high"]].to_list() == [0.04, 0.12]
    assert fitted.correlation.loc["medium.field_capacity", "medium.wilting_point"] > 0.9
    assert any(
        sentence.startswith("medium.field_capacity and medium.wilting_point cannot be told apart")
        for sentence in fitted.advice
    )


def test_a_value_on_its_bound_is_said(roof, weather, clean) -> None:
    fitted = fit_roof(roof, weather, clean, parameters={"planting.crop_coefficient": (0.95, 1.2)})
    row = fitted.table.loc["planting.crop_coefficient"]
    assert row["status"] == "at its low bound"
    assert row["fitted"] == pytest.approx(0.95, abs=1e-4)
    assert np.isnan(row["low"])
    assert fitted.advice[0].startswith("planting.crop_coefficient lies at its low bound (0.95): the record wants to go")


def test_sample_file_is_the_generator_byte_for_byte() -> None:
    assert (sample_folder() / OBSERVED_FILE).read_bytes() == observations_text().encode()
    assert int(sample_observations().isna().sum()) == 12


# --- what is refused -------------------------------------------------------------------------------------------


def refused(message: str, call, *given, **named) -> None:
    with pytest.raises(RunoffError) as caught:
        call(*given, **named)
    assert str(caught.value) == message


def test_observations_that_cannot_carry_a_fit(roof, weather, clean) -> None:
    refused(
        "fit_roof: 59 observed days, 39 of them to fit, are too few; at least 60 are needed to fit, better two years. "
        "Give a longer record, or hold back less",
        fit_roof, roof, weather, clean.iloc[:59],
    )  # fmt: skip
    refused(
        "fit_roof: the days to fit hold no overflow at all; a roof that never overflowed only shows that it holds at least "
        "what fell. Give a wetter period, or check the gauge",
        fit_roof, roof, weather, 0.0 * clean,
    )  # fmt: skip
    few = clean.where(clean.rank(ascending=False) <= 9, 0.0)
    refused(
        "fit_roof: only 9 of the days to fit have 0.1 mm of overflow or more; at least 10 are needed. Give a longer or "
        "wetter period",
        fit_roof, roof, weather, few, held_back=0.0,
    )  # fmt: skip
    refused(
        "fit_roof: 1 observed days lie outside the weather (1991-01-01 to 2015-12-30), the first 2015-12-31; give the "
        "weather of those days, or choose others with start and end",
        fit_roof, roof, weather.sel(time=slice(None, "2015-12-30")), clean,
    )  # fmt: skip


def test_observations_that_are_wrong_all_in_one_message(roof, weather, clean) -> None:
    wrong = pd.concat([clean, clean.iloc[[3]]])
    wrong.iloc[7] = -2.0
    refused(
        "fit_roof: observed holds 1 days more than once, the first 2014-01-04; steps shorter than a day are summed to days "
        "first, and a day with a missing step is missing\n"
        "fit_roof: observed is negative or infinite on 1 days, the first 2014-01-08 (-2 mm); write a missing value as NaN",
        fit_roof, roof, weather, wrong,
    )  # fmt: skip
    refused(
        "fit_roof: observed must be a pandas Series on dates, or a DataArray on time, of overflow in mm per day",
        fit_roof, roof, weather, [1.0, 2.0],
    )  # fmt: skip


def test_choices_that_are_wrong(roof, weather, clean) -> None:
    refused(
        'fit_roof: "medium.flow_length" is not known; medium has name, material, depth_mm, porosity, field_capacity, '
        "wilting_point, conductivity_mm_per_h, dry_density_kg_per_m3, detention_k, detention_n\n"
        'fit_roof: "medium.depth_mm" has no range in the materials table; give one, {"medium.depth_mm": (lowest, highest)}\n'
        "fit_roof: medium.porosity needs (lowest, highest), rising (you wrote (0.7, 0.5))",
        fit_roof, roof, weather, clean,
        parameters={"medium.flow_length": None, "medium.depth_mm": None, "medium.porosity": (0.7, 0.5)},
    )  # fmt: skip
    refused(
        'fit_roof: method "least square" is not known; did you mean "least squares"?; known are least squares, '
        "differential evolution",
        fit_roof, roof, weather, clean, method="least square",
    )  # fmt: skip
    refused(
        'fit_roof: measured "overflo" is not known; did you mean "overflow"?; known are roof_overflow, overflow',
        fit_roof, roof, weather, clean, measured="overflo",
    )  # fmt: skip
    refused(
        "fit_roof: held_back is a share of the observed days, 0 to 0.8 (given 1)",
        fit_roof, roof, weather, clean, held_back=1.0,
    )  # fmt: skip
    with pytest.raises(RunoffError, match=r"^fit_roof: the ranges contradict each other: replace: medium, "):
        fit_roof(
            roof, weather, clean, parameters={"medium.field_capacity": (0.1, 0.3), "medium.wilting_point": (0.05, 0.2)}
        )


def test_file_of_observations(tmp_path: Path) -> None:
    path = tmp_path / "gauge.csv"
    path.write_text("# gauge\ndate,rain_mm,overflow_in\n2014-01-01,3,0.5\n2014-01-02,0,\n", encoding="utf-8")
    series = read_observed(path, column="overflow_in")
    assert series.iloc[0] == pytest.approx(12.7)  # 1 in is 25.4 mm exactly
    assert np.isnan(series.iloc[1])
    path.write_text("date,overflow_mm\n2014-01-01,x\n2014-01-02,1\nsoon,2\n", encoding="utf-8")
    refused(
        "gauge.csv: line 2 cannot be read (it says 2014-01-01,x)\ngauge.csv: line 4 cannot be read (it says soon,2)",
        read_observed, path,
    )  # fmt: skip
    refused('gauge.csv: there is no column "flow"; it has date, overflow_mm', read_observed, path, column="flow")
    path.write_text("date,overflow\n2014-01-01,1\n", encoding="utf-8")
    refused(
        'gauge.csv: the unit of "overflow" is not known; end its name with it, overflow_mm or overflow_in, or give units',
        read_observed, path,
    )  # fmt: skip


# --- numbers ---------------------------------------------------------------------------------------------------


def test_goodness_by_hand() -> None:
    # observed 0 2 4 (mean 2, squares about it 8), modelled 1 2 4.5: squares 1 + 0 + 0.25 = 1.25; sums 6 and 7.5
    found = goodness(np.array([0.0, 2.0, np.nan, 4.0]), np.array([1.0, 2.0, 9.0, 4.5]))
    assert found["days"] == 3
    assert found["nash_sutcliffe"] == pytest.approx(1.0 - 1.25 / 8.0)
    assert found["volume_error_percent"] == pytest.approx(25.0)
    assert found["rmse_mm"] == pytest.approx((1.25 / 3.0) ** 0.5)


def test_range_of_a_straight_line_by_hand() -> None:
    """y = b x at x = 1, 2, 3 with y = 1, 2, 4: b = 17/14, squares left 5/14, error of b = sqrt(5/28/14)."""
    x, y = np.array([1.0, 2.0, 3.0]), np.array([1.0, 2.0, 4.0])
    found = fit(lambda b: b[0] * x - y, np.array([[0.0, 3.0]]), np.array([1.0]), uneven=False)
    assert found.best[0] == pytest.approx(17.0 / 14.0, rel=1e-6)
    # Student's t for 2 degrees of freedom at 97.5 %: 4.303, as every printed table has it (three decimals)
    assert found.high[0] - found.best[0] == pytest.approx(4.303 * (5.0 / 28.0 / 14.0) ** 0.5, rel=2e-4)


def test_a_flat_direction_leaves_the_whole_allowed_range() -> None:
    """Only the sum of two values is seen: each alone may be anything, and the two go against each other."""
    x, wobble = np.arange(1.0, 9.0), 0.01 * (-1.0) ** np.arange(8)
    for uneven in (True, False):
        found = fit(
            lambda v: (v[0] + v[1] - 1.0) * x - wobble, np.array([[0.0, 1.0]] * 2), np.array([0.4, 0.5]), uneven=uneven
        )
        assert found.best.sum() == pytest.approx(1.0, abs=1e-3)  # the wobble leans a little one way
        assert list(found.low) == [0.0, 0.0] and list(found.high) == [1.0, 1.0]
        assert found.correlation[0, 1] == pytest.approx(-1.0, abs=1e-3)


# --- the tray --------------------------------------------------------------------------------------------------


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
    assert list(found.table["status"]) == ["held", "fitted", "fitted"]
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
    assert measured.build_up.layer("medium").field_capacity == found.field_capacity


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


def test_noisy_trays_hold_the_truth_in_their_ranges_and_a_short_one_says_so() -> None:
    held = []
    for seed in range(10):
        water = drying(29, wilting_mm=6.4) + np.random.default_rng(seed).normal(0.0, 0.1, 29)
        table = pd.DataFrame({"water_mm": water, "reference_et": 3.0})
        found = fit_tray(table, 80.0).table
        for name, value in {"wilting_point": 0.08, "field_capacity": 0.33, "crop_coefficient": 1.0}.items():
            held.append(found.loc[name, "low"] < value < found.loc[name, "high"])
    # 95 % claimed; with 30 ranges, 24 or fewer held would come up once in 300 sets
    assert sum(held) >= 25
    short = fit_tray(table.iloc[:6], 80.0, wilting_point=0.08)
    # (1 - 0.85^5) = 0.556 of the usable water is gone after 5 days; noise of 0.1 mm in 20 moves it by a point or two
    assert any(re.match(r"The tray gave up 5[3-8] % of its usable water\.", sentence) for sentence in short.advice)


def test_trays_that_are_refused() -> None:
    table = pd.DataFrame(
        {"weight_kg": [5.0] * 6, "rain_mm": [np.nan] * 6}, index=pd.date_range("2020-06-01", periods=6)
    )
    refused(
        "fit_tray: depth_mm must be more than 0 (given 0)\n"
        "fit_tray: weight_kg needs area_m2 and empty_kg, the weight of the tray with oven-dry medium and plants\n"
        "fit_tray: needs a column reference_et, mm of the day that follows each reading\n"
        "fit_tray: rain_mm is missing on some days; write 0 for a day that was dry for certain\n"
        "fit_tray: rows must be one day apart; they are not before 2020-06-04; a day without a reading is missing",
        fit_tray, table.drop(index="2020-06-03"), 0.0,
    )  # fmt: skip
    steady = pd.DataFrame({"water_mm": [20.0, 20.1, 20.0, 20.1, 20.0], "reference_et": 3.0})
    refused(
        "fit_tray: the tray lost only 0.10 mm between its wettest and driest reading; let it dry for at least a week "
        "without rain",
        fit_tray, steady, 80.0,
    )  # fmt: skip
    refused(
        "fit_tray: 4 readings are given, at least 5 are needed; weigh the tray on more days",
        fit_tray, steady.iloc[:4], 80.0,
    )  # fmt: skip
    dry = pd.DataFrame({"water_mm": drying(10), "reference_et": 3.0})
    refused(
        "fit_tray: field capacity cannot be read from this test: the tray did not start drained and was never watered; soak "
        "it, let it drain and weigh it first, or give field_capacity",
        fit_tray, dry, 80.0, starts_drained=False,
    )  # fmt: skip
    refused(
        "fit_tray: the tray holds -6.0 mm at its driest, which is less than nothing; check empty_kg and area_m2",
        fit_tray, dry.assign(water_mm=dry["water_mm"] - dry["water_mm"].min() - 6.0), 80.0,
    )  # fmt: skip


# --- the command -----------------------------------------------------------------------------------------------


def test_command_on_the_sample(capsys, tmp_path: Path) -> None:
    drawn = tmp_path / "fit.png"
    assert main(["fit", "--save-roof", str(tmp_path / "fitted.toml"), "--figure", str(drawn)]) == 0
    assert drawn.stat().st_size > 10_000
    said = capsys.readouterr().out
    assert "2014-01-01 to 2015-12-31 - INVENTED, for demonstration only" in said
    assert "medium.field_capacity" in said and "held back" in said
    fitted = runoff.read_roof(tmp_path / "fitted.toml")
    assert fitted.build_up.layer("medium").field_capacity == pytest.approx(HIDDEN["medium.field_capacity"], rel=0.1)


def test_command_refuses_the_sample_observation_for_another_roof(capsys) -> None:
    assert main(["fit", str(sample_folder() / "roof_deep.toml")]) == 1
    assert capsys.readouterr().err == (
        "runoff fit: give the measured overflow of your roof with --observed FILE; the sample observation belongs to the "
        "sample roof and its weather\n"
    )
    assert main(["fit", "--parameter", "medium.field_capacity=wet"]) == 1
    assert capsys.readouterr().err == (
        "--parameter wants NAME or NAME=LOW:HIGH, for example medium.field_capacity=0.25:0.45 "
        '(given "medium.field_capacity=wet")\n'
    )


def test_figure_shows_each_month_and_each_day_with_a_reading(from_sample) -> None:
    figure = fitted_overflow_figure(from_sample, invented=True, units="us")
    above, below = figure.axes
    seen = from_sample.series["observed"].dropna()
    january = float(seen.loc["2014-01"].sum()) / 25.4  # mm to in, as the units asked for
    assert above.patches[0].get_height() == pytest.approx(january)
    assert len(above.patches) == 24  # two years
    marks = [line for line in below.lines if line.get_marker() in ("o", "^")]
    assert sum(len(line.get_xdata()) for line in marks) == len(seen) == 718  # 730 days less 12 without a reading
    assert "invented measurement" in above.get_title(loc="left")
    assert "718 days with a reading" in figure.description and "held back" in figure.description
