"""How a file that is not understood is proposed to be read: the line to copy, its reasons, and that it works when copied."""

import gzip
import shlex
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import runoff
from runoff.cli import main
from runoff.weather import read_weather as read
from runoff.weather.files.column_guesses import guess_columns
from runoff.weather.files.proposing import propose_reading
from runoff.weather.files.stamp_guesses import guess_stamps
from runoff.weather.files.table_shape import find_shape

DAYS = np.arange(np.datetime64("2022-01-01"), np.datetime64("2023-07-01"))
RAIN = np.where(
    np.arange(DAYS.size) % 3 == 0, np.round(np.random.default_rng(2).gamma(1.2, 6.0, DAYS.size), 1) + 0.2, 0.0
)


def lines(form: str, values=RAIN, days=DAYS) -> str:
    """Return a line for every day by a form with its date, year, month, day and rain; the amounts are made up."""
    return "".join(
        form.format(date=day, y=str(day)[:4], m=str(day)[5:7], d=str(day)[8:10], rain=f"{value:.10g}") + "\n"
        for day, value in zip(days, values, strict=True)
    )


CASES = [
    # what is unusual, the text, what the proposal holds
    ("names of a service", "DATE,RR,FLAG\n" + lines("{date},{rain},0"), {"columns": {"time": "DATE", "rain": "RR"}, "units": {"rain": "mm"}}),
    (
        "a head and semicolons", "Station: Ostrey\nLatitude: 47.3\n\nDatum;Niederschlag\n" + lines("{y}{m}{d};{rain}"),
        {"columns": {"time": "Datum", "rain": "Niederschlag"}, "units": {"rain": "mm"}, "layout": {"skip_lines": 3}, "latitude": 47.3},
    ),
    (
        "the day in front, decimal commas", "Tag;Regen (mm)\n" + "".join(f"{str(d)[8:10]}.{str(d)[5:7]}.{str(d)[:4]};{f'{r:g}'.replace('.', ',')}\n" for d, r in zip(DAYS, RAIN, strict=True)),
        {"columns": {"time": "Tag", "rain": "Regen (mm)"}, "units": {"rain": "mm"}, "layout": {"dates": "day-month-year", "decimal": ","}},
    ),
    (
        "inches and a word for missing", "Date,Precip\n" + lines("{date},{rain}", np.round(RAIN / 25.4, 2)).replace(",0\n", ",M\n", 3),
        {"columns": {"time": "Date", "rain": "Precip"}, "units": {"rain": "in"}, "layout": {"missing": ["M"]}},
    ),
    (
        "tenths and a code", "day,prcp\n" + lines("{date},{rain}", np.where(np.arange(DAYS.size) % 50 == 7, -9999, np.round(RAIN * 10))),
        {"columns": {"time": "day", "rain": "prcp"}, "units": {"rain": "0.1 mm"}, "layout": {"missing": [-9999.0]}},
    ),
    (
        "parts of a date, blanks, no names", lines("OST {y} {m} {d} {rain}"),
        {"columns": {"time": "1+2+3", "rain": 4}, "units": {"rain": "mm"}, "layout": {"separator": "space", "header": False}},
    ),
    (
        "a glossary in the head", "RH = daily precipitation amount (in 0.1 mm) (-1 for <0.05 mm)\nRX = maximum hourly precipitation (in 0.1 mm)\n\n# YMD,RX,RH\n\n"
        + lines("{y}{m}{d},3,{rain}", np.where(np.arange(DAYS.size) % 20 == 1, -1, np.round(RAIN * 10))),
        {"columns": {"time": "YMD", "rain": "RH"}, "units": {"rain": "0.1 mm"}, "layout": {"skip_lines": 3, "trace": ["-1"]}},
    ),
    (
        "highs and lows", "Date,Precipitation (in),High (F),Low (F)\n" + "".join(f"{d},{r / 25.4:.2f},{60 + k % 40},{40 + k % 30}\n" for k, (d, r) in enumerate(zip(DAYS, RAIN, strict=True))),
        {"columns": {"time": "Date", "rain": "Precipitation (in)", "tmax": "High (F)", "tmin": "Low (F)"}, "units": {"rain": "in", "tmax": "degF", "tmin": "degF"}},
    ),
    (
        "traces and Fahrenheit", "date,prcp,tmax,tmin\n" + "".join(f"{d},{f'{r / 25.4:.2f}' if k % 9 else 'T'},{60 + k % 40},{40 + k % 30}\n" for k, (d, r) in enumerate(zip(DAYS, RAIN, strict=True))),
        {"columns": {"time": "date", "rain": "prcp", "tmax": "tmax", "tmin": "tmin"}, "units": {"rain": "in", "tmax": "degF", "tmin": "degF"}, "layout": {"trace": ["T"]}},
    ),
]  # fmt: skip


