"""The closed table of units that designers write, and the few conversions the package needs.

Inside the package depths are mm (= L/m2), intensities mm/h, areas m2, flows L/s, temperatures degC, loads
kg/m2. Numbers are converted once, at the door. A unit that is not in the table is refused, with the list of
those that are: a general parser is dangerous here (it reads ``gpm`` as a length and ``4"`` as a bare 4).

Factors are exact definitions: inch 25.4 mm, foot 0.3048 m, US gallon 231 in3, pound 0.45359237 kg, standard
gravity 9.80665 m/s2 (as collected in NIST Special Publication 811, Appendix B).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from runoff.errors import RunoffError, nearest, shown
from runoff.given_kinds import refuse_other_kinds

if TYPE_CHECKING:
    import xarray as xr

_INCH_MM = 25.4
_FOOT_M = 0.3048
_GALLON_L = 3.785411784
_POUND_KG = 0.45359237
_GRAVITY = 9.80665

# unit -> (dimension, factor to the base unit of that dimension, offset added after the factor)
_TABLE: dict[str, tuple[str, float, float]] = {
    # depth, base mm
    "mm": ("depth", 1.0, 0.0),
    "cm": ("depth", 10.0, 0.0),
    "m": ("depth", 1000.0, 0.0),
    "in": ("depth", _INCH_MM, 0.0),
    "ft": ("depth", 1000.0 * _FOOT_M, 0.0),
    "L/m2": ("depth", 1.0, 0.0),
    "kg m-2": ("depth", 1.0, 0.0),
    "0.1 mm": ("depth", 0.1, 0.0),
    # per depth, base 1/mm
    "1/mm": ("per depth", 1.0, 0.0),
    "1/in": ("per depth", 1.0 / _INCH_MM, 0.0),
    # intensity, base mm/h
    "mm/h": ("intensity", 1.0, 0.0),
    "mm/min": ("intensity", 60.0, 0.0),
    "mm/s": ("intensity", 3600.0, 0.0),
    "mm/day": ("intensity", 1.0 / 24.0, 0.0),
    "m/s": ("intensity", 3.6e6, 0.0),
    "in/h": ("intensity", _INCH_MM, 0.0),
    "in/day": ("intensity", _INCH_MM / 24.0, 0.0),
    "m/day": ("intensity", 1000.0 / 24.0, 0.0),
    "kg m-2 s-1": ("intensity", 3600.0, 0.0),
    "L/(s ha)": ("intensity", 0.36, 0.0),
    "ft3/(s acre)": ("intensity", 3.6e6 * _FOOT_M / 43560.0, 0.0),
    # area, base m2
    "m2": ("area", 1.0, 0.0),
    "ft2": ("area", _FOOT_M**2, 0.0),
    "ha": ("area", 10000.0, 0.0),
    "cm2": ("area", 1e-4, 0.0),
    # volume, base L
    "L": ("volume", 1.0, 0.0),
    "m3": ("volume", 1000.0, 0.0),
    "gal": ("volume", _GALLON_L, 0.0),
    "ft3": ("volume", 1000.0 * _FOOT_M**3, 0.0),
    "yd3": ("volume", 27000.0 * _FOOT_M**3, 0.0),
    # flow, base L/s
    "L/s": ("flow", 1.0, 0.0),
    "m3/s": ("flow", 1000.0, 0.0),
    "gpm": ("flow", _GALLON_L / 60.0, 0.0),
    "ft3/s": ("flow", 1000.0 * _FOOT_M**3, 0.0),
    # flow per metre of width, base L/(s m)
    "L/(s m)": ("flow per width", 1.0, 0.0),
    "gpm/ft": ("flow per width", _GALLON_L / 60.0 / _FOOT_M, 0.0),
    # mass per area, base kg/m2; force per area is the weight of that mass
    "kg/m2": ("load", 1.0, 0.0),
    "kN/m2": ("load", 1000.0 / _GRAVITY, 0.0),
    "lb/ft2": ("load", _POUND_KG / _FOOT_M**2, 0.0),
    # density, base kg/m3
    "kg/m3": ("density", 1.0, 0.0),
    "lb/ft3": ("density", _POUND_KG / _FOOT_M**3, 0.0),
    # mass, base kg
    "kg": ("mass", 1.0, 0.0),
    "g": ("mass", 0.001, 0.0),
    "lb": ("mass", _POUND_KG, 0.0),
    # temperature, base degC
    "degC": ("temperature", 1.0, 0.0),
    "K": ("temperature", 1.0, -273.15),
    "degF": ("temperature", 5.0 / 9.0, -160.0 / 9.0),
    "0.1 degC": ("temperature", 0.1, 0.0),
    # hours of sunshine, base h
    "h": ("duration", 1.0, 0.0),
    "0.1 h": ("duration", 0.1, 0.0),
    "min": ("duration", 1.0 / 60.0, 0.0),
    "s": ("duration", 1.0 / 3600.0, 0.0),
    "day": ("duration", 24.0, 0.0),
    # counts of days and sums of depth over days, per year
    "day/year": ("days a year", 1.0, 0.0),
    "mm day/year": ("excess", 1.0, 0.0),
    "in day/year": ("excess", _INCH_MM, 0.0),
    # plain numbers
    "1": ("fraction", 1.0, 0.0),
    "percent": ("fraction", 0.01, 0.0),
    "%": ("fraction", 0.01, 0.0),
    # radiation per day, base MJ m-2 d-1
    "MJ m-2 d-1": ("radiation", 1.0, 0.0),
    "W m-2": ("radiation", 0.0864, 0.0),
    "J cm-2": ("radiation", 0.01, 0.0),
    # speed of the wind, base m s-1 (kept apart from rain intensity: nobody means one by the other)
    "m s-1": ("speed", 1.0, 0.0),
    "0.1 m s-1": ("speed", 0.1, 0.0),
    "km/h": ("speed", 1.0 / 3.6, 0.0),
    "mph": ("speed", 1609.344 / 3600.0, 0.0),
    # pressure, base kPa
    "kPa": ("pressure", 1.0, 0.0),
    "hPa": ("pressure", 0.1, 0.0),
    "Pa": ("pressure", 0.001, 0.0),
}

# Spellings met in files (CF conventions, station services, US practice) for entries of the table.
_ALIASES: dict[str, str] = {
    "millimeter": "mm",
    "millimetre": "mm",
    "millimeters": "mm",
    "millimetres": "mm",
    "inch": "in",
    "inches": "in",
    "l/m2": "L/m2",
    "kg/m^2": "kg m-2",
    "kg m**-2": "kg m-2",
    "mm h-1": "mm/h",
    "mm h**-1": "mm/h",
    "mm/hr": "mm/h",
    "mm hr-1": "mm/h",
    "in/hr": "in/h",
    "mm d-1": "mm/day",
    "mm/d": "mm/day",
    "mm d**-1": "mm/day",
    "mm day-1": "mm/day",
    "mm s-1": "mm/s",
    "mm s**-1": "mm/s",
    "m d-1": "m/day",
    "m day-1": "m/day",
    "kg m-2 d-1": "mm/day",
    "kg m-2 day-1": "mm/day",
    "kg/m2/s": "kg m-2 s-1",
    "kg m**-2 s**-1": "kg m-2 s-1",
    "kg/(m2 s)": "kg m-2 s-1",
    "l/s": "L/s",
    "sq ft": "ft2",
    "sqft": "ft2",
    "psf": "lb/ft2",
    "pcf": "lb/ft3",
    "cfs": "ft3/s",
    "cfs/acre": "ft3/(s acre)",
    "C": "degC",
    "°C": "degC",
    "celsius": "degC",
    "Celsius": "degC",
    "degrees_celsius": "degC",
    "deg_C": "degC",
    "degree_Celsius": "degC",
    "kelvin": "K",
    "degK": "K",
    "°F": "degF",
    "fahrenheit": "degF",
    "hour": "h",
    "hours": "h",
    "minutes": "min",
    "d": "day",
    "days": "day",
    "days/year": "day/year",
    "fraction": "1",
    "MJ/m2": "MJ m-2 d-1",
    "MJ m-2": "MJ m-2 d-1",
    "MJ m-2 day-1": "MJ m-2 d-1",
    "W/m2": "W m-2",
    "W/m^2": "W m-2",
    "J/cm2": "J cm-2",
}


def canonical_unit(unit: str) -> str:
    """Return the table's spelling of `unit`.

    Raises
    ------
    RunoffError
        When the unit is not in the closed table; the message lists the known ones.
    """
    text = " ".join(str(unit).split())
    name = _ALIASES.get(text, text)
    if name not in _TABLE:
        known = ", ".join(u for u in _TABLE)
        raise RunoffError(
            f'unit "{shown(unit)}" is not known{nearest(text, [*_TABLE, *_ALIASES])}; known units: {known}'
        )
    return name


def unit_dimension(unit: str) -> str:
    """Return what a unit measures, for example ``depth`` for ``in``."""
    return _TABLE[canonical_unit(unit)][0]


def convert(values: Any, given: str, wanted: str) -> Any:
    """Convert numbers or arrays from one unit of the table to another of the same dimension.

    Parameters
    ----------
    values
        Number or array in units `given`.
    given, wanted
        Units of the closed table or their usual spellings.

    Returns
    -------
    float or numpy.ndarray
        The values in `wanted`, in the shape given.

    Raises
    ------
    RunoffError
        When a unit is unknown or the two measure different things.

    Examples
    --------
    >>> convert(4.0, "in", "mm")
    101.6
    >>> round(convert(1.0, "gpm", "L/s"), 9)
    0.063090197
    """
    source, target = canonical_unit(given), canonical_unit(wanted)
    if source == target:
        return values
    kind, factor, offset = _TABLE[source]
    kind_wanted, factor_wanted, offset_wanted = _TABLE[target]
    if kind != kind_wanted:
        raise RunoffError(
            f'"{given}" measures {kind}, "{wanted}" measures {kind_wanted}; one cannot be converted to the other'
        )
    if offset == offset_wanted == 0.0:
        return values * (factor / factor_wanted)
    return (values * factor + offset - offset_wanted) / factor_wanted


def require_units(labelled: xr.DataArray, wanted: str, where: str) -> xr.DataArray:
    """Return `labelled` in units `wanted`, converted when its own units allow it.

    Parameters
    ----------
    labelled
        Array with ``units`` in its attributes.
    wanted
        Unit of the closed table.
    where
        Function that asks, for the message.

    Returns
    -------
    xarray.DataArray
        The array given where its units are `wanted` already, else a converted copy that says so.

    Raises
    ------
    RunoffError
        When the array carries no ``units`` attribute or one that measures something else. A depth where
        an intensity is wanted, or the reverse, names the function that converts.
    """
    name = labelled.name or "array"
    given = labelled.attrs.get("units")
    if given is None:
        raise RunoffError(f'{where}: `{name}` has no units; set {name}.attrs["units"] = "{wanted}"')
    try:
        kind, kind_wanted = unit_dimension(given), unit_dimension(wanted)
    except RunoffError as error:
        raise RunoffError(f"{where}: `{name}`: {error}") from None
    if kind != kind_wanted:
        hint = ""
        if {kind, kind_wanted} == {"depth", "intensity"}:
            hint = f"; use runoff.{'to_depth' if kind_wanted == 'depth' else 'to_intensity'}({name})"
        raise RunoffError(f'{where}: `{name}` has units "{given}", needs "{wanted}"{hint}')
    if canonical_unit(given) == canonical_unit(wanted):
        return labelled
    converted: xr.DataArray = convert(labelled, given, wanted)
    converted.attrs = {**labelled.attrs, "units": wanted}
    return converted


def to_depth(rain: xr.DataArray) -> xr.DataArray:
    """Turn a rain intensity into the depth of each step.

    Parameters
    ----------
    rain
        Intensity (any of ``mm/h``, ``mm/day``, ``kg m-2 s-1`` ...) on a regular ``time``.

    Returns
    -------
    xarray.DataArray
        Depth, mm per step. This and `to_intensity` are the only places where depth and intensity meet.
    """
    refuse_other_kinds("to_depth", rain=rain)
    intensity = require_units(rain, "mm/h", "to_depth")
    depth = intensity * _step_hours(rain, "to_depth")
    depth.attrs = {**_named(rain.attrs, _AMOUNT_OF_RATE), "units": "mm", "cell_methods": "time: sum"}
    return depth


def to_intensity(rain: xr.DataArray) -> xr.DataArray:
    """Turn the rain depth of each step into its mean intensity, mm/h.

    Parameters
    ----------
    rain
        Depth per step (``mm``, ``in`` ...) on a regular ``time``.
    """
    refuse_other_kinds("to_intensity", rain=rain)
    depth = require_units(rain, "mm", "to_intensity")
    intensity = depth / _step_hours(rain, "to_intensity")
    intensity.attrs = {**_named(rain.attrs, _RATE_OF_AMOUNT), "units": "mm/h", "cell_methods": "time: mean"}
    return intensity


#: CF names of an amount of rain and of its rate; neither may stay on the other.
_RATE_OF_AMOUNT = {
    "precipitation_amount": "lwe_precipitation_rate",
    "lwe_thickness_of_precipitation_amount": "lwe_precipitation_rate",
    "rainfall_amount": "rainfall_rate",
}
_AMOUNT_OF_RATE = {
    "lwe_precipitation_rate": "precipitation_amount",
    "precipitation_flux": "precipitation_amount",
    "rainfall_rate": "rainfall_amount",
    "rainfall_flux": "rainfall_amount",
}


def _named(attrs: Mapping[Any, Any], other_name: Mapping[str, str]) -> dict[Any, Any]:
    """Return attributes with the CF name of the other kind, and without one where no such name is known."""
    kept = {name: value for name, value in attrs.items() if name != "standard_name"}
    name = other_name.get(str(attrs.get("standard_name", "")))
    return {**kept, "standard_name": name} if name else kept


def _step_hours(labelled: xr.DataArray, where: str) -> float:
    """Return the regular step of ``time`` in hours."""
    if "time" not in labelled.dims or labelled.sizes["time"] < 2:
        raise RunoffError(f"{where}: `{labelled.name or 'array'}` needs a time axis of at least two steps")
    from runoff.time_steps import time_step  # pandas, which the rest of the table does without

    step = time_step(labelled["time"])
    if step.first_odd is not None:
        raise RunoffError(
            f"{where}: the steps of time are not all alike; the first odd one follows "
            f"{str(labelled['time'].to_numpy()[step.first_odd])[:16]}"
        )
    return step.hours
