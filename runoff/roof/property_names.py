"""Names of properties (``medium.depth_mm``) and their values as a person reads them."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

# ends of property names, longest first, and the unit they stand for
_ENDINGS = {
    "_mm_per_h": "mm/h",
    "_l_per_s_m": "L/(s m)",
    "_kg_per_m2": "kg/m2",
    "_kg_per_m3": "kg/m3",
    "_mm": "mm",
    "_m2": "m2",
    "_m": "m",
}


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
        words = f"{self.part} {self.quantity}".strip()
        return f"{words}, {self.unit}" if self.unit else words

    def with_value(self, value: Any) -> str:
        """Return the property with a value, for a sentence: ``medium depth 80 mm``."""
        return f"{self.part} {self.quantity} {value_words(value)} {self.unit}".strip()


def property_words(name: str) -> PropertyWords:
    """Take the name of a property apart; the unit is read from its end.

    Examples
    --------
    >>> property_words("board.cup_storage_mm")
    PropertyWords(part='board', quantity='cup storage', unit='mm')
    """
    part, _, field = name.rpartition(".")
    ending = next((end for end in _ENDINGS if field.endswith(end)), "")
    return PropertyWords(part, field.removesuffix(ending).replace("_", " ").strip(), _ENDINGS.get(ending, ""))


def value_words(value: Any) -> str:
    """Return a value of a property without idle zeros.

    Examples
    --------
    >>> value_words(80.0), value_words(0.3333333), value_words(36000), value_words(False), value_words("pumice mix")
    ('80', '0.333333', '36000', 'no', 'pumice mix')
    """
    if isinstance(value, bool | np.bool_):
        return "yes" if value else "no"
    return f"{value:.6g}" if isinstance(value, int | float | np.number) else str(value)
