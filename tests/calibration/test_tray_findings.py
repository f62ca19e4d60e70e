"""Ranges that hold, events that are named, and the tray against the roof it belongs to. Trials: `tests.trials.tray_coverage`."""

import dataclasses

import numpy as np
import pandas as pd
import pytest

import runoff
from runoff.calibration.drifting_errors import drifting_covariance
from runoff.calibration.sign_runs import runs_of
from runoff.calibration.tray_fit import TrayFit
from runoff.calibration.tray_model import Readings, drying_water
from runoff.plots import tray_drying_figure
from tests.trials import tray_coverage as trial


def test_the_tray_is_the_medium_of_the_roof() -> None:
    """The same numbers as a roof of medium over an open board, day by day through a wet and dry half year."""
    medium = runoff.GrowingMedium(depth_mm=80.0, field_capacity=0.34, wilting_point=0.07, conductivity_mm_per_h=1e5)
    roof = runoff.Roof(
        build_up=runoff.BuildUp(
            layers=[
                runoff.Planting(canopy_storage_mm=0.0, crop_coefficient=0.8, depletion_fraction=0.3),
                medium,
                runoff.DrainageBoard(cup_storage_mm=0.0, in_plane_flow_l_per_s_m=1e3),
            ]
        ),
        outlets=[runoff.Outlet(diameter_mm=400.0, count=4)],
    )
    weather = runoff.open_sample().sel(time=slice("2014-04-10", "2014-10-10"))[["rain", "reference_et"]]
    run = runoff.simulate(roof, weather, warm_up_years=0)
    values = {"wilting_point": 0.07, "field_capacity": 0.34, "crop_coefficient": 0.8, "depletion_fraction": 0.3}
    days = Readings(
        read=np.zeros(weather.sizes["time"]), given=weather["rain"].to_numpy(),
        reference_et=weather["reference_et"].to_numpy(), depth_mm=80.0, starts_drained=True,
        bypass_fraction=0.5,
    )  # fmt: skip
    water = drying_water(values, 0.34 * 80.0, days)
    # a reading of the morning is the store at the end of the day before; both add in an order of their own
    np.testing.assert_allclose(water[1:], run["medium_water"].to_numpy()[:-1], atol=1e-9)


def test_ranges_hold_the_truth_as_often_as_they_claim() -> None:
    """Four logs of each kind of error, three values each; the trial by hand has 200 logs of each."""
    held = []
    for together in trial.TOGETHER.values():
        for k in range(4):
            held += trial.held(5000 + k, error_g=trial.ERRORS_G[k % 5], together=together)[0].values()
    # 90 % claimed, so 32 of 36 are expected; the three values of a log lean on each other, so six more may be missed
    assert sum(held) >= 26


def test_errors_that_hang_together_widen_the_ranges() -> None:
    widths = [
        np.mean([sum(trial.held(5000 + k, error_g=20.0, together=together)[1].values()) for k in range(2)])
        for together in (0.0, 0.8)
    ]
    assert widths[1] > 1.3 * widths[0]


def test_spread_for_independent_errors_is_that_of_least_squares() -> None:
    rng = np.random.default_rng(5)
    slopes, left = rng.normal(size=(400, 3)), rng.normal(size=400)
    bread = np.linalg.inv(slopes.T @ slopes)
    covariance, drift = drifting_covariance(slopes, left, bread, np.arange(400.0))
    # 400 independent errors of size 1: their spread is known to 1/sqrt(800) = 4 %, and slopes without a trend hardly feel drift
    np.testing.assert_allclose(np.diag(covariance), np.diag(bread), rtol=0.15)
    assert drift.error == pytest.approx(1.0, abs=0.12) and drift.next_day < 0.1


def test_runs_by_hand() -> None:
    """Seven up, then seven down: 2 runs; mean 1 + 2*49/14 = 8, variance 98*84/(196*13) = 3.2308, so z = -5.5/1.797 = -3.06."""
    found = runs_of(np.array([1.0] * 7 + [-1.0] * 7))
    assert (found.seen, found.expected) == (2, 8.0)
    assert found.chance == pytest.approx(0.00111, abs=2e-5)  # normal table: P(Z < -3.06) = 0.0011
    assert not found.too_few
    assert runs_of(np.array([1.0] * 9 + [-1.0] * 9)).too_few
    assert runs_of(np.tile([1.0, -1.0], 20)).chance > 0.99
    assert runs_of(np.array([1.0, np.nan, 0.0, -1.0])).chance == 1.0


