"""The designs of a sweep: every combination of the values given, each part checked once, not once per design.

Ten thousand designs differ in a few hundred layers at most. Each distinct layer and each distinct set of roof fields is
made and checked as by `runoff.Roof.replace`. Designs that differ in numbers alone are then read together, like one roof
whose numbers are arrays.
"""

from __future__ import annotations

import itertools
import math
import operator
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from runoff.errors import SizingError, raise_faults
from runoff.roof.levels import contradicting_levels
from runoff.roof.replacing import layers_replaced

if TYPE_CHECKING:
    from runoff.roof import Roof

OF_THE_ROOF = ("roof", "outlet", "surface")


class Alike:
    """The same part of several designs, read like one: a number is an array along ``design``, all else they share.

    Parameters
    ----------
    variants
        The distinct parts, layers or roofs; those used are alike in everything but numbers.
    which
        The variant of each design, shape ``(design,)``.
    **own
        What is not read from the variants.
    """

    def __init__(self, variants: Sequence[Any], which: np.ndarray, **own: Any) -> None:
        self.__dict__.update(own, _variants=variants, _which=which)

    def __getattr__(self, name: str) -> Any:
        value = getattr(self._variants[self._which[0]], name)
        if isinstance(value, float) and len(self._variants) > 1:
            # a variant that is not used here may have none, which becomes a missing number and is not picked
            value = np.array([getattr(one, name) for one in self._variants], dtype=float)[self._which]
        self.__dict__[name] = value
        return value


class Layers:
    """The layers of several designs: what balance, loads and prices ask of a `runoff.BuildUp`.

    Parameters
    ----------
    by_word
        The layers, top to bottom.
    """

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
    def depth_mm(self) -> Any:
        """Depth of the whole build-up, mm."""
        return sum(layer.height_taken_mm for layer in self.layers)


class ReadTogether(ABC):
    """Designs of which those that differ in numbers alone are read like one."""

    @abstractmethod
    def __len__(self) -> int: ...

    @abstractmethod
    def alike(self, piece: range | None = None) -> Iterator[tuple[np.ndarray, Any]]:
        """Read the designs of a piece, those together that differ in numbers alone.

        Yields
        ------
        tuple
            Places of the designs within the piece, and what reads like a `runoff.Roof` whose numbers are arrays of that
            shape, or plain where all of these designs share them.
        """


