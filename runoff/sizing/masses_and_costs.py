"""Mass, depth and cost of build-ups: the figures of a candidate that need no weather."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import xarray as xr

from runoff.errors import SizingError, nearest, raise_faults
from runoff.sizing.designs import Designs, per_design
from runoff.sizing.targets import OF_THE_BUILD_UP

Prices = Mapping[str, float | Mapping[str, float]]


def build_up_figures(roofs: Designs, prices: Prices | None = None) -> xr.Dataset:
    """Return mass, depth and cost of each roof along ``design``."""
    from runoff.roof import drained_mass_kg_per_m2

    figures = xr.Dataset(
        {
            "drained_mass": ("design", per_design(roofs, drained_mass_kg_per_m2)),
            "build_up_depth": ("design", per_design(roofs, lambda one: one.build_up.depth_mm)),
        }
    )
    if prices:
        _refuse_unknown_layers(prices)
        figures["cost"] = ("design", per_design(roofs, lambda one: _cost(one, prices)))
    for name in figures:
        units, words = OF_THE_BUILD_UP[str(name)]
        figures[name].attrs = {"units": units, "long_name": words}
    return figures


def _refuse_unknown_layers(prices: Prices) -> None:
    from runoff.roof.layers import LAYERS

    words = [key.partition(".")[0] for key in prices]
    faults = [
        f'"{word}" is no layer{nearest(word, LAYERS)}; layers are {", ".join(LAYERS)}'
        for word in words
        if word not in LAYERS
    ]
    raise_faults("prices", faults, SizingError)


def _cost(roof: Any, prices: Prices) -> Any:
    total: Any = 0.0
    for key, price in prices.items():
        word, _, field = key.partition(".")
        layer = roof.build_up.layer(word)
        if layer is None:
            continue  # a layer this candidate does without costs nothing
        if not field:
            total += float(price)  # type: ignore[arg-type]
            continue
        if not hasattr(layer, field):
            raise SizingError(
                f'prices: "{key}" is not a property of a layer; price a layer ("{word}") or one of its fields'
            )
        value = getattr(layer, field)
        if isinstance(price, Mapping):
            values = np.atleast_1d(value)  # many designs at once have an array of values
            missing = [one for one in values.tolist() if one not in price]
            if missing:
                raise SizingError(
                    f'prices: {key} has no price for "{missing[0]}"; priced are {", ".join(map(str, price))}'
                )
            priced = np.array([float(price[one]) for one in values.tolist()])
            total += priced if np.ndim(value) else priced[0]
        else:
            total += float(price) * value
    return total
