"""The invented climate gives what it was asked for, the same every time.

Long records are held to the numbers asked for by the law of large numbers: a mean of n draws strays by its standard
error. The seed is fixed, so these tests cannot flicker; 4.5 standard errors is what a right generator of any seed would
pass all but once in some thousand runs of this file.
"""

import dataclasses
import re
import subprocess
import sys

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from runoff.errors import WeatherError
from runoff.sample_files import sample_folder
from runoff.storms.depth_duration_files import read_depth_duration
from runoff.weather.climates.invented import (
    OSTREY,
    SMALLEST_MM,
    InventedClimate,
    invented_days,
    invented_minutes,
    write_samples,
)
from runoff.weather.files.samples import DEPTH_DURATION_FILE

ERRORS = 4.5


@pytest.fixture(scope="module")
def long_record() -> pd.DataFrame:
    table = invented_days(first_year=1800, years=400, seed=5).to_dataframe()
    table["wet"] = table["rain"] > 0.0
    table["month"] = table.index.month
    table["width"] = table["tmax"] - table["tmin"]
    return table


def of_month(values: tuple[float, ...], month: pd.Series) -> np.ndarray:
    return np.asarray(values)[month.to_numpy() - 1]


def test_the_sample_files_come_out_again_byte_for_byte(tmp_path) -> None:
    written = write_samples(tmp_path / "again")
    assert len(written) == 3
    for path in written:
        assert path.read_bytes() == (sample_folder() / path.name).read_bytes(), path.name
        assert path.stat().st_size < 1_000_000
        first, second, third = path.read_text().splitlines()[:3]
        assert first.startswith("# INVENTED")
        assert second == "# Made by: python -m runoff.weather.climates.invented (seed 1847)"
        assert "mm" in third or "units: mm" in path.read_text()


def test_the_command_says_what_it_needs() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "runoff.weather.climates.invented"], capture_output=True, text=True, check=False
    )
    assert done.returncode == 1
    assert done.stderr.strip() == "usage: python -m runoff.weather.climates.invented FOLDER"


def test_the_seed_decides() -> None:
    first, again, other = (invented_days(years=2, seed=seed) for seed in (1, 1, 2))
    xr.testing.assert_identical(first, again)
    assert not first["rain"].equals(other["rain"])
    assert first.attrs["invented"] == "yes"
    assert first["rain"].attrs["units"] == "mm"


@pytest.mark.parametrize(("yesterday", "asked"), [(False, OSTREY.wet_after_dry), (True, OSTREY.wet_after_wet)])
def test_chances_of_a_wet_day(long_record: pd.DataFrame, yesterday: bool, asked: tuple[float, ...]) -> None:
    after = long_record[long_record["wet"].shift(fill_value=False) == yesterday]
    found = after.groupby("month")["wet"].agg(["mean", "size"])
    chance = np.asarray(asked)
    error = np.sqrt(chance * (1.0 - chance) / found["size"])  # of a share of n independent draws
    assert (np.abs(found["mean"] - chance) < ERRORS * error).all()


def test_share_of_wet_days(long_record: pd.DataFrame) -> None:
    found = long_record.groupby("month")["wet"].mean()
    # days in a row lean on each other, by b - a = 0.3: 12 000 days count as 12 000 x 0.7/1.3; months begin with their neighbour
    assert np.abs(found - OSTREY.wet_share()).max() < ERRORS * np.sqrt(0.25 / (12_000 * 0.7 / 1.3)) + 0.005
    # by hand for July: 0.24 / (0.24 + 1 - 0.47)
    assert OSTREY.wet_share()[6] == pytest.approx(0.24 / 0.77)


def test_rain_of_wet_days(long_record: pd.DataFrame) -> None:
    wet = long_record[long_record["wet"]]
    found = wet.groupby("month")["rain"].agg(["mean", "std", "size"])
    assert (np.abs(found["mean"] - np.array(OSTREY.mean_wet_mm)) < ERRORS * found["std"] / np.sqrt(found["size"])).all()
    assert wet["rain"].min() >= SMALLEST_MM
    assert (long_record["rain"] * 10.0 - (long_record["rain"] * 10.0).round()).abs().max() < 1e-6


