"""Generic materials with low, typical and high values, each with its source or the words "from memory".

No product is named. The values are ranges met in the literature and in the trade; a data sheet or a measurement of the
material in hand is always better.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, NamedTuple

from runoff.errors import RoofError, nearest
from runoff.roof.description import DAILY_SHARE
from runoff.roof.layers import LAYERS
from runoff.roof.material_rows import MaterialValue, listed, refuse_unknown, rows_by_layer

if TYPE_CHECKING:
    import pandas as pd

    from runoff.roof.description import Roof
    from runoff.roof.layers import Layer


def materials() -> pd.DataFrame:
    """Return the whole table: layer, material, property, low, typical, high, status, source.

    A property that is a word and not a number has none of the three; its source says it.
    """
    import pandas as pd

    rows = [
        (layer, material, name, *(_as_number(value)), value.status, value.source)
        for layer, by_material in rows_by_layer().items()
        for material, properties in by_material.items()
        for name, value in properties.items()
    ]
    return pd.DataFrame(rows, columns=["layer", "material", "property", *MaterialValue._fields])


def _as_number(value: MaterialValue) -> tuple[float, float, float]:
    return (math.nan,) * 3 if value.is_word else value[:3]


def _properties(kind: str, name: str) -> dict[str, MaterialValue]:
    if kind not in LAYERS:
        raise RoofError(f'"{kind}" is no layer{nearest(kind, LAYERS)}; layers are {", ".join(LAYERS)}')
    refuse_unknown(kind, name)
    return listed(kind)[name]


def material(kind: str, name: str, **changes: Any) -> Layer:
    """Return a layer made of a material of the table: its typical properties, and any changes.

    Parameters
    ----------
    kind
        Word of the layer, for example ``medium``.
    name
        Material of the table.
    **changes
        Fields of the layer that take the place of the typical values, for example ``depth_mm=100``.

    Returns
    -------
    Layer
        The layer, with the name of its material.

    Raises
    ------
    RoofError
        When the table has no such material, or a change is out of range.

    Examples
    --------
    >>> material("medium", "pumice mix", depth_mm=100).field_capacity
    0.33
    """
    _properties(kind, name)
    return LAYERS[kind](material=name, **changes)


def ranges(kind: str, name: str) -> dict[str, tuple[float, float, float]]:
    """Return low, typical and high of each property of a material that is a number, by field.

    Examples
    --------
    >>> ranges("board", "cup board 25 mm")["cup_storage_mm"]
    (3.0, 3.5, 5.0)
    """
    return {key: value[:3] for key, value in _properties(kind, name).items() if not value.is_word}


class LogRange(NamedTuple):
    """Low, typical and high of a property whose range spans powers of ten: drawn evenly by its logarithm."""

    low: float
    typical: float
    high: float


def material_ranges(roof: Roof) -> dict[str, tuple[float, float, float]]:
    """Return low, typical and high of each uncertain property of a roof, as ``layer.field``.

    The spread is that of the layer's material (of the usual one where none is named, or one the table does not list),
    moved as a ratio to the value the roof has: a roof described with a field capacity of its own keeps it as the typical
    value. No share is moved beyond 1. A `LogRange` is drawn evenly by its logarithm. A property that was fitted to a
    measurement has the range of the fit. Of a surface that is not planted the daily storage is uncertain
    (`runoff.BareSurface`).
    """
    found = {}
    for layer in roof.build_up.layers:
        materials_of_layer = listed(layer.word)
        known = materials_of_layer.get(layer.material) or materials_of_layer.get(layer.usual_material, {})
        for key in layer.in_doubt:
            value, own = known[key], float(getattr(layer, key))
            # what is the same in every such material is certain, and so is what this roof does without
            if value.low == value.high or (own == 0.0 and value.typical != 0.0):
                continue
            spread = _moved(value, own, _most_allowed(layer, key))
            found[f"{layer.word}.{key}"] = LogRange(*spread) if key in layer.drawn_by_logarithm else spread
    if roof.planted_fraction < 1.0:
        low, _, high = DAILY_SHARE[roof.other_surface.kind]
        held, daily = roof.other_surface.depression_storage_mm, roof.other_surface.daily_storage_mm
        if held > 0.0:
            found["surface.daily_storage_mm"] = (min(low * held, daily), daily, max(high * held, daily))
    for one in roof.fitted:  # what was measured on this roof takes the place of what is usual
        word, _, key = one.property.partition(".")
        part = roof if word == "roof" else roof.build_up.layer(word)
        found[one.property] = one.drawn_around(float(roof.value_of(one.property)), _most_allowed(part, key))
    return found


def _moved(value: MaterialValue, own: float, most: float) -> tuple[float, float, float]:
    """Return a spread moved to the value a roof has: as a ratio, and from a typical 0 as it is."""
    if value.typical == 0.0:
        return min(value.low, own), own, max(value.high, own)
    scale = own / value.typical
    return value.low * scale, own, min(value.high * scale, most)


def _most_allowed(layer: Any, key: str) -> float:
    """Return the upper limit of a field, infinite where it has none."""
    limits = [getattr(one, "le", None) for one in type(layer).model_fields[key].metadata]
    return next((float(limit) for limit in limits if limit is not None), math.inf)
