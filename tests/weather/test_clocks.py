"""Days stay the days of the clock on the wall; single steps say how long they are; minutes stay within their climate."""

import re
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import runoff
from runoff.weather.record.clocks import by_days
from runoff.weather.record.forcing import prepare_forcing, run_step_hours
from runoff.weather.record.frames import as_weather
from runoff.weather.record.hemisphere import is_southern, months_in_hemisphere

HEAD = "time,rain_mm\n"


def written(folder: Path, lines: list[str], head: str = HEAD) -> Path:
    path = folder / "rain.csv"
    path.write_text(head + "".join(f"{line},{k}\n" for k, line in enumerate(lines)))
    return path


def dates_of(weather: xr.Dataset) -> list[str]:
    return weather["time"].to_numpy().astype("datetime64[m]").astype(str).tolist()


@pytest.mark.parametrize(
    ("lines", "zone"),
    [
        (["2024-07-01", "2024-07-02"], "Europe/Berlin"),
        (["20240701", "20240702"], "America/New_York"),
        (["2024-07-01T00:00+02:00", "2024-07-02T00:00+02:00"], "Europe/Berlin"),
        (["2024-07-01T00:00+02:00", "2024-07-02T00:00+02:00"], None),
        (["2024-06-30T22:00Z", "2024-07-01T22:00Z"], "Europe/Berlin"),
    ],
)
def test_days_of_a_summer_stay_where_they_are(tmp_path, lines, zone) -> None:
    weather = runoff.read_weather(written(tmp_path, lines), layout={"time_zone": zone})
    assert dates_of(weather) == ["2024-07-01T00:00", "2024-07-02T00:00"]


def test_days_across_the_change_to_summer_time_need_no_zone(tmp_path) -> None:
    lines = ["2024-03-30T00:00+01:00", "2024-03-31T00:00+01:00", "2024-04-01T00:00+02:00"]
    assert dates_of(runoff.read_weather(written(tmp_path, lines)))[-1] == "2024-04-01T00:00"


def test_days_of_a_morning_gauge_keep_their_hour(tmp_path) -> None:
    lines = [f"2024-{month}T07:00" for month in ("03-30", "03-31", "04-01")]
    weather = runoff.read_weather(written(tmp_path, lines), layout={"time_zone": "Europe/Berlin"})
    assert dates_of(weather) == [f"2024-{month}T07:00" for month in ("03-30", "03-31", "04-01")]


def test_days_of_a_table_in_memory_stay_where_they_are() -> None:
    index = pd.date_range("2024-03-01", "2024-08-01", tz="Europe/Berlin")  # midnights on the wall
    weather = as_weather(pd.Series(np.ones(len(index)), index=index))
    assert dates_of(weather)[-1] == "2024-08-01T00:00"
    assert weather.attrs["time_zone"] == "local time, Europe/Berlin"


def test_hours_still_go_by_standard_time(tmp_path) -> None:
    lines = ["2024-07-01 12:00", "2024-07-01 13:00"]
    weather = runoff.read_weather(written(tmp_path, lines), layout={"time_zone": "Europe/Berlin"})
    assert dates_of(weather) == ["2024-07-01T11:00", "2024-07-01T12:00"]
    assert not by_days(pd.DatetimeIndex(lines))


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("0099-01-01", 'time: years outside 1678 to 2261 on 2 lines (first line 2: "0099-01-01"); a mistyped year?'),
        ("9999-01-01", 'time: years outside 1678 to 2261 on 2 lines (first line 2: "9999-01-01"); a mistyped year?'),
        ("2024-01-01T00:00+25:00", 'time: dates on 2 lines (first line 2: "2024-01-01T00:00+25:00") cannot be read; write them as '
         "2024-04-03, with a time as 2024-04-03 15:00"),
    ],
)  # fmt: skip
def test_stamps_of_no_record(tmp_path, line, words) -> None:
    with pytest.raises(runoff.WeatherError, match=f"^{re.escape(f'rain.csv: {words}')}$"):
        runoff.read_weather(written(tmp_path, [line, line]))


def test_years_a_mistype_apart_are_named(tmp_path) -> None:
    words = (
        "rain.csv: time: 29,583 of 29,586 steps of 1 day have no line, more than have one; the widest gap: after 2024-01-02 comes "
        "2105-01-01. Correct that stamp, or give the parts of the record as files of their own"
    )  # by hand: 81 x 365 and the 29 February of 2024 to 2104 without 2100, 20 of them: 29,585 days, so 29,586 steps, three there
    with pytest.raises(runoff.WeatherError, match=f"^{re.escape(words)}$"):
        runoff.read_weather(written(tmp_path, ["2024-01-01", "2024-01-02", "2105-01-01"]))
    with pytest.raises(runoff.WeatherError, match=r"steps of 1 min have no line"):
        runoff.read_weather(written(tmp_path, ["2024-01-01 00:00", "2024-01-01 00:01", "2034-01-01 00:00"]))


# --- single steps ----------------------------------------------------------------------------------------------


