"""What the columns of an unknown table probably are: by their names, by what the head of the file says of them, by their values.

Every guess carries its reason in words. Nothing here is used to read a file; it only serves to propose how to read one.
"""

from __future__ import annotations

import re
from typing import NamedTuple

import numpy as np

from runoff.errors import RunoffError
from runoff.quantities import QUANTITIES
from runoff.units import canonical_unit
from runoff.weather.files.table_cells import measurable
from runoff.weather.files.table_shape import TableShape
from runoff.weather.record.house_units import NOT_AN_AMOUNT, quantity_in_name, to_house, unit_in_name

#: Words for each quantity in names and descriptions of columns, in the languages of weather services; and words that say
#: that a column is another thing. The first that fits wins.
_WORDS: dict[str, tuple[str, str]] = {
    "rain": (
        r"precip|\brain|prcp|\bp_daily|^p_?mm|^rr\d*$|^rsk$|^pp$|niederschlag|neerslag|pluie|lluvia|pioggia|nedb|^ppt$",
        NOT_AN_AMOUNT,
    ),
    "tmax": (
        r"t_?(air_|daily_)?max|temp\w*[ _]max|max\w*[ _]*temp|high.*temp|temp.*high|^(daily )?high\b|^txk?$|maximum temp",
        r"hum|wind|press|tide|sur|soil|ground|10 ?cm|flag|hour|uur|dew",
    ),
    "tmin": (
        r"t_?(air_|daily_)?min|temp\w*[ _]min|min\w*[ _]*temp|low.*temp|temp.*low|^(daily )?low\b|^tnk?$|minimum temp",
        r"hum|wind|press|tide|sur|soil|ground|10 ?cm|flag|hour|uur|dew",
    ),
    "tmean": (r"t_daily_mean|mean temp|avg.*temp|^t[mg]k?$|^temp$|^temperature$|air.?temp|daily mean temperature", r"sur|soil|dew|flag|hour|uur"),
    "reference_et": (r"reference.*(evap|et)|evapotransp|^et0?$|^evh?\d*$|makkink|^pet$", r"flag|pan"),
    "solar_radiation": (r"solar|global (rad|straling)|glob.*rad|shortwave|^rsds$", r"flag|net|max|duur|durat"),
    "humidity_min": (r"rh_daily_min|min\w* .*humid", r"hour|uur|flag"),
    "humidity_max": (r"rh_daily_max|max\w* .*humid", r"hour|uur|flag"),
    "humidity": (r"humid|^rh[ _]?(%|pct|percent|mean|avg|\(%\))$|^ug$|^upm$|^hurs$|^rel_?hum", r"spec|flag|max|min|hour|uur"),
    "vapour_pressure": (r"vapou?r press|^vpm?$|^vap$", r"deficit|flag"),
    "dew_point": (r"dew.?p", r"flag"),
    "wind_speed": (r"wind[ _]?speed|windspeed|^wind_(m_?s|ms|mean|avg|kmh|mph)$|^awnd$|^fm$|^fg$|^wind$|daily mean wind", r"dir|max|gust|vector|hour|uur|flag|min"),
}  # fmt: skip
_BRACKET_UNIT = re.compile(
    r"in \(?([\d.]*\s?[\w°%/.*^-]+(?:[ /]\w+)?)\)?|[(\[]\s*(?:in )?([\d.]*\s?[\w°%/.*^-]+)\s*[)\]]"
)
_UNIT_WORDS = {
    "0.1 degrees": "0.1 degC", "0.1 degrees celsius": "0.1 degC", "percents": "%", "percent": "%", "0.1 m/s": "0.1 m s-1",
    "m/s": "m s-1", "0.1 hour": "0.1 h", "degrees celsius": "degC", "degrees fahrenheit": "degF", "inches": "in",
}  # fmt: skip
_GLOSSARY = re.compile(r"^[#!%\s]*(\w[\w .]{0,25}?)\s*[=:]\s*(\S.*)$")
_CODES = re.compile(r"-?9{2,5}(\.9+|\.0+)?|-?8{4}|-?7{3,4}\.?7*")
_TRACES = ("t", "tr", "trace")


class Column(NamedTuple):
    """A column that was recognised: its quantity, its place, its unit and why, and its codes."""

    quantity: str
    at: int
    unit: str
    reason: str
    missing: tuple[str, ...]
    traces: tuple[str, ...]


