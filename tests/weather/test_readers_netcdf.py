"""CF NetCDF and Zarr: units, calendars, stamps and dimensions, on small files written by each test."""

import gzip
import re
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import runoff


@pytest.fixture
def read(tmp_path: Path):
    def read_dataset(data: xr.Dataset, **options) -> xr.Dataset:
        path = tmp_path / "grid.nc"
        data.to_netcdf(path)
        return runoff.read_weather(path, **options)

    return read_dataset


def days_of(values, units: str, name: str = "pr", start: str = "2001-01-01", **attrs) -> xr.Dataset:
    values = np.asarray(values, dtype=float)
    time = pd.date_range(start, periods=values.shape[-1])
    return xr.Dataset({name: ("time", values, {"units": units, **attrs})}, coords={"time": time})


@pytest.mark.parametrize(
    ("units", "factor"),
    # a day has 86400 s, a metre 1000 mm, an inch 25.4 mm; 1 kg of water on 1 m2 stands 1 mm deep
    [("mm", 1.0), ("m", 1000.0), ("in", 25.4), ("kg m-2", 1.0), ("kg m-2 s-1", 86400.0), ("kg m**-2 s**-1", 86400.0), ("mm/day", 1.0), ("mm d-1", 1.0), ("mm d**-1", 1.0), ("mm/s", 86400.0), ("mm s-1", 86400.0), ("mm/h", 24.0), ("m s-1", 86400e3)],
)  # fmt: skip
def test_units_of_rain(read, units, factor) -> None:
    values = np.array([0.0, 1.0, 2.0]) / factor
    assert read(days_of(values, units))["rain"].to_numpy() == pytest.approx([0.0, 1.0, 2.0], rel=1e-12)


def test_rates_take_the_step_of_the_file(read) -> None:
    time = pd.date_range("2001-01-01", periods=3, freq="h")
    data = xr.Dataset({"pr": ("time", [0.0, 1.0 / 3600, 2.0 / 3600], {"units": "kg m-2 s-1"})}, coords={"time": time})
    assert read(data)["rain"].to_numpy() == pytest.approx([0.0, 1.0, 2.0])


def test_kelvin_and_celsius(read) -> None:
    data = days_of([0, 1], "mm").assign(
        tasmin=("time", [273.15, 274.15], {"units": "K"}), tasmax=("time", [4.0, 5.0], {"units": "degC"})
    )
    weather = read(data)
    assert weather["tmin"].to_numpy() == pytest.approx([0.0, 1.0])
    assert weather["tmax"].to_numpy() == pytest.approx([4.0, 5.0])
    assert weather["tmin"].attrs["units"] == "degC"


@pytest.mark.parametrize("calendar", ["standard", "noleap", "360_day"])
def test_calendars_and_midday_stamps(read, calendar) -> None:
    time = xr.date_range("2000-02-27 12:00", periods=4, calendar=calendar, use_cftime=True)
    data = xr.Dataset({"pr": ("time", [0.0, 1.0, 2.0, 3.0], {"units": "mm"})}, coords={"time": time})
    data["time"].encoding = {"calendar": calendar, "units": "days since 1970-01-01"}
    weather = read(data)
    assert weather["time"].dt.calendar in (calendar, "proleptic_gregorian")
    fourth = {"standard": "2000-03-01", "noleap": "2000-03-02", "360_day": "2000-02-30"}[calendar]  # counted by hand
    assert str(weather["time"].to_numpy()[3])[:10] == fourth
    assert bool((weather["time"].dt.hour == 0).all())
    assert weather.attrs["time_label"] == "midday stamps, converted to the start of the day"


def test_time_bounds_say_where_the_interval_begins(read) -> None:
    end = pd.date_range("2001-01-02", periods=3)
    data = xr.Dataset(
        {"pr": ("time", [1.0, 2.0, 3.0], {"units": "mm"}), "time_bnds": (("time", "bnds"), np.stack([end - pd.Timedelta("1D"), end], axis=1))},
        coords={"time": ("time", end, {"bounds": "time_bnds"})},
    )  # fmt: skip
    weather = read(data)
    assert str(weather["time"].to_numpy()[0])[:10] == "2001-01-01"


def test_stamps_of_ends_without_bounds(read) -> None:
    weather = read(days_of([1, 2], "mm", start="2001-01-02"), layout={"stamp": "end"})
    assert str(weather["time"].to_numpy()[0])[:10] == "2001-01-01"


