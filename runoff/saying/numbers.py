"""Numbers as text: rounded once and in one way, wherever they are printed."""

from __future__ import annotations

import math
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

import numpy as np

# A number is first brought to this many significant digits, then rounded, half away from zero. What arithmetic leaves in
# the last bits (30.95 may be held as 30.949999999999999) must not decide a printed digit.
_SNAP = 12
#: A number from here on has no decimals left in double precision.
_NO_DECIMALS = 1e15


def rounded(value: float, digits: int) -> float:
    """Return a number rounded as it is printed; halves go away from zero, and rounding noise does not decide.

    Examples
    --------
    >>> rounded(30.95, 1), rounded(30.949999999999996, 1), rounded(-0.04, 1), rounded(2.5, 0)
    (31.0, 31.0, 0.0, 3.0)
    """
    if not math.isfinite(value) or abs(value) >= _NO_DECIMALS:
        return value
    step = Decimal(1).scaleb(-digits)
    return float(Decimal(f"{value:.{_SNAP - 1}e}").quantize(step, ROUND_HALF_UP)) + 0.0


def fixed(value: float, digits: int, *, trimmed: bool = False, missing: str = "-") -> str:
    """Return a number with so many decimals and commas between thousands; `missing` where there is none.

    Parameters
    ----------
    value
        The number.
    digits
        Decimals; -2 rounds to hundreds.
    trimmed
        Leave zeros at the end away.
    missing
        What stands for a missing or infinite number.

    Returns
    -------
    str
        Halves rounded away from zero, as `rounded` does.

    Examples
    --------
    >>> fixed(30.95, 1), fixed(1234.5, 0), fixed(-0.04, 1), fixed(80.0, 1, trimmed=True), fixed(float("nan"), 1)
    ('31.0', '1,235', '0.0', '80', '-')
    >>> fixed(60_695.4, -2)
    '60,700'
    """
    if not math.isfinite(value):
        return missing
    text = f"{rounded(value, digits):,.{max(digits, 0)}f}"
    return text.rstrip("0").rstrip(".") if trimmed and "." in text else text


def number(value: float, digits: int = 2) -> str:
    """Return a number for a sentence: `digits` significant digits, none lost before the point, no idle zeros after it.

    Examples
    --------
    >>> number(1234.5), number(3.456), number(0.0123), number(5.0)
    ('1,235', '3.5', '0.012', '5')
    """
    if not math.isfinite(value):
        return "missing"
    if value == 0.0:
        return "0"
    places = max(0, digits - 1 - math.floor(math.log10(abs(value))))
    return fixed(value, min(places, 6), trimmed=True)


def plain(value: Any) -> str:
    """Return a value of a property as a designer writes it: three significant digits, no idle zeros.

    Examples
    --------
    >>> plain(80.0), plain(0.005), plain(36000.0), plain("brick")
    ('80', '0.005', '36,000', 'brick')
    """
    if isinstance(value, int | float | np.number) and not isinstance(value, bool | np.bool_):
        return f"{float(f'{float(value):.3g}'):,.10g}"
    return str(value)


def value_words(value: Any) -> str:
    """Return a value of a property without idle zeros.

    Examples
    --------
    >>> value_words(80.0), value_words(0.3333333), value_words(36000), value_words(False), value_words("pumice mix")
    ('80', '0.333333', '36000', 'no', 'pumice mix')
    """
    if isinstance(value, bool | np.bool_):
        return "yes" if value else "no"
    return f"{value:.6g}" if isinstance(value, int | float | np.number) else str(value)


def share(value: float) -> str:
    """Return a fraction as whole percent.

    Examples
    --------
    >>> share(0.425)
    '43 %'
    """
    return f"{fixed(100.0 * value, 0)} %"


def days(count: float) -> str:
    """Return a count of days in words.

    Examples
    --------
    >>> days(1.0), days(12.4)
    ('1 day', '12 days')
    """
    whole = int(rounded(count, 0))
    return f"{whole} day{'' if whole == 1 else 's'}"
