"""Sentences formed in SI, told in US customary units: the reports of weather, whose words come from many places."""

from __future__ import annotations

import re
from collections.abc import Callable

from runoff.saying.numbers import fixed
from runoff.units import convert

_NUMBER = r"-?\d[\d,]*(?:\.\d+)?"
#: What stands in quotation marks is a unit to be typed, not an amount.
_AMOUNTS = re.compile(
    rf'(?<!["\d.,])({_NUMBER})(?:( to | and |-)({_NUMBER}))? (mm|degC)\b(?! ?/)(?: (warmer|colder))?(?:, mean ({_NUMBER}))?'
)
_TARGETS = {"mm": "in", "degC": "degF"}
_LONG_MM = 500.0  # from here on a tenth of an inch says as much as a millimetre


def in_us_units(sentence: str, told: Callable[[str, str], str] = lambda us, si: us) -> str:
    """Return a sentence with its depths and temperatures in US customary units.

    Parameters
    ----------
    sentence
        Words with amounts in mm and degC.
    told
        What stands for an amount, from its words in US units and as they were; by default the former alone.

    Examples
    --------
    >>> in_us_units("868 to 1451 mm, at most 64.3 mm in 1 day")
    '34.2 to 57.1 in, at most 2.53 in in 1 day'
    >>> in_us_units("-15.6 to 37.5 degC, mean 9.7; 5 degC warmer than usual")
    '3.9 to 99.5 degF, mean 49.5; 9 degF warmer than usual'
    >>> in_us_units('give the unit, for example "0.1 mm"')
    'give the unit, for example "0.1 mm"'
    """

    def one(found: re.Match[str]) -> str:
        low, between, high, unit, differs, mean = found.groups()
        words = _of(low, unit, bool(differs)) + (f"{between}{_of(high, unit)}" if high else "")
        words += (
            f" {_TARGETS[unit]}" + (f" {differs}" if differs else "") + (f", mean {_of(mean, unit)}" if mean else "")
        )
        return told(words, found[0])

    return _AMOUNTS.sub(one, sentence)


def _of(written: str, unit: str, difference: bool = False) -> str:
    """Return a number in the US unit, with decimals that say as much as it did in SI."""
    value = float(written.replace(",", ""))
    if unit == "degC":
        return fixed(1.8 * value if difference else convert(value, unit, "degF"), 1, trimmed="." not in written)
    return fixed(convert(value, unit, "in"), 1 if value >= _LONG_MM else 2 if value >= 1.0 or value == 0.0 else 3)