def test_few_days_bring_much_of_the_rain(long_record: pd.DataFrame) -> None:
    july = long_record[long_record["wet"] & (long_record["month"] == 7)]["rain"].sort_values(ascending=False)
    # the largest tenth of an exponential holds 0.1 (1 + ln 10) = 33 % of the sum; two exponentials hold more
    assert 0.34 < july[: len(july) // 10].sum() / july.sum() < 0.5


def deviation(record: pd.DataFrame) -> pd.Series:
    """What is left of the mean temperature without season and shift, in standard deviations."""
    phase = 2.0 * np.pi * (record.index.day_of_year - OSTREY.coldest_day) / 365.25
    season = OSTREY.mean_c - OSTREY.wave_c * np.cos(phase)
    shift = np.where(record["wet"], of_month(OSTREY.wet_shift_c, record["month"]), 0.0)
    mean = (record["tmin"] + record["tmax"]) / 2.0
    return (mean - season - shift) / of_month(OSTREY.spread_c, record["month"])


def test_temperature_follows_season_and_wetness(long_record: pd.DataFrame) -> None:
    left = deviation(long_record)
    # 12 000 days a month, of which memory 0.68 leaves 0.32/1.68 independent: standard error 0.021
    error = 1.0 / np.sqrt(12_000 * 0.32 / 1.68)
    assert left.groupby(long_record["month"]).mean().abs().max() < ERRORS * error
    assert (
        left.groupby([long_record["month"], long_record["wet"]]).mean().abs().max() < ERRORS * error * 2.0
    )  # fewer days
    # the standard error of a standard deviation is 1 / sqrt(2 n)
    assert (left.groupby(long_record["month"]).std() - 1.0).abs().max() < ERRORS * error / np.sqrt(2.0) * 1.5
    # of a correlation of n days: (1 - r^2) / sqrt(n) = 0.0014
    assert left.autocorr(1) == pytest.approx(OSTREY.memory, abs=0.007)


@pytest.mark.parametrize(("wet", "asked"), [(False, OSTREY.range_dry_c), (True, OSTREY.range_wet_c)])
def test_daily_range(long_record: pd.DataFrame, wet: bool, asked: tuple[float, ...]) -> None:
    found = long_record[long_record["wet"] == wet].groupby("month")["width"].agg(["mean", "std", "size"])
    assert (np.abs(found["mean"] - np.array(asked)) < ERRORS * found["std"] / np.sqrt(found["size"])).all()
    assert long_record["width"].min() > 0.0


def test_the_sample_is_the_climate_it_is_said_to_be() -> None:
    record = invented_days().to_dataframe()
    yearly = record["rain"].resample("YS").sum()
    mean = (record["tmin"] + record["tmax"]) / 2.0
    # what was asked of Ostrey: near 1,130 mm, winters with some snow, warm summers; bands of one standard deviation or so
    assert 1070.0 < yearly.mean() < 1190.0
    assert 40.0 < record["rain"][mean <= 1.0].sum() / 30.0 < 160.0
    assert mean[record.index.month == 1].mean() < 2.0
    assert 18.0 < mean[record.index.month == 7].mean() < 21.0
    assert len(record) == 10_958  # 30 years with 8 leap days (1992 to 2020)


# --- minutes -------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def year() -> xr.DataArray:
    return invented_days(first_year=2001, years=1, seed=3)["rain"]


@pytest.mark.parametrize("step", [1, 5, 15, 60])
def test_the_minutes_keep_the_rain_of_the_day(year: xr.DataArray, step: int) -> None:
    minutes = invented_minutes(year, step_minutes=step)
    assert minutes.sizes["time"] == 365 * 1440 // step
    np.testing.assert_allclose(minutes.resample(time="1D").sum(), year, rtol=0, atol=1e-9)  # sums of hundredths
    assert float(minutes.min()) == 0.0
    assert np.abs(minutes * 100.0 - (minutes * 100.0).round()).max() < 1e-9


def one_kind(share: float) -> InventedClimate:
    return dataclasses.replace(OSTREY, shower_share=(share,) * 12)


def test_showers_gather_in_the_afternoon_and_are_sharper_than_bands(year: xr.DataArray) -> None:
    showers, bands = (invented_minutes(year, one_kind(share)) for share in (1.0, 0.0))
    by_hour = [kind.groupby("time.hour").sum() / kind.sum() for kind in (showers, bands)]
    # storms of showers begin between 10 and 22 h (16 h and 6 h to each side, the middle most often), cells follow;
    # of the latest, a few cells pass midnight: 40 min of delay exceed 2 h once in 20
    assert float(by_hour[0].sel(hour=slice(0, 9)).sum()) < 0.02
    assert float(by_hour[0].sel(hour=slice(13, 20)).sum()) > 0.6
    # bands at any hour: each quarter of a year of some 120 wet days has 25 % give or take a tenth (0.43 / sqrt(120) is 4 %, a few large days count more)
    quarters = [float(by_hour[1].sel(hour=slice(h, h + 5)).sum()) for h in (0, 6, 12, 18)]
    assert all(0.15 < quarter < 0.35 for quarter in quarters)
    assert float(showers.max()) > 2.0 * float(bands.max())
    assert int((showers > 0).sum()) < int((bands > 0).sum())


def test_a_day_of_one_tip_and_a_day_of_a_flood_both_fit() -> None:
    time = pd.date_range("2001-07-01", periods=3)
    rain = xr.DataArray([0.2, 0.0, 400.0], {"time": time}, ["time"])
    minutes = invented_minutes(rain)
    np.testing.assert_allclose(minutes.resample(time="1D").sum(), rain, atol=1e-9)


def test_steps_must_divide_the_day(year: xr.DataArray) -> None:
    message = "invented_minutes: step_minutes must divide 1440 (given 7); 1, 5 and 15 do"
    with pytest.raises(WeatherError, match=f"^{re.escape(message)}$"):
        invented_minutes(year, step_minutes=7)


# --- the depth-duration table --------------------------------------------------------------------------------


def test_the_depth_duration_table_reads_and_belongs_to_the_climate() -> None:
    table = read_depth_duration(sample_folder() / DEPTH_DURATION_FILE)
    assert "invented" in table.source.lower() or "ostrey" in table.source.lower()
    depths = pd.read_csv(sample_folder() / DEPTH_DURATION_FILE, comment="#", index_col="duration")
    assert list(depths.columns) == ["2", "5", "10", "25", "50", "100"]
    assert (depths.diff(axis=1).iloc[:, 1:] > 0.0).all(axis=None)
    assert (depths.diff(axis=0).iloc[1:] > 0.0).all(axis=None)
    # a window of 24 h holds more than a calendar day: 1.13 times, the usual correction; the median of 30 largest days of a
    # year strays by some 7 % (1.25 x 0.3 / sqrt(30))
    days = invented_days()["rain"].to_series().resample("YS").max()
    assert depths.loc["24 h", "2"] == pytest.approx(1.13 * days.median(), rel=0.14)


# --- a climate of one's own ----------------------------------------------------------------------------------


def test_another_town_south_of_the_equator() -> None:
    town = dataclasses.replace(OSTREY, name="Marrow Bay", latitude=-35.0, coldest_day=200, mean_c=15.0, wave_c=6.0)
    record = invented_days(town, first_year=2001, years=3)
    mean = ((record["tmin"] + record["tmax"]) / 2.0).groupby("time.month").mean()
    assert float(mean.sel(month=1)) > float(mean.sel(month=7)) + 6.0
    assert float(record["lat"]) == -35.0
    assert record.attrs["title"] == "invented weather of the invented town of Marrow Bay"


def test_all_faults_of_a_climate_in_one_message() -> None:
    message = (
        "invented climate Nowhere: spread_c needs 12 numbers, January to December (given 2)\n"
        f"invented climate Nowhere: heavy_share must lie between 0 and 1 (given {(1.5,) * 12})\n"
        f"invented climate Nowhere: mean_wet_mm must be more than 0.2 mm (given {(0.1,) * 12})\n"
        "invented climate Nowhere: memory must be 0 or more and less than 1 (given 1)\n"
        "invented climate Nowhere: latitude must lie between -90 and 90 degrees (given 95)"
    )
    with pytest.raises(WeatherError, match=f"^{re.escape(message)}$"):
        dataclasses.replace(
            OSTREY,
            name="Nowhere",
            spread_c=(3.0, 3.0),
            heavy_share=(1.5,) * 12,
            mean_wet_mm=(0.1,) * 12,
            memory=1.0,
            latitude=95.0,
        )
