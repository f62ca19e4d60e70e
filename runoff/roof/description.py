"""The roof that carries the build-up: area, fall, outlets, emergency overflow, and what is not planted."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Annotated, Any, Literal

from pydantic import Field, field_validator, model_validator

from runoff.roof.build_up import BuildUp
from runoff.roof.fitted_range import FittedRange
from runoff.roof.frozen_model import Described, Fraction, NotNegative, Positive, Words
from runoff.roof.levels import level_faults
from runoff.roof.replacing import replaced
from runoff.roof.roof_text import to_toml

#: Daily storage of a bare surface over its true one: low, typical, high (see `BareSurface`).
DAILY_SHARE = {"membrane": (1.1, 1.2, 1.6), "gravel": (0.92, 1.0, 1.12)}


class BareSurface(Described):
    """A surface without planting: one depression store.

    Parameters
    ----------
    kind
        ``"membrane"`` or ``"gravel"``.
    depression_storage_mm
        Water it holds before it sheds, mm. Default 1 for a membrane (initial loss 0.5-3 mm, from memory) and 5 for
        gravel (gravel-ballasted roofs keep 14-32 % of the rain, from memory).
    daily_storage_mm
        What stands for it in a daily run, mm: a store that fills once in a day of the run fills several times in the minutes
        of that day. Default 1.2 times the depression storage for a membrane (1.1-1.6) and 1.0 times for gravel (0.92-1.12),
        chosen against runs of sub-daily records (own reading of those records).
    depth_mm
        Depth of the gravel, mm; 0 on a membrane. Default 50 (common practice, no source).
    pore_fraction
        Share of the gravel's depth that water can fill; 1 on a membrane. Default 0.4 (common practice, no source).
    """

    kind: Literal["membrane", "gravel"] = "membrane"
    depression_storage_mm: NotNegative = 1.0
    daily_storage_mm: NotNegative = 1.2
    depth_mm: NotNegative = 0.0
    pore_fraction: Annotated[float, Field(gt=0, le=1)] = 1.0

    @model_validator(mode="before")
    @classmethod
    def _as_its_kind(cls, given: Any) -> Any:
        if not isinstance(given, Mapping):
            return given
        gravel = given.get("kind") == "gravel"
        usual = {"depression_storage_mm": 5.0, "depth_mm": 50.0, "pore_fraction": 0.4} if gravel else {}
        held = given.get("depression_storage_mm", usual.get("depression_storage_mm", 1.0))
        if isinstance(held, int | float) and not isinstance(held, bool):
            usual["daily_storage_mm"] = DAILY_SHARE["gravel" if gravel else "membrane"][1] * held
        return {**usual, **given}


#: Fields that size an outlet, and those each kind needs.
OUTLET_SIZES = ("diameter_mm", "width_mm", "height_mm", "length_mm")
_SIZES_OF = {"round": ["diameter_mm"], "rectangular": ["width_mm", "height_mm"], "edge": ["length_mm"]}


class Outlet(Described):
    """One outlet, or several alike.

    Parameters
    ----------
    kind
        ``"round"`` (give `diameter_mm`), ``"rectangular"`` (give `width_mm` and `height_mm`) or ``"edge"``, a straight edge or
        gutter over which the water runs (give `length_mm`); the upstand ``edge_height_mm`` of the roof holds for its other sides.
    diameter_mm
        Diameter of a round outlet, mm.
    width_mm, height_mm
        Clear opening of a rectangular outlet in an upstand, mm.
    length_mm
        Length of an edge over which water runs, mm: a weir by the rectangular form of EN 12056-3, without strainer.
    sill_mm
        Height of that edge above the deck, mm: 0. Water behind a raised edge is told by the roof's emergency overflow.
    gutter_l_per_s
        What the gutter along an edge and its downpipes take, L/s, an input by their maker or standard; none for an edge without
        a gutter. Documents hold it against the design peak: the run over the edge does not depend on it.
    strainer
        Whether a strainer or grating stands before it: halves the flow (EN 12056-3, ko 0.5). An edge has none.
    design_head_mm
        Depth of water over the outlet that a daily run counts with, mm. Default 35 (EN 12056-3 practice, from memory).
    count
        How many of this kind.
    """

    kind: Literal["round", "rectangular", "edge"] = "round"
    diameter_mm: Positive | None = None
    width_mm: Positive | None = None
    height_mm: Positive | None = None
    length_mm: Positive | None = None
    sill_mm: NotNegative = 0.0
    gutter_l_per_s: Positive | None = None
    strainer: bool = True
    design_head_mm: Positive = 35.0
    count: Annotated[int, Field(ge=1, le=1000)] = 1

    @model_validator(mode="before")
    @classmethod
    def _no_strainer_at_an_edge(cls, given: Any) -> Any:
        return {"strainer": False, **given} if isinstance(given, Mapping) and given.get("kind") == "edge" else given

    @model_validator(mode="after")
    def _sized(self) -> Outlet:
        given = [name for name in OUTLET_SIZES if getattr(self, name) is not None]
        wanted = _SIZES_OF[self.kind]
        faults = []
        if given != wanted:
            faults.append(
                f"{'an' if self.kind == 'edge' else 'a'} {self.kind} outlet needs {' and '.join(wanted)} and no other size "
                f"(you wrote {', '.join(given) or 'none'})"
            )
        if self.sill_mm > 0.0:
            faults.append(
                f"sill_mm must be 0 (you wrote {self.sill_mm:g}): an outlet lies at the level of the deck; write an opening above "
                "it as emergency_overflow_mm of the roof"
            )
        if self.kind != "edge" and self.gutter_l_per_s is not None:
            faults.append(f"gutter_l_per_s belongs to an edge outlet (you wrote it for a {self.kind} one)")
        if self.kind == "edge" and self.strainer:
            faults.append("strainer must be false: an edge outlet has none")
        if faults:
            raise ValueError("\n".join(faults))
        return self

    @property
    def sizes_mm(self) -> tuple[float, ...]:
        """Its sizes, mm: diameter, or width and height, or length."""
        return tuple(getattr(self, name) for name in _SIZES_OF[self.kind])

    @property
    def width_taken_mm(self) -> float:
        """What all of this kind take of the roof's edge, mm."""
        return self.sizes_mm[0] * self.count

    @property
    def words(self) -> str:
        """The outlet in words, for example ``2 round outlets of 100 mm``."""
        size = " x ".join(f"{one:g}" for one in self.sizes_mm)
        return f"{self.count} {self.kind} outlet{'s' if self.count > 1 else ''} of {size} mm"