@pytest.mark.parametrize(("text", "expected"), [row[1:] for row in CASES], ids=[row[0] for row in CASES])
def test_the_line_to_copy(tmp_path: Path, capsys, text: str, expected: dict) -> None:
    path = tmp_path / "weather.csv"
    path.write_text(text)
    proposal = propose_reading(path)
    assert proposal is not None
    assert proposal.options == expected
    words = shlex.split(proposal.command())
    assert words[:3] == ["runoff", "check-weather", str(path)]
    assert main(words[1:]) == 0  # copied as it stands, it is read
    assert "Weather record: weather.csv" in capsys.readouterr().out
    total = float(runoff.read_weather(path, **proposal.options)["rain"].sum())
    assert total == pytest.approx(float(RAIN.sum()), rel=0.35)  # the wrong unit would be off by 2.5 times at least


def test_check_weather_prints_it_below_the_refusal(tmp_path: Path, capsys) -> None:
    path = tmp_path / "weather.csv"
    path.write_text(CASES[0][1])
    assert main(["check-weather", str(path)]) == 1
    said = capsys.readouterr().err
    assert said.startswith("weather.csv: no column is known as rain")
    assert f"runoff check-weather {path} --column time=DATE --column rain=RR --unit rain=mm\n" in said
    assert "Why, so that you can check it:" in said
    assert "--latitude DEG (south negative)" in said


def test_what_the_user_said_stays(tmp_path: Path) -> None:
    path = tmp_path / "weather.csv"
    path.write_text("DATE,RR,PP\n" + lines("{date},{rain},{rain}"))
    proposal = propose_reading(path, {"columns": {"rain": "PP"}, "latitude": 47.0})
    assert proposal is not None
    assert proposal.options["columns"] == {"time": "DATE", "rain": "PP"}
    assert "--latitude 47" in proposal.command()
    assert not proposal.wanting


@pytest.mark.parametrize(
    "text",
    [
        "",
        "a story about rain\nwithout any table\n",
        "a,b\n1,2\n3,4\n",
        "%PDF-1.7",
        "time,rain_mm\n" + lines("{date},-5"),
    ],
    ids=["empty", "prose", "numbers without dates", "another kind of file", "negative rain"],
)
def test_nothing_is_proposed_where_nothing_works(tmp_path: Path, text: str) -> None:
    path = tmp_path / "weather.csv"
    path.write_text(text)
    assert propose_reading(path) is None


def test_rain_of_an_unknown_name_in_a_grid(tmp_path: Path) -> None:
    data = xr.Dataset(
        {"RRTOT": ("time", RAIN, {"units": "mm", "long_name": "total precipitation"})},
        coords={"time": DAYS.astype("datetime64[ns]")},
    )
    data.to_netcdf(tmp_path / "grid.nc")
    proposal = propose_reading(tmp_path / "grid.nc")
    assert proposal is not None
    assert proposal.options == {"columns": {"rain": "RRTOT"}}
    assert proposal.command() == f"runoff check-weather {tmp_path / 'grid.nc'} --column rain=RRTOT"


@pytest.mark.parametrize(
    ("text", "separator", "names", "skipped"),
    [
        ("a;b\n2024-01-01;0,5\n2024-01-02;1,5\n", ";", ["a", "b"], 0),
        ("a\tb\n2024-01-01\t0.5\n2024-01-02\t1.5\n", "\t", ["a", "b"], 0),
        ("words\nmore\n2024-01-01 0.5\n2024-01-02 1.5\n", "space", None, 2),
        ('"a","b"\n"2024-01-01","0.5",\n"2024-01-02","1.5",\n', ",", ["a", "b"], 0),
        ("0.5\n1.5\n", "", None, 0),
    ],
)
def test_the_shape_of_a_table(text, separator, names, skipped) -> None:
    shape = find_shape(text)
    assert shape is not None
    assert (shape.separator, shape.names, len(shape.head)) == (separator, names, skipped)


