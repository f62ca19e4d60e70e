"""The column in minutes: against a general solver, closed forms, the daily column, and itself at other steps."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from runoff.balance import column, minute_steps, minutes
from runoff.balance.outlet_flow import flow
from runoff.errors import RunoffError
from tests.balance import minute_equations
from tests.balance.minute_roofs import random_roof, random_storm, roof
from tests.second_physics.reservoirs import orifice_drawdown, weir_drawdown


def traced(described: dict, rain: np.ndarray, step: float = 5.0, *, e0=None, start=None, **kwargs) -> tuple:
    """Run one roof with the compiled loop; return its trace and its last stores."""
    columns = minutes.minute_columns([described], step, **kwargs)
    stores = minutes.start_stores([described])[:, 0] if start is None else np.asarray(start, dtype=float)
    out, last = np.empty((len(minute_steps.TRACE), rain.size)), stores.copy()
    e0 = np.zeros(rain.size) if e0 is None else e0
    arguments = (rain, e0, columns.minutes, columns.substeps, columns.parameters, columns.zones, 0, last, out)
    minute_steps.compiled("trace_loop")(*arguments)
    return dict(zip(minute_steps.TRACE, out, strict=True)), last


def stored(trace: dict) -> np.ndarray:
    return np.sum([trace[name] for name in minute_steps.STORES], axis=0)


# --- against a general solver --------------------------------------------------------------------------------


def against_the_solver(seed: int) -> None:
    rng = np.random.default_rng(seed)
    described, rain = random_roof(rng), random_storm(rng, 5.0)
    start = minutes.start_stores([described], float(rng.choice([1.0, 1.0, 0.5])))[:, 0]
    theirs = minute_equations.solve(described, rain, 5.0, start)
    ours, last = traced(described, rain, start=start)
    # the requirement: volume within 0.1 % of the rain, peak within 1 %
    assert ours["drained"].sum() + ours["spilled"].sum() == pytest.approx(
        theirs["drained"] + theirs["spilled"], abs=1e-3 * rain.sum()
    )
    np.testing.assert_allclose(last, theirs["stores"], atol=1e-3 * rain.sum())
    # which way a trickle leaves while the overflow runs depends on the minute in which it begins: 1 % of the rain
    assert ours["drained"].sum() == pytest.approx(theirs["drained"], abs=1e-2 * rain.sum())
    # a spill of less than a millimetre is over within a minute: its mean over that minute is known to 5 %
    brief = 0.0 < theirs["spilled"] < 1.0
    assert ours["largest_overflow_rate"].max() == pytest.approx(
        theirs["peak_overflow"], rel=0.05 if brief else 0.01, abs=0.01
    )


@pytest.mark.parametrize("seed", range(40))
def test_volume_and_peak_follow_the_differential_equation(seed: int) -> None:
    against_the_solver(seed)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(40, 240))
def test_volume_and_peak_follow_the_differential_equation_on_many_roofs(seed: int) -> None:
    against_the_solver(seed)


# --- against closed forms ------------------------------------------------------------------------------------

# Medium alone: nothing held above or below, a board too large to fill. Tolerances: the places given.
MEDIUM = {"surface_capacity": 0.0, "soak_rate": 1e5, "fleece_rate": np.inf, "cup_capacity": 0.0, "mat_capacity": 0.0,
          "full_water": 90.0, "board_capacity": 1e4, "board_height": 1e4}  # fmt: skip


@pytest.mark.parametrize("step", [1.0, 5.0])
def test_medium_under_steady_rain_follows_tanh(step: float) -> None:
    # (i/k)^0.5 tanh(t (i k)^0.5) with i 1 mm/min, k 0.02 at 5, 10, 20 min: 4.30529, 6.28183, 7.02183
    described = roof(**MEDIUM, detention_k=0.02, detention_n=2.0)
    trace, _ = traced(described, np.full(round(20 / step), step), step)
    mobile = trace["medium_water"] - described["field_water"]
    np.testing.assert_allclose(
        mobile[[round(t / step) - 1 for t in (5, 10, 20)]], [4.30529, 6.28183, 7.02183], atol=1e-5
    )


def test_linear_medium_is_a_linear_reservoir() -> None:
    # k 1/20 per min, 30 mm/h for 30 min: outflow at 5, 10, 20, 30, 40, 60 min, by i (1 - e^(-t/20)) and its recession
    described = roof(**MEDIUM, detention_k=0.05, detention_n=1.0)
    trace, _ = traced(described, np.repeat([2.5, 0.0], [6, 6]))
    rate = 3.0 * (trace["medium_water"] - described["field_water"])  # k x in mm/h
    np.testing.assert_allclose(
        rate[[0, 1, 3, 5, 7, 11]], [6.63598, 11.80408, 18.96362, 23.3061, 14.13586, 5.20029], atol=1e-5
    )


@pytest.mark.parametrize(
    ("n", "k", "expected"),
    [(1.5, 0.05, [8.22864, 4.45825, 1.05495, 0.33661]), (2.0, 0.02, [6.66667, 4.0, 1.53846, 0.8])],
)
def test_medium_recession_of_any_exponent(n: float, k: float, expected: list[float]) -> None:
    # [S0^(1-n) + (n-1) k t]^(1/(1-n)) from 20 mm at 5, 10, 30, 60 min
    described = roof(**MEDIUM, detention_k=k, detention_n=n)
    start = minutes.start_stores([described])[:, 0] + [0, 0, 20.0, 0, 0, 0]
    trace, _ = traced(described, np.zeros(12), start=start)
    mobile = trace["medium_water"] - described["field_water"]
    np.testing.assert_allclose(mobile[[0, 1, 5, 11]], expected, atol=1e-5)


def test_board_empties_as_a_pond_over_a_weir() -> None:
    # 25 mm of water over the deck, in a board with 0.6 voids: a pond of 0.6 x 100 m2 over a weir of 100/7500 L/s
    described = roof(openings=[("round", 100.0, None, 1.0)])
    start = minutes.start_stores([described])[:, 0] + [0, 0, 0, 0, 0, 14.9]
    trace, _ = traced(described, np.zeros(24), start=start)
    seconds = 300.0 * np.arange(1, 25)
    crest = 100.0 / 7500.0 * 1e-3 * 1000.0**1.5  # m3/s with m
    head = weir_drawdown(14.9 / 0.6 / 1000.0, 60.0, crest, seconds)
    np.testing.assert_allclose(trace["water_depth_on_deck_mm"], 1000.0 * head, rtol=1e-9)


def test_pond_on_a_saturated_roof_empties_through_a_drowned_outlet() -> None:
    # 200 mm of pond above 105 mm of saturated roof, 100 m2, outlet 100 mm: orifice 100^2/15000 L/s, head from 305 mm
    described = roof(openings=[("round", 100.0, None, 1.0)], overflow_level=400.0, in_plane_rate=1e6)
    start = minutes.start_stores([described])[:, 0] + [0, 200.0, 16.0, 0, 0, 15.0]
    trace, _ = traced(described, np.zeros(6), start=start)
    orifice = 100.0**2 / 15000.0 * 1e-3 * 1000.0**0.5
    head = orifice_drawdown(0.305, 100.0, orifice, 300.0 * np.arange(1, 7))
    # the pond follows the level only as fast as it soaks in: 600 mm/h, more than the outlet takes
    np.testing.assert_allclose(trace["water_depth_on_deck_mm"], 1000.0 * head, rtol=1e-9)


def test_unlike_outlets_empty_a_roof_at_one_common_level() -> None:
    openings = [("round", 70.0, None, 0.5), ("rectangular", 200.0, 20.0, 1.0), ("round", 125.0, None, 1.0)]
    described = roof(openings=openings, overflow_level=400.0, blocked_fraction=0.25, in_plane_rate=700.0)
    columns = minutes.minute_columns([described], 5.0)

    def rise(t: float, level: np.ndarray) -> list[float]:
        storage = 0.6 if level[0] < 25.0 else (0.2 if level[0] < 105.0 else 1.0)  # mm of water per mm of level
        return [-minute_equations.outflow(described, max(level[0], 0.0)) / storage]

    for minutes_after in (2.0, 20.0, 60.0):
        level = solve_ivp(rise, (0.0, minutes_after), [180.0], max_step=0.01, rtol=1e-8, atol=1e-8).y[0, -1]
        water = 75.0 + 16.0 + 15.0
        left = 0.6 * min(level, 25.0) + 0.2 * min(max(level - 25.0, 0.0), 80.0) + max(level - 105.0, 0.0)
        # the solver steps over three kinks of its own: 1e-3 mm
        assert minute_steps.drawdown(columns.zones, 0, 180.0, minutes_after) == pytest.approx(water - left, abs=1e-3)


# --- against other steps, and against the day ----------------------------------------------------------------


@pytest.mark.parametrize("intensity", [10.0, 40.0, 90.0, 200.0])
@pytest.mark.parametrize("changes", [{}, {"board_capacity": 0.5, "board_height": 0.0}, {"detention_k": 1.0}])
def test_no_oscillation_on_a_small_roof_with_a_large_drain(intensity: float, changes: dict) -> None:
    described = roof(area_m2=20.0, openings=[("round", 100.0, None, 1.0)], **changes)
    trace, _ = traced(described, np.repeat([intensity / 12.0, 0.0], [48, 96]))
    flow = trace["drained"] + trace["spilled"]
    change = np.diff(flow[np.abs(np.diff(flow, prepend=0.0)) > 1e-9])
    rises = np.flatnonzero(change > 1e-9)
    falls = np.flatnonzero(change < -1e-9)
    assert rises.max() < falls.min()  # once up, once down
    assert flow[47] == pytest.approx(intensity / 12.0, rel=1e-6)


def test_volumes_agree_between_1_5_and_15_minutes_and_peaks_lie_close() -> None:
    for seed in range(30):
        rng = np.random.default_rng(seed)
        described = {**random_roof(rng), "detention_n": 1.0, "detention_k": 0.05}
        by_15 = np.concatenate([random_storm(rng, 15.0), np.zeros(4 * 48)])
        steps = {15.0: by_15, 5.0: np.repeat(by_15 / 3.0, 3), 1.0: np.repeat(by_15 / 15.0, 15)}
        runs = {step: traced(described, rain, step) for step, rain in steps.items()}
        left = {step: run[0]["drained"].sum() + run[0]["spilled"].sum() for step, run in runs.items()}
        # after two dry days the board holds at most a film, whose depth forgets how it came about
        assert left[5.0] == pytest.approx(left[1.0], abs=1e-5)
        assert left[15.0] == pytest.approx(left[1.0], abs=1e-5)
        peak = {step: run[0]["largest_overflow_rate"].max() for step, run in runs.items()}
        # the same substeps of a minute, but for gentle steps: 0.5 %
        assert peak[5.0] == pytest.approx(peak[1.0], rel=5e-3)
        assert peak[15.0] == pytest.approx(peak[1.0], rel=5e-3)


def daily_drained(described: dict, rain_mm: float, drain_rate: float) -> tuple[float, float]:
    """Return what the daily column drains and spills on the tenth day of steady rain."""
    parameters = column.parameter_array(
        [{**described, "drain_rate": drain_rate, "planted_fraction": 1.0}], 24.0, 0.1, 0.1
    )
    stores = column.start_stores(parameters, "field-capacity")[:, 0].copy()
    out = np.empty((len(column.TRACE), 10))
    column.trace_loop(np.full(10, rain_mm), np.zeros(10), parameters[:, 0].copy(), stores, out)
    return out[column.TRACE.index("drained"), -1], out[column.TRACE.index("spilled"), -1]


@pytest.mark.parametrize("rain_per_day", [6.0, 60.0, 240.0, 400.0])
def test_steady_rain_drains_as_on_the_daily_column(rain_per_day: float) -> None:
    # 12 mm/h in the plane of the board, less than the outlets take: 288 mm a day, the rest over the edge
    described = roof(in_plane_rate=12.0)
    daily = daily_drained(described, rain_per_day, 12.0)
    trace, _ = traced(described, np.full(2880, rain_per_day / 288.0))
    assert trace["drained"][-288:].sum() == pytest.approx(daily[0], rel=1e-6)
    assert trace["spilled"][-288:].sum() == pytest.approx(daily[1], rel=1e-6, abs=1e-6)


# --- what must hold for every roof ---------------------------------------------------------------------------


@settings(max_examples=120, deadline=None)
@given(seed=st.integers(0, 100_000), step=st.sampled_from([1.0, 5.0, 15.0, 60.0]))
def test_water_is_neither_made_nor_lost_and_no_store_leaves_its_bounds(seed: int, step: float) -> None:
    rng = np.random.default_rng(seed)
    described = random_roof(rng)
    rain = np.where(rng.random(200) < 0.3, rng.gamma(0.5, 6.0 * step / 5.0, 200), 0.0)
    e0 = rng.random(200) * 0.5 * step / 60.0
    start = minutes.start_stores([described], rng.random())[:, 0]
    trace, last = traced(described, rain, step, e0=e0, start=start)
    water = np.concatenate([[start.sum()], stored(trace)])
    lost = trace["drained"] + trace["spilled"] + trace["evapotranspiration"]
    np.testing.assert_allclose(rain - lost - np.diff(water), 0.0, atol=1e-9)  # the figure the design asks for
    for name, top in [("surface_water", "surface_capacity"), ("medium_water", "full_water"), ("cup_water", "cup_capacity"),
                      ("mat_water", "mat_capacity"), ("board_water", "board_spill"), ("pond_water", None)]:  # fmt: skip
        assert trace[name].min() >= -1e-12
        assert top is None or trace[name].max() <= described[top] + 1e-9
    for name in ("throughfall", "percolation", "drained", "spilled", "evapotranspiration"):
        assert trace[name].min() >= 0.0
    assert ((trace["water_stress"] >= -1e-12) & (trace["water_stress"] <= 1.0)).all()
    limit = (1.0 - described["blocked_fraction"]) * described["in_plane_rate"]
    assert trace["largest_drained_rate"].max() <= limit * (1 + 1e-9)


def mixed_designs(count: int) -> list[dict]:
    designs = [random_roof(np.random.default_rng(seed)) for seed in range(count)]
    # plain roofs too, so that blocks take their short path
    return designs + [roof(area_m2=50.0 + 10.0 * i, field_water=20.0 + 0.2 * i) for i in range(40)]


def weather(step: float, count: int = 2500) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(11)
    wet = np.repeat(rng.random(count // 25) < 0.15, 25)
    rain = np.where(wet, rng.gamma(0.4, 1.5 * step / 5.0, count), 0.0)
    e0 = np.maximum(0.0, np.sin(np.arange(count) * 2 * np.pi * step / 1440.0)) * 0.05 * step / 5.0
    return rain, e0


@pytest.mark.parametrize("step", [5.0, 15.0])
def test_block_of_designs_equals_the_single_roof_bit_for_bit(step: float) -> None:
    designs = mixed_designs(50)
    rain, e0 = weather(step)
    columns = minutes.minute_columns(designs, step)
    stores = minutes.start_stores(designs, 0.9)
    totals, last = minutes.run_totals(rain, e0, columns, stores)
    for i in range(len(designs)):
        trace, own_last = minutes.run_trace(rain, e0, columns, stores[:, i], design=i)
        np.testing.assert_array_equal(last[:, i], own_last)
        for name in ("largest_drained_rate", "largest_overflow_rate", "largest_depth_on_deck_mm"):
            assert totals[name][i] == trace[name].max()
        for name in ("drained", "spilled", "evapotranspiration"):
            # the sum is formed in another order: 2,500 terms of a few mm
            assert totals[name][i] == pytest.approx(trace[name].sum(), abs=1e-9)


def test_evaporation_of_a_full_surface_leaves_no_pond_by_rounding() -> None:
    # U / U_max may come out an ulp above 1; a pond of 1e-17 mm would change the state of a roof
    for capacity in np.random.default_rng(4).uniform(0.5, 5.0, 2000):
        after = minute_steps.evaporate(0.3, capacity, 0.0, 20.0, 4.0, 3.0, 1.0 / capacity, 4.0, 1.0, 0.05, 0.5, 0.25)
        assert after[1] == 0.0  # W
        assert after[6] >= 0.0  # what the plants ask for


@pytest.mark.parametrize("y", [0.1, 1.0, 2.0, 4.0])
@pytest.mark.parametrize("mobile", [0.0, 2.0])
def test_release_keeps_to_tanh_for_a_large_inflow(y: float, mobile: float) -> None:
    # closed form of dx/dt = a - k x^2, with a = y / (k t^2); the continued fraction of tanh, cut after its fourth term, is
    # within 1e-6 of it up to y = 4
    k, t = 0.03, 5.0
    a = y / (k * t * t)
    stretched = math.tanh(math.sqrt(a * k) * t) / math.sqrt(a * k)
    left = (mobile + a * stretched) / (1.0 + k * mobile * stretched)
    released = minute_steps.release(a * t, mobile, 1.0, 1.0, k * t, 1e9)
    assert released == pytest.approx(mobile + a * t - left, rel=1e-6)


@pytest.mark.parametrize("level", [0.5, 10.0, 24.0, 26.0, 36.0, 60.0, 104.0, 106.0, 150.0, 300.0])
def test_outflow_at_a_level_is_that_of_the_outlets_or_of_the_board(level: float) -> None:
    # levels in the board, the medium and the pond, below and above where each outlet turns from weir to orifice
    described = roof(
        openings=[("round", 70.0, None, 0.5), ("rectangular", 200.0, 40.0, 0.5)],
        in_plane_rate=300.0,
        blocked_fraction=0.25,
    )
    zones = minutes.minute_columns([described], 5.0).zones
    wanted = 0.75 * min(300.0 / 60.0, float(flow(level, described["outlets"])) * 60.0 / 100.0)  # mm/min on 100 m2
    assert minute_steps.outflow_rate(zones, 0, level) == pytest.approx(wanted, rel=1e-12)


@pytest.mark.parametrize("substep", [1.0, 2.0, 5.0])
def test_while_the_overflow_runs_the_outlets_pass_what_its_level_drives(substep: float) -> None:
    # 60 mm/h on 300 m2 with one drain of 70 mm: by hand 0.5 x 70^2 x 65^0.5 / 15000 = 1.31684 L/s at 65 mm of water, which is
    # 1.31684 x 600 / 300 = 2.63367 mm in 10 min; the rest of the 10 mm runs over
    described = roof(overflow_level=65.0, area_m2=300.0, openings=[("round", 70.0, None, 0.5)])
    columns = minutes.minute_columns([described], 10.0, substep_minutes=substep)
    rain = np.full(24, 10.0)
    trace, _ = minutes.run_trace(rain, np.zeros(24), columns, minutes.start_stores([described])[:, 0])
    assert trace["drained"][-1] == pytest.approx(2.63367, abs=1e-5)
    assert trace["spilled"][-1] == pytest.approx(10.0 - 2.63367, abs=1e-3)  # the medium still settles


def test_neighbours_in_a_block_do_not_matter() -> None:
    designs = mixed_designs(30)
    rain, e0 = weather(5.0)
    order = np.random.default_rng(1).permutation(len(designs))
    stores = minutes.start_stores(designs)
    straight = minutes.run_totals(rain, e0, minutes.minute_columns(designs, 5.0), stores)
    shuffled = minutes.run_totals(rain, e0, minutes.minute_columns([designs[i] for i in order], 5.0), stores[:, order])
    np.testing.assert_array_equal(straight[1][:, order], shuffled[1])
    for name in minute_steps.TOTALS:
        np.testing.assert_array_equal(straight[0][name][order], shuffled[0][name])


@pytest.mark.parametrize("seed", range(12))
def test_plain_python_equals_compiled(seed: int) -> None:
    described = random_roof(np.random.default_rng(seed))
    rain, e0 = weather(5.0, 500)
    fast, fast_last = traced(described, rain, e0=e0)
    columns = minutes.minute_columns([described], 5.0)
    out, last = np.empty((len(minute_steps.TRACE), rain.size)), minutes.start_stores([described])[:, 0]
    minute_steps.trace_loop(rain, e0, 5.0, columns.substeps, columns.parameters, columns.zones, 0, last, out)
    for row, name in zip(out, minute_steps.TRACE, strict=True):
        # powers and tangents of two mathematical libraries may differ in the last bit: 1e-12 relative
        np.testing.assert_allclose(row, fast[name], rtol=1e-11, atol=1e-12, err_msg=name)
    np.testing.assert_allclose(last, fast_last, rtol=1e-11, atol=1e-12)


def test_a_record_split_in_two_gives_the_same_numbers_bit_for_bit() -> None:
    designs = mixed_designs(10)
    rain, e0 = weather(5.0)
    columns, stores = minutes.minute_columns(designs, 5.0), minutes.start_stores(designs)
    _, whole = minutes.run_totals(rain, e0, columns, stores)
    _, first = minutes.run_totals(rain[:900], e0[:900], columns, stores)
    _, second = minutes.run_totals(rain[900:], e0[900:], columns, first)
    np.testing.assert_array_equal(whole, second)


# --- behaviour a designer would expect -----------------------------------------------------------------------


def test_clogged_outlets_leave_the_emergency_overflow_to_work_alone() -> None:
    described = roof(blocked_fraction=1.0, overflow_level=130.0)
    trace, _ = traced(described, np.full(144, 2.0))
    assert trace["drained"].sum() == 0.0
    assert trace["spilled"][-1] == pytest.approx(2.0)
    assert trace["water_depth_on_deck_mm"][-1] == pytest.approx(130.0, abs=1e-6)


def test_rain_that_cannot_soak_in_keeps_a_full_board_at_its_own_head() -> None:
    # 90 mm/h on a crusted dry medium that takes 6: the rest runs to the full board, whose 25 mm of head push
    # 0.5 x 100 x 25^1.5 / 7500 = 0.8333 L/s through the outlet, 30 mm/h or 2.5 mm a step; 54 mm/h run over the edge
    described = roof(soak_rate=6.0, surface_capacity=0.0)
    trace, _ = traced(described, np.full(12, 7.5), start=[0.0, 0.0, 4.0, 4.0, 3.0, 15.0])
    np.testing.assert_allclose(trace["drained"], 2.5, rtol=1e-9)
    np.testing.assert_allclose(trace["spilled"], 4.5, rtol=1e-9)


def test_overflow_below_the_board_top_never_lets_the_medium_flood() -> None:
    described = roof(blocked_fraction=1.0, overflow_level=15.0)
    trace, last = traced(described, np.repeat([2.0, 0.0], [144, 2000]))
    assert trace["water_depth_on_deck_mm"].max() == pytest.approx(15.0)
    assert trace["spilled"][143] == pytest.approx(2.0, rel=1e-6)
    assert last[2] == pytest.approx(described["field_water"], abs=0.01)


def test_a_missing_value_is_missing_throughout() -> None:
    designs = [roof(), roof(area_m2=50.0)]
    columns, stores = minutes.minute_columns(designs, 5.0), minutes.start_stores(designs)
    rain, e0 = np.array([1.0, np.nan, 0.0]), np.zeros(3)
    trace, last = minutes.run_trace(rain, e0, columns, stores[:, 0])
    assert all(np.isnan(row).all() for row in trace.values()) and np.isnan(last).all()
    totals, last = minutes.run_totals(rain, e0, columns, stores)
    assert all(np.isnan(row).all() for row in totals.values()) and np.isnan(last).all()
    stores[3, 1] = np.nan
    totals, last = minutes.run_totals(np.ones(3), e0, columns, stores)
    assert all(np.isnan(row[1]) and not np.isnan(row[0]) for row in totals.values())


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: minutes.minute_columns([roof()], 90.0), "a step must be 1 to 60 min, given 90; sum or split the rain"),
        (lambda: minutes.minute_columns([], 5.0), "no design is given"),
        (
            lambda: minutes.run_trace(np.ones(3), np.ones(2), minutes.minute_columns([roof()], 5.0), np.zeros(6)),
            r"one value per step each, given shapes \(3,\) and \(2,\)",
        ),
    ],
)
def test_bad_input_is_named(call, message: str) -> None:
    with pytest.raises(RunoffError, match=message):
        call()