@pytest.fixture(scope="module")
def tray():
    return trial.drawn_tray(9002, error_g=20.0, together=0.0, days=45)


@pytest.mark.parametrize("fault", list(trial.FAULTS))
def test_what_went_wrong_is_named(fault) -> None:
    assert trial.noticed(fault, 9002, 20.0, 0.0) == ("nothing" if fault == "nothing" else "named")


def test_a_jump_has_its_day_and_its_size(tray) -> None:
    fit = trial.fitted(tray, trial.scale_jump(tray))
    ((at, size),) = fit.explanation.jumps
    weighed = tray.days.index[15:][tray.days["weight_kg"].iloc[15:].notna()]
    assert fit.water.index[at] == weighed[0]
    assert size == pytest.approx(0.5 / 0.25, abs=0.15)  # 0.5 kg on 0.25 m2; 20 g are 0.08 mm
    day = f"{weighed[0]:%Y-%m-%d}"
    assert fit.doubts[0].startswith(f"Up to {day} the tray gained {size:.1f} mm (".replace(".0 mm", " mm"))
    assert fit.doubts[0].endswith(f"Add what was given, or use the days before {day} alone.")


def test_two_stages_are_told_from_a_jump_and_can_be_fitted() -> None:
    tray = trial.drawn_tray(9002, error_g=20.0, together=0.0, days=45, depletion_fraction=0.5)
    one = trial.fitted(tray)
    assert not one.explanation.jumps and one.explanation.steady_share == pytest.approx(0.5, abs=0.05)
    assert one.doubts[0].startswith("The tray dries in two stages: at a steady rate until about ")
    both = runoff.fit_tray(
        tray.days, tray.depth_mm, area_m2=tray.area_m2, empty_kg=tray.empty_kg, depletion_fraction=None
    )
    row = both.table.loc["depletion_fraction"]
    assert row["low"] < 0.5 < row["high"] and both.doubts == ()


def test_first_reading_while_still_draining(tray) -> None:
    days = tray.days.copy()
    days.loc[days.index[0], "weight_kg"] += 0.8
    doubts = trial.fitted(tray, days).doubts
    assert len(doubts) == 1 and "more than it can have given off: it was still draining." in doubts[0]
    assert doubts[0].endswith("Leave the first reading out, start the log with 2014-05-06.")


def test_differences_of_one_sign_without_an_event_are_a_doubt(tray) -> None:
    fit = trial.fitted(tray)
    swing = 0.6 * np.sin(np.arange(len(fit.water)) / 6.0)
    water = fit.water.assign(read=fit.water["modelled"] + swing)
    wavy = dataclasses.replace(fit, water=water, rmse_mm=0.42)
    assert wavy.doubts[0].startswith("Readings and model differ the same way for many days in a row (")


def test_the_result_reads_in_both_unit_systems(tray) -> None:
    fit = trial.fitted(tray)
    assert "5 to 95 %" in fit.text() and " g) (root mean square)" in fit.text()
    assert " lb) (root mean square)" in fit.text("us") and "mm" not in fit.text("us")
    assert "<table" in fit._repr_html_() and isinstance(fit, TrayFit)


def test_the_figure_shows_every_reading_and_marks_what_is_not_explained(tray) -> None:
    fit = trial.fitted(tray, trial.slip_of_the_pen(tray))
    figure = tray_drying_figure(fit, invented=True, units="us")
    above, below = figure.axes
    read = next(line for line in above.lines if line.get_label() == "reading")
    np.testing.assert_allclose(read.get_ydata(), fit.water["read"] / 25.4)
    marked = next(line for line in above.lines if line.get_label() == "not explained by drying")
    assert pd.DatetimeIndex(marked.get_xdata())[0] == fit.water.index[fit.explanation.slips[0][0]]
    assert len(below.lines) == 3 and "(invented weighings)" in above.get_title(loc="left")
    assert "One reading is not explained by drying" in figure.description
    figure.draw_without_rendering()
    inside = above.get_legend().get_window_extent()
    assert inside.x1 <= figure.bbox.x1 and inside.y1 <= figure.bbox.y1 - 20  # five entries, and the title above them
