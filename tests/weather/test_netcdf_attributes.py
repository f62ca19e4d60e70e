"""What the attributes of a CF file say is heeded: bounds, methods, ranges, flags, places; a name alone is not believed."""

import re
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import runoff

DAYS = pd.date_range("2001-01-01", periods=4)


def file_of(folder: Path, data: xr.Dataset) -> Path:
    path = folder / "grid.nc"
    data.to_netcdf(path)
    return path


def rain(name: str = "pr", values=(0.0, 1.0, 2.0, 3.0), time=DAYS, **attrs) -> xr.Dataset:
    return xr.Dataset(
        {name: ("time", np.asarray(values, dtype=float), {"units": "mm", **attrs})}, coords={"time": time}
    )


def with_snow(name: str, units: str, size: int = 4, **attrs) -> xr.Dataset:
    time = pd.date_range("2001-01-01", periods=size)
    values = np.linspace(0.5, 0.1, size)
    return rain("rain", np.ones(size), time).assign({name: ("time", values, {"units": units, **attrs})})


# --- snow ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "units", "attrs"),
    [
        ("prsn", "mm", {}),
        ("snow", "mm/day", {}),  # only what falls has a rate
        ("snowfall", "kg m-2", {}),
        ("snow", "mm", {"standard_name": "lwe_thickness_of_snowfall_amount"}),
        ("snow", "mm", {"long_name": "Snowfall, water equivalent"}),
        ("sf", "mm", {"standard_name": "snowfall_amount"}),
    ],
)
def test_snow_that_fell_is_added_to_rain(tmp_path, name, units, attrs) -> None:
    weather = runoff.read_weather(file_of(tmp_path, with_snow(name, units, **attrs)))
    assert weather["rain"].to_numpy() == pytest.approx(1.0 + np.linspace(0.5, 0.1, 4))
    assert weather.attrs["rain_variables"] == f"rain and {name}"


@pytest.mark.parametrize(
    ("name", "units", "attrs", "why"),
    [
        ("snow", "kg m-2", {"standard_name": "surface_snow_amount"}, 'its standard_name is "surface_snow_amount"'),
        ("snow", "m", {"standard_name": "surface_snow_thickness"}, 'its standard_name is "surface_snow_thickness"'),
        ("snow", "mm", {"long_name": "Snow depth"}, 'it is called "Snow depth"'),
        ("snow", "mm", {"cell_methods": "time: point"}, 'its cell_methods say "time: point"'),
    ],
)
def test_snow_on_the_ground_is_no_rain(tmp_path, name, units, attrs, why) -> None:
    weather = runoff.read_weather(file_of(tmp_path, with_snow(name, units, **attrs)))
    assert weather["rain"].to_numpy().tolist() == [1.0] * 4
    assert weather.attrs["left_aside"] == f"snow: {why}, so it is not added to rain"
    found = runoff.check_weather(weather).to_dataframe().set_index("name")
    assert found.loc["left aside", "verdict"] == "look"


@pytest.mark.parametrize("units", ["mm", "cm", "m"])
def test_snow_that_could_be_anything_is_asked_about(tmp_path, units) -> None:
    words = (
        f'grid.nc: snow: in "{units}" it may be water that fell as snow, the depth of fresh snow, or snow that lies; say '
        'columns={"rain": "rain", "snow": "snow"} when it is water that fell (it is then added to rain), or '
        'columns={"rain": "rain"} to leave it out (temperatures are named beside)'
    )
    path = file_of(tmp_path, with_snow("snow", units))
    with pytest.raises(runoff.WeatherError, match=f"^{re.escape(words)}$"):
        runoff.read_weather(path)
    assert runoff.read_weather(path, columns={"rain": "rain"})["rain"].to_numpy().tolist() == [1.0] * 4


def test_snow_that_lies_is_known_by_its_values_too(tmp_path) -> None:
    path = file_of(tmp_path, with_snow("snow", "mm", size=60))  # shrinks evenly for two months
    with pytest.raises(
        runoff.WeatherError, match=r"snow: it stays for weeks and changes little from step to step, as snow on the"
    ):
        runoff.read_weather(path, columns={"rain": "rain", "snow": "snow"})


