"""The least and the largest value of a part of a store, by the compiled pass and by numpy."""

import numpy as np
import pytest

from runoff.balance.loop_choice import compiled
from runoff.weather.record import extremes
from runoff.weather.record.extremes import least_and_largest


@pytest.fixture(autouse=True)
def loaded() -> None:
    """Load the compiled loops, so that the compiled pass is taken."""
    compiled(extremes._look)


@pytest.mark.parametrize("dtype", ["f4", "f8", "f2"])
@pytest.mark.parametrize("size", [0, 1, 255, 256, 257, 1000, 5000])
def test_they_are_those_of_numpy(dtype: str, size: int) -> None:
    """At every place of the array, with missing values."""
    rng = np.random.default_rng(size)
    for _ in range(20):
        some = (100 * rng.normal(size=size)).astype(dtype)
        if size and some.dtype.kind == "f":
            some[rng.integers(size, size=size // 5)] = np.nan
        whole = some[: size // 2 * 2].reshape(2, -1) if size % 2 == 0 else some
        expected = np.fmin.reduce(whole, axis=None, initial=np.inf), np.fmax.reduce(whole, axis=None, initial=-np.inf)
        assert least_and_largest(whole) == expected
        assert least_and_largest(whole.T) == expected
        assert least_and_largest(whole[::-1]) == expected


def test_missing_throughout_and_infinite() -> None:
    """No value is between plus and minus infinity; an infinite one is one."""
    assert least_and_largest(np.full(600, np.nan)) == (np.inf, -np.inf)
    assert least_and_largest(np.array([np.nan, np.inf] * 300)) == (np.inf, np.inf)


def test_plain_python_gives_the_same() -> None:
    """The source of the compiled pass, uncompiled."""
    values, seen = np.random.default_rng(1).normal(size=1000), np.empty(2 * extremes._LANES)
    values[5] = np.nan
    extremes._look(values, seen)
    assert seen[: extremes._LANES].min() == np.nanmin(values)
    assert seen[extremes._LANES :].max() == np.nanmax(values)


def test_what_is_kept_is_of_the_same_numbers() -> None:
    """Kept for the next check of the same part in any order of its dimensions, and never beyond the last check or for another part."""
    values = np.arange(1200.0).reshape(3, 400)
    assert least_and_largest(values, more_checks=True) == (0.0, 1199.0)
    assert least_and_largest(values[1], more_checks=True) == (400.0, 799.0)
    assert least_and_largest(values, more_checks=True) == (0.0, 1199.0)
    assert least_and_largest(values.T) == (0.0, 1199.0)
    values[0, 0] = -5.0
    assert least_and_largest(values) == (-5.0, 1199.0)
