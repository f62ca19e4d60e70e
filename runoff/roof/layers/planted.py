"""What grows and what lies over the medium: the planting and its mulch."""

from __future__ import annotations

from typing import Annotated, ClassVar

from pydantic import Field

from runoff.roof.frozen_model import Fraction, NotNegative, Positive
from runoff.roof.layers.knowing_layer import Layer, Look, Part, Store
from runoff.roof.layers.order_items import Loose, OrderItem, Plugs


class Planting(Layer):
    """Sedum and other succulents.

    Parameters
    ----------
    canopy_storage_mm
        Rain the leaves hold, mm. Default 1: sedum canopies 0.5-2 mm per event (from memory).
    crop_coefficient
        Evapotranspiration of the well-watered planting over the reference, before a mulch saves some. Default 1.0: with the linear drying of the
        medium this is the published moisture-flux form (Stovin, Poe and Berretta 2013); a lower value on top of it
        leaves the measured range.
    depletion_fraction
        Share of the plant-available water that can be used before stress begins (p of FAO-56 Eq. 84). Default 0, as
        in the published moisture-flux form: evapotranspiration falls from field capacity on.
    mass_kg_per_m2
        Fresh mass, kg/m2. Default 10 (common practice, no source).
    """

    word: ClassVar[str] = "planting"
    title: ClassVar[str] = "Sedum planting"
    store: ClassVar[Store] = "surface"
    parts: ClassVar[tuple[Part, ...]] = (Part("canopy_storage_mm", "leaves hold", "depth"),)
    order_item: ClassVar[OrderItem] = Plugs()
    uncertain: ClassVar[tuple[str, ...]] = ("canopy_storage_mm", "crop_coefficient", "depletion_fraction")
    usual_material: ClassVar[str] = "sedum"

    canopy_storage_mm: NotNegative = 1.0
    crop_coefficient: Positive = 1.0
    depletion_fraction: Annotated[float, Field(ge=0, lt=1)] = 0.0
    mass_kg_per_m2: NotNegative = 10.0

    @property
    def drained_water_mm(self) -> float:
        """Rain the leaves hold, mm."""
        return self.canopy_storage_mm

    @property
    def look(self) -> Look:
        """Plants with their roots in the medium."""
        return "plants"

    @property
    def capacity_lines(self) -> tuple[tuple[str, float], ...]:
        """What the leaves hold."""
        return (("leaves hold {}", self.canopy_storage_mm),)


class Mulch(Layer):
    """Compost and wood chip over the medium.

    Parameters
    ----------
    depth_mm
        Depth, mm. Default 20 (common practice, no source).
    holding_fraction
        Water held per volume. Default 0.13: about 51 mm of compost and chip hold 6.5 L/m2 (trade article).
    evaporation_saving
        Share by which it lowers the evapotranspiration of what grows under and through it, 0-1. Default 0.20, range
        0.10-0.30: FAO-56 chapter 10 gives reductions of this size for organic mulch (from memory).
    density_kg_per_m3
        Dry bulk density, kg/m3. Default 250 (from memory).
    """

    word: ClassVar[str] = "mulch"
    title: ClassVar[str] = "Mulch"
    store: ClassVar[Store] = "surface"
    parts: ClassVar[tuple[Part, ...]] = (Part("holding_fraction", "holds, by volume,", "share"),)
    order_item: ClassVar[OrderItem] = Loose(
        "mulch", "mulch_waste", (("compost", "compost_parts"), ("wood chip", "wood_chip_parts"))
    )
    uncertain: ClassVar[tuple[str, ...]] = ("holding_fraction", "evaporation_saving")
    usual_material: ClassVar[str] = "compost and wood chip 1:1"

    depth_mm: Positive = 20.0
    holding_fraction: Fraction = 0.13
    evaporation_saving: Fraction = 0.20
    density_kg_per_m3: Positive = 250.0

    @property
    def height_taken_mm(self) -> float:
        """Depth of the mulch, mm."""
        return self.depth_mm

    @property
    def dry_mass_kg_per_m2(self) -> float:
        """Dry mass of its depth, kg/m2."""
        return self.depth_mm / 1000.0 * self.density_kg_per_m3

    @property
    def drained_water_mm(self) -> float:
        """Water it holds over its depth, mm."""
        return self.depth_mm * self.holding_fraction

    @property
    def look(self) -> Look:
        """Chips in compost."""
        return "chips"

    @property
    def capacity_lines(self) -> tuple[tuple[str, float], ...]:
        """What compost and chips hold."""
        return (("compost and chips, holds {}", self.drained_water_mm),)
