"""Parts of a record in another unit, codes taken for rain, seasons turned round: seen by the checks and refused at the door.

The records are made up; the limits were held against 38 open records, of which some are read again below.
"""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import runoff
from runoff.weather.quality.day_by_day import Days
from runoff.weather.quality.plausibility import doubt_of_counter, doubt_of_jumps, doubt_of_repeats, doubt_of_unit
from runoff.weather.quality.years import longest_stretch, yearly_totals
from tests.weather.test_quality import line, record


def to_file(folder: Path, data: xr.Dataset) -> Path:
    path = folder / "weather.csv"
    frame = data[["rain", "tmin", "tmax"]].to_dataframe()[["rain", "tmin", "tmax"]]
    frame.columns = ["rain_mm", "tmin_c", "tmax_c"]
    frame.index.name = "time"
    frame.round(2).to_csv(path)
    return path


def scaled(data: xr.Dataset, when: slice, factor: float) -> xr.Dataset:
    part = data["time"].to_index().slice_indexer(when.start, when.stop)
    data["rain"].values[part] *= factor
    return data


@pytest.mark.parametrize("factor", [25.4, 1 / 25.4, 10.0, 0.1])
@pytest.mark.parametrize(
    "when",
    [slice("2004", "2004"), slice("2005", "2008"), slice("2003-04", "2003-06")],
    ids=["a year", "half", "a season"],
)
def test_a_part_in_another_unit_is_seen_and_refused(tmp_path, factor, when) -> None:
    data = scaled(record(8), when, factor)
    found = line(data, "jump in units")
    assert found["verdict"] == "stop"
    assert "the wet days bring" in found["found"]
    with pytest.raises(
        runoff.WeatherError,
        match=r"in other years; another unit in a part of the record \(inches, tenths\)\?.*--trust-unit",
    ):
        runoff.read_weather(to_file(tmp_path, data), latitude=45.0)
    trusted = runoff.read_weather(to_file(tmp_path, data), latitude=45.0, trust_unit=True)
    assert line(trusted, "jump in units")["verdict"] == "look"


def test_years_outside_the_jump_can_be_read(tmp_path) -> None:
    path = to_file(tmp_path, scaled(record(8), slice("2001", "2002"), 1 / 25.4))
    assert (
        runoff.read_weather(path, start="2003", end="2008", latitude=45.0).sizes["time"] == 2192
    )  # six years, two of them leap


def test_a_part_of_the_temperatures_in_fahrenheit(tmp_path) -> None:
    data = record(8)
    winter = data.indexes["time"].slice_indexer("2004-01-01", "2004-03-31")  # a summer in degF is beyond all measure
    for name in ("tmin", "tmax"):
        data[name].values[winter] = data[name].values[winter] * 1.8 + 32.0
    assert line(data, "jump in temperature")["verdict"] == "stop"
    with pytest.raises(
        runoff.WeatherError,
        match=r"temperature: 2004, months 1-3: .*warmer than usual; degrees Fahrenheit or tenths in a part",
    ):
        runoff.read_weather(to_file(tmp_path, data), latitude=45.0)


@pytest.mark.parametrize("code", [99.9, 999.9, 25.4 * 9.99, 88.7])
def test_the_same_largest_amount_on_the_same_day_of_years(tmp_path, code) -> None:
    data = record(8)
    last = (data["time"].dt.month == 12) & (data["time"].dt.day == 31)
    data["rain"].values[last.to_numpy()] = code
    found = line(data, "largest repeated")
    assert found["found"].endswith("comes 8 times")
    assert found["verdict"] == ("look" if code == 88.7 else "stop")
    if code in (99.9, 999.9):  # the file is written with two decimals
        with pytest.raises(runoff.WeatherError, match="is how files write missing; declare it, missing="):
            runoff.read_weather(to_file(tmp_path, data), latitude=45.0)


@pytest.mark.parametrize(
    ("rain", "verdict"),
    [([5.0, 20.0, 20.0], "good"), ([20.0] * 3, "look"), ([99.9, 99.9], "stop"), ([99.9, 0.0], "good"), ([0.2] * 5, "good"), ([np.nan] * 2, "good")],
)  # fmt: skip
def test_repeats_at_their_limits(rain, verdict) -> None:
    assert doubt_of_repeats(np.array(rain)).verdict == verdict


def test_a_counter_is_no_rain(tmp_path) -> None:
    data = record(2)
    total = np.cumsum(data["rain"].to_numpy())
    assert doubt_of_counter(total).verdict == "stop"
    assert doubt_of_counter(data["rain"].to_numpy()).verdict == "good"
    path = tmp_path / "rain.csv"
    short = total[:90]  # 30 amounts
    path.write_text(
        "time,rain_mm\n" + "".join(f"{d:%Y-%m-%d},{v:.1f}\n" for d, v in zip(data.indexes["time"], short, strict=False))
    )
    with pytest.raises(runoff.WeatherError, match="the values only grow; a counter that is read at each step"):
        runoff.read_weather(path)