def test_stamps_that_name_ends_and_parts_of_hours() -> None:
    hours = np.arange(np.datetime64("2024-01-01T01:00"), np.datetime64("2024-01-11T01:00"), np.timedelta64(1, "h"))
    shape = find_shape("t,r\n" + "".join(f"{str(h).replace('T', ' ')},0.1\n" for h in hours))
    assert shape is not None
    stamps = guess_stamps(shape)
    assert stamps is not None
    assert (stamps.layout, stamps.per_day) == ({"stamp": "end"}, 24.0)
    parts = find_shape("Y,M,D,h,r\n" + "".join(f"2024,1,{h // 24 + 1},{h % 24},0.{h % 7}\n" for h in range(240)))
    assert parts is not None
    found = guess_stamps(parts)
    assert found is not None
    assert (found.places, found.per_day) == ((0, 1, 2, 3), 24.0)


def test_columns_are_told_apart_by_what_is_said_of_them() -> None:
    shape = find_shape("date,tmax (degC),soil temp max,p_mm,snow depth\n" + lines("{date},12,9,{rain},40"))
    assert shape is not None
    found = {column.quantity: (column.at, column.unit) for column in guess_columns(shape, {0}, 1.0)}
    assert found == {"rain": (3, "mm"), "tmax": (1, "degC")}


# --- real files ------------------------------------------------------------------------------------------------

# file, whether it needs the proposal, check number of its README (rain of a year in mm within half a digit, or all of it)
REAL = [
    ("daily/USW00094728.dly", False, "2011", 1850.3),
    ("daily/USW00023234.dly.gz", False, "2013", 86.0),
    ("daily/Salmon-River-Near-Prince-George_meteo_daily.nc", False, "1996", 684.9),
    ("daily/etmgeg_260.txt.gz", True, "2018", 582.0),
    ("daily/IN_Bedford_5_WNW.txt", True, "2012", 915.4),
    ("measured_weather/portland_USC00356750_2011_2018.csv.gz", True, "2014", 1114.3),
    ("measured_weather/berlin_dahlem_2018_2020.txt.gz", True, "2019", 506.3),
    ("subdaily/DE_02718.txt", True, "2010", 732.2),
    ("subdaily/vlissingen_prec_hourly.csv.gz", True, "2020", 776.5),
    ("subdaily/singapore_S64_rainfall_5min_201612-201706.csv.gz", True, None, 1594.6),
    ("measured_roofs/neubrandenburg/rain_5min.txt.gz", True, None, 790.5),
]


@pytest.mark.real_weather
@pytest.mark.slow
@pytest.mark.parametrize(("name", "asks", "year", "total"), REAL, ids=[row[0].split("/")[-1] for row in REAL])
def test_real_files_load_at_the_second_attempt_at_the_latest(
    shared_data, capsys, monkeypatch, name, asks, year, total
) -> None:
    path, records = shared_data / name, []
    if path.parent.name == "neubrandenburg":
        # three years in 5 minutes: what the command does with one such file, the other shows
        rain = runoff.read_weather(path, **propose_reading(path).options)["rain"]
    else:
        # what the command reads is what is held
        monkeypatch.setattr(
            "runoff.weather.read_weather", lambda *given, **how: records.append(read(*given, **how)) or records[-1]
        )
        attempts = [["check-weather", str(path)]]
        if main(attempts[0]) != 0:
            line = next(one for one in capsys.readouterr().err.split("\n") if one.startswith("  runoff check-weather "))
            attempts.append(shlex.split(line)[1:])
            assert main(attempts[1]) == 0
        assert len(attempts) == (2 if asks else 1)
        (record,) = records
        rain = record["rain"]
    found = rain if year is None else rain.sel(time=year)
    assert float(found.sum()) == pytest.approx(total, abs=0.06)


def test_gzipped_text_is_looked_at_too(tmp_path: Path) -> None:
    path = tmp_path / "weather.csv.gz"
    path.write_bytes(gzip.compress(CASES[0][1].encode()))
    assert propose_reading(path) is not None


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("Ostrey\n yyyy mm rain\n" + "".join(f" {2001 + k // 12} {k % 12 + 1} {40 + k % 7}.5\n" for k in range(48)), "This is a monthly record: one line a month, the first 2001-01."),
        ("month,rain_mm\n" + "".join(f"{2001 + k // 12}-{k % 12 + 1:02d},{40 + k % 7}.5\n" for k in range(48)), "This is a monthly record: one line a month, the first 2001-01."),
        ("year,Jan,Feb,Mar,Apr,May,Jun,Jul,Aug,Sep,Oct,Nov,Dec\n" + "".join(f"{2001 + k},1,2,3,4,5,6,7,8,9,10,11,12\n" for k in range(9)), "This is a monthly record: one line a year, with a column for each month."),
        ("date,rain_mm\n" + "".join(f"{2001 + k // 12}-{k % 12 + 1:02d}-01,{40 + k % 7}.5\n" for k in range(48)), "This is a monthly record: "),
        ("day,tmax,tmin\n" + lines("{date},25,12"), "It has dates, but no column looks like rain; what could be recognised: "),
        ("a,b\n" + "1.5,2.5\n" * 9, "No column looks like a date, and no head gives a first time and a step."),
    ],
    ids=["year and month", "both in one", "a column a month", "days a month apart", "no rain", "no date"],
)  # fmt: skip
def test_what_is_lacking_where_nothing_is_proposed(tmp_path: Path, capsys, text: str, words: str) -> None:
    path = tmp_path / "weather.csv"
    path.write_text(text)
    assert main(["check-weather", str(path)]) == 1
    said = capsys.readouterr().err
    assert words in said
    assert "It can probably be read so" not in said


