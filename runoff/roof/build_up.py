"""The build-up: layers from top to bottom."""

from __future__ import annotations

from typing import Any

from pydantic import SerializeAsAny, field_validator

from runoff.errors import RoofError, nearest
from runoff.roof.frozen_model import Described
from runoff.roof.layers import LAYERS, DrainageBoard, GrowingMedium, Layer

_ORDER = tuple(word for word, kind in LAYERS.items() if not kind.lowermost)  # top to bottom


class BuildUp(Described):
    """Layers from top to bottom.

    Parameters
    ----------
    layers
        Any of the layer classes, top to bottom, each at most once; a growing medium is needed, and a drainage board or,
        without one, a protection mat to carry the water to the outlets.
    """

    layers: tuple[SerializeAsAny[Layer], ...]

    @field_validator("layers", mode="before")
    @classmethod
    def _layers_only(cls, layers: Any) -> Any:
        if not isinstance(layers, list | tuple):
            raise ValueError(f"layers must be a list of layers, top to bottom (given {type(layers).__name__})")
        for number, one in enumerate(layers, start=1):
            if not isinstance(one, tuple(LAYERS.values())):
                raise ValueError(
                    f"layer {number} must be a layer such as runoff.GrowingMedium(depth_mm=80) (given {one!r})"
                )
        return tuple(layers)

    def model_post_init(self, context: Any, /) -> None:
        """Refuse what cannot be built and what cannot drain: once, when the build-up is made."""
        words = [layer.word for layer in self.layers]
        faults = []
        twice = [word for word in LAYERS if words.count(word) > 1]
        if twice:
            faults.append(f"each layer may stand once; given more than once: {', '.join(twice)}")
        if "medium" not in words:
            faults.append(f"a growing medium is needed; given: {', '.join(words) or 'no layer'}")
        # the lowermost may change places: with the insulation above the membrane, the roof is an inverted one
        under = [word for word in words if word in LAYERS and LAYERS[word].lowermost]
        ordered = [word for word in _ORDER for _ in range(words.count(word))] + under
        if words != ordered:
            faults.append(f"layers go from top to bottom: {', '.join(ordered)}; given: {', '.join(words)}")
        if not faults and not any(layer.drains for layer in self.layers):
            faults.append(
                "the build-up has neither a drainage board nor a protection mat: water has no path to the outlets; add one"
            )
        if faults:
            raise ValueError("\n".join(faults))

    def layer(self, word: str) -> Any:
        """Return the layer of that word, or None; words are those of roof files (``medium``, ``board`` ...)."""
        if word not in LAYERS:
            raise RoofError(f'"{word}" is no layer{nearest(word, LAYERS)}; layers are {", ".join(LAYERS)}')
        return next((layer for layer in self.layers if layer.word == word), None)

    @property
    def medium(self) -> GrowingMedium:
        """The growing medium."""
        medium: GrowingMedium = self.layer("medium")
        return medium

    @property
    def board(self) -> DrainageBoard | None:
        """The drainage board, or None."""
        board: DrainageBoard | None = self.layer("board")
        return board

    @property
    def depth_mm(self) -> float:
        """Depth of the whole build-up, mm."""
        return sum(layer.height_taken_mm for layer in self.layers)


def drainage_layer(build_up: Any) -> Any:
    """Return the layer that carries water to the outlets, the uppermost that can, or None; of many designs read as one, too."""
    return next((layer for layer in build_up.layers if layer.drains), None)
