"""Plain tables: what is read as meant, and what is refused with which words.

The tables are made up for each test; their expected values are read off them by eye or worked in the test.
"""

import re
from pathlib import Path

import numpy as np
import pytest

import runoff

HEAD = "time,rain_mm\n"


@pytest.fixture
def write(tmp_path: Path):
    def write_table(text: str | bytes, name: str = "rain.csv") -> Path:
        path = tmp_path / name
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return path

    return write_table


def rain_of(path: Path, **options) -> list[float]:
    return runoff.read_weather(path, **options)["rain"].to_numpy().tolist()


REFUSED = [
    # what is wrong, the file, options, the whole message behind the file name
    ("empty", "", {}, "the file is empty"),
    ("blank lines", "\n  \n", {}, "the file is empty"),
    ("header alone", HEAD, {}, "no lines of values; the file is empty or all of it was skipped"),
    ("PDF", "%PDF-1.7 ...", {}, "this is a PDF document, not a weather file; ask for the numbers as CSV"),
    (
        "web page", "<!DOCTYPE html><html>", {},
        "this is a web page (HTML or XML), not a weather file; save the data themselves, not the page that shows them",
    ),
    (
        "spreadsheet", b"PK\x03\x04\x14\x00", {},
        "this is a spreadsheet or zip archive, not a weather file; save the sheet as CSV, or unpack the archive",
    ),
    (
        "roof file", "# our roof\n[roof]\nname = 'a'\n", {},
        "this is a roof file, not a weather file; the roof comes first on the command line, the weather second",
    ),
    ("JSON", '{"rain": [1]}', {}, "this is a JSON file, not a table; save the values as CSV"),
    (
        "unknown binary", b"abc\x00\x01", {},
        "this is a binary file of a kind that is not known; weather files are text, NetCDF or Zarr",
    ),
    ("damaged gzip", b"\x1f\x8b\x08...", {}, "the gzipped file is cut short or damaged; fetch it again"),
    (
        "trace", HEAD + "2024-01-01,0.2\n2024-01-02,T\n", {},
        'rain: traces on 1 line (line 3: "T"); say what they mean, trace=["T"] (counted, taken as 0)',
    ),
    (
        "code for missing", HEAD + "2024-01-01,0.2\n2024-01-02,-9999\n2024-01-03,-9999\n", {},
        'rain: -9999 on 2 lines (first line 3: "-9999") is a code for missing, not a measurement; declare it, missing=[-9999]',
    ),
    (
        "code for missing temperature", "date,rain_mm,tmin_c\n2024-01-01,0,-99\n2024-01-02,0,1\n", {},
        'tmin: -99 on 1 line (line 2: "-99") is a code for missing, not a measurement; declare it, missing=[-99]',
    ),
    (
        "negative rain", HEAD + "2024-01-01,0.2\n2024-01-02,-0.4\n", {},
        'rain: negative on 1 line (line 3: "-0.4"); a missing value is left empty, or its code declared, missing=[...]',
    ),
    (
        "decimal comma", "time;rain_mm\n2024-01-01;0,2\n2024-01-02;1,5\n", {},
        'rain: decimal commas on 2 lines (first line 2: "0,2"); declare them, decimal=","',
    ),
    (
        "decimal comma beside commas", HEAD + "2024-01-01,0,2\n2024-01-02,1,5\n", {},
        '2 cells are expected on each line, 2 lines have more or fewer (first line 2: 3, "2024-01-01,0,2"); a decimal comma '
        "beside a comma as separator, or a line cut short?",
    ),
    (
        "line cut short", HEAD + "2024-01-01,0.2\n2024-01-0", {},
        '2 cells are expected on each line, 1 line has more or fewer (line 3: 1, "2024-01-0"); a decimal comma '
        "beside a comma as separator, or a line cut short?",
    ),
    (
        "text for a number", HEAD + "2024-01-01,0.2 mm\n2024-01-02,1\n", {},
        'rain: no number on 1 line (line 2: "0.2 mm"); numbers carry no unit or mark, missing values are left empty',
    ),
    ("infinite", HEAD + "2024-01-01,inf\n2024-01-02,1\n", {}, 'rain: infinite on 1 line (line 2: "inf"); missing values are left empty'),
    (
        "ambiguous date", HEAD + "03/04/2024,0.2\n04/04/2024,1\n", {},
        'time: dates on 2 lines (first line 2: "03/04/2024") can be read two ways; write them as year-month-day, 2024-04-03, '
        'or say which part comes first, dates="day-month-year" or "month-day-year"',
    ),
    (
        "no such month in the declared order", HEAD + "03.04.2024,0.2\n04.13.2024,1\n", {"layout": {"dates": "day-month-year"}},
        'time: dates on 1 line (line 3: "04.13.2024") have no month in the declared order day-month-year',
    ),
    (
        "year of two digits", HEAD + "03/04/24,0.2\n04/04/24,1\n", {"layout": {"dates": "day-month-year"}},
        'time: dates on 2 lines (first line 2: "03/04/24") can be read two ways; write them as year-month-day, 2024-04-03, '
        'or say which part comes first, dates="day-month-year" or "month-day-year"',
    ),
    (
        "unknown order", HEAD + "03.04.2024,0.2\n", {"layout": {"dates": "dmy"}},
        'layout: dates are year-month-day, day-month-year, month-day-year (given "dmy")',
    ),
    (
        "words for dates", HEAD + "Jan 1,0.2\nJan 2,1\n", {},
        'time: dates on 2 lines (first line 2: "Jan 1") cannot be read; write them as 2024-04-03, with a time as 2024-04-03 15:00',
    ),
    (
        "hour 24", HEAD + "2024-01-01 23:00,0.2\n2024-01-01 24:00,1\n", {},
        'time: hour 24 on 1 line (line 3: "2024-01-01 24:00"); write 00:00 of the next day',
    ),
    (
        "hour 24 in digits", HEAD + "2024010123,0.2\n2024010124,1\n", {},
        'time: hour 24 on 1 line (line 3: "2024010124"); write 00:00 of the next day',
    ),
    ("month 13", HEAD + "2024-13-01,0.2\n2024-12-02,1\n", {}, 'time: no such date on 1 line (line 2: "2024-13-01")'),
    ("30 February", HEAD + "2024-02-29,0.2\n2024-02-30,1\n", {}, 'time: no such date on 1 line (line 3: "2024-02-30")'),
    (
        "mixed offsets", HEAD + "2024-03-31T01:00+01:00,0.2\n2024-03-31T03:00+02:00,1\n", {},
        "time: stamps carry different offsets from UTC, first change on line 3; bring all to local standard time, or name the "
        'zone, time_zone="Europe/Berlin" for example',
    ),
    (
        "offset on some lines", HEAD + "2024-03-31T01:00,0.2\n2024-03-31T03:00Z,1\n", {},
        "time: stamps carry different offsets from UTC, first change on line 3; bring all to local standard time, or name the "
        'zone, time_zone="Europe/Berlin" for example',
    ),
    (
        "hour skipped by summer time", HEAD + "2024-03-31 01:00,0\n2024-03-31 02:00,1\n", {"layout": {"time_zone": "Europe/Berlin"}},
        'time: stamps on 1 line (line 3: "2024-03-31 02:00") fall in the hour that summer time of Europe/Berlin skips or '
        "repeats; export the file in standard time or UTC",
    ),
    (
        "hour repeated by summer time, but given once", HEAD + "2024-10-27 01:00,0\n2024-10-27 02:00,1\n2024-10-27 03:00,1\n",
        {"layout": {"time_zone": "Europe/Berlin"}},
        'time: stamps on 1 line (line 3: "2024-10-27 02:00") fall in the hour that summer time of Europe/Berlin skips or '
        "repeats; export the file in standard time or UTC",
    ),
    (
        "unknown zone", HEAD + "2024-03-31 01:00,0\n2024-03-31 02:00,1\n", {"layout": {"time_zone": "Europe/Ostrey"}},
        'time_zone "Europe/Ostrey" is not known; zones read like Europe/Berlin or America/New_York',
    ),
    (
        "duplicate date", HEAD + "2024-01-01,0.2\n2024-01-02,0\n2024-01-02,1\n", {},
        'time: stamps given twice on 1 line (line 4: "2024-01-02"); keep one line of each',
    ),
    (
        "two days merged", HEAD + "2024-01-01,0.2\n2024-01-02/2024-01-03,7\n2024-01-04,1\n", {},
        'time: two or more days merged into one line on 1 line (line 3: "2024-01-02/2024-01-03"); what fell on each day is not '
        "known: leave the days empty, or give each its own line",
    ),
    (
        "tmin above tmax", "date,rain_mm,tmin_c,tmax_c\n2024-01-01,0,1,3\n2024-01-02,0,5,3\n2024-01-03,0,1,3\n", {},
        "tmin is above tmax on 1 of 3 lines (first line 3: 5 and 3 degC); correct or empty these lines",
    ),
    (
        "swapped columns", "date,rain_mm,tmin_c,tmax_c\n2024-01-01,0,5,3\n2024-01-02,0,5,3\n", {},
        "tmin is above tmax on 2 of 2 lines (first line 2: 5 and 3 degC); are the two columns swapped?",
    ),
    (
        "Kelvin as degC", "date,rain_mm,tmax_c\n2024-01-01,0,280\n2024-01-02,0,281\n", {},
        "`tmax` is impossible on 2 steps, first 280 degC at 2024-01-01; Kelvin, Fahrenheit or tenths read as degC? A missing "
        "value is written as NaN",
    ),
    (
        "percent as fraction", "date,rain_mm,humidity\n2024-01-01,0,80\n2024-01-02,0,90\n", {},
        '`humidity` is impossible on 2 steps, first 80 at 2024-01-01; percent? Then set its units to "%"; a fraction lies '
        "between 0 and 1",
    ),
    (
        "leap day in a calendar of 365 days", HEAD + "2024-02-28,0\n2024-02-29,2\n2024-03-01,1\n", {"layout": {"calendar": "365_day"}},
        'time: 29 February on 1 line (line 3: "2024-02-29"), but a 365-day calendar has none; for real dates leave calendar= out',
    ),
    (
        "31st in a calendar of 360 days", HEAD + "2024-01-30,0\n2024-01-31,2\n", {"layout": {"calendar": "360_day"}},
        'time: no such date in the calendar 360_day on 1 line (line 3: "2024-01-31")',
    ),
    (
        "real dates without leap days", HEAD + "2024-02-27,1\n2024-02-28,1\n2024-03-01,1\n2024-03-02,1\n", {},
        "29 February is absent in every leap year (first 2024-02-29) and nothing else is; for years of 365 days say "
        'calendar="noleap", else put the days back',
    ),
    (
        "months", HEAD + "2024-01-01,20\n2024-02-01,20\n2024-03-01,4\n2024-04-01,4\n", {},
        "time: the steps are 31 days long; daily values or shorter steps are needed, monthly rain cannot fill and drain a roof",
    ),
    (
        "off the step", HEAD + "".join(f"2024-01-01 {t},0\n" for t in ("00:00", "01:00", "01:30", "02:00", "03:00", "04:00")), {},
        'time: 1 stamp off the step of 1 h, first 2024-01-01 01:30; round them (round_to, for example "1min"), or bring the file '
        "to regular steps",
    ),
    ("no unit", "time,rain\n2024-01-01,1\n2024-01-02,1\n", {}, 'rain: its unit is not known; give units={"rain": "mm"}'),
    (
        "wrong kind of unit", "time,rain\n2024-01-01,1\n2024-01-02,1\n", {"units": {"rain": "degC"}},
        'rain: "degC" measures temperature, "mm" measures depth; one cannot be converted to the other',
    ),
    (
        "no known column", "DATE,RR\n2024-01-01,1\n", {},
        "no column is known as rain; columns are DATE, RR. Say which, for example "
        'columns={"time": "DATE", "rain": "RR"}, units={"rain": "mm"}',
    ),
    ("typo in a quantity", "DATE,RR\n2024-01-01,1\n", {"columns": {"rian": "RR"}}, 'columns: "rian" is not a quantity (did you mean "rain"?)'),
    (
        "typo in a column", "DATE,RRR\n2024-01-01,1\n", {"columns": {"rain": "RR"}},
        'there is no column "RR" (did you mean "RRR"?); columns are DATE, RRR',
    ),
    ("nothing in the years", HEAD + "2024-01-01,1\n2024-01-02,2\n", {"start": "2025", "end": "2026"},
     "nothing lies between 2025 and 2026; the file runs from 2024-01-01 to 2024-01-02"),
    ("no year", HEAD + "2024-01-01,1\n2024-01-02,2\n", {"start": "soon"}, 'start "soon" must be years or dates, such as 1990 or 2019-06-30'),
    (
        "29 February asked of years of 365 days", HEAD + "2024-02-28,1\n2024-03-01,2\n",
        {"start": "2024-02-29", "layout": {"calendar": "noleap"}},
        'start "2024-02-29" must be years or dates of the calendar noleap, such as 1990 or 2019-06-30',
    ),
    ("no rain value", HEAD + "2024-01-01,\n2024-01-02,\n", {}, "rain: there is no rain value at all; check the column and its code for missing"),
    (
        "latitude missing where the formula needs it", "date,rain_mm,tmin_c,tmax_c\n2024-01-01,0,1,3\n2024-01-02,0,1,3\n",
        {"et_method": "hargreaves-samani"},
        "reference evapotranspiration by Hargreaves-Samani needs the latitude; give latitude= to read_weather (degrees, south negative)",
    ),
    (
        "unknown way to fill", HEAD + "2024-01-01,1\n2024-01-02,2\n", {"fill": {"rain": "zeros"}},
        'rain="zeros" is not known (did you mean "zero"?); known: zero, monthly-mean, same-day-of-other-years, spread-gathered',
    ),
]  # fmt: skip


