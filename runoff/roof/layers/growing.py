"""The growing medium: what plants root in and most water is held by."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Annotated, Any, ClassVar, Literal

import numpy as np
from pydantic import Field

from runoff.roof.frozen_model import Fraction, OpenFraction, Positive
from runoff.roof.layers.knowing_layer import Layer, Look, Part, Store
from runoff.roof.layers.order_items import Loose, OrderItem
from runoff.roof.release_curve import mean_share_held, share_held

#: Field capacity leaves at least this share of the pores to air: with every pore full there would be no room above it.
MOST_HELD = 0.98
#: Suction of a field value of soil science, -33 kPa, as a column of water, mm; and how far the value may lie off its curve.
FIELD_SUCTION_MM, OFF_THE_CURVE = 3300.0, 0.05
#: Depths over which the water plants can use must rise, mm.
RISING_MM = np.arange(30.0, 301.0, 10.0)
_CURVE = ("release_alpha_per_mm", "release_n")


class GrowingMedium(Layer):
    """Light growing medium.

    Field capacity belongs to a depth: a drained layer is saturated at its foot, so that a shallow one holds more per volume
    than a deep one. With a release curve what it holds is worked out for its depth; without one it is
    ``field_capacity x depth_mm``. A curve comes with a material of the table or is given; a layer given its own
    `field_capacity` and no curve has none.

    Parameters
    ----------
    depth_mm
        Depth, mm. Default 80: at least 70 mm is recommended for sedum (Getter and Rowe 2009, HortScience 44, 401).
    porosity
        Pores per volume. Default 0.60: 0.50-0.75 (from memory).
    field_capacity
        Water held after free drainage, per volume. Default 0.33: 0.25-0.45 for mineral mixes (from memory). Never more
        than 0.98 of the pores count.
    field_capacity_kind
        ``"container"``: measured on a drained cylinder `field_capacity_depth_mm` deep; with a curve the layer holds
        ``w_r z + (field_capacity - w_r) z m(z)/m(field_capacity_depth_mm)``. ``"suction"``: a field value of soil science, a
        point of the curve at -33 kPa (3300 mm); the layer holds ``z (w_r + (porosity - w_r) m(z))`` and the value only checks
        the curve, to 0.05. z is the depth, w_r = wilting_point/2, m(z) the mean of the curve over a layer z deep
        (`runoff.roof.release_curve.mean_share_held`). Default "container" (common practice of substrate laboratories, no source).
    field_capacity_depth_mm
        Depth of the drained cylinder, mm. Default 100: the usual test cylinder (common practice, no source).
    release_alpha_per_mm, release_n
        Release curve of van Genuchten (1980), residual wilting_point/2, saturated at the porosity; n more than 1. Default none
        (own assumption: a field capacity given alone is that of the layer as built).
    wilting_point
        Water plants cannot take, per volume. Default 0.08: 0.03-0.10 for mineral mixes (from memory).
    conductivity_mm_per_h
        Saturated hydraulic conductivity, mm/h. Default 600 (from memory): light media have been measured at 60 to
        6000 mm/h, so that rain practically never stays on top of a healthy medium.
    bypass_fraction
        Share of the water soaking in that passes a medium at field capacity, growing with its wetness from none when it is
        dry. Default 0.5: read from three open records of runoff before field capacity, 0.2-1.0 (own assumption from those records).
    dry_density_kg_per_m3
        Dry bulk density, kg/m3. Default 800: 600-1000 for brick and pumice mixes (from memory).
    detention_k, detention_n
        Outflow ``k h^n`` of water above field capacity (mm, min), k for a depth of 80 mm. Defaults 0.0115 and 2.0: this one pair
        gives the runoff coefficients by depth of the usual guideline test, 27 mm in 15 min, within 0.06 (coefficients in
        part from memory). One pair does not serve all roofs: 0.0003 to 0.0115 fitted two open records, 0.03 is remembered
        for a whole roof.
    """

    word: ClassVar[str] = "medium"
    title: ClassVar[str] = "Growing medium"
    store: ClassVar[Store] = "medium"
    parts: ClassVar[tuple[Part, ...]] = (
        Part("field_capacity_in_place", "field capacity", "share"),
        Part("wilting_point", "wilting point", "share"),
        Part("porosity", "porosity", "share"),
    )
    order_item: ClassVar[OrderItem] = Loose("growing medium", "medium_waste")
    uncertain: ClassVar[tuple[str, ...]] = (
        *("porosity", "field_capacity", "release_alpha_per_mm", "wilting_point", "conductivity_mm_per_h"),
        *("bypass_fraction", "detention_k"),
    )
    drawn_by_logarithm: ClassVar[tuple[str, ...]] = ("detention_k",)
    usual_material: ClassVar[str] = "brick and pumice mix"

    depth_mm: Positive = 80.0
    porosity: OpenFraction = 0.60
    field_capacity: OpenFraction = 0.33
    field_capacity_kind: Literal["container", "suction"] = "container"
    field_capacity_depth_mm: Positive = 100.0
    release_alpha_per_mm: Positive | None = None
    release_n: Positive | None = None
    wilting_point: Annotated[float, Field(ge=0, lt=1)] = 0.08
    conductivity_mm_per_h: Positive = 600.0
    bypass_fraction: Fraction = 0.5
    dry_density_kg_per_m3: Positive = 800.0
    detention_k: Positive = 0.0115
    detention_n: Annotated[float, Field(ge=1, le=5)] = 2.0

    @classmethod
    def implied_by(cls, given: Mapping[str, Any]) -> dict[str, Any]:
        """Set the curve of a material aside where the field capacity is the user's own."""
        if "field_capacity" in given and not set(_CURVE) & set(given):
            return {**dict.fromkeys(_CURVE), "field_capacity_kind": "container"}
        return {}

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
        """Water at field capacity in this depth, mm."""
        held: float = self.held_by(self.depth_mm)  # of many designs read as one, an array
        return held if isinstance(held, np.ndarray) else float(held)

    @property
    def field_capacity_in_place(self) -> float:
        """Water at field capacity in this depth, per volume."""
        return self.drained_water_mm / self.depth_mm

    @property
    def flooded_water_mm(self) -> float:
        """Water with every pore full, mm."""
        return self.porosity * self.depth_mm

    def held_by(self, depth_mm: Any) -> Any:
        """Return what layers of this medium hold after free drainage, mm.

        Parameters
        ----------
        depth_mm
            Depths, mm, a number or an array.
        """
        most = MOST_HELD * (self.porosity * depth_mm)
        if self.release_alpha_per_mm is None or self.release_n is None:
            return np.minimum(self.field_capacity * depth_mm, most)
        curve = self.release_alpha_per_mm, self.release_n
        least = self.wilting_point / 2.0
        mean = mean_share_held(depth_mm, *curve)
        if self.field_capacity_kind == "suction":
            held = depth_mm * (least + (self.porosity - least) * mean)
        else:
            tested = mean_share_held(self.field_capacity_depth_mm, *curve)
            held = least * depth_mm + (self.field_capacity - least) * depth_mm * mean / tested
        return np.minimum(held, most)

    @property
    def in_doubt(self) -> tuple[str, ...]:
        """Uncertain fields that are felt: of a point on the curve not the value, only the curve."""
        unfelt = {"field_capacity"} if self.field_capacity_kind == "suction" else set()
        return tuple(field for field in super().in_doubt if field not in unfelt)

    @property
    def look(self) -> Look:
        """Grains with pores between them."""
        return "grains"

    @property
    def capacity_lines(self) -> tuple[tuple[str, float], ...]:
        """What it holds drained, and with every pore full."""
        return (("holds {} drained,", self.drained_water_mm), ("{} when full", self.flooded_water_mm))

    def contradictions(self) -> Iterator[tuple[Any, Callable[[], str]]]:
        """Shares that do not rise, a curve that is none, and a layer whose water no plant could use."""
        yield (
            (self.field_capacity <= self.wilting_point) | (self.porosity <= self.field_capacity),
            lambda: (
                f"wilting_point, field_capacity and porosity must rise in this order (you wrote {self.wilting_point:g}, "
                f"{self.field_capacity:g}, {self.porosity:g})"
            ),
        )
        yield from self._faults_of_the_curve()
        yield (
            self.drained_water_mm <= self.wilting_point * self.depth_mm,
            lambda: (
                f"a layer {self.depth_mm:g} mm deep would hold {self.field_capacity_in_place:.3g} of its volume after free "
                f"drainage, no more than wilting_point ({self.wilting_point:g}): plants could use none of it"
            ),
        )

    def _faults_of_the_curve(self) -> Iterator[tuple[Any, Callable[[], str]]]:
        """Give what is wrong with the release curve."""
        alpha, n = self.release_alpha_per_mm, self.release_n
        if alpha is None and n is None:
            yield (
                self.field_capacity_kind == "suction",
                lambda: (
                    'field_capacity_kind "suction" is a point on a release curve: give release_alpha_per_mm and release_n, or '
                    'write "container"'
                ),
            )
            return
        if alpha is None or n is None:
            given, missing = _CURVE if n is None else _CURVE[::-1]
            yield (
                True,
                lambda: (
                    f"a release curve needs release_alpha_per_mm and release_n ({given} is given, {missing} is not)"
                ),
            )
            return
        yield (
            n <= 1.0,
            lambda: f"release_n must be more than 1 (you wrote {n:g}): the release curve would not fall with suction",
        )
        if self.field_capacity_kind == "suction":
            least = self.wilting_point / 2.0
            on_curve = least + (self.porosity - least) * share_held(FIELD_SUCTION_MM, alpha, n)
            yield (
                abs(on_curve - self.field_capacity) > OFF_THE_CURVE,
                lambda: (
                    f"field_capacity ({self.field_capacity:g}) must lie on the release curve to {OFF_THE_CURVE:g}: at -33 kPa the "
                    f"curve holds {on_curve:.3f}; check release_alpha_per_mm and release_n, or write field_capacity_kind = "
                    '"container"'
                ),
            )
        depths = RISING_MM[:, np.newaxis]  # designs lie along the last axis
        usable = self.held_by(depths) - self.wilting_point * depths
        falls = np.diff(usable, axis=0) <= 0.0
        i = int(falls.argmax()) // falls.shape[1]
        yield (
            falls.any(axis=0),
            lambda: (
                "the water plants can use must rise with depth from 30 to 300 mm; by this release curve it is "
                f"{usable[i, 0]:.3g} mm in {RISING_MM[i]:g} mm and {usable[i + 1, 0]:.3g} mm in {RISING_MM[i + 1]:g} mm; check "
                "release_alpha_per_mm, release_n and wilting_point"
            ),
        )
