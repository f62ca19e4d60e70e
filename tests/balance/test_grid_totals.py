"""Cells of a grid side by side: every lane gives the bits of the column of one roof under its own weather."""

import itertools
from collections.abc import Callable

import numpy as np
import pytest

from runoff.balance import cells, column, grid_lanes, surfaces
from runoff.balance.block_lanes import LANES
from runoff.balance.grid_totals import GridRules, GridTotals, GridWeather
from runoff.weather.evaporation.formulas import LATENT_HEAT_MJ_PER_KG, hargreaves_samani_1985
from tests.balance.invented_roofs import (
    DEMAND_AFTER_IT,
    DRY_AFTER_IT,
    RAIN_THEN_NONE,
    SOAKED_THEN_DRY,
    described,
    weather,
)

DAYS, CELLS = 800, LANES + 5  # more than six tiles, more than a block
RULES = GridRules(1.0, 3.0, 5.0, 2.0, 1.0, 0.05, 1.2, 5.0)
ROOFS = {
    "free": described(),
    "blocked": described(blocked_fraction=1.0, sill_level=105.0, planted_fraction=0.7),
    "slow fleece": described(fleece_rate=0.1),
    "throttled": described(outlet_rate=0.08, sill_level=110.0, fleece_rate=0.3),
}
_MONTH = (np.arange(DAYS) // 30) % 12


def grid() -> dict[str, np.ndarray]:
    """Return invented weather of every cell, shape (time, cell), with frost and snow, and radiation by row and cell."""
    cells = [weather(seed, DAYS, wet=0.6 + 0.015 * seed) for seed in range(CELLS)]
    rain, _, mean = (np.array([one[k] for one in cells]).T.copy() for k in range(3))
    spread = np.random.default_rng(9).uniform(2.0, 14.0, mean.shape)
    sun = 5.0 + 30.0 * np.random.default_rng(3).random((12, CELLS))
    return {"rain": rain, "low": mean - spread / 2, "high": mean + spread / 2, "sun": sun}


def under_one_sky(given: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    """Return the weather with rain in no cell while there is none in the first: over half the days are dry in every lane."""
    return given | {"rain": np.where(given["rain"][:, :1] > 0.0, given["rain"], 0.0)}


def stretch(given: dict[str, np.ndarray], days: slice) -> GridWeather:
    series = {name: given[name][days] for name in ("rain", "low", "high")}
    return GridWeather(
        **series, mean=None, month=_MONTH[days], sun=given["sun"] / LATENT_HEAT_MJ_PER_KG, sun_row=_MONTH[days]
    )


def totals_of(roof: dict, given: dict[str, np.ndarray]) -> GridTotals:
    """Return the totals of a roof on the cells of a grid, at field capacity before the first day."""
    par = column.parameter_array([roof])
    totals = GridTotals(par[:, 0], column.start_stores(par, "field-capacity")[:, 0], given["rain"].shape[1], RULES)
    totals.begin_record(int(_MONTH[0]))
    return totals


def run(roof: dict, given: dict[str, np.ndarray], cuts: list[int]) -> GridTotals:
    totals = totals_of(roof, given)
    for first, last in itertools.pairwise(cuts):
        totals.advance(stretch(given, slice(first, last)))
    return totals


def alone(roof: dict, given: dict[str, np.ndarray], cell: int) -> tuple[np.ndarray, dict[str, np.ndarray]]:
    """Run one cell by the loops of single roofs; return the last stores and the series."""
    par = column.parameter_array([roof])
    rain, low, high = (given[name][:, cell].astype(float) for name in ("rain", "low", "high"))
    mean = (low + high) / 2.0
    e0 = hargreaves_samani_1985(low, high, given["sun"][_MONTH, cell])
    liquid, snow = surfaces.snow_and_melt(
        rain[None], mean[None], threshold=RULES.snow_below_c, melt_per_step=RULES.melt_mm_per_c, snow=np.zeros(1)
    )
    drawn = surfaces.evaporation_demand(e0[None], snow, mean[None])
    beside = {
        name: surfaces.depression_store(liquid, drawn, capacity=np.array([capacity]), water=np.zeros(1))[0][0]
        for name, capacity in (("bare", RULES.bare_capacity), ("other", RULES.other_capacity))
    }
    out = np.empty((len(column.TRACE), DAYS))
    last = cells.run_trace(liquid[0], drawn[0], None, par[:, 0], column.start_stores(par, "field-capacity")[:, 0], out)
    return last, {**dict(zip(column.TRACE, out, strict=True)), **beside, "rain": rain, "mean": mean, "snow": snow[0]}


def test_reference_from_range_is_the_formula_of_the_weather_room() -> None:
    rng = np.random.default_rng(1)
    low, high, sun = rng.uniform(-20, 20, 200), rng.uniform(-19, 30, 200), rng.uniform(0, 42, 200)
    lanes = [grid_lanes.reference_from_range(*one) for one in zip(low, high, sun / LATENT_HEAT_MJ_PER_KG, strict=True)]
    np.testing.assert_array_equal(lanes, hargreaves_samani_1985(low, high, sun))


@pytest.mark.parametrize("sky", [dict, under_one_sky])
@pytest.mark.parametrize("name", ROOFS)
def test_stores_have_the_bits_of_the_scalar_step(name: str, sky: Callable[..., dict[str, np.ndarray]]) -> None:
    given = sky(grid())
    totals = run(ROOFS[name], given, [0, DAYS])
    rows = {store: totals.row(store) for store in (*column.STORES, "snow")}
    for cell in (0, 5, LANES - 1, LANES, CELLS - 1):
        last, series = alone(ROOFS[name], given, cell)
        assert [rows[store][cell] for store in column.STORES] == list(last)
        assert rows["snow"][cell] == series["snow"][-1]


@pytest.mark.parametrize("sky", [dict, under_one_sky])
@pytest.mark.parametrize("name", ROOFS)
def test_sums_are_those_of_the_series(name: str, sky: Callable[..., dict[str, np.ndarray]]) -> None:
    given = sky(grid())
    made = run(ROOFS[name], given, [0, DAYS]).sums()
    limits = column.parameter_array([ROOFS[name]])[[column.PARAMETERS.index("drought_days")], 0]
    planted = ROOFS[name]["planted_fraction"]
    for cell in (0, 31, 36):
        _, s = alone(ROOFS[name], given, cell)
        overflow = s["drained"] + s["spilled"]
        roof = planted * overflow + (1.0 - planted) * s["other"]
        wet, dry = _running(s["waterlogged"]), _running(s["dry"])
        expected = {
            "rain": s["rain"].sum(),
            "overflow": overflow.sum(),
            "evapotranspiration": s["evapotranspiration"].sum(),
            "roof_overflow": roof.sum(),
            "bare_overflow": s["bare"].sum(),
            "peak_overflow": overflow.max(),
            "peak_roof_overflow": roof.max(),
            "bare_peak_overflow": s["bare"].max(),
            "waterlogged_days": s["waterlogged"].sum(),
            "waterlogged_area_days": s["waterlogged_share"].sum(),
            "rot_risk_days": ((wet > RULES.tolerance_days) & (s["mean"] >= RULES.warm_c)).sum(),
            "longest_waterlogged_spell": wet.max(),
            "dry_days": s["dry"].sum(),
            "drought_risk_days": (dry > limits).sum(),
            "longest_dry_spell": dry.max(),
        }
        expected |= _events(s, overflow)
        for figure, value in expected.items():  # sums are added up in another order: some 1e-13 of their size
            assert made[figure][cell] == pytest.approx(value, rel=1e-11, abs=1e-9), figure
        for figure, series in (("rain", s["rain"]), ("overflow", overflow), ("bare_overflow", s["bare"])):
            of_months = [series[month == _MONTH].sum() for month in range(12)]
            np.testing.assert_allclose(made[f"{figure}_by_month"][cell], of_months, rtol=1e-10, atol=1e-9)
    if name == "blocked" and sky is dict:
        assert made["rot_risk_days"].min() > 0  # the roofs are such that every count is put to the test
    if name == "free" and sky is dict:
        assert made["drought_risk_days"].max() > 0 and made["events_held"].min() > 0


def _running(flags: np.ndarray) -> np.ndarray:
    count, out = 0, []
    for flag in flags:
        count = count + 1 if flag else 0
        out.append(count)
    return np.array(out)


def _events(s: dict[str, np.ndarray], overflow: np.ndarray) -> dict[str, int]:
    """Count rain events by walking through the days: each from its first wet day to the day before the next."""
    wet = s["rain"] >= RULES.wet_day_mm
    starts = [t for t in range(DAYS) if wet[t] and not (t and wet[t - 1])]
    ends = [*starts[1:], DAYS]
    events = held = bare_held = 0
    for first, last in zip(starts, ends, strict=True):
        days = slice(first, last)
        if s["rain"][days][s["mean"][days] > RULES.snow_below_c].sum() > 0:
            limit = RULES.held_share * s["rain"][days].sum()
            events, held = events + 1, held + (overflow[days].sum() < limit)
            bare_held += s["bare"][days].sum() < limit
    return {"events": events, "events_held": held, "bare_events_held": bare_held}


def test_cuts_along_time_neighbours_and_layout_change_no_bit() -> None:
    given = grid()
    whole = run(ROOFS["throttled"], given, [0, DAYS]).sums()
    pieces = run(ROOFS["throttled"], given, [0, 1, 100, 333, 640, DAYS]).sums()
    cells = np.random.default_rng(2).permutation(CELLS)
    moved = {name: np.asfortranarray(values[:, cells]) for name, values in given.items()}
    shuffled = run(ROOFS["throttled"], moved, [0, DAYS]).sums()
    for name, values in whole.items():
        np.testing.assert_array_equal(pieces[name], values, err_msg=name)
        np.testing.assert_array_equal(shuffled[name], values[cells], err_msg=name)


def test_single_precision_is_read_as_it_is_stored_in_either_layout() -> None:
    given = grid()
    single = {name: given[name].astype("f4") for name in ("rain", "low", "high")}
    widened = {name: values.astype(float) for name, values in single.items()} | {"sun": given["sun"]}
    whole = run(ROOFS["free"], widened, [0, DAYS]).sums()
    for layout in (np.ascontiguousarray, np.asfortranarray, lambda values: np.repeat(values, 2, axis=1)[:, ::2]):
        laid = {name: layout(values) for name, values in single.items()} | {"sun": given["sun"]}
        for name, values in run(ROOFS["free"], laid, [0, 333, DAYS]).sums().items():
            np.testing.assert_array_equal(values, whole[name], err_msg=name)


@pytest.mark.parametrize("name", ROOFS)
def test_plain_python_gives_the_same_bits(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    given = {name: values[:, :3] for name, values in grid().items()}
    given["rain"][60:110] = np.where(given["rain"][60:110] > 0.0, 0.4, 0.0)  # some weeks in which no limit binds
    fast = run(ROOFS[name], given, [0, 130, 250]).sums()
    monkeypatch.setattr("runoff.balance.grid_totals.compiled", lambda loop: loop)
    plain = run(ROOFS[name], given, [0, 130, 250]).sums()
    for key, values in fast.items():
        np.testing.assert_array_equal(plain[key], values, err_msg=key)


def test_days_without_rain_in_any_lane_are_run_in_one_pass(monkeypatch: pytest.MonkeyPatch) -> None:
    given = {name: values[:200, :3] for name, values in under_one_sky(grid()).items()}
    whole, dry = run(ROOFS["free"], given, [0, 200]).sums(), []
    quiet_day = grid_lanes._quiet_day
    monkeypatch.setattr("runoff.balance.grid_totals.compiled", lambda loop: loop)
    monkeypatch.setattr(grid_lanes, "_quiet_day", lambda *given: (dry.append(1), quiet_day(*given))[1])
    for key, values in run(ROOFS["free"], given, [0, 200]).sums().items():
        np.testing.assert_array_equal(values, whole[key], err_msg=key)
    assert len(dry) > 20


def test_plain_python_reads_single_precision_and_records_that_lie_in_one_stretch(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    given = {name: values[:30, :3].astype("f4") for name, values in grid().items() if name != "sun"}
    stretched = {name: np.asfortranarray(values.astype(float)) for name, values in given.items()}
    monkeypatch.setattr("runoff.balance.grid_totals.compiled", lambda loop: loop)
    made = []
    for one in (given, stretched):
        totals = totals_of(ROOFS["free"], one)
        totals.advance(GridWeather(one["rain"], one["high"] / 6.0, high=None, mean=None, month=_MONTH[:30]))
        made.append(totals.sums())
    # a division of single precision is rounded: demand to 1e-7, over thirty days of a few mm
    for name, values in made[0].items():
        np.testing.assert_allclose(made[1][name], values, atol=1e-4, err_msg=name)


def test_plain_python_gives_the_same_bits_without_temperature(monkeypatch: pytest.MonkeyPatch) -> None:
    given = {name: values[:60] for name, values in grid().items() if name != "sun"}
    weather = GridWeather(given["rain"], given["high"] / 6.0, high=None, mean=None, month=_MONTH[:60])
    made = []
    for choice in ("compiled", "plain"):
        if choice == "plain":
            monkeypatch.setattr("runoff.balance.grid_totals.compiled", lambda loop: loop)
        totals = totals_of(ROOFS["free"], given)
        totals.advance(weather)
        made.append(totals.sums())
    for name, values in made[0].items():
        np.testing.assert_array_equal(made[1][name], values, err_msg=name)


def test_a_missing_value_marks_its_cell_and_no_other() -> None:
    given = grid()
    sound = run(ROOFS["free"], given, [0, DAYS]).sums()
    given["high"][123, 4] = np.nan
    made = run(ROOFS["free"], given, [0, DAYS]).sums()
    others = np.arange(CELLS) != 4
    for name, values in made.items():
        assert np.isnan(values[4]).all()
        np.testing.assert_array_equal(values[others], sound[name][others], err_msg=name)


def test_water_that_still_percolates_is_not_counted_on_by_hand() -> None:
    rain, demand = (np.repeat(one[:, None], CELLS, axis=1) for one in (RAIN_THEN_NONE, DEMAND_AFTER_IT))
    totals = totals_of(SOAKED_THEN_DRY, {"rain": rain})
    totals.advance(GridWeather(rain, demand, None, None, _MONTH[: len(rain)]))
    found = totals.sums()
    assert set(found["dry_days"]) == set(found["longest_dry_spell"]) == {DRY_AFTER_IT}


@pytest.mark.parametrize("missing", [0, 1, 5, 12, 14, 21, 29, 61])
def test_the_only_dry_cell_is_seen_whichever_other_is_missing(missing: int) -> None:
    """Cells 5, 21, 29 and 61 are compared with cell 13 lane by lane, the others with what is left of it."""
    given = grid()
    given["rain"] = np.full_like(given["rain"], 20.0)  # more than is drawn in a day: no cell dries out
    given["rain"][30:, 13] = 0.0
    sound = run(ROOFS["free"], given, [0, DAYS]).sums()
    assert sound["dry_days"][13] > 100.0
    assert sound["dry_days"].sum() == sound["dry_days"][13]
    given["rain"][20, missing] = np.nan
    made = run(ROOFS["free"], given, [0, DAYS]).sums()
    for name in ("dry_days", "longest_dry_spell", "drought_risk_days"):
        assert np.isnan(made[name][missing])
        assert made[name][13] == sound[name][13], name


def test_given_evapotranspiration_and_no_temperature() -> None:
    given = grid()
    e0 = hargreaves_samani_1985(given["low"], given["high"], given["sun"][_MONTH])
    mean = 0.5 * (given["low"] + given["high"])
    par = column.parameter_array([ROOFS["free"]])
    stores = column.start_stores(par, "field-capacity")[:, 0]
    made = []
    for temperature in (mean, None):
        totals = GridTotals(par[:, 0], stores, CELLS, RULES)
        totals.begin_record(0)
        totals.advance(GridWeather(given["rain"], e0, None, temperature, _MONTH))
        made.append(totals.sums())
    formed = run(ROOFS["free"], given, [0, DAYS]).sums()
    for name, values in formed.items():
        np.testing.assert_array_equal(made[0][name], values, err_msg=name)
    # without temperature nothing is kept as snow: rain and what leaves over the years add up without a store of snow
    assert (made[1]["bare_overflow"] != made[0]["bare_overflow"]).any()
    assert not np.isnan(made[1]["overflow"]).any()
