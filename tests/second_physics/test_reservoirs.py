"""Single stores against differential equations and by hand; printed values stand in `tests/published`."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from runoff.errors import RunoffError
from tests.second_physics import reservoirs


def test_a_long_cascade_follows_the_differential_equation() -> None:
    inflow = np.array([0.0, 4.0, 9.0, 2.0, 0.0, 0.0])
    y = np.zeros(5)
    for steady in inflow:  # rtol 1e-10 of the solver leaves 1e-8
        y = solve_ivp(lambda t, q, i=steady: (np.append(i, q[:-1]) - q) / 7.0, (0.0, 5.0), y, rtol=1e-10, atol=1e-12).y[
            :, -1
        ]
    assert reservoirs.linear_cascade(inflow, 5.0, 7.0, 5)[-1] == pytest.approx(y[-1], rel=1e-7)


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


# HDS-2 (FHWA-NHI-02-001, 2nd ed. 2002), Example 7.2, 600 mm pipe
HDS2_STORAGE = [0, 200, 500, 900, 1400, 2100, 3400, 4000, 4700, 5400]
HDS2_INFLOW = [0, 0.30, 0.60, 0.85, 1.10, 1.40, 1.70, 1.40, 1.10, 0.85, 0.60, 0.30, 0]
HDS2_OUTFLOW = [0, 0.12, 0.36, 0.57, 0.74, 0.88, 0.99, 1.46, 2.33, 3.45]


def test_routing_conserves_water() -> None:
    inflow = np.array(HDS2_INFLOW)
    outflow, storage = reservoirs.storage_indication(inflow, 1800.0, HDS2_STORAGE, HDS2_OUTFLOW)
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
