"""The sheets that can be checked: how each is made again from the record it carries.

A sheet carries a JSON record whose ``format`` names its kind. A kind registers itself here with one function that makes the
sheet again from the record; `runoff.dossier.verifying` does the comparing, the same for all.
"""

from __future__ import annotations

import importlib
import warnings
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from runoff.errors import RunoffWarning

if TYPE_CHECKING:
    import xarray as xr

#: Kind of sheet -> its words, and the module whose ``remake`` makes it again.
SHEETS: dict[str, tuple[str, str]] = {
    "runoff dossier 2": ("a capture dossier", "runoff.dossier.handing_in"),
    "runoff order sheet 1": ("an order sheet", "runoff.dossier.order_sheet"),
    "runoff drainage sheet 1": ("a drainage sheet", "runoff.dossier.drainage_sheet"),
}


@dataclass(frozen=True, kw_only=True)
class Remade:
    """A sheet made again from its record.

    Parameters
    ----------
    html
        The whole page, written as by the versions that the record names.
    record
        The record as it is formed now, with those versions.
    figures
        Every number by name.
    spoken
        Sentences formed from results: outside marks, only in these may a last digit differ between versions.
    weather
        The daily record inside; None for a sheet that rests on none.
    """

    html: str
    record: Mapping[str, Any]
    figures: Mapping[str, float]
    spoken: Iterable[str] = field(default=())
    weather: xr.Dataset | None = None


def remake(record: Mapping[str, Any]) -> Remade:
    """Make a sheet again from the record it carries."""
    _, module = SHEETS[record["format"]]
    function: Callable[[Mapping[str, Any]], Remade] = importlib.import_module(module).remake
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RunoffWarning)  # whoever described the roof was warned; a check only repeats it
        return function(record)
