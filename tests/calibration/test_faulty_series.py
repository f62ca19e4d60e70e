"""Records with a scale error or a month missing: the fit names them, and does not average them away."""

import numpy as np
import pandas as pd
import pytest

import runoff
from runoff.calibration import fit_roof
from runoff.calibration.invented_monitoring import invented_observations


@pytest.fixture(scope="module")
def weather():
    return runoff.open_sample().sel(time=slice("2013", "2015"))


@pytest.fixture(scope="module")
def seen() -> pd.Series:
    return invented_observations(noise=0.0, lost_days=0)


def doubts(observed: pd.Series, weather) -> str:
    roof = runoff.open_sample_roof("cups")
    return " ".join(fit_roof(roof, weather, observed, parameters=["planting.crop_coefficient"]).doubts)


def test_a_sound_record_raises_neither(weather, seen) -> None:
    said = doubts(seen, weather)
    assert "the scale of the gauge, its unit" not in said
    assert "No reading at all" not in said


@pytest.mark.parametrize(
    ("factor", "way", "units"),
    [
        (10.0, "more", "cm and mm, or tenths, would give 10"),
        (0.1, "less", "cm and mm, or tenths, would give 10"),
        (1.0 / 25.4, "less", "in and mm, would give 25.4"),
        (2.54, "more", "in and cm, would give 2.54"),
        (1.0 / 2.54, "less", "in and cm, would give 2.54"),
    ],
)
def test_a_scale_error_is_named_with_its_factor(weather, seen, factor, way, units) -> None:
    said = doubts(seen * factor, weather)
    assert f" times {way} was measured (units mixed up, {units}): the scale of the gauge, its unit or" in said


def test_a_month_without_a_reading_is_named(weather, seen) -> None:
    lost = seen.copy()
    lost.loc["2014-06"] = np.nan
    assert doubts(lost, weather).count("No reading at all in 2014-06: seasons are weighed unevenly") == 1
    # rows that are not there at all are the same
    assert "No reading at all in 2014-06:" in doubts(lost.drop(lost.loc["2014-06"].index), weather)
