"""Roofs that differ in a few properties, for sweeps: thousands of them, each still checked."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from typing import Any

import numpy as np

from runoff.errors import RoofError, nearest, raise_faults
from runoff.roof.frozen_model import Described, plain_numbers
from runoff.roof.layers import LAYERS, Layer
from runoff.roof.levels import level_faults

_SIZES = ("diameter_mm", "width_mm", "height_mm", "length_mm", "sill_mm")
_WHOLE = ("outlet.count",)
_NOT_BY_NAME = ("build_up", "fitted")
_OPENING = ("emergency_width_mm", "emergency_height_mm")


def replaced(roof: Any, changes: Mapping[str, Any], homes: Mapping[str, type[Described]]) -> Any:
    """Return a roof with the changes made; see `Roof.replace`.

    Parameters
    ----------
    roof
        The roof, with ``build_up`` and ``outlets``.
    changes
        Property to value.
    homes
        What holds properties besides the layers, by the word before the dot: ``roof``, ``outlet`` and ``surface``.

    Returns
    -------
    Roof
        Layers and roof as validated; the roof given is unchanged.

    Raises
    ------
    RoofError
        Naming every property that the roof lacks or that takes no such value, and heights that contradict each other.
    """
    by_word: dict[str, dict[str, Any]] = {}
    faults = []
    homes = {**LAYERS, **homes}
    for key, value in plain_numbers(changes).items():
        if key in _WHOLE and isinstance(value, float) and value.is_integer():
            value = int(value)
        fault = _fault(roof, key, value, homes)
        if fault:
            faults.append(fault)
        else:
            word, _, field = key.partition(".")
            by_word.setdefault(word, {})[field] = value
    raise_faults("replace", faults, RoofError)
    of_roof, of_outlets, of_surface = (by_word.pop(word, {}) for word in ("roof", "outlet", "surface"))
    build_up = roof.build_up
    if by_word:
        layers = tuple(
            _layer_with(layer, tuple((field, value, type(value)) for field, value in by_word[layer.word].items()))
            if layer.word in by_word
            else layer
            for layer in build_up.layers
        )
        # words and order are as before and every layer has been checked, so the build-up need not be checked again
        build_up = build_up.model_copy(update={"layers": layers})
    if of_outlets:
        of_roof["outlets"] = tuple(_outlet_with(one, of_outlets) for one in roof.outlets)
    if of_surface:
        of_roof["other_surface"] = _surface_with(roof.other_surface, of_surface)
    if of_roof.get("emergency_overflow_mm", 0.0) is None:  # an opening goes with its sill
        of_roof = {**dict.fromkeys(_OPENING), **of_roof}
    if not of_roof:
        changed = roof.model_copy(update={"build_up": build_up})
        raise_faults("replace", [f"roof, {fault}" for fault in level_faults(changed)], RoofError)
        return changed
    return _made(type(roof), {**roof.fields(), **of_roof, "build_up": build_up}, "roof")


def with_numbers(layer: Layer, numbers: Mapping[str, np.ndarray]) -> tuple[Layer, np.ndarray]:
    """Return a layer whose fields are arrays, which works its own formulas on them, and what of them it cannot have.

    Parameters
    ----------
    layer
        The layer.
    numbers
        Values per field, in house units, each of shape ``(variant,)``.

    Returns
    -------
    layer : Layer
        With those arrays in place of its numbers; of use where it can have them.
    impossible : numpy.ndarray
        Which variants `Roof.replace` would refuse for the layer's sake, shape ``(variant,)``; without fields a single answer.
        Whether heights contradict those of the rest of the roof is not looked at.
    """
    impossible = np.zeros((), dtype=bool)
    for field, values in numbers.items():
        impossible = impossible | layer.cannot_have(field, values)
    changed = layer.model_copy(update=dict(numbers))
    with np.errstate(all="ignore"):  # of what is out of range already
        for wrong, _ in changed.contradictions():
            impossible = impossible | wrong
    return changed, impossible


def _fault(roof: Any, key: str, value: Any, homes: Mapping[str, type[Described]]) -> str | None:
    """Say why a property cannot be changed, or return None."""
    unknown = _unknown(key, homes)
    if unknown:
        return unknown
    word = key.partition(".")[0]
    if word in LAYERS and roof.build_up.layer(word) is None:
        return f'"{key}": the roof has no {word}; it has {", ".join(layer.word for layer in roof.build_up.layers)}'
    if word == "outlet" and not roof.outlets:
        return f'"{key}": the roof has no outlet'
    field = key.partition(".")[2]
    if word == "outlet" and len(roof.outlets) > 1 and field in ("count", *_SIZES):
        kinds = " and ".join(one.words for one in roof.outlets)
        return (
            f'"{key}": the roof has several kinds of outlet ({kinds}), and it would change all of them; give roof.outlets, or '
            "a roof file for each"
        )
    if key != "roof.outlets" and (isinstance(value, list | tuple | dict | set) or getattr(value, "ndim", 0) > 0):
        return f'"{key}" takes one value (given {value!r}); several values belong in runoff.sweep'
    return None


def _unknown(key: str, homes: Mapping[str, type[Described]]) -> str | None:
    """Say that no roof has such a property, or return None."""
    word, dot, field = key.partition(".")
    if word not in homes or not dot:
        known = [f"{home}.{name}" for home, kind in homes.items() for name in kind.model_fields]
        return (
            f'"{key}" is not known{nearest(key, known)}; write layer.field, roof.field, outlet.field or surface.field'
        )
    fields = homes[word].model_fields
    if field not in fields or field in _NOT_BY_NAME:
        known = [name for name in fields if name not in _NOT_BY_NAME]
        return f'"{key}" is not known{nearest(field, known)}; {word} has {", ".join(known)}'
    return None


@functools.lru_cache(maxsize=4096)
def _layer_with(layer: Layer, changes: tuple[tuple[str, Any, type], ...]) -> Layer:
    """Return a layer with changed fields; a sweep asks for the same few layers over and over.

    The type stands beside each value because 1, 1.0 and true are the same to the cache but not to a layer.
    """
    given = {field: value for field, value, _ in changes}
    if "material" in given:
        filled: Layer = _made(type(layer), {**layer.fields(), **type(layer).filled(given)}, layer.word)
        return filled
    # the material is a name here, its values stand in the fields: it is carried over as it is
    changed = _made(type(layer), {**layer.fields(), "material": "", **given}, layer.word)
    same: Layer = changed.model_copy(update={"material": layer.material}) if layer.material else changed
    return same


def _outlet_with(outlet: Any, changes: Mapping[str, Any]) -> Any:
    """Return an outlet with changed fields; what belongs to the other kind goes when the kind changes."""
    given = {**outlet.fields(), **changes}
    if changes.get("kind", outlet.kind) != outlet.kind:
        of_its_kind = (
            (*_SIZES, "strainer", "gutter_l_per_s") if "edge" in (given["kind"], outlet.kind) else _SIZES
        )  # edges have no strainer
        given = {field: value for field, value in given.items() if field in changes or field not in of_its_kind}
    return _made(type(outlet), given, "outlet")


def _surface_with(surface: Any, changes: Mapping[str, Any]) -> Any:
    """Return the unplanted surface with changed fields; what goes by its kind, or by its true storage, follows them."""
    given = {**surface.fields(), **changes}
    if changes.get("kind", surface.kind) != surface.kind:
        given = dict(changes)
    elif "depression_storage_mm" in changes and "daily_storage_mm" not in changes:
        del given["daily_storage_mm"]
    return _made(type(surface), given, "surface")


def _made(kind: type[Described], given: Mapping[str, Any], word: str) -> Any:
    made, wrong = kind.checked(given)
    raise_faults("replace", [f"{word}, {fault}" for fault in wrong], RoofError)
    return made