@pytest.mark.parametrize(("text", "options", "message"), [row[1:] for row in REFUSED], ids=[row[0] for row in REFUSED])
def test_refused_with_these_words(write, text, options, message) -> None:
    with pytest.raises(runoff.WeatherError, match=f"^{re.escape(f'rain.csv: {message}')}$"):
        runoff.read_weather(write(text), **options)


@pytest.mark.parametrize(
    ("dates", "lines"),
    [("day-month-year", "3.4.2024,1\n04.04.2024,2\n"), ("month-day-year", "4/3/2024 00:00,1\n04/04/2024 00:00,2\n")],
)
def test_dates_in_a_declared_order(write, dates, lines) -> None:
    weather = runoff.read_weather(write(HEAD + lines), layout={"dates": dates})
    assert list(weather.indexes["time"].strftime("%Y-%m-%d")) == ["2024-04-03", "2024-04-04"]
    assert list(weather["rain"].to_numpy()) == [1.0, 2.0]


def test_all_faults_come_in_one_message(write) -> None:
    path = write("time,rain_mm,tmin_c,tmax_c\n2024-01-01,T,5,3\n03/04/2024,1,x,9\n2024-01-03,-9999,1,2\n")
    expected = "\n".join([
        'rain.csv: time: dates on 1 line (line 3: "03/04/2024") can be read two ways; write them as year-month-day, 2024-04-03, '
        'or say which part comes first, dates="day-month-year" or "month-day-year"',
        'rain.csv: rain: traces on 1 line (line 2: "T"); say what they mean, trace=["T"] (counted, taken as 0)',
        'rain.csv: rain: -9999 on 1 line (line 4: "-9999") is a code for missing, not a measurement; declare it, missing=[-9999]',
        'rain.csv: tmin: no number on 1 line (line 3: "x"); numbers carry no unit or mark, missing values are left empty',
        "rain.csv: tmin is above tmax on 1 of 3 lines (first line 2: 5 and 3 degC); correct or empty these lines",
    ])  # fmt: skip
    with pytest.raises(runoff.WeatherError, match=f"^{re.escape(expected)}$"):
        runoff.read_weather(path)


