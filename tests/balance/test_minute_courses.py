"""Courses of many columns in minutes: the bits of each column's own trace, whoever runs beside it."""

import numpy as np
import pytest

from runoff.balance import minute_courses, minute_steps, minutes
from runoff.balance.minute_courses import run_courses
from runoff.balance.minutes import run_trace
from runoff.errors import RunoffError
from tests.balance.minute_roofs import bare, random_bare, random_roof, roof


def weather(step: float, count: int = 1500) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return rain, reference evapotranspiration and run-on: some wet hours, sine days, now and then run-on."""
    rng = np.random.default_rng(11)
    wet = np.repeat(rng.random(count // 25) < 0.15, 25)
    rain = np.where(wet, rng.gamma(0.4, 1.5 * step / 5.0, count), 0.0)
    e0 = np.maximum(0.0, np.sin(np.arange(count) * 2 * np.pi * step / 1440.0)) * 0.05 * step / 5.0
    return rain, e0, np.where(np.arange(count) % 50 == 3, 0.3, 0.0)


def columns_of(kind: str, step: float) -> minutes.MinuteColumns:
    if kind == "planted":
        designs = [random_roof(np.random.default_rng(seed)) for seed in range(16)]
        return minutes.planted_columns([*designs, roof(), designs[3], roof()], step)
    return minutes.bare_columns([random_bare(np.random.default_rng(seed)) for seed in range(12)], step)


@pytest.mark.parametrize(("kind", "step"), [("planted", 1.0), ("planted", 5.0), ("planted", 15.0), ("bare", 2.0)])
@pytest.mark.parametrize("shared_out", [False, True])
def test_courses_are_those_of_each_trace_bit_for_bit(
    kind: str, step: float, shared_out: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(minute_courses, "_SHARED_OUT", 0 if shared_out else 10**12)
    monkeypatch.setattr(minute_courses, "_SLICE", 2)
    rain, e0, run_on = weather(step)
    columns = columns_of(kind, step)
    stores = columns.start(0.9)
    found = run_courses(rain, e0, columns, stores, minute_steps.TRACE, run_on=run_on)
    for i in range(stores.shape[1]):
        trace, last = run_trace(rain, e0, columns, stores[:, i], run_on=run_on, design=i)
        assert found.stores[:, i].tobytes() == last.tobytes()
        for name, course in trace.items():
            assert found.kept[name][i].tobytes() == course.tobytes(), (i, name)
    assert np.abs(found.open_mm).max() < 1e-9  # rounding of 1,500 steps of a few mm
    assert list(stores[:, 0]) == list(columns.start(0.9)[:, 0]), "the stores given are left as they are"


def test_each_column_may_have_its_own_weather() -> None:
    rain, e0, run_on = weather(5.0, 300)
    columns = columns_of("planted", 5.0)
    count = columns.parameters.shape[1]
    of_each = rain * np.linspace(0.5, 1.5, count)[:, None]
    found = run_courses(of_each, e0, columns, columns.start(), ["drained", "spilled"], run_on=run_on)
    assert list(found.kept) == ["drained", "spilled"]
    for i in range(count):
        trace, _ = run_trace(of_each[i], e0, columns, columns.start()[:, i], run_on=run_on, design=i)
        assert found.kept["drained"][i].tobytes() == trace["drained"].tobytes()


def test_columns_alike_to_the_last_bit_are_run_once(monkeypatch: pytest.MonkeyPatch) -> None:
    runs = []
    own = minute_courses.run_design
    monkeypatch.setattr(minute_courses, "run_design", lambda *given: runs.append(1) or own(*given))
    columns = minutes.planted_columns([roof(), roof(area_m2=50.0), roof(), roof()], 5.0)
    stores = columns.start()
    stores[minute_steps.STORES.index("free_water"), 3] = 0.5  # the last begins otherwise
    rain, e0, _ = weather(5.0, 50)
    found = run_courses(rain, e0, columns, stores, ["drained"])
    assert len(runs) == 3
    assert found.kept["drained"][0].tobytes() == found.kept["drained"][2].tobytes()
    runs.clear()
    twice = np.array([rain, rain, 2.0 * rain, rain])
    run_courses(twice, e0, columns, columns.start(), [])
    assert len(runs) == 3, "the third has other weather, the fourth is the first"


def test_nothing_kept_still_ends_in_the_stores_of_a_run_split_in_time() -> None:
    rain, e0, _ = weather(5.0)
    columns = columns_of("planted", 5.0)
    whole = run_courses(rain, e0, columns, columns.start(), [])
    first = run_courses(rain[:900], e0[:900], columns, columns.start(), [])
    second = run_courses(rain[900:], e0[900:], columns, first.stores, [])
    np.testing.assert_array_equal(whole.stores, second.stores)
    assert whole.kept == {}


def test_plain_python_gives_the_bits_of_the_compiled_loop(monkeypatch: pytest.MonkeyPatch) -> None:
    rain, e0, run_on = weather(5.0, 50)
    columns = columns_of("planted", 5.0)
    fast = run_courses(rain, e0, columns, columns.start(), ["drained"], run_on=run_on)
    monkeypatch.setattr(minute_courses, "pick", lambda loop, steps: loop)
    plain = run_courses(rain, e0, columns, columns.start(), ["drained"], run_on=run_on)
    assert plain.stores.tobytes() == fast.stores.tobytes()
    assert plain.kept["drained"].tobytes() == fast.kept["drained"].tobytes()


def test_water_that_is_lost_shows_in_the_balance(monkeypatch: pytest.MonkeyPatch) -> None:
    own = minute_courses.run_design

    def leaking(*given):
        own(*given)
        given[-2][minute_steps.STORES.index("held_water")] -= 0.5  # of the last stores

    monkeypatch.setattr(minute_courses, "run_design", leaking)
    rain, e0, _ = weather(5.0, 50)
    columns = columns_of("planted", 5.0)
    assert run_courses(rain, e0, columns, columns.start(), []).open_mm == pytest.approx(0.5, abs=1e-9)


def test_missing_values_are_missing_in_their_columns() -> None:
    columns = minutes.planted_columns([roof(), roof(area_m2=50.0)], 5.0)
    stores = columns.start()
    found = run_courses(np.array([1.0, np.nan]), np.zeros(2), columns, stores, ["drained"])
    assert np.isnan(found.kept["drained"]).all() and np.isnan(found.stores).all() and np.isnan(found.open_mm).all()
    stores[4, 1] = np.nan
    found = run_courses(np.ones(3), np.zeros(3), columns, stores, ["drained"])
    assert np.isnan(found.kept["drained"][1]).all() and not np.isnan(found.kept["drained"][0]).any()
    of_each = np.array([[1.0, np.nan], [1.0, 1.0]])
    found = run_courses(of_each, np.zeros(2), columns, columns.start(), ["drained"])
    assert np.isnan(found.kept["drained"][0]).all() and not np.isnan(found.kept["drained"][1]).any()


def test_series_of_unlike_lengths_are_refused() -> None:
    columns = minutes.planted_columns([roof()], 5.0)
    with pytest.raises(RunoffError, match=r"one value per step each, given shapes \(3,\), \(2,\) and \(3,\)"):
        run_courses(np.ones(3), np.zeros(2), columns, columns.start(), [])


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
