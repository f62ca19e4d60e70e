"""What is drawn is what scipy would draw, to the last bit; scipy is the reference."""

import numpy as np
import pytest
from scipy import stats
from scipy.stats import qmc

from runoff.draws import Even, EvenByLogarithm, Triangle, latin_hypercube, normal_quantile, student_quantile

# the ends, shares so small that a root of them is all there is, and the rest of the way
SHARES = np.concatenate([[1e-300, 1e-9, 1.0 - 1e-12], np.random.default_rng(5).uniform(size=5000)])


@pytest.mark.parametrize(
    ("ours", "theirs"),
    [
        (Even(0.28, 0.38), stats.uniform(0.28, 0.38 - 0.28)),
        (Triangle(2.0, 3.0, 5.0), stats.triang((3.0 - 2.0) / (5.0 - 2.0), loc=2.0, scale=5.0 - 2.0)),
        (Triangle(2.0, 2.0, 5.0), stats.triang(0.0, loc=2.0, scale=5.0 - 2.0)),
        (Triangle(0.1, 0.7, 0.7), stats.triang(1.0, loc=0.1, scale=0.7 - 0.1)),
        (EvenByLogarithm(0.0003, 0.03), stats.loguniform(0.0003, 0.03)),
    ],
)
def test_quantiles(ours: Even | Triangle | EvenByLogarithm, theirs: object) -> None:
    np.testing.assert_array_equal(ours.ppf(SHARES), theirs.ppf(SHARES))
    # the logarithm of an end and back is off by one or two units in the last place
    np.testing.assert_allclose(ours.ppf([0.0, 1.0]), [ours.low, ours.high], rtol=1e-15)


def test_normal_quantiles() -> None:
    shares = [1e-9, 0.05, 0.5, 0.75, 0.95, 1.0 - 1e-9]
    # two published algorithms, both good to sixteen digits
    np.testing.assert_allclose([normal_quantile(one) for one in shares], stats.norm.ppf(shares), rtol=4e-16, atol=1e-16)


def test_students_quantiles() -> None:
    even = (np.arange(10_000) + 0.5) / 10_000
    for degrees in (1, 3, 5, 15.0, 46.5, 400.0):
        # near the ends a share itself is only good to 1e-16 / 5e-5 of what lies beyond it
        np.testing.assert_allclose(student_quantile(even, degrees), stats.t.ppf(even, degrees), rtol=4e-12)
    # of thousands of degrees the constant, a quotient of two great numbers, is good to ten digits
    for degrees, rtol in ((1.5, 1e-11), (2.25, 1e-11), (7.5, 1e-11), (20_000.0, 1e-10)):
        shares = [0.025, 0.05, 0.25, 0.5, 0.75, 0.95, 0.975]
        np.testing.assert_allclose(
            student_quantile(shares, degrees), stats.t.ppf(shares, degrees), rtol=rtol, atol=1e-16
        )
    # three rows of any printed table
    assert [round(float(student_quantile(0.95, one)), 3) for one in (1.0, 10.0, 30.0)] == [6.314, 1.812, 1.697]


@pytest.mark.parametrize(("members", "dimensions"), [(200, 13), (1, 1), (7, 2)])
def test_hypercubes(members: int, dimensions: int) -> None:
    theirs = qmc.LatinHypercube(d=dimensions, rng=np.random.default_rng(11)).random(members)
    np.testing.assert_array_equal(latin_hypercube(members, dimensions, 11), theirs)
