"""A run that starts from another's last state goes on where that one stopped, and only for the same roofs and places."""

import numpy as np
import pytest
import xarray as xr

import runoff

NEEDED = "give the last state of the same, in the same order"


@pytest.fixture(scope="module")
def weather() -> xr.Dataset:
    return runoff.open_sample().isel(time=slice(0, 500))


@pytest.fixture(scope="module")
def roofs() -> dict[str, runoff.Roof]:
    return {name: runoff.open_sample_roof(name) for name in ("cups", "thin")}


def test_a_record_split_in_two_gives_the_same_numbers(weather: xr.Dataset, roofs: dict) -> None:
    whole = runoff.simulate(roofs, weather, warm_up_years=0)
    first = runoff.simulate(roofs, weather.isel(time=slice(0, 217)), warm_up_years=0)
    rest = runoff.simulate(roofs, weather.isel(time=slice(217, None)), start_state=first)
    for name in ("overflow", "medium_water", "snow_water", "bare_overflow", "waterlogged"):
        np.testing.assert_array_equal(rest[name], whole[name].isel(time=slice(217, None)), err_msg=name)


def test_a_warm_up_over_the_whole_record_is_the_record_run_twice(roofs: dict) -> None:
    # invented: a year by the hour without temperature, so that both passes meet the same weather
    time = np.datetime64("2001-01-01", "ns") + np.arange(365 * 24) * np.timedelta64(1, "h")
    rng = np.random.default_rng(6)
    rain = np.where(rng.random(time.size) < 0.05, rng.gamma(0.6, 3.0, time.size), 0.0)
    series = {
        "rain": ("time", rain, {"units": "mm"}),
        "reference_et": ("time", np.full(time.size, 0.05), {"units": "mm"}),
    }
    year = xr.Dataset(series, {"time": time})
    for of_one in (roofs["cups"], roofs):
        once = runoff.simulate(of_one, year, warm_up_years=0)
        twice, warmed = runoff.simulate(of_one, year, start_state=once), runoff.simulate(of_one, year)
        for name in ("overflow", "medium_water", "liquid", "snow_water", "bare_overflow", "other_water", "waterlogged"):
            np.testing.assert_array_equal(warmed[name], twice[name], err_msg=name)


def test_the_state_of_other_roofs_is_refused(weather: xr.Dataset, roofs: dict) -> None:
    run = runoff.simulate(roofs, weather)
    turned = dict(reversed(roofs.items()))
    message = (
        rf"simulate: start_state belongs to another `design` \(cups, thin\) than this run \(thin, cups\); {NEEDED}"
    )
    with pytest.raises(runoff.RunoffError, match=message):
        runoff.simulate(turned, weather, start_state=run)


def test_the_state_of_other_places_is_refused(weather: xr.Dataset, roofs: dict) -> None:
    places = weather.expand_dims(site=["a", "b"]).transpose(..., "time")
    run = runoff.simulate(roofs["cups"], places)
    message = rf"simulate: start_state belongs to another `site` \(a, b\) than this run \(b\); {NEEDED}"
    with pytest.raises(runoff.RunoffError, match=message):
        runoff.simulate(roofs["cups"], places.isel(site=[1]), start_state=run)
