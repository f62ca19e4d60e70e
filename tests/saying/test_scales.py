"""The one table of units and decimals: it converts within a dimension, and every module goes by it."""

import ast
import math
from pathlib import Path

import numpy as np
import pytest

from runoff.errors import RunoffError
from runoff.saying.scales import SCALES, Units, converted, kind_of, say, scale_of, shown, typeset, unit_shown
from runoff.units import _TABLE, convert

ROOM = Path(__file__).resolve().parents[2] / "runoff"


@pytest.mark.parametrize("kind", SCALES)
def test_both_units_of_a_kind_measure_the_same(kind: str) -> None:
    scale = SCALES[kind]
    assert scale.si == scale.us or convert(1.0, scale.si, scale.us)  # raises when they do not
    assert min(scale.si_digits, scale.us_digits) >= 0


@pytest.mark.parametrize("unit", _TABLE)
def test_every_unit_to_show_has_a_kind_or_stays_as_it_is(unit: str) -> None:
    kind = kind_of(unit)
    if kind in SCALES:
        assert math.isfinite(shown(1.0, unit, system="us").value)
    assert Units("us").name(unit) or unit == "1"


@pytest.mark.parametrize(
    ("value", "unit", "kind", "si", "us"),
    [
        # worked by hand from the exact inch, foot, gallon and pound
        (612.34, "mm", "yearly depth", "612 mm", "24.1 in"),  # 612.34 / 25.4 = 24.108
        (3.0, "mm", "layer depth", "3 mm", "0.12 in"),  # a thin mat: 0.1181 in
        (2.5, "mm", "layer depth", "2.5 mm", "0.1 in"),  # 0.0984 in, idle zeros left away
        (60.0, "mm", "level", "60 mm", "2.36 in"),
        (1.0, "L/s", "", "1.00 L/s", "15.9 gpm"),  # 60 / 3.785411784 = 15.850
        (45.2, "m3", "", "45.2 m3", "11,941 gal"),  # 45200 / 3.785411784 = 11940.6
        (0.425, "1", "share", "43 %", "43 %"),
        (120.0, "m2", "", "120 m2", "1,292 ft2"),  # 120 / 0.09290304 = 1291.67
        (100.0, "kg/m2", "", "100.0 kg/m2", "20.5 lb/ft2"),  # x 0.204816
        (5.0, "day/year", "", "5.0 days/year", "5.0 days/year"),
        (25.4, "mm day/year", "excess", "25 mm day/year", "1.0 in day/year"),
        (20.0, "degC", "", "20.0 degC", "68.0 degF"),
        (36.0, "mm/h", "release", "100 L/(s ha)", "1.43 ft3/(s acre)"),  # 1 ft3/(s acre) = 25.195 mm/h
        (math.nan, "mm", "", "-", "-"),
    ],
)
def test_a_number_in_both_systems(value: float, unit: str, kind: str, si: str, us: str) -> None:
    assert say(value, unit, kind) == si
    assert say(value, unit, kind, "us") == us


def test_gallons_per_minute_have_one_count_of_decimals() -> None:
    assert {scale.us_digits for scale in SCALES.values() if scale.us == "gpm"} == {1}


def test_arrays_are_converted_whole() -> None:
    np.testing.assert_allclose(converted(np.array([25.4, 50.8]), "mm", "yearly depth", "us"), [1.0, 2.0])
    np.testing.assert_allclose(converted(np.array([0.5]), "1", "share"), [50.0])


def test_what_is_not_known_is_said() -> None:
    with pytest.raises(RunoffError, match=r'^units must be "si" or "us" \(given "metric"\)$'):
        shown(1.0, "mm", system="metric")
    with pytest.raises(RunoffError, match=r'^"flw" is no kind of quantity \(did you mean "flow"\?\); kinds: depth, '):
        scale_of("flw")
    with pytest.raises(
        RunoffError, match=r'^"mm" measures depth, "L/s" measures flow; one cannot be converted to the other$'
    ):
        say(1.0, "mm", "flow")


def test_units_in_print() -> None:
    assert [typeset(unit) for unit in ("kN/m2", "m3", "lb/ft3", "degF", "percent", "1", "L/s")] == [
        "kN/m²", "m³", "lb/ft³", "°F", "%", "", "L/s",
    ]  # fmt: skip
    assert unit_shown("1") == "" and unit_shown("day") == "days"


#: Units that are only ever shown to readers of US customary units.
_US_SHOWN = {"gpm", "gal", "lb/ft2", "in/day", "in day/year", "gpm/ft", "ft2", "lb"}
#: The closed table of units, the table of how they are shown, and names of properties, whose ends carry units.
_MAY = {"units.py", "saying/scales.py", "saying/properties.py"}


def units_in_tables(tree: ast.AST) -> set[str]:
    """Return the US units that stand as a value in a dict, or beside decimals in a tuple: a table of how to show things."""
    found: list[ast.expr] = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Dict):
            found += node.values
        elif isinstance(node, ast.Tuple) and any(
            isinstance(one, ast.Constant) and isinstance(one.value, int) for one in node.elts
        ):
            found += node.elts
    return {node.value for node in found if isinstance(node, ast.Constant) and isinstance(node.value, str)} & _US_SHOWN


@pytest.mark.slow
def test_no_other_module_keeps_a_table_of_units() -> None:
    for path in ROOM.rglob("*.py"):
        where = str(path.relative_to(ROOM))
        kept = units_in_tables(ast.parse(path.read_text(encoding="utf-8")))
        assert where in _MAY or not kept, f"{where} keeps {sorted(kept)}; take them from runoff.saying.scales"


def test_such_a_table_is_seen() -> None:
    assert units_in_tables(ast.parse('_SHOWN = {"us": {"L/s": ("gpm", 1)}, "m2": "ft2"}')) == {"gpm", "ft2"}
