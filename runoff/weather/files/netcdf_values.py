"""What a CF file says about single values: its valid range and its quality flags are heeded, and what is dropped is counted."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import xarray as xr

from runoff.errors import shown
from runoff.weather.record.extremes import least_and_largest
from runoff.weather.record.lazy import chunk_by_chunk
from runoff.weather.record.time_axis import counted

_DEFAULT_FILL = 9.9e36  # the fill value of the format itself, 9.969e36, where a file names none
_FLAG_ENDINGS = ("_qc", "_flag", "_flags", "_quality", "_quality_flag", "_status_flag", "_qc_flag")
_BAD = re.compile(
    r"bad|fail|suspect|missing|erron|error|invalid|reject|wrong|doubt|no_?data|outlier|spike|not?_(ok|good|valid)"
)
_NOT_BAD = re.compile(r"^(not?|non|without|un)_?(bad|suspect|error|fail|missing|doubt|reject)")
_GOOD = re.compile(r"good|pass|ok|valid|correct|measured|observ|normal|nominal|unmodified|raw")


def sound_values(opened: xr.Dataset, name: str, *, as_stored: bool = False) -> tuple[xr.DataArray, list[str]]:
    """Return a variable without the values that its own file calls invalid, and in words what was done.

    Parameters
    ----------
    opened
        The file.
    name
        The variable.
    as_stored
        Keeps single precision as it is, for who computes in double.

    Returns
    -------
    xarray.DataArray
        As numbers, missing where the file says so.
    list of str
        What was dropped, and flags that could not be read.
    """
    variable = opened[name]
    values = variable if as_stored and variable.dtype == np.float32 else variable.astype(float)
    notes = []
    values = chunk_by_chunk(values, _without_fill)
    low, high = _valid_range(variable)
    if low is not None or high is not None:
        inside = (values >= (-np.inf if low is None else low)) & (values <= (np.inf if high is None else high))
        notes += _dropped(values, inside, f"{shown(name)}: outside the valid range of the file")
        values = values.where(inside)
    for flag in _flags_of(opened, name):
        sound, unread = _sound_by(opened[flag])
        if unread:
            notes.append(f"{shown(name)}: the flags of {shown(flag)} are not used ({unread})")
            continue
        notes += _dropped(values, sound, f"{shown(name)}: marked as no good by {shown(flag)}")
        values = values.where(sound)
    values.attrs = dict(variable.attrs)
    return values, notes


def _without_fill(values: np.ndarray) -> np.ndarray:
    """Return values without the fill value of the format; most parts of a store have none and are left as they are."""
    least, largest = least_and_largest(values, more_checks=True)
    if not max(largest, -least) >= _DEFAULT_FILL:
        return values
    return np.where(np.abs(values) >= _DEFAULT_FILL, values.dtype.type(np.nan), values)


def _dropped(values: xr.DataArray, kept: xr.DataArray, words: str) -> list[str]:
    if values.chunks or kept.chunks:
        return [f"{words}, dropped (not counted, the data stay on disk)"]
    count = int((values.notnull() & ~kept).sum())
    return [f"{words}, {counted(count, 'value')} dropped"] if count else []


def _valid_range(variable: xr.DataArray) -> tuple[float | None, float | None]:
    """Return the valid range of a variable in the unit of its unpacked values.

    CF conventions 1.11, 2.5.1, and the attribute conventions of NetCDF: the range is in packed values where the data are
    packed, unless it is of the broken type of the unpacked ones.
    """
    attrs = {**variable.encoding, **variable.attrs}
    scale, offset = (
        float(np.ravel(attrs.get(key, plain))[0]) for key, plain in (("scale_factor", 1.0), ("add_offset", 0.0))
    )
    packed = np.dtype(variable.encoding.get("dtype", float)).kind in "iu"
    given: list[Any] = [attrs.get("valid_min"), attrs.get("valid_max")]
    pair = np.ravel(attrs.get("valid_range", []))
    if pair.size == 2:
        given = list(pair)
    found: list[float | None] = []
    for limit in given:
        try:
            value = None if limit is None else np.ravel(limit)[0]
            is_packed = packed and np.asarray(value).dtype.kind in "iu"
            found.append(None if value is None else float(value) * scale + offset if is_packed else float(value))
        except (TypeError, ValueError):
            found.append(None)  # a text, which says nothing
    low, high = found
    return (high, low) if low is not None and high is not None and low > high and scale < 0 else (low, high)


def _flags_of(opened: xr.Dataset, name: str) -> list[str]:
    """Return the variables that judge another one: those it names, and those named after it."""
    named = str(opened[name].attrs.get("ancillary_variables", "")).split()
    after = [f"{name}{ending}" for ending in _FLAG_ENDINGS]
    found = [one for one in dict.fromkeys([*named, *after]) if one in opened.variables]
    return [
        one
        for one in found
        if opened[one].dims and set(opened[one].dims) <= set(opened[name].dims) and _is_flag(opened[one])
    ]


def _is_flag(variable: xr.DataArray) -> bool:
    attrs = variable.attrs
    says = any(key in attrs for key in ("flag_values", "flag_masks", "flag_meanings"))
    words = f"{variable.name} {attrs.get('standard_name', '')} {attrs.get('long_name', '')}".lower()
    return says or "flag" in words or "quality" in words or "_qc" in words


def _sound_by(flag: xr.DataArray) -> tuple[xr.DataArray, str]:
    """Return where a flag lets a value stand; or why the flag cannot be read."""
    attrs = flag.attrs
    meanings = str(attrs.get("flag_meanings", "")).lower().split()
    masks, values = (np.ravel(attrs.get(key, [])) for key in ("flag_masks", "flag_values"))
    nothing = flag.notnull()
    if not meanings or len(meanings) not in (masks.size, values.size):
        return nothing, "it does not say what its numbers mean"
    bad = [at for at, word in enumerate(meanings) if _BAD.search(word) and not _NOT_BAD.match(word)]
    if not bad and not any(_GOOD.search(word) for word in meanings):
        return nothing, f"their meanings are not known: {shown(' '.join(meanings))}"
    wrong = xr.zeros_like(flag, dtype=bool)
    if masks.size == len(meanings):
        whole = flag.fillna(0).astype("int64")
        for at in bad:
            bits = whole & int(masks[at])
            wrong = wrong | ((bits == int(values[at])) if values.size == masks.size else (bits != 0))
    else:
        for at in bad:
            wrong = wrong | (flag == values[at])
    return ~wrong, ""
