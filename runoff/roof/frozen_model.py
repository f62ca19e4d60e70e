"""What every part of a roof has in common: frozen, strict, keyword-only, and clear about what is wrong with it."""

from __future__ import annotations

import functools
from collections.abc import Callable, Mapping
from typing import Annotated, Any, ClassVar, Self

import numpy as np
from pydantic import AfterValidator, BaseModel, ConfigDict, Field, TypeAdapter, ValidationError

from runoff.errors import RoofError, RunoffError, raise_faults
from runoff.roof.faults import sentences
from runoff.saying.given import on_one_line

Positive = Annotated[float, Field(gt=0)]
NotNegative = Annotated[float, Field(ge=0)]
Fraction = Annotated[float, Field(ge=0, le=1)]
OpenFraction = Annotated[float, Field(gt=0, lt=1)]
Words = Annotated[str, Field(max_length=500), AfterValidator(on_one_line)]


class Described(BaseModel):
    """Base of everything a roof file describes: frozen, strict, nothing unknown, nothing infinite.

    Raises
    ------
    RoofError
        Naming every fault at once: the field, what was given, what is needed.
    """

    #: The class of error a fault raises.
    error: ClassVar[type[RunoffError]] = RoofError

    model_config = ConfigDict(frozen=True, strict=True, extra="forbid", allow_inf_nan=False)

    def __init__(self, **given: Any) -> None:
        faults: list[str] = []
        try:
            super().__init__(**plain_numbers(given))
        except ValidationError as error:
            faults = sentences(error, list(type(self).model_fields))
        raise_faults(type(self).__name__, faults, type(self).error)

    @classmethod
    def checked(
        cls, given: Mapping[str, Any], written: Mapping[str, tuple[str, Any]] | None = None
    ) -> tuple[Self | None, list[str]]:
        """Return an object of the given fields, or None and a sentence for every fault.

        Parameters
        ----------
        given
            Fields in house units.
        written
            For fields that stood in a file under another key: that key and the value there, so that a fault speaks of
            what the writer sees.
        """
        made = cls.__new__(cls)
        try:
            BaseModel.__init__(made, **plain_numbers(given))
        except ValidationError as error:
            return None, sentences(error, list(cls.model_fields), written or {})
        return made, []

    @classmethod
    def cannot_have(cls, field: str, values: np.ndarray) -> np.ndarray:
        """Return which values a field cannot have by itself, shape of `values`; all, where it takes no number or is not known."""
        if field not in cls.model_fields:
            return np.ones(values.shape, dtype=bool)
        takes = _checker(cls, field)
        if takes(float(values.min())) and takes(float(values.max())):  # what a number may be lies between two limits
            return np.zeros(values.shape, dtype=bool)
        return np.array([not takes(value) for value in values.tolist()])

    def fields(self) -> dict[str, Any]:
        """Return the fields and their values, parts as they are."""
        return {name: getattr(self, name) for name in type(self).model_fields}


def plain_numbers(given: Mapping[str, Any]) -> dict[str, Any]:
    """Return the fields with single numpy or labelled values as plain ones, so that a numpy true is no number either."""
    return {key: value.item() if getattr(value, "ndim", None) == 0 else value for key, value in given.items()}


@functools.lru_cache(maxsize=256)
def _checker(kind: type[Described], field: str) -> Callable[[float], bool]:
    """Return what tells whether a field may have a value."""
    about: Any = kind.model_fields[field]
    adapter: TypeAdapter[Any] = TypeAdapter(Annotated[about.annotation, about], config=Described.model_config)

    def takes(value: float) -> bool:
        try:
            adapter.validate_python(value)
        except ValidationError:
            return False
        return True

    return takes
