"""What every layer knows of itself, so that balance, loads, lists, drawings and documents need not know each layer."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any, ClassVar, Literal, NamedTuple, Self

from pydantic import field_validator, model_validator

from runoff.roof.frozen_model import Described, Words
from runoff.roof.layers.order_items import OrderItem
from runoff.roof.material_rows import listed, refuse_unknown, typical_values

#: The stores of the balance a layer can hold water in; empty for a layer that holds none.
Store = Literal["surface", "medium", "cups", "mat", ""]
#: What a layer looks like in a section.
Look = Literal["plants", "chips", "grains", "fabric", "cups up", "cups down", "insulation", "line"]


#: Gradient of an in-plane flow whose test does not say (common practice, no source).
USUAL_GRADIENT = 0.02
#: The least share of its height that a drainage layer leaves to free water.
LEAST_SPACE = 0.01


class Part(NamedTuple):
    """A number of a layer that documents give: the field, its words, and the kind of number."""

    field: str
    words: str
    kind: Literal["depth", "share"]


class Layer(Described):
    """One layer; `word` is its name in files and sweeps.

    A new layer states the class attributes and the properties below, says in `contradictions` which of its numbers cannot stand
    together, in formulas that hold for arrays too, stands in `runoff.roof.layers.LAYERS` at its place
    from top to bottom, and is then weighed, ordered, drawn, named in documents and varied in ranges.

    Parameters
    ----------
    name
        Words of your own for this layer, shown in documents.
    material
        A row of the materials table (`runoff.materials`): its typical values take the place of the defaults, and what
        is given beside it takes the place of both. The table lists no insulation and no membrane: there, any words.
    """

    word: ClassVar[str]
    #: Its name in documents and drawings.
    title: ClassVar[str]
    #: The store of the balance its `drained_water_mm` belongs to.
    store: ClassVar[Store] = ""
    #: Whether it can carry water sideways to the outlets: see `DrainingLayer`.
    drains: ClassVar[bool] = False
    #: Whether it lies under everything that holds water, where such layers may change places.
    lowermost: ClassVar[bool] = False
    #: Numbers that documents give beside its depth.
    parts: ClassVar[tuple[Part, ...]] = ()
    #: How it is ordered.
    order_item: ClassVar[OrderItem]
    #: Fields that are known only within a range and that the balance feels.
    uncertain: ClassVar[tuple[str, ...]] = ()
    #: Those of them whose range spans powers of ten, drawn evenly by their logarithm.
    drawn_by_logarithm: ClassVar[tuple[str, ...]] = ()
    #: The material whose spread is taken where none is named.
    usual_material: ClassVar[str] = ""

    name: Words = ""
    material: Words = ""

    @model_validator(mode="before")
    @classmethod
    def _filled_in(cls, given: Any) -> Any:
        return cls.filled(given) if isinstance(given, Mapping) else given

    @classmethod
    def filled(cls, given: Mapping[str, Any]) -> dict[str, Any]:
        """Return what is given with the typical values of its material, and with what the given fields imply."""
        material = given.get("material", "")
        typical = typical_values(cls.word, material) if material and isinstance(material, str) else {}
        return {**typical, **cls.implied_by(given), **given}

    @classmethod
    def implied_by(cls, given: Mapping[str, Any]) -> dict[str, Any]:
        """Return fields that change their default, or a material's value, because of what is given."""
        return {}

    @field_validator("material")
    @classmethod
    def _listed(cls, material: str) -> str:
        if material and listed(cls.word):
            refuse_unknown(cls.word, material)
        return material

    def contradictions(self) -> Iterator[tuple[Any, Callable[[], str]]]:
        """Give what may not be together in this layer: whether it is, and what gives a sentence on it.

        Of a layer whose numbers are arrays (`runoff.roof.replacing.with_numbers`) the first is an array too.
        """
        return iter(())

    @model_validator(mode="after")
    def _can_be(self) -> Self:
        for wrong, words in self.contradictions():
            if wrong:
                raise ValueError(words())
        return self

    @property
    def in_doubt(self) -> tuple[str, ...]:
        """Those `uncertain` fields that this layer has a value of."""
        return tuple(field for field in self.uncertain if getattr(self, field) is not None)

    @property
    def height_taken_mm(self) -> float:
        """Height this layer takes in the build-up, mm."""
        return 0.0

    @property
    def dry_mass_kg_per_m2(self) -> float:
        """Mass without water, kg/m2: its ``mass_kg_per_m2`` unless the layer reckons it."""
        mass: float = self.mass_kg_per_m2  # type: ignore[attr-defined]
        return mass

    @property
    def drained_water_mm(self) -> float:
        """Water it holds after free drainage, mm."""
        return 0.0

    @property
    def full_water_mm(self) -> float:
        """Water in it when the free space of the drainage layer is full too, mm."""
        return self.drained_water_mm

    @property
    def flooded_water_mm(self) -> float:
        """Water in it when it stands under water, mm."""
        return self.full_water_mm

    @property
    def supply_fraction(self) -> float:
        """Share of the demand left unmet that plants can take from its store, 0-1; the medium has a law of its own."""
        return 0.0

    @property
    def look(self) -> Look:
        """What it looks like in a section."""
        raise NotImplementedError(f"{type(self).__name__} does not say what it looks like in a section")

    @property
    def capacity_lines(self) -> tuple[tuple[str, float], ...]:
        """What it can hold, in lines for a drawing: words with a place ``{}`` for the depth, and that depth, mm."""
        return (("holds {}", self.drained_water_mm),) if self.store else ()


class DrainingLayer(Layer):
    """A layer that can carry water sideways to the outlets, with the test of its in-plane flow.

    The uppermost one of a build-up carries the water; the free space of those below it is not counted.
    """

    drains: ClassVar[bool] = True
    #: Whether the flow in it goes straight with the gradient (a mat) and not with its root (a board).
    laminar: ClassVar[bool] = False

    @classmethod
    def implied_by(cls, given: Mapping[str, Any]) -> dict[str, Any]:
        """Leave the gradient open where the flow is the user's own: the default gradient belongs to the default flow."""
        return {"in_plane_gradient": None} if "in_plane_flow_l_per_s_m" in given else {}

    @property
    def tested_gradient(self) -> float:
        """Gradient at which the in-plane flow holds: as given, or `USUAL_GRADIENT`."""
        given: float | None = self.in_plane_gradient  # type: ignore[attr-defined]
        return USUAL_GRADIENT if given is None else given

    def contradictions(self) -> Iterator[tuple[Any, Callable[[], str]]]:
        """Free space beyond the height."""
        height, space = self.height_taken_mm, self.void_storage_mm  # type: ignore[attr-defined]
        yield (
            (space < LEAST_SPACE * height) | (height < space),
            lambda: (
                f"void_storage_mm must lie between a hundredth of the height and the height, {LEAST_SPACE * height:g} and "
                f"{height:g} mm (you wrote {space:g})"
            ),
        )

    @property
    def full_water_mm(self) -> float:
        """Water it holds and its free space, mm."""
        flooded: float = self.drained_water_mm + self.void_storage_mm  # type: ignore[attr-defined]
        return flooded
