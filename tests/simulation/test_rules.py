"""The rules of a run: what is refused and in which words, and that every door takes the same ones."""

import math
from typing import Any

import pandas as pd
import pytest
import xarray as xr

import runoff
from runoff import RunoffError
from runoff.simulation import RuleWords, RunRules

KNOWN = "et_method, limits, snow, comparison, irrigation, warm_up_years"


@pytest.fixture(scope="module")
def weather() -> xr.Dataset:
    return runoff.open_sample().isel(time=slice(0, 400))


@pytest.fixture(scope="module")
def roof() -> runoff.Roof:
    return runoff.open_sample_roof("cups")


def message(make: Any) -> str:
    with pytest.raises(RunoffError) as caught:
        make()
    return str(caught.value)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (
            lambda: runoff.SnowRule(melt_mm_per_c_day=-1.0),
            "SnowRule: melt_mm_per_c_day must be at least 0 (you wrote -1)",
        ),
        (
            lambda: runoff.SnowRule(melt_mm_per_c_day=3000.0),
            "SnowRule: melt_mm_per_c_day must be at most 50 (you wrote 3000)",
        ),
        (
            lambda: runoff.SnowRule(snow_below_c=math.nan, melt_mm_per_c_day="3"),
            "SnowRule: snow_below_c must be a finite number (you wrote nan)\n"
            'SnowRule: melt_mm_per_c_day must be a number without quotes or unit (you wrote "3")',
        ),
        (
            lambda: runoff.SnowRule(melt_mm_per_c=2.0),
            'SnowRule: melt_mm_per_c is not a known key (did you mean "melt_mm_per_c_day"?)',
        ),
        (
            lambda: runoff.RootLimits(air_threshold=10.0, tolerance_days=math.inf, dry_share=True),
            "RootLimits: air_threshold must be less than 1 (you wrote 10); 10 % is written 0.1\n"
            "RootLimits: tolerance_days must be a finite number (you wrote inf)\n"
            "RootLimits: dry_share must be a number without quotes or unit (you wrote true)",
        ),
        (
            lambda: runoff.IrrigationRule(dose_mm=1e6, months=[]),
            "IrrigationRule: dose_mm must be at most 200 (you wrote 1000000)\n"
            "IrrigationRule: months are numbers 1-12, at least one (you wrote ())",
        ),
        (lambda: runoff.IrrigationRule(months=7), "IrrigationRule: months must be a list (you wrote 7)"),
    ],
)
def test_a_rule_nobody_can_follow_is_refused_in_a_sentence(make: Any, words: str) -> None:
    assert message(make) == words


def test_months_may_come_in_any_listing() -> None:
    assert runoff.IrrigationRule(months=range(5, 8)).months == runoff.IrrigationRule(months=[5, 6, 7]).months


def test_rules_of_the_wrong_kind_are_told_together(roof: runoff.Roof, weather: xr.Dataset) -> None:
    given: dict[str, Any] = {"snow": 3.0, "comparison": "membrane", "warm_up_years": -1, "et_method": 7}
    assert message(lambda: runoff.simulate(roof, weather, **given)) == (
        "simulate: et_method must be text in quotes (you wrote 7)\n"
        "simulate: snow must be a runoff.SnowRule(...) (you wrote 3)\n"
        'simulate: comparison must be a runoff.BareSurface(...) (you wrote "membrane")\n'
        "simulate: warm_up_years must be at least 0 (you wrote -1)"
    )


#: Every door that runs the balance, and its own keywords.
DOORS = {
    "simulate": (lambda r, w, **k: runoff.simulate(r, w, **k), "start_moisture, start_state, climate"),
    "sweep": (lambda r, w, **k: runoff.sweep(r, w, {"medium.depth_mm": [60]}, **k), "storm, drainage, progress"),
    "size": (
        lambda r, w, **k: runoff.size(r, w, {"retention": {"at_least": 0.5}}, {"medium.depth_mm": [60]}, **k),
        "prices, storm, drainage, ranges, members, seed, progress",
    ),
    "uncertainty": (
        lambda r, w, **k: runoff.uncertainty(r, w, **k),
        "ranges, members, resamples, block_years, seed, targets",
    ),
    "what_to_measure": (lambda r, w, **k: runoff.what_to_measure(r, w, **k), "figure, ranges, samples, seed"),
    "compare_climates": (lambda r, w, **k: runoff.compare_climates(r, {"here": w}, **k), ""),
    "irrigation_demand": (lambda r, w, **k: runoff.irrigation_demand(r, w, **k), "rule"),
    "fit_roof": (
        lambda r, w, **k: runoff.fit_roof(r, w, w["rain"].to_series(), **k),
        "parameters, measured, start, end, held_back, method, seed, own_rain",
    ),
    "stream": (
        lambda r, w, **k: runoff.stream(r, w, "nowhere.zarr", **k),
        "pieces, cells, variables, memory_mb, workers, progress, told, start_moisture, columns, units, trust_unit",
    ),
}


@pytest.mark.parametrize("door", DOORS)
def test_a_misspelt_rule_is_told_at_every_door(door: str, roof: runoff.Roof, weather: xr.Dataset) -> None:
    run, own = DOORS[door]
    known = f"{own}, {KNOWN}" if own else KNOWN
    found = message(lambda: run(roof, weather, et_metod="oudin"))  # type: ignore[no-untyped-call]
    assert found == f'{door}: et_metod is not known (did you mean "et_method"?); known: {known}'
    far = message(lambda: run(roof, weather, zzz=1))  # type: ignore[no-untyped-call]
    assert far == f"{door}: zzz is not known; known: {known}"