def test_a_place_that_is_nowhere_is_refused(write) -> None:
    expected = "\n".join([
        "rain.csv: latitude lies between -90 and 90 degrees, south negative (given 407.8)",
        "rain.csv: longitude lies between -180 and 360 degrees, west negative (given -739)",
    ])  # fmt: skip
    with pytest.raises(runoff.WeatherError, match=f"^{re.escape(expected)}$"):
        runoff.read_weather(write(HEAD + "2024-01-01,1\n2024-01-02,2\n"), latitude=407.8, longitude=-739)


def test_layout_faults_come_in_one_message(write) -> None:
    expected = "\n".join([
        'layout: decimal is "." or "," (given ";")',
        'layout: stamp is "start" or "end" of the interval (given "middle")',
        'layout: missing and trace are lists, missing=[-9999] and trace=["T"]',
        'layout: first_time and step belong together, first_time="2006-01-01 00:00", step="1h"',
    ])  # fmt: skip
    with pytest.raises(runoff.WeatherError, match=re.escape(expected)):
        runoff.TableLayout(decimal=";", stamp="middle", missing=-9999, step="1h")  # type: ignore[arg-type]
    with pytest.raises(runoff.WeatherError, match=r'layout: "seperator" is not known \(did you mean "separator"\?\)'):
        runoff.read_weather(write(HEAD + "2024-01-01,1\n"), layout={"seperator": ";"})


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    path = tmp_path / "nowhere.csv"
    with pytest.raises(FileNotFoundError, match=r"there is no such weather file: .*nowhere\.csv'$") as raised:
        runoff.read_weather(path)
    assert raised.value.filename == str(path)  # the command line prints it


