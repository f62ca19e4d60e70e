"""Weather from memory: pandas objects and xarray Datasets, brought to house units or refused by name."""

import re

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import runoff
from runoff.weather.record.frames import as_weather

DAYS = pd.date_range("2024-01-01", periods=4)
NOLEAP, DAYS_OF_360 = (
    xr.date_range("2024-01-01", periods=4, calendar=name, use_cftime=True) for name in ("noleap", "360_day")
)


def dataset(rain=(0.0, 1.0, 2.0, 3.0), units: str | None = "mm", time=DAYS, **others) -> xr.Dataset:
    data = xr.Dataset({"rain": ("time", np.asarray(rain, dtype=float))}, coords={"time": time})
    if units is not None:
        data["rain"].attrs["units"] = units
    return data.assign({name: ("time", values, {"units": unit}) for name, (values, unit) in others.items()})


def test_a_series_is_rain_in_mm() -> None:
    weather = as_weather(pd.Series([0.0, 1.5], index=DAYS[:2]))
    assert weather["rain"].to_numpy().tolist() == [0.0, 1.5]
    assert weather["rain"].attrs["units"] == "mm"


def test_columns_carry_their_units_in_their_names() -> None:
    frame = pd.DataFrame(
        {"rain_in": [0.0, 1.0], "tmin_f": [32.0, 14.0], "humidity_percent": [50.0, 80.0]}, index=DAYS[:2]
    )
    weather = as_weather(frame)
    assert weather["rain"].to_numpy().tolist() == [0.0, 25.4]
    assert weather["tmin"].to_numpy() == pytest.approx([0.0, -10.0])
    assert weather["humidity"].to_numpy() == pytest.approx([0.5, 0.8])


@pytest.mark.parametrize(
    ("zone", "first", "words"),
    # 5 July 2024 12:00 on the clock is an hour less in standard time where summer time holds
    [("Europe/Berlin", "2024-07-05T11:00", "standard time, UTC+01:00"), ("America/New_York", "2024-07-05T11:00", "standard time, UTC-05:00"),
     ("Australia/Sydney", "2024-07-05T12:00", "standard time, UTC+10:00"), ("UTC", "2024-07-05T12:00", "UTC")],
)  # fmt: skip
def test_stamps_with_a_zone_become_local_standard_time(zone, first, words) -> None:
    index = pd.date_range("2024-07-05 12:00", periods=3, freq="h", tz=zone)
    weather = as_weather(pd.Series([0.0, 1.0, 2.0], index=index))
    assert str(weather["time"].to_numpy()[0])[:16] == first
    assert weather["time"].dtype == "datetime64[ns]"  # a zone would not survive writing to NetCDF
    assert weather.attrs["time_zone"] == words


def test_hours_across_the_change_to_summer_time_stay_regular() -> None:
    index = pd.date_range("2024-03-30 00:00", periods=72, freq="h", tz="Europe/Berlin")
    assert as_weather(pd.Series(np.zeros(72), index=index)).sizes["time"] == 72


def test_units_are_converted_and_the_given_stays_as_it_is() -> None:
    given = dataset((0.0, 1.0, 0.0, 0.0), "in", tmin=([273.15] * 4, "K"))
    before = given.copy(deep=True)
    weather = as_weather(given)
    assert weather["rain"].to_numpy().tolist() == [0.0, 25.4, 0.0, 0.0]
    assert weather["tmin"].to_numpy() == pytest.approx([0.0] * 4)
    xr.testing.assert_identical(given, before)


def test_labels_are_not_written_onto_the_given() -> None:
    given = dataset()
    as_weather(given)
    assert given["rain"].attrs == {"units": "mm"}


def test_whole_numbers_and_empty_units_of_fractions() -> None:
    given = dataset(humidity=([0.5] * 4, ""))
    given["rain"] = ("time", np.array([0, 1, 2, 3]), {"units": "mm"})
    weather = as_weather(given)
    assert weather["rain"].dtype == float
    assert weather["humidity"].attrs["units"] == "1"


