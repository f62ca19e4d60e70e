"""The foot of the deck: a dry one that fills, against the equation solved by a general solver."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from runoff.balance import deck_foot

MINUTES = 1.0


@pytest.mark.parametrize("wedge", [True, False])
@pytest.mark.parametrize("theta", [1e-3, 0.05, 0.5, 2.0, 10.0, 50.0, 1e3, 1e6])
def test_a_dry_deck_fills_within_half_a_percent(wedge: bool, theta: float) -> None:
    """V = a u^4 on a wedge (a = bend/4), b u^2 on a level deck; q = weir u^3; theta = weir u^3 t/inflow with all of it standing.

    In shares of the inflow and of the minute V' = 1 - theta V^(3/4) on a wedge, 1 - theta V^(3/2) on a level deck.
    """
    power = 0.75 if wedge else 1.5
    theirs = solve_ivp(
        lambda t, v: 1.0 - theta * np.maximum(v, 0.0) ** power, (0.0, 1.0), [0.0], method="LSODA", rtol=1e-10, atol=1e-14
    ).y[0, -1]  # fmt: skip
    inflow, weir = 2.0, 0.05
    if wedge:  # inflow = a full^4 and theta = weir full^3 / inflow
        full = (theta * inflow / weir) ** (1.0 / 3.0)
        slope, bend, on_wedge, on_level = 0.0, 4.0 * inflow / full**4, full / inflow**0.25, 0.0
    else:
        full = (theta * inflow / weir) ** (1.0 / 3.0)
        slope, bend, on_wedge, on_level = inflow / full**2, 0.0, 0.0, full / inflow**0.5
    left, u = deck_foot.foot_run_off(
        0.0, inflow, MINUTES, slope, bend, weir, on_wedge, on_level, 0.0, 0.0, trickle=0.0
    )  # fmt: skip
    assert (1.0 - left / inflow) == pytest.approx(1.0 - theirs, rel=0.006, abs=1e-12)
    assert u**2 == pytest.approx(full**2 * theirs ** (0.5 if wedge else 1.0), rel=0.007)
    # never higher than where as much runs off as arrives: what is left of two Newton steps
    assert weir * u**3 <= inflow / MINUTES * (1.0 + 1e-7)
    assert left == pytest.approx(u**2 * (slope + 0.25 * bend * u**2), rel=1e-12)


def test_a_slow_level_deck_holds_what_its_level_says() -> None:
    # 0.6 mm per mm, a weir so small that it loses 0.1 % in the minute: half the inflow, the emptying, the other half
    slope, weir, start, inflow = 0.6, 1e-4, 6.0, 1.2
    slowing = 0.5 * weir / slope
    left, u = deck_foot.foot_run_off(
        start, inflow, MINUTES, slope, 0.0, weir, 0.0, slope**-0.5, 0.0, slowing, trickle=0.0
    )  # fmt: skip
    assert slope * u**2 == pytest.approx(left, rel=1e-12)
    # q at the mean level, 11 mm: 1e-4 x 11^1.5 mm/min
    assert start + inflow - left == pytest.approx(1e-4 * 11.0**1.5, rel=1e-3)
