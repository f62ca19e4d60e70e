"""The step of a time axis, told the same on every calendar."""

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from runoff.quantities import QUANTITIES
from runoff.time_steps import Calendar, time_step


@pytest.mark.parametrize("calendar", ["standard", "noleap", "360_day"])
@pytest.mark.parametrize(("spelled", "hours"), [("1D", 24.0), ("1h", 1.0), ("5min", 1.0 / 12.0)])
def test_a_regular_axis(calendar: str, spelled: str, hours: float) -> None:
    time = xr.date_range("2001-02-27", periods=9, freq=spelled, calendar=calendar, use_cftime=calendar != "standard")
    for form in (time, xr.DataArray(time, dims="time"), time.to_numpy()):
        step = time_step(form)
        assert step.hours == pytest.approx(hours, rel=1e-15)
        assert step.minutes == pytest.approx(60.0 * hours, rel=1e-15)
        assert step.regular and step.first_odd is None
        assert step.daily == (spelled == "1D")


def test_the_odd_step_is_pointed_at() -> None:
    time = pd.DatetimeIndex(["2001-01-01", "2001-01-03", "2001-01-04", "2001-01-05", "2001-01-09"])
    step = time_step(time)  # 2, 1, 1 and 4 days
    assert step.daily and not step.regular
    assert step.first_odd == 0  # after 1 January comes the 3rd
    assert time_step(time[1:]).first_odd == 2  # after the 5th comes the 9th


def test_a_single_stamp_is_a_day() -> None:
    step = time_step(np.array(["2001-01-01"], dtype="datetime64[ns]"))
    assert step.daily and step.regular


def test_years_and_months() -> None:
    time = xr.DataArray(pd.date_range("2000-12-30", "2002-01-02"), dims="time")
    calendar = Calendar.of(time)
    assert calendar.years.tolist() == [2000, 2001, 2002]
    assert calendar.starts.tolist() == [0, 2, 367]
    assert calendar.year_ends.tolist() == [0, 2, 367, 369]
    assert calendar.month[[0, 2, 33, 368]].tolist() == [12, 1, 2, 1]


def test_how_a_quantity_goes_over_to_longer_steps() -> None:
    # depths add up, temperatures and flows are means, stores are what is there at the end
    wanted = {
        "rain": "sum", "overflow": "sum", "reference_et": "sum", "tmean": "mean", "discharge": "mean",
        "medium_water": "last", "tmin": "min", "tmax": "max", "largest_depth_on_deck_mm": "max",
    }  # fmt: skip
    assert {name: QUANTITIES[name].over_time for name in wanted} == wanted
