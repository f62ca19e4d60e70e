"""The embedded sample: read the short way, equal to the long way, marked invented."""

import re
import shutil

import numpy as np
import pytest

import runoff
from runoff import sample_files
from runoff.errors import RunoffError
from runoff.weather.files import samples
from runoff.weather.files.reading import read_weather


@pytest.fixture(scope="module")
def days():
    return samples.open_sample()


@pytest.fixture(scope="module")
def storms():
    return samples.open_sample_storms()


def test_public_names() -> None:
    assert runoff.open_sample is samples.open_sample
    assert runoff.open_sample_storms is samples.open_sample_storms


def test_the_sample_is_what_the_reader_reads(days) -> None:
    read = read_weather(sample_files.sample_folder() / samples.DAILY_FILE, latitude=float(days["lat"]))
    for name in ("rain", "tmin", "tmax", "reference_et"):
        np.testing.assert_array_equal(days[name], read[name], err_msg=name)
        assert days[name].attrs["units"] == read[name].attrs["units"]
    np.testing.assert_array_equal(days["time"], read["time"])
    assert days.attrs["sha256"] == read.attrs["sha256"]
    assert days["reference_et"].attrs["method"] == "Hargreaves-Samani"


def test_the_storms_are_what_the_reader_reads(storms) -> None:
    read = read_weather(sample_files.sample_folder() / samples.STORMS_FILE)
    np.testing.assert_array_equal(storms["rain"], read["rain"])
    np.testing.assert_array_equal(storms["time"], read["time"])


def test_the_summer_is_part_of_the_days(days, storms) -> None:
    summer = days.sel(time=slice(storms["time"][0], storms["time"][-1]))
    assert summer.sizes["time"] == 92
    for name in ("rain", "reference_et"):
        np.testing.assert_allclose(storms[name].resample(time="1D").sum(), summer[name], rtol=0, atol=1e-9)
    midnight = storms["reference_et"].sel(time=storms["time"].dt.hour == 0)
    assert float(midnight.max()) == 0.0


def test_everything_is_marked_invented(days, storms) -> None:
    for weather in (days, storms):
        assert weather.attrs["invented"] == "yes"
        assert "invented" in weather.attrs["title"] and "invented" in weather.attrs["source"]
        assert not any(weather[name].isnull().any() for name in weather.data_vars)


def test_a_roof_runs_through_the_summer(storms) -> None:
    run = runoff.simulate(runoff.open_sample_roof("cups"), storms)
    assert run.sizes["time"] == storms.sizes["time"]
    assert 0.0 < float(run["overflow"].sum()) < float(storms["rain"].sum())


def test_missing_files_say_so(monkeypatch, tmp_path) -> None:
    monkeypatch.setattr(sample_files, "_PACKAGE", tmp_path / "runoff")
    message = (
        f"the sample files are missing: no ostrey_daily.csv in {tmp_path / 'runoff' / 'sample_storms'}; "
        "install the package again"
    )
    with pytest.raises(RunoffError, match=f"^{re.escape(message)}$"):
        sample_files.sample_folder()


def test_the_copy_inside_the_package_is_found(monkeypatch, tmp_path) -> None:
    inside = tmp_path / "runoff" / "sample_storms"
    shutil.copytree(sample_files.sample_folder(), inside)
    monkeypatch.setattr(sample_files, "_PACKAGE", tmp_path / "runoff")
    assert sample_files.sample_folder() == inside
    assert samples.open_sample().sizes["time"] == 10_958


def test_a_lost_line_is_noticed(monkeypatch, tmp_path) -> None:
    shutil.copytree(sample_files.sample_folder(), tmp_path / "sample")
    path = tmp_path / "sample" / samples.DAILY_FILE
    lines = path.read_text().splitlines(keepends=True)
    path.write_text("".join(lines[:500] + lines[501:]))
    monkeypatch.setattr(samples, "sample_folder", lambda: tmp_path / "sample")
    message = (
        "ostrey_daily.csv of the sample is damaged: a step is missing; write it again or install the package again"
    )
    with pytest.raises(RunoffError, match=f"^{re.escape(message)}$"):
        samples.open_sample()