def test_a_counter_that_begins_anew_each_day_is_pointed_out() -> None:
    rng = np.random.default_rng(3)
    hours = np.where(rng.random((200, 24)) < 0.2, rng.gamma(1.0, 1.0, (200, 24)), 0.0).cumsum(
        axis=1
    )  # down at midnight only
    assert doubt_of_counter(hours.ravel()).verdict == "look"


# --- seasons ---------------------------------------------------------------------------------------------------


def test_a_sign_forgotten_is_known_by_the_warm_months(tmp_path) -> None:
    data = record(3)
    assert line(data, "warm months")["found"] == "month 7 is the warmest, as north of the equator"
    south = data.assign_coords(lat=-45.0)
    assert line(south, "warm months")["verdict"] == "stop"
    with pytest.raises(
        runoff.WeatherError,
        match=r"temperature: month 7 is the warmest at latitude -45, south of the equator; a sign of the",
    ):
        runoff.read_weather(to_file(tmp_path, data), latitude=-45.0)


@pytest.mark.parametrize("latitude", [10.0, -10.0, None])
def test_near_the_equator_the_months_tell_nothing(latitude) -> None:
    data = record(3).drop_vars("lat")
    data = data if latitude is None else data.assign_coords(lat=latitude)
    assert "warm months" not in set(runoff.check_weather(data).to_dataframe()["name"])


def test_a_gauge_without_heating_has_an_empty_winter() -> None:
    data = record(8)
    for name in ("tmin", "tmax"):
        data[name].values[:] -= 8.0
    mean = (data["tmin"] + data["tmax"]).groupby("time.month").mean() / 2.0
    cold = data["time"].dt.month.isin(mean["month"][mean < -1.0]).to_numpy()
    assert line(data, "winter")["verdict"] == "good"
    data["rain"].values[cold] = 0.0
    found = line(data, "winter")
    assert found["verdict"] == "look"
    assert found["found"].endswith("bring 0 % of the rain of the others")


def test_three_months_without_a_drop_where_other_years_are_wet() -> None:
    data = record(8)
    when = data["time"].to_index()
    names = set(runoff.check_weather(data).to_dataframe()["name"])
    assert "rainless months" not in names
    empty = data.copy(deep=True)
    empty["rain"].values[when.slice_indexer("2003-11-25", "2004-03-02")] = 0.0  # 98 days with all of one winter
    found = line(empty, "rainless months")
    assert found["verdict"] == "look"
    assert found["found"].startswith("not a drop from 2003-12 to 2004-02; other years bring ")
    assert "Leave that year out" in found["advice"]


@pytest.mark.parametrize("kept", [0.0, 0.02], ids=["no rain at all", "a little in some years"])
def test_a_climate_with_a_dry_summer_is_not_questioned(kept: float) -> None:
    """Summers of a fiftieth of some 330 mm, or none; one of them without a drop is what such a climate does."""
    data = record(8)
    when = data["time"].to_index()
    data["rain"].values[when.month.isin([5, 6, 7, 8, 9])] *= kept
    data["rain"].values[when.slice_indexer("2004-05-01", "2004-09-30")] = 0.0
    assert "rainless months" not in set(runoff.check_weather(data).to_dataframe()["name"])


def test_a_third_of_the_years_rain_in_a_day() -> None:
    data = record(8)
    data["rain"].values[600] = 480.0  # the record brings about 1,300 mm a year: gamma of mean 7.2 on every third day
    found = line(data, "largest")
    assert found["verdict"] == "look"
    assert "% of a mean year's rain" in found["found"]


def test_a_gauge_read_on_working_days() -> None:
    data = record(8)
    weekday = data["time"].dt.dayofweek.to_numpy()
    data["rain"].values[weekday >= 5] = 0.0
    found = line(data, "weekdays")
    assert found["found"].startswith("rain on 0 % of Saturdays, ")


def test_amounts_after_gaps_that_hold_the_gap() -> None:
    data = record(8)
    for start in range(100, 2500, 150):
        data["rain"].values[start : start + 4] = np.nan
        data["rain"].values[start + 4] = 25.0
    found = line(data, "after gaps")
    assert found["verdict"] == "look"
    assert found["found"].startswith("16 days after a gap bring ")


# --- years -----------------------------------------------------------------------------------------------------


