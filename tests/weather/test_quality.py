"""The quality report: each check at its limits, the text a person reads, and grids told by their worst cell."""

import dataclasses

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import runoff
from runoff.weather.quality.plausibility import rain_statistics, wettest_year_mm


def record(years: int = 21, **changes) -> xr.Dataset:
    """Return an unremarkable daily record: about 5 mm on every third day, a warm and a cold half of the year."""
    days = pd.date_range("2001-01-01", f"{2000 + years}-12-31")
    rng = np.random.default_rng(7)  # any seed: no test rests on a single value
    rain = np.where(np.arange(days.size) % 3 == 0, np.round(rng.gamma(1.2, 6.0, days.size), 1) + 0.1, 0.0)
    warm = 10.0 - 10.0 * np.cos(2 * np.pi * days.day_of_year.to_numpy() / 365.0)
    data = xr.Dataset(
        {
            "rain": ("time", rain, {"units": "mm"}),
            "tmin": ("time", warm - 4.0, {"units": "degC"}),
            "tmax": ("time", warm + 4.0, {"units": "degC"}),
            "reference_et": ("time", 1.0 + warm / 10.0, {"units": "mm", "method": "given"}),
        },
        coords={"time": days, "lat": 45.0},
    )
    for name, change in changes.items():
        change(data[name].to_numpy()) if callable(change) else data.attrs.update({name: change})
    return data


def line(weather, name: str) -> pd.Series:
    return runoff.check_weather(weather).to_dataframe().set_index("name").loc[name]


def test_an_unremarkable_record_is_good_on_every_line() -> None:
    report = runoff.check_weather(record())
    assert {check.verdict for check in report.checks} == {"good"}
    assert report.verdict == "good"
    assert str(report).endswith("The record can be used.")


def test_the_report_is_frozen_data() -> None:
    report = runoff.check_weather(record())
    with pytest.raises(dataclasses.FrozenInstanceError):
        report.title = "another"  # type: ignore[misc]
    table = report.to_dataframe()
    assert table.columns.tolist() == ["name", "verdict", "found", "advice"]
    assert len(table) == len(report.checks)


def test_the_text_puts_the_advice_below_its_line() -> None:
    def dig(rain: np.ndarray) -> None:
        rain[100:103] = np.nan

    lines = str(runoff.check_weather(record(rain=dig))).split("\n")
    at = next(i for i, text in enumerate(lines) if text.startswith("STOP  missing rain"))
    assert lines[0] == "Weather record: given series"
    assert lines[at].endswith("3 of 7670 steps in 1 gap, first 2001-04-11, longest 3 from 2001-04-11")
    assert lines[at + 1].strip() == (
        "-> missing is not dry: choose other years (--start 2002 --end 2021); or fill by a named method (fill_gaps, "
        "--fill rain=same-day-of-other-years), which says what it does to retention"
    )
    assert lines[-1] == "The record cannot be used as it is; correct what the lines marked STOP name."


@pytest.mark.parametrize(("years", "verdict"), [(4, "look"), (5, "look"), (19, "look"), (20, "good"), (21, "good")])
def test_length(years, verdict) -> None:
    found = line(record(years), "length")
    assert found["verdict"] == verdict
    assert found["found"].startswith(f"{years}.0 years, 2001-01-01 to {2000 + years}-12-31, step 1 day")
    assert ("under 5 years" in found["advice"]) == (years < 5)


def test_missing_months_and_a_record_of_summers() -> None:
    def only_summers(rain: np.ndarray) -> None:
        months = pd.date_range("2001-01-01", periods=rain.size).month
        rain[(months < 5) | (months > 9)] = np.nan

    found = line(record(rain=only_summers), "seasons")
    assert (found["verdict"], found["found"]) == ("look", "months 1, 2, 3, 4, 10, 11, 12 are missing or thin")


def test_a_gauge_that_stopped() -> None:
    def stop(rain: np.ndarray) -> None:
        rain[1000:1100] = 0.0

    found = line(record(rain=stop), "longest rainless spell")
    assert found["verdict"] == "look"
    assert (
        "days from 2003-09-2" in found["found"]
    )  # 1 January 2001 plus 1000 days is 28 September 2003, less up to 2 dry days


def test_the_same_amount_day_after_day() -> None:
    def stick(rain: np.ndarray) -> None:
        rain[500:506] = 7.7

    found = line(record(rain=stick), "repeated amounts")
    # 1 January 2001 plus 500 days is 16 May 2002
    assert (found["verdict"], found["found"]) == ("look", "7.7 mm on 6 days running from 2002-05-16")


def test_tmin_above_tmax_is_counted() -> None:
    def cross(tmin: np.ndarray) -> None:
        tmin[[10, 20]] += 20.0

    found = line(record(tmin=cross), "tmin above tmax")
    assert found["verdict"] == "look"
    assert found["found"].startswith("2 days, first 2001-01-11 (")


def test_a_great_day_is_pointed_out() -> None:
    def flood(rain: np.ndarray) -> None:
        rain[600] = 501.0

    found = line(record(rain=flood), "largest")
    assert (found["verdict"], found["found"]) == (
        "look",
        "501.0 mm in 1 day, 2002-08-24",
    )  # day 600 from 1 January 2001


def test_missing_temperature_and_evapotranspiration() -> None:
    def dig(values: np.ndarray) -> None:
        values[5] = np.nan

    assert line(record(tmin=dig), "missing tmin")["found"] == "1 of 7670 steps, first 2001-01-06"
    assert line(record(tmin=dig), "missing tmin")["verdict"] == "stop"
    assert line(record(reference_et=dig), "evapotranspiration")["verdict"] == "stop"
    assert line(record().drop_vars("reference_et"), "evapotranspiration")["verdict"] == "look"


