"""The layers of a planted roof, top to bottom, each with generic defaults and where they come from.

Every class is frozen, takes keywords only and refuses what it does not know. The unit is in the name of each field.
Defaults are starting points for a first look, most of them common practice or from memory; replace them by the data
sheet of what is bought, or by measurement.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, ClassVar

from pydantic import Field, field_validator, model_validator

from runoff.roof.frozen_model import Described, Fraction, NotNegative, OpenFraction, Positive, Words
from runoff.roof.material_rows import listed, refuse_unknown, typical_values


class Layer(Described):
    """One layer; `word` is its name in files and sweeps.

    Parameters
    ----------
    name
        Words of your own for this layer, shown in documents.
    material
        A row of the materials table (`runoff.materials`): its typical values take the place of the defaults, and what
        is given beside it takes the place of both. The table lists no insulation and no membrane: there, any words.
    """

    word: ClassVar[str]
    name: Words = ""
    material: Words = ""

    @model_validator(mode="before")
    @classmethod
    def _typical_of_material(cls, given: Any) -> Any:
        material = given.get("material", "") if isinstance(given, Mapping) else ""
        return {**typical_values(cls.word, material), **given} if material and isinstance(material, str) else given

    @field_validator("material")
    @classmethod
    def _listed(cls, material: str) -> str:
        if material and listed(cls.word):
            refuse_unknown(cls.word, material)
        return material

    @property
    def height_taken_mm(self) -> float:
        """Height this layer takes in the build-up, mm."""
        return 0.0


class DrainingLayer(Layer):
    """A layer that can carry water sideways to the outlets, with the test of its in-plane flow."""

    @model_validator(mode="before")
    @classmethod
    def _flow_without_its_gradient(cls, given: Any) -> Any:
        # the default gradient belongs to the default flow; a flow given alone holds at the roof's fall
        if isinstance(given, Mapping) and "in_plane_flow_l_per_s_m" in given:
            return {"in_plane_gradient": None, **given}
        return given


class Planting(Layer):
    """Sedum and other succulents.

    Parameters
    ----------
    canopy_storage_mm
        Rain the leaves hold, mm. Default 1: sedum canopies 0.5-2 mm per event (from memory).
    crop_coefficient
        Evapotranspiration of the well-watered planting over the reference. Default 1.0: with the linear drying of the
        medium this is the published moisture-flux form (Stovin, Poe and Berretta 2013); a lower value on top of it
        leaves the measured range.
    depletion_fraction
        Share of the plant-available water that can be used before stress begins (p of FAO-56 Eq. 84). Default 0, as
        in the published moisture-flux form: evapotranspiration falls from field capacity on.
    mass_kg_per_m2
        Fresh mass, kg/m2. Default 10 (common practice, no source).
    """

    word: ClassVar[str] = "planting"
    canopy_storage_mm: NotNegative = 1.0
    crop_coefficient: Positive = 1.0
    depletion_fraction: Annotated[float, Field(ge=0, lt=1)] = 0.0
    mass_kg_per_m2: NotNegative = 10.0


class Mulch(Layer):
    """Compost and wood chip over the medium.

    Parameters
    ----------
    depth_mm
        Depth, mm. Default 20 (common practice, no source).
    holding_fraction
        Water held per volume. Default 0.13: about 51 mm of compost and chip hold 6.5 L/m2 (trade article).
    density_kg_per_m3
        Dry bulk density, kg/m3. Default 250 (from memory).
    """

    word: ClassVar[str] = "mulch"
    depth_mm: Positive = 20.0
    holding_fraction: Fraction = 0.13
    density_kg_per_m3: Positive = 250.0

    @property
    def height_taken_mm(self) -> float:
        """Depth of the mulch, mm."""
        return self.depth_mm


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

    @model_validator(mode="after")
    def _ordered(self) -> GrowingMedium:
        if not self.wilting_point < self.field_capacity < self.porosity:
            raise ValueError(
                f"wilting_point, field_capacity and porosity must rise in this order (you wrote {self.wilting_point:g}, "
                f"{self.field_capacity:g}, {self.porosity:g})"
            )
        return self


class FilterFleece(Layer):
    """Filter fleece that keeps fines out of the drainage.

    Parameters
    ----------
    flow_mm_per_h
        Water it lets through (flow normal to the plane, EN ISO 11058), mm/h. Default 36000: tens of L/(m2 s) when
        clean (from memory).
    storage_mm
        Water it holds, mm. Default 0.5: 0.3-1.0 (from memory).
    mass_kg_per_m2
        Dry mass, kg/m2. Default 0.15: fleeces of 100-200 g/m2 (from memory).
    """

    word: ClassVar[str] = "fleece"
    flow_mm_per_h: NotNegative = 36000.0
    storage_mm: NotNegative = 0.5
    mass_kg_per_m2: NotNegative = 0.15

    @property
    def height_taken_mm(self) -> float:
        """Thickness taken for drawing and depth, mm."""
        return 1.0


class DrainageBoard(DrainingLayer):
    """Drainage board with cups.

    Parameters
    ----------
    height_mm
        Height, mm. Default 25 (common practice, no source).
    cup_storage_mm
        Water the cups hold when they face up, mm (tested by ASTM E2398). Default 3.5: 3-4 for 25 mm (from memory).
    void_storage_mm
        Free water between deck and medium when the board is full, beside the cups, mm. Default 10 (from memory).
    in_plane_flow_l_per_s_m
        In-plane flow per width (EN ISO 12958), L/(s m). Default 0.7 (from memory).
    in_plane_gradient
        Hydraulic gradient of that test. Default 0.02 for the default flow (common practice, no source); a flow given
        without a gradient holds at the roof's fall.
    cups_up
        Whether the cups face up and hold water, as they usually do.
    cup_supply_fraction
        Share of the demand the medium leaves unmet that the cups can give. Default 0.5 (own assumption: water in
        cups reaches plants by vapour and roots only).
    mass_kg_per_m2
        Dry mass, kg/m2. Default 1.2 (from memory).
    """

    word: ClassVar[str] = "board"
    height_mm: Positive = 25.0
    cup_storage_mm: NotNegative = 3.5
    void_storage_mm: NotNegative = 10.0
    in_plane_flow_l_per_s_m: NotNegative = 0.7
    in_plane_gradient: Positive | None = 0.02
    cups_up: bool = True
    cup_supply_fraction: Fraction = 0.5
    mass_kg_per_m2: NotNegative = 1.2

    @property
    def height_taken_mm(self) -> float:
        """Height of the board, mm."""
        return self.height_mm

    @model_validator(mode="after")
    def _holds_no_more_than_its_height(self) -> DrainageBoard:
        if self.cup_storage_mm + self.void_storage_mm > self.height_mm:
            raise ValueError(
                f"cup_storage_mm and void_storage_mm together ({self.cup_storage_mm:g} + {self.void_storage_mm:g} mm) "
                f"cannot exceed height_mm ({self.height_mm:g})"
            )
        return self


class ProtectionMat(DrainingLayer):
    """Non-woven protection mat.

    Parameters
    ----------
    storage_mm
        Water it holds, mm. Default 4: 0.8-1.0 L/m2 per mm of thickness, 5 mm thick (from memory).
    void_storage_mm
        Free space for water in its plane, mm; counts only without a board. Default 0.5 (own assumption).
    in_plane_flow_l_per_s_m
        In-plane flow per width (EN ISO 12958), L/(s m). Default 0.003: a mat alone passes very little (from memory).
    in_plane_gradient
        Hydraulic gradient of that test. Default 1.0 for the default flow (a gradient of the standard, from memory); a
        flow given without a gradient holds at the roof's fall.
    mat_supply_fraction
        Share of the demand left unmet by medium and cups that the mat can give. Default 0.25 (own assumption).
    mass_kg_per_m2
        Dry mass, kg/m2. Default 0.5: 500 g/m2 (common practice, no source).
    """

    word: ClassVar[str] = "mat"
    storage_mm: NotNegative = 4.0
    void_storage_mm: NotNegative = 0.5
    in_plane_flow_l_per_s_m: NotNegative = 0.003
    in_plane_gradient: Positive | None = 1.0
    mat_supply_fraction: Fraction = 0.25
    mass_kg_per_m2: NotNegative = 0.5

    @property
    def height_taken_mm(self) -> float:
        """Thickness taken for drawing and depth, mm."""
        return 5.0


class Insulation(Layer):
    """Insulation below or above the membrane.

    Parameters
    ----------
    thickness_mm, mass_kg_per_m2
        Thickness (mm) and mass (kg/m2). Defaults 120 and 4 (common practice, no source).
    """

    word: ClassVar[str] = "insulation"
    thickness_mm: Positive = 120.0
    mass_kg_per_m2: NotNegative = 4.0

    @property
    def height_taken_mm(self) -> float:
        """Thickness of the insulation, mm."""
        return self.thickness_mm


class Membrane(Layer):
    """Waterproofing and root barrier.

    Parameters
    ----------
    mass_kg_per_m2
        Mass, kg/m2. Default 5 (common practice, no source).
    """

    word: ClassVar[str] = "membrane"
    mass_kg_per_m2: NotNegative = 5.0


LAYERS: dict[str, type[Layer]] = {
    one.word: one
    for one in (Planting, Mulch, GrowingMedium, FilterFleece, DrainageBoard, ProtectionMat, Insulation, Membrane)
}