# --- what is accepted when it is declared -----------------------------------------------------------------------


def test_declared_traces_and_codes(write) -> None:
    path = write(HEAD + "2024-01-01,0.2\n2024-01-02,T\n2024-01-03,-9999\n2024-01-04,\n")
    weather = runoff.read_weather(path, layout={"trace": ["T"], "missing": [-9999]})
    np.testing.assert_array_equal(weather["rain"], [0.2, 0.0, np.nan, np.nan])
    assert weather.attrs["traces"] == 1


def test_declared_decimal_comma(write) -> None:
    path = write("time;rain_mm\n2024-01-01;0,2\n2024-01-02;1,5\n")
    assert rain_of(path, layout={"decimal": ","}) == [0.2, 1.5]


def test_absent_dates_become_missing_rows_and_stop_a_run(write) -> None:
    path = write("date,rain_mm,reference_et_mm\n2024-01-01,0.2,1\n2024-01-02,0,1\n2024-01-05,1,1\n")
    weather = runoff.read_weather(path)
    np.testing.assert_array_equal(weather["rain"], [0.2, 0.0, np.nan, np.nan, 1.0])
    assert weather.attrs["absent_steps"] == 2
    with pytest.raises(runoff.WeatherError, match=r"`rain` is missing on 2 of 5 steps: 2024-01-03, 2024-01-04"):
        runoff.simulate(runoff.open_sample_roof("cups"), weather)


