"""Curve-number runoff by hand and by its own properties; printed tables stand in `tests/published`."""

import re

import numpy as np
import pytest
import xarray as xr
from hypothesis import given
from hypothesis import strategies as st

from runoff.errors import RunoffError
from runoff.findings.curve_number import (
    CURVE_NUMBER_LIMITS,
    curve_number_cautions,
    curve_number_runoff,
    event_curve_number,
    event_retention,
    potential_retention,
)

INCH = 25.4


@given(number=st.floats(50, 98), extra=st.floats(1.0, 400.0), ratio=st.sampled_from([0.05, 0.1, 0.2]))
def test_there_and_back(number: float, extra: float, ratio: float) -> None:
    rain = ratio * potential_retention(number) + extra
    runoff = curve_number_runoff(rain, number, initial_abstraction_ratio=ratio)
    assert 0.0 <= runoff <= rain
    back = event_curve_number(rain, runoff, initial_abstraction_ratio=ratio)
    # the root loses digits when runoff is a small part of the rain
    assert back == pytest.approx(number, abs=1e-5)


def test_runoff_rises_with_rain_and_curve_number() -> None:
    rain, number = np.meshgrid(np.linspace(0, 300, 61), np.linspace(40, 100, 61), indexing="ij")
    runoff = curve_number_runoff(rain, number)
    assert (np.diff(runoff, axis=0) >= 0).all()
    assert (np.diff(runoff, axis=1) >= -1e-12).all()
    assert (runoff <= rain + 1e-12).all()


def test_branch_at_the_initial_abstraction() -> None:
    # CN 80: S = 63.5 mm, Ia = 12.7 mm exactly; worked by hand from the equation
    assert curve_number_runoff(12.6, 80) == 0.0
    assert curve_number_runoff(12.7, 80) == pytest.approx(0.0, abs=1e-12)
    assert curve_number_runoff(13.7, 80) == pytest.approx(1.0 / 64.5, rel=1e-9)


def test_everything_runs_off_at_curve_number_100() -> None:
    assert curve_number_runoff(30.0, 100) == pytest.approx(30.0)
    assert curve_number_runoff(0.0, 100) == 0.0
    assert event_curve_number(30.0, 30.0) == pytest.approx(100.0)
    assert event_retention(30.0, 15.0, initial_abstraction_ratio=0.0) == pytest.approx(30.0)  # P^2/Q - P


def test_labelled_rain_keeps_labels_and_converts_inches() -> None:
    rain = xr.DataArray([1.0, 6.0], dims="storm", name="rain", attrs={"units": "in"})
    runoff = curve_number_runoff(rain, 70)
    assert runoff.attrs["units"] == "mm"
    assert runoff.name == "runoff"
    assert runoff.values[1] / INCH == pytest.approx(2.8052, abs=5e-5)  # TR-55 Example 2-1


def test_cautions_name_the_limits_that_bite() -> None:
    small = curve_number_cautions(38.0, rain_mm=20.0, runoff_mm=0.5)
    assert any("below a weighted curve number of 40" in line for line in small)
    assert any("12.7 mm" in line for line in small)
    large = curve_number_cautions(86.0, rain_mm=80.0, runoff_mm=45.0)
    assert not any("12.7 mm" in line for line in large)
    assert large[0] == CURVE_NUMBER_LIMITS[0]
    assert large[-1].endswith("This one is for 80.0 mm (3.15 in) of rain.")
    # by hand: S = 25400/98 - 254 = 5.18367 mm, Ia = 1.03673; (80 - 1.03673)^2 / (80 - 1.03673 + 5.18367) = 74.0990
    assert "curve number 98 in TR-55, by which this storm would leave 74.1 mm (2.92 in)." in large[-2]


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: curve_number_runoff(50, 0), "curve number 0 must be above 0 and at most 100 (a bare roof is 98)"),
        (lambda: curve_number_runoff(50, [80, 101]), "curve number 101 must be above 0 and at most 100"),
        (lambda: curve_number_runoff(-1.0, 80), "rain_mm has negative values; depths of rain and runoff cannot be"),
        (
            lambda: curve_number_runoff(50, 80, initial_abstraction_ratio=20),
            "initial_abstraction_ratio 20 must lie between 0 and 1 (0.2 in TR-55)",
        ),
        (lambda: event_curve_number(20, 0), "a storm without runoff has no curve number; only an upper bound is known"),
        (
            lambda: event_curve_number(20, 21),
            "runoff is more than rain; the area, the units or the time window of one of them is wrong",
        ),
        (
            lambda: curve_number_runoff(50, 80, initial_abstraction_ratio=1.05),
            "initial_abstraction_ratio 1.05 must lie between 0 and 1 (0.2 in TR-55)",
        ),
    ],
)
def test_messages(call, message: str) -> None:
    with pytest.raises(RunoffError, match=re.escape(message)):
        call()