def test_the_monthly_record_among_the_open_ones(shared_data: Path, capsys) -> None:
    assert main(["check-weather", str(shared_data / "measured_weather" / "sheffield_monthly.txt.gz")]) == 1
    assert "This is a monthly record: one line a month, the first 1883-01." in capsys.readouterr().err


def test_an_open_file_of_evaporation_alone_is_not_proposed_as_rain(shared_data: Path, capsys) -> None:
    assert main(["check-weather", str(shared_data / "subdaily" / "vlissingen_evap_hourly.csv.gz")]) == 1
    said = capsys.readouterr().err
    assert "Something in it may be rain, but no way of reading it so works" in said
    assert "It can probably be read so" not in said


def test_what_is_lacking_in_a_report_is_told_in_flags(tmp_path: Path, capsys) -> None:
    path = tmp_path / "weather.csv"
    path.write_text("date,rain_mm,tmin_c,tmax_c\n" + lines("{date},{rain},4,12"))
    assert main(["check-weather", str(path)]) == 0
    assert "needs the latitude; give --latitude (degrees, south negative)" in capsys.readouterr().out


def test_columns_that_look_like_weather_and_are_not_read_are_named(tmp_path: Path, capsys) -> None:
    """Rain and temperatures go by their names; wind, humidity and radiation beside them are not lost in silence."""
    path = tmp_path / "weather.csv"
    form = "date,rain_mm,tmin_c,tmax_c,wind_m_s,rh_pct,solar_mj\n" + lines("{date},{rain},4,12,3.2,71,9.5")
    path.write_text(form.replace(",3.2,71,9.5\n", ",3.4,68,11.5\n", 40))
    assert main(["check-weather", str(path), "--latitude", "47"]) == 0
    said = capsys.readouterr().out
    assert "humidity (not given)" in said
    assert 'Not read: "solar_mj" like solar_radiation, "rh_pct" like humidity, "wind_m_s" like wind_speed.' in said
    (line,) = [one.strip() for one in said.split("\n") if one.startswith("  runoff check-weather")]
    assert main(shlex.split(line)[1:]) == 0
    said = capsys.readouterr().out
    assert "FAO-56 Penman-Monteith" in said and "Not read" not in said
    path.write_text("date,rain_mm,tmin_c,tmax_c\n" + lines("{date},{rain},4,12"))
    assert main(["check-weather", str(path), "--latitude", "47"]) == 0
    assert "Not read" not in capsys.readouterr().out


def test_a_record_that_was_read_but_is_doubted_is_not_called_unreadable(tmp_path: Path, capsys) -> None:
    """Invented: 6 mm on every third day, written in inches under a heading in mm; and a sine of temperature that peaks in July, told of the south."""
    days = pd.date_range("2005-01-01", "2007-12-31")
    rain = np.where(np.arange(days.size) % 3 == 0, 6.0, 0.0)
    warmth = 11.0 - 9.0 * np.cos(2 * np.pi * (days.day_of_year.to_numpy() - 15) / 365.25)
    for name, factor, latitude, words in (
        ("inches", 1 / 25.4, "47", "Give the unit of the column"),
        ("turned", 1.0, "-33", "month 7 is the warmest at latitude -33"),
    ):
        path = tmp_path / f"{name}.csv"
        table = pd.DataFrame(
            {"date": days, "rain_mm": (rain * factor).round(2), "tmin_C": warmth - 4, "tmax_C": warmth + 4}
        )
        table.to_csv(path, index=False)
        assert main(["check-weather", str(path), "--latitude", latitude]) == 1
        said = " ".join(capsys.readouterr().err.split())
        assert words in said
        assert "no way of reading it so works" not in said
