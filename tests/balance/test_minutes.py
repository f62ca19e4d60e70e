"""Columns in minutes: against a general solver, closed forms, published coefficients, the day, and other steps."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runoff.balance import cells, column, minute_steps, minutes
from runoff.balance.loop_choice import as_read, compiled
from runoff.balance.minutes import run_trace
from runoff.errors import RunoffError
from tests.balance import minute_equations
from tests.balance.minute_roofs import bare, random_bare, random_roof, random_storm, roof
from tests.second_physics import reservoirs


def columns_of(described: dict, step: float, **kwargs) -> minutes.MinuteColumns:
    make = minutes.planted_columns if "medium_depth" in described else minutes.bare_columns
    return make([described], step, **kwargs)


@pytest.fixture(autouse=True, scope="module")
def _compiled() -> None:
    compiled(minute_steps.trace_loop)  # with numba loaded every run is a compiled one


def traced(described: dict, rain, step: float = 5.0, *, e0=None, start=None, run_on=None, **kwargs) -> tuple:
    """Run one roof; return its trace and its last stores."""
    columns, rain = columns_of(described, step, **kwargs), np.asarray(rain, dtype=float)
    stores = columns.start()[:, 0] if start is None else np.asarray(start, dtype=float)
    return run_trace(rain, np.zeros(rain.size) if e0 is None else e0, columns, stores, run_on=run_on)


def stored(trace: dict) -> np.ndarray:
    """Return all water on the roof; the bypass is part of the mobile water."""
    return np.sum([trace[name] for name in minute_steps.STORES if name != "mobile_bypass"], axis=0)


def any_roof(rng: np.random.Generator) -> dict:
    return random_bare(rng) if rng.random() < 0.25 else random_roof(rng)


# --- against a general solver --------------------------------------------------------------------------------


def against_the_solver(seed: int) -> None:
    rng = np.random.default_rng(seed)
    described, rain = any_roof(rng), random_storm(rng, 5.0)
    start = columns_of(described, 5.0).start(float(rng.choice([1.0, 1.0, 0.5])))[:, 0]
    theirs = minute_equations.solve(described, rain, 5.0, start)
    ours, last = traced(described, rain, start=start)
    left, theirs_left = np.cumsum(ours["drained"] + ours["spilled"]), theirs["drained"] + theirs["spilled"]
    # what the page asks for: volume, the running sum at the end of every step, within 0.1 % of the rain, peak within 1 %
    volume = 1e-3 * rain.sum()
    np.testing.assert_allclose(left, theirs_left, atol=volume)
    np.testing.assert_allclose(np.cumsum(ours["over_edge"]), theirs["over_edge"], atol=volume)
    np.testing.assert_allclose(last, theirs["stores"], atol=volume)
    # 0.01 mm/h: of what hardly flows 1 % is less than the solver's own tolerance
    assert minutes.largest_mean(ours["drained"] + ours["spilled"], 5.0) == pytest.approx(
        12.0 * np.diff(theirs_left, prepend=0.0).max(), rel=0.01, abs=0.01
    )
    # the deepest minute: 1 % or a tenth of a millimetre
    assert ours["largest_depth_on_deck_mm"].max() == pytest.approx(theirs["deepest"], rel=0.01, abs=0.1)


@pytest.mark.parametrize("seed", [*range(8), *(pytest.param(seed, marks=pytest.mark.slow) for seed in range(8, 60))])
def test_volume_and_peak_follow_the_differential_equation(seed: int) -> None:
    against_the_solver(seed)


def against_the_page(seed: int) -> None:
    # a day and a half of rain and sun, from half full: bypass, cups, ponds that evaporate, a medium that takes up. What flows
    # is read in twentieths of a minute, to first order, and still steps are taken whole here: 0.05 mm in a store, 0.1
    # on what leaves
    rng = np.random.default_rng(seed)
    described = random_roof(rng) | {"depletion_fraction": 0.4}
    rain = np.where(rng.random(432) < 0.05, rng.gamma(0.5, 4.0, 432), 0.0)
    e0 = np.maximum(0.0, np.sin(np.arange(432) * 2.0 * np.pi / 288.0)) * 0.05
    start = columns_of(described, 5.0).start(0.5)[:, 0]
    theirs = minute_equations.read_minutes(described, rain, e0, 5.0, start)
    ours, last = traced(described, rain, e0=e0, start=start)
    assert ours["evapotranspiration"].sum() == pytest.approx(theirs["evapotranspiration"], abs=0.05)
    assert (ours["drained"] + ours["spilled"]).sum() == pytest.approx(theirs["left"], abs=0.1)
    np.testing.assert_allclose(last, theirs["stores"], atol=0.05)


@pytest.mark.parametrize("seed", [0, *(pytest.param(seed, marks=pytest.mark.slow) for seed in range(1, 8))])
def test_days_with_sun_follow_the_page_read_minute_by_minute(seed: int) -> None:
    against_the_page(seed)


# --- the medium: closed forms and published coefficients -------------------------------------------------------

# Medium alone: nothing held above or below, no bypass, a medium of 80 mm so that k is as given. Tolerances: the places given.
MEDIUM = {"surface_capacity": 0.0, "soak_rate": 1e5, "cup_capacity": 0.0, "mat_capacity": 0.0, "bypass_fraction": 0.0}


@pytest.mark.parametrize("step", [1.0, 5.0])
def test_medium_under_steady_rain_follows_tanh(step: float) -> None:
    # (i/k)^0.5 tanh(t (i k)^0.5) with i 1 mm/min, k 0.02 at 5, 10, 20 min: 4.30529, 6.28183, 7.02183
    described = roof(**MEDIUM, detention_k=0.02, detention_n=2.0)
    trace, _ = traced(described, np.full(round(20 / step), step), step)
    mobile = trace["mobile_water"]
    np.testing.assert_allclose(
        mobile[[round(t / step) - 1 for t in (5, 10, 20)]], [4.30529, 6.28183, 7.02183], atol=1e-5
    )


def test_linear_medium_is_a_linear_reservoir() -> None:
    # k 1/20 per min, 30 mm/h for 30 min: outflow at 5, 10, 20, 30, 40, 60 min, by i (1 - e^(-t/20)) and its recession
    described = roof(**MEDIUM, detention_k=0.05, detention_n=1.0)
    trace, _ = traced(described, np.repeat([2.5, 0.0], [6, 6]))
    rate = 3.0 * trace["mobile_water"]  # k x in mm/h
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
    start = columns_of(described, 5.0).start()[:, 0]
    start[minute_steps.STORES.index("mobile_water")] = 20.0
    trace, _ = traced(described, np.zeros(12), start=start)
    np.testing.assert_allclose(trace["mobile_water"][[0, 1, 5, 11]], expected, atol=1e-5)


# depth, the guideline's peak coefficient on slopes to 15 degrees (FLL, by depth class; from memory), and what the equations
# give from k 0.0115, n 2: x = (i/k)^0.5 tanh(t (i k)^0.5) with i 1.8 mm/min over 15 min less the time of 1.5 mm, C = 1 - (1.5 + x)/27
GUIDELINE = [(30.0, 0.7, 0.66), (50.0, 0.6, 0.58), (80.0, 0.5, 0.50), (125.0, 0.4, 0.41), (200.0, 0.3, 0.32),
             (375.0, 0.2, 0.21), (600.0, 0.1, 0.14)]  # fmt: skip


@pytest.mark.parametrize("step", [1.0, 5.0, 15.0])
@pytest.mark.parametrize(("depth", "guideline", "worked"), GUIDELINE)
def test_one_pair_gives_the_coefficients_of_all_depths(
    depth: float, guideline: float, worked: float, step: float
) -> None:
    described = roof(
        surface_capacity=1.5, medium_depth=depth, field_water=0.3 * depth, wilting_water=0.05 * depth,
        full_water=0.5 * depth,
    )  # fmt: skip
    trace, _ = traced(described, np.full(round(15 / step), 1.8 * step), step)
    passed = (trace["percolation"] + trace["bypass"]).sum() / 27.0
    i, k = 1.8, 0.0115 * 80.0 / depth
    by_hand = 1.0 - (1.5 + (i / k) ** 0.5 * np.tanh((15.0 - 1.5 / 1.8) * (i * k) ** 0.5)) / 27.0
    # the film fills within the first minute, after which the rest of that minute's rain counts as spread over it
    assert passed == pytest.approx(by_hand, abs=1e-3)
    assert passed == pytest.approx(worked, abs=0.0051)  # the digits of the table
    assert passed == pytest.approx(guideline, abs=0.06)


def test_bypass_is_the_same_at_any_step_and_none_from_a_dry_medium() -> None:
    # for every mm that soaks in, 0.5 w mm pass, until the medium is full: from w = 0 to 1 over 20 mm that is 0.5 x 20 / 2 = 5
    described = roof(surface_capacity=0.0, detention_k=1.0, bypass_fraction=0.5, cup_capacity=0.0, mat_capacity=0.0)
    dry = [0.0, 4.0, 0.0, 0.0, 0.0, 0.0, 0.0]
    sums = []
    for step, steps in ((1.0, 120), (5.0, 24), (60.0, 2)):
        trace, _ = traced(described, np.full(steps, 25.0 / steps), step, start=dry)
        sums.append(trace["bypass"].sum() + trace["mobile_bypass"][-1])
        assert trace["bypass"][0] < 0.01 * 25.0 / steps or step > 1.0
    np.testing.assert_allclose(sums, 5.0, rtol=1e-9)


def test_what_exceeds_the_pores_behind_a_clogged_fleece_runs_over_the_surface() -> None:
    # fleece passes 6 mm/h; 60 mm/h of rain: once the 16 mm of pores are full, 54 mm/h run over the surface, straight to Q
    described = roof(**MEDIUM, fleece_rate=6.0)
    trace, last = traced(described, np.full(36, 5.0))
    assert last[minute_steps.STORES.index("mobile_water")] == pytest.approx(16.0)
    assert trace["percolation"][-1] == pytest.approx(0.5)
    assert trace["drained"][-1] == pytest.approx(5.0, rel=1e-6)


# --- the way out: closed forms and hand calculations ------------------------------------------------------------


def start_with(described: dict, free_water: float, **stores: float) -> np.ndarray:
    start = columns_of(described, 5.0).start()[:, 0]
    for name, value in (stores | {"free_water": free_water}).items():
        start[minute_steps.STORES.index(name)] = value
    return start


def test_a_level_board_empties_as_a_pond_over_a_weir() -> None:
    # 24.5 mm of water over the deck, in a board with 0.6 voids: a pond of 0.6 x 100 m2 over a weir of 100/7500 L/s
    described = roof(openings=[("round", 100.0, None, 1.0)], fall=0.0, in_plane_flow=100.0)
    trace, _ = traced(described, np.zeros(24), start=start_with(described, 0.6 * 24.5))
    crest = 100.0 / 7500.0 * 1e-3 * 1000.0**1.5  # m3/s with m
    head = reservoirs.weir_drawdown(0.0245, 60.0, crest, 300.0 * np.arange(1, 25))
    np.testing.assert_allclose(trace["water_depth_on_deck_mm"], 1000.0 * head, rtol=1e-9)


def test_the_foot_of_a_wedge_empties_evenly_in_the_root_of_its_level() -> None:
    # V = a1 h^2/(2d), q = w h^1.5: d(h^0.5)/dt = -w d/(2 a1), with a1 0.6, d 200 mm, w = 100/7500 x 60/2000 = 4e-4 mm/min/mm^1.5:
    # -0.066667 per min, so that 16 mm (h^0.5 = 4) are gone after an hour
    described = roof(openings=[("round", 100.0, None, 1.0)], area_m2=2000.0, in_plane_flow=100.0)
    trace, _ = traced(described, np.zeros(14), start=start_with(described, 0.6 * 16.0**2 / 400.0))
    root = np.maximum(0.0, 4.0 - 5.0 * np.arange(1, 15) / 15.0)
    np.testing.assert_allclose(np.sqrt(trace["water_depth_on_deck_mm"]), root, atol=1e-9)
    assert trace["free_water"][-1] == 0.0


def test_a_wedge_that_empties_within_a_few_steps_is_not_empty_before() -> None:
    # the same on 250 m2: sqrt h falls by 0.53333 a minute, 3.2 is 0.53333 after 5 min and nothing a minute later
    described = roof(openings=[("round", 100.0, None, 1.0)], area_m2=250.0, in_plane_flow=100.0)
    trace, _ = traced(described, np.zeros(3), start=start_with(described, 0.6 * 3.2**4 / 400.0))
    np.testing.assert_allclose(np.sqrt(trace["water_depth_on_deck_mm"]), [3.2 - 5.0 * 0.53333333, 0.0, 0.0], atol=1e-7)


def test_throughfall_is_the_rain_less_what_the_surface_takes() -> None:
    trace, _ = traced(roof(surface_capacity=1.0), np.repeat([2.0, 0.0], [3, 5]))
    np.testing.assert_allclose(trace["throughfall"], [1.0, 2.0, 2.0, 0.0, 0.0, 0.0, 0.0, 0.0], atol=1e-12)


def test_a_medium_takes_up_the_water_that_stands_in_it() -> None:
    # level and blocked: 15 mm fill the board, 2 of 17 stand in the medium, which lacks 5: all of it is wet, it takes the 2
    described = roof(fall=0.0, blocked_fraction=1.0)
    trace, _ = traced(described, [0.0], 1.0, start=start_with(described, 17.0, held_water=19.0))
    assert trace["held_water"][0] == pytest.approx(21.0, abs=1e-12)
    assert trace["free_water"][0] == pytest.approx(15.0, abs=1e-12)


def test_while_a_level_deck_fills_its_deepest_is_at_the_end_of_each_step() -> None:
    described = roof(fall=0.0, area_m2=3000.0)
    trace, _ = traced(described, np.full(9, 0.5), start=start_with(described, 3.0))
    depth = trace["water_depth_on_deck_mm"][3:]  # the medium holds the first rain back
    assert (np.diff(depth) > 0.0).all()
    np.testing.assert_allclose(trace["largest_depth_on_deck_mm"][3:], depth, rtol=1e-9)


def test_a_pond_on_a_level_roof_empties_through_a_drowned_outlet() -> None:
    # 200 mm of pond above 105 mm of saturated roof, 100 m2, outlet 100 mm: orifice 100^2/15000 L/s, head from 305 mm
    described = roof(
        openings=[("round", 100.0, None, 1.0)], fall=0.0, in_plane_flow=1e4, edge_level=1000.0, mat_capacity=0.0
    )
    trace, _ = traced(described, np.zeros(6), start=start_with(described, 15.0 + 16.0 + 200.0))
    orifice = 100.0**2 / 15000.0 * 1e-3 * 1000.0**0.5
    head = reservoirs.orifice_drawdown(0.305, 100.0, orifice, 300.0 * np.arange(1, 7))
    np.testing.assert_allclose(trace["water_depth_on_deck_mm"], 1000.0 * head, rtol=1e-5)  # second order in the minute


@pytest.mark.parametrize("fall", [0.0, 0.02])
def test_emergency_overflow_alone_stands_at_the_head_of_its_own_opening(fall: float) -> None:
    # 260 m2, 12.6 mm in 5 min, whole area at C = 1: 10.92 L/s. Sill at 90 mm, opening 300 x 102 mm, all outlets blocked:
    # weir 300 h^1.5/24000 = 10.92 at h = (10.92 x 24000/300)^(2/3) = 873.6^(2/3) = 91.385 mm (printed 91.4), 181.385 in all
    described = bare(area_m2=260.0, fall=fall, openings=[("round", 100.0, None, 1.0)] * 3, blocked_fraction=1.0, sill_level=90.0,
                     emergency_width_mm=300.0, emergency_height_mm=102.0, edge_level=400.0)  # fmt: skip
    trace, _ = traced(described, np.full(96, 12.6))
    assert trace["water_depth_on_deck_mm"][-1] == pytest.approx(90.0 + 91.385, abs=0.005)
    assert trace["drained"].sum() == 0.0 and trace["over_edge"].sum() == 0.0
    assert trace["spilled"][-1] == pytest.approx(12.6, rel=1e-6)


def test_a_drowned_overflow_follows_the_orifice() -> None:
    # the same with an opening of 300 x 40: drowned from 2 A/L = 80 mm on; 300 x 40 h^0.5/12000 = 10.92 at h = 119.25 mm
    described = bare(area_m2=260.0, fall=0.0, blocked_fraction=1.0, sill_level=90.0, emergency_width_mm=300.0,
                     emergency_height_mm=40.0, edge_level=400.0)  # fmt: skip
    trace, _ = traced(described, np.full(288, 12.6))
    assert trace["water_depth_on_deck_mm"][-1] == pytest.approx(90.0 + 119.2464, abs=0.001)


@pytest.mark.parametrize("make", [roof, bare])
def test_water_above_the_edge_runs_over_and_is_told(make) -> None:
    described = make(blocked_fraction=1.0, edge_level=130.0)
    trace, _ = traced(described, np.full(144, 2.0))
    assert trace["drained"].sum() == 0.0
    assert trace["over_edge"][-1] == pytest.approx(2.0)
    np.testing.assert_allclose(trace["over_edge"], trace["spilled"], rtol=1e-12)
    assert trace["largest_depth_on_deck_mm"].max() == pytest.approx(130.0, abs=1e-9)


def test_a_sill_without_an_opening_is_no_overflow() -> None:
    # nothing is assumed about it: the water is followed to the edge, deeper than with any opening
    described = bare(blocked_fraction=1.0, sill_level=50.0, edge_level=100.0)
    trace, _ = traced(described, np.full(144, 2.0))
    assert trace["water_depth_on_deck_mm"][-1] == pytest.approx(100.0, abs=1e-9)


def test_the_drainage_layer_limits_what_reaches_the_outlets() -> None:
    # in-plane 0.05 L/(s m) at 0.02 on a flow length of 10 m: 18 mm/h; half of it where half is blocked. Rain of 60 mm/h
    described = roof(in_plane_flow=0.05, blocked_fraction=0.5)
    trace, _ = traced(described, np.full(6, 5.0))
    assert trace["drained"][3] == pytest.approx(0.75, rel=1e-9)
    # after half an hour water stands above the medium at the low end and runs to the outlets over it
    assert trace["water_depth_on_deck_mm"][5] > 105.0
    assert trace["drained"][5] > 4.0


def test_standing_water_drives_itself_on_a_level_deck() -> None:
    # fall 0, mat law (m = 1): flow = test flow x h/(1000 L)/0.02 = 0.01 x 60/10000/0.02 = 0.003 L/(s m) at 60 mm, 1.08 mm/h;
    # by the board's own height (25 mm) at first: 0.45 mm/h
    described = roof(fall=0.0, in_plane_flow=0.01, in_plane_exponent=1.0)
    at_60 = 15.0 + (60.0 - 25.0) * 0.2
    high, _ = traced(described, [0.0], 1.0, start=start_with(described, at_60))
    low, _ = traced(described, [0.0], 1.0, start=start_with(described, 6.0))
    assert high["drained"][0] * 60.0 == pytest.approx(1.08, rel=1e-9)
    assert low["drained"][0] * 60.0 == pytest.approx(0.45, rel=1e-9)


def test_above_the_medium_water_runs_over_its_surface_to_the_outlets() -> None:
    # in-plane flow shut: only the weir as wide as the roof leads to the outlets: steady at 60 mm/h = 1 mm/min on
    # L = 10 m: 1000/(10 x 24000) x 60 h^1.5 = 0.25 h^1.5 mm/min = 1 at h = 4^(2/3) = 2.5198 mm above 105 mm
    described = roof(fall=0.0, in_plane_flow=1e-9, openings=[("round", 150.0, None, 1.0)] * 4)
    trace, _ = traced(described, np.full(96, 5.0))
    assert trace["water_depth_on_deck_mm"][-1] == pytest.approx(107.5198, abs=1e-3)


def test_an_edge_is_a_weir_along_its_length() -> None:
    # 36 mm/h on 20 m2 = 0.2 L/s over 5 m: 5000 h^1.5/24000 = 0.2 at h = 0.96^(2/3) = 0.97315 mm
    described = bare(area_m2=20.0, openings=[("edge", 5000.0, None, 1.0)])
    trace, _ = traced(described, np.full(24, 3.0))
    assert trace["water_depth_on_deck_mm"][-1] == pytest.approx(0.97315, abs=1e-5)


def test_run_on_joins_the_free_water_directly() -> None:
    described = roof()
    trace, _ = traced(described, np.zeros(24), run_on=np.full(24, 1.0))
    assert trace["drained"][-1] == pytest.approx(1.0, rel=1e-6)
    assert trace["percolation"].sum() == 0.0


# --- against other steps, and against the day -------------------------------------------------------------------


@pytest.mark.parametrize("intensity", [10.0, 40.0, 90.0, 200.0])
@pytest.mark.parametrize("fall", [0.0, 0.02])
@pytest.mark.parametrize("make", [roof, bare])
def test_no_oscillation_on_a_small_roof_with_a_large_drain(make, intensity: float, fall: float) -> None:
    described = make(area_m2=20.0, fall=fall, openings=[("round", 100.0, None, 1.0)])
    for step in (1.0, 5.0):
        hours = round(4 * 60 / step)
        trace, _ = traced(described, np.repeat([intensity * step / 60.0, 0.0], [hours, 2 * hours]), step)
        left = trace["drained"] + trace["spilled"]
        change = np.diff(left, prepend=0.0)
        # 3e-4 mm: where a run goes over to still steps the flow may jump by so much (in 5 min: 0.004 mm/h)
        rises, falls = np.flatnonzero(change > 3e-4), np.flatnonzero(change < -3e-4)
        assert rises.max() < falls.min()  # once up, once down
        assert left[hours - 1] == pytest.approx(intensity * step / 60.0, rel=1e-6)


def test_volumes_agree_between_1_5_and_15_minutes_and_peaks_lie_close() -> None:
    for seed in range(30):
        rng = np.random.default_rng(seed)
        described = any_roof(rng)
        by_15 = np.concatenate([random_storm(rng, 15.0), np.zeros(4 * 24 * 4)])
        steps = {15.0: by_15, 5.0: np.repeat(by_15 / 3.0, 3), 1.0: np.repeat(by_15 / 15.0, 15)}
        runs = {step: traced(described, rain, step)[0] for step, rain in steps.items()}
        left = {step: run["drained"] + run["spilled"] for step, run in runs.items()}
        for step in (5.0, 15.0):
            # while water moves all steps take the same substeps of a minute; what is left after four dry days is a trickle,
            # taken whole in still steps, whose timing differs by less than what a level deck holds of it: 2e-3 mm
            assert left[step].sum() == pytest.approx(left[1.0].sum(), abs=2e-3)
        # a step of 5 min is five of a minute, but for still steps
        np.testing.assert_allclose(left[5.0], left[1.0].reshape(-1, 5).sum(axis=1), atol=5e-3)
        peak = {step: minutes.largest_mean(left[step], step) for step in left}
        assert peak[15.0] <= peak[5.0] * (1.0 + 1e-6)
        # the same flow, seen in minutes and in 5 min by the clock
        assert peak[5.0] == pytest.approx(12.0 * left[1.0].reshape(-1, 5).sum(axis=1).max(), rel=1e-4, abs=0.01)
        # the band between steps: a window that may begin at any minute sees up to a fifth more than one by the clock, and by
        # far most of that where an overflow runs for less than 5 min
        assert 0.8 * peak[1.0] <= peak[5.0] <= peak[1.0] * (1.0 + 1e-6)


def daily(described: dict, rain_mm: float, outlet_rate: float) -> np.ndarray:
    """Return what the daily column drains and spills on the thirtieth day of steady rain."""
    par = column.parameter_array([{**described, "outlet_rate": outlet_rate}])[:, 0]
    out = np.empty((len(column.TRACE), 30))
    stores = column.start_stores(par[:, None], "field-capacity")[:, 0]
    cells.run_trace(np.full(30, rain_mm), np.zeros(30), None, par, stores, out)
    return np.array([out[column.TRACE.index(name), -1] for name in ("drained", "spilled")])


@pytest.mark.parametrize("rain_per_day", [6.0, 60.0, 240.0, 288.0])
def test_steady_rain_drains_as_on_the_daily_column(rain_per_day: float) -> None:
    # 12 mm/h in the plane of the board (fall 0.02 drives it below 200 mm), 288 mm a day, above which the two must part: a
    # day's rain comes at once, and what of it stands above the medium runs off over the surface
    described = roof(
        in_plane_flow=12.0 * 10.0 / 3600.0, sill_level=60.0, emergency_width_mm=2000.0, emergency_height_mm=100.0
    )
    by_day = daily(described, rain_per_day, outlet_rate=1e6)
    trace, _ = traced(described, np.full(2880, rain_per_day / 288.0))
    by_minutes = [trace["drained"][-288:].sum(), trace["spilled"][-288:].sum()]
    np.testing.assert_allclose(by_minutes, by_day, rtol=1e-6, atol=1e-6)


# --- what must hold for every roof ------------------------------------------------------------------------------


@settings(max_examples=120)
@given(seed=st.integers(0, 100_000), step=st.sampled_from([1.0, 5.0, 15.0, 60.0]))
def test_water_is_neither_made_nor_lost_and_no_store_leaves_its_bounds(seed: int, step: float) -> None:
    rng = np.random.default_rng(seed)
    described = any_roof(rng)
    rain = np.where(rng.random(200) < 0.3, rng.gamma(0.5, 6.0 * step / 5.0, 200), 0.0)
    e0 = rng.random(200) * 0.5 * step / 60.0
    run_on = np.where(rng.random(200) < 0.1, 0.2 * step, 0.0)
    start = columns_of(described, step).start(rng.random())[:, 0]
    trace, _ = traced(described, rain, step, e0=e0, start=start, run_on=run_on)
    begins = start.sum()
    water = np.concatenate([[begins], stored(trace)])
    lost = trace["drained"] + trace["spilled"] + trace["evapotranspiration"]
    np.testing.assert_allclose(rain + run_on - lost - np.diff(water), 0.0, atol=1e-9)  # the figure the page asks for
    split = trace["board_water"] + trace["medium_water"] + trace["pond_water"]
    np.testing.assert_allclose(split, trace["free_water"] + trace["held_water"] + trace["mobile_water"], atol=1e-9)
    for name, top in (("surface_water", "surface_capacity"), ("held_water", "field_water"), ("cup_water", "cup_capacity"),
                      ("mat_water", "mat_capacity")):  # fmt: skip
        assert trace[name].min() >= -1e-12
        assert top not in described or trace[name].max() <= described[top] + 1e-9
    if "medium_depth" in described:
        assert trace["medium_water"].max() <= described["full_water"] + 1e-9
    assert (trace["mobile_bypass"] <= trace["mobile_water"] + 1e-12).all()
    for name in ("throughfall", "bypass", "percolation", "drained", "spilled", "over_edge", "evapotranspiration",
                 "mobile_water", "mobile_bypass", "free_water", "pond_water"):  # fmt: skip
        assert trace[name].min() >= -1e-12, name
    assert (trace["over_edge"] <= trace["spilled"]).all()
    assert ((trace["water_stress"] >= -1e-12) & (trace["water_stress"] <= 1.0)).all()
    assert ((trace["waterlogged_share"] >= 0.0) & (trace["waterlogged_share"] <= 1.0)).all()
    assert trace["largest_depth_on_deck_mm"].max() <= described["edge_level"] + 1e-9
    if described["blocked_fraction"] == 1.0:
        assert trace["drained"].sum() == 0.0


@settings(max_examples=60)
@given(seed=st.integers(0, 100_000))
def test_no_peak_is_higher_than_the_rain_on_a_bare_deck(seed: int) -> None:
    rng = np.random.default_rng(seed)
    described, rain = random_bare(rng), random_storm(rng, 5.0)
    trace, _ = traced(described, rain)
    # a level may pass the steady one by what the search for it leaves: 1e-7
    assert (trace["drained"] + trace["spilled"]).max() <= rain.max() * (1.0 + 1e-7)


@pytest.mark.parametrize("seed", range(16))
def test_plain_python_equals_compiled_bit_for_bit(seed: int) -> None:
    rng = np.random.default_rng(seed)
    described = any_roof(rng)
    rain = np.where(rng.random(400) < 0.2, rng.gamma(0.5, 4.0, 400), 0.0)
    e0 = rng.random(400) * 0.03
    columns = columns_of(described, 5.0)
    start = columns.start(0.9)[:, 0]
    fast, fast_last = run_trace(rain, e0, columns, start)
    slow, slow_last = run_trace(rain, e0, columns, start, plain=True)
    for name in minute_steps.TRACE:
        np.testing.assert_array_equal(slow[name], fast[name], err_msg=name)
    np.testing.assert_array_equal(slow_last, fast_last)


@pytest.mark.parametrize("seed", range(6))
def test_a_record_split_in_two_gives_the_same_numbers_bit_for_bit(seed: int) -> None:
    rng = np.random.default_rng(seed)
    described = any_roof(rng)
    rain = np.where(rng.random(600) < 0.2, rng.gamma(0.5, 4.0, 600), 0.0)
    e0 = rng.random(600) * 0.03
    whole, end = traced(described, rain, e0=e0)
    for cut in (1, 137, 300):
        first, _ = traced(described, rain[:cut], e0=e0[:cut])
        # the stores are outputs of every step: any step can be where a run begins
        start = [first[name][-1] for name in minute_steps.STORES]
        second, last = traced(described, rain[cut:], e0=e0[cut:], start=start)
        np.testing.assert_array_equal(last, end)
        for name in minute_steps.TRACE:
            np.testing.assert_array_equal(np.concatenate([first[name], second[name]]), whole[name], err_msg=name)


@pytest.mark.parametrize("plain", [False, True], ids=["compiled", "plain Python"])
@pytest.mark.parametrize("keep", [("free_water", "drained"), ("surface_water",), ()])
def test_what_is_kept_of_a_trace_is_what_the_whole_trace_has(keep: tuple[str, ...], plain: bool) -> None:
    rain = random_storm(np.random.default_rng(4), 5.0)
    columns = columns_of(roof(), 5.0)
    start = columns.start()[:, 0]
    whole, end = run_trace(rain, np.zeros(rain.size), columns, start, plain=plain)
    part, last = run_trace(rain, np.zeros(rain.size), columns, start, keep=keep, plain=plain)
    assert list(part) == list(keep)
    for name in keep:
        np.testing.assert_array_equal(part[name], whole[name], err_msg=name)
    np.testing.assert_array_equal(last, end)


@pytest.mark.parametrize("steps", [1, 2, 72])
def test_the_last_step_alone_is_the_last_of_the_whole_trace(steps: int) -> None:
    rng = np.random.default_rng(5)
    columns = minutes.planted_columns([roof(), roof(cup_capacity=0.0)], 5.0)
    rain, e0 = (as_read(rng.random((2, steps)) * most) for most in (2.0, 0.02))
    given = (rain, e0, as_read(np.zeros((2, steps))), np.arange(2), *columns.start(0.8))
    kept = ("held_water", "free_water")
    whole = cells.trace_minutes(columns, *given)
    last = cells.trace_minutes(columns, *given, keep=kept, last_alone=True)
    rows = [minute_steps.TRACE.index(name) for name in kept]
    np.testing.assert_array_equal(last, whole[:, rows, -1:])


# --- behaviour a designer would expect --------------------------------------------------------------------------


def test_a_series_that_may_be_written_needs_no_loop_of_its_own() -> None:
    """To numba it is another type, for which the loop would be compiled once more: ten seconds."""
    described, rain = roof(), np.repeat([1.5, 0.0], [12, 60])
    closed = rain.copy()
    closed.flags.writeable = False
    one, other = traced(described, rain), traced(described, closed)
    np.testing.assert_array_equal(one[0]["drained"], other[0]["drained"])
    assert len(compiled(minute_steps.trace_loop).signatures) == 1
    assert rain.flags.writeable


def test_a_bare_film_evaporates_at_reference_rate_until_it_is_gone() -> None:
    described = bare(film_capacity=1.0)
    trace, _ = traced(described, np.repeat([1.0, 0.0], [1, 23]), e0=np.repeat([0.0, 0.06], [1, 23]))
    np.testing.assert_allclose(trace["surface_water"], np.maximum(0.0, 1.0 - 0.06 * np.arange(24)), atol=1e-12)


def test_gravel_holds_water_in_its_pores_and_a_bare_deck_stands_lower_for_it() -> None:
    # a wedge of 0.4 pores stands higher than one of open water at the same outflow volume
    rain = np.repeat([3.0, 0.0], [12, 24])
    gravel, _ = traced(bare(gravel_depth=50.0, gravel_pores=0.4), rain)
    open_deck, _ = traced(bare(), rain)
    most = int(open_deck["free_water"].argmax())
    assert gravel["largest_depth_on_deck_mm"].max() > open_deck["largest_depth_on_deck_mm"].max()
    assert gravel["free_water"].max() < open_deck["free_water"][most]


@pytest.mark.parametrize("fall", [0.0, 0.02])
def test_blocking_raises_the_level_and_never_the_peak(fall: float) -> None:
    rain = np.repeat([4.0, 0.0], [12, 36])
    levels, peaks = [], []
    for blocked in (0.0, 0.5, 0.9, 1.0):
        trace, _ = traced(roof(fall=fall, blocked_fraction=blocked), rain)
        levels.append(trace["largest_depth_on_deck_mm"].max())
        peaks.append(trace["drained"].max())
    assert levels == sorted(levels)
    assert peaks == sorted(peaks, reverse=True)


def test_a_saturated_place_counts_as_waterlogged_and_a_drained_one_does_not() -> None:
    described = roof(fall=0.02, blocked_fraction=1.0, edge_level=130.0)
    trace, _ = traced(described, np.full(288, 1.0))
    # at the end the water stands at 130 mm at the outlets. Mobile water is (0.2/0.0115)^0.5 = 4.1703 mm, so the medium can
    # spare 40 - 24 - 4.1703 - 8 = 3.8297 mm, 19.149 mm of standing water at 16 mm in 80: wet where the deck is lower than
    # 130 - 25 - 19.149 mm, of 200
    assert trace["waterlogged_share"][-1] == pytest.approx(85.851 / 200.0, abs=1e-5)
    assert trace["waterlogged_share"][0] == 0.0


def test_where_the_fleece_limits_the_mobile_water_by_hand() -> None:
    # 30 mm/h is 0.5 mm/min; 0.0115 h^2 = 0.5 at h = 6.5938 mm. In 160 mm of medium k is half as large: 9.3250 mm
    columns = minutes.planted_columns([roof(fleece_rate=30.0), roof(fleece_rate=30.0, medium_depth=160.0)], 5.0)
    limits = dict(zip(minutes.ROWS, columns.parameters, strict=True))["limit_mobile"]
    assert limits == pytest.approx([6.5938, 9.3250], abs=1e-4)


def test_the_foot_ends_where_the_drainage_layer_begins_to_limit_by_hand() -> None:
    # level deck, 25 mm of board with 15 mm of water: 0.6 mm a mm. The layer takes 0.01 L/(s m) at a gradient of 0.02; its own
    # water, 25 mm in 10 m, is 0.0025: 0.01 sqrt(0.125) L/s over 10 m2 = 0.0212132 mm/min
    # the weir of a round outlet of 100 mm: 0.5 x 100 h^1.5 / 7500 L/s over 100 m2 = 0.004 h^1.5 mm/min, so h = 3.0411 mm
    columns = minutes.planted_columns([roof(fall=0.0, in_plane_flow=0.01)], 5.0)
    row = dict(zip(minutes.ROWS, columns.parameters[:, 0], strict=True))
    assert row["in_plane_least"] == pytest.approx(0.0212132, abs=1e-6)
    assert row["foot_water"] == pytest.approx(0.6 * 3.0411, abs=1e-4)


def test_largest_mean_is_over_5_minutes_or_the_step() -> None:
    assert minutes.largest_mean(np.array([0.0, 1.0, 3.0, 0.0]), 15.0) == pytest.approx(12.0)
    # a record shorter than 5 minutes: 1 mm in 2 min counts as 1 mm in 5
    assert minutes.largest_mean(np.array([0.5, 0.5]), 1.0) == pytest.approx(12.0)
    # 5 steps of 1 min: 1 + 2 + 3 + 2 + 1 = 9 mm in 5 min
    assert minutes.largest_mean(np.array([0.0, 1.0, 2.0, 3.0, 2.0, 1.0, 0.0]), 1.0) == pytest.approx(108.0)
    # steps of 2 min: two and a half of them, 3 + 2 + half of 2 in 5 min
    assert minutes.largest_mean(np.array([0.0, 2.0, 3.0, 2.0, 0.0]), 2.0) == pytest.approx(72.0)
    # and where the half lies after the whole ones: 3 + 3 + half of 2
    assert minutes.largest_mean(np.array([0.0, 3.0, 3.0, 2.0, 0.0]), 2.0) == pytest.approx(84.0)


def test_a_missing_value_is_missing_throughout() -> None:
    columns = minutes.planted_columns([roof()], 5.0)
    trace, last = run_trace(np.array([1.0, np.nan, 0.0]), np.zeros(3), columns, columns.start()[:, 0])
    assert all(np.isnan(row).all() for row in trace.values()) and np.isnan(last).all()


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (
            lambda: minutes.planted_columns([roof()], 61.0),
            "a step must be 1 to 60 min, given 61; sum or split the rain",
        ),
        (lambda: minutes.planted_columns([], 5.0), "no design is given"),
        (lambda: minutes.bare_columns([], 5.0), "no deck is given"),
        (lambda: minutes.bare_columns([{"fall": 0.0}], 5.0), "not given for a bare deck: area_m2, blocked_fraction"),
        (
            lambda: minutes.run_trace(np.ones(3), np.ones(2), minutes.planted_columns([roof()], 5.0), np.zeros(7)),
            r"one value per step each, given shapes \(3,\), \(2,\) and \(3,\)",
        ),
    ],
)
def test_bad_input_is_named(call, message: str) -> None:
    with pytest.raises(RunoffError, match=message):
        call()
