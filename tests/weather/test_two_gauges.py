"""Two gauges held against each other: what they disagree in is named with days, sums and ratio, and nothing is averaged."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import runoff
from runoff.cli import main
from runoff.errors import WeatherError
from runoff.weather.quality.scale_parts import odd_part
from runoff.weather.quality.two_gauges import compare_gauges


@pytest.fixture(scope="module")
def weather():
    return runoff.open_sample().sel(time=slice("2010", "2013"))


@pytest.fixture(scope="module")
def rain(weather) -> pd.Series:
    return weather["rain"].to_series()


def line(weather, other) -> tuple[str, str]:
    report = runoff.check_weather(weather, other=other)
    return next((one.verdict, one.found) for one in report.checks if one.name == "other gauge")


def test_gauges_that_agree(weather, rain) -> None:
    assert line(weather, rain * 1.05)[0] == "good"


def test_by_hand() -> None:
    # forty days of 4 and 6 mm in turn, the other 8 and 12: 200 and 400 mm, ratio 2; a day missing at one leaves 39
    days = pd.date_range("2020-01-01", periods=40)
    one = pd.Series(np.tile([4.0, 6.0], 20), days)
    other = one * 2.0
    found = compare_gauges(one, other, names=("A", "B"))
    assert found.sums == (200.0, 400.0)
    assert (found.ratio, found.correlation, found.known, found.left_out) == (2.0, pytest.approx(1.0), 40, 0)
    other.iloc[0] = np.nan
    found = compare_gauges(one, other)
    assert (found.known, found.left_out, found.sums[0]) == (39, 1, 196.0)


@pytest.mark.parametrize(
    ("factor", "words"), [(2.54, "2.54 times as much (units mixed up, in and cm"), (0.1, "10 times less")]
)
def test_another_unit_stops(weather, rain, factor, words) -> None:
    verdict, found = line(weather, rain * factor)
    assert verdict == "stop"
    assert words in found


def test_a_part_in_another_unit_is_named_with_its_months(weather, rain) -> None:
    other = rain.copy()
    other.loc["2011-03":"2011-08"] *= 2.54
    verdict, found = line(weather, other)
    assert verdict == "stop"
    assert "from 2011-03 to 2011-08 the other gauge has 2.54 times as much (units mixed up, in and cm" in found


def test_the_half_that_is_further_from_one_to_one_is_the_odd_one(rain) -> None:
    late = rain.copy()
    late.loc["2012-07":] *= 2.54
    part = odd_part(rain, late)
    assert part is not None
    assert (part.first, part.last, round(part.factor, 2)) == ("2012-07", "2013-12", 2.54)


def test_days_of_other_hours_are_told_from_other_rain(weather, rain) -> None:
    verdict, found = line(weather, rain.shift(1))
    assert verdict == "look"
    assert "agree better when the other gauge is moved a day earlier" in found
    assert (
        "day by day they hardly agree" in line(weather, rain.sample(frac=1.0, random_state=1).set_axis(rain.index))[1]
    )


def test_scatter_between_gauges_is_no_change_of_scale(rain) -> None:
    # days apart by a factor of e^0.8 or so, as two gauges of a city: twenty records, and none has an odd part
    for seed in range(20):
        rng = np.random.default_rng(seed)
        assert odd_part(rain, rain * np.exp(rng.normal(0.0, 0.8, len(rain)))) is None


def test_records_that_cannot_be_compared(weather, rain) -> None:
    with pytest.raises(
        WeatherError,
        match=r"^the other gauge: no day in common with the gauge used \(2010-01-01 to 2013-12-31 and 1990-",
    ):
        compare_gauges(
            weather, rain.set_axis(rain.index - pd.DateOffset(years=20)), names=("the gauge used", "the other gauge")
        )
    assert line(weather, rain.iloc[:20])[1].startswith("20 days known at both, with ")


def test_a_storm_that_missed_one_gauge_is_named_with_its_day(weather, rain) -> None:
    other, day = rain.copy(), rain.idxmax()
    other.loc[day - pd.Timedelta("1D") : day + pd.Timedelta("1D")] = 0.0
    verdict, found = line(weather, other)
    assert verdict == "look"
    assert (
        f"of 10 mm or more at one and under a fifth of it at the other, the wettest {day:%Y-%m-%d} ({rain[day]:.1f} and 0.0 mm)"
    ) in found


def test_several_sites_are_not_compared(weather, rain) -> None:
    sites = weather["rain"].expand_dims(site=["a", "b"]).transpose("time", "site")
    with pytest.raises(
        WeatherError,
        match=r"^check_weather: a second gauge is compared with one series of rain; choose a cell or a site$",
    ):
        runoff.check_weather(sites, other=rain)
    with pytest.raises(
        WeatherError,
        match=r"^the other gauge: one series of rain on calendar dates is needed to compare gauges; choose a cell, or a site$",
    ):
        runoff.check_weather(weather, other=sites)


def test_hours_are_summed_to_days(rain) -> None:
    # four rains of 0.5, 1.5, 0 and 0 of a day's quarters; a quarter missing takes its day out
    quarters = pd.Series(np.tile([0.5, 1.5, 0.0, 0.0], 40), pd.date_range("2020-01-01", periods=160, freq="6h"))
    quarters.iloc[5] = np.nan
    found = compare_gauges(quarters, pd.Series(2.0, pd.date_range("2020-01-01", periods=40)))
    assert (found.known, found.left_out, found.sums) == (39, 1, (78.0, 78.0))


def test_a_second_column_of_rain_is_compared_unasked(rain, tmp_path: Path, capsys) -> None:
    path = tmp_path / "two.csv"
    table = pd.DataFrame({"rain_mm": rain, "rain_roof_mm": rain * 0.7, "rain_flag": 0})
    table.rename_axis("date").round(2).to_csv(path)
    assert main(["check-weather", str(path)]) == 0
    said = capsys.readouterr().out
    assert "LOOK  other gauge" in said
    assert "rain_roof_mm has 30 % less in all" in said
    assert "only the column used counts, nothing is averaged" in said
    # in Python the column is named; it is read only when asked for
    read = runoff.read_weather(path)
    assert read.attrs["other_rain"] == "rain_roof_mm"
    assert "the file has more columns of rain than the one used: rain_roof_mm" in str(runoff.check_weather(read))


def test_a_record_of_another_gauge(rain, tmp_path: Path, capsys) -> None:
    here, there = tmp_path / "here.csv", tmp_path / "there.csv"
    rain.rename("rain_mm").rename_axis("date").to_csv(here)
    (0.8 * rain / 25.4).rename("gauge_b").rename_axis("date").to_csv(there)
    assert main(["check-weather", str(here), "--other-gauge", str(there), "--other-column", "gauge_b"]) == 1
    assert "its unit is not known" in capsys.readouterr().err
    words = ["check-weather", str(here), "--other-gauge", str(there), "--other-column", "gauge_b", "--other-unit", "in"]
    assert main(words) == 0
    assert "gauge_b has 20 % less in all" in capsys.readouterr().out
    for option in ("--other-gauge", "--other-column"):  # the sample is nobody's first gauge
        assert main(["check-weather", option, str(there)]) == 1
        wanted = f"{option}: there is no first gauge to compare with; name its WEATHER file"
        assert wanted in " ".join(capsys.readouterr().err.split())


def test_a_year_off_by_inches_and_cm_is_pointed_out(weather, rain) -> None:
    longer = runoff.open_sample()
    assert next(one.found for one in runoff.check_weather(longer).checks if one.name == "jump in units") == "none"
    changed = longer.copy(deep=True)
    changed["rain"] = (
        changed["rain"]
        .where(changed["time"].dt.year != 2003, changed["rain"] * 2.54)
        .assign_attrs(longer["rain"].attrs)
    )
    found = next(one for one in runoff.check_weather(changed).checks if one.name == "jump in units")
    assert found.verdict == "look"
    assert found.found.startswith("wet days bring far from the usual in 2003 (2.")
