"""Bad weather files: every one refused with a sentence that names the fault and the way out."""

import gzip
import re
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import runoff


def table(tmp_path: Path, text: str, name: str = "rain.csv") -> Path:
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return path


def refused(path: Path, message: str, **how) -> None:
    """The whole message must be this, so that a change of wording is seen."""
    with pytest.raises(runoff.WeatherError, match=rf"\A{re.escape(message)}\Z"):
        runoff.read_weather(path, **how)


GOOD = "date,rain_mm\n2024-01-01,1.0\n2024-01-02,0\n2024-01-03,2.5\n"


def test_a_good_table_is_read(tmp_path: Path) -> None:
    weather = runoff.read_weather(table(tmp_path, GOOD))
    assert weather["rain"].to_numpy().tolist() == [1.0, 0.0, 2.5]
    assert weather["rain"].attrs["units"] == "mm"
    assert weather.attrs["source"] == "rain.csv"


def test_empty_file(tmp_path: Path) -> None:
    refused(table(tmp_path, "  \n"), "rain.csv: the file is empty")


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"%PDF-1.7 report", "this is a PDF document, not a weather file"),
        (b"PK\x03\x04 sheet", "this is a spreadsheet or zip archive; save the sheet as CSV, not a weather file"),
        (
            b"<!DOCTYPE html><html>",
            "this is a web page (HTML or XML), not a weather file; save the data themselves, not the page that shows them",
        ),
        (
            b"\x01\x00\x02\x00binary",
            "this is a binary file of a kind that is not known; weather files are text, NetCDF or Zarr",
        ),
        (
            b"[roof]\narea_m2 = 100\n",
            "this is a roof file, not a weather file; the roof comes first on the command line, the weather second",
        ),
    ],
)
def test_a_file_that_is_something_else(tmp_path: Path, content: bytes, words: str) -> None:
    path = tmp_path / "station.dly"
    path.write_bytes(content)
    refused(path, f"station.dly: {words}")


def test_a_zipped_table_is_read(tmp_path: Path) -> None:
    path = tmp_path / "rain.csv.gz"
    path.write_bytes(gzip.compress(GOOD.encode()))
    assert float(runoff.read_weather(path)["rain"].sum()) == 3.5


def test_no_known_column(tmp_path: Path) -> None:
    refused(
        table(tmp_path, "day,water\n2024-01-01,1\n"),
        "rain.csv: table: no column is known as time and rain; columns are day, water. Say which, for example "
        'columns={"time": "DATE", "rain": "RR"}, units={"rain": "mm"}',
    )


def test_unit_not_known(tmp_path: Path) -> None:
    refused(
        table(tmp_path, "date,RR\n2024-01-01,1\n2024-01-02,1\n"),
        'rain.csv: table: rain: its unit is not known; give units={"rain": "mm"}',
        columns={"rain": "RR", "time": "date"},
    )


def test_missing_code_passing_as_a_number(tmp_path: Path) -> None:
    refused(
        table(tmp_path, "date,rain_mm\n2024-01-01,1\n2024-01-02,-9999\n2024-01-03,-9999\n"),
        "rain.csv: table: rain: -9999 on 2 lines (first line 3) looks like a code for missing; declare it with missing=[-9999]",
    )


def test_declared_missing_code_stays_missing(tmp_path: Path) -> None:
    path = table(tmp_path, "date,rain_mm\n2024-01-01,1\n2024-01-02,-9999\n2024-01-03,2\n")
    weather = runoff.read_weather(path, layout={"missing": [-9999]})
    assert np.isnan(weather["rain"].to_numpy()).tolist() == [False, True, False]


def test_trace(tmp_path: Path) -> None:
    path = table(tmp_path, "date,rain_mm\n2024-01-01,T\n2024-01-02,1\n")
    refused(
        path,
        'rain.csv: table: rain: traces on 1 lines (first line 2: "T"); say what they mean with trace=["T"] (counted, taken as 0)',
    )
    weather = runoff.read_weather(path, layout={"trace": ["T"]})
    assert weather["rain"].to_numpy().tolist() == [0.0, 1.0]
    assert weather.attrs["traces"] == 1


def test_european_decimals(tmp_path: Path) -> None:
    path = table(tmp_path, "date;rain_mm\n2024-01-01;1,5\n2024-01-02;0,2\n")
    refused(
        path,
        'rain.csv: table: rain: decimal commas on 2 lines (first line 2: "1,5"); declare them with decimal="," '
        "(and a separator that is no comma)",
    )
    assert runoff.read_weather(path, layout={"decimal": ","})["rain"].to_numpy().tolist() == [1.5, 0.2]


def test_ambiguous_dates(tmp_path: Path) -> None:
    refused(
        table(tmp_path, "date,rain_mm\n03/04/2024,1\n04/04/2024,0\n"),
        'rain.csv: table: time: dates on 2 lines (first line 2: "03/04/2024") can be read two ways; write them as '
        "year-month-day, 2024-04-03",
    )


