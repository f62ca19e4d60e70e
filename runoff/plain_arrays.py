"""Work on labelled numbers as plain arrays: at once where they are in memory and nothing is left to bring together by name."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np
import xarray as xr

#: Dimensions of numbers that are about one roof at one place.
_ONE_PLACE = ((), ("time",), ("year",), ("month",))
#: How xarray puts a Dataset together of parts that fit, from variables, names of coordinates, lengths, attributes and indexes. It uses
#: this itself and promises it to nobody.
_DIRECTLY = getattr(xr.Dataset, "_construct_direct", None)


def in_memory(values: Any) -> bool:
    """Tell whether numbers are a plain array, or a variable of one, and no graph of work on parts of one.

    xarray's ``chunks`` tells the same; it takes as long as ten sums over a year of days.
    """
    return is_plain(values) or isinstance(values.data, np.ndarray)


def is_plain(values: Any) -> bool:
    """Tell whether numbers are a plain array, or one of numpy's numbers, without names of dimensions."""
    return isinstance(values, np.ndarray | np.generic)


def without_names(variables: Mapping[str, Any]) -> dict[str, Any]:
    """Return variables as plain arrays where all are about one place and one roof, in memory; else as they are.

    With a single dimension each there is nothing to bring together by name, and sums over a year of days take longer with
    names than without.
    """
    if all(is_plain(one) or (one.dims in _ONE_PLACE and in_memory(one)) for one in variables.values()):
        return {name: _numbers(one) for name, one in variables.items()}
    return dict(variables)


def with_names(
    numbers: Mapping[str, Any],
    dims_of: Callable[[str], tuple[str, ...]],
    attrs: Mapping[str, Mapping[str, Any]] | None = None,
) -> dict[str, xr.Variable]:
    """Return what was worked out from `without_names` as variables again.

    Parameters
    ----------
    numbers
        Variables, or plain arrays.
    dims_of
        The dimensions of a plain array of this name; one that has fewer lies along the last of them.
    attrs
        Attributes by name; those of variables where none are given.

    Returns
    -------
    dict of xarray.Variable
        By name; numbers in the unit they came in.
    """

    def named(name: str, one: Any) -> xr.Variable:
        told = None if attrs is None else attrs[name]
        if isinstance(one, xr.Variable):
            return xr.Variable(one.dims, one.data, one.attrs if told is None else told, fastpath=True)
        one = np.asarray(one)
        dims = dims_of(name)
        return xr.Variable(dims[len(dims) - one.ndim :], one, told, fastpath=True)

    return {name: named(name, one) for name, one in numbers.items()}


def put_together(
    variables: Mapping[Any, xr.Variable], coords: xr.Coordinates | Mapping[Any, Any], attrs: Mapping[Any, Any]
) -> xr.Dataset:
    """Return a Dataset of variables that were made to fit each other and their coordinates.

    `xarray.Dataset` does it too, and first looks in each for labels that another may contradict: for the variables of a run that
    takes longer than the sums of a year of minutes. Lengths that do not agree are refused here as there.

    Parameters
    ----------
    variables
        By name, in any unit, none of them a coordinate; they become part of the whole as they are.
    coords
        Coordinates, of which the whole gets copies; quick where they bring their indexes.
    attrs
        Attributes of the whole.

    Returns
    -------
    xarray.Dataset
        Variables, then coordinates, as `xarray.Dataset` puts them.
    """
    labels = coords if isinstance(coords, xr.Coordinates) else xr.Coordinates(coords)
    if _DIRECTLY is None:
        return xr.Dataset(variables, labels, attrs)
    copied = {name: one.copy(deep=False) for name, one in labels.variables.items()}
    together: dict[Any, xr.Variable] = {**variables, **copied}
    whole: xr.Dataset = _DIRECTLY(together, set(copied), None, dict(attrs), dict(labels.xindexes))
    return whole


def with_variables(data: xr.Dataset, variables: Mapping[Any, xr.Variable]) -> xr.Dataset:
    """Return a copy of a Dataset with variables on its dimensions, in place of those it has or beside them.

    `xarray.Dataset.assign` does it too, and holds every label against every other, which takes several times as long.

    Parameters
    ----------
    data
        The Dataset; its numbers are not copied.
    variables
        By name, in any unit, none of them a coordinate.

    Returns
    -------
    xarray.Dataset
        With all that `data` tells of itself.
    """
    parts = {name: data.variables[name] for name in data.data_vars} | dict(variables)
    whole = put_together({name: one.copy(deep=False) for name, one in parts.items()}, data.coords, data.attrs)
    whole.encoding = data.encoding
    return whole


def applied(
    function: Callable[..., Any],
    given: Sequence[Any],
    gives: Sequence[tuple[str, ...]] = (("time",),),
    *,
    along: tuple[str, ...] = ("time",),
    kinds: Sequence[Any] = (float,),
    sizes: Mapping[str, int] | None = None,
) -> tuple[Any, ...]:
    """Apply a function of plain arrays to variables, as `xarray.apply_ufunc` does.

    For one roof at one place there is nothing to bring together by name. Looking for it takes longer than the sum of a year,
    so the function is then called at once.

    Parameters
    ----------
    function
        Takes arrays whose last dimension is the one of `along` that the variable has, others before it, in whatever unit;
        returns one array, or a tuple of them.
    given
        Variables, in memory or not, and plain numbers among them; or plain arrays, from `without_names`.
    gives
        Dimensions of each variable that comes back which the function knows, the last ones.
    along
        Dimensions of what is given that the function knows.
    kinds
        Kind of numbers of each that comes back; one for all.
    sizes
        Lengths of the dimensions of `gives` that no variable given has.

    Returns
    -------
    tuple of xarray.Variable
        One for each of `gives`, as lazy as what was given, in the unit the function leaves; plain where plain were given.
    """
    if all(map(is_plain, given)):
        made = function(*given)
        return made if isinstance(made, tuple) else (made,)
    if all(is_plain(one) or (one.dims in ((), *((dim,) for dim in along)) and in_memory(one)) for one in given):
        made = function(*map(_numbers, given))
        each = made if isinstance(made, tuple) else (made,)
        return tuple(xr.Variable(dims, values) for dims, values in zip(gives, each, strict=True))
    made = xr.apply_ufunc(
        function,
        *given,
        input_core_dims=[[dim for dim in along if not is_plain(one) and dim in one.dims] for one in given],
        output_core_dims=gives,
        dask="parallelized",
        output_dtypes=[*kinds] * (len(gives) // len(kinds)),
        dask_gufunc_kwargs={"output_sizes": dict(sizes or {})},
    )
    return made if isinstance(made, tuple) else (made,)


def _numbers(one: Any) -> Any:
    return one if is_plain(one) else one.data