def test_stamps_of_starts_without_bounds_are_assumed_until_they_are_stated(read) -> None:
    data = days_of([1, 2], "mm", start="2001-01-02")
    stated, silent = read(data, layout={"stamp": "start"}), read(data)
    assert str(stated["time"].to_numpy()[0])[:10] == str(silent["time"].to_numpy()[0])[:10] == "2001-01-02"
    assert stated.attrs["time_label"] == "start of the interval, as stated"
    assert "assumed" in silent.attrs["time_label"]


def test_tiny_negatives_are_clipped_and_counted(read) -> None:
    weather = read(days_of([-4.5e-5, 1.0, -1e-9], "mm"))
    assert weather["rain"].to_numpy().tolist() == [0.0, 1.0, 0.0]
    assert weather.attrs["clipped_negative"] == 2


def test_real_negatives_are_refused(read) -> None:
    message = (
        "grid.nc: `rain` is negative on 2 steps, first -9999 mm at 2001-01-02; a missing value is written as NaN, rain is a depth "
        "per step"
    )
    with pytest.raises(runoff.WeatherError, match=f"^{re.escape(message)}$"):
        read(days_of([1.0, -9999.0, -1.0], "mm"))


@pytest.mark.parametrize(
    ("name", "attrs", "expected"),
    [
        ("rain", {}, [1.5, 2.0]),  # a file that parts rain and snow: precipitation is their sum
        ("prlp", {"standard_name": "rainfall_flux"}, [1.5, 2.0]),
        ("pr", {"standard_name": "precipitation_flux"}, [1.0, 2.0]),  # precipitation holds the snow already
        ("tp", {}, [1.0, 2.0]),
    ],
)
def test_snow_is_added_only_to_rain_without_it(read, name, attrs, expected) -> None:
    data = days_of([1.0, 2.0], "mm", name, **attrs).assign(
        prsn=("time", [0.5, 0.0], {"units": "mm", "standard_name": "snowfall_flux"})
    )
    assert read(data)["rain"].to_numpy().tolist() == expected


@pytest.mark.parametrize(
    ("name", "attrs", "height"),
    # near-surface wind of CMIP is at 10 m; a file that states a height is believed; else 2 m is taken later, and none is claimed
    [("sfcWind", {}, 10.0), ("wind_speed", {"height_m": 4.0}, 4.0), ("wind_speed", {}, None)],
)
def test_height_of_the_wind(read, name, attrs, height) -> None:
    data = days_of([0.0, 1.0], "mm").assign({name: ("time", [3.0, 4.0], {"units": "m s-1", **attrs})})
    wind = read(data)["wind_speed"]
    assert wind.attrs.get("height_m") == height
    assert wind.to_numpy().tolist() == [3.0, 4.0]


def test_grid_dimensions_lead_and_keep_their_latitude(read) -> None:
    values = np.arange(12.0).reshape(3, 2, 2)
    data = xr.Dataset(
        {"pr": (("time", "latitude", "longitude"), values, {"units": "mm"})},
        coords={"time": pd.date_range("2001-01-01", periods=3), "latitude": [10.0, 20.0], "longitude": [0.0, 1.0]},
    )
    weather = read(data)
    assert weather["rain"].dims == ("lat", "lon", "time")
    assert weather["lat"].to_numpy().tolist() == [10.0, 20.0]
    np.testing.assert_array_equal(weather["rain"].sel(lat=20.0, lon=1.0), values[:, 1, 1])


def test_locations_become_sites(read) -> None:
    data = xr.Dataset(
        {"pr": (("location", "time"), [[1.0, 2.0], [3.0, 4.0]], {"units": "mm"}), "lat": ("location", [10.0, 20.0])},
        coords={"time": pd.date_range("2001-01-01", periods=2), "location": ["Ostrey", "Westrey"]},
    )
    weather = read(data)
    assert weather["rain"].sel(site="Westrey").to_numpy().tolist() == [3.0, 4.0]
    assert float(weather["lat"].sel(site="Westrey")) == 20.0


def test_absent_days_become_missing(read) -> None:
    data = days_of([1.0, 2.0, 3.0, 4.0, 5.0], "mm").isel(time=[0, 1, 2, 4])
    weather = read(data)
    np.testing.assert_array_equal(weather["rain"], [1.0, 2.0, 3.0, np.nan, 5.0])
    assert weather.attrs["absent_steps"] == 1


