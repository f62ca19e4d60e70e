"""Gaps filled by named methods, and hours summed to days: missing is never dry unless someone says so."""

import re

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import runoff
from runoff.quantities import label
from runoff.weather.evaporation.evapotranspiration import with_reference_et

NAN = np.nan


def series(values, start: str = "2024-01-01", freq: str = "D", name: str = "rain", units: str = "mm") -> xr.Dataset:
    time = pd.date_range(start, periods=len(values), freq=freq)
    return xr.Dataset({name: ("time", np.asarray(values, dtype=float), {"units": units})}, coords={"time": time})


def test_zero_must_be_asked_for_and_is_recorded() -> None:
    filled = runoff.fill_gaps(series([1.0, NAN, NAN, 2.0, NAN]), rain="zero")
    assert filled["rain"].to_numpy().tolist() == [1.0, 0.0, 0.0, 2.0, 0.0]
    assert (
        filled.attrs["fill"]
        == "rain: 3 filled (longest gap 2), missing steps taken as dry (as asked): it lowers rain and overflow and raises "
        "retention, by 1 to 3 points where a tenth of the days was missing"
    )


def test_nothing_is_filled_unless_asked() -> None:
    given = series([1.0, NAN])
    assert runoff.fill_gaps(given).identical(given)


def test_monthly_mean_of_the_same_month() -> None:
    values = np.full(60, 4.0)  # January 4 mm, February 4 mm but for two days
    values[[35, 40]] = [1.0, NAN]
    filled = runoff.fill_gaps(series(values), rain="monthly-mean")
    # February 2024: 29 days, 28 known: 27 x 4 + 1 = 109 mm over 28 days
    assert float(filled["rain"][40]) == pytest.approx(109 / 28)


def test_monthly_mean_leaves_a_month_that_is_never_known() -> None:
    filled = runoff.fill_gaps(series([1.0] * 31 + [NAN] * 29), rain="monthly-mean")
    assert int(filled["rain"].isnull().sum()) == 29


def test_same_day_of_the_nearest_other_year() -> None:
    given = series(np.arange(3 * 365, dtype=float), start="2021-01-01")
    rain = given["rain"].to_numpy()
    rain[365 + 10] = NAN  # 2022-01-11: 2021 and 2023 are equally near, the earlier is taken
    filled = runoff.fill_gaps(given, rain="same-day-of-other-years")
    assert float(filled["rain"][365 + 10]) == 10.0


def test_same_time_of_day_in_a_record_of_hours() -> None:
    given = series(np.arange(2 * 365 * 24, dtype=float), start="2021-01-01", freq="h")
    given["rain"][365 * 24 + 5] = NAN
    filled = runoff.fill_gaps(given, rain="same-day-of-other-years")
    assert float(filled["rain"][365 * 24 + 5]) == 5.0


def test_temperature_by_a_straight_line_between_its_neighbours() -> None:
    given = series([0.0, NAN, NAN, 3.0, NAN], name="tmin", units="degC")
    filled = runoff.fill_gaps(given, temperature="interpolate")
    np.testing.assert_array_equal(filled["tmin"], [0.0, 1.0, 2.0, 3.0, NAN])  # no line beyond the end
    assert filled.attrs["fill"] == (
        "tmin: 2 filled (longest gap 2), straight line between the steps around the gap; evapotranspiration of a gap of days is "
        "kept, of months it is not"
    )


def test_formed_evapotranspiration_is_formed_again_and_a_given_one_is_kept() -> None:
    base = series([0.0, NAN, 3.0], name="tmin", units="degC")
    formed = base.assign(reference_et=("time", [1.0, NAN, 1.0], {"units": "mm", "method": "Hargreaves-Samani"}))
    given = base.assign(reference_et=("time", [1.0, NAN, 1.0], {"units": "mm", "method": "given"}))
    assert "reference_et" not in runoff.fill_gaps(formed, temperature="interpolate")
    assert "reference_et" in runoff.fill_gaps(given, temperature="interpolate")
    assert runoff.fill_gaps(given, reference_et="interpolate")["reference_et"].to_numpy().tolist() == [1.0, 1.0, 1.0]