def test_a_single_line_with_a_time_of_day_is_refused(tmp_path) -> None:
    words = (
        'rain.csv: time: a single line, on 1 line (line 2: "2024-01-01 13:00"), does not say how long its step is; give two lines or '
        'more, or first_time and step, step="1h"'
    )
    with pytest.raises(runoff.WeatherError, match=f"^{re.escape(words)}$"):
        runoff.read_weather(written(tmp_path, ["2024-01-01 13:00"]))
    assert run_step_hours(runoff.read_weather(written(tmp_path, ["2024-01-01"]))["time"]) == 24.0


def test_a_single_value_with_its_step_is_as_long_as_that(tmp_path) -> None:
    path = tmp_path / "rain.csv"
    path.write_text("6\n")
    layout = {"header": False, "first_time": "2024-01-01 13:00", "step": "5min"}
    weather = runoff.read_weather(path, columns={"rain": 0}, units={"rain": "mm/h"}, layout=layout)
    assert weather["rain"].to_numpy() == pytest.approx([0.5])  # 6 mm/h for 5 of 60 minutes
    assert run_step_hours(prepare_forcing(weather)["time"]) == pytest.approx(5 / 60)


def test_a_single_step_in_memory() -> None:
    rain = xr.DataArray(
        [2.0], dims="time", coords={"time": pd.DatetimeIndex(["2024-01-01 13:00"])}, name="rain", attrs={"units": "mm"}
    )
    with pytest.raises(
        runoff.WeatherError, match=r"time: a single step at 2024-01-01 13:00 does not say how long it is"
    ):
        as_weather(rain)
    rain["time"].attrs["step_hours"] = 1.0
    assert run_step_hours(prepare_forcing(rain)["time"]) == 1.0


def test_a_design_storm_of_one_step_is_no_day() -> None:
    storm = runoff.design_storm(depth_mm=30, duration="1h", step="1h", pattern="uniform")
    assert run_step_hours(prepare_forcing(storm)["time"]) == 1.0


# --- minutes and their climate ---------------------------------------------------------------------------------


def climate(days: int = 30) -> xr.Dataset:
    time = pd.date_range("2024-06-01", periods=days)
    return xr.Dataset(
        {
            "rain": ("time", np.ones(days), {"units": "mm"}),
            "reference_et": ("time", np.full(days, 3.0), {"units": "mm"}),
        },
        coords={"time": time, "lat": 50.0},
    )


def minutes(start: str, days: int) -> xr.Dataset:
    time = pd.date_range(start, periods=days * 24, freq="h")
    return xr.Dataset({"rain": ("time", np.zeros(time.size), {"units": "mm"})}, coords={"time": time})


def test_a_record_that_reaches_past_its_climate_stops_with_the_dates() -> None:
    words = (
        "simulate: the record in short steps has 4 days outside its daily climate (2024-06-01 to 2024-06-30), 2024-07-01, 2024-07-02, "
        "2024-07-03, 2024-07-04; they would have no evapotranspiration. Give a climate that holds these days, or the steps within it"
    )
    with pytest.raises(runoff.WeatherError, match=f"^{re.escape(words)}$"):
        prepare_forcing(minutes("2024-06-25", 10), climate=climate())
    with pytest.raises(runoff.WeatherError, match="has 60 days outside its daily climate"):
        prepare_forcing(minutes("1999-06-25", 60), climate=climate())


def test_within_the_climate_it_takes_the_whole_of_each_day() -> None:
    forcing = prepare_forcing(minutes("2024-06-05", 10), climate=climate())
    assert float(forcing["reference_et"].sum()) == pytest.approx(30.0)  # ten days of 3 mm


def test_a_lone_storm_elsewhere_has_none_and_says_so() -> None:
    forcing = prepare_forcing(minutes("1999-06-25", 2), climate=climate())
    assert float(forcing["reference_et"].sum()) == 0.0
    assert forcing["reference_et"].attrs["method"] == "none: the storm lies outside the climate record"
    with pytest.raises(runoff.WeatherError, match="has 1 day outside its daily climate"):
        prepare_forcing(minutes("2024-06-30", 2), climate=climate())


# --- hemisphere ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("latitude", "southern"),
    [(50.0, False), (0.0, False), (-33.9, True), ([-10.0, -20.0], True), ([-10.0, 10.0], None), (None, None)],
)
def test_the_hemisphere_of_a_record(latitude, southern) -> None:
    weather = (
        xr.Dataset()
        if latitude is None
        else xr.Dataset(coords={"lat": latitude if np.isscalar(latitude) else ("lat", latitude)})
    )
    assert is_southern(weather) is southern


def test_months_turn_round_in_the_south() -> None:
    south = xr.Dataset(coords={"lat": -33.9})
    assert months_in_hemisphere((4, 5, 6, 7, 8, 9), south) == (10, 11, 12, 1, 2, 3)
    assert months_in_hemisphere((4, 5), xr.Dataset(coords={"lat": 50.0})) == (4, 5)
    assert months_in_hemisphere((4, 5), xr.Dataset()) == (4, 5)
