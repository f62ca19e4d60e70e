"""Weather on disk: its checks travel with it and speak when a part is read; gaps of a grid are told."""

import re

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import runoff
from runoff.errors import RunoffWarning
from runoff.weather.record.forcing import prepare_forcing
from runoff.weather.record.frames import as_weather

pytest.importorskip("dask", reason="lazy reading needs the extra packages [large]")


def grid(**changes) -> xr.Dataset:
    """Return ten days on 2 x 3 cells, one cell masked throughout; made up."""
    rain = np.ones((2, 3, 10))
    rain[1, 2] = np.nan
    data = xr.Dataset(
        {
            "rain": (("lat", "lon", "time"), rain, {"units": "mm"}),
            "reference_et": (("lat", "lon", "time"), np.where(np.isnan(rain), np.nan, 2.0), {"units": "mm"}),
            "tmean": (("lat", "lon", "time"), np.where(np.isnan(rain), np.nan, 12.0), {"units": "degC"}),
        },
        coords={"time": pd.date_range("2001-01-01", periods=10), "lat": [10.0, 20.0], "lon": [0.0, 1.0, 2.0]},
    )
    for name, (place, value) in changes.items():
        data[name][place] = value
    return data


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"rain": ((0, 1, 4), -3.0)}, "weather: `rain` is negative on 1 value, first -3 at 2001-01-05, lat 10.0, lon 1.0; a missing value is written as NaN, "
         "rain is a depth per step"),
        ({"tmean": ((0, 1, 4), 285.0)}, "weather: `tmean` is impossible on 1 value, first 285 at 2001-01-05, lat 10.0, lon 1.0; Kelvin, Fahrenheit or tenths read "
         "as degC? A missing value is written as NaN"),
        ({"reference_et": ((1, 0, 0), 3000.0)}, "weather: `reference_et` is impossible on 1 value, first 3000 at 2001-01-01, lat 20.0, lon 0.0; a missing value is "
         "written as NaN"),
    ],
)  # fmt: skip
def test_impossible_values_are_refused_when_they_are_read(changes, words) -> None:
    lazy = as_weather(grid(**changes).chunk(lat=1, lon=2))
    name = next(iter(changes))
    assert lazy[name].chunks  # nothing is read yet
    with pytest.raises(runoff.WeatherError, match=f"^{re.escape(words)}$"):
        lazy[name].compute()


def test_a_run_on_such_a_grid_stops() -> None:
    roof = runoff.open_sample_roof("cups")
    run = runoff.simulate(roof, grid(rain=((0, 1, 4), -3.0)).chunk(lat=1))
    with pytest.raises(runoff.WeatherError, match="`rain` is negative"):
        run["overflow"].compute()


def test_sound_values_pass_unchanged_and_are_checked_once() -> None:
    given = grid()
    once = as_weather(given.chunk(lat=1))
    xr.testing.assert_equal(once["rain"].compute(), given["rain"])
    assert as_weather(once)["rain"].data.name == once["rain"].data.name


def test_gaps_of_a_grid_are_told_and_a_mask_is_not() -> None:
    words = (
        r"simulate: some cells of the grid have `rain` on a part of the steps only; they are missing in every result"
    )
    prepare_forcing(grid())
    prepare_forcing(grid().chunk(lat=1)).compute()
    with pytest.warns(RunoffWarning, match=words):
        prepare_forcing(grid(rain=((0, 0, 3), np.nan)))
    lazy = prepare_forcing(grid(rain=((0, 0, 3), np.nan)).chunk(lat=1, time=5))
    with pytest.warns(RunoffWarning, match=words):
        lazy.compute()


def test_inches_called_mm_on_disk_are_refused_when_they_are_read() -> None:
    days = runoff.open_sample()[["rain", "tmin", "tmax"]].drop_attrs(deep=False)
    inches = days.assign(rain=(days["rain"] / 25.4).assign_attrs(units="mm"))
    roof = runoff.open_sample_roof("cups")
    words = "inches, cm or m read as mm"
    for weather, place in (
        (inches, "simulate: rain: 45 mm a year"),
        (
            inches.drop_vars("lat").expand_dims(lat=[46.0, 47.0], lon=[4.0, 5.0]),
            "simulate: rain: lat 47.0, lon 5.0: ",
        ),
        (inches.expand_dims(site=["a", "b"]), "simulate: rain: site b.*"),
    ):
        run = runoff.simulate(roof, weather.chunk({name: 1 for name in weather["rain"].dims if name != "time"}))
        last = run["overflow"].isel({name: -1 for name in weather["rain"].dims if name != "time"})
        assert last.chunks
        with pytest.raises(runoff.WeatherError, match=f"{place}.*{words}"):
            last.compute()
        trusted = weather.chunk().assign_attrs(unit_trusted="yes")
        assert float(runoff.simulate(roof, trusted)["rain"].max()) < 10.0


def test_a_gap_of_a_single_series_on_disk_is_refused_when_it_is_read() -> None:
    days = runoff.open_sample().isel(time=slice(0, 400))[["rain", "tmin", "tmax"]]
    days["rain"][7] = np.nan
    run = runoff.simulate(runoff.open_sample_roof("cups"), days.chunk(time=100))
    with pytest.raises(runoff.WeatherError, match=r"^simulate: `rain` is missing on 1 of 400 steps: 1991-01-08; "):
        run["overflow"].compute()