def test_every_cell_of_a_grid_is_filled() -> None:
    grid = xr.Dataset(
        {"rain": (("site", "time"), [[1.0, NAN, 3.0], [NAN, 4.0, 6.0]], {"units": "mm"})},
        coords={"time": pd.date_range("2024-01-01", periods=3)},
    )
    filled = runoff.fill_gaps(grid, rain="monthly-mean")
    np.testing.assert_allclose(filled["rain"], [[1.0, 2.0, 3.0], [5.0, 4.0, 6.0]])


def test_methods_apply_one_after_the_other_and_faults_come_together() -> None:
    given = series([1.0, NAN, NAN, NAN]).assign_attrs(gathered="2024-01-03 2 8.0")
    filled = runoff.fill_gaps(given, rain="spread-gathered+zero")
    assert filled["rain"].to_numpy().tolist() == [1.0, 4.0, 4.0, 0.0]
    expected = "\n".join([
        'fill_gaps: rain="zeros" is not known (did you mean "zero"?); known: zero, monthly-mean, same-day-of-other-years, spread-gathered',
        "fill_gaps: there is no temperature in the weather to fill",
    ])  # fmt: skip
    with pytest.raises(runoff.WeatherError, match=f"^{re.escape(expected)}$"):
        runoff.fill_gaps(series([1.0, NAN]), rain="zeros", temperature="interpolate")
    with pytest.raises(
        runoff.WeatherError, match=r'rain="spread-gathered": the record holds no amounts gathered over several days$'
    ):
        runoff.fill_gaps(series([1.0, NAN]), rain="spread-gathered")


# --- days from shorter steps -----------------------------------------------------------------------------------


def test_days_are_sums_and_a_day_that_lacks_a_step_is_missing() -> None:
    values = np.ones(72)
    values[30] = NAN
    days = runoff.daily_totals(series(values, freq="h"))["rain"]
    np.testing.assert_array_equal(days, [24.0, NAN, 24.0])
    part = runoff.daily_totals(series(values, freq="h"), least_share=0.9)
    np.testing.assert_array_equal(part["rain"], [24.0, 23.0, 24.0])
    assert part.attrs["days_in_part"] == 1
    line = runoff.check_weather(part).to_dataframe().set_index("name").loc["days in part"]
    assert (line["verdict"], line["found"]) == ("look", "1 day without all of their steps, which count as dry")


def test_a_day_without_any_value_is_missing_and_not_dry() -> None:
    values = np.zeros(72)
    values[24:48] = NAN
    np.testing.assert_array_equal(
        runoff.daily_totals(series(values, freq="h"), least_share=0.01)["rain"], [0.0, NAN, 0.0]
    )


def test_the_start_of_the_day_is_explicit_and_kept() -> None:
    values = np.zeros(72)
    values[30] = 5.0  # 2 January 06:00 belongs to the day that began on 1 January at 07:00
    days = runoff.daily_totals(series(values, freq="h"), day_start="07:00")
    assert days.attrs["day_start"] == "07:00"
    assert float(days["rain"].sel(time="2024-01-01")) == 5.0
    assert bool(days["rain"][[0, -1]].isnull().all())  # cut off by the start and the end of the record


def test_temperatures_give_their_extremes_and_mean() -> None:
    given = series(np.arange(24.0), freq="h", name="tmean", units="degC").assign(
        reference_et=("time", np.full(24, 0.1), {"units": "mm", "method": "given"})
    )
    days = runoff.daily_totals(given)
    assert [float(days[name][0]) for name in ("tmin", "tmax", "tmean")] == [0.0, 23.0, 11.5]
    assert float(days["reference_et"][0]) == 2.4  # ten times 0.1 is 1: no binary noise
    assert days["reference_et"].attrs["method"] == "given"