REFUSED = [
    ("no units", dataset(units=None), 'weather: `rain` has no units; set rain.attrs["units"] = "mm"'),
    ("intensity", dataset(units="mm/h"), 'weather: `rain` has units "mm/h", needs "mm"; use runoff.to_depth(rain)'),
    ("no rain", dataset().rename(rain="rains"), 'weather: `rain` is missing; given are rains (did you mean "rain"?)'),
    (
        "a gap", dataset(time=pd.DatetimeIndex(["2024-01-01", "2024-01-02", "2024-01-05", "2024-01-06"])),
        "weather: the steps of time are not all alike: after 2024-01-02 comes 2024-01-05. Bring the series to regular steps with "
        'missing values for the gaps, weather.resample(time="1D").asfreq()',
    ),
    (
        "a gap in minutes", dataset(time=pd.DatetimeIndex(["2024-01-01 00:00", "2024-01-01 00:05", "2024-01-01 00:10", "2024-01-01 00:20"])),
        "weather: the steps of time are not all alike: after 2024-01-01 00:10 comes 2024-01-01 00:20. Bring the series to regular "
        'steps with missing values for the gaps, weather.resample(time="5min").asfreq()',
    ),
    (
        "a day twice", dataset(time=pd.DatetimeIndex(["2024-01-01", "2024-01-02", "2024-01-02", "2024-01-03"])),
        "weather: time: 2024-01-02 is given twice; keep one of each",
    ),
    (
        "two calendars", dataset(time=[*NOLEAP[:2], *DAYS_OF_360[2:]]),
        "weather: time: dates of two calendars, noleap and 360_day; bring all to one with weather.convert_calendar(...) first",
    ),
    ("backwards", dataset(time=DAYS[::-1]), "weather: time runs backwards; sort it with weather.sortby('time')"),
    (
        "numbers for dates", dataset(time=[0, 1, 2, 3]),
        "weather: `time` holds no dates; use dates of pandas, numpy or cftime that mark the start of each interval",
    ),
    (
        "negative rain", dataset((0.0, -1.0, 2.0, -9999.0)),
        "weather: `rain` is negative on 2 steps, first -1 mm at 2024-01-02; a missing value is written as NaN, rain is a depth per step",
    ),
    (
        "more rain than has ever fallen", dataset((0.0, 2000.0, 0.0, 0.0)),
        "weather: `rain` is impossible on 1 step, first 2000 mm at 2024-01-02; a missing value is written as NaN, rain is a depth per step",
    ),
    (
        "percent as fraction", dataset(humidity=([80.0, 90.0, 1.0, 0.9], "1")),
        "weather: `humidity` is impossible on 2 steps, first 80 at 2024-01-01; percent? Then set its units to \"%\"; a fraction lies "
        "between 0 and 1",
    ),
    (
        "fraction as percent", dataset(humidity=([0.8, 0.9, 1.0, 0.9], "%")),
        'weather: `humidity` is given in percent but never passes 1; a fraction? Then set its units to "1"',
    ),
    (
        "Fahrenheit as degC", dataset(tmax=([70.0, 80.0, 90.0, 20.0], "degC")),
        "weather: `tmax` is impossible on 3 steps, first 70 degC at 2024-01-01; Kelvin, Fahrenheit or tenths read as degC? A missing "
        "value is written as NaN",
    ),
    ("no index of dates", pd.DataFrame({"rain": [1.0]}), "weather: a table needs a DatetimeIndex (start of each interval), for example "
     "frame.index = pd.to_datetime(frame.index)"),
    (
        "text for numbers", pd.Series(["0.1", "T"], index=DAYS[:2]),
        "weather: `rain` holds no numbers (object); missing values are NaN, not text",
    ),
    (
        "a file name", "station.dly",
        "weather: an xarray Dataset, a DataArray of rain or a pandas object is needed (given str); read a file with "
        "runoff.read_weather(path)",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("given", "message"), [row[1:] for row in REFUSED], ids=[row[0] for row in REFUSED])
def test_refused_with_these_words(given, message) -> None:
    message = re.escape(message).replace(r"\(object\)", r"\((object|str)\)")  # pandas 3 calls text str
    with pytest.raises(runoff.WeatherError, match=f"^{message}$"):
        as_weather(given)


def test_all_faults_come_in_one_message() -> None:
    given = dataset(units="mm/h", tmin=([1.0] * 4, "mm"))
    with pytest.raises(runoff.WeatherError) as raised:
        as_weather(given)
    assert str(raised.value).split("\n") == [
        'weather: `rain` has units "mm/h", needs "mm"; use runoff.to_depth(rain)',
        'weather: `tmin` has units "mm", needs "degC"',
    ]


def test_a_grid_names_the_first_date_of_a_bad_cell() -> None:
    rain = np.zeros((2, 3, 4))
    rain[1, 2, 2] = -5.0
    given = xr.Dataset({"rain": (("lat", "lon", "time"), rain, {"units": "mm"})}, coords={"time": DAYS})
    with pytest.raises(runoff.WeatherError, match=r"`rain` is negative on 1 step, first -5 mm at 2024-01-03;"):
        as_weather(given)


def test_hourly_sun_may_pass_the_limit_of_a_whole_day() -> None:
    hours = pd.date_range("2024-06-01", periods=4, freq="h")
    bright = dataset(time=hours, solar_radiation=([0.0, 70.0, 80.0, 60.0], "MJ m-2 d-1"))  # 80 is 926 W/m2 for one hour
    assert float(as_weather(bright)["solar_radiation"].max()) == 80.0
    with pytest.raises(runoff.WeatherError, match="`solar_radiation` is impossible on 3 steps"):
        as_weather(dataset(solar_radiation=([0.0, 70.0, 80.0, 60.0], "MJ m-2 d-1")))


def test_inches_called_mm_do_not_reach_a_run() -> None:
    # 290 days, every third with an amount of a gamma law of mean 9 mm, written in inches; made up
    rng = np.random.default_rng(11)
    inches = np.where(np.arange(290) % 3 == 0, rng.gamma(1.2, 7.5, 290), 0.0) / 25.4
    given = dataset(inches, time=pd.date_range("2024-01-01", periods=290), reference_et=(np.full(290, 2.0), "mm"))
    roof = runoff.open_sample_roof("cups")
    with pytest.raises(
        runoff.WeatherError,
        match=r"^simulate: rain: the \d+ wetter days of 290 \(each over 4 % of the largest\) bring 0\.\d+ mm each, which is next to nothing; inches",
    ):
        runoff.simulate(roof, given)
    given["rain"].attrs["units"] = "in"
    assert float(runoff.summarize(runoff.simulate(roof, given))["retention"]) < 0.9
    given["rain"].attrs["units"] = "mm"
    runoff.simulate(roof, given.assign_attrs(unit_trusted="yes"))  # the way out that the message names


def test_an_experiment_with_a_few_round_amounts_is_nobodys_mistake() -> None:
    drizzle = dataset(
        np.tile([0.5, 0.0, 0.2], 100),
        time=pd.date_range("2024-01-01", periods=300),
        reference_et=(np.full(300, 2.0), "mm"),
    )
    assert runoff.simulate(runoff.open_sample_roof("cups"), drizzle).sizes["time"] == 300


def test_dew_is_no_fault_and_evaporation_with_its_sign_turned_is() -> None:
    roof, mild = runoff.open_sample_roof("cups"), ([1.0, 2.0, 0.5, 1.5], "mm")
    dew = dataset(reference_et=([1.0, -0.4, 0.5, -0.01], "mm"), tmean=mild)
    none = dataset(reference_et=([1.0, 0.0, 0.5, 0.0], "mm"), tmean=mild)
    for one in (dew, none):
        one["tmean"].attrs["units"] = "degC"
    # the balance takes what is below 0 as 0
    runs = [runoff.simulate(roof, one, start_moisture=0.5) for one in (dew, none)]
    for name in ("evapotranspiration", "overflow", "medium_water", "bare_overflow"):
        np.testing.assert_array_equal(*(run[name] for run in runs), err_msg=name)
    for values in ([1.0, -1.1, 0.5, 2.0], [-0.5, -0.2, 0.1, -0.3], [1.0, -999.0, 0.5, 2.0]):
        with pytest.raises(runoff.WeatherError, match="`reference_et` is negative on"):
            as_weather(dataset(reference_et=(values, "mm")))
