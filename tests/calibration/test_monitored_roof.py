"""Parameters from measurements: known values come back, ranges hold them, and bad observations are refused in words."""

import dataclasses
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import runoff
from runoff.calibration import fit_roof
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


def ranges_that_hold(roof: runoff.Roof, weather, records: int) -> list[bool]:
    """Return for both hidden values and every record, alike but for the noise of its gauge, whether the range holds it."""
    held = []
    for seed in range(records):
        table = fit_roof(roof, weather, invented_observations(seed=100 + seed)).table
        held += [bool(table.loc[name, "low"] <= value <= table.loc[name, "high"]) for name, value in HIDDEN.items()]
    return held


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
    # water that passes the medium at once hides how much it holds: two years of 5 % noise leave field capacity wide, and say so
    row = from_sample.table.loc["planting.crop_coefficient"]
    assert row["high"] - row["low"] < 0.2 * (row["highest"] - row["lowest"])
    assert from_sample.advice[0].startswith("medium.field_capacity is hardly identified: ")
    assert from_sample.missing_days == 12
    assert "12 days without a reading were left out; they were not taken as dry." in from_sample.advice
    one = dataclasses.replace(from_sample, missing_days=1)
    assert "1 day without a reading was left out; it was not taken as dry." in one.advice
    assert (
        from_sample.goodness.loc[("held back", "fitted"), "nash_sutcliffe"] > 0.99
    )  # 5 % noise costs far less than 1 %


@pytest.mark.slow
def test_ranges_hold_the_hidden_values_as_often_as_they_claim(roof, weather) -> None:
    # 90 % claimed; with 8 ranges, 4 or fewer held would come up once in 200 sets; `tests.trials.fit_coverage` fits more
    assert sum(ranges_that_hold(roof, weather, 4)) >= 5


def test_differential_evolution_ends_at_the_same_place(roof, weather, clean) -> None:
    """One value by it, the other known: a search of two takes half a minute."""
    known = roof.replace({"medium.field_capacity": HIDDEN["medium.field_capacity"]})
    again = fit_roof(
        known, weather, clean, parameters=["planting.crop_coefficient"], method="differential evolution"
    ).table.loc["planting.crop_coefficient"]
    # it ends at a difference of zero; see the tolerance above
    assert again["fitted"] == pytest.approx(HIDDEN["planting.crop_coefficient"], rel=1e-4)


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
    assert fitted.advice[0].startswith(
        "planting.crop_coefficient lies at its low bound (0.95): a value beyond it would fit"
    )


def test_sample_file_is_the_generator_byte_for_byte() -> None:
    assert (sample_folder() / OBSERVED_FILE).read_bytes() == observations_text().encode()
    assert int(sample_observations().isna().sum()) == 12


def test_volume_that_is_off_the_same_way_on_both_parts_is_a_doubt(from_sample) -> None:
    def with_errors(early: float, late: float) -> tuple[str, ...]:
        good = from_sample.goodness.copy()
        good.loc[("fitting", "fitted"), "volume_error_percent"] = early
        good.loc[("held back", "fitted"), "volume_error_percent"] = late
        return dataclasses.replace(from_sample, goodness=good).doubts

    assert from_sample.doubts == ()
    assert with_errors(6.0, 7.0) == (
        "On the days held back the volume is off by +7 % (+6 % on the days fitted), the same way on both: the fitted values cannot "
        "make up for it. Check the area that drains to the gauge, the rain and the scale of the gauge.",
    )
    assert with_errors(-6.0, 7.0) == with_errors(4.9, 7.0) == with_errors(6.0, 4.9) == ()
    assert with_errors(0.0, -11.0) == (
        "On the days held back the volume is off by -11 % (+0 % on the days fitted): do not rest a claim on this fit.",
    )


def test_differences_of_one_sign_are_a_doubt(from_sample) -> None:
    series = from_sample.series.copy()
    season = 0.4 * np.sign(np.sin(2 * np.pi * np.arange(len(series)) / 120.0))
    wet = series["observed"] > 1.0
    series.loc[wet, "fitted"] = series["observed"][wet] + season[wet]
    assert (
        dataclasses.replace(from_sample, series=series)
        .doubts[0]
        .startswith("Measured and modelled overflow differ the same way for many days in a row (")
    )


