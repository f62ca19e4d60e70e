"""Names of properties (``medium.depth_mm``) in words, in both unit systems.

The unit of a property stands at the end of its name, in SI (``_mm``) or US customary units (``_in``); a file or an option
may be written in either.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from runoff.saying.numbers import rounded, value_words
from runoff.saying.scales import shown, unit_shown


class Ending(NamedTuple):
    """The end of a property's name in SI, its US twin, and their units."""

    si: str
    us: str
    si_unit: str
    us_unit: str


#: Ends of property names, longest first.
ENDINGS = (
    Ending("_mm_per_h", "_in_per_h", "mm/h", "in/h"),
    Ending("_l_per_s_m", "_gpm_per_ft", "L/(s m)", "gpm/ft"),
    Ending("_per_mm", "_per_in", "1/mm", "1/in"),
    Ending("_kg_per_m2", "_lb_per_ft2", "kg/m2", "lb/ft2"),
    Ending("_kg_per_m3", "_lb_per_ft3", "kg/m3", "lb/ft3"),
    Ending("_l_per_s", "_gpm", "L/s", "gpm"),
    Ending("_m2", "_ft2", "m2", "ft2"),
    Ending("_mm", "_in", "mm", "in"),
    Ending("_m", "_ft", "m", "ft"),
)

# depths of a roof's description are those of layers, not of rain
_KIND = {"mm": "layer depth"}


class PropertyWords(NamedTuple):
    """A property taken apart.

    Parameters
    ----------
    part
        The layer, ``roof`` or ``outlet``; empty for a name without one.
    quantity
        What it is, in words.
    unit
        Its unit; empty for plain numbers, words, yes and no.
    """

    part: str
    quantity: str
    unit: str

    @property
    def heading(self) -> str:
        """The property over a column of numbers: ``medium depth, mm``."""
        return self.heading_in("si")

    def heading_in(self, system: str) -> str:
        """Return the heading in a unit system: ``medium depth, in``."""
        words = f"{self.part} {self.quantity}".strip()
        return f"{words}, {self.unit_in(system)}" if self.unit else words

    def unit_in(self, system: str) -> str:
        """Return the unit of the property in a unit system."""
        return unit_shown(self.unit, system=system) if self.unit else ""

    def number_in(self, value: Any, system: str = "si") -> Any:
        """Return a value of the property in a unit system: lengths of layers to the digits shown, others to four."""
        if not self.unit or isinstance(value, str | bool | np.bool_):
            return value
        one = shown(float(value), self.unit, _KIND.get(self.unit, ""), system)
        if system == "si":
            return float(value)
        return rounded(one.value, one.digits) if one.trimmed else float(f"{one.value:.4g}")

    def value_in(self, value: Any, system: str = "si") -> str:
        """Return a value of the property, without its unit, in a unit system."""
        return value_words(self.number_in(value, system))

    def with_value(self, value: Any, system: str = "si") -> str:
        """Return the property with a value, for a sentence: ``medium depth 80 mm``."""
        unit = "" if isinstance(value, str | bool | np.bool_) else self.unit_in(system)
        return f"{self.part} {self.quantity} {self.value_in(value, system)} {unit}".strip()


def property_words(name: str) -> PropertyWords:
    """Take the name of a property apart; the unit is read from its end.

    Examples
    --------
    >>> property_words("board.cup_storage_mm")
    PropertyWords(part='board', quantity='cup storage', unit='mm')
    >>> property_words("mat.mat_supply_fraction").quantity
    'supply fraction'
    """
    part, _, field = name.rpartition(".")
    ending = next((one for one in ENDINGS if field.endswith(one.si)), None)
    if ending is None:
        words = field.replace("_", " ").strip()
        return PropertyWords(part, words.removeprefix(f"{part} ") if part else words, "")
    return PropertyWords(part, field.removesuffix(ending.si).replace("_", " ").strip(), ending.si_unit)


def us_twin(name: str) -> tuple[str, str, str] | None:
    """Return SI name, unit given and SI unit of a property named in US customary units, or None.

    Examples
    --------
    >>> us_twin("medium.depth_in")
    ('medium.depth_mm', 'in', 'mm')
    >>> us_twin("medium.depth_mm") is None
    True
    """
    ending = next((one for one in ENDINGS if name.endswith(one.us)), None)
    return None if ending is None else (name.removesuffix(ending.us) + ending.si, ending.us_unit, ending.si_unit)
