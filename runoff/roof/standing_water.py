"""How high free water stands on a roof, and how much stands below a level: the one geometry of the balance, by roof."""

from __future__ import annotations

from typing import TYPE_CHECKING

from runoff.balance import free_water, packing
from runoff.roof.column_values import column_parameters

if TYPE_CHECKING:
    from runoff.roof.description import Roof


def deck_of(roof: Roof) -> free_water.Deck:
    """Return the geometry of free water of a roof; see `runoff.balance.free_water`."""
    rows = packing.by_name(column_parameters(roof))
    return free_water.Deck(*(float(rows[name][0]) for name in free_water.Deck._fields))


def level_of(roof: Roof, water_mm: float) -> float:
    """Return how high free water stands above the deck at the outlets, mm; `water_mm` is its mean over the planted area."""
    return float(free_water.level(water_mm, deck_of(roof)))


def water_below(roof: Roof, level_mm: float) -> float:
    """Return the free water that stands below a level above the deck at the outlets, mm over the planted area."""
    return float(free_water.volume(level_mm, deck_of(roof)))
