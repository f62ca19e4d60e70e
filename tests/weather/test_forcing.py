"""What a run gets of its weather: rain and evapotranspiration per step, or the reason why not. All cases invented."""

import re

import cftime
import numpy as np
import pandas as pd
import pytest
import xarray as xr

from runoff.errors import RunoffError, WeatherError
from runoff.storms import design_storm
from runoff.time_steps import STEP_HOURS
from runoff.weather.record.forcing import (
    date_text,
    prepare_forcing,
    run_step_hours,
    steps_in_first_years,
    warm_up_length,
)
from runoff.weather.record.frames import as_weather

MM = {"units": "mm"}
C = {"units": "degC"}


def days(count: int = 30, start: str = "2001-06-01", **more) -> xr.Dataset:
    time = pd.date_range(start, periods=count)
    values = {"rain": np.where(np.arange(count) % 3 == 0, 6.0, 0.0), **more}
    units = {"tmin": C, "tmax": C, "tmean": C}
    return xr.Dataset(
        {
            name: ("time", np.broadcast_to(one, count).astype(float), units.get(name, MM))
            for name, one in values.items()
        },
        coords={"time": time, "lat": 47.0},
    )


def minutes(hours: float, start: str = "2001-06-10", step: str = "10min") -> xr.Dataset:
    time = pd.date_range(start, periods=round(hours * 6), freq=step)
    return xr.Dataset({"rain": ("time", np.full(time.size, 0.2), MM)}, coords={"time": time, "lat": 47.0})


def test_the_mean_of_a_day_is_half_way_between_its_ends() -> None:
    given = prepare_forcing(days(tmin=4.0, tmax=14.0))
    assert set(given.data_vars) == {"rain", "reference_et", "tmean"}
    np.testing.assert_array_equal(given["tmean"], 9.0)  # (4 + 14)/2
    np.testing.assert_array_equal(given["rain"], days()["rain"])
    own = prepare_forcing(days(tmin=4.0, tmax=14.0, tmean=8.0))
    np.testing.assert_array_equal(own["tmean"], 8.0)  # a mean of the record is kept


def test_attributes_of_the_record_go_along() -> None:
    given = prepare_forcing(days(reference_et=2.0).assign_attrs(invented="yes", title="Quay"))
    assert given.attrs == {"invented": "yes", "title": "Quay"}
    np.testing.assert_array_equal(given["reference_et"], 2.0)


def test_a_lone_storm_has_no_evapotranspiration() -> None:
    storm = prepare_forcing(minutes(12))
    assert float(storm["reference_et"].sum()) == 0.0
    assert storm["reference_et"].attrs["method"] == "none: a lone storm"
    # a week is a record, not a storm: 7 days of steps are refused for want of temperatures, a step less is not
    assert float(prepare_forcing(minutes(7 * 24))["reference_et"].sum()) == 0.0
    with pytest.raises(WeatherError, match="reference evapotranspiration needs"):
        prepare_forcing(minutes(7 * 24 + 1 / 6))
    with pytest.raises(WeatherError, match="reference evapotranspiration needs"):
        prepare_forcing(days(2))  # two days of rain are days


def test_minutes_take_the_evapotranspiration_of_their_days_over_daylight() -> None:
    climate = days(reference_et=3.0)
    given = prepare_forcing(minutes(48), climate=climate)
    by_day = given["reference_et"].groupby("time.dayofyear").sum()
    np.testing.assert_allclose(by_day, 3.0, rtol=1e-12)
    assert float(given["reference_et"].sel(time="2001-06-10T01:00")) == 0.0  # night
    assert given["reference_et"].attrs["units"] == "mm"
    assert given["reference_et"].attrs["method"].endswith(", spread over daylight")
    # what the record has itself is kept
    own = minutes(48).assign(reference_et=("time", np.full(288, 0.01), MM))
    np.testing.assert_array_equal(prepare_forcing(own, climate=climate)["reference_et"], 0.01)
    # a daily record never takes from a climate
    with pytest.raises(WeatherError, match="reference evapotranspiration needs"):
        prepare_forcing(days(), climate=climate)


def test_a_design_storm_has_a_date_for_form_only() -> None:
    storm = design_storm(depth_mm=20, duration="1h", step="10min", pattern="uniform", start="2001-06-10")
    assert float(prepare_forcing(storm, climate=days(reference_et=3.0))["reference_et"].sum()) == 0.0


