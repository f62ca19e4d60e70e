"""The closed table of units against an independent library, against exact definitions, and against misuse."""

import functools

import numpy as np
import pint
import pytest
import xarray as xr

import runoff
from runoff.units import (
    _ALIASES,
    _TABLE,
    canonical_unit,
    convert,
    require_units,
    to_depth,
    to_intensity,
    unit_dimension,
)


@functools.cache
def registry() -> pint.UnitRegistry:
    """Return the library's units, read when the first test asks: that takes a second, and every process collects all files."""
    return pint.UnitRegistry()


#: Base unit of each dimension, and every unit of the table, as the library spells them.
BASE = {
    "depth": "mm",
    "intensity": "mm/hour",
    "area": "m**2",
    "volume": "liter",
    "flow": "liter/second",
    "flow per width": "liter/second/meter",
    "load": "kg/m**2",
    "density": "kg/m**3",
    "mass": "kg",
    "duration": "hour",
    "fraction": "dimensionless",
    "radiation": "MJ/m**2/day",
    "speed": "m/s",
    "pressure": "kPa",
    "days a year": "day/year",
    "excess": "mm*day/year",
    "per depth": "1/mm",
}
LIBRARY = {
    **{"mm": "mm", "cm": "cm", "m": "m", "in": "inch", "ft": "foot", "L/m2": "liter/m**2", "0.1 mm": "0.1 mm"},
    **{"mm/h": "mm/hour", "mm/min": "mm/minute", "mm/s": "mm/s", "mm/day": "mm/day", "m/s": "m/s", "in/h": "inch/hour"},
    **{"in/day": "inch/day", "m/day": "m/day", "L/(s ha)": "liter/second/hectare"},
    **{"ft3/(s acre)": "foot**3/second/(43560*foot**2)"},
    **{"m2": "m**2", "cm2": "cm**2", "ft2": "foot**2", "ha": "hectare"},
    **{"L": "liter", "m3": "m**3", "gal": "gallon", "ft3": "foot**3", "yd3": "yard**3"},
    **{"L/s": "liter/second", "m3/s": "m**3/second", "gpm": "gallon/minute", "ft3/s": "foot**3/second"},
    **{"L/(s m)": "liter/second/meter", "gpm/ft": "gallon/minute/foot"},
    **{"kg/m2": "kg/m**2", "lb/ft2": "pound/foot**2", "kg/m3": "kg/m**3", "lb/ft3": "pound/foot**3"},
    **{
        "kg": "kg",
        "g": "gram",
        "lb": "pound",
        "h": "hour",
        "0.1 h": "0.1 hour",
        "min": "minute",
        "s": "second",
        "day": "day",
    },
    **{"day/year": "day/year", "mm day/year": "mm*day/year", "in day/year": "inch*day/year"},
    **{"1/mm": "1/mm", "1/in": "1/inch"},
    **{"1": "dimensionless", "percent": "percent", "%": "percent"},
    **{"MJ m-2 d-1": "MJ/m**2/day", "W m-2": "W/m**2"},
    **{"m s-1": "m/s", "0.1 m s-1": "0.1 m/s", "km/h": "km/hour", "mph": "mile/hour"},
    **{"kPa": "kPa", "hPa": "hPa", "Pa": "Pa"},
}
# not of the base's dimension for the library: these rest on the density of water (1 kg/m2 = 1 mm), on standard gravity
# (a load as force), on a day of 86 400 s (energy in a day), or carry an offset; each has its own test below
APART = {"kg m-2", "kg m-2 s-1", "kN/m2", "J cm-2", "degC", "K", "degF", "0.1 degC"}


def test_every_unit_of_the_table_is_checked_by_something() -> None:
    assert set(_TABLE) == set(LIBRARY) | APART


@pytest.mark.parametrize("unit", LIBRARY)
def test_factor_equals_the_library(unit: str) -> None:
    base = BASE[unit_dimension(unit)]
    expected = registry().Quantity(LIBRARY[unit]).to(base).magnitude
    house = next(one for one, (kind, factor, _) in _TABLE.items() if kind == unit_dimension(unit) and factor == 1.0)
    assert convert(1.0, unit, house) == pytest.approx(expected, rel=1e-12)  # both rest on exact definitions


def test_units_that_rest_on_water_gravity_or_a_day() -> None:
    water = registry().Quantity(1000, "kg/m**3")
    assert convert(1.0, "kg m-2", "mm") == pytest.approx((registry().Quantity("1 kg/m**2") / water).to("mm").magnitude)
    rate = (registry().Quantity("1 kg/m**2/s") / water).to("mm/hour").magnitude
    assert convert(1.0, "kg m-2 s-1", "mm/h") == pytest.approx(rate, rel=1e-12)
    force = (registry().Quantity("1 kN/m**2") / registry().standard_gravity).to("kg/m**2").magnitude
    assert convert(1.0, "kN/m2", "kg/m2") == pytest.approx(force, rel=1e-12)
    day = registry().Quantity("1 J/cm**2").to("MJ/m**2").magnitude
    assert convert(1.0, "J cm-2", "MJ m-2 d-1") == pytest.approx(day, rel=1e-12)