def test_lines_out_of_order_are_sorted(write) -> None:
    assert rain_of(write(HEAD + "2024-01-02,2\n2024-01-01,1\n2024-01-03,3\n")) == [1.0, 2.0, 3.0]


@pytest.mark.parametrize(
    ("header", "units", "factor"),
    # inch 25.4 mm exactly (NIST SP 811 B.8); 1 mm/h over a day is 24 mm; the others by the metre
    [
        ("rain_in", {}, 25.4),
        ("rain [in]", {}, 25.4),
        ("Rain (mm)", {}, 1.0),
        ("rain", {"rain": "0.1 mm"}, 0.1),
        ("rain_m", {}, 1000.0),
        ("rain_mm_per_h", {}, 24.0),
        ("rain", {"rain": "kg m-2 s-1"}, 86400.0),
    ],
)
def test_units_of_rain(write, header, units, factor) -> None:
    path = write(f"time,{header}\n2024-01-01,0.001\n2024-01-02,0.002\n")
    assert rain_of(path, units=units) == pytest.approx([0.001 * factor, 0.002 * factor], rel=1e-12)


def test_rates_take_the_step_of_the_file(write) -> None:
    path = write("time,rain_mm_per_h\n2024-01-01 00:00,6\n2024-01-01 00:05,12\n")
    assert rain_of(path) == pytest.approx([0.5, 1.0])  # 6 mm/h for 5 of 60 minutes


def test_fahrenheit_and_miles(write) -> None:
    path = write("date,rain_in,tmin_f,tmax_f,wind_speed_mph\n2024-01-01,1,32,50,10\n2024-01-02,0,14,50,20\n")
    weather = runoff.read_weather(path, layout={"wind_height_m": 10})
    assert weather["tmin"].to_numpy() == pytest.approx([0.0, -10.0])  # 32 F = 0 C, 14 F = -10 C by the definition
    assert weather["wind_speed"].to_numpy() == pytest.approx([4.4704, 8.9408])  # mile 1609.344 m
    assert weather["wind_speed"].attrs["height_m"] == 10.0


