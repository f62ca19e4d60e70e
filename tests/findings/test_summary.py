"""Headline figures against a second reading in plain loops, and against numbers worked by hand."""

import math
from datetime import datetime, timedelta

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import runoff
from runoff.findings.events import event_starts
from runoff.findings.spells import running_spell
from runoff.findings.summary import summarize
from runoff.findings.yearly import to_days, yearly_totals, years_of_record

DAYS = 800  # from 1 March 2015: parts of three years, the middle one a leap year


def weather() -> xr.Dataset:
    rng = np.random.default_rng(11)
    rain = np.where(rng.random(DAYS) < 0.3, rng.gamma(0.7, 14.0, DAYS), 0.0)
    rain[rng.random(DAYS) < 0.1] = 0.4  # drizzle: rain, but no wet day
    season = np.cos(2 * np.pi * (np.arange(DAYS) + 59 - 200) / 365.0)
    data = {"rain": rain, "reference_et": 2.2 + 2.0 * season, "tmean": 9.0 + 11.0 * season}
    time = pd.date_range("2015-03-01", periods=DAYS, freq="1D")
    units = {"rain": "mm", "reference_et": "mm", "tmean": "degC"}
    return xr.Dataset({n: ("time", v, {"units": units[n]}) for n, v in data.items()}, coords={"time": time})


@pytest.fixture(scope="module")
def run() -> xr.Dataset:
    layers = [runoff.GrowingMedium(depth_mm=80.0), runoff.DrainageBoard(), runoff.ProtectionMat()]
    # hardly any way out: so that there are waterlogged days, and dry ones, and events of every kind
    roof = runoff.Roof(
        build_up=runoff.BuildUp(layers=layers), area_m2=150.0, planted_fraction=0.8, blocked_fraction=0.9997
    )
    return runoff.simulate(roof, weather(), warm_up_years=0, comparison=runoff.BareSurface(kind="gravel"))


@pytest.fixture(scope="module")
def second(run: xr.Dataset) -> dict[str, float]:
    """Every figure again, day by day, in plain Python: from what the words of the figures say."""
    rows = {name: run[name].to_numpy() for name in run if run[name].dims == ("time",)}
    one = {name: float(run[name]) for name in run if run[name].dims == ()}
    start = datetime(2015, 3, 1)
    years = sum(1 / (366 if (start + timedelta(days=d)).year == 2016 else 365) for d in range(DAYS))
    wet = dry = longest_wet = longest_dry = wet_days = rot = dry_days = drought = 0
    excess = 0.0
    mat_supply = runoff.ProtectionMat().mat_supply_fraction
    for d in range(DAYS):
        usable = rows["held_water"][d] - one["wilting_water"] + one["cup_supply"] * rows["cup_water"][d]
        usable += mat_supply * rows["mat_water"][d]  # the roof has no mulch
        wet = wet + 1 if rows["waterlogged"][d] else 0
        dry = dry + 1 if usable < 0.1 * (one["field_water"] - one["wilting_water"]) - 1e-9 else 0
        drought += dry > 28  # 80 mm deep
        wet_days, dry_days = wet_days + (wet > 0), dry_days + (dry > 0)
        rot += wet > 2 and rows["tmean"][d] >= 5.0
        longest_wet, longest_dry = max(longest_wet, wet), max(longest_dry, dry)
        excess += max(0.0, rows["medium_water"][d] - one["field_water"])
    first = [d for d in range(DAYS) if rows["rain"][d] >= 1.0 and (d == 0 or rows["rain"][d - 1] < 1.0)]
    spans = [range(a, b) for a, b in zip(first, [*first[1:], DAYS], strict=True)]
    # at or below 1 C rain is snow; an event without a drop of rain is no rain event
    spans = [span for span in spans if any(rows["rain"][d] > 0 and rows["tmean"][d] > 1.0 for d in span)]
    found = {
        "years": years, "annual_rain": rows["rain"].sum() / years, "events": len(spans),
        "waterlogged_days": wet_days / years, "rot_risk_days": rot / years, "dry_days": dry_days / years,
        "longest_waterlogged_spell": longest_wet, "longest_dry_spell": longest_dry, "excess_water": excess / years,
        "drought_risk_days": drought / years, "waterlogged_area_days": rows["waterlogged_share"].sum() / years,
        "events_per_year": len(spans) / years,
    }  # fmt: skip
    for prefix in ("", "bare_"):
        over, et = rows[f"{prefix}overflow"], rows[f"{prefix}evapotranspiration"]
        whole = rows["bare_overflow"] if prefix else 0.8 * over + 0.2 * rows["other_overflow"]
        held = sum(math.fsum(over[d] for d in span) < 0.05 * math.fsum(rows["rain"][d] for d in span) for span in spans)
        kept = rows["rain"].sum() - over.sum()
        found |= {
            f"{prefix}annual_overflow": over.sum() / years, f"{prefix}annual_evapotranspiration": et.sum() / years,
            f"{prefix}retention": kept / rows["rain"].sum(), f"{prefix}annual_capture_mm": kept / years,
            f"{prefix}annual_capture_m3": (rows["rain"].sum() - whole.sum()) / years * 150.0 / 1000.0,
            f"{prefix}events_held": held / len(spans), f"{prefix}events_held_per_year": held / years,
            f"{prefix}peak_overflow": over.max(),
            f"{prefix}peak_discharge": whole.max() * 150.0 / 86400.0,
        }  # fmt: skip
    return found