def test_hour_24(tmp_path: Path) -> None:
    refused(
        table(tmp_path, "time,rain_mm\n2024-01-01 23:00,1\n2024-01-01 24:00,0\n"),
        'rain.csv: table: time: hour 24 on 1 lines (first line 3: "2024-01-01 24:00"); write 00:00 of the next day',
    )


def test_mixed_offsets(tmp_path: Path) -> None:
    refused(
        table(tmp_path, "time,rain_mm\n2024-03-31T00:00+01:00,1\n2024-03-31T03:00+02:00,0\n"),
        "rain.csv: table: time: stamps carry different offsets from UTC; bring all to local standard time",
    )


def test_no_such_date(tmp_path: Path) -> None:
    refused(
        table(tmp_path, "date,rain_mm\n2023-02-28,1\n2023-02-29,0\n"),
        'rain.csv: table: time: no such date on line 3: "2023-02-29"',
    )


def test_duplicate_dates(tmp_path: Path) -> None:
    refused(
        table(tmp_path, "date,rain_mm\n2024-01-01,1\n2024-01-01,2\n2024-01-02,0\n"),
        "rain.csv: table: time: 1 stamps are given twice, first 2024-01-01 00:00; keep one line of each",
    )


def test_negative_rain(tmp_path: Path) -> None:
    refused(
        table(tmp_path, "date,rain_mm\n2024-01-01,1\n2024-01-02,-0.4\n"),
        "rain.csv: table: rain: negative on 1 lines (first line 3: -0.4); a missing value is left empty, or its code declared "
        "with missing=[...]",
    )


def test_all_faults_in_one_message(tmp_path: Path) -> None:
    path = table(tmp_path, "date,rain_mm,tmin_c\n03/04/2024,T,x\n2024-01-02,-1,2\n")
    with pytest.raises(runoff.WeatherError) as caught:
        runoff.read_weather(path)
    lines = str(caught.value).split("\n")
    assert len(lines) == 4
    assert [line.split(": ")[2] for line in lines] == ["time", "rain", "rain", "tmin"]


def test_a_missing_date_becomes_a_missing_day_and_stops_the_run(tmp_path: Path) -> None:
    text = "date,rain_mm,tmin_c,tmax_c\n2024-01-01,1,1,5\n2024-01-02,0,1,5\n2024-01-04,2,1,5\n2024-01-05,2,1,5\n"
    weather = runoff.read_weather(table(tmp_path, text), latitude=47.0)
    assert weather.sizes["time"] == 5
    message = (
        r"simulate: `rain` is missing on 1 of 5 steps: 2024-01-03; fill them with a named method, "
        r"runoff.fill_gaps\(weather, ...\), or choose other years"
    )
    with pytest.raises(runoff.WeatherError, match=message):
        runoff.simulate(runoff.open_sample_roof(), weather)


def test_odd_steps(tmp_path: Path) -> None:
    refused(
        table(tmp_path, "time,rain_mm\n2024-01-01 00:00,1\n2024-01-01 01:00,0\n2024-01-01 02:20,0\n2024-01-01 03:00,0\n"
              "2024-01-01 04:00,0\n"),
        "rain.csv: table: 1 stamps do not fall on a regular step of 0 days 01:00:00, first 2024-01-01 02:20:00; round them "
        'with round_to="1min", or bring the file to regular steps',
    )  # fmt: skip


def test_nothing_between_start_and_end(tmp_path: Path) -> None:
    refused(
        table(tmp_path, GOOD),
        "rain.csv: nothing lies between 1990 and 1999; the file runs from 2024-01-01 to 2024-01-03",
        start="1990",
        end="1999",
    )


def test_latitude_missing_where_the_formula_needs_it(tmp_path: Path) -> None:
    text = "date,rain_mm,tmin_c,tmax_c\n2024-01-01,1,1,5\n2024-01-02,0,1,5\n"
    weather = runoff.read_weather(table(tmp_path, text))
    with pytest.raises(runoff.WeatherError, match=r"needs the latitude; give latitude= to read_weather"):
        runoff.simulate(runoff.open_sample_roof(), weather)


def line(month: str, element: str, values: dict[int, tuple[int, str]]) -> str:
    """Write one line of a fixed-width station file."""
    groups = "".join(
        f"{values.get(day, (-9999, '   '))[0]:5d}{values.get(day, (-9999, '   '))[1]}" for day in range(1, 32)
    )
    return f"XX000000001{month}{element}{groups}\n"


def test_two_days_merged_are_missing_not_dry(tmp_path: Path) -> None:
    rain = {day: (10, "   ") for day in range(1, 31) if day not in (10, 11)}
    text = (
        line("202406", "PRCP", rain)
        + line("202406", "MDPR", {11: (300, "   ")})
        + line("202406", "DAPR", {11: (2, "   ")})
    )
    weather = runoff.read_weather(table(tmp_path, text, "xx.dly"))
    missing = weather["time"].to_numpy()[np.isnan(weather["rain"].to_numpy())]
    assert [str(day)[:10] for day in missing] == ["2024-06-10", "2024-06-11"]
    report = runoff.check_weather(weather)
    assert report.verdict == "stop"
    assert "1 amounts cover several days, first 2024-06-11 2 30.0" in str(report)
    spread = runoff.fill_gaps(weather, rain="spread-gathered")
    assert spread["rain"].sel(time="2024-06-10").item() == 15.0
    assert spread.attrs["fill"] == "rain: 2 filled, amounts gathered over several days spread evenly over those days"


