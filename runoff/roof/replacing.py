"""Roofs that differ in a few properties, for sweeps: thousands of them, each still checked."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from pydantic import ValidationError

from runoff.errors import RoofError, nearest, raise_faults
from runoff.roof.faults import sentence
from runoff.roof.layers import LAYERS, Described, Layer

if TYPE_CHECKING:
    from runoff.roof.build_up import Roof


def replaced(roof: Roof, changes: Mapping[str, Any]) -> Roof:
    """Return a roof with the changes made; see `Roof.replace`."""
    of_layers: dict[str, dict[str, Any]] = {}
    of_roof: dict[str, Any] = {}
    of_outlets: dict[str, Any] = {}
    faults = []
    for key, value in changes.items():
        word, _, field = key.partition(".")
        fault = _fault(roof, key)
        if fault:
            faults.append(fault)
        else:
            {"roof": of_roof, "outlet": of_outlets}.get(word, of_layers.setdefault(word, {}))[field] = value
    raise_faults("replace", faults, RoofError)
    given: dict[str, Any] = dict(of_roof)
    build_up = roof.build_up
    if any(of_layers.values()):
        layers = tuple(
            _layer_with(layer, tuple(of_layers[layer.word].items())) if of_layers.get(layer.word) else layer
            for layer in build_up.layers
        )
        # words and order are as before and every layer has been checked, so the build-up need not be checked again
        build_up = type(build_up).model_construct(layers=layers)
    if of_outlets:
        given["outlets"] = tuple(_built(type(one), {**_given(one), **of_outlets}, "outlet") for one in roof.outlets)
    if not given:
        return roof.model_copy(update={"build_up": build_up})
    return _built(type(roof), {**_given(roof), **given, "build_up": build_up}, "roof")


def _fault(roof: Roof, key: str) -> str | None:
    """Say why a property cannot be changed, or return None."""
    from runoff.roof.build_up import Outlet

    word, dot, field = key.partition(".")
    homes: dict[str, Any] = {**LAYERS, "roof": type(roof), "outlet": Outlet}
    if word not in homes or not dot:
        known = [f"{home}.{name}" for home, kind in homes.items() for name in kind.model_fields]
        return f'"{key}" is not known{nearest(key, known)}; write layer.field, roof.field or outlet.field'
    fields = [name for name in homes[word].model_fields if name != "build_up"]
    if field not in fields:
        return f'"{key}" is not known{nearest(field, fields)}; {word} has {", ".join(fields)}'
    if word in LAYERS and roof.build_up.layer(word) is None:
        return f'"{key}": the roof has no {word}; it has {", ".join(layer.word for layer in roof.build_up.layers)}'
    return None


@functools.lru_cache(maxsize=4096)
def _layer_with(layer: Layer, changes: tuple[tuple[str, Any], ...]) -> Layer:
    """Return a layer with changed fields; a sweep asks for the same few layers over and over."""
    from runoff.roof.materials import typical_values

    given = dict(changes)
    base = _given(layer)
    if given.get("material"):
        base |= typical_values(layer.word, given["material"])
    return _built(type(layer), {**base, **given}, layer.word)


def _built(kind: type[Described], given: dict[str, Any], word: str) -> Any:
    try:
        return kind(**given)
    except ValidationError as error:
        known = list(kind.model_fields)
        lines = [
            f"{word}, {sentence(dict(fault), str(fault['loc'][0]) if fault['loc'] else '', known)}"
            for fault in error.errors()
        ]
        raise RoofError("\n".join(f"replace: {line}" for line in lines)) from None


def _given(model: Any) -> dict[str, Any]:
    return {name: getattr(model, name) for name in type(model).model_fields}
