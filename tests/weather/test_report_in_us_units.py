"""The weather report in US customary units: no amount in mm or degC is left, and the numbers are right."""

import re
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import runoff
from runoff.cli.entry import main
from runoff.saying.sentences import in_us_units

# an amount in SI; a unit in quotation marks is one to be typed
SI = re.compile(r'(?<!["\d.])\d[\d.,]* ?(mm|degC)\b')
DAYS = pd.date_range("2001-01-01", "2012-12-31")


def record(**changes: float) -> xr.Dataset:
    """Return an invented record of twelve years with some values changed, by the number of the day."""
    rng = np.random.default_rng(3)
    season = np.cos(2 * np.pi * (DAYS.day_of_year.to_numpy() - 200) / 365)
    weather = xr.Dataset(
        {
            "rain": ("time", np.round(rng.gamma(0.3, 9.0, DAYS.size), 1), {"units": "mm"}),
            "tmin": ("time", 5.0 + 9.0 * season, {"units": "degC"}),
            "tmax": ("time", 13.0 + 11.0 * season, {"units": "degC"}),
        },
        coords={"time": DAYS, "lat": 45.0},
    )
    for name, value in changes.items():
        quantity, _, day = name.partition("_")
        weather[quantity].values[int(day) : int(day) + 6] = value
    return weather


@pytest.mark.parametrize(
    ("weather", "words"),
    [
        (record(), "in a year"),
        (record(rain_900=612.0), "24.1 in in 1 day"),  # 612 / 25.4 = 24.09
        (record(rain_900=12.7), "0.50 in on 6 days running"),
        (record(tmin_40=20.0), "(68.0 and"),  # 20 x 1.8 + 32
        (record().assign_attrs(gathered="2003-05-04 3 25.4"), "first 1.00 in over 3 days"),
        (record().assign(rain=record()["rain"] * 20.0), "in a year: more than the"),
        (record().assign(rain=record()["rain"] / 25.4), "inches, cm or m read as mm"),
    ],
)
def test_no_si_unit_is_left(weather: xr.Dataset, words: str) -> None:
    said = str(runoff.check_weather(weather, units="us"))
    assert words in said
    assert not SI.search(said), SI.search(said)
    assert SI.search(str(runoff.check_weather(weather)))


def test_two_gauges() -> None:
    other = record(rain_900=90.0, rain_2000=80.0)
    said = str(runoff.check_weather(record(), other=other, units="us"))
    assert not SI.search(said), SI.search(said)


def test_differences_of_temperature_have_no_zero_point() -> None:
    # 5 x 1.8 = 9; a temperature of 5 degC is 41 degF
    assert in_us_units("5 degC warmer than usual, 5 degC at night") == "9 degF warmer than usual, 41 degF at night"


def test_years_are_in_inches(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check-weather", "--units", "us"]) == 0
    said = capsys.readouterr().out
    assert not SI.search(said) and "Rain of the years, in;" in said
    assert main(["check-weather"]) == 0
    si = capsys.readouterr().out
    totals = [re.findall(r"\d+(?:\.\d)?", text[text.index("2010-2019") :].splitlines()[0])[2:] for text in (said, si)]
    # both are rounded: by 0.05 in, and by half a millimetre
    assert [float(one) for one in totals[0]] == pytest.approx([float(one) / 25.4 for one in totals[1]], abs=0.0701)


def test_a_file_that_is_not_understood(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "odd.csv"
    rain = record()["rain"].to_numpy()
    lines = (f"{day:%d.%m.%Y};{one}" for day, one in zip(DAYS, rain, strict=True))
    file.write_text("when;what\n" + "\n".join(lines), encoding="utf-8")
    assert main(["check-weather", str(file), "--latitude", "45", "--units", "us"]) == 1
    said = capsys.readouterr().err
    assert "It can probably be read so" in said and not SI.search(said), said


def test_only_two_systems() -> None:
    with pytest.raises(runoff.RunoffError, match=r'^units must be "si" or "us" \(given "uk"\)$'):
        runoff.check_weather(record(), units="uk")
