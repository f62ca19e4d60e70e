"""Numbers as text: rounding by hand, by the rule that halves go away from zero and noise does not decide."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runoff.saying.numbers import days, fixed, number, plain, rounded, share


@pytest.mark.parametrize(
    ("value", "digits", "expected"),
    [
        (30.95, 1, 31.0),  # held as 30.949999999999999: a plain format gives 30.9
        (30.950000000000003, 1, 31.0),  # the same number after a conversion and back
        (30.949999999999996, 1, 31.0),
        (30.94, 1, 30.9),
        (0.125, 2, 0.13),  # exactly half: away from zero
        (-0.125, 2, -0.13),
        (2.5, 0, 3.0),
        (-0.04, 1, 0.0),
        (1e15, 0, 1e15),
        (5e-324, 2, 0.0),
    ],
)
def test_rounding(value: float, digits: int, expected: float) -> None:
    assert rounded(value, digits) == expected
    assert math.copysign(1.0, rounded(value, digits)) == (1.0 if expected == 0.0 else math.copysign(1.0, expected))


@given(st.integers(-(10**8), 10**8), st.integers(0, 3), st.floats(-1e-13, 1e-13))
def test_noise_in_the_last_bits_never_moves_a_printed_digit(whole: int, digits: int, noise: float) -> None:
    half = (whole + 0.5) / 10**digits
    assert rounded(half * (1.0 + noise), digits) == rounded(half, digits)


def test_missing_numbers_are_a_dash() -> None:
    assert fixed(math.nan, 1) == fixed(math.inf, 1) == "-"
    assert number(math.nan) == "missing"


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [(80.0, 1, "80"), (2.5, 1, "2.5"), (1000.0, 0, "1,000"), (0.0, 2, "0"), (0.1, 2, "0.1")],
)
def test_what_a_person_wrote_down_keeps_no_idle_zeros(value: float, digits: int, text: str) -> None:
    assert fixed(value, digits, trimmed=True) == text


def test_words() -> None:
    assert (share(0.5), share(0.005), days(1.4), days(0.0)) == ("50 %", "1 %", "1 day", "0 days")
    assert plain(True) == "True"
