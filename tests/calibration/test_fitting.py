"""The numbers of a fit, by hand."""

import numpy as np
import pytest

from runoff.calibration.fitting import fit, goodness


def test_goodness_by_hand() -> None:
    # observed 0 2 4 (mean 2, squares about it 8), modelled 1 2 4.5: squares 1 + 0 + 0.25 = 1.25; sums 6 and 7.5
    found = goodness(np.array([0.0, 2.0, np.nan, 4.0]), np.array([1.0, 2.0, 9.0, 4.5]))
    assert found["days"] == 3
    assert found["nash_sutcliffe"] == pytest.approx(1.0 - 1.25 / 8.0)
    assert found["volume_error_percent"] == pytest.approx(25.0)
    assert found["rmse_mm"] == pytest.approx((1.25 / 3.0) ** 0.5)


def test_range_of_a_straight_line_by_hand() -> None:
    """y = b x at x = 1, 2, 3 with y = 1, 2, 4: b = 17/14, squares left 5/14, error of b = sqrt(5/28/14)."""
    x, y = np.array([1.0, 2.0, 3.0]), np.array([1.0, 2.0, 4.0])
    found = fit(lambda b: b[0] * x - y, np.array([[0.0, 3.0]]), np.array([1.0]), uneven=False)
    assert found.best[0] == pytest.approx(17.0 / 14.0, rel=1e-6)
    # Student's t for 2 degrees of freedom at 95 %: 2.920, as every printed table has it (three decimals)
    assert found.high[0] - found.best[0] == pytest.approx(2.920 * (5.0 / 28.0 / 14.0) ** 0.5, rel=2e-4)


def test_a_flat_direction_leaves_the_whole_allowed_range() -> None:
    """Only the sum of two values is seen: each alone may be anything, and the two go against each other."""
    x, wobble = np.arange(1.0, 9.0), 0.01 * (-1.0) ** np.arange(8)
    for uneven in (True, False):
        found = fit(
            lambda v: (v[0] + v[1] - 1.0) * x - wobble, np.array([[0.0, 1.0]] * 2), np.array([0.4, 0.5]), uneven=uneven
        )
        assert found.best.sum() == pytest.approx(1.0, abs=1e-3)  # the wobble leans a little one way
        assert list(found.low) == [0.0, 0.0] and list(found.high) == [1.0, 1.0]
        assert found.correlation[0, 1] == pytest.approx(-1.0, abs=1e-3)
