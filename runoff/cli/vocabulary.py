"""What ``--help`` says beyond the flags: the words they accept, taken from the tables the package works by."""

from __future__ import annotations

import dataclasses
import textwrap
from collections.abc import Collection, Iterable
from typing import Any

_WIDTH = 96
#: Series of runs in minutes, and of what not every roof has: a daily grid does not keep them.
_MINUTES_ALONE = (
    "mobile_", "over_edge", "bare_free_water", "other_free_water", "run_on", "largest_", "bare_depth", "bare_largest", "bare_over_edge",
    "other_depth", "other_largest", "other_over_edge", "irrigation",
)  # fmt: skip


#: Parts of a table layout whose values are words of their own choosing: what they look like.
_LAYOUT_EXAMPLES = {
    "skip_lines": "3", "comment": "#", "missing": "-9999,-99", "trace": "T", "round_to": "1min", "regular_to": "5min",
    "time_zone": "Europe/Berlin", "day_start": "07:00", "first_time": '"2006-01-01 00:00"', "step": "1h", "wind_height_m": "2", "site_column": "STATION",
}  # fmt: skip


def weather_words(flags: Collection[str]) -> str:
    """Return the quantities, units, layout words, fill methods and methods of evapotranspiration that `flags` take."""
    from runoff.weather.record.gaps import RAIN_METHODS, SMOOTH_METHODS

    lines = []
    if "--column" in flags:
        lines += _columns("time, ")
        lines.append(_line("--layout", _layout_words()))
    if "--fill" in flags:
        lines.append(_line("--fill rain=", ", ".join(RAIN_METHODS)))
        lines.append(_line("--fill temperature=", ", ".join(SMOOTH_METHODS)))
    return "\n".join(["words these options take:", *lines, *_evaporation(flags)])


def _columns(first: str = "") -> list[str]:
    """Return the lines of ``--column`` and ``--unit``, after quantities that stand `first`."""
    units = _units("depth", "intensity", "temperature", "radiation", "speed", "fraction", "duration")
    return [_line("--column, --unit", f"QUANTITY: {first}{', '.join(_weather())}"), _line("--unit", units)]


def _weather() -> list[str]:
    from runoff.quantities import QUANTITIES

    return list(QUANTITIES)[: list(QUANTITIES).index("evapotranspiration")]


def _units(*kinds: str) -> str:
    from runoff.units import _TABLE

    return "; ".join(f"{kind}: {', '.join(unit for unit, row in _TABLE.items() if row[0] == kind)}" for kind in kinds)


def _layout_words() -> str:
    """Return every part of a table layout with the words it takes, or one that it could."""
    from runoff.weather.files.stamps import CALENDARS, DATE_ORDERS
    from runoff.weather.files.table_layout import NAMED_SEPARATORS, TableLayout

    choices = {
        "separator": f"one character, {' or '.join(NAMED_SEPARATORS)}", "decimal": ". or ,", "header": "yes or no",
        "dates": " or ".join(DATE_ORDERS), "stamp": "start or end", "calendar": " or ".join(CALENDARS),
    }  # fmt: skip
    named = {**choices, **{name: f"such as {example}" for name, example in _LAYOUT_EXAMPLES.items()}}
    return "; ".join(f"{field.name}: {named[field.name]}" for field in dataclasses.fields(TableLayout))


def _evaporation(flags: Collection[str]) -> list[str]:
    from runoff.weather.evaporation.evapotranspiration import METHODS

    return [_line("--et-method", ", ".join(METHODS))] if "--et-method" in flags else []


def log_words(flags: Collection[str]) -> str:
    """Return what a log of overflow or of a tray may hold, with its units, and the methods of a fit."""
    from runoff.calibration.fitting import METHODS
    from runoff.calibration.observations import OVERFLOW_ENTRY
    from runoff.calibration.tray_log import TRAY_ENTRIES

    lines = []
    for what, entries in (("overflow", [OVERFLOW_ENTRY]), ("a tray", TRAY_ENTRIES)):
        named = [f"{one.name} ({', '.join(one.units)})" if one.units else one.name for one in entries]
        lines.append(_line("--log-column, --log-unit", f"of {what}: {', '.join(['time', *named])}"))
    lines.append(_line("--log-layout", "as --layout"))
    lines.append(_line("--method", ", ".join(METHODS)))
    return "\n".join(["words of a log and a fit:", *lines])


def stream_words(flags: Collection[str]) -> str:
    """Return quantities, units, the series that can be kept beside the figures of a grid, and methods of evapotranspiration."""
    from runoff.quantities import QUANTITIES

    names = list(QUANTITIES)
    series = [
        name for name in names[names.index("evapotranspiration") :]
        if QUANTITIES[name].cell_methods and not name.startswith(_MINUTES_ALONE) and name not in _MINUTES_ALONE
    ]  # fmt: skip
    lines = [*_columns(), _line("--series", ", ".join(series)), *_evaporation(flags)]
    return "\n".join(["words these options take:", *lines])


def pipe_editions(flags: Collection[str]) -> str:
    """Return the editions by which vertical pipes can be sized."""
    from runoff.sizing.drainage_codes import VERTICAL_PIPES

    return "\n".join(
        ["editions for vertical pipes:", _line("--edition", ", ".join(f'"{name}"' for name in VERTICAL_PIPES))]
    )


def property_names(flags: Collection[str]) -> str:
    """Return the properties that can be varied, layer by layer."""
    from runoff.roof import BareSurface, Outlet, Roof
    from runoff.roof.layers import LAYERS

    homes: dict[str, type[Any]] = {**LAYERS, "roof": Roof, "outlet": Outlet, "surface": BareSurface}
    lines = [_line(f"{word}.", ", ".join(_plain_fields(kind))) for word, kind in homes.items()]
    return "\n".join(["properties (LAYER.FIELD; write _in for _mm, _ft2 for _m2 and so on to give US units):", *lines])


def _plain_fields(kind: type[Any]) -> Iterable[str]:
    inner = ("build_up", "outlets", "other_surface", "site", "name", "layers", "fitted")
    return [name for name in kind.model_fields if name not in inner]


def order_rules(flags: Collection[str]) -> str:
    """Return the allowances and packs of an order, with their usual values."""
    from runoff.roof import OrderRules

    named = [f"{name}={_usual(field.default)}" for name, field in OrderRules.model_fields.items()]
    return "\n".join(
        [
            "allowances and packs (NAME=VALUE; with a unit the end of the name may be left out):",
            _line("", ", ".join(named)),
        ]
    )


def _usual(value: Any) -> str:
    return "none" if value is None else f"{value:.4g}"


def figure_names(flags: Collection[str]) -> str:
    """Return the figures a target can be set on, with their units."""
    from runoff.sizing.targets import TARGET_FIGURES

    known = {
        name: unit for name, (unit, _) in TARGET_FIGURES.items() if name != "cost"
    }  # prices are given in Python alone
    named = [name if unit == "1" else f"{name} ({unit})" for name, unit in known.items()]
    return "\n".join(["figures (FIGURE=VALUE; a value may carry its unit, 55% or 12in):", _line("", ", ".join(named))])


def _line(head: str, words: str) -> str:
    return textwrap.fill(f"{head}  {words}" if head else words, _WIDTH, initial_indent="  ", subsequent_indent="      ")