def test_radiation_summed_over_an_hour_becomes_a_daily_rate(write) -> None:
    text = "time,rain_mm,q\n2024-06-01 11:00,0,300\n2024-06-01 12:00,0,250\n"
    columns = {"time": "time", "rain": "rain_mm", "solar_radiation": "q"}
    weather = runoff.read_weather(write(text), columns=columns, units={"solar_radiation": "J cm-2"})
    # 300 J/cm2 in an hour = 3 MJ/m2 in an hour = 72 MJ m-2 d-1
    assert weather["solar_radiation"].to_numpy() == pytest.approx([72.0, 60.0])


def test_stamps_of_ends_move_by_one_step(write) -> None:
    weather = runoff.read_weather(write(HEAD + "2024-01-01 01:00,1\n2024-01-01 02:00,2\n"), layout={"stamp": "end"})
    assert weather["time"].to_numpy().astype("datetime64[h]").astype(str).tolist() == ["2024-01-01T00", "2024-01-01T01"]
    assert weather.attrs["time_label"] == "end of the interval, as stated; converted to start"


@pytest.mark.parametrize(
    ("first", "second", "zone", "starts", "words"),
    [
        ("2024-03-31T01:00+01:00", "2024-03-31T02:00+01:00", None, ["01", "02"], "standard time, UTC+01:00"),
        # summer time began at 01:00 UTC of 31 March 2024: 03:00 there is 02:00 standard time
        ("2024-03-31T01:00+01:00", "2024-03-31T03:00+02:00", "Europe/Berlin", ["01", "02"], "standard time, UTC+01:00"),
        ("2024-03-31 01:00", "2024-03-31 03:00", "Europe/Berlin", ["01", "02"], "standard time, UTC+01:00"),
        ("2024-07-01 12:00", "2024-07-01 13:00", "America/New_York", ["11", "12"], "standard time, UTC-05:00"),
        ("2024-07-01T12:00Z", "2024-07-01T13:00Z", None, ["12", "13"], "UTC"),
        ("2024-07-01 12:00", "2024-07-01 13:00", "UTC+8", ["12", "13"], "UTC+8"),
    ],
)  # fmt: skip
def test_clocks_become_local_standard_time(write, first, second, zone, starts, words) -> None:
    weather = runoff.read_weather(write(f"{HEAD}{first},1\n{second},2\n"), layout={"time_zone": zone})
    assert [stamp[11:13] for stamp in weather["time"].to_numpy().astype("datetime64[m]").astype(str)] == starts
    assert weather.attrs["time_zone"] == words
    assert weather["time"].dtype == "datetime64[ns]"


def test_the_hour_that_summer_time_repeats_is_kept_twice(write) -> None:
    hours = ["01:00", "02:00", "02:00", "03:00"]
    text = HEAD + "".join(f"2024-10-27 {hour},{k}\n" for k, hour in enumerate(hours))
    weather = runoff.read_weather(write(text), layout={"time_zone": "Europe/Berlin"})
    stamps = weather["time"].to_numpy().astype("datetime64[h]").astype(str).tolist()
    assert stamps == ["2024-10-27T00", "2024-10-27T01", "2024-10-27T02", "2024-10-27T03"]
    assert weather["rain"].to_numpy().tolist() == [0, 1, 2, 3]


@pytest.mark.parametrize(
    ("calendar", "lines"), [("noleap", ["2024-02-28", "2024-03-01"]), ("360_day", ["2024-02-30", "2024-03-01"])]
)
def test_calendars_of_models(write, calendar, lines) -> None:
    weather = runoff.read_weather(write(HEAD + "".join(f"{line},1\n" for line in lines)), layout={"calendar": calendar})
    assert weather["time"].dt.calendar == calendar
    assert weather.sizes["time"] == 2  # neighbours in their calendar: no gap between them