def test_calendars_of_models_are_summed_too() -> None:
    time = xr.date_range("2001-02-28", periods=48, freq="h", calendar="noleap", use_cftime=True)
    given = xr.Dataset({"rain": ("time", np.ones(48), {"units": "mm"})}, coords={"time": time, "lat": 10.0})
    days = runoff.daily_totals(given)
    assert [str(day)[:10] for day in days["time"].to_numpy()] == ["2001-02-28", "2001-03-01"]
    assert float(days["lat"]) == 10.0


def test_an_array_of_rain_gives_an_array() -> None:
    rain = series(np.ones(48), freq="30min")["rain"]
    assert runoff.daily_totals(rain).to_numpy().tolist() == [48.0]


@pytest.mark.parametrize(
    ("values", "options", "message"),
    [
        (np.ones(3), {}, "daily_totals: the record is daily already, or has a single step"),
        (np.ones(3), {"day_start": "7 am"}, 'daily_totals: day_start is a time of day such as "07:00" (given "7 am")'),
        (np.ones(3), {"least_share": 0.0}, "daily_totals: least_share is more than 0 and at most 1 (given 0)"),
    ],
)
def test_daily_totals_refuses(values, options, message) -> None:
    with pytest.raises(runoff.WeatherError, match=f"^{re.escape(message)}$"):
        runoff.daily_totals(series(values), **options)


def test_wind_is_filled_and_evapotranspiration_formed_again() -> None:
    time = pd.date_range("2024-06-01", periods=10)
    data = {
        "rain": np.zeros(10), "tmin": np.full(10, 10.0), "tmax": np.full(10, 22.0), "solar_radiation": np.full(10, 20.0),
        "humidity": np.full(10, 0.6), "wind_speed": np.full(10, 3.0),
    }  # fmt: skip
    weather = label(
        xr.Dataset(
            {name: ("time", values) for name, values in data.items()}, {"time": time, "lat": 50.0, "elevation": 10.0}
        )
    )
    weather["wind_speed"][4] = np.nan
    formed = with_reference_et(weather)
    assert "on 1 of 10 days wind not known" in formed["reference_et"].attrs["method"]
    filled = runoff.fill_gaps(formed, wind="interpolate")
    assert "reference_et" not in filled  # it was formed with a stand-in
    assert float(filled["wind_speed"][4]) == 3.0  # between 3 and 3
    assert "days wind not known" not in with_reference_et(filled)["reference_et"].attrs["method"]


@pytest.mark.parametrize(
    ("word", "name"), [("humidity", "humidity"), ("radiation", "solar_radiation"), ("wind", "wind_speed")]
)
def test_what_may_be_filled(word, name) -> None:
    given = series(
        [1.0, NAN, 3.0],
        name=name,
        units={"humidity": "1", "solar_radiation": "MJ m-2 d-1", "wind_speed": "m s-1"}[name],
    )
    assert float(runoff.fill_gaps(given, **{word: "interpolate"})[name][1]) == 2.0


def test_what_the_methods_say_of_retention_holds() -> None:
    # a tenth of the days of Ostrey is taken out; the ranges are those that the methods print, widened by the draw
    weather, roof = runoff.open_sample(), runoff.open_sample_roof("cups")
    gaps = weather.copy(deep=True)
    gaps["rain"].values[np.random.default_rng(1).random(gaps.sizes["time"]) < 0.1] = NAN

    def retention(one: xr.Dataset) -> float:
        return 100 * float(runoff.summarize(runoff.simulate(roof, one))["retention"])

    truth = retention(weather)
    rise = {
        method: retention(runoff.fill_gaps(gaps, rain=method)) - truth
        for method in ("zero", "monthly-mean", "same-day-of-other-years")
    }
    assert 1.0 < rise["zero"] < 4.0
    assert 1.5 < rise["monthly-mean"] < 3.5
    assert 0.0 < rise["same-day-of-other-years"] < 1.5
