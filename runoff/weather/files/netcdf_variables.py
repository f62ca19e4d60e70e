"""Which variable of a CF file is which quantity: by its name and by what its attributes say it is.

A name alone is not believed where the standard name or the cell methods say otherwise: a variable called ``snow`` may be
what fell, what lies on the ground or how deep, and only the first is rain.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
import xarray as xr

from runoff.errors import RunoffError, WeatherError, nearest, raise_faults, shown
from runoff.quantities import QUANTITIES
from runoff.units import canonical_unit, unit_dimension

# How files name the quantities: names of CF, reanalysis and climate-model files. Potential evaporation of a reanalysis
# is left out on purpose: over water and coasts it is not that of a reference crop.
_STANDARD_NAMES = {
    "precipitation_flux": "rain",
    "precipitation_amount": "rain",
    "lwe_thickness_of_precipitation_amount": "rain",
    "lwe_precipitation_rate": "rain",
    "rainfall_amount": "rain",
    "rainfall_flux": "rain",
    "rainfall_rate": "rain",
    "thickness_of_rainfall_amount": "rain",
    "surface_downwelling_shortwave_flux_in_air": "solar_radiation",
    "surface_downwelling_shortwave_flux": "solar_radiation",
    "relative_humidity": "humidity",
    "dew_point_temperature": "dew_point",
    "water_vapor_partial_pressure_in_air": "vapour_pressure",
    "wind_speed": "wind_speed",
    "duration_of_sunshine": "sunshine_hours",
}
_NAMES = {
    "pr": "rain", "rain": "rain", "tp": "rain", "prcp": "rain", "precip": "rain", "precipitation": "rain",
    "tas": "tmean", "tasmin": "tmin", "tasmax": "tmax", "tmin": "tmin", "tmax": "tmax", "tmean": "tmean",
    "rsds": "solar_radiation", "hurs": "humidity", "sfcwind": "wind_speed", "pet": "reference_et",
    **{name: name for name in QUANTITIES if name in (
        "reference_et", "solar_radiation", "humidity", "humidity_min", "humidity_max", "dew_point", "vapour_pressure",
        "wind_speed", "sunshine_hours")},
}  # fmt: skip
# a standard name must hold one of these words, or it is another quantity under a familiar name
_WORDS = {
    "rain": ("precip", "rain"),
    "tmin": ("air_temperature",), "tmax": ("air_temperature",), "tmean": ("air_temperature",),
    "reference_et": ("evapo",),
    "solar_radiation": ("shortwave",),
    "humidity": ("relative_humidity",), "humidity_min": ("relative_humidity",), "humidity_max": ("relative_humidity",),
    "dew_point": ("dew_point",),
    "vapour_pressure": ("partial_pressure", "vapo"),
    "wind_speed": ("wind_speed",),
    "sunshine_hours": ("sunshine",),
}  # fmt: skip
_NOT_WORDS = {"rain": ("snow",), "wind_speed": ("gust",), "solar_radiation": ("upwelling", "net")}
# cell methods under which the values of a step are not those of the quantity
_OTHER_METHODS = {
    "tmin": ("maximum",),
    "tmax": ("minimum",),
    "tmean": ("minimum", "maximum"),
    "humidity_min": ("maximum",),
    "humidity_max": ("minimum",),
}
_NO_MEASURE = ("standard_deviation", "variance", "range", "median", "mode")
_SUMMED = ("rain", "reference_et", "sunshine_hours", "solar_radiation", "wind_speed", "humidity")
_RAIN_ONLY = {"rainfall_amount", "rainfall_flux", "rainfall_rate", "thickness_of_rainfall_amount"}
_SNOWFALL = {
    "snowfall_amount", "snowfall_flux", "lwe_thickness_of_snowfall_amount", "lwe_snowfall_rate",
    "solid_precipitation_flux", "solid_precipitation_amount",
}  # fmt: skip
_SNOW_NAMES = {"snow", "snowfall", "prsn"}
_LYING = re.compile(r"depth|thickness|ground|pack|cover|lying|surface_snow|water equivalent of", re.IGNORECASE)
_FELL = re.compile(r"snow ?fall|fell|solid precip", re.IGNORECASE)


class Found(NamedTuple):
    """The variable of each quantity (``snow`` only where the file's rain leaves it out), and what was left aside, why."""

    names: dict[str, str]
    left_aside: list[str]


def find_variables(opened: xr.Dataset, columns: Mapping[str, str] | None) -> Found:
    """Return which variable is which quantity.

    Parameters
    ----------
    opened
        The file.
    columns
        The user's own map, believed as far as the file does not contradict it.

    Raises
    ------
    WeatherError
        When a name is not in the file, contradicts the file, is not known as rain, or is snow of an unknown kind.
    """
    on_time = [str(name) for name in opened.data_vars if "time" in opened[name].dims]
    if columns:
        return _as_told(opened, columns, on_time)
    names: dict[str, str] = {}
    aside: list[str] = []
    for by_name in (True, False):
        for name in on_time:
            quantity = _NAMES.get(name.lower()) if by_name else _STANDARD_NAMES.get(_standard(opened[name]))
            if not quantity or quantity in names or name in names.values():
                continue
            if why := _contradiction(opened[name], quantity):
                aside.append(f"{shown(name)}: {why}")
            else:
                names[quantity] = name
    if "rain" not in names:
        listed = ", ".join(shown(name) for name in on_time[:20]) or "none"
        why = f" ({'; '.join(dict.fromkeys(aside))})" if aside else ""
        raise WeatherError(
            f'no variable is known as rain{why}; variables are {listed}. Say which, for example columns={{"rain": "pr"}}'
        )
    if _leaves_snow_out(opened[names["rain"]]):
        snow, other = _snow(opened, on_time, names["rain"])
        names.update({"snow": snow} if snow else {})
        aside += other
    return Found(names, list(dict.fromkeys(aside)))


def _as_told(opened: xr.Dataset, columns: Mapping[str, str], on_time: list[str]) -> Found:
    known = [*QUANTITIES, "snow"]
    faults = [
        f'there is no variable "{shown(name)}"{nearest(str(name), on_time)}; variables are {", ".join(map(shown, on_time[:20]))}'
        for name in columns.values()
        if name not in on_time
    ]
    faults += [f'"{shown(name)}" is not a quantity{nearest(str(name), known)}' for name in columns if name not in known]
    raise_faults("columns", faults, WeatherError)
    for quantity, name in columns.items():
        why = _lies_on_the_ground(opened[name]) if quantity == "snow" else _contradiction(opened[name], quantity)
        if why:
            faults.append(
                f"{shown(name)} is no {quantity}: {why}; if its attributes are wrong, correct them in the file"
            )
    raise_faults("columns", faults, WeatherError)
    return Found(dict(columns), [])


def _standard(variable: xr.DataArray) -> str:
    name = str(variable.attrs.get("standard_name", "")).strip()
    return "" if name.lower() == "unknown" else name


def _contradiction(variable: xr.DataArray, quantity: str) -> str:
    """Return what in the attributes of a variable speaks against a quantity, or an empty text."""
    standard = _standard(variable).lower()
    wanted, unwanted = _WORDS.get(quantity, ("",)), _NOT_WORDS.get(quantity, ())
    if standard and (not any(word in standard for word in wanted) or any(word in standard for word in unwanted)):
        return f'its standard_name is "{shown(standard)}"'
    method = re.search(r"\btime: *(\w+)", str(variable.attrs.get("cell_methods", "")))
    extremes = ("minimum", "maximum") if quantity in _SUMMED else _OTHER_METHODS.get(quantity, ())
    if method and method[1] in (*extremes, *_NO_MEASURE):
        return f'its cell_methods say "time: {method[1]}"'
    return ""


def _leaves_snow_out(rain: xr.DataArray) -> bool:
    standard = _standard(rain)
    return standard in _RAIN_ONLY or (str(rain.name).lower() == "rain" and standard not in _STANDARD_NAMES)


def _snow(opened: xr.Dataset, on_time: list[str], rain: str) -> tuple[str, list[str]]:
    """Return the variable of snow that fell, as water, to be added to rain; and what is no such thing."""
    fell, aside, unclear = [], [], []
    for name in on_time:
        variable = opened[name]
        if name.lower() not in _SNOW_NAMES and _standard(variable) not in _SNOWFALL:
            continue
        if why := _lies_on_the_ground(variable):
            aside.append(f"{shown(name)}: {why}, so it is not added to rain")
        elif _is_water_that_fell(variable):
            fell.append(name)
        else:
            unclear.append(name)
    if unclear and not fell:
        name = shown(unclear[0])
        raise WeatherError(
            f'{name}: in "{shown(opened[unclear[0]].attrs.get("units", ""))}" it may be water that fell as snow, the depth of fresh '
            f'snow, or snow that lies; say columns={{"rain": "{shown(rain)}", "snow": "{name}"}} when it is water that fell (it is then '
            f'added to rain), or columns={{"rain": "{shown(rain)}"}} to leave it out (temperatures are named beside)'
        )
    return (fell[0] if fell else ""), aside


def _lies_on_the_ground(variable: xr.DataArray) -> str:
    """Return why a variable is snow on the ground, a stock, or an empty text."""
    standard = _standard(variable)
    if standard and standard not in _SNOWFALL:
        return f'its standard_name is "{shown(standard)}"'
    if standard not in _SNOWFALL and _LYING.search(str(variable.attrs.get("long_name", ""))):
        return f'it is called "{shown(variable.attrs["long_name"])}"'
    method = re.search(r"\btime: *(\w+)", str(variable.attrs.get("cell_methods", "")))
    if method and method[1] in ("point", "maximum", "minimum"):
        return f'its cell_methods say "time: {method[1]}"'
    return ""


def _is_water_that_fell(variable: xr.DataArray) -> bool:
    if _standard(variable) in _SNOWFALL or str(variable.name).lower() == "prsn":
        return True
    unit = str(variable.attrs.get("units", ""))
    try:
        if unit_dimension(unit) == "intensity" or canonical_unit(unit) == "kg m-2":
            return True
    except RunoffError:
        return False
    return canonical_unit(unit) == "mm" and bool(_FELL.search(str(variable.attrs.get("long_name", ""))))


def behaves_like_a_stock(snow: np.ndarray) -> bool:
    """Tell snow that lies from snow that falls by its values, ``time`` last: what lies stays for weeks and changes little.

    Own choice of limits: 30 steps running with snow, and on them day follows day with a correlation above 0.9.
    """
    for row in snow.reshape(-1, snow.shape[-1]):
        there = np.flatnonzero(np.nan_to_num(row) > 0)
        if there.size < 30:
            continue
        runs = np.split(there, np.flatnonzero(np.diff(there) > 1) + 1)
        longest = row[max(runs, key=len)]
        if longest.size >= 30 and np.std(longest) > 0 and np.corrcoef(longest[:-1], longest[1:])[0, 1] > 0.9:
            return True
    return False