def test_every_figure_equals_the_second_reading(run: xr.Dataset, second: dict[str, float]) -> None:
    facts = summarize(run)
    assert second["rot_risk_days"] > 0 and second["dry_days"] > 0  # or the test would show nothing
    assert 0 < second["events_held"] < 1 and 0 < second["bare_events_held"] < 1
    for name, value in second.items():
        if name == "events":
            continue
        # the same sums in another order
        assert float(facts[name]) == pytest.approx(value, rel=1e-12, abs=1e-9), name


def test_retention_by_month_is_that_of_the_month_in_all_years(run: xr.Dataset) -> None:
    by_month = summarize(run)["retention_by_month"]
    month = run["time"].dt.month.to_numpy()
    for number in range(1, 13):
        mine = month == number
        expected = 1.0 - run["overflow"].to_numpy()[mine].sum() / run["rain"].to_numpy()[mine].sum()
        assert float(by_month.sel(month=number)) == pytest.approx(expected, abs=1e-12)


def test_years_are_kept_apart(run: xr.Dataset, second: dict[str, float]) -> None:
    totals = yearly_totals(run)
    assert list(totals["year"].to_numpy()) == [2015, 2016, 2017]
    assert float(totals["rain"].sel(year=2016)) == pytest.approx(float(run["rain"].sel(time="2016").sum()))
    assert float(totals["peak_overflow"].sel(year=2017)) == float(run["overflow"].sel(time="2017").max())
    assert float(totals["events"].sum()) == second["events"]


@pytest.mark.parametrize(("tolerance", "warm"), [(0.0, -50.0), (2.0, 5.0), (5.0, 15.0)])
def test_rot_risk_follows_its_tolerance_and_warmth(run: xr.Dataset, tolerance: float, warm: float) -> None:
    wet, tmean = run["waterlogged"].to_numpy(), run["tmean"].to_numpy()
    spell, risk = 0, 0
    for d in range(DAYS):
        spell = spell + 1 if wet[d] else 0
        risk += spell > tolerance and tmean[d] >= warm
    facts = summarize(run, tolerance_days=tolerance, warm_c=warm)
    assert float(facts["rot_risk_days"] * facts["years"]) == pytest.approx(risk, abs=1e-9)


def test_figures_of_one_roof_are_those_of_any_run_whatever_it_is_kept_in(run: xr.Dataset) -> None:
    """One roof in memory is worked on without names: on disk, and along a dimension of one site, the figures are the same."""
    facts, totals = summarize(run), yearly_totals(run)
    for other in (run.chunk(), run.expand_dims("site", axis=0)):
        xr.testing.assert_equal(summarize(other).squeeze(drop=True), facts)
        xr.testing.assert_equal(yearly_totals(other).squeeze(drop=True), totals)


def on_days(values: list, start: str = "2001-01-01") -> xr.DataArray:
    return xr.DataArray(values, dims="time", coords={"time": pd.date_range(start, periods=len(values), freq="1D")})


def test_a_spell_counts_on_and_starts_anew() -> None:
    assert list(running_spell(on_days([True, True, False, True, False, False, True, True, True]))) == [
        1, 2, 0, 1, 0, 0, 1, 2, 3,
    ]  # fmt: skip


def test_an_event_begins_on_the_first_wet_day_at_or_over_the_limit() -> None:
    # 1.0 mm is a wet day, 0.99 is none
    rain = on_days([1.0, 5.0, 0.99, 0.0, 1.0, 0.5, 2.0])
    assert list(event_starts(rain.to_numpy())) == [True, False, False, False, True, False, True]


@pytest.mark.parametrize(
    ("calendar", "first", "days", "expected"),
    [
        ("standard", "2000-01-01", 366, 1.0),  # divisible by 400: a leap year
        ("standard", "1900-01-01", 365, 1.0),  # divisible by 100 alone: none
        ("standard", "2004-01-01", 183, 0.5),
        ("standard", "2003-12-31", 2, 1 / 365 + 1 / 366),
        ("noleap", "2004-01-01", 365, 1.0),
        ("all_leap", "2003-01-01", 366, 1.0),
        ("360_day", "2003-01-01", 90, 0.25),
    ],
)
def test_length_of_a_record_follows_its_calendar(calendar: str, first: str, days: int, expected: float) -> None:
    time = xr.date_range(first, periods=days, freq="1D", calendar=calendar, use_cftime=calendar != "standard")
    assert years_of_record(xr.DataArray(time, dims="time", coords={"time": time})) == pytest.approx(expected, rel=1e-12)


