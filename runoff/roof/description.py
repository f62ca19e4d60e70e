"""The roof that carries the build-up: area, fall, outlets, emergency overflow, and what is not planted."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import Field, field_validator, model_validator

from runoff.roof.build_up import BuildUp
from runoff.roof.frozen_model import Described, Fraction, NotNegative, Positive, Words
from runoff.roof.replacing import replaced
from runoff.roof.roof_text import to_toml


class BareSurface(Described):
    """A surface without planting: one depression store.

    Parameters
    ----------
    kind
        ``"membrane"`` or ``"gravel"``.
    depression_storage_mm
        Water it holds before it sheds, mm. Default 1 for a membrane (initial loss 0.5-3 mm, from memory) and 5 for
        gravel (gravel-ballasted roofs keep 14-32 % of the rain, from memory).
    """

    kind: Literal["membrane", "gravel"] = "membrane"
    depression_storage_mm: NotNegative = 1.0

    @model_validator(mode="before")
    @classmethod
    def _gravel_holds_more(cls, given: Any) -> Any:
        if isinstance(given, Mapping) and given.get("kind") == "gravel":
            return {"depression_storage_mm": 5.0, **given}
        return given


class Outlet(Described):
    """One outlet, or several alike.

    Parameters
    ----------
    kind
        ``"round"`` (give `diameter_mm`) or ``"rectangular"`` (give `width_mm` and `height_mm`).
    diameter_mm
        Diameter of a round outlet, mm.
    width_mm, height_mm
        Clear opening of a rectangular outlet in an upstand, mm.
    strainer
        Whether a strainer or grating stands before it: halves the flow (EN 12056-3, ko 0.5).
    design_head_mm
        Depth of water over the outlet that a daily run counts with, mm. Default 35 (EN 12056-3 practice, from memory).
    count
        How many of this kind.
    """

    kind: Literal["round", "rectangular"] = "round"
    diameter_mm: Positive | None = None
    width_mm: Positive | None = None
    height_mm: Positive | None = None
    strainer: bool = True
    design_head_mm: Positive = 35.0
    count: Annotated[int, Field(ge=1, le=1000)] = 1

    @model_validator(mode="after")
    def _sized(self) -> Outlet:
        given = [name for name in ("diameter_mm", "width_mm", "height_mm") if getattr(self, name) is not None]
        wanted = ["diameter_mm"] if self.kind == "round" else ["width_mm", "height_mm"]
        if given != wanted:
            raise ValueError(
                f"a {self.kind} outlet needs {' and '.join(wanted)} and no other size "
                f"(you wrote {', '.join(given) or 'none'})"
            )
        return self

    @property
    def words(self) -> str:
        """The outlet in words, for example ``2 round outlets of 100 mm``."""
        size = f"{self.diameter_mm:g}" if self.kind == "round" else f"{self.width_mm:g} x {self.height_mm:g}"
        return f"{self.count} {self.kind} outlet{'s' if self.count > 1 else ''} of {size} mm"


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
        Longest way of water in the drainage layer to an outlet, m.
    fall
        Fall of the deck, m per m. Default 0.02 (2 %, the usual least design fall of membrane roofs).
    outlets
        Outlets in the deck or the upstand; default one round outlet of 100 mm with a strainer.
    emergency_overflow_mm
        Height of the emergency overflow above the deck, mm; none: water above the medium runs over the edge.
    blocked_fraction
        Share of the drainage that is blocked, 0 open - 1 clogged.
    """

    build_up: BuildUp
    name: Words = ""
    site: Words = ""
    area_m2: Positive = 100.0
    planted_fraction: Annotated[float, Field(gt=0, le=1)] = 1.0
    other_surface: BareSurface = BareSurface(kind="gravel")
    flow_length_m: Positive = 8.0
    fall: Fraction = 0.02
    outlets: tuple[Outlet, ...] = (Outlet(kind="round", diameter_mm=100.0),)
    emergency_overflow_mm: NotNegative | None = None
    blocked_fraction: Fraction = 0.0

    @field_validator("outlets", mode="before")
    @classmethod
    def _any_sequence(cls, outlets: Any) -> Any:
        return tuple(outlets) if isinstance(outlets, list) else outlets

    @model_validator(mode="after")
    def _drains_somewhere(self) -> Roof:
        if not self.outlets and self.emergency_overflow_mm is None:
            raise ValueError("a roof needs at least one outlet or an emergency overflow; neither is given")
        edge_mm = 4000.0 * math.sqrt(self.area_m2)  # of a square; a longer roof has more
        for outlet in self.outlets:
            width = (outlet.diameter_mm or outlet.width_mm or 0.0) * outlet.count
            if width > edge_mm:
                raise ValueError(
                    f"{outlet.words} need {width:g} mm of edge, but the whole edge of a square roof of {self.area_m2:g} m2 "
                    f"is {edge_mm:.0f} mm long; check outlets and area_m2"
                )
        return self

    def replace(self, changes: Mapping[str, Any]) -> Roof:
        """Return a roof with some properties changed.

        Parameters
        ----------
        changes
            ``layer.field`` (``{"medium.depth_mm": 60}``), ``roof.field`` (``{"roof.fall": 0.01}``),
            ``outlet.field`` for all outlets, or ``layer.material`` for a named material of the table.

        Raises
        ------
        RoofError
            When a property is not known, the roof has no such layer, or a value is out of range.
        """
        return replaced(self, changes, {"roof": Roof, "outlet": Outlet})

    def to_toml(self) -> str:
        """Return the roof as the text of a roof file; `runoff.read_roof` gives the same roof back."""
        return to_toml(self)