def test_days_that_begin_at_another_hour_are_noticed(from_sample) -> None:
    """A third of what ran off on a day, by the rain's day, is read on the next."""
    series = from_sample.series.copy()
    true = series["observed"].fillna(series["fitted"])
    series["observed"] = 0.67 * true + 0.33 * true.shift(1, fill_value=0.0)
    said = dataclasses.replace(from_sample, series=series).doubts
    assert said[-1] == (
        "About 33 % of a day's overflow belongs to the rain of the day before: the two days seem to begin at different hours. Sum the "
        "overflow over the same hours as the rain gauge's day."
    )


def test_a_steady_rate_of_drying_is_noticed(roof, weather) -> None:
    hidden = roof.replace({"planting.depletion_fraction": 0.4})
    run = runoff.simulate(hidden, weather.sel(time=slice("2013", "2015")), warm_up_years=0)
    seen = run["roof_overflow"].sel(time=slice("2014", "2015")).to_series()
    fitted = fit_roof(roof, weather, seen)
    # nothing but the steady rate is missing, so all that is left goes with it
    share, low, gain = fitted.steady_drying
    assert share == pytest.approx(0.4, abs=0.02) and low > 0.3 and gain > 0.95
    assert fitted.doubts[-1].startswith(
        "The roof dries in two stages: with a steady rate until 40 % of the plant-available water is gone"
    )


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
        "fit_roof: observed holds 1 stamp more than once, the first 2014-01-04; keep one of each\n"
        "fit_roof: observed is negative or infinite at 1 stamp, the first 2014-01-08 (-2 mm); write a missing value as NaN",
        fit_roof, roof, weather, wrong,
    )  # fmt: skip
    refused(
        "fit_roof: observed must be a pandas Series on dates, or a DataArray on time, of overflow in mm per step",
        fit_roof, roof, weather, [1.0, 2.0],
    )  # fmt: skip
    again = pd.concat([clean, pd.Series([1.0], [clean.index[3] + pd.Timedelta("6h")])])
    refused(
        "fit_roof: observed holds 1 day more than once, the first 2014-01-04, though most steps are a day long; give every day "
        "once, or a record at regular shorter steps",
        fit_roof, roof, weather, again,
    )  # fmt: skip


def test_choices_that_are_wrong(roof, weather, clean) -> None:
    refused(
        'fit_roof: "medium.flow_length" is not known; medium has name, material, depth_mm, porosity, field_capacity, '
        "field_capacity_kind, field_capacity_depth_mm, release_alpha_per_mm, release_n, wilting_point, conductivity_mm_per_h, "
        "bypass_fraction, dry_density_kg_per_m3, detention_k, detention_n\n"
        'fit_roof: "medium.depth_mm" has no range in the materials table; give one, {"medium.depth_mm": (lowest, highest)}\n'
        "fit_roof: medium.porosity needs (lowest, highest), rising (you wrote (0.7, 0.5))",
        fit_roof, roof, weather, clean,
        parameters={"medium.flow_length": None, "medium.depth_mm": None, "medium.porosity": (0.7, 0.5)},
    )  # fmt: skip
    refused(
        'fit_roof: method "least square" is not known (did you mean "least squares"?); known: least squares, '
        "differential evolution",
        fit_roof, roof, weather, clean, method="least square",
    )  # fmt: skip
    refused(
        'fit_roof: measured "overflo" is not known (did you mean "overflow"?); known: roof_overflow, overflow',
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


# --- the command -----------------------------------------------------------------------------------------------


def test_command_on_the_sample(capsys, tmp_path: Path) -> None:
    assert main(["fit", "--out", str(tmp_path)]) == 0
    assert (tmp_path / "fit.png").stat().st_size > 10_000
    said = capsys.readouterr().out
    assert "2014-01-01 to 2015-12-31 - INVENTED, for demonstration only" in said
    assert "medium.field_capacity" in said and "held back" in said
    fitted = runoff.read_roof(tmp_path / "fitted_roof.toml")
    assert fitted.build_up.layer("medium").field_capacity == pytest.approx(HIDDEN["medium.field_capacity"], rel=0.1)


def test_command_refuses_the_sample_observation_for_another_roof(capsys) -> None:
    assert main(["fit", str(sample_folder() / "roof_deep.toml")]) == 1
    assert capsys.readouterr().err == (
        "runoff fit: give the measured overflow of your roof with --observed FILE; the sample observation belongs to the "
        "sample roof and its weather\n"
    )
    assert main(["fit", "--parameter", "medium.field_capacity=wet"]) == 1
    assert capsys.readouterr().err == (
        "--parameter takes NAME or NAME=LOW:HIGH, for example medium.field_capacity=0.25:0.45 "
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