#: A flow length that leaves a narrower strip of the area belongs to another roof, m.
LEAST_STRIP_M = 1.0
USUAL_FLOW_LENGTH_M = 8.0


class Roof(Described):
    """A roof: what is built on it, how water leaves it.

    Parameters
    ----------
    build_up
        The layers of the planted part.
    name, site
        Words for tables and documents.
    area_m2
        Plan area of the whole roof that drains to the outlets, m2.
    planted_fraction
        Share of the area that is planted, 0-1.
    other_surface
        The rest: gravel by default.
    flow_length_m
        Longest way of water in the drainage layer to an outlet, m. It may not leave a strip narrower than 1 m. Default 8, on
        a roof smaller than 8 m2 the length of such a strip (common practice, no source).
    fall
        Fall of the deck, m per m. Default 0.02 (2 %, the usual least design fall of membrane roofs).
    outlets
        Outlets in the deck or the upstand; default one round outlet of 100 mm with a strainer.
    edge_height_mm
        Height of the edge above the deck at the outlets, mm: above it water runs over without limit. Default 150 above the top
        of the medium (common practice for upstands, no source); documents say that it was taken.
    emergency_overflow_mm
        Height of the emergency overflow's sill above the deck at the outlets, mm. Default none: no overflow is ever assumed,
        and water then stands up to the edge.
    emergency_width_mm, emergency_height_mm
        Clear opening of the emergency overflow, mm; both or neither. Default none: what stands above the sill with every
        outlet blocked cannot be told without it.
    blocked_fraction
        Share of the drainage that is blocked, 0 open - 1 clogged.
    run_on_area_m2
        Hard surface beside or above whose water runs onto this roof, m2. Default none.
    run_on_loss_mm
        Depression storage of that surface, mm. Default 1, as for a bare membrane (initial loss 0.5-3 mm, from memory).
    run_on_to
        Where its water arrives: ``"planting"`` (with the rain) or ``"outlet"`` (under the planting). Default planting.
    fitted
        Properties that were fitted to a measurement; their ranges take the place of those of the materials table.
    """

    build_up: BuildUp
    name: Words = ""
    site: Words = ""
    area_m2: Positive = 100.0
    planted_fraction: Annotated[float, Field(gt=0, le=1)] = 1.0
    other_surface: BareSurface = BareSurface(kind="gravel")
    flow_length_m: Positive = USUAL_FLOW_LENGTH_M
    fall: Fraction = 0.02
    outlets: tuple[Outlet, ...] = (Outlet(kind="round", diameter_mm=100.0),)
    edge_height_mm: Positive | None = None
    emergency_overflow_mm: NotNegative | None = None
    emergency_width_mm: Positive | None = None
    emergency_height_mm: Positive | None = None
    blocked_fraction: Fraction = 0.0
    run_on_area_m2: NotNegative = 0.0
    run_on_loss_mm: NotNegative = 1.0
    run_on_to: Literal["planting", "outlet"] = "planting"
    fitted: tuple[FittedRange, ...] = ()

    @model_validator(mode="before")
    @classmethod
    def _flow_length_of_a_small_roof(cls, given: Any) -> Any:
        area = given.get("area_m2") if isinstance(given, Mapping) else None
        if (
            isinstance(area, int | float)
            and not isinstance(area, bool)
            and 0.0 < area < USUAL_FLOW_LENGTH_M * LEAST_STRIP_M
        ):
            return {"flow_length_m": area / LEAST_STRIP_M, **given}
        return given

    @field_validator("outlets", "fitted", mode="before")
    @classmethod
    def _any_sequence(cls, several: Any) -> Any:
        return tuple(several) if isinstance(several, list) else several

    @model_validator(mode="after")
    def _can_be(self) -> Roof:
        faults = [*self._outlet_faults(), *self._overflow_faults(), *level_faults(self), *self._fitted_faults()]
        strip_m = self.area_m2 / self.flow_length_m
        if strip_m < LEAST_STRIP_M:
            faults.append(
                f"flow_length_m must leave a strip at least {LEAST_STRIP_M:g} m wide: {self.flow_length_m:g} m on "
                f"{self.area_m2:g} m2 leave {strip_m:.2g} m; write the longest way of water to an outlet"
            )
        if faults:
            raise ValueError("\n".join(faults))
        return self

    def _outlet_faults(self) -> list[str]:
        if not self.outlets and self.emergency_overflow_mm is None:
            return ["a roof needs at least one outlet or an emergency overflow; neither is given"]
        return [
            f"{outlet.words} need {outlet.width_taken_mm:g} mm of edge, but {self._edge_words}; check outlets and area_m2"
            for outlet in self.outlets
            if outlet.width_taken_mm > self._edge_mm
        ]

    def _overflow_faults(self) -> list[str]:
        opening = {name: getattr(self, name) for name in ("emergency_width_mm", "emergency_height_mm")}
        given = [name for name, size in opening.items() if size is not None]
        if not given:
            return []
        if self.emergency_overflow_mm is None:
            return [
                f"{' and '.join(given)} given without emergency_overflow_mm: an opening needs the height of its sill above the deck"
            ]
        if len(given) == 1:
            return [f"an emergency overflow needs {' and '.join(opening)}, or neither (you wrote {given[0]} alone)"]
        if opening["emergency_width_mm"] > self._edge_mm:
            return [f"emergency_width_mm is {opening['emergency_width_mm']:g}, but {self._edge_words}"]
        return []

    def _fitted_faults(self) -> list[str]:
        names = [one.property for one in self.fitted]
        faults = [f"fitted names {name} twice; keep one" for name in dict.fromkeys(names) if names.count(name) > 1]
        for name in dict.fromkeys(names):
            value = self.value_of(name)
            if not isinstance(value, int | float) or isinstance(value, bool):
                faults.append(
                    f'fitted names "{name}", which is no number of this roof; write layer.field or roof.field'
                )
        return faults

    def value_of(self, name: str) -> Any:
        """Return a property by its name, ``medium.depth_mm`` or ``roof.fall``; None where the roof has no such."""
        word, _, field = name.partition(".")
        part = self if word == "roof" else self.build_up.layer(word)
        return getattr(part, field, None) if part is not None and field in type(part).model_fields else None

    def with_fitted(self, fitted: Sequence[FittedRange]) -> Roof:
        """Return a roof that has ranges fitted to a measurement; earlier ones of the same properties go."""
        new = {one.property for one in fitted}
        kept = tuple(one for one in self.fitted if one.property not in new)
        return Roof(**{**self.fields(), "fitted": (*kept, *fitted)})

    @property
    def _edge_mm(self) -> float:
        return 4000.0 * math.sqrt(self.area_m2)  # of a square; a longer roof has more

    @property
    def _edge_words(self) -> str:
        return f"the whole edge of a square roof of {self.area_m2:g} m2 is {self._edge_mm:.0f} mm long"

    def replace(self, changes: Mapping[str, Any]) -> Roof:
        """Return a roof with some properties changed.

        Parameters
        ----------
        changes
            ``layer.field`` (``{"medium.depth_mm": 60}``), ``roof.field`` (``{"roof.fall": 0.01}``),
            ``outlet.field`` for all outlets, ``surface.field`` for what is not planted, or ``layer.material`` for a named material of the table.

        Raises
        ------
        RoofError
            When a property is not known, the roof has no such layer, or a value is out of range.
        """
        changed: Roof = replaced(self, changes, {"roof": Roof, "outlet": Outlet, "surface": BareSurface})
        return changed

    def to_toml(self) -> str:
        """Return the roof as the text of a roof file; `runoff.read_roof` gives the same roof back."""
        return to_toml(self)