@pytest.mark.parametrize("chunks", [{}, {"time": 40}, {"site": 1}], ids=str)
def test_snow_that_lies_is_known_on_disk_when_it_is_read(tmp_path, chunks) -> None:
    pytest.importorskip("dask", reason="lazy reading needs the extra packages [large]")
    lying = with_snow("snow", "mm", size=60).expand_dims(site=3).copy(deep=True)
    path = file_of(tmp_path, lying)
    read = runoff.read_weather(path, columns={"rain": "rain", "snow": "snow"}, chunks=chunks)
    assert read["rain"].chunks
    with pytest.raises(runoff.WeatherError, match="snow: it stays for weeks and changes little from step to step"):
        read["rain"].compute()
    fallen = lying.assign(snow=(lying["snow"] * np.tile([1.0, 0.0, 0.0], 20)).assign_attrs(units="mm"))
    fallen.to_netcdf(tmp_path / "fallen.nc")
    read = runoff.read_weather(tmp_path / "fallen.nc", columns={"rain": "rain", "snow": "snow"}, chunks=chunks)
    np.testing.assert_allclose(read["rain"].sum(), 180.0 + float(fallen["snow"].sum()))


# --- names against attributes ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (rain("rain", standard_name="surface_snow_amount"), 'rain: its standard_name is "surface_snow_amount"'),
        (rain("pr", standard_name="air_pressure"), 'pr: its standard_name is "air_pressure"'),
        (rain("pr", cell_methods="area: mean time: maximum"), 'pr: its cell_methods say "time: maximum"'),
        (rain("pr", cell_methods="time: standard_deviation"), 'pr: its cell_methods say "time: standard_deviation"'),
    ],
)
def test_a_name_is_not_believed_against_its_attributes(tmp_path, data, words) -> None:
    path = file_of(tmp_path, data)
    with pytest.raises(runoff.WeatherError, match=rf"no variable is known as rain \({re.escape(words)}\)"):
        runoff.read_weather(path)
    with pytest.raises(
        runoff.WeatherError, match=r"is no rain: .*; if its attributes are wrong, correct them in the file$"
    ):
        runoff.read_weather(path, columns={"rain": next(iter(data.data_vars))})


@pytest.mark.parametrize(
    ("name", "attrs"),
    [
        ("tmax", {"standard_name": "surface_temperature"}),
        ("tmax", {"cell_methods": "time: minimum"}),
        ("tasmin", {"standard_name": "sea_surface_temperature"}),
    ],
)
def test_a_doubtful_temperature_is_left_aside_and_told(tmp_path, name, attrs) -> None:
    data = rain().assign({name: ("time", [1.0] * 4, {"units": "degC", **attrs})})
    weather = runoff.read_weather(file_of(tmp_path, data))
    assert not {"tmin", "tmax"} & set(weather.data_vars)
    assert weather.attrs["left_aside"].startswith(f"{name}: its ")


def test_an_unknown_standard_name_contradicts_nothing(tmp_path) -> None:
    data = rain(standard_name="unknown")
    assert runoff.read_weather(file_of(tmp_path, data))["rain"].to_numpy().tolist() == [0.0, 1.0, 2.0, 3.0]


# --- time bounds -----------------------------------------------------------------------------------------------


