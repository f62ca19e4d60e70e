"""Roofs drawn from ranges, read together: a drawn number of a layer is an array along ``design``, and no roof is made for a draw.

A layer whose numbers are arrays works its own formulas on them, and says by its own rules which draws cannot be. What belongs
to the roof itself (outlets, edge, the surface without planting) is made and checked once for each distinct set of it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from runoff.errors import RoofError
from runoff.roof.replacing import with_numbers
from runoff.sizing.designs import OF_THE_ROOF, Alike, Layers, ReadTogether, Varied

if TYPE_CHECKING:
    from runoff.roof import Roof


class DrawnRoofs(ReadTogether, Sequence[Any]):
    """Roofs that differ in drawn numbers; a roof asked for by its place is made then.

    Parameters
    ----------
    roof
        The roof from which they differ.
    drawn
        Values per property, ``layer.field``, ``roof.field``, ``outlet.field`` or ``surface.field``, each of shape
        ``(design,)``.

    Attributes
    ----------
    impossible
        Which draws no roof can have, shape ``(design,)``; only without any can the roofs be read.
    """

    def __init__(self, roof: Roof, drawn: Mapping[str, np.ndarray]) -> None:
        self._roof, self._drawn = roof, {name: np.asarray(values, dtype=float) for name, values in drawn.items()}
        self.impossible = np.zeros(len(self), dtype=bool)
        self._layers = self._drawn_layers()
        self._variants: list[Any] = []
        self._which = np.zeros(len(self), dtype=int)
        self._make_variants()
        self._look_at_levels()

    def __len__(self) -> int:
        return int(next(iter(self._drawn.values())).size)

    def __getitem__(self, at: Any) -> Any:
        """Return the roof of a draw, or the list of those of a slice.

        Raises
        ------
        RoofError
            When no roof can have what was drawn.
        """
        if isinstance(at, slice):
            return [self[one] for one in range(*at.indices(len(self)))]
        return self._roof.replace({name: float(values[at]) for name, values in self._drawn.items()})

    def alike(self, piece: range | None = None) -> Iterator[tuple[np.ndarray, Any]]:
        """Read the draws of a piece; see `runoff.sizing.designs.ReadTogether`."""
        return self._alike(np.asarray(range(len(self)) if piece is None else piece))

    def _alike(self, numbers: np.ndarray) -> Iterator[tuple[np.ndarray, Any]]:
        varied, which = Varied.made_of(self._variants), self._which[numbers]
        kind = varied.kind[which]
        for one in np.unique(kind):
            places = np.flatnonzero(kind == one)
            layers = {word: _some(layer, numbers[places]) for word, layer in self._layers.items()}
            yield places, Alike(*varied.read(which[places]), build_up=Layers(layers))

    def _drawn_layers(self) -> dict[str, Any]:
        """Return the layers with their drawn numbers as arrays, and mark what they say cannot be."""
        layers: dict[str, Any] = {layer.word: layer for layer in self._roof.build_up.layers}
        by_word: dict[str, dict[str, np.ndarray]] = {}
        for name, values in self._drawn.items():
            word, _, field = name.partition(".")
            if word in layers:
                by_word.setdefault(word, {})[field] = values
            elif word not in OF_THE_ROOF:
                self.impossible[:] = True
        for word, fields in by_word.items():
            layers[word], impossible = with_numbers(layers[word], fields)
            self.impossible |= impossible
        return layers

    def _make_variants(self) -> None:
        """Make the roof of one draw for each distinct set of what belongs to the roof itself."""
        own = [values for name, values in self._drawn.items() if name.partition(".")[0] in OF_THE_ROOF]
        if not own:
            self._variants = [self._roof]
            return
        _, group = np.unique(np.array(own), axis=1, return_inverse=True)
        for one in np.unique(group):
            for at in np.flatnonzero((group.ravel() == one) & ~self.impossible):
                try:
                    self._variants.append(self[at])
                except RoofError:
                    self.impossible[at] = True
                    continue
                self._which[group.ravel() == one] = len(self._variants) - 1
                break

    def _look_at_levels(self) -> None:
        from runoff.roof.levels import contradicting_levels

        possible = np.flatnonzero(~self.impossible)
        if possible.size:
            for places, roof in self._alike(possible):
                self.impossible[possible[places]] = np.logical_or(*contradicting_levels(roof))

    def refuse_impossible(self) -> None:
        """Stop at the first draw that no roof can have.

        Raises
        ------
        RoofError
            Saying why.
        """
        if self.impossible.any():
            self[int(self.impossible.argmax())]


def _some(layer: Any, places: np.ndarray) -> Any:
    """Return a layer with those of its arrays' values that stand at some places."""
    arrays = {name: value[places] for name, value in layer.fields().items() if isinstance(value, np.ndarray)}
    return layer.model_copy(update=arrays) if arrays else layer
