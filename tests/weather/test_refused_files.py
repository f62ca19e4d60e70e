"""Files that are no weather record after all: each refusal by its words."""

import csv

import cftime
import numpy as np
import pandas as pd
import pytest
import xarray as xr

from runoff import file_bytes
from runoff.errors import RunoffError, RunoffWarning, WeatherError
from runoff.time_steps import differences_ns
from runoff.weather import read_weather
from runoff.weather.files import netcdf, table_lines
from runoff.weather.quality.grid_units import refuse_doubtful_unit


def table(tmp_path, text: str):
    path = tmp_path / "w.csv"
    path.write_text(text)
    return path


def test_more_lines_than_any_record(tmp_path, monkeypatch) -> None:
    monkeypatch.setattr(file_bytes, "MOST_LINES", 2)
    with pytest.raises(WeatherError, match="million lines; give fewer years, or the record as NetCDF or Zarr"):
        read_weather(table(tmp_path, "time,rain_mm\n2020-01-01,1\n2020-01-02,0\n2020-01-03,0\n"))


def test_more_columns_than_any_record(tmp_path, monkeypatch) -> None:
    monkeypatch.setattr(table_lines, "_MOST_COLUMNS", 2)
    with pytest.raises(WeatherError, match=r"w\.csv: 4 columns; the most is 2"):
        read_weather(table(tmp_path, "time,rain_mm,a,b\n2020-01-01,1,0,0\n"))


def test_a_cell_without_end(tmp_path) -> None:
    line = f'2020-01-01,1,"{"x" * (csv.field_size_limit() + 1)}"\n'
    with pytest.raises(WeatherError, match=r"w\.csv: line 2 cannot be split into cells"):
        read_weather(table(tmp_path, f"time,rain_mm,note\n{line}2020-01-02,0,dry\n"))


def test_layouts_that_cannot_be_followed(tmp_path) -> None:
    path = table(tmp_path, "time,rain_mm\n2020-01-01,1\n2020-01-02,0\n")
    with pytest.raises(WeatherError, match=r'layout: dates are .* \(given "backwards"\)'):
        read_weather(path, layout={"dates": "backwards"})
    with pytest.raises(WeatherError, match='first_time reads like "2006-01-01 00:00", without a zone'):
        read_weather(path, layout={"first_time": "2006-01-01 00:00+02:00", "step": "1h"})


def test_stamps_of_different_lengths(tmp_path) -> None:
    with pytest.raises(WeatherError, match="time: the stamps have different lengths; write all of them alike"):
        read_weather(table(tmp_path, "time,rain_mm\n20200101,1\n2020010200,0\n20200103,0\n"))


def test_offsets_in_a_calendar_of_a_model(tmp_path) -> None:
    text = "time,rain_mm\n2020-01-01T00:00+01:00,1\n2020-01-02T00:00+01:00,0\n2020-01-03T00:00+01:00,0\n"
    with pytest.raises(WeatherError, match=r"time: offsets from UTC on 3 lines .* which a calendar of a model has not"):
        read_weather(table(tmp_path, text), layout={"calendar": "noleap"})


def test_a_station_file_without_values(tmp_path) -> None:
    path = tmp_path / "station.csv"
    path.write_text('"station","date","element","value","measurement","quality"\n,20200101,,,,\n')
    with pytest.raises(WeatherError, match="the file has no lines of values"):
        read_weather(path)


def test_more_weather_than_memory(tmp_path, monkeypatch) -> None:
    time = pd.date_range("2020-01-01", periods=400)
    path = tmp_path / "w.nc"
    rain = xr.DataArray(np.zeros(400), {"time": time}, "time", attrs={"units": "mm"})
    rain.to_dataset(name="rain").to_netcdf(path)
    monkeypatch.setattr(netcdf, "_HARMLESS_BYTES", 1000)
    monkeypatch.setattr(netcdf.os, "sysconf", lambda name: 64)
    with pytest.raises(WeatherError, match="GB of memory, more than half of this machine's; leave it on disk"):
        read_weather(path)


def test_an_interval_without_bounds(tmp_path) -> None:
    time = pd.date_range("2020-01-01", periods=4)
    bounds = np.stack([time, time + pd.Timedelta("1D")], axis=1).astype("datetime64[ns]")
    bounds[2, 1] = np.datetime64("NaT")
    weather = xr.Dataset(
        {"rain": ("time", [1.0, 0.0, 0.0, 2.0], {"units": "mm"}), "time_bnds": (("time", "bnds"), bounds)},
        coords={"time": ("time", time, {"bounds": "time_bnds"})},
    )
    path = tmp_path / "w.nc"
    weather.to_netcdf(path)
    with pytest.raises(WeatherError, match="time: 1 interval without bounds"):
        read_weather(path)


def test_stamps_that_run_from_one_age_to_another() -> None:
    ages = np.array([cftime.DatetimeNoLeap(1, 1, 1), cftime.DatetimeNoLeap(9000, 1, 1)])
    with pytest.raises(RunoffError, match="which no record does; a mistyped year, or a wrong unit"):
        differences_ns(ages)


def test_a_few_cells_of_a_grid_in_inches_are_warned_about() -> None:
    rng = np.random.default_rng(4)
    time = pd.date_range("2001-01-01", "2010-12-31")
    rain = rng.gamma(0.6, 8.0, (time.size, 40)) * (rng.random((time.size, 40)) < 0.35)
    rain[:, 7] /= 25.4
    odd = refuse_doubtful_unit(rain, time, np.full(40, 47.0), lambda cell: f"cell {cell}")
    with pytest.warns(RunoffWarning, match="stream: rain: 1 of 40 cells looks odd, first cell 7: "):
        odd.tell("stream", 40)