class DesignGrid(ReadTogether):
    """All combinations of values per property.

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
        self._roof = roof
        roof.replace({name: values[0] for name, values in self.choices.items()})  # every wrong name in one message
        self._base = {layer.word: layer for layer in roof.build_up.layers}
        words = dict.fromkeys(name.partition(".")[0] for name in self.choices)
        # for the roof and every layer that is varied: which properties vary it, its distinct variants, their kinds
        self._places = {word: self._places_of((word,)) for word in words if word not in OF_THE_ROOF}
        self._variants = {word: self._changed_layers(word, places) for word, places in self._places.items()}
        self._places["roof"] = self._places_of(OF_THE_ROOF)
        self._variants["roof"] = list(self._changed(roof, self._places["roof"]))
        self._kinds = {word: kinds(variants) for word, variants in self._variants.items()}

    def _places_of(self, words: tuple[str, ...]) -> list[int]:
        return [i for i, name in enumerate(self.choices) if name.partition(".")[0] in words]

    def _changed_layers(self, word: str, places: list[int]) -> list[Any]:
        """Make a layer of every combination of the properties at these places, each as if it alone were changed."""
        names = [list(self.choices)[i] for i in places]
        layers = layers_replaced(self._roof, word, {name.partition(".")[2]: self.choices[name] for name in names})
        if layers is not None:
            build_up = Layers(self._base | {word: Alike(layers, np.arange(len(layers)))})
            each = Alike([self._roof], np.zeros(len(layers), dtype=int), build_up=build_up)
            if not np.logical_or(*contradicting_levels(each)).any():
                return layers
        # the first that cannot be is refused in here, in the words for one roof
        return [changed.build_up.layer(word) for changed in self._changed(self._roof, places)]

    def _changed(self, roof: Roof, places: list[int]) -> Iterator[Roof]:
        """Make the roof of every combination of the properties at these places."""
        names = [list(self.choices)[i] for i in places]
        for values in itertools.product(*(self.choices[name] for name in names)):
            yield roof.replace(dict(zip(names, values, strict=True)))

    def __len__(self) -> int:
        return math.prod(self._shape)

    def roof_of(self, design: int) -> Roof:
        """Return the roof of one design by itself."""
        at = np.unravel_index(design, self._shape)
        return self._roof.replace(
            {name: values[int(i)] for (name, values), i in zip(self.choices.items(), at, strict=True)}
        )

    def alike(self, piece: range | None = None) -> Iterator[tuple[np.ndarray, Any]]:
        """Read the designs of a piece; see `ReadTogether`."""
        piece = range(len(self)) if piece is None else piece
        numbers = np.arange(piece.start, piece.stop, piece.step)  # in the time of one number read from the range
        at = np.unravel_index(numbers, self._shape)
        which = {word: self._variant_of(word, at) for word in self._variants}
        for places in self._of_one_kind(which, numbers.size):
            parts = {word: Alike(self._variants[word], found[places]) for word, found in which.items()}
            layers = Layers({word: parts.get(word, layer) for word, layer in self._base.items()})
            yield places, Alike(self._variants["roof"], which["roof"][places], build_up=layers)

    def _of_one_kind(self, which: Mapping[str, np.ndarray], count: int) -> Iterator[np.ndarray]:
        """Yield the places of designs that differ in numbers alone, in rising order."""
        several = any(kinds.any() for kinds in self._kinds.values())
        if not several:  # as most sweeps are: looking costs less than sorting
            yield np.arange(count)
            return
        kind = np.zeros(count, dtype=int)
        for word, kinds in self._kinds.items():
            kind = kind * (kinds.max() + 1) + kinds[which[word]]
        for one in np.unique(kind):
            yield np.flatnonzero(kind == one)

    def _variant_of(self, word: str, at: tuple[np.ndarray, ...]) -> np.ndarray:
        variant = np.zeros(at[0].size, dtype=int)
        for i in self._places[word]:
            variant = variant * self._shape[i] + at[i]
        return variant

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


Designs = Sequence[Any] | ReadTogether


def per_design(designs: Designs, figure: Callable[[Any], Any]) -> np.ndarray:
    """Return a figure of every design, shape ``(design,)``."""
    if not isinstance(designs, ReadTogether):
        return np.array([figure(one) for one in designs])
    found = np.empty(len(designs))
    for places, some in designs.alike():
        found[places] = figure(some)
    return found


def kinds(variants: Sequence[Any]) -> np.ndarray:
    """Number the variants by what cannot be read as an array: whatever is no number, and which numbers are not given."""
    values = operator.attrgetter(*(name for name in type(variants[0]).model_fields if name != "build_up"))
    no_numbers = (tuple([float if isinstance(value, float) else value for value in values(one)]) for one in variants)
    seen: dict[Any, int] = {}
    return np.array([seen.setdefault(one, len(seen)) for one in no_numbers])


def refuse_no_values(choices: Mapping[str, Sequence[Any]]) -> None:
    """Refuse choices that leave nothing to vary."""
    faults = []
    if not choices:
        faults.append('no choices given; name at least one, for example {"medium.depth_mm": [60, 80, 100]}')
    for name, values in choices.items():
        if isinstance(values, str) or not hasattr(values, "__len__"):
            given = f'"{values}"' if isinstance(values, str) else repr(values)
            faults.append(f"{name} takes a list of values (given {given})")
        elif len(values) == 0:
            faults.append(f"no values given for {name}")
    raise_faults("sweep", faults, SizingError)