@pytest.mark.parametrize(("unit", "name"), [("K", "kelvin"), ("degF", "degF"), ("degC", "degC")])
@pytest.mark.parametrize("value", [-40.0, 0.0, 32.0, 273.15])
def test_temperatures(unit: str, name: str, value: float) -> None:
    expected = registry().Quantity(value, name).to("degC").magnitude
    assert convert(value, unit, "degC") == pytest.approx(expected, abs=1e-10)
    assert convert(convert(value, unit, "degC"), "degC", unit) == pytest.approx(value, abs=1e-10)


def test_tenths_of_a_degree() -> None:
    assert convert(215.0, "0.1 degC", "degC") == pytest.approx(21.5)


@pytest.mark.parametrize("alias", _ALIASES)
def test_every_other_spelling_leads_to_the_table(alias: str) -> None:
    assert canonical_unit(alias) in _TABLE and alias not in _TABLE
    assert canonical_unit(f"  {alias} ") == canonical_unit(alias)


def test_there_and_back_for_every_pair() -> None:
    for given, (kind, *_) in _TABLE.items():
        for wanted, (other, *_) in _TABLE.items():
            if kind == other:
                assert convert(convert(7.5, given, wanted), wanted, given) == pytest.approx(7.5, rel=1e-12)


def test_arrays_keep_their_shape_and_missing_values() -> None:
    found = convert(np.array([[1.0, np.nan], [2.0, 0.0]]), "in", "mm")
    np.testing.assert_array_equal(found, [[25.4, np.nan], [50.8, 0.0]])


def test_unknown_unit_and_mixed_dimensions() -> None:
    with pytest.raises(
        runoff.RunoffError, match=r'^unit "inchs" is not known \(did you mean "inches"\?\); known units: mm, cm, m'
    ):
        convert(1.0, "inchs", "mm")
    with pytest.raises(
        runoff.RunoffError,
        match=r'^"mm" measures depth, "mm/h" measures intensity; one cannot be converted to the other$',
    ):
        convert(1.0, "mm", "mm/h")
    with pytest.raises(runoff.RunoffError, match="measures intensity"):
        convert(1.0, "mph", "m/s")  # speed of the wind is no rain


def rain(values: list[float], units: str | None, freq: str = "30min") -> xr.DataArray:
    time = xr.date_range("2020-06-01", periods=len(values), freq=freq)
    return xr.DataArray(
        values, coords={"time": time}, dims="time", name="rain", attrs={"units": units} if units else {}
    )


def test_depth_and_intensity_meet_in_two_functions_only() -> None:
    intensity = to_intensity(rain([1.0, 3.0, 0.0], "mm"))
    np.testing.assert_allclose(intensity, [2.0, 6.0, 0.0])  # mm in half an hour, by hand
    assert intensity.attrs["units"] == "mm/h"
    np.testing.assert_allclose(to_depth(intensity), [1.0, 3.0, 0.0])
    np.testing.assert_allclose(to_depth(rain([1.0, 0.5], "in/h")), [12.7, 6.35])
    np.testing.assert_allclose(to_depth(rain([1.0 / 86400] * 2, "kg m-2 s-1", "D")), [1.0, 1.0])  # 1 mm a day


@pytest.mark.parametrize(
    ("depth", "rate"),
    [("precipitation_amount", "lwe_precipitation_rate"), ("rainfall_amount", "rainfall_rate"), (None, None)],
)
def test_a_rate_does_not_keep_the_standard_name_of_an_amount(depth: str | None, rate: str | None) -> None:
    """Names of the CF standard name table; the amounts are depths or masses, the rates depths or masses a second."""
    given = rain([1.0, 3.0], "mm").assign_attrs({} if depth is None else {"standard_name": depth})
    assert to_intensity(given).attrs.get("standard_name") == rate
    assert to_depth(to_intensity(given)).attrs.get("standard_name") == depth
    assert "standard_name" not in to_intensity(given.assign_attrs(standard_name="air_temperature")).attrs


def test_required_units() -> None:
    depth = rain([1.0, 2.0], "in")
    np.testing.assert_allclose(require_units(depth, "mm", "simulate"), [25.4, 50.8])
    assert require_units(depth, "mm", "simulate").attrs["units"] == "mm"
    with pytest.raises(runoff.RunoffError, match=r'^simulate: `rain` has no units; set rain\.attrs\["units"\] = "mm"$'):
        require_units(rain([1.0], None), "mm", "simulate")
    with pytest.raises(
        runoff.RunoffError, match=r'^simulate: `rain` has units "mm/h", needs "mm"; use runoff\.to_depth\(rain\)$'
    ):
        require_units(rain([1.0], "mm/h"), "mm", "simulate")
    with pytest.raises(runoff.RunoffError, match=r'^simulate: `rain` has units "degC", needs "mm"$'):
        require_units(rain([1.0], "degC"), "mm", "simulate")
    with pytest.raises(runoff.RunoffError, match=r"^to_depth: `rain` needs a time axis of at least two steps$"):
        to_depth(rain([1.0], "mm/h"))


def test_steps_that_are_not_alike() -> None:
    odd = rain([1.0, 2.0, 3.0, 4.0], "mm").isel(time=[0, 1, 3])
    with pytest.raises(
        runoff.RunoffError,
        match=r"^to_intensity: the steps of time are not all alike; the first odd one follows 2020-06-01T00:30$",
    ):
        to_intensity(odd)
