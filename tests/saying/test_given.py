"""Quantities as a person types them, by hand."""

import pytest

from runoff.errors import RunoffError
from runoff.saying.given import read_quantity


@pytest.mark.parametrize(
    ("text", "unit", "bare", "expected"),
    [
        ("60mm", "mm", "", 60.0),
        (" 2.5 in ", "mm", "", 63.5),
        (".5ft", "mm", "", 152.4),
        ("1e1cm", "mm", "", 100.0),
        ("55%", "1", "1", 0.55),
        ("55 percent", "1", "1", 0.55),
        ("0.55", "1", "1", 0.55),
        ("12", "mm", "in", 304.8),
        ("3 days/year", "day/year", "day/year", 3.0),
        ("-3mm", "mm", "", -3.0),
    ],
)
def test_what_is_read(text: str, unit: str, bare: str, expected: float) -> None:
    assert read_quantity(text, unit, bare=bare) == pytest.approx(expected, rel=1e-15)


@pytest.mark.parametrize(
    ("text", "unit", "message"),
    [
        ("60", "mm", r'^needs a unit, for example 60mm or 2\.36in \(given "60"\)$'),
        ("sixty", "mm", r'^is a number with its unit, for example 60mm or 2\.36in \(given "sixty"\)$'),
        ("", "L/s", r'^is a number with its unit, for example 10L/s or 159gpm \(given ""\)$'),
        ("1e999mm", "mm", r'^is a number with its unit, for example 60mm or 2\.36in \(given "1e999mm"\)$'),
        ('4"', "mm", r'^is a number with its unit, .* \(given "4""\): unit """ is not known; known units: '),
        (
            "3kg",
            "mm",
            r'\(given "3kg"\): "kg" measures mass, "mm" measures depth; one cannot be converted to the other$',
        ),
    ],
)
def test_what_is_refused(text: str, unit: str, message: str) -> None:
    with pytest.raises(RunoffError, match=message):
        read_quantity(text, unit)
