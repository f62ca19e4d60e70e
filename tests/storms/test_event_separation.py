"""Rain events, wet-day runs, percentile events and water-quality volume."""

import re
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from hypothesis import given
from hypothesis import strategies as st

from runoff.errors import WeatherError
from runoff.storms.event_separation import (
    percentile_event,
    rain_events,
    water_quality_volume,
    wet_day_runs,
)

ACRE_M2 = 4046.8564224  # international acre, exact
FT3_M3 = 0.3048**3


def rain_of(values, *, freq: str = "h", units: str = "mm") -> xr.DataArray:
    times = pd.date_range("2001-05-01", periods=len(values), freq=freq)
    return xr.DataArray(
        np.asarray(values, float), dims="time", coords={"time": times}, name="rain", attrs={"units": units}
    )


def hourly_case() -> xr.DataArray:
    """Wet in hours 0-2, 7-12, 19 and 25: dry gaps of 4, 6 and 5 hours."""
    values = np.zeros(32)
    values[[0, 1, 2, *range(7, 13), 19, 25]] = 1.5
    return rain_of(values)


def test_event_columns_by_hand() -> None:
    events = rain_events(rain_of([0, 2, 6, 0, 0, 0, 1, 0], freq="30min"), minimum_gap="1h")
    assert events["start"].values[0] == np.datetime64("2001-05-01T00:30")
    assert events["end"].values[0] == np.datetime64("2001-05-01T01:30")
    assert events["depth"].values == pytest.approx([8.0, 1.0])
    assert events["peak_intensity"].values == pytest.approx([12.0, 2.0])  # 6 mm and 1 mm in half an hour
    assert np.isnan(events["dry_before"].values[0])
    assert events["dry_before"].values[1] == pytest.approx(1.5)
    assert events["is_complete"].all()
    assert events.attrs["minimum_gap"] == "1 h"


def test_a_gap_of_exactly_the_minimum_splits() -> None:
    gaps = {
        length: rain_events(rain_of([1, *[0] * length, 1]), minimum_gap="6h").sizes["event"] for length in (5, 6, 7)
    }
    assert gaps == {5: 1, 6: 2, 7: 2}


def test_wet_threshold_side() -> None:
    rain = rain_of([0.2, 0.3, 0.2])
    assert rain_events(rain, wet_above_mm=0.2)["duration"].values.tolist() == [1.0]
    assert rain_events(rain)["duration"].values.tolist() == [3.0]


@given(st.lists(st.sampled_from([0.0, 0.0, 0.0, 0.2, 3.0]), min_size=2, max_size=200), st.integers(1, 12))
def test_events_keep_every_drop_and_every_gap(values: list[float], gap: int) -> None:
    if sum(values) == 0.0:
        values[0] = 1.0
    events = rain_events(rain_of(values), minimum_gap=f"{gap}h")
    assert float(events["depth"].sum()) == pytest.approx(sum(values))
    assert (events["dry_before"].values[1:] >= gap).all()
    finer = rain_events(rain_of(values), minimum_gap="1h").sizes["event"]
    assert events.sizes["event"] <= finer


def test_missing_rain_is_never_a_dry_gap() -> None:
    values = np.zeros(40)
    values[[0, 3, 30]] = 2.0
    values[5] = np.nan
    rain = rain_of(values)
    message = (
        "rain_events: 1 of 40 steps are missing, the first at 2001-05-01T05:00:00.000000000; missing rain is not dry "
        'weather: fill them, or pass missing="split"'
    )
    with pytest.raises(WeatherError, match=re.escape(message).replace(r"\.000000000", r"(\.0+)?")):
        rain_events(rain)
    events = rain_events(rain, missing="split")
    assert events["is_complete"].values.tolist() == [False, True]
    assert np.isnan(
        events["dry_before"].values[1]
    )  # the gap holds a missing hour, so its length as dry time is unknown
    assert events.attrs["missing"] == "1 of 40 steps; split"


def test_missing_stretch_ends_an_event() -> None:
    events = rain_events(rain_of([1, 1, np.nan, 1, 0, 0, 0, 0, 0, 0]), missing="split")
    assert events["depth"].values.tolist() == [2.0, 1.0]
    assert not events["is_complete"].any()


