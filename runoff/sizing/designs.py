"""The designs of a sweep: every combination of the values given, each part checked once, not once per design.

Ten thousand designs differ in a few hundred layers at most. Each distinct layer and each distinct set of roof fields is
made and checked by `runoff.Roof.replace`; a design then only puts such parts together.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from runoff.errors import SizingError, raise_faults

if TYPE_CHECKING:
    from runoff.roof import Roof

_OF_THE_ROOF = ("roof", "outlet")


class Layers:
    """The layers of one design: what balance, loads and prices ask of a `runoff.BuildUp`.

    Parameters
    ----------
    by_word
        The layers, top to bottom.
    """

    __slots__ = ("by_word",)

    def __init__(self, by_word: dict[str, Any]) -> None:
        self.by_word = by_word

    def layer(self, word: str) -> Any:
        """Return the layer of that word, or None."""
        return self.by_word.get(word)

    @property
    def layers(self) -> tuple[Any, ...]:
        """The layers, top to bottom."""
        return tuple(self.by_word.values())

    @property
    def board(self) -> Any:
        """The drainage board, or None."""
        return self.layer("board")

    @property
    def depth_mm(self) -> float:
        """Depth of the whole build-up, mm."""
        return sum(layer.height_taken_mm for layer in self.layers)


class Design:
    """One design, read like a `runoff.Roof`: its own layers, every other field as in a checked roof.

    Parameters
    ----------
    build_up
        Its layers.
    fields
        All fields of the roof.
    """

    def __init__(self, build_up: Layers, fields: dict[str, Any]) -> None:
        self.__dict__.update(fields)
        self.build_up = build_up


class DesignGrid(Sequence[Design]):
    """All combinations of values per property; designs are put together when they are asked for,
    so that they need not all be kept.

    Parameters
    ----------
    roof
        The roof from which the designs differ.
    choices
        Values per property, as in `runoff.sweep`; the last property runs fastest.

    Raises
    ------
    SizingError
        When nothing is to be varied, or a property has no list of values.
    RoofError
        When a property is not known or a value is out of range.
    """

    def __init__(self, roof: Roof, choices: Mapping[str, Sequence[Any]]) -> None:
        refuse_no_values(choices)
        self.choices = {name: list(values) for name, values in choices.items()}
        self._shape = tuple(len(values) for values in self.choices.values())
        roof.replace({name: values[0] for name, values in self.choices.items()})  # every wrong name in one message
        self._base = {layer.word: layer for layer in roof.build_up.layers}
        self._roofs: dict[tuple[int, ...], dict[str, Any]] = {(): roof.fields()}
        self._layers: dict[str, dict[tuple[int, ...], Any]] = {}
        self._of_roof = self._places(_OF_THE_ROOF)
        self._of_layer: dict[str, list[int]] = {}
        for word in dict.fromkeys(name.partition(".")[0] for name in self.choices):
            if word not in _OF_THE_ROOF:
                self._of_layer[word] = self._places((word,))
                self._layers[word] = {
                    at: changed.build_up.layer(word) for at, changed in self._variants(roof, self._of_layer[word])
                }
        if self._of_roof:
            self._roofs = {at: changed.fields() for at, changed in self._variants(roof, self._of_roof)}

    def _places(self, words: tuple[str, ...]) -> list[int]:
        return [i for i, name in enumerate(self.choices) if name.partition(".")[0] in words]

    def _variants(self, roof: Roof, places: list[int]) -> Iterator[tuple[tuple[int, ...], Roof]]:
        """Make the roof of every combination of the properties at these places."""
        names, lists = list(self.choices), list(self.choices.values())
        for at in itertools.product(*(range(self._shape[i]) for i in places)):
            yield at, roof.replace({names[i]: lists[i][k] for i, k in zip(places, at, strict=True)})

    def __len__(self) -> int:
        return math.prod(self._shape)

    def __getitem__(self, wanted: Any) -> Any:
        if isinstance(wanted, slice):
            return self._made(np.arange(len(self))[wanted])
        return self._made(np.array([range(len(self))[wanted]]))[0]

    def _made(self, numbers: np.ndarray) -> list[Design]:
        at = np.array(np.unravel_index(numbers, self._shape)).T.tolist()
        layers = list(self._of_layer.items())
        designs = []
        for places in at:
            by_word = self._base.copy()
            for word, own in layers:
                by_word[word] = self._layers[word][tuple([places[i] for i in own])]
            designs.append(Design(Layers(by_word), self._roofs[tuple([places[i] for i in self._of_roof])]))
        return designs

    def coords(self) -> dict[str, Any]:
        """Return one coordinate per property along ``design``."""
        places = np.unravel_index(np.arange(len(self)), self._shape)
        found: dict[str, Any] = {"design": np.arange(len(self))}
        for (name, values), at in zip(self.choices.items(), places, strict=True):
            plain = np.array(values)
            if plain.ndim != 1 or plain.dtype == object:
                plain = np.empty(len(values), dtype=object)
                plain[:] = values
            found[name] = ("design", plain[at])
        return found


def refuse_no_values(choices: Mapping[str, Sequence[Any]]) -> None:
    """Refuse choices that leave nothing to vary."""
    faults = []
    if not choices:
        faults.append('no choices given; name at least one, for example {"medium.depth_mm": [60, 80, 100]}')
    for name, values in choices.items():
        if isinstance(values, str) or not hasattr(values, "__len__"):
            given = f'"{values}"' if isinstance(values, str) else repr(values)
            faults.append(f"{name} takes a list of values (you gave {given})")
        elif len(values) == 0:
            faults.append(f"no values given for {name}")
    raise_faults("sweep", faults, SizingError)