def test_minutes_past_their_climate_are_refused_with_their_dates() -> None:
    climate = days(10, reference_et=3.0)  # 1 to 10 June
    outside = minutes(12, start="2001-08-01")  # a lone storm, wholly outside
    given = prepare_forcing(outside, climate=climate)
    assert given["reference_et"].attrs["method"] == "none: the storm lies outside the climate record"
    assert given["reference_et"].attrs["units"] == "mm" and float(given["reference_et"].sum()) == 0.0
    message = (
        "simulate: the record in short steps has 7 days outside its daily climate (2001-06-01 to 2001-06-10), 2001-06-11, "
        "2001-06-12, 2001-06-13, 2001-06-14, 2001-06-15 and 2 more; they would have no evapotranspiration"
    )
    with pytest.raises(WeatherError, match=re.escape(message)):
        prepare_forcing(minutes(8 * 24), climate=climate)
    with pytest.raises(WeatherError, match=re.escape("has 1 day outside")):
        prepare_forcing(minutes(48), climate=climate)


def test_a_climate_of_another_calendar_is_refused() -> None:
    climate = days(30, reference_et=1.0)
    message = (
        "simulate: the record in short steps has the calendar standard, its daily climate noleap; give a climate of the same calendar, "
        'for example climate.convert_calendar("standard")'
    )
    with pytest.raises(WeatherError, match=re.escape(message)):
        prepare_forcing(minutes(8), climate=climate.convert_calendar("noleap"))


def test_missing_rain_stops_with_its_dates() -> None:
    holed = days(30, reference_et=1.0)
    holed["rain"][[3, 4, 5, 6, 7, 20]] = np.nan
    message = "simulate: `rain` is missing on 6 of 30 steps: 2001-06-04, 2001-06-05, 2001-06-06, 2001-06-07, 2001-06-08 and 1 more; "
    with pytest.raises(WeatherError, match=f"^{re.escape(message)}"):
        prepare_forcing(holed)
    holed["rain"][20] = 0.0
    with pytest.raises(WeatherError, match=r"2001-06-08; choose other years"):  # five are all named
        prepare_forcing(holed)
    cold = days(30, reference_et=1.0, tmean=5.0)
    cold["tmean"][2] = np.nan
    with pytest.raises(WeatherError, match=r"^simulate: `tmean` is missing on 1 of 30 steps: 2001-06-03; "):
        prepare_forcing(cold)


def test_a_grid_keeps_its_holes_and_is_told() -> None:
    here = days(30, reference_et=1.0).drop_vars("lat")
    grid = xr.concat([here, here], "site")
    grid["rain"][1, 4] = np.nan
    with pytest.warns(UserWarning):
        given = prepare_forcing(grid)
    assert int(given["rain"].isnull().sum()) == 1


def test_inches_called_mm_are_refused_and_round_amounts_are_an_experiment() -> None:
    rng = np.random.default_rng(3)
    time = pd.date_range("1991-01-01", "1996-12-31")
    wet = rng.random(time.size) < 0.35
    rain = np.where(wet, rng.gamma(0.7, 8.0, time.size), 0.0)

    def record(scale: float, **attrs) -> xr.Dataset:
        data = xr.Dataset(
            {"rain": ("time", rain * scale, MM), "reference_et": ("time", np.full(time.size, 1.0), MM)},
            coords={"time": time, "lat": 47.0},
        )
        return data.assign_attrs(attrs)

    prepare_forcing(record(1.0))
    with pytest.raises(WeatherError, match=r"^simulate: rain: .*weather\.attrs\[\"\w+\"\] = \"yes\"$"):
        prepare_forcing(record(0.01))
    said = re.search(r'attrs\["(\w+)"\]', str(_refused(record(0.01))))[1]
    prepare_forcing(record(0.01, **{said: "yes"}))
    # near the pole light snow is usual: 5 mm a day at most are no sign of inches
    with pytest.raises(WeatherError):
        prepare_forcing(record(0.05))
    prepare_forcing(record(0.05).assign_coords(lat=70.0))
    few = record(0.01)
    few["rain"] = few["rain"].where(few["rain"] == 0.0, 0.01)  # one amount only
    prepare_forcing(few)


def _refused(weather: xr.Dataset) -> WeatherError:
    with pytest.raises(WeatherError) as caught:
        prepare_forcing(weather)
    return caught.value


def test_a_storm_of_one_step_is_as_long_as_it_says() -> None:
    storm = design_storm(depth_mm=5, duration="15min", step="15min", pattern="uniform")
    assert run_step_hours(prepare_forcing(storm)["time"]) == 0.25


