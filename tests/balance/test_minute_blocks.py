"""Blocks of columns in minutes: the bits of the single roof, whatever its neighbours do, and totals that are its sums."""

import dataclasses

import numpy as np
import pytest

from runoff.balance import minute_lanes, minute_steps, minutes
from tests.balance.minute_roofs import bare, random_bare, random_roof, roof


def weather(step: float, count: int = 1500) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return rain, reference evapotranspiration and run-on: some wet hours, sine days, now and then run-on."""
    rng = np.random.default_rng(11)
    wet = np.repeat(rng.random(count // 25) < 0.15, 25)
    rain = np.where(wet, rng.gamma(0.4, 1.5 * step / 5.0, count), 0.0)
    e0 = np.maximum(0.0, np.sin(np.arange(count) * 2 * np.pi * step / 1440.0)) * 0.05 * step / 5.0
    return rain, e0, np.where(np.arange(count) % 50 == 3, 0.3, 0.0)


def planted(count: int) -> list[dict]:
    designs = [random_roof(np.random.default_rng(seed)) for seed in range(count)]
    # plain roofs too, so that whole blocks rest between rains
    return designs + [roof(area_m2=50.0 + 10.0 * i, field_water=20.0 + 0.2 * i) for i in range(34)]


def columns_of(kind: str, step: float) -> minutes.MinuteColumns:
    if kind == "planted":
        return minutes.planted_columns(planted(48), step)
    return minutes.bare_columns([random_bare(np.random.default_rng(seed)) for seed in range(36)], step)


@pytest.mark.parametrize(("kind", "step"), [("planted", 1.0), ("planted", 5.0), ("planted", 15.0), ("bare", 2.0)])
def test_a_block_equals_the_single_roof_bit_for_bit(kind: str, step: float) -> None:
    rain, e0, run_on = weather(step)
    columns = columns_of(kind, step)
    stores = columns.start(0.9)
    totals, last = minutes.run_totals(rain, e0, columns, stores, run_on=run_on)
    for i in range(stores.shape[1]):
        trace, own = minutes.run_trace(rain, e0, columns, stores[:, i], run_on=run_on, design=i)
        np.testing.assert_array_equal(last[:, i], own)
        overflow = trace["drained"] + trace["spilled"]
        water = sum(trace[name] for name in minute_steps.STORES if name != "mobile_bypass")
        # sums are formed in another order: 1,500 terms of a few mm
        expected = {name: trace[name].sum() for name in ("drained", "spilled", "over_edge", "evapotranspiration")}
        expected["largest_drained_rate"] = minutes.largest_mean(trace["drained"], step)
        expected["largest_overflow_rate"] = minutes.largest_mean(overflow, step)
        expected["largest_water_mm"] = water.max()
        expected["waterlogged_hours"] = trace["waterlogged_share"].sum() * step / 60.0
        for name, value in expected.items():
            assert totals[name][i] == pytest.approx(value, abs=1e-9), (i, name)
        assert totals["largest_depth_on_deck_mm"][i] == trace["largest_depth_on_deck_mm"].max()


@pytest.mark.slow
@pytest.mark.parametrize(("kind", "step"), [("planted", 7.0), ("bare", 2.0)])
def test_the_block_loop_in_plain_python_is_the_compiled_one_to_the_last_bit(
    kind: str, step: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    rain, run_on = np.zeros(30), np.zeros(30)
    # gentle rain, rain that stands on the medium and reaches the emergency overflows, and what is left of it until all rest
    rain[1:8], run_on[10] = [0.4, 2.0, 6.0, 40.0, 60.0, 3.0, 0.1], 1.0
    e0 = np.where(np.arange(30) % 3 == 0, 0.04, 0.0)
    columns = columns_of(kind, step)
    unlike = np.linspace(0, columns.laws.shape[1] - 1, minute_lanes.LANES).astype(int)
    columns = dataclasses.replace(
        columns, parameters=columns.parameters[:, unlike].copy(), laws=columns.laws[:, unlike].copy()
    )
    fast = minutes.run_totals(rain, e0, columns, columns.start(0.9), run_on=run_on)
    monkeypatch.setattr(minutes, "compiled", lambda loop: loop)
    with np.errstate(divide="ignore", invalid="ignore"):  # of lanes at rest, whose numbers are not taken
        plain = minutes.run_totals(rain, e0, columns, columns.start(0.9), run_on=run_on)
    assert plain[1].tobytes() == fast[1].tobytes()
    for name, values in fast[0].items():
        np.testing.assert_array_equal(plain[0][name], values, err_msg=name)


def test_what_no_outlet_takes_stays_while_the_deck_rests(monkeypatch: pytest.MonkeyPatch) -> None:
    """Plain Python here: 0.5 mm on a sealed deck stay, by hand; the open deck beside it lets go, sooner or later."""
    columns = minutes.planted_columns([roof(blocked_fraction=1.0, cup_capacity=0.0, mat_capacity=0.0), roof()], 5.0)
    stores = columns.start()
    stores[minute_steps.STORES.index("free_water")] = 0.5
    monkeypatch.setattr(minutes, "compiled", lambda loop: loop)
    with np.errstate(divide="ignore", invalid="ignore"):  # of lanes at rest, whose numbers are not taken
        totals, last = minutes.run_totals(np.zeros(6), np.zeros(6), columns, stores)
    assert list(last[:, 0]) == list(stores[:, 0])
    assert totals["drained"][0] == totals["spilled"][0] == 0.0 < totals["drained"][1]


def test_what_is_left_on_a_bare_deck_is_a_pond_while_it_runs_off(monkeypatch: pytest.MonkeyPatch) -> None:
    """Plain Python here: without pores all free water stands in the open, and without rain it only grows less."""
    columns = minutes.bare_columns([bare()], 5.0)
    stores = columns.start()[:, 0]
    stores[minute_steps.STORES.index("free_water")] = 5.0
    monkeypatch.setattr(minutes, "pick", lambda loop, steps: loop)
    trace, _ = minutes.run_trace(np.zeros(4), np.zeros(4), columns, stores, design=0)
    assert list(trace["pond_water"]) == list(trace["free_water"])
    assert (np.diff(trace["free_water"], prepend=5.0) < 0.0).all()
    assert trace["drained"].sum() + trace["free_water"][-1] == pytest.approx(5.0, abs=1e-9)  # nothing else takes any


def test_neighbours_in_a_block_do_not_matter() -> None:
    designs = planted(30)
    rain, e0, _ = weather(5.0)
    order = np.random.default_rng(1).permutation(len(designs))
    straight, shuffled = (
        minutes.run_totals(rain, e0, columns, columns.start())
        for columns in (
            minutes.planted_columns(designs, 5.0), minutes.planted_columns([designs[i] for i in order], 5.0)
        )
    )  # fmt: skip
    np.testing.assert_array_equal(straight[1][:, order], shuffled[1])
    for name in minute_lanes.TOTALS:
        np.testing.assert_array_equal(straight[0][name][order], shuffled[0][name])


def test_totals_of_a_run_split_in_time_end_in_the_same_stores() -> None:
    rain, e0, _ = weather(5.0)
    columns = minutes.planted_columns(planted(10), 5.0)
    _, whole = minutes.run_totals(rain, e0, columns, columns.start())
    _, first = minutes.run_totals(rain[:900], e0[:900], columns, columns.start())
    _, second = minutes.run_totals(rain[900:], e0[900:], columns, first)
    np.testing.assert_array_equal(whole, second)


def test_missing_values_are_missing_in_the_totals_of_their_designs() -> None:
    columns = minutes.planted_columns([roof(), roof(area_m2=50.0)], 5.0)
    stores = columns.start()
    totals, last = minutes.run_totals(np.array([1.0, np.nan]), np.zeros(2), columns, stores)
    assert all(np.isnan(row).all() for row in totals.values()) and np.isnan(last).all()
    stores[4, 1] = np.nan
    totals, _ = minutes.run_totals(np.ones(3), np.zeros(3), columns, stores)
    assert all(np.isnan(row[1]) and not np.isnan(row[0]) for row in totals.values())