@pytest.mark.real_weather
def test_vlissingen_storm_of_june_2020(shared_data: Path) -> None:
    # README of the data folder: largest hour 51.3 mm (14:00 to 15:00), largest day 78.0 mm, 2020-06-17
    frame = pd.read_csv(shared_data / "subdaily/vlissingen_prec_hourly.csv.gz")
    stamps = pd.to_datetime(frame.iloc[:, 0]) - pd.Timedelta("1h")
    rain = rain_of(frame.iloc[:, 1].to_numpy() * 1000.0).assign_coords(time=stamps.to_numpy())
    events = rain_events(rain, minimum_gap="6h")
    assert float(events["depth"].sum()) == pytest.approx(float(rain.sum()))
    largest = events.isel(event=int(events["depth"].argmax("event")))
    # summed by hand from the file: 78.0 mm on the 17th and 22.1 mm in the first five hours of the 18th, 16 h in all
    assert largest["start"].values == np.datetime64("2020-06-17T13:00")
    assert float(largest["depth"]) == pytest.approx(100.1)
    assert float(largest["duration"]) == 16.0
    assert float(largest["peak_intensity"]) == pytest.approx(51.3)
    counts = [rain_events(rain, minimum_gap=gap).sizes["event"] for gap in ("2h", "6h", "12h", "24h")]
    assert (np.diff(counts) < 0).all()
    # independent estimate: a maritime station has about 100 to 200 separate rains a year
    assert 100 < counts[1] / 4 < 250


def test_wet_day_runs_by_hand() -> None:
    runs = wet_day_runs(rain_of([0, 1.0, 4, 0.9, 7, np.nan, 2, 0], freq="D"))
    assert runs["days"].values.tolist() == [2, 1, 1]
    assert runs["depth"].values.tolist() == [5.0, 7.0, 2.0]
    assert runs["is_complete"].values.tolist() == [True, False, False]
    assert runs.attrs["missing_days"] == 1


def test_percentile_event_prints_its_rule() -> None:
    rain = rain_of([0, 2.54, 5, 10, np.nan], freq="D")
    found = percentile_event(rain, 95)
    assert found.attrs["threshold"] == "days of 2.54 mm or less left out"
    assert found.attrs["definition"] == "linear"
    assert (found.attrs["days_kept"], found.attrs["days_dropped"], found.attrs["days_missing"]) == (2, 2, 1)
    assert percentile_event(rain, 95, keep_threshold_days=True).attrs["threshold"] == "days under 2.54 mm left out"


DAILY = rain_of([0.0, 3, 5, 0], freq="D")


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (
            lambda: rain_events(DAILY),
            "rain_events: the record has steps of 24 h and cannot resolve a dry gap of 6 h; use wet_day_runs",
        ),
        (
            lambda: rain_events(hourly_case(), minimum_gap="90min"),
            "rain_events: minimum_gap 1.5 h is not a whole number of steps of 1 h",
        ),
        (
            lambda: rain_events(rain_of([0.0, 0.0])),
            "rain_events: no step holds more than 0 mm; the record has no rain",
        ),
        (
            lambda: rain_events(hourly_case(), missing="skip"),
            'rain_events: missing "skip" is not known; known: refuse, split',
        ),
        (
            lambda: wet_day_runs(hourly_case()),
            "wet_day_runs: the record has steps of 1 h, daily values are needed; use rain_events, which cuts",
        ),
        (lambda: wet_day_runs(DAILY, wet_from_mm=9), "wet_day_runs: no day reaches 9 mm"),
        (
            lambda: percentile_event(hourly_case()),
            "percentile_event: the record has steps of 1 h, daily values are needed; sum it to days first",
        ),
        (
            lambda: percentile_event(DAILY, 0.95, threshold_mm=9),
            "percentile_event: no day of the record passes the",
        ),
        (
            lambda: percentile_event(DAILY, 195),
            "percentile_event: percentile 195 must lie between 0 and 100, for example 95",
        ),
        (
            lambda: percentile_event(DAILY, definition="weibul"),
            'percentile_event: definition "weibul" is not known (did you mean "weibull"?); known: linear, weibull',
        ),
        (
            lambda: water_quality_volume(25.4, impervious_fraction=95, area_m2=100),
            "water_quality_volume: impervious_fraction 95 must lie between 0 and 1",
        ),
        (
            lambda: water_quality_volume(25.4, impervious_fraction=1, area_m2=0),
            "water_quality_volume: depth_mm 25.4 and area_m2 0 must be positive",
        ),
    ],
)
def test_messages(call, message: str) -> None:
    with pytest.raises(WeatherError, match=re.escape(message)):
        call()