@pytest.mark.parametrize(
    ("hours", "good"),
    [(24.0, 24.0), (1.0, 1.0), (1 / 60, 1 / 60), (1.05, None), (2.0, None), (1 / 120, None), (48.0, None)],
)
def test_steps_of_a_run(hours: float, good: float | None) -> None:
    time = xr.DataArray(pd.date_range("2001-01-01", periods=1), dims="time", attrs={STEP_HOURS: hours})
    if good is None:
        with pytest.raises(WeatherError, match=f"the weather has steps of {hours:g} h; steps of one day"):
            run_step_hours(time)
    else:
        assert run_step_hours(time) == good


def test_a_year_of_warm_up_needs_a_year_of_record() -> None:
    def axis(count: int) -> xr.DataArray:
        return xr.DataArray(pd.date_range("2001-01-01", periods=count), dims="time")

    assert [warm_up_length(axis(count), None) for count in (364, 365, 800)] == [0, 1, 1]
    assert warm_up_length(axis(800), None, given=True) == 0  # a given start needs none
    assert warm_up_length(axis(10), 3) == 3 and warm_up_length(axis(10), 0) == 0
    for wrong in (-1, 1.5):
        with pytest.raises(RunoffError, match=rf"warm_up_years must be a whole number, 0 or more \(given {wrong}\)"):
            warm_up_length(axis(10), wrong)  # type: ignore[arg-type]


def test_steps_of_the_first_years() -> None:
    time = xr.DataArray(pd.date_range("2000-01-01", periods=1000), dims="time")
    assert steps_in_first_years(time, 1) == 366  # 2000 is a leap year
    assert steps_in_first_years(time, 2) == 366 + 365
    assert steps_in_first_years(time, 5) == 1000  # all there are
    # from 29 February 2000 to before 28 February 2001, and to before 29 February 2004: 366 + 2 x 365 days + 365
    begun = xr.DataArray(pd.date_range("2000-02-29", periods=2000), dims="time")
    assert [steps_in_first_years(begun, years) for years in (1, 4)] == [365, 1461]
    leap = [cftime.DatetimeGregorian(2000, 2, 29) + pd.Timedelta(days=i).to_pytimedelta() for i in range(800)]
    # from 29 February 2000 to before 28 February 2001: 365 days
    assert steps_in_first_years(xr.DataArray(leap, dims="time"), 1) == 365
    plain = [cftime.DatetimeNoLeap(2001, 3, 31) + pd.Timedelta(days=i).to_pytimedelta() for i in range(800)]
    assert steps_in_first_years(xr.DataArray(plain, dims="time"), 2) == 730


@pytest.mark.parametrize(
    ("stamp", "words"),
    [
        ("2001-06-03T00:00:00", "2001-06-03"),
        ("2001-06-03T12:00", "2001-06-03"),
        ("2001-06-03T05:10:00", "2001-06-03T05:10"),
    ],
)
def test_a_date_as_a_person_writes_it(stamp: str, words: str) -> None:
    assert date_text(np.datetime64(stamp)) == words


@pytest.mark.parametrize("unit", ["s", "ms", "us"])
def test_stamps_of_another_unit_are_those_of_nanoseconds(unit: str) -> None:
    """The same stamp is another number in another unit: a year of minutes would lie outside its climate."""
    lone, climate = minutes(24.0, "2001-06-10"), days(12, tmin=9.0, tmax=21.0)
    wanted = prepare_forcing(in_unit(lone, "ns"), climate=in_unit(climate, "ns"))
    given = in_unit(lone, unit)
    found = prepare_forcing(given, climate=in_unit(climate, unit))
    xr.testing.assert_identical(found, wanted)
    assert found.indexes["time"].dtype == "datetime64[ns]"
    assert given.indexes["time"].dtype == f"datetime64[{unit}]"  # what was given stays as it is


def in_unit(weather: xr.Dataset, unit: str) -> xr.Dataset:
    return weather.assign_coords(time=weather.indexes["time"].as_unit(unit))


def test_stamps_beyond_nanoseconds_are_told() -> None:
    given = days(30).assign_coords(time=np.arange("1601-06-01", "1601-07-01", dtype="datetime64[D]").astype("M8[s]"))
    with pytest.raises(RunoffError, match="run from 1601-06-01 to 1601-06-30; stamps of numpy reach from 1677 to 2262"):
        prepare_forcing(given)


def test_what_is_written_on_the_weather_stays_off_the_table() -> None:
    table = pd.DataFrame({"rain": [1.0, 2.0, 3.0]}, index=pd.date_range("2001-06-01", periods=3))
    weather = as_weather(table)
    weather["rain"][0] = 9.0
    assert weather["rain"].values.tolist() == [9.0, 2.0, 3.0] and table["rain"].tolist() == [1.0, 2.0, 3.0]
