"""What a person typed: quantities (``60mm``, ``2.4 in``, ``55%``) turned into the unit wanted, and words put on one line."""

from __future__ import annotations

import math
import re
import unicodedata

from runoff.errors import RunoffError
from runoff.saying.numbers import value_words
from runoff.units import convert

_QUANTITY = re.compile(r"^\s*([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)\s*(.*?)\s*$")

#: Kinds of signs that are no words: they steer a terminal or a printer, end a line, or cannot be written to a file.
_NO_WORDS = ("Cc", "Cs", "Zl", "Zp")


def on_one_line(text: str) -> str:
    r"""Return words as given, on one line and without signs that steer a terminal or a printer.

    Examples
    --------
    >>> on_one_line("Quay roof\x1b[31m,\nnorth")
    'Quay roof [31m, north'
    """
    if text.isprintable():
        return text
    return "".join(" " if unicodedata.category(sign) in _NO_WORDS else sign for sign in text)


def read_quantity(text: str, unit: str, *, bare: str = "") -> float:
    """Return a quantity in `unit`.

    Parameters
    ----------
    text
        Number and unit, with or without a blank between them.
    unit
        The unit wanted.
    bare
        The unit of a number that stands alone; by default such a number is refused, since mm and inches look alike.

    Returns
    -------
    float
        In `unit`.

    Raises
    ------
    RunoffError
        When it is no number, has no unit, or one that measures something else. The message begins where the name of what
        was asked for belongs before it.

    Examples
    --------
    >>> read_quantity("2.5in", "mm"), read_quantity("55 %", "1", bare="1"), read_quantity("0.55", "1", bare="1")
    (63.5, 0.55, 0.55)
    """
    found = _QUANTITY.match(text)
    if not found or not math.isfinite(float(found[1])):
        raise RunoffError(f'is a number with its unit, for example {_example(unit)} (given "{text}")')
    given = found[2] or bare
    if not given:
        raise RunoffError(f'needs a unit, for example {_example(unit)} (given "{text}")')
    try:
        return float(convert(float(found[1]), given, unit))
    except RunoffError as error:
        raise RunoffError(
            f'is a number with its unit, for example {_example(unit)} (given "{text}"): {error}'
        ) from None


def _example(unit: str) -> str:
    from runoff.saying.scales import SCALES, kind_of

    other = SCALES[kind_of(unit)].us if kind_of(unit) in SCALES else unit
    typical = {"mm": 60.0, "1": 0.5}.get(unit, 10.0)
    if unit == "1":
        return "0.5 or 50%"
    if other == unit:
        return f"{value_words(typical)}{unit}"
    return f"{value_words(typical)}{unit} or {float(convert(typical, unit, other)):.3g}{other}"
