"""The growing medium: what plants root in and most water is held by."""

from __future__ import annotations

from typing import Annotated, ClassVar

from pydantic import Field, model_validator

from runoff.roof.frozen_model import OpenFraction, Positive
from runoff.roof.layers.knowing_layer import Layer, Look, Part, Store
from runoff.roof.layers.order_items import Loose, OrderItem


class GrowingMedium(Layer):
    """Light growing medium.

    Parameters
    ----------
    depth_mm
        Depth, mm. Default 80: at least 70 mm is recommended for sedum (Getter and Rowe 2009, HortScience 44, 401).
    porosity
        Pores per volume. Default 0.60: 0.50-0.75 (from memory).
    field_capacity
        Water held after free drainage, per volume. Default 0.33: 0.25-0.45 for mineral mixes (from memory).
    wilting_point
        Water plants cannot take, per volume. Default 0.08: 0.03-0.10 for mineral mixes (from memory).
    conductivity_mm_per_h
        Saturated hydraulic conductivity, mm/h. Default 600 (from memory): light media have been measured at 60 to
        6000 mm/h, so that rain practically never stays on top of a healthy medium.
    dry_density_kg_per_m3
        Dry bulk density, kg/m3. Default 800: 600-1000 for brick and pumice mixes (from memory).
    detention_k, detention_n
        Outflow ``k h^n`` of water above field capacity (mm, min). Defaults 0.03 and 2.0: published whole-roof
        values for 80 mm (from memory: Kasmin, Stovin and Hathway 2010).
    """

    word: ClassVar[str] = "medium"
    title: ClassVar[str] = "Growing medium"
    store: ClassVar[Store] = "medium"
    parts: ClassVar[tuple[Part, ...]] = (
        Part("field_capacity", "field capacity", "share"),
        Part("wilting_point", "wilting point", "share"),
        Part("porosity", "porosity", "share"),
    )
    order_item: ClassVar[OrderItem] = Loose("growing medium", "medium_waste")
    uncertain: ClassVar[tuple[str, ...]] = (
        *("porosity", "field_capacity", "wilting_point", "conductivity_mm_per_h", "detention_k"),
    )
    usual_material: ClassVar[str] = "brick and pumice mix"

    depth_mm: Positive = 80.0
    porosity: OpenFraction = 0.60
    field_capacity: OpenFraction = 0.33
    wilting_point: Annotated[float, Field(ge=0, lt=1)] = 0.08
    conductivity_mm_per_h: Positive = 600.0
    dry_density_kg_per_m3: Positive = 800.0
    detention_k: Positive = 0.03
    detention_n: Annotated[float, Field(ge=1, le=5)] = 2.0

    @property
    def height_taken_mm(self) -> float:
        """Depth of the medium, mm."""
        return self.depth_mm

    @property
    def dry_mass_kg_per_m2(self) -> float:
        """Dry mass of its depth, kg/m2."""
        return self.depth_mm / 1000.0 * self.dry_density_kg_per_m3

    @property
    def drained_water_mm(self) -> float:
        """Water at field capacity over its depth, mm."""
        return self.field_capacity * self.depth_mm

    @property
    def flooded_water_mm(self) -> float:
        """Water with every pore full, mm."""
        return self.porosity * self.depth_mm

    @property
    def look(self) -> Look:
        """Grains with pores between them."""
        return "grains"

    @property
    def capacity_lines(self) -> tuple[tuple[str, float], ...]:
        """What it holds drained, and with every pore full."""
        return (("holds {} drained,", self.drained_water_mm), ("{} when full", self.flooded_water_mm))

    @model_validator(mode="after")
    def _ordered(self) -> GrowingMedium:
        if not self.wilting_point < self.field_capacity < self.porosity:
            raise ValueError(
                f"wilting_point, field_capacity and porosity must rise in this order (you wrote {self.wilting_point:g}, "
                f"{self.field_capacity:g}, {self.porosity:g})"
            )
        return self