def bounded(low, high, stamps=None) -> xr.Dataset:
    low, high = pd.DatetimeIndex(low), pd.DatetimeIndex(high)
    data = rain(values=np.arange(len(low)) * 1.0, time=low if stamps is None else pd.DatetimeIndex(stamps))
    data["time_bnds"] = (("time", "bnds"), np.stack([low, high], axis=1))
    data["time"].attrs["bounds"] = "time_bnds"
    units = {"units": "seconds since 2001-01-01", "dtype": "int64"}
    data["time"].encoding, data["time_bnds"].encoding = dict(units), dict(units)
    return data


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (
            bounded(DAYS + pd.Timedelta("1D"), DAYS, DAYS),
            "time: the bounds of 4 intervals run backwards or are empty, first 2001-01-02 to 2001-01-01; the start comes first",
        ),
        (
            bounded(DAYS, DAYS + pd.Timedelta("36h")),
            "time: 3 intervals overlap the next, first 2001-01-01 to 2001-01-02 12:00 and 2001-01-02 to 2001-01-03 12:00; rain of the "
            "overlap would count twice",
        ),
        (
            bounded(DAYS, DAYS + pd.Timedelta("1h")),
            "time: each value covers 1 h and they follow each other every 1 day; what fell in between is not known",
        ),
        (
            bounded(DAYS, DAYS + pd.Timedelta("1D"), DAYS + pd.Timedelta("3D")),
            "time: 4 stamps outside their bounds, first 2001-01-04 with 2001-01-01 to 2001-01-02",
        ),
    ],
    ids=["reversed", "overlapping", "parts of a day", "beside their stamps"],
)
def test_unsound_bounds_are_refused(tmp_path, data, words) -> None:
    with pytest.raises(runoff.WeatherError, match=f"^{re.escape(f'grid.nc: {words}')}$"):
        runoff.read_weather(file_of(tmp_path, data))


def test_a_mean_year_is_no_record(tmp_path) -> None:
    data = rain()
    data["time"].attrs["climatology"] = "climatology_bounds"
    with pytest.raises(
        runoff.WeatherError, match=r"it holds a mean year \(its time has climatology bounds\), not a record"
    ):
        runoff.read_weather(file_of(tmp_path, data))


def test_a_single_step_is_as_long_as_its_bounds_say(tmp_path) -> None:
    hour = pd.DatetimeIndex(["2001-01-01 13:00"])
    data = bounded(hour, hour + pd.Timedelta("1h"))
    data["pr"] = ("time", [2.0], {"units": "mm/h"})
    weather = runoff.read_weather(file_of(tmp_path, data))
    assert weather["rain"].to_numpy().tolist() == [2.0]  # 2 mm/h for an hour, not for a day
    with pytest.raises(
        runoff.WeatherError,
        match=r"time: a single step at 2001-01-01 13:00 without time bounds does not say how long it is$",
    ):
        runoff.read_weather(file_of(tmp_path, rain(values=[2.0], time=hour)))


def test_hours_kept_as_broken_days_are_whole_hours(tmp_path) -> None:
    time = pd.date_range("2001-01-01", periods=50, freq="h")
    data = rain(values=np.ones(50), time=time)
    data["time"] = ("time", np.arange(50) / 24.0 + 36890.0, {"units": "days since 1900-01-01"})  # 2001-01-01
    weather = runoff.read_weather(file_of(tmp_path, data))
    assert weather.indexes["time"].equals(time)


# --- valid range and flags -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "attrs",
    [{"valid_max": 2.0}, {"valid_range": np.array([0.0, 2.0])}, {"valid_min": 0.0, "valid_max": 2.5}],
    ids=["valid_max", "valid_range", "both ends"],
)
def test_values_outside_the_valid_range_are_missing(tmp_path, attrs) -> None:
    weather = runoff.read_weather(file_of(tmp_path, rain(**attrs)))
    np.testing.assert_array_equal(weather["rain"], [0.0, 1.0, 2.0, np.nan])
    assert weather.attrs["source_flags"] == "pr: outside the valid range of the file, 1 value dropped"
    found = runoff.check_weather(weather).to_dataframe().set_index("name")
    assert found.loc["source flags", "verdict"] == "look"


def test_the_valid_range_of_packed_data_is_packed(tmp_path) -> None:
    # CF 2.5.1: packed in tenths, so valid_max 25 is 2.5 mm
    data = rain(valid_max=np.int16(25))
    data["pr"].encoding = {"dtype": "int16", "scale_factor": 0.1, "_FillValue": np.int16(-1)}
    np.testing.assert_array_equal(
        runoff.read_weather(file_of(tmp_path, data))["rain"].round(6), [0.0, 1.0, 2.0, np.nan]
    )


def test_the_fill_value_of_the_format_is_missing(tmp_path) -> None:
    data = rain(values=[0.0, 1.0, 9.969209968386869e36, 3.0])
    data["pr"].encoding = {"_FillValue": None}
    np.testing.assert_array_equal(runoff.read_weather(file_of(tmp_path, data))["rain"], [0.0, 1.0, np.nan, 3.0])


