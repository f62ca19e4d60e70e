"""What is wrong with a roof file, in sentences a designer can act on: the layer, what was written, what is needed."""

from __future__ import annotations

from typing import Any

from runoff.errors import nearest

_LIMITS = {
    "greater_than": ("more than", "gt"),
    "greater_than_equal": ("at least", "ge"),
    "less_than": ("less than", "lt"),
    "less_than_equal": ("at most", "le"),
}
_NUMBERS = ("float_type", "int_type", "float_parsing", "int_parsing")


def sentence(fault: dict[str, Any], key: str, known: list[str]) -> str:
    """Turn one validation fault into a sentence about `key`.

    Parameters
    ----------
    fault
        One entry of ``errors()`` of the validation.
    key
        The key as written in the file.
    known
        Keys that are allowed there.
    """
    kind, written, context = fault["type"], fault.get("input"), fault.get("ctx", {})
    if kind == "extra_forbidden":
        return f"{key} is not a known key{nearest(key, known)}"
    if kind == "missing":
        return f"{key} is missing"
    if kind in _LIMITS:
        words, limit = _LIMITS[kind]
        return f"{key} must be {words} {context[limit]:g} (you wrote {shown(written)})"
    if kind == "finite_number":
        return f"{key} must be a plain number (you wrote {shown(written)})"
    if kind in _NUMBERS:
        return f"{key} must be a number without quotes or unit (you wrote {shown(written)})"
    if kind == "bool_type":
        return f"{key} must be true or false (you wrote {shown(written)})"
    if kind == "literal_error":
        return f"{key} must be {context['expected'].replace(chr(39), chr(34))} (you wrote {shown(written)})"
    if kind == "string_type":
        return f"{key} must be text in quotes (you wrote {shown(written)})"
    if kind == "value_error":
        return str(context["error"])
    return f"{key}: {fault['msg']} (you wrote {shown(written)})"


def shown(value: Any) -> str:
    """Show a value as it stands in a file."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, float):
        return f"{value:g}"
    return str(value)