def test_bare_values_with_a_first_time_and_step(write) -> None:
    layout = {"header": False, "skip_lines": 2, "first_time": "2024-01-01", "step": "5min"}
    weather = runoff.read_weather(
        write("Station\nmm\n0.1\n0.2\n"), columns={"rain": 0}, units={"rain": "mm"}, layout=layout
    )
    assert weather["rain"].to_numpy().tolist() == [0.1, 0.2]
    assert weather.attrs["time_label"] == "start of the interval, counted from 2024-01-01 in steps of 5min"


def test_a_table_without_rain_is_a_companion(write) -> None:
    path = write("DATE,EV\n20240101,1.5\n20240102,2.5\n")
    weather = runoff.read_weather(path, columns={"time": "DATE", "reference_et": "EV"}, units={"reference_et": "mm"})
    assert list(weather.data_vars) == ["reference_et"]


def test_file_of_another_code_page_and_quotes(write) -> None:
    assert rain_of(write('"time","rain_mm"\n"2024-01-01","1"\n"2024-01-02","2"\n'.encode("utf-16"))) == [1.0, 2.0]
    assert rain_of(write("# Ort: Östrey\ntime,rain_mm\n2024-01-01,1\n2024-01-02,2\n".encode("latin-1"))) == [1.0, 2.0]


# --- wrong units of rain ---------------------------------------------------------------------------------------


def year_of_rain(factor: float) -> str:
    """Two years of daily rain in mm times `factor`: 8 mm every third day, and two days of 60 mm."""
    days = np.arange(np.datetime64("2022-01-01"), np.datetime64("2024-01-01"))
    rain = np.where(np.arange(days.size) % 3 == 0, 8.0, 0.0)
    rain[[150, 515]] = 60.0
    return HEAD + "".join(f"{day},{amount * factor:.10g}\n" for day, amount in zip(days, rain, strict=True))


def test_right_unit_passes(write) -> None:
    assert len(rain_of(write(year_of_rain(1.0)))) == 730


@pytest.mark.parametrize(
    ("factor", "message"),
    [
        # 244 of 730 days are every third; day 150 is one of them: 243 x 8 + 2 x 60 = 2064 mm / (730 / 365.25 years) = 1032.7 mm
        (
            1 / 25.4,
            "rain: 41 mm a year, though it rains often: 123 days with rain, 2.4 mm on the wettest day of a mean year; inches, cm or "
            'm read as mm, or mm/h as mm? Give the unit of the column, for example "in". If the amounts are right, say trust_unit=True (--trust-unit)',
        ),
        (
            10.0,
            "rain: 10327 mm a year: more than the 4615 mm that may fall at 40 degrees latitude; tenths of mm read as mm? Give the unit "
            'of the column, for example "0.1 mm". If the amounts are right, say trust_unit=True (--trust-unit)',
        ),
    ],
    ids=["inches as mm", "tenths as mm"],
)
def test_wrong_unit_of_rain_is_refused(write, factor, message) -> None:
    path = write(year_of_rain(factor))
    with pytest.raises(runoff.WeatherError, match=f"^{re.escape(f'rain.csv: {message}')}$"):
        runoff.read_weather(path, latitude=40.0)
    trusted = runoff.read_weather(path, latitude=40.0, trust_unit=True)
    verdicts = runoff.check_weather(trusted).to_dataframe().set_index("name")["verdict"]
    assert verdicts["unit of rain"] == "look"


def test_tenths_in_a_dry_place_are_known_by_their_whole_numbers(write) -> None:
    # 400 mm a year in tenths read as mm: under the limit for 40 degrees, but a mean wettest day of 300 mm in whole numbers
    days = np.arange(np.datetime64("2022-01-01"), np.datetime64("2024-01-01"))
    rain = np.where(np.arange(days.size) % 10 == 0, 100, 0)
    rain[[150, 515]] = 300
    path = write(HEAD + "".join(f"{day},{amount}\n" for day, amount in zip(days, rain, strict=True)))
    with pytest.raises(
        runoff.WeatherError,
        match=r"300\.0 mm on the wettest day of a mean year, and all values are whole numbers; tenths of mm",
    ):
        runoff.read_weather(path, latitude=40.0)
    assert (
        rain_of(path, columns={"time": "time", "rain": "rain_mm"}, units={"rain": "0.1 mm"}, latitude=40.0)[150] == 30.0
    )