def test_hours_become_days() -> None:
    time = pd.date_range("2001-07-01", periods=48, freq="1h")
    half = np.arange(48) % 24 < 12  # 12 of 24 hours: counts
    less = np.arange(48) % 24 < 11
    flux = np.arange(48.0)
    names = ("rain", "overflow", "evapotranspiration", "roof_overflow", "bare_overflow", "bare_evapotranspiration",
             "medium_water", "cup_water", "tmean")  # fmt: skip
    run = xr.Dataset({name: ("time", flux) for name in names}, coords={"time": time})
    for name in ("field_water", "wilting_water", "cup_capacity", "cup_supply"):
        run[name] = 1.0
    for flags, expected in ((half, True), (less, False)):
        days = to_days(run.assign(waterlogged=("time", flags)))
        assert list(days["waterlogged"]) == [expected, expected]
    # sums of 0..23 and 24..47; the last hour of the store; the mean of the temperature
    assert list(days["rain"]) == [276.0, 852.0]
    assert list(days["medium_water"]) == [23.0, 47.0]
    assert list(days["tmean"]) == [11.5, 35.5]
    assert to_days(days) is days


def test_limits_are_met_at_their_value(run: xr.Dataset) -> None:
    # five degrees exactly is warm enough, and two days are tolerated when nothing is said
    at_limit = summarize(run.assign(tmean=xr.full_like(run["tmean"], 5.0)))
    spell, expected = 0, 0
    for wet in run["waterlogged"].to_numpy():
        spell = spell + 1 if wet else 0
        expected += spell > 2
    assert float(at_limit["rot_risk_days"] * at_limit["years"]) == pytest.approx(expected, abs=1e-9)
    assert float(yearly_totals(run.drop_vars("tmean"))["rot_risk_days"].sum()) == expected


def test_a_month_without_rain_has_no_retention_even_when_water_still_leaves(run: xr.Dataset) -> None:
    july = run["time"].dt.month == 7
    dry = run.assign(rain=run["rain"].where(~july, 0.0), overflow=run["overflow"].where(~july, 1.0))
    assert np.isnan(float(summarize(dry)["retention_by_month"].sel(month=7)))


def test_a_month_of_little_rain_has_a_retention(run: xr.Dataset) -> None:
    """By hand: in all Julys together 0.5 mm fall on one day and 0.1 mm leave, so 80 % are kept."""
    july = run["time"].dt.month == 7
    first = july & (july.cumsum() == 1)
    little = run.assign(
        rain=run["rain"].where(~july, 0.0).where(~first, 0.5),
        overflow=run["overflow"].where(~july, 0.0).where(~first, 0.1),
    )
    for one in (little, little.chunk()):
        assert float(summarize(one)["retention_by_month"].sel(month=7)) == pytest.approx(0.8, abs=1e-12)


def test_a_single_event_is_all_events(run: xr.Dataset) -> None:
    five = run.isel(time=slice(0, 5))
    five = five.assign(tmean=xr.full_like(five["tmean"], 10.0))  # as snow it would be no rain event
    rain = xr.DataArray([0.0, 6.0, 0.0, 0.0, 0.0], dims="time", coords={"time": five["time"]})
    for overflow, held in ((0.0, 1.0), (0.05, 1.0), (0.1, 0.0)):  # 0.05 a day: 0.2 mm of 6; 0.1: 0.4 mm, over 5 %
        facts = summarize(five.assign(rain=rain, overflow=xr.full_like(rain, overflow)))
        assert float(facts["events_held"]) == held
    none = summarize(five.assign(rain=xr.zeros_like(rain)))
    assert np.isnan(float(none["events_held"])) and np.isnan(float(none["retention"]))


def test_two_halves_of_a_day_are_a_day() -> None:
    time = pd.date_range("2001-07-01", periods=2, freq="12h")
    names = ("rain", "overflow", "evapotranspiration", "roof_overflow", "bare_overflow", "bare_evapotranspiration",
             "medium_water", "cup_water")  # fmt: skip
    run = xr.Dataset({name: ("time", [1.0, 2.0]) for name in names}, coords={"time": time})
    run = run.assign({name: 1.0 for name in ("field_water", "wilting_water", "cup_capacity", "cup_supply")})
    days = to_days(run.assign(waterlogged=("time", [True, False])))
    assert list(days["rain"]) == [3.0] and list(days["waterlogged"]) == [True]
