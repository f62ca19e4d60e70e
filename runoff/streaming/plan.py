"""What decides the numbers of a streamed run, so that a target is only taken up by the run that began it."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr

from runoff.simulation import RunRules
from runoff.version import __version__


def plan_of(
    roof: Any,
    source: Any,
    weather: xr.Dataset,
    sizes: Mapping[str, int],
    wanted: np.ndarray | None,
    variables: Sequence[str],
    start: Any,
    rules: RunRules,
    reading: Mapping[str, Any],
) -> str:
    """Return the plan of a run as JSON; see `runoff.streaming.stream` for what is given.

    Parameters
    ----------
    roof, source
        As given to `runoff.streaming.stream`.
    weather
        The grid, opened.
    sizes
        Cells of a piece by dimension.
    wanted
        Mask of the cells that are run; None for all.
    variables
        Names of the series that are written.
    start
        Start moisture as given; None for field capacity.
    rules
        The rules of the runs.
    reading
        How the source was read.

    Returns
    -------
    str
        JSON with sorted keys: equal for equal runs.
    """
    roofs = roof if isinstance(roof, Mapping) else {str(i + 1): one for i, one in enumerate(_listed(roof))}
    grid = {str(dim): int(size) for dim, size in weather["rain"].sizes.items()}
    words = {
        "version": __version__,
        "roof": {str(name): one.to_toml() for name, one in roofs.items()},
        "weather": {
            "files or values": _content(source, weather),
            "coordinates": _digest(*(weather[dim].to_numpy() for dim in grid if dim in weather.coords)),
        },
        "grid": grid,
        "pieces": dict(sizes),
        "cells": "all" if wanted is None else f"{int(wanted.sum())} cells, {_digest(wanted)}",
        "series": list(variables),
        "start": "field-capacity" if start is None else str(start),
        "rules": rules.told(),
        "reading": dict(reading),
    }
    return json.dumps(words, sort_keys=True)


def _listed(roof: Any) -> list[Any]:
    return list(roof) if isinstance(roof, Sequence) else [roof]


def _content(source: Any, weather: xr.Dataset) -> str:
    """Return a digest of the weather: of names, sizes and times of its files, or of values in memory."""
    if isinstance(source, str | Path):
        root = Path(source)
        files = sorted(path for path in root.rglob("*") if path.is_file()) if root.is_dir() else [root]
        facts = [(str(path.relative_to(root)), path.stat()) for path in files]
        return _digest(np.array([f"{name} {stat.st_size} {stat.st_mtime_ns}" for name, stat in facts]))
    from dask.base import tokenize

    return str(tokenize(*(weather[name].variable.data for name in weather.data_vars)))


def _digest(*arrays: np.ndarray) -> str:
    whole = hashlib.sha256()
    for array in arrays:
        plain = np.asarray(array)
        whole.update(plain.tobytes() if plain.dtype.kind in "biufM" else "|".join(map(str, plain.ravel())).encode())
    return whole.hexdigest()[:16]
