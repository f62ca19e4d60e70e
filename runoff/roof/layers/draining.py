"""What parts medium and drainage, what carries water to the outlets, what protects the membrane: fleece, board, mat."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any, ClassVar

from runoff.roof.frozen_model import Fraction, NotNegative, Positive
from runoff.roof.layers.knowing_layer import DrainingLayer, Layer, Look, Part, Store
from runoff.roof.layers.order_items import OrderItem, Sheets


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
    title: ClassVar[str] = "Filter fleece"
    store: ClassVar[Store] = "mat"
    parts: ClassVar[tuple[Part, ...]] = (Part("storage_mm", "holds", "depth"),)
    order_item: ClassVar[OrderItem] = Sheets("filter fleece", "fleece_width_m", "fleece_overlap_m")
    uncertain: ClassVar[tuple[str, ...]] = ("flow_mm_per_h", "storage_mm")
    usual_material: ClassVar[str] = "filter fleece 100-200 g/m2"

    flow_mm_per_h: NotNegative = 36000.0
    storage_mm: NotNegative = 0.5
    mass_kg_per_m2: NotNegative = 0.15

    @property
    def height_taken_mm(self) -> float:
        """Thickness taken for drawing and depth, mm."""
        return 1.0

    @property
    def drained_water_mm(self) -> float:
        """Water it holds, mm."""
        return self.storage_mm

    @property
    def look(self) -> Look:
        """A fabric."""
        return "fabric"


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
        without a gradient is taken at 0.02, and `runoff.roof.assumptions` says so.
    cups_up
        Whether the cups face up and hold water, as they usually do.
    cup_supply_fraction
        Share of the demand the medium leaves unmet that the cups can give. Default 0.5 (own assumption: water in
        cups reaches plants by vapour and roots only).
    mass_kg_per_m2
        Dry mass, kg/m2. Default 1.2 (from memory).
    """

    word: ClassVar[str] = "board"
    title: ClassVar[str] = "Drainage board"
    store: ClassVar[Store] = "cups"
    parts: ClassVar[tuple[Part, ...]] = (
        Part("cup_storage_mm", "cups hold", "depth"),
        Part("void_storage_mm", "free space", "depth"),
    )
    order_item: ClassVar[OrderItem] = Sheets("drainage board", "board_width_m", "board_overlap_m")
    uncertain: ClassVar[tuple[str, ...]] = (
        *("cup_storage_mm", "void_storage_mm", "in_plane_flow_l_per_s_m", "cup_supply_fraction"),
    )
    usual_material: ClassVar[str] = "cup board 25 mm"

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

    @property
    def drained_water_mm(self) -> float:
        """Water in the cups when they face up, mm."""
        return self.cup_storage_mm if self.cups_up else 0.0

    @property
    def supply_fraction(self) -> float:
        """Share of the demand the medium leaves unmet that the cups can give, 0-1."""
        return self.cup_supply_fraction

    @property
    def look(self) -> Look:
        """Cups, open to the top or to the bottom."""
        return "cups up" if self.cups_up else "cups down"

    @property
    def capacity_lines(self) -> tuple[tuple[str, float], ...]:
        """What the cups hold, and the free space beside them."""
        cups = "cups up, hold {};" if self.cups_up else "cups face down, hold none;"
        return ((cups, self.drained_water_mm), ("free space {}", self.void_storage_mm))

    def contradictions(self) -> Iterator[tuple[Any, Callable[[], str]]]:
        """Free space beyond the height, alone or with the cups."""
        yield from super().contradictions()
        yield (
            self.cup_storage_mm + self.void_storage_mm > self.height_mm,
            lambda: (
                f"cup_storage_mm and void_storage_mm together ({self.cup_storage_mm:g} + {self.void_storage_mm:g} mm) "
                f"cannot exceed height_mm ({self.height_mm:g})"
            ),
        )


class ProtectionMat(DrainingLayer):
    """Non-woven protection mat.

    Parameters
    ----------
    thickness_mm
        Thickness, mm. Default 5 (common practice, no source).
    storage_mm
        Water it holds, mm. Default 4: 0.8-1.0 L/m2 per mm of thickness (from memory).
    void_storage_mm
        Free space for water in its plane, mm; counts only without a board. Default 0.5 (own assumption).
    in_plane_flow_l_per_s_m
        In-plane flow per width (EN ISO 12958), L/(s m). Default 0.003: a mat alone passes very little (from memory).
    in_plane_gradient
        Hydraulic gradient of that test. Default 1.0 for the default flow (a gradient of the standard, from memory); a
        flow given without a gradient is taken at 0.02, and `runoff.roof.assumptions` says so.
    mat_supply_fraction
        Share of the demand left unmet by medium and cups that the mat can give. Default 0.25 (own assumption).
    mass_kg_per_m2
        Dry mass, kg/m2. Default 0.5: 500 g/m2 (common practice, no source).
    """

    word: ClassVar[str] = "mat"
    title: ClassVar[str] = "Protection mat"
    store: ClassVar[Store] = "mat"
    laminar: ClassVar[bool] = True
    parts: ClassVar[tuple[Part, ...]] = (Part("storage_mm", "holds", "depth"),)
    order_item: ClassVar[OrderItem] = Sheets("protection mat", "mat_width_m", "mat_overlap_m")
    uncertain: ClassVar[tuple[str, ...]] = ("storage_mm", "in_plane_flow_l_per_s_m", "mat_supply_fraction")
    usual_material: ClassVar[str] = "non-woven 5 mm"

    thickness_mm: Positive = 5.0
    storage_mm: NotNegative = 4.0
    void_storage_mm: NotNegative = 0.5
    in_plane_flow_l_per_s_m: NotNegative = 0.003
    in_plane_gradient: Positive | None = 1.0
    mat_supply_fraction: Fraction = 0.25
    mass_kg_per_m2: NotNegative = 0.5

    @property
    def height_taken_mm(self) -> float:
        """Thickness of the mat, mm."""
        return self.thickness_mm

    @property
    def drained_water_mm(self) -> float:
        """Water it holds, mm."""
        return self.storage_mm

    @property
    def supply_fraction(self) -> float:
        """Share of the demand left unmet by medium and cups that the mat can give, 0-1."""
        return self.mat_supply_fraction

    @property
    def look(self) -> Look:
        """A fabric."""
        return "fabric"
