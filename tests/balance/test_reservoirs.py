"""Single stores against their closed forms at published or recomputed values, and routing against HDS-2."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from runoff.balance import reservoirs
from runoff.errors import RunoffError

# Block rain of 30 mm/h for 30 min on a linear store of 20 min: the closed form i (1 - e^(-t/k)), then the recession,
# evaluated by hand to five places. Tolerance: the places given.
BLOCK = {5: 6.63598, 10: 11.80408, 20: 18.96362, 30: 23.30610, 40: 14.13586, 60: 5.20029, 90: 1.16034, 120: 0.25891}


@pytest.mark.parametrize("step", [1.0, 5.0, 10.0])
def test_linear_store_hits_the_closed_form_at_any_step(step: float) -> None:
    times = np.arange(step, 120.0 + step / 2, step)
    outflow, volume = reservoirs.linear_store(np.where(times <= 30.0 + 1e-9, 30.0, 0.0), step, 20.0)
    for time, expected in BLOCK.items():
        if time % step == 0:
            assert outflow[round(time / step) - 1] == pytest.approx(expected, abs=1e-5)
    at_30 = round(30 / step)
    # at 30 min: stored k Q / 60 = 7.76870 mm, out 7.23130 mm, in 15 mm
    assert volume[:at_30].sum() / 60.0 == pytest.approx(7.23130, abs=1e-5)
    assert 20.0 * outflow[at_30 - 1] / 60.0 + volume[:at_30].sum() / 60.0 == pytest.approx(15.0, abs=1e-9)


def test_two_stores_in_series() -> None:
    # i (1 - e^(-t/k) (1 + t/k)) with i 30, k 20, evaluated by hand
    outflow = reservoirs.linear_cascade(np.full(6, 30.0), 10.0, 20.0, 2)
    np.testing.assert_allclose(outflow[[0, 1, 2, 5]], [2.70612, 7.92723, 13.26524, 24.02555], atol=1e-5)


def test_a_long_cascade_follows_the_differential_equation() -> None:
    inflow = np.array([0.0, 4.0, 9.0, 2.0, 0.0, 0.0])
    y = np.zeros(5)
    for steady in inflow:  # rtol 1e-10 of the solver leaves 1e-8
        y = solve_ivp(lambda t, q, i=steady: (np.append(i, q[:-1]) - q) / 7.0, (0.0, 5.0), y, rtol=1e-10, atol=1e-12).y[
            :, -1
        ]
    assert reservoirs.linear_cascade(inflow, 5.0, 7.0, 5)[-1] == pytest.approx(y[-1], rel=1e-7)


@pytest.mark.parametrize(
    ("exponent", "rate", "expected"),
    [
        (1.5, 0.05, {5: 8.22864, 10: 4.45825, 30: 1.05495, 60: 0.33661}),  # closed form, checked with an ODE solver
        (2.0, 0.02, {5: 6.66667, 10: 4.00000, 30: 1.53846, 60: 0.80000}),
    ],
)
def test_power_recession(exponent: float, rate: float, expected: dict[int, float]) -> None:
    got = reservoirs.power_recession(20.0, rate, exponent, list(expected))
    np.testing.assert_allclose(got, list(expected.values()), rtol=1e-5, atol=5e-6)


def test_power_recession_of_a_linear_and_of_an_emptying_store() -> None:
    assert reservoirs.power_recession(10.0, 0.1, 1.0, 10.0) == pytest.approx(10.0 / np.e)
    # m = 0.5: S^0.5 falls by c t / 2, so 9 mm with c 2 are gone after 3
    np.testing.assert_allclose(reservoirs.power_recession(9.0, 2.0, 0.5, [1.0, 3.0, 4.0]), [4.0, 0.0, 0.0], atol=1e-12)
    assert reservoirs.power_recession(0.0, 2.0, 0.5, 1.0) == 0.0


def test_square_store_under_steady_inflow() -> None:
    # (i/c)^0.5 tanh(t (i c)^0.5) with i 1, c 0.02
    got = reservoirs.square_store(0.0, 1.0, 0.02, [1.0, 5.0, 10.0, 20.0])
    np.testing.assert_allclose(got, [0.99339, 4.30529, 6.28183, 7.02183], atol=5e-6)
    assert reservoirs.square_store(20.0, 0.0, 0.02, 10.0) == pytest.approx(4.0)
    answer = solve_ivp(lambda t, s: 1.0 - 0.02 * s**2, (0.0, 8.0), [15.0], rtol=1e-10, atol=1e-12)
    assert reservoirs.square_store(15.0, 1.0, 0.02, 8.0) == pytest.approx(answer.y[0, -1], rel=1e-8)


def test_pond_emptying_over_a_weir() -> None:
    # A 200 m2, L 0.3 m, C 1.705, h0 0.1 m: closed form, mm to four places
    head = reservoirs.weir_drawdown(0.1, 200.0, 1.705 * 0.3, [60, 300, 600, 1800, 3600])
    np.testing.assert_allclose(1000.0 * head, [95.3185, 79.5328, 64.7619, 33.4946, 16.5817], atol=1e-4)


def test_pond_emptying_through_an_orifice() -> None:
    # A 200 m2, 50 mm, Cd 0.6, g 9.81, h0 0.1 m: K 0.00521832, empty after 24 239.8 s
    K = 0.6 * np.pi * 0.05**2 / 4.0 * np.sqrt(2.0 * 9.81)
    assert pytest.approx(0.00521832, abs=5e-9) == K
    head = reservoirs.orifice_drawdown(0.1, 200.0, K, [600, 3600, 7200, 24_239.0, 24_240.5])
    np.testing.assert_allclose(1000.0 * head[:3], [95.1107, 72.5025, 49.4164], atol=1e-4)
    assert head[3] > 0.0 and head[4] == 0.0


# HDS-2 (FHWA-NHI-02-001, 2nd ed. 2002), Example 7.2: rating, inflow, and the printed routing.
HDS2_STORAGE = [0, 200, 500, 900, 1400, 2100, 3400, 4000, 4700, 5400]
HDS2_INFLOW = [0, 0.30, 0.60, 0.85, 1.10, 1.40, 1.70, 1.40, 1.10, 0.85, 0.60, 0.30, 0]
HDS2_CASES = {
    "600 mm": (
        [0, 0.12, 0.36, 0.57, 0.74, 0.88, 0.99, 1.46, 2.33, 3.45],
        [0.11, 0.38, 0.59, 0.76, 0.89, 0.99, 1.44, 1.28, 1.03, 0.95, 0.88, 0.62],
        [175, 545, 970, 1506, 2266, 3363, 3969, 3769, 3446, 2969, 2127, 1045],
    ),
    "900 mm": (
        [0, 0.17, 0.51, 0.99, 1.42, 1.73, 1.98, 2.45, 3.32, 4.44],
        [0.13, 0.45, 0.73, 0.98, 1.22, 1.48, 1.52, 1.34, 1.02, 0.72, 0.44, 0.15],
        [153, 444, 687, 895, 1164, 1529, 1623, 1303, 936, 675, 440, 177],
    ),
}


@pytest.mark.parametrize("pipe", HDS2_CASES)
def test_storage_indication_routing_of_hds_2(pipe: str) -> None:
    rating, printed_outflow, printed_storage = HDS2_CASES[pipe]
    outflow, storage = reservoirs.storage_indication(np.array(HDS2_INFLOW), 1800.0, HDS2_STORAGE, rating)
    # the print was worked with rounded intermediate values: 0.006 m3/s and 5 m3
    np.testing.assert_allclose(outflow[1:], printed_outflow, atol=0.006)
    np.testing.assert_allclose(storage[1:], printed_storage, atol=5.0)
    assert outflow.argmax() == 7  # 3.5 h


def test_routing_conserves_water() -> None:
    rating = HDS2_CASES["600 mm"][0]
    inflow = np.array(HDS2_INFLOW)
    outflow, storage = reservoirs.storage_indication(inflow, 1800.0, HDS2_STORAGE, rating)
    came = 1800.0 * (inflow[:-1] + inflow[1:]).sum() / 2.0
    went = 1800.0 * (outflow[:-1] + outflow[1:]).sum() / 2.0
    assert came == pytest.approx(went + storage[-1], rel=1e-12)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: reservoirs.linear_store(np.ones(2), 0.0, 20.0), "linear store: `step` must be above 0, given 0"),
        (lambda: reservoirs.weir_drawdown(-0.1, 200.0, 0.5, 1.0), "weir drawdown: `start_head` must be 0 or more"),
        (lambda: reservoirs.storage_indication(np.ones(3), 1.0, [0, 2, 1], [0, 1, 2]), "sort the table by depth"),
        (lambda: reservoirs.storage_indication(np.ones(3), 1.0, [0, 2, 3], [0, 2, 1]), "outflow must not fall"),
        (lambda: reservoirs.storage_indication(np.ones(9), 1.0, [0, 1], [0, 0.1]), "above the last row of its table"),
    ],
)
def test_bad_input_is_named(call, message: str) -> None:
    with pytest.raises(RunoffError, match=message):
        call()
