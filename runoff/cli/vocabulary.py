"""What ``--help`` says beyond the flags: the words they accept, taken from the tables the package works by."""

from __future__ import annotations

import dataclasses
import textwrap
from collections.abc import Iterable
from typing import Any

_WIDTH = 96


def weather_words() -> str:
    """Return the quantities, units, layout words, fill methods and methods of evapotranspiration."""
    from runoff.quantities import QUANTITIES
    from runoff.units import _TABLE
    from runoff.weather.evaporation.evapotranspiration import METHODS
    from runoff.weather.files.table_layout import TableLayout
    from runoff.weather.record.gaps import RAIN_METHODS, SMOOTH_METHODS

    weather = list(QUANTITIES)[: list(QUANTITIES).index("evapotranspiration")]
    dimensions = {kind: [unit for unit, row in _TABLE.items() if row[0] == kind] for kind, *_ in _TABLE.values()}
    wanted = ("depth", "intensity", "temperature", "radiation", "speed", "fraction", "duration")
    return "\n".join(
        [
            "words these options take:",
            _line("--column, --unit", f"QUANTITY: time, {', '.join(weather)}"),
            _line("--unit", "; ".join(f"{kind}: {', '.join(dimensions[kind])}" for kind in wanted)),
            _line("--layout", ", ".join(field.name for field in dataclasses.fields(TableLayout))),
            _line("--fill rain=", ", ".join(RAIN_METHODS)),
            _line("--fill temperature=", ", ".join(SMOOTH_METHODS)),
            _line("--et-method", ", ".join(METHODS)),
        ]
    )


def property_names() -> str:
    """Return the properties that can be varied, layer by layer."""
    from runoff.roof import BareSurface, Outlet, Roof
    from runoff.roof.layers import LAYERS

    homes: dict[str, type[Any]] = {**LAYERS, "roof": Roof, "outlet": Outlet, "surface": BareSurface}
    lines = [_line(f"{word}.", ", ".join(_plain_fields(kind))) for word, kind in homes.items()]
    return "\n".join(["properties (LAYER.FIELD; write _in for _mm, _ft2 for _m2 and so on to give US units):", *lines])


def _plain_fields(kind: type[Any]) -> Iterable[str]:
    inner = ("build_up", "outlets", "other_surface", "site", "name", "layers", "fitted")
    return [name for name in kind.model_fields if name not in inner]


def order_rules() -> str:
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


def figure_names() -> str:
    """Return the figures a target can be set on, with their units."""
    from runoff.sizing.targets import TARGET_FIGURES

    named = [name if unit == "1" else f"{name} ({unit})" for name, (unit, _) in TARGET_FIGURES.items()]
    return "\n".join(["figures (FIGURE=VALUE; a value may carry its unit, 55% or 12in):", _line("", ", ".join(named))])


def _line(head: str, words: str) -> str:
    return textwrap.fill(f"{head}  {words}" if head else words, _WIDTH, initial_indent="  ", subsequent_indent="      ")
