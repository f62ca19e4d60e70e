"""What kind of thing a function of the package takes under each name, told in one sentence where it is given another.

An argument has one meaning wherever its name occurs, so one table serves all functions. Kinds are known by the names of their
classes: the ground does not import what stands on it.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from numbers import Real
from typing import Any

from runoff.errors import RunoffError

_RUN = "the Dataset that runoff.simulate returned"
_PATH = "the path of a file, as text or a pathlib.Path"
_CHOICES = 'the values to try, for example {"medium.depth_mm": [60, 80, 100]}'
#: argument -> classes that serve, and what is wanted in words.
_KINDS: dict[str, tuple[Any, str]] = {
    "roof": (("Roof",), "a runoff.Roof, as runoff.read_roof returns one"),
    "roofs": (("Roof", "list", "tuple"), "a runoff.Roof, or a list of them"),
    "weather": (("Dataset", "DataArray"), "the Dataset that runoff.read_weather returned"),
    "past": (("Dataset",), "a Dataset of weather"),
    "future": (("Dataset",), "a Dataset of weather"),
    "run": (("Dataset",), _RUN),
    "facts": (("Dataset",), "the Dataset that runoff.summarize returned"),
    "ranges": (("Dataset",), "the Dataset that runoff.uncertainty returned"),
    "storm": (("DataArray", "Dataset"), "a storm, as runoff.design_storm returns one"),
    "rain": (("DataArray", "Dataset"), "a DataArray of rain with units"),
    "series": (("DataArray", "Series", "ndarray", "list", "tuple"), "the rain of each step: a DataArray, a Series, or a list of numbers"),
    "maxima": (("DataArray",), "the DataArray that runoff.annual_maxima returned"),
    "table": (("DepthDurationTable", "DepthDurationCurve"), "a runoff.DepthDurationTable, as read_depth_duration returns one"),
    "depths_mm": (("DataArray", "Series", "ndarray", "list", "tuple"), "the largest depth of each year, mm: a DataArray, a Series, or a list"),
    "order": (("OrderList",), "the list that runoff.order_list returned"),
    "durations": (Iterable, 'durations with their unit, for example ["5min", "1h", "24h"]'),
    "path": ((str, os.PathLike), _PATH),
    "name": (str, "a name, as text"),
    "source": (("Dataset", "str", "PurePath"), "the path of a store or file of weather, as text or a pathlib.Path, or a Dataset"),
    "target": ((str, os.PathLike), "the path of the Zarr folder to write, as text or a pathlib.Path"),
    "choices": (Mapping, _CHOICES),
    "targets": (Mapping, 'limits of figures, for example {"retention": {"at_least": 0.4}}'),
    "climates": (Mapping, 'weather by name, for example {"today": weather, "2050": changed}'),
    "allowable_depth_mm": (Real, "a number of mm"),
    "depth_mm": (Real, "a number of mm"),
    "diameter_mm": (Real, "a number of mm"),
    "slope": (Real, "the fall per length, a number"),
    "impervious_fraction": (Real, "a number from 0 to 1"),
    "area_m2": (Real, "a number of m2"),
    "high_point_mm": (Real, "a number of mm"),
    "return_period_years": (Real, "a number of years"),
}  # fmt: skip


def refuse_other_kinds(where: str, **given: object) -> None:
    """Refuse arguments of another kind than their name asks for.

    Parameters
    ----------
    where
        The function they were given to.
    **given
        Argument by name; each name stands in the table of this module.

    Raises
    ------
    RunoffError
        Naming every such argument, what was given and what is wanted.
    """
    faults = []
    for name, value in given.items():
        kinds, wanted = _KINDS[name]
        if isinstance(kinds, tuple) and isinstance(kinds[0], str):
            fits = any(base.__name__ in kinds for base in type(value).__mro__)
        else:
            fits = isinstance(value, kinds) and not isinstance(value, bool)
        if not fits:
            faults.append(f"{where}: {name} is {wanted} (given {_shown(value)})")
    if faults:
        raise RunoffError("\n".join(faults))


def _shown(value: object) -> str:
    return "None" if value is None else f"one of kind {type(value).__name__}"
