"""The designs of a sweep: every combination of the values given, each part checked once, not once per design.

Ten thousand designs differ in a few hundred layers at most. Each distinct layer and each distinct set of roof fields is
checked as by `runoff.Roof.replace`. Designs that differ in numbers alone are then read together, like one roof
whose numbers are arrays.
"""

from __future__ import annotations

import dataclasses
import functools
import itertools
import math
import operator
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from runoff.errors import SizingError, raise_faults
from runoff.roof.frozen_model import plain_numbers
from runoff.roof.levels import contradicting_levels
from runoff.roof.replacing import with_numbers

if TYPE_CHECKING:
    from runoff.roof import Roof

OF_THE_ROOF = ("roof", "outlet", "surface")
_WHOLE = 2**53  # the largest whole number up to which a float tells each from the next


class _OfOneKind:
    """The same part of several roofs, alike in everything but numbers, read like one: its numbers are arrays.

    Parameters
    ----------
    each
        The parts: layers or roofs. An array is of shape ``(variant,)``; what all of them share may be one.
    """

    def __init__(self, each: Sequence[Any]) -> None:
        self.__dict__["_each"] = each

    def __getattr__(self, name: str) -> Any:
        value = getattr(self._each[0], name)
        if isinstance(value, float) and len(self._each) > 1:
            value = np.array([getattr(one, name) for one in self._each], dtype=float)
        self.__dict__[name] = value
        return value


class Alike:
    """The same part of several designs, read like one: a number is an array along ``design``, all else they share.

    Parameters
    ----------
    part
        What is read: its arrays are of shape ``(variant,)``.
    which
        The variant of each design, shape ``(design,)``; or a slice of them.
    **own
        What is not read from the part.
    """

    def __init__(self, part: Any, which: np.ndarray | slice, **own: Any) -> None:
        self.__dict__.update(own, _part=part, _which=which)

    def __getattr__(self, name: str) -> Any:
        value = getattr(self._part, name)
        if isinstance(value, np.ndarray):
            value = value[self._which]
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
        # for the roof and every layer that is varied: which properties vary it, and its distinct variants
        self._places = {word: self._places_of((word,)) for word in words if word not in OF_THE_ROOF}
        self._varied = {word: self._varied_layer(word, places) for word, places in self._places.items()}
        self._places["roof"] = self._places_of(OF_THE_ROOF)
        self._varied["roof"] = Varied.made_of(list(self._changed(self._places["roof"])))

    def _places_of(self, words: tuple[str, ...]) -> list[int]:
        return [i for i, name in enumerate(self.choices) if name.partition(".")[0] in words]

    def _varied_layer(self, word: str, places: list[int]) -> Varied:
        """Return a layer with every combination of the properties at these places, each checked as if it alone were changed."""
        values = list(self.choices.values())
        numbers = [i for i in places if _are_numbers(values[i])]
        others = [i for i in places if i not in numbers]
        names = [list(self.choices)[i] for i in numbers]
        axes = np.meshgrid(*(np.array(values[i], dtype=float) for i in numbers), indexing="ij")
        fields = {name.partition(".")[2]: axis.ravel() for name, axis in zip(names, axes, strict=True)}
        # what is no number makes a layer of another kind; what follows from a material goes by what is given beside it
        beside, parts = {name: self.choices[name][0] for name in names}, []
        for changed in self._changed(others, beside):
            part, impossible = with_numbers(changed.build_up.layer(word), fields)
            if impossible.any() or self._levels_contradict(part):
                # the first that cannot be is refused in here, in the words for one roof
                return Varied.made_of([one.build_up.layer(word) for one in self._changed(places)])
            parts.append(part)
        at = dict(zip(places, np.indices([self._shape[i] for i in places]).reshape(len(places), -1), strict=True))
        count = at[places[0]].size
        kind, place = (_joint([(at[i], self._shape[i]) for i in those], count) for those in (others, numbers))
        return Varied(parts, kind, place)

    def _levels_contradict(self, layer: Any) -> bool:
        changed = Alike(self._roof, slice(None), build_up=Layers(self._base | {layer.word: layer}))
        return bool(np.logical_or(*contradicting_levels(changed)).any())

    def _changed(self, places: list[int], beside: Mapping[str, Any] | None = None) -> Iterator[Roof]:
        """Make the roof of every combination of the properties at these places, with what is changed beside them."""
        names = [list(self.choices)[i] for i in places]
        for values in itertools.product(*(self.choices[name] for name in names)):
            yield self._roof.replace({**(beside or {}), **dict(zip(names, values, strict=True))})

    def __len__(self) -> int:
        return math.prod(self._shape)

    def roof_of(self, design: int) -> Roof:
        """Return the roof of one design by itself."""
        at = np.unravel_index(design, self._shape)
        return self._roof.replace(
            {name: values[int(i)] for (name, values), i in zip(self.choices.items(), at, strict=True)}
        )

    @functools.cached_property
    def _at(self) -> np.ndarray:
        """Of every design the place of its value among those of each property, shape ``(property, design)``."""
        return np.indices(self._shape).reshape(len(self._shape), -1)

    def alike(self, piece: range | None = None) -> Iterator[tuple[np.ndarray, Any]]:
        """Read the designs of a piece; see `ReadTogether`."""
        piece = range(len(self)) if piece is None else piece
        at = self._at[:, piece.start : piece.stop : piece.step]
        which = {word: self._variant_of(word, at) for word in self._varied}
        for places in self._of_one_kind(which, len(piece)):
            parts = {word: varied.read(which[word][places]) for word, varied in self._varied.items()}
            of_roof = parts.pop("roof")
            layers = Layers({word: Alike(*parts[word]) if word in parts else one for word, one in self._base.items()})
            yield places, Alike(*of_roof, build_up=layers)

    def _of_one_kind(self, which: Mapping[str, np.ndarray], count: int) -> Iterator[np.ndarray]:
        """Yield the places of designs that differ in numbers alone, in rising order."""
        several = {word: varied for word, varied in self._varied.items() if len(varied.parts) > 1}
        if not several:  # as most sweeps are: looking costs less than sorting
            yield np.arange(count)
            return
        kind = np.zeros(count, dtype=int)
        for word, varied in several.items():
            kind = kind * len(varied.parts) + varied.kind[which[word]]
        for one in np.unique(kind):
            yield np.flatnonzero(kind == one)

    def _variant_of(self, word: str, at: np.ndarray) -> np.ndarray:
        return _joint([(at[i], self._shape[i]) for i in self._places[word]], at.shape[1])

    def coords(self) -> dict[str, Any]:
        """Return one coordinate per property along ``design``."""
        found: dict[str, Any] = {"design": np.arange(len(self))}
        for (name, values), at in zip(self.choices.items(), self._at, strict=True):
            plain = np.array(values)
            if plain.ndim != 1 or plain.dtype == object:
                plain = np.empty(len(values), dtype=object)
                plain[:] = values
            found[name] = ("design", plain[at])
        return found