def guess_columns(shape: TableShape, taken: set[int], per_day: float) -> list[Column]:
    """Return what the columns beside the stamps are.

    Parameters
    ----------
    shape
        The table.
    taken
        Columns that make the stamps.
    per_day
        Lines to a day, for amounts.

    Returns
    -------
    list of Column
        What was recognised, at most one column to a quantity, with the reason for each; empty when nothing was.
    """
    glossary = _glossary(shape.head)
    found: list[Column] = []
    used = set(taken)
    for quantity, (words, others) in _WORDS.items():
        places = [
            at for at in range(len(shape.rows[0]))
            if at not in used and _fits(quantity, _name(shape, at), glossary.get(_name(shape, at).lower(), ""), words, others)
        ]  # fmt: skip
        for at in places:
            column = _column(shape, at, quantity, glossary, per_day)
            if column is not None:
                found.append(_with_others(column, shape, places) if quantity == "rain" else column)
                used.add(at)
                break
    if not any(column.quantity == "rain" for column in found):
        lone = _rain_by_its_values(shape, used, per_day)
        found = [lone, *found] if lone else found
    return found


def _with_others(column: Column, shape: TableShape, places: list[int]) -> Column:
    """Say which other columns are called like rain: the first is proposed, none is right by itself."""
    others = [f'"{_name(shape, at)}"' for at in places if at != column.at and _name(shape, at)]
    if not others:
        return column
    return column._replace(
        reason=f"{column.reason}; {', '.join(others)} has a name of rain too: compare the two with --other-column"
    )


def _name(shape: TableShape, at: int) -> str:
    return shape.names[at] if shape.names else ""


def _glossary(head: list[str]) -> dict[str, str]:
    """Return what the head says of each column name, ``RH = daily precipitation amount``."""
    found = {}
    for line in head:
        told = _GLOSSARY.match(line)
        if told:
            found[told[1].strip().lower()] = told[2].strip()
    return found


def _fits(quantity: str, name: str, told: str, words: str, others: str) -> bool:
    known = quantity_in_name(name) if name else None
    if known is not None:
        return known[0] == quantity
    for text in (told.lower(), name.lower()):
        if text and re.search(words, text) and not re.search(others, text):
            return True
    return False


def _column(shape: TableShape, at: int, quantity: str, glossary: dict[str, str], per_day: float) -> Column | None:
    """Return a column as a quantity with its unit and codes, or None where its values are not of that kind."""
    name = _name(shape, at)
    told = glossary.get(name.lower(), "")
    cells = [row[at] for row in shape.rows]
    values, words = _numbers(cells)
    if not values.size or values.size < 0.05 * len(cells):
        return None
    codes = _codes_in(values, words)
    traces = tuple(sorted({word for word in words if word.lower() in _TRACES}))
    if quantity == "rain" and (values == -1).any() and re.search(r"-1 .{0,12}<", told):
        traces = (*traces, next(cell.strip() for cell in cells if _plain(cell) == -1.0))
        values = values[values != -1]
    kept = values[~np.isin(values, [float(code) for code in codes if _is_number(code)])]
    if not kept.size:
        return None
    unit, why = _said_unit(name, told, quantity)
    if not unit:
        unit, why = _unit_by_values(kept, quantity, per_day)
    if not unit:
        return None
    codes = tuple(code for code in codes if not _is_number(code) or not measurable(float(code), quantity, unit))
    called = f'column "{name}"' if name else f"column {at} (from 0)"
    described = f', told as "{told[:60]}"' if told else ""
    return Column(quantity, at, unit, f"{called}{described}; {why}", codes, traces)


def _plain(cell: str) -> float:
    try:
        return float(cell.replace(",", "."))
    except ValueError:
        return float("nan")


def _is_number(text: str) -> bool:
    return np.isfinite(_plain(text))


def _numbers(cells: list[str]) -> tuple[np.ndarray, set[str]]:
    """Return the numbers of a column, and its other words."""
    values = np.array([_plain(cell) for cell in cells])
    words = {cell for cell, value in zip(cells, values, strict=True) if cell and np.isnan(value)}
    return values[np.isfinite(values)], words


def _codes_in(values: np.ndarray, words: set[str]) -> tuple[str, ...]:
    """Return what looks like codes for missing: numbers of nines, and words that are no traces."""
    spelled = {f"{value:g}" for value in np.unique(values) if _CODES.fullmatch(f"{value:g}")}
    other = {
        word for word in words if word.lower() not in (*_TRACES, "", "na", "nan", "null", "none") and len(word) <= 6
    }
    return (*sorted(spelled, key=float), *sorted(other)[:3])


def _said_unit(name: str, told: str, quantity: str) -> tuple[str, str]:
    """Return the unit that the name or the head of the file says."""
    said = unit_in_name(name, quantity)
    if said:
        return said, f"its name says {said}"
    for match in _BRACKET_UNIT.finditer(told):
        text = " ".join((match[1] or match[2] or "").split()).lower()
        for candidate in (_UNIT_WORDS.get(text, text), _UNIT_WORDS.get(" ".join(text.split()[:2]), "")):
            try:
                unit = canonical_unit(candidate) if candidate else ""
                to_house(1.0, quantity, unit, 24.0)
            except RunoffError:
                continue
            if unit:
                return unit, f"the head of the file says {unit}"
    return "", ""


