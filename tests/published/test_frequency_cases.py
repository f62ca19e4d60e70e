"""Frequency of rain and separation of events: Gumbel, plotting positions, partial duration, percentiles, volumes."""

import numpy as np
import pandas as pd
import xarray as xr

from runoff.storms.depth_duration import reduced_variate
from runoff.storms.event_separation import percentile_event, rain_events, water_quality_volume
from runoff.storms.extremes import ExtremeFit, fit_extremes
from runoff.storms.ranks import plotting_positions
from runoff.units import convert
from tests.published.cases import each_row, hold, numbers, read_cases


def rain_of(values, freq: str, units: str) -> xr.DataArray:
    times = pd.date_range("2001-05-01", periods=len(values), freq=freq)
    return xr.DataArray(np.asarray(values, float), {"time": times}, "time", name="rain", attrs={"units": units})


#: Mean of the samples that are fitted; their standard deviation is 1, so that ``x_T - mean`` is the frequency factor K.
MEAN = 10.0


def fit_of_a_sample(years: int | None) -> ExtremeFit:
    """Fit Gumbel to a sample of `years` values by the frequency factor of that size; None: by moments, any size."""
    values = np.linspace(-1.0, 1.0, years or 30)
    return fit_extremes(MEAN + values / values.std(ddof=1), method="frequency-factor" if years else "moments")


@each_row(read_cases("gumbel_frequency_factors.csv"))
def test_frequency_factor(row: dict) -> None:
    fit = fit_of_a_sample(int(row["years"]) if row["years"] else None)
    if row["quantity"] == "factor":
        hold(fit.return_level(float(row["return_period_years"])) - MEAN, row)
    elif row["quantity"].startswith("spread"):
        hold(1.0 / fit.scale, row)  # scale = standard deviation / spread of the variate
    else:
        hold((MEAN - fit.location) / fit.scale, row)  # location = mean - mean of the variate x scale


@each_row(read_cases("gumbel_levels.csv"))
def test_gumbel_by_moments(row: dict) -> None:
    fit = fit_of_a_sample(int(row["years"]) if row["years"] else None)
    mean, spread = float(row["mean"]), float(row["standard_deviation"])

    def level(period: float) -> float:
        return mean + (fit.return_level(period) - MEAN) * spread

    if row["quantity"] == "level":
        hold(level(float(row["return_period_years"])), row)
        return
    # location is the level of the reduced variate 0, scale the rise to the variate 1
    at_zero, at_one = (level(1.0 / (1.0 - np.exp(-np.exp(-y)))) for y in (0.0, 1.0))
    hold({"location": at_zero, "scale": at_one - at_zero, "1/scale": 1.0 / (at_one - at_zero)}[row["quantity"]], row)


@each_row(read_cases("plotting_positions.csv"))
def test_plotting_position(row: dict) -> None:
    hold(plotting_positions(int(row["count"]), row["position"])[int(row["rank"]) - 1], row)


def period_of(variate: float, series: str) -> float:
    """Return the return period with a reduced variate, found by halving: no inverse of the formula under test."""
    low, high = 1.0 + 1e-12 if series == "annual-maximum" else 1e-6, 1e6
    for _ in range(200):
        middle = (low * high) ** 0.5
        low, high = (middle, high) if reduced_variate(middle, series) < variate else (low, middle)
    return low


@each_row(read_cases("partial_duration.csv"))
def test_partial_duration(row: dict) -> None:
    # a level has one reduced variate, whichever series its return period is of
    if row["quantity"] == "events in 100 years":
        variate = reduced_variate(100.0 / float(row["annual_percent"]), "annual-maximum")
        hold(100.0 / period_of(variate, "partial-duration"), row)
    else:
        hold(period_of(reduced_variate(float(row["partial_years"]), "partial-duration"), "annual-maximum"), row)


@each_row(read_cases("percentile_events.csv"))
def test_percentile_event(row: dict) -> None:
    found = percentile_event(
        rain_of(numbers(row["daily_in"]), "D", "in"),
        float(row["percentile"]),
        keep_threshold_days=row["keep_threshold_days"] == "yes",
        definition=row["definition"],
    )
    hold(found.attrs["days_kept"] if row["quantity"] == "days kept" else convert(float(found), "mm", "in"), row)


@each_row(read_cases("event_gaps.csv"))
def test_minimum_gap(row: dict) -> None:
    wet = [hour in (0, 1, 2, *range(7, 13), 19, 25) for hour in range(26)]
    durations = rain_events(rain_of(wet, "h", "mm"), minimum_gap=f"{row['gap_h']}h")["duration"].values
    hold(durations.size if row["quantity"] == "events" else durations[int(row["number"]) - 1], row)


@each_row(read_cases("water_quality_volume.csv"))
def test_water_quality_volume(row: dict) -> None:
    depth, area = (
        convert(float(row["depth_in"]), "in", "mm"),
        43560.0 * float(row["area_acres"]) * convert(1.0, "ft2", "m2"),
    )
    volume = water_quality_volume(depth, impervious_fraction=float(row["impervious_percent"]) / 100.0, area_m2=area)
    if row["quantity"] == "coefficient":
        hold(volume / (depth / 1000.0 * area), row)
    else:
        hold(convert(volume, "m3", row["quantity"]), row)
