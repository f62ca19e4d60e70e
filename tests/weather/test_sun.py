"""The sun by its symmetries; daily evapotranspiration spread over the day. FAO-56 tables stand in `tests/published`."""

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st

from runoff.errors import WeatherError
from runoff.weather.evaporation import sun


def test_the_last_day_of_a_360_day_year_is_still_december() -> None:
    pytest.importorskip("cftime")
    time = xr.date_range("2003-12-30", periods=1, calendar="360_day", use_cftime=True)
    # 1 + 359 x 365/360 = 364.99, worked by hand
    assert float(sun.day_of_year(xr.DataArray(time, dims="time", coords={"time": time}))[0]) == pytest.approx(
        364.986, abs=1e-3
    )


LATITUDES = st.floats(-90.0, 90.0)
J_OF_YEAR = st.integers(1, 366)


@given(LATITUDES, J_OF_YEAR)
def test_daylight_of_both_hemispheres_is_a_day(latitude: float, J: int) -> None:
    assert sun.daylight_hours(J, latitude) + sun.daylight_hours(J, -latitude) == pytest.approx(24.0, abs=1e-9)


@given(LATITUDES, J_OF_YEAR)
def test_extraterrestrial_radiation_is_never_negative(latitude: float, J: int) -> None:
    above = sun.extraterrestrial_radiation(J, latitude)
    # most falls on the pole in midsummer: by hand 1440 x 0.0820 x 1.033 x sin(0.409) = 48.5
    assert 0.0 <= above < 48.6
    if sun.daylight_hours(J, latitude) == 0.0:
        assert above == 0.0


@given(J_OF_YEAR)
def test_days_at_the_equator_have_twelve_hours(J: int) -> None:
    assert sun.daylight_hours(J, 0.0) == pytest.approx(12.0, abs=1e-12)


def spread(days: xr.DataArray, step: str, **options: float) -> xr.DataArray:
    """Return daily values spread onto all steps of their days."""
    start, length = days["time"].to_numpy()[0], pd.Timedelta(step)
    stamps = pd.date_range(start, periods=days.size * (pd.Timedelta("1D") // length), freq=length)
    return sun.spread_onto(days, xr.DataArray(stamps, dims="time", coords={"time": stamps}), **options)


@pytest.mark.slow
@settings(max_examples=40)
@given(
    st.floats(-80.0, 80.0),
    st.sampled_from(["5min", "15min", "1h", "3h", "24h"]),
    st.floats(0.0, 12.0),
    st.floats(0.0, 23.9),
)
def test_the_steps_of_a_day_add_up_to_it(latitude: float, step: str, depth: float, noon: float) -> None:
    day = xr.DataArray(
        [depth, depth], {"time": pd.to_datetime(["2001-06-21", "2001-06-22"]), "lat": latitude}, ["time"]
    )
    steps = spread(day, step, noon_hour=noon)
    # a few hundred roundings of numbers up to 12
    np.testing.assert_allclose(steps.to_numpy().reshape(2, -1).sum(axis=1), [depth, depth], rtol=0, atol=1e-12)
    assert float(steps.min()) >= -1e-15


def test_daylight_spreading_by_hand() -> None:
    # 12 hours of light: the hour from 6 to 7 has (1 - cos(pi/12))/2 of the day = 0.017037
    day = xr.DataArray([10.0], {"time": pd.to_datetime(["2001-03-21"]), "lat": 0.0}, ["time"])
    hours = spread(day, "1h").to_numpy()
    assert hours[6] == pytest.approx(10.0 * (1.0 - np.cos(np.pi / 12.0)) / 2.0, abs=1e-9)
    assert hours[:6].tolist() == [0.0] * 6
    np.testing.assert_allclose(hours, hours[::-1], atol=1e-12)


def test_half_hours_add_up_to_their_hours() -> None:
    day = xr.DataArray([4.0], {"time": pd.to_datetime(["2001-06-21"]), "lat": 47.0}, ["time"])
    halves = spread(day, "30min").to_numpy().reshape(24, 2).sum(axis=1)
    # a few roundings of numbers up to 4
    np.testing.assert_allclose(halves, spread(day, "1h").to_numpy(), rtol=0, atol=1e-14)


def test_polar_night_spreads_evenly_and_unknown_latitude_says_so() -> None:
    day = xr.DataArray([2.4], {"time": pd.to_datetime(["2001-12-21"]), "lat": 80.0}, ["time"])
    np.testing.assert_allclose(spread(day, "1h"), 0.1)
    found = spread(day.drop_vars("lat"), "1h")
    assert found.attrs["daylight"] == "half sine, 12 hours every day: the latitude is not known"


def test_the_day_that_lacks_evapotranspiration_is_named() -> None:
    days = xr.DataArray([4.0, 3.0], {"time": pd.to_datetime(["2001-06-21", "2001-06-22"]), "lat": 47.0}, ["time"])
    steps = pd.date_range("2001-06-21", periods=72, freq="1h")
    message = "daily evapotranspiration is needed for every day of the record; 2001-06-23 is missing"
    with pytest.raises(WeatherError, match=message):
        sun.spread_onto(days, xr.DataArray(steps, dims="time", coords={"time": steps}))