@dataclasses.dataclass(frozen=True)
class Varied:
    """A layer or the roof with all its variants: those of one kind, alike in everything but numbers, are read as one.

    Parameters
    ----------
    parts
        One for each kind, with arrays for numbers.
    kind, place
        Of every variant its kind, and its place in the arrays of that kind, shape ``(variant,)``.
    """

    parts: list[Any]
    kind: np.ndarray
    place: np.ndarray

    @classmethod
    def made_of(cls, variants: list[Any]) -> Varied:
        """Take variants that were made one by one."""
        kind = kinds(variants)
        place, parts = np.empty(kind.size, dtype=int), []
        for one in range(kind.max() + 1):
            of_kind = np.flatnonzero(kind == one)
            place[of_kind] = np.arange(of_kind.size)
            parts.append(_OfOneKind([variants[i] for i in of_kind]))
        return cls(parts, kind, place)

    def read(self, which: np.ndarray) -> tuple[Any, np.ndarray]:
        """Return what is read of designs whose variants, all of one kind, are given: the part, and their places in its arrays."""
        return self.parts[self.kind[which[0]]], self.place[which]


def _joint(axes: Sequence[tuple[np.ndarray, int]], count: int) -> np.ndarray:
    """Return `count` places on several axes, each with its length, as one place, the last axis fastest; 0 where there is no axis."""
    joint = np.zeros(count, dtype=int)
    for at, length in axes:
        joint = joint * length + at
    return joint


def _are_numbers(values: Sequence[Any]) -> bool:
    plain = plain_numbers({str(i): one for i, one in enumerate(values)}).values()
    return all(type(one) is float or (type(one) is int and abs(one) <= _WHOLE) for one in plain)


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