def test_absent_days_of_a_model_calendar(read) -> None:
    time = xr.date_range("2001-02-27", periods=5, calendar="noleap", use_cftime=True)
    data = xr.Dataset({"pr": ("time", np.arange(5.0), {"units": "mm"})}, coords={"time": time}).isel(time=[0, 1, 2, 4])
    np.testing.assert_array_equal(read(data)["rain"], [0.0, 1.0, 2.0, np.nan, 4.0])


REFUSED = [
    ("no rain", days_of([1.0], "mm", "water"), {},
     'no variable is known as rain; variables are water. Say which, for example columns={"rain": "pr"}'),
    ("no units", days_of([1.0, 2.0], ""), {}, 'pr: its unit is not known; give units={"rain": "mm"}'),
    ("typo in columns", days_of([1.0, 2.0], "mm", "water"), {"columns": {"rain": "watr"}},
     'there is no variable "watr" (did you mean "water"?); variables are water'),
    ("no time", xr.Dataset({"pr": ("x", [1.0])}), {}, "there is no dimension `time`; its dimensions are x"),
    ("time without dates", xr.Dataset({"pr": ("time", [1.0, 2.0])}, coords={"time": [0, 1]}), {},
     'its `time` holds no dates; the attribute units must read like "days since 1990-01-01"'),
    ("months", xr.Dataset({"pr": ("time", [1.0, 2.0, 3.0], {"units": "mm"})}, coords={"time": pd.date_range("2001-07-01", periods=3, freq="MS")}), {},
     "time: the steps are 31 days long; daily values or shorter steps are needed, monthly rain cannot fill and drain a roof"),
    ("day given twice", days_of([1.0, 2.0, 3.0], "mm").isel(time=[0, 1, 1, 2]), {},
     "time: 1 stamp given twice, first 2001-01-02; keep one of each"),
]  # fmt: skip


@pytest.mark.parametrize(("data", "options", "message"), [row[1:] for row in REFUSED], ids=[row[0] for row in REFUSED])
def test_refused_with_these_words(read, data, options, message) -> None:
    with pytest.raises(runoff.WeatherError, match=f"{re.escape(message)}$") as raised:
        read(data, **options)
    assert all(line.startswith("grid.nc: ") for line in str(raised.value).split("\n"))


def test_a_damaged_file_and_a_plain_folder(tmp_path: Path) -> None:
    path = tmp_path / "grid.nc"
    path.write_bytes(b"\x89HDF\r\n\x1a\n and no more")
    with pytest.raises(
        runoff.WeatherError,
        match=r"^grid\.nc: this NetCDF file cannot be opened; it may be damaged or cut short, fetch it again \(the library says: ",
    ):
        runoff.read_weather(path)
    with pytest.raises(runoff.WeatherError, match=r": this is a folder, not a weather file \(and no Zarr folder\)$"):
        runoff.read_weather(tmp_path)


def test_gzipped_and_classic_netcdf(tmp_path: Path) -> None:
    data = days_of([1.0, 2.0], "mm")
    classic = tmp_path / "classic.nc"
    data.to_netcdf(classic, engine="scipy")
    packed = tmp_path / "grid.nc.gz"
    packed.write_bytes(gzip.compress(classic.read_bytes()))
    for path in (classic, packed):
        assert runoff.read_weather(path)["rain"].to_numpy().tolist() == [1.0, 2.0]


def test_zarr_stays_lazy_with_chunks(tmp_path: Path) -> None:
    pytest.importorskip("zarr", reason="Zarr needs the extra packages [large]")
    pytest.importorskip("dask", reason="lazy reading needs the extra packages [large]")
    path = tmp_path / "grid.zarr"
    days_of(np.arange(10.0), "mm").to_zarr(path, consolidated=False)
    lazy = runoff.read_weather(path, chunks={"time": 5})
    assert lazy["rain"].chunks is not None
    assert runoff.read_weather(path)["rain"].chunks is None
    assert lazy["rain"].to_numpy().tolist() == list(range(10))


def test_the_result_survives_a_round_trip(read, tmp_path: Path) -> None:
    weather = read(days_of([0.0, 5.0, 2.0], "mm"), latitude=50.0)
    weather.to_netcdf(tmp_path / "again.nc")
    again = runoff.read_weather(tmp_path / "again.nc")
    xr.testing.assert_allclose(again["rain"], weather["rain"])
    assert float(again["lat"]) == 50.0