def test_years_and_the_longest_stretch() -> None:
    data = record(5)
    data["rain"].values[[10, 400]] = np.nan  # 11 January 2001, 5 February 2002
    years = yearly_totals(data)
    assert years["missing"].tolist() == [1, 1, 0, 0, 0]
    assert years["is_complete"].tolist() == [False, False, True, True, True]
    stretch = longest_stretch(data)
    assert stretch is not None
    assert (stretch.start, stretch.end, stretch.whole_years) == ("2002-02-06", "2005-12-31", (2003, 2005))
    assert stretch.flags == "--start 2003 --end 2005"
    found = line(data, "years")
    assert found["found"].startswith("3 of 5 calendar years complete, ")
    assert found["advice"] == "take it: --start 2003 --end 2005"


def test_a_year_begun_late_is_not_complete() -> None:
    years = yearly_totals(record(2).isel(time=slice(31, None)))
    assert years["missing"].tolist() == [31, 0]


@pytest.mark.parametrize(("calendar", "size"), [("noleap", 365), ("360_day", 360)])
def test_years_of_models(calendar, size) -> None:
    time = xr.date_range("2000-01-01", periods=2 * size, calendar=calendar, use_cftime=True)
    data = xr.Dataset({"rain": ("time", np.ones(2 * size), {"units": "mm"})}, coords={"time": time})
    assert yearly_totals(data)["is_complete"].tolist() == [True, True]


def test_the_stretch_needs_temperatures_unless_evapotranspiration_is_given() -> None:
    data = record(3)
    data["tmin"].values[500] = np.nan
    assert longest_stretch(data).whole_years == (2001, 2003)  # type: ignore[union-attr]
    formed = data.assign(reference_et=data["reference_et"].assign_attrs(method="Hargreaves-Samani"))
    assert longest_stretch(formed).whole_years == (2003, 2003)  # type: ignore[union-attr]


def test_the_report_ends_with_the_years() -> None:
    text = str(runoff.check_weather(record(12)))
    assert "Rain of the years, mm; in brackets the steps that are missing of a year" in text
    assert any(row.startswith("2010-2019") for row in text.split("\n"))


# --- sites and grids -------------------------------------------------------------------------------------------


def sites(*factors: float) -> xr.Dataset:
    one = record(3)
    parts = [one.assign(rain=(one["rain"] * factor).assign_attrs(units="mm")) for factor in factors]
    return xr.concat(parts, pd.Index([f"Gauge {k + 1}" for k in range(len(factors))], name="site"))


def test_every_site_has_a_verdict_of_its_own() -> None:
    report = runoff.check_weather(sites(1.0, 1 / 25.4))
    assert [(site, verdict) for site, verdict, _ in report.sites] == [
        ("site Gauge 1", "look"),
        ("site Gauge 2", "stop"),
    ]
    assert report.sites[1][2] == "unit of rain"
    assert "STOP  site Gauge 2  unit of rain" in str(report)


def test_one_site_in_inches_among_others_is_refused(tmp_path) -> None:
    path = tmp_path / "sites.nc"
    sites(1.0, 1.0, 1 / 25.4)[["rain"]].to_netcdf(path)
    with pytest.raises(
        runoff.WeatherError, match=r"sites\.nc: rain \(site Gauge 3; 1 of 3 cells\): .*inches, cm or m read as mm"
    ):
        runoff.read_weather(path)


def test_of_a_grid_the_half_of_the_cells_decides(tmp_path) -> None:
    one = record(3)[["rain"]].drop_vars("lat")
    factor = xr.DataArray(
        [[1.0, 1 / 25.4], [1 / 25.4, 1 / 25.4]], coords={"lat": [40.0, 41.0], "lon": [5.0, 6.0]}, dims=("lat", "lon")
    )
    path = tmp_path / "grid.nc"
    data = (one * factor).assign_coords(lat=factor["lat"])
    data["rain"].attrs["units"] = "mm"
    data.to_netcdf(path)
    with pytest.raises(runoff.WeatherError, match=r"rain \(lat 40, lon 6; 3 of 4 cells\)"):
        runoff.read_weather(path)
    data["rain"][:, 0, 0] = np.nan  # masked: the wettest cell that is left is in inches as well
    data.to_netcdf(path)
    with pytest.raises(runoff.WeatherError, match=r"rain \(lat 40, lon 6; 3 of 3 cells\)"):
        runoff.read_weather(path)


# --- open records pass -----------------------------------------------------------------------------------------


@pytest.mark.real_weather
@pytest.mark.parametrize(
    "name",
    ["daily/USW00094728.dly", "daily/USW00023234.dly.gz", "daily/USW00012960.dly.gz", "daily/USC00042319.dly.gz"],
)
def test_stations_of_four_climates_raise_no_doubt(shared_data, name) -> None:
    data = runoff.read_weather(shared_data / name)
    assert doubt_of_unit(data["rain"], 38.0).verdict == "good"
    assert doubt_of_jumps(Days.of(data)).verdict == "good"
    assert doubt_of_repeats(data["rain"].to_numpy()).verdict == "good"
    assert doubt_of_counter(data["rain"].to_numpy()).verdict == "good"