def test_rules_as_a_whole_are_those_given_one_by_one(roof: runoff.Roof, weather: xr.Dataset) -> None:
    snow, bare = runoff.SnowRule(melt_mm_per_c_day=1.0), runoff.BareSurface(kind="gravel")
    together = RunRules(snow=snow, comparison=bare, warm_up_years=0)
    one_by_one = runoff.simulate(roof, weather, snow=snow, comparison=bare, warm_up_years=0)
    xr.testing.assert_identical(runoff.simulate(roof, weather, rules=together), one_by_one)
    default = runoff.simulate(roof, weather, rules=together, snow=runoff.SnowRule(), comparison=runoff.BareSurface())
    xr.testing.assert_identical(default, runoff.simulate(roof, weather, warm_up_years=0))


def test_a_sweep_sees_the_rules_a_run_sees(roof: runoff.Roof, weather: xr.Dataset) -> None:
    rules = RunRules(
        snow=runoff.SnowRule(snow_below_c=3.0, melt_mm_per_c_day=1.0),
        limits=runoff.RootLimits(air_threshold=0.35, tolerance_days=1.0, warm_c=-10.0, dry_share=0.3),
        comparison=runoff.BareSurface(kind="gravel"),
        et_method="oudin",
        warm_up_years=0,
    )
    depth = roof.build_up.layer("medium").depth_mm
    swept = runoff.sweep(roof, weather, {"medium.depth_mm": [depth]}, rules=rules).isel(design=0)
    alone = runoff.summarize(runoff.simulate(roof, weather, rules=rules))
    plain = runoff.summarize(runoff.simulate(roof, weather, warm_up_years=0))
    for name in alone.data_vars:
        # sums of the same numbers in another order
        xr.testing.assert_allclose(swept[name].drop_vars(["design", "medium.depth_mm"]), alone[name], rtol=1e-12)
    for name in ("waterlogged_days", "dry_days", "bare_retention", "annual_evapotranspiration"):
        assert float(alone[name]) != float(plain[name]), f"the case is too mild: {name} does not feel the rules"


def test_watering_is_refused_where_only_sums_are_kept(roof: runoff.Roof, weather: xr.Dataset) -> None:
    found = message(lambda: runoff.sweep(roof, weather, {"medium.depth_mm": [60]}, irrigation=runoff.IrrigationRule()))
    assert found == "sweep: irrigation works in single runs; leave it out, or run simulate for each roof"


def test_the_keywords_are_the_fields() -> None:
    assert set(RuleWords.__annotations__) == set(RunRules.model_fields)


def _dry_year(**coords: object) -> xr.Dataset:
    time = pd.date_range("2001-01-01", "2001-12-31", freq="D")
    daily = xr.Dataset(coords={"time": time, **coords})
    daily["rain"] = xr.zeros_like(daily["time"], dtype=float).assign_attrs(units="mm")
    daily["reference_et"] = (daily["rain"] + 3.0).assign_attrs(units="mm")
    return daily


def _watered_months(run: xr.Dataset) -> set[int]:
    given = run["irrigation"]
    return set(given["time"].dt.month.to_numpy()[given.to_numpy() > 0.0].tolist())


@pytest.mark.parametrize(
    ("coords", "months", "words"),
    [
        ({"lat": 52.0}, {4, 5, 6, 7, 8, 9}, "in months 4, 5, 6, 7, 8, 9"),
        ({"lat": -33.9}, {10, 11, 12, 1, 2, 3}, "in months 10, 11, 12, 1, 2, 3"),
        ({}, {4, 5, 6, 7, 8, 9}, "(no latitude given: taken as northern)"),
    ],
)
def test_watering_follows_the_growing_season_of_the_hemisphere(
    roof: runoff.Roof, coords: dict, months: set[int], words: str
) -> None:
    # a year without rain: every month in which watering is allowed is watered in
    run = runoff.simulate(roof, _dry_year(**coords), irrigation=runoff.IrrigationRule(), start_moisture="dry")
    assert _watered_months(run) == months
    assert run.attrs["irrigation"].endswith(words)


def test_months_that_are_given_hold_on_either_side() -> None:
    rule = runoff.IrrigationRule(months=[6])
    assert rule.months_in(_dry_year(lat=-33.9)) == (6,)


def test_watering_on_both_sides_of_the_equator_asks_for_months() -> None:
    both = _dry_year(lat=("site", [-10.0, 10.0]))
    found = message(lambda: runoff.IrrigationRule().months_in(both))
    assert found.startswith("irrigation: the weather lies on both sides of the equator")


def test_snow_of_a_start_melts_on_the_first_day_where_no_temperature_is_known(roof: runoff.Roof) -> None:
    weather = _dry_year().isel(time=slice(0, 3))
    before = runoff.simulate(roof, weather, start_moisture="dry")
    lies = before.assign(snow_water=before["snow_water"] + 7.0)
    run = runoff.simulate(roof, weather, start_state=lies)
    assert run["liquid"].to_numpy().tolist() == [7.0, 0.0, 0.0]
    assert run["snow_water"].to_numpy().tolist() == [0.0, 0.0, 0.0]