def test_filled_values_are_named() -> None:
    found = line(record(fill="rain: 3 filled (longest gap 2), missing steps taken as dry"), "filled")
    assert (found["verdict"], found["found"]) == ("look", "rain: 3 filled (longest gap 2), missing steps taken as dry")


def test_a_record_without_any_value_stops_and_does_not_fail() -> None:
    def empty(rain: np.ndarray) -> None:
        rain[:] = np.nan

    report = runoff.check_weather(record(rain=empty))
    assert report.verdict == "stop"
    assert line(record(rain=empty), "unit of rain")["found"] == "there is no rain value at all"


# --- unit of rain ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("factor", "latitude", "verdict"),
    [
        (1.0, 45.0, "good"),
        (1 / 25.4, 45.0, "stop"),  # inches read as mm
        (1 / 24.0, 45.0, "stop"),  # mm/h read as mm
        (1e-3, 45.0, "stop"),  # metres read as mm
        (10.0, 45.0, "stop"),  # tenths of mm read as mm
        (1 / 25.4, 75.0, "look"),  # near the poles little snow on many days is usual
    ],
)
def test_wrong_units(factor, latitude, verdict) -> None:
    weather = record().assign_coords(lat=latitude)
    weather["rain"] = (weather["rain"] * factor).assign_attrs(units="mm")
    assert line(weather, "unit of rain")["verdict"] == verdict


def test_a_desert_is_no_wrong_unit() -> None:
    # 12 days a year of 5 mm: 60 mm a year, few wet days, as in the driest inhabited places
    days = pd.date_range("2001-01-01", "2021-12-31")
    rain = np.where(np.arange(days.size) % 30 == 0, 5.0, 0.0)
    weather = xr.Dataset({"rain": ("time", rain, {"units": "mm"})}, coords={"time": days, "lat": 36.0})
    assert line(weather, "unit of rain")["verdict"] == "good"


def test_a_short_record_says_nothing_about_its_unit() -> None:
    weather = record(1).isel(time=slice(0, 80))
    assert line(weather, "unit of rain")["found"] == "80 known days are too few to judge the unit by"
    found = line(record(1).isel(time=slice(0, 200)), "unit of rain")  # every third day is wet: 67, of which most tell
    assert found["found"].startswith("200 known days are too few to judge the unit by a year's total; their ")
    assert found["verdict"] == "look"


@pytest.mark.parametrize(("days", "factor"), [(290, 1 / 25.4), (120, 1 / 25.4), (290, 1 / 24.0), (290, 1e-3)])
def test_a_short_record_in_inches_is_known_by_its_amounts(days, factor) -> None:
    weather = record(1).isel(time=slice(0, days))
    weather["rain"] = (weather["rain"] * factor).assign_attrs(units="mm")
    found = line(weather, "unit of rain")
    assert (found["verdict"], "next to nothing" in found["found"]) == ("stop", True)


def test_statistics_of_minutes_are_those_of_their_days() -> None:
    steps = pd.date_range("2001-01-01", "2002-12-31 23:00", freq="h")
    rain = xr.DataArray(np.where(steps.hour == 12, 2.0, 0.0), dims="time", coords={"time": steps})
    facts = rain_statistics(rain)
    assert facts.known_days == 730
    assert facts.annual_mm == pytest.approx(2.0 * 365.25)
    assert (facts.wet_days, facts.largest_day_mm) == (pytest.approx(365.25), 2.0)


@pytest.mark.parametrize(
    ("latitude", "limit"), [(None, 6000.0), (0.0, 6000.0), (-25.0, 6000.0), (57.5, 3000.0), (90.0, 900.0)]
)
def test_the_limit_falls_towards_the_poles(latitude, limit) -> None:
    # own choice, by hand: 6000 x (1 - (|lat| - 25) / 65), at least 0.15 of it; 57.5 degrees: 6000 x (1 - 0.5)
    assert wettest_year_mm(latitude) == pytest.approx(limit)


# --- grids -----------------------------------------------------------------------------------------------------


def grid() -> xr.Dataset:
    good, gap, masked = record(), record(), record()
    gap["rain"][100] = np.nan
    masked["rain"][:] = np.nan
    return xr.concat([good, gap, masked], pd.Index(["Ostrey", "Westrey", "Sea"], name="site"))


def test_a_grid_is_told_by_its_worst_cell() -> None:
    report = runoff.check_weather(grid())
    found = report.to_dataframe().set_index("name")
    assert found.loc["cells", "found"] == "3 cells, 1 of them empty throughout (a mask)"
    assert found.loc["missing rain", "verdict"] == "stop"
    assert found.loc["missing rain", "found"].startswith(
        "1 of 2 cells; site Westrey: 1 of 7670 steps in 1 gap, first 2001-04-11"
    )


def test_a_grid_without_any_value_stops() -> None:
    report = runoff.check_weather(grid().sel(site=["Sea"]))
    assert [(check.name, check.verdict) for check in report.checks] == [("cells", "stop")]


@pytest.mark.slow
def test_of_a_large_grid_some_cells_are_looked_at() -> None:
    one = record(1)
    wide = xr.concat([one] * 100, pd.Index(np.arange(100), name="member"))
    assert runoff.check_weather(wide).checks[0].found == "64 of 100 cells looked at"
