"""What lies under everything that holds water: insulation and membrane. Neither holds any."""

from __future__ import annotations

from typing import ClassVar

from runoff.roof.frozen_model import NotNegative, Positive
from runoff.roof.layers.knowing_layer import Layer, Look
from runoff.roof.layers.order_items import OrderItem, Sheets, Slabs


class Insulation(Layer):
    """Insulation below or above the membrane.

    Parameters
    ----------
    thickness_mm, mass_kg_per_m2
        Thickness (mm) and mass (kg/m2). Defaults 120 and 4 (common practice, no source).
    """

    word: ClassVar[str] = "insulation"
    title: ClassVar[str] = "Insulation"
    lowermost: ClassVar[bool] = True
    order_item: ClassVar[OrderItem] = Slabs("insulation", "insulation_waste")

    thickness_mm: Positive = 120.0
    mass_kg_per_m2: NotNegative = 4.0

    @property
    def height_taken_mm(self) -> float:
        """Thickness of the insulation, mm."""
        return self.thickness_mm

    @property
    def look(self) -> Look:
        """The waved hatch of building drawings."""
        return "insulation"


class Membrane(Layer):
    """Waterproofing and root barrier.

    Parameters
    ----------
    mass_kg_per_m2
        Mass, kg/m2. Default 5 (common practice, no source).
    """

    word: ClassVar[str] = "membrane"
    title: ClassVar[str] = "Waterproofing and root barrier"
    lowermost: ClassVar[bool] = True
    order_item: ClassVar[OrderItem] = Sheets("membrane", "membrane_width_m", "membrane_overlap_m", whole_roof=True)

    mass_kg_per_m2: NotNegative = 5.0

    @property
    def look(self) -> Look:
        """A line."""
        return "line"
