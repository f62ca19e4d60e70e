"""The trial of growing grids, in short: it runs a grid in a process of its own, and its exponents are those of powers."""

import pytest

from tests.trials.large_grid import exponent, taken

pytest.importorskip("zarr", reason="grids need the extra `large`")


def test_exponents_of_powers() -> None:
    # worked by hand: 2 n, and 3 times the root of n
    assert exponent([1, 10, 100], [2.0, 20.0, 200.0]) == pytest.approx((2.0, 1.0))
    assert exponent([1, 100, 10_000], [3.0, 30.0, 300.0]) == pytest.approx((3.0, 0.5))


@pytest.mark.slow
def test_a_small_grid_takes_less_than_a_gigabyte() -> None:
    one = taken(400, 400)
    assert one.cells == 400
    assert one.memory_mb < 1000.0  # what the largest grid may take
    assert 0.0 < one.retention[0] < one.retention[1] < 1.0  # no cell is missing, and cells differ
