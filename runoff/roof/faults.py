"""What is wrong with a described roof, in sentences a designer can act on: the key, what was written, what is needed."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from runoff.errors import nearest

if TYPE_CHECKING:
    from pydantic import ValidationError

_LIMITS = {
    "greater_than": ("more than", "gt"),
    "greater_than_equal": ("at least", "ge"),
    "less_than": ("less than", "lt"),
    "less_than_equal": ("at most", "le"),
}
#: What a value of the wrong type should have been.
_TYPES = {
    "float_type": "a number without quotes or unit",
    "int_type": "a whole number without quotes or unit",
    "bool_type": "true or false, without quotes",
    "string_type": "text in quotes",
    "finite_number": "a finite number",
}


def sentences(
    error: ValidationError, known: list[str], written: Mapping[str, tuple[str, Any]] | None = None
) -> list[str]:
    """Return one sentence for every fault of a validation.

    Parameters
    ----------
    error
        What the validation raised.
    known
        Keys that are allowed there.
    written
        House key to the key and the value as they stand in the file, where these differ.

    Returns
    -------
    list of str
        In the order of the faults; a rule across fields that tells several faults gives a sentence for each.
    """
    found = []
    for fault in error.errors(include_url=False):
        if fault["type"] == "value_error":  # a rule across fields; one line for each rule
            found += str(fault["ctx"]["error"]).split("\n")
            continue
        house = str(fault["loc"][0]) if fault["loc"] else ""
        key, value = (written or {}).get(house, (house, fault.get("input")))
        if len(fault["loc"]) > 1:
            key, value = f"{key}[{fault['loc'][1]}]", fault.get("input")
        found.append(_sentence(dict(fault), key, value, known))
    return found


def _sentence(fault: dict[str, Any], key: str, value: Any, known: list[str]) -> str:
    kind, context = fault["type"], fault.get("ctx", {})
    if kind == "extra_forbidden":
        return f"{key} is not a known key{nearest(key, known) or '; known keys are ' + ', '.join(known)}"
    if kind == "missing":
        return f"{key} is missing"
    if kind in _LIMITS:
        words, limit = _LIMITS[kind]
        need = f"{words} {context[limit]:g}"
        if limit in ("lt", "le") and context[limit] == 1 and value <= 100:
            return f"{key} must be {need} (you wrote {shown(value)}); {shown(value)} % is written {value / 100:g}"
    elif kind == "float_type" and isinstance(value, int) and not isinstance(value, bool):
        need = "a number of ordinary size"
    elif kind in _TYPES:
        need = _TYPES[kind]
    elif kind == "model_type":
        need = f"a runoff.{context['class_name']}(...)"
    elif kind in ("tuple_type", "list_type"):
        need = "a list"
    elif kind == "literal_error":
        need = context["expected"].replace("'", '"')
    elif kind == "string_too_long":
        return f"{key} must be at most {context['max_length']} characters long (you wrote {len(value)})"
    else:
        need = f"something else: {fault['msg']}"
    return f"{key} must be {need} (you wrote {shown(value)})"


def shown(value: Any) -> str:
    """Show a value as it stands in a file."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return json.dumps(_cut(value), ensure_ascii=False)
    if isinstance(value, float):
        return f"{value:.12g}"
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list | tuple):
        return "a list"
    return _cut(str(value))


def _cut(text: str) -> str:
    return text if len(text) <= 60 else f"{text[:59]}…"