def test_flags_of_a_station_file(tmp_path: Path) -> None:
    rain = {1: (5, "   "), 2: (0, "T  "), 3: (0, "P  "), 4: (9000, " X "), 5: (12, "   ")}
    weather = runoff.read_weather(table(tmp_path, line("202406", "PRCP", rain), "xx.dly"))
    assert weather["rain"].to_numpy()[:3].tolist() == [0.5, 0.0, 0.0]
    assert np.isnan(weather["rain"].to_numpy()[3])  # failed the source's own check
    assert weather["rain_flag"].to_numpy().tolist() == ["", "T", "P", "", ""]


def test_station_csv_in_both_forms(tmp_path: Path) -> None:
    long = "XX1,20240601,PRCP,5,,,S,0700\nXX1,20240602,PRCP,0,T,,S,0700\nXX1,20240601,TMAX,215,,,S,\n"
    wide = (
        '"STATION","DATE","LATITUDE","LONGITUDE","ELEVATION","PRCP","PRCP_ATTRIBUTES"\n'
        '"XX1","2024-06-01","47.5","8.1","210.0","5",",,S"\n"XX1","2024-06-02","47.5","8.1","210.0","0","T,,S"\n'
    )
    for text, name in ((long, "long.csv"), (wide, "wide.csv")):
        weather = runoff.read_weather(table(tmp_path, text, name))
        assert weather["rain"].to_numpy().tolist() == [0.5, 0.0]
        assert weather["rain_flag"].to_numpy().tolist() == ["", "T"]
    assert float(weather["lat"]) == 47.5


def test_a_cut_station_file(tmp_path: Path) -> None:
    text = line("202406", "PRCP", {1: (5, "   ")}) + "XX0000000012024\n"
    refused(
        table(tmp_path, text, "xx.dly"), "xx.dly: line 2 is cut short; the file did not arrive whole, fetch it again"
    )


def test_wrong_unit_suspicion() -> None:
    sample = runoff.open_sample()
    tenths = sample.assign(rain=(sample["rain"] * 10).assign_attrs(units="mm"))
    inches = sample.assign(rain=(sample["rain"] / 25.4).assign_attrs(units="mm"))
    for weather, words in ((tenths, "tenths of mm, or cm, read as mm"), (inches, "inches read as mm")):
        report = runoff.check_weather(weather)
        assert report.verdict == "stop"
        assert words in next(check.advice for check in report.checks if check.name == "units")
    assert runoff.check_weather(sample).verdict == "good"


def test_tmin_above_tmax_is_reported() -> None:
    sample = runoff.open_sample().isel(time=slice(0, 800))
    crossed = sample.assign(tmin=sample["tmin"].where(sample["time"] != sample["time"][5], 40.0))
    found = next(check for check in runoff.check_weather(crossed).checks if check.name == "tmin above tmax")
    assert (found.verdict, found.found) == ("look", "1 days, first 1991-01-06")


def test_wrong_units_of_a_dataset_name_the_function_that_converts() -> None:
    time = pd.date_range("2024-01-01", periods=3, freq="h")
    rain = xr.DataArray([1.0, 2.0, 0.0], {"time": time}, ["time"], name="rain", attrs={"units": "mm/h"})
    message = r'weather: `rain` has units "mm/h", needs "mm"; use runoff.to_depth\(rain\)'
    with pytest.raises(runoff.WeatherError, match=message):
        runoff.simulate(runoff.open_sample_roof(), rain)
    bare = rain.copy()
    bare.attrs = {}
    with pytest.raises(runoff.WeatherError, match=r'`rain` has no units; set rain.attrs\["units"\] = "mm"'):
        runoff.simulate(runoff.open_sample_roof(), bare)


def test_unknown_fill_method() -> None:
    with pytest.raises(
        runoff.WeatherError, match=r'fill_gaps: rain method "zeros" is not known; did you mean "zero"\?'
    ):
        runoff.fill_gaps(runoff.open_sample(), rain="zeros")


@pytest.mark.parametrize("calendar", ["noleap", "360_day"])
def test_calendars_without_leap_days_run(calendar: str) -> None:
    sample = runoff.open_sample().sel(time=slice("1992-01-01", "1993-12-31")).drop_vars("reference_et")
    weather = sample.convert_calendar(calendar, align_on="date")
    assert not ((weather["time"].dt.month == 2) & (weather["time"].dt.day == 29)).any() or calendar == "360_day"
    facts = runoff.summarize(runoff.simulate(runoff.open_sample_roof(), weather))
    assert float(facts["years"]) == pytest.approx(2.0, abs=0.02)