FLAGS = [
    # name and attributes of the flag, its values, which values of [0, 1, 2, 3] stay
    ("status", {"flag_values": np.array([0, 1], dtype="i1"), "flag_meanings": "good bad"}, [0, 0, 1, 0], [0, 1, None, 3]),
    ("pr_qc", {"flag_values": np.array([1, 4], dtype="i1"), "flag_meanings": "passed not_evaluated"}, [1, 4, 1, 4], [0, 1, 2, 3]),
    ("status", {"flag_masks": np.array([1, 2], dtype="i1"), "flag_meanings": "snow_present suspect"}, [0, 1, 2, 3], [0, 1, None, None]),
    ("status", {"flag_values": np.array([0, 1], dtype="i1"), "flag_meanings": "no_errors missing_data"}, [0, 0, 0, 1], [0, 1, 2, None]),
]  # fmt: skip


@pytest.mark.parametrize(("name", "attrs", "flags", "kept"), FLAGS)
def test_quality_flags_are_heeded(tmp_path, name, attrs, flags, kept) -> None:
    data = rain(**({} if name.startswith("pr_") else {"ancillary_variables": name}))
    data[name] = ("time", np.array(flags, dtype="i1"), {"long_name": "quality flag", **attrs})
    weather = runoff.read_weather(file_of(tmp_path, data))
    np.testing.assert_array_equal(weather["rain"], [np.nan if one is None else one for one in kept])
    lost = sum(one is None for one in kept)
    said = weather.attrs.get("source_flags", "")
    assert (f"marked as no good by {name}, {lost} value" in said) == bool(lost)


def test_flags_that_say_nothing_are_told(tmp_path) -> None:
    data = rain(ancillary_variables="status").assign(
        status=("time", np.array([0, 0, 9, 0], dtype="i1"), {"long_name": "quality flag"})
    )
    weather = runoff.read_weather(file_of(tmp_path, data))
    assert (
        weather.attrs["source_flags"] == "pr: the flags of status are not used (it does not say what its numbers mean)"
    )


# --- places ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "units", "degrees"),
    # 0.7119 rad x 180 / pi = 40.79 degrees
    [
        (0.7119, "radian", 40.789),
        (40.789, "degrees_north", 40.789),
        (33.9, "degrees_south", -33.9),
        (40.789, "", 40.789),
    ],
)
def test_latitude_in_its_own_unit(tmp_path, value, units, degrees) -> None:
    data = rain().assign_coords(lat=((), value, {"units": units}))
    assert float(runoff.read_weather(file_of(tmp_path, data))["lat"]) == pytest.approx(degrees, abs=1e-3)


def test_grid_latitudes_in_radians(tmp_path) -> None:
    data = xr.Dataset(
        {"pr": (("time", "lat"), np.ones((4, 2)), {"units": "mm"})},
        coords={"time": DAYS, "lat": ("lat", np.radians([10.0, 20.0]), {"units": "radians"})},
    )
    assert runoff.read_weather(file_of(tmp_path, data))["lat"].to_numpy() == pytest.approx([10.0, 20.0])


@pytest.mark.parametrize(
    ("value", "units", "words"),
    [
        (407.8, "degrees_north", "lat: 407.8 lies outside -90 to 90 degrees, north positive"),
        (5_000_000.0, "m", 'lat: "m" is no unit of a place; it must be degrees, north positive'),
    ],
)
def test_a_place_that_is_nowhere(tmp_path, value, units, words) -> None:
    data = rain().assign_coords(lat=((), value, {"units": units}))
    with pytest.raises(runoff.WeatherError, match=f"^{re.escape(f'grid.nc: {words}')}$"):
        runoff.read_weather(file_of(tmp_path, data))


def test_the_users_place_is_held_against_the_files(tmp_path) -> None:
    path = file_of(tmp_path, rain().assign_coords(lat=40.8, lon=286.0))
    near = runoff.read_weather(path, latitude=40.78, longitude=-73.97)  # 286 and -74 are the same meridian
    assert float(near["lat"]) == 40.78
    words = "grid.nc: latitude -40.8 is given, but the file says 40.8; leave it out, or correct the wrong one"
    with pytest.raises(runoff.WeatherError, match=f"^{re.escape(words)}$"):
        runoff.read_weather(path, latitude=-40.8)
    with pytest.raises(runoff.WeatherError, match="longitude 100 is given, but the file says 286"):
        runoff.read_weather(path, longitude=100.0)