# unit, and between which the middle of the values lies (and the largest): own choices from what weather is
_BY_VALUES: dict[str, tuple[tuple[str, float, float, float], ...]] = {
    "temperature": (("degC", -45.0, 38.0, 58.0), ("degF", 25.0, 105.0, 136.0), ("0.1 degC", -450.0, 380.0, 580.0), ("K", 225.0, 312.0, 331.0)),
    "solar_radiation": (("MJ m-2 d-1", 2.0, 26.0, 45.0), ("W m-2", 30.0, 330.0, 500.0), ("J cm-2", 200.0, 2600.0, 4500.0)),
    "fraction": (("1", 0.2, 1.0, 1.1), ("%", 20.0, 100.0, 110.0)),
    "wind_speed": (("m s-1", 0.5, 15.0, 45.0), ("0.1 m s-1", 15.0, 150.0, 450.0)),
    "vapour_pressure": (("kPa", 0.05, 3.5, 6.5), ("hPa", 0.5, 35.0, 65.0)),
    "reference_et": (("mm", 0.1, 8.0, 25.0), ("0.1 mm", 1.0, 80.0, 250.0)),
}  # fmt: skip
_KIND = {
    "tmin": "temperature", "tmax": "temperature", "tmean": "temperature", "dew_point": "temperature",
    "humidity": "fraction", "humidity_min": "fraction", "humidity_max": "fraction",
}  # fmt: skip


def _unit_by_values(values: np.ndarray, quantity: str, per_day: float) -> tuple[str, str]:
    """Return the unit under which the values look like weather, and why."""
    if quantity == "rain":
        return _unit_of_rain(values, per_day)
    middle, top, low = float(np.median(values)), float(values.max()), float(values.min())
    whole = bool((values == np.round(values)).all())
    for unit, least, most, highest in _BY_VALUES.get(_KIND.get(quantity, quantity), ()):
        if unit.startswith("0.1") and not whole:
            continue
        converted = float(to_house(low, quantity, unit, 24.0)), float(to_house(top, quantity, unit, 24.0))
        known = QUANTITIES[quantity]
        if (
            least <= middle <= most
            and top <= highest
            and known.low <= converted[0]
            and converted[1] <= known.high + 0.1
        ):
            if unit == "degC" and whole and 38.0 > middle > 30.0 and top - low > 45.0:
                continue  # a year of whole degrees around 35: Fahrenheit
            return unit, f"values from {low:g} to {top:g} are {unit}"
    return "", ""


_TELLING, _USUAL_MM = (
    0.04,
    (1.2, 35.0),
)  # mean of the days with more than a twenty-fifth of the largest, mm; see quality


def _unit_of_rain(values: np.ndarray, per_day: float) -> tuple[str, str]:
    """Return the unit under which the telling days bring what rain brings."""
    amounts = values[values >= 0]
    steps = max(1, round(per_day))
    days = (
        amounts[: amounts.size - amounts.size % steps].reshape(-1, steps).sum(axis=1)
        if amounts.size >= steps
        else amounts
    )
    top = float(days.max(initial=0.0))
    if top <= 0:
        return "", ""
    mean = float(days[days > _TELLING * top].mean())
    whole = bool((amounts == np.round(amounts)).all())
    for unit, factor in (("mm", 1.0), ("0.1 mm", 0.1), ("in", 25.4), ("m", 1000.0)):
        if unit == "0.1 mm" and not whole:
            continue
        if _USUAL_MM[0] <= mean * factor <= _USUAL_MM[1]:
            return unit, f"no unit is said; as {unit} the rainy days bring {mean * factor:.1f} mm each"
    return "", ""


def _rain_by_its_values(shape: TableShape, used: set[int], per_day: float) -> Column | None:
    """Return the one column whose values are like rain: never below zero, mostly zero or small, some large."""
    found = []
    for at in range(len(shape.rows[0])):
        if at in used:
            continue
        column = _column(shape, at, "rain", {}, per_day)
        values, _ = _numbers([row[at] for row in shape.rows])
        if column is None or values.size < 10:
            continue
        kept = values[~np.isin(values, [float(code) for code in column.missing if _is_number(code)])]
        dry = float((kept == 0).mean()) if kept.size else 0.0
        if kept.size and kept.min() >= 0 and 0.2 <= dry < 1.0:
            found.append(column)
    return (
        found[0]._replace(reason=found[0].reason + "; it is dry on many lines, as rain is") if len(found) == 1 else None
    )
