"""The rows of the materials table as they stand in the file: what layers are filled from, before any layer is made."""

from __future__ import annotations

import csv
import functools
from importlib import resources
from typing import Any, NamedTuple

from runoff.errors import RoofError, nearest


class MaterialValue(NamedTuple):
    """One property of a material: its spread, and where the numbers come from; a word stands in all three places."""

    low: Any
    typical: Any
    high: Any
    status: str
    source: str

    @property
    def is_word(self) -> bool:
        """Whether the property is a word and not a number."""
        return isinstance(self.typical, str)


@functools.cache
def rows_by_layer() -> dict[str, dict[str, dict[str, MaterialValue]]]:
    """Read the table: word of the layer -> material -> property -> value."""
    found: dict[str, dict[str, dict[str, MaterialValue]]] = {}
    text = resources.files("runoff.roof").joinpath("materials.csv").read_text(encoding="utf-8")
    for row in csv.DictReader(text.splitlines()):
        low, typical, high = (_number_or_word(row[place]) for place in ("low", "typical", "high"))
        value = MaterialValue(low, typical, high, row["status"], row["source"])
        found.setdefault(row["layer"], {}).setdefault(row["material"], {})[row["property"]] = value
    return found


def _number_or_word(text: str) -> float | str:
    try:
        return float(text)
    except ValueError:
        return text


def listed(word: str) -> dict[str, dict[str, MaterialValue]]:
    """Return the materials of a layer's word and their properties; empty for layers the table does not list."""
    return rows_by_layer().get(word, {})


def typical_values(word: str, name: str) -> dict[str, float | str]:
    """Return the typical properties of a material, by field; empty for a material the table does not list."""
    return {field: value.typical for field, value in listed(word).get(name, {}).items()}


def refuse_unknown(word: str, name: str) -> None:
    """Raise when the table has no such material for a layer; the message lists those it has."""
    known = listed(word)
    if name not in known:
        choice = f"known for {word}: {', '.join(known)}" if known else f"no materials are listed for {word}"
        raise RoofError(f'material "{name}" is not in the materials table{nearest(name, known)}; {choice}')