def test_a_grid_has_its_own_latitudes(tmp_path) -> None:
    data = xr.Dataset(
        {"pr": (("time", "lat"), np.ones((4, 2)), {"units": "mm"})}, coords={"time": DAYS, "lat": [10.0, 20.0]}
    )
    with pytest.raises(
        runoff.WeatherError, match=r"latitude: the file says its own, one for each place; leave latitude out$"
    ):
        runoff.read_weather(file_of(tmp_path, data), latitude=10.0)


# --- more than can be held -------------------------------------------------------------------------------------


def test_a_small_file_with_an_endless_axis_is_refused(tmp_path) -> None:
    h5py = pytest.importorskip("h5py")
    path = tmp_path / "grid.nc"
    with h5py.File(path, "w") as file:
        time = file.create_dataset("time", shape=(10**9,), dtype="f8", chunks=(10**6,), fillvalue=0.0)
        time.make_scale("time")
        time.attrs["units"] = "days since 2000-01-01"
        file.create_dataset("pr", shape=(10**9,), dtype="f4", chunks=(10**6,)).dims[0].attach_scale(time)
    with pytest.raises(
        runoff.WeatherError, match=r"1,000,000,000 values along one dimension; the most is 100,000,000$"
    ):
        runoff.read_weather(path)


def test_a_small_file_that_unpacks_to_much_is_refused(tmp_path) -> None:
    h5py = pytest.importorskip("h5py")
    path = tmp_path / "grid.nc"
    with h5py.File(path, "w") as file:
        time = file.create_dataset("time", data=np.arange(1000.0))
        time.make_scale("time")
        time.attrs["units"] = "days since 2000-01-01"
        pr = file.create_dataset("pr", shape=(1000, 300, 300), dtype="f4", chunks=(1000, 10, 10))
        pr.attrs["units"] = "mm"
        pr.dims[0].attach_scale(time)
        for axis, name in enumerate(("lat", "lon"), start=1):
            place = file.create_dataset(name, data=np.linspace(0.0, 80.0, 300))
            place.make_scale(name)
            pr.dims[axis].attach_scale(place)
    with pytest.raises(runoff.WeatherError, match=r"MB that unpacks to 687 MB holds nearly nothing; is it whole\?"):
        runoff.read_weather(path)  # 1000 x 300 x 300 x 8 bytes = 687 x 2^20


def test_the_file_is_closed_again_whatever_happens(tmp_path) -> None:
    path = file_of(tmp_path, rain("water"))
    for _ in range(3):
        with pytest.raises(runoff.WeatherError, match="no variable is known as rain"):
            runoff.read_weather(path)
    rain().to_netcdf(path)  # an open handle would refuse to be written over
    assert runoff.read_weather(path).sizes["time"] == 4


# --- rates -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("units", "attrs"),
    [
        ("m s-1", {"standard_name": "lwe_precipitation_rate"}),  # CF standard name table: canonical unit m s-1
        ("m s-1", {}),
        ("kg m-2 s-1", {"standard_name": "precipitation_flux"}),
        ("kg m-2 d-1", {}),
        ("kg m-2 day-1", {}),
    ],
)
def test_rates_of_water_become_the_depth_of_a_day(tmp_path, units: str, attrs: dict[str, str]) -> None:
    """A day of 86,400 s; 1 kg of water on 1 m2 is 1 mm deep."""
    a_day = {"m s-1": 0.001 / 86400.0, "kg m-2 s-1": 1.0 / 86400.0}.get(units, 1.0)
    path = file_of(tmp_path, rain(values=np.array([0.0, 1.0, 25.0, 3.0]) * a_day, units=units, **attrs))
    np.testing.assert_allclose(runoff.read_weather(path)["rain"], [0.0, 1.0, 25.0, 3.0], rtol=1e-12)
