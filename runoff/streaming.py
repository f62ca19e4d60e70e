"""Grids larger than memory: from Zarr to Zarr, piece by piece, in a way that can be stopped and taken up again.

A piece is a block of cells with its whole record. Each is loaded, run, summarized and written on its own, so memory
holds one piece at a time. A piece that is finished is marked in the target; a run that was stopped, or killed half-way
through a piece, does that piece again and no other. Cells do not know of each other, so the pieces give the same bits
as a single run over the whole grid.
"""

from __future__ import annotations

import hashlib
import itertools
import json
import math
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple, Unpack

import numpy as np
import xarray as xr

from runoff.errors import RunoffError, nearest, raise_faults
from runoff.findings.summary import FIGURES, summarize
from runoff.simulation import RuleWords, RunRules, simulate

if TYPE_CHECKING:
    from runoff.roof import Roof

#: Name of the marks in the target: 1 for a piece that is finished.
MARKS = "piece_done"
#: Numbers that a run holds per cell and step at its widest, measured with headroom.
_NUMBERS_PER_STEP = 80

Piece = dict[str, slice]


class _How(NamedTuple):
    """How every piece is run, and which of its series are kept."""

    variables: tuple[str, ...]
    start_moisture: str | float | None
    rules: RunRules


def stream(
    roof: Roof | Sequence[Roof] | Mapping[str, Roof],
    source: str | Path | xr.Dataset,
    target: str | Path,
    *,
    pieces: Mapping[str, int] | None = None,
    variables: Sequence[str] = (),
    memory_mb: float = 500.0,
    progress: Callable[[int, int], None] | None = None,
    start_moisture: str | float | None = None,
    rules: RunRules | None = None,
    **words: Unpack[RuleWords],
) -> xr.Dataset:
    """Run a grid of weather piece by piece and write the headline figures, and series if asked, to a Zarr folder.

    Parameters
    ----------
    roof
        As in `runoff.simulate`.
    source
        Zarr folder or NetCDF file, or a Dataset (opened lazily, with or without dask) with any of ``lat``, ``lon``,
        ``site``, ``member`` beside ``time``.
    target
        Zarr folder to write. If it holds a part of this same run, only what is missing is done.
    pieces
        Cells per piece and dimension, for example ``{"lat": 20, "lon": 20}``; default as many as `memory_mb` allows.
    variables
        Series of `runoff.simulate` to write beside the figures, for example ``["overflow"]``.
    memory_mb
        Memory one piece may take, MB, when `pieces` is not given.
    progress
        Called after each piece with pieces done and pieces in all.
    start_moisture
        As in `runoff.simulate`: ``"field-capacity"``, ``"dry"`` or a fraction.
    rules, **words
        Rules of the runs, as in `runoff.simulate`.

    Returns
    -------
    xarray.Dataset
        What was written, opened lazily: the figures of `runoff.summarize` on the dimensions of the grid, and the series.

    Raises
    ------
    RunoffError
        When the extra ``large`` is not installed, the weather has no grid, or the target holds another run.
    """
    refuse_without_large()
    known = ("pieces", "variables", "memory_mb", "progress", "start_moisture")
    how = _How(tuple(variables), start_moisture, RunRules.of("stream", rules, known, **words))
    weather = _opened(source)
    grid = {str(name): size for name, size in weather["rain"].sizes.items() if name != "time"}
    if not grid:
        raise RunoffError("stream: the weather is a single series, which fits in memory; use runoff.simulate")
    sizes = _piece_sizes(grid, weather.sizes["time"], pieces, memory_mb, _designs(roof))
    todo = _cut(grid, sizes)
    weather = _with_reference_et(weather, sizes, how.rules.et_method)
    plan = _plan(roof, weather, sizes, how)
    target = Path(target)
    if not _holds(target, plan):
        corner = weather.isel({name: slice(0, 1) for name in grid}).load()
        # only shapes and names are taken from it, so a corner in the sea must not lend them its missing values
        first = _run_piece(roof, corner.fillna(0.0), {}, how)
        _write_frame(first, weather, grid, sizes, len(todo), plan, target)
    done = _marks(target, len(todo))
    for number, piece in enumerate(todo):
        if done[number]:
            continue
        result = _run_piece(roof, weather, piece, how)
        _write_piece(result, piece, number, target)
        done[number] = True
        if progress is not None:
            progress(int(done.sum()), len(todo))
    return _finished(target)


def refuse_without_large() -> None:
    """Raise when the packages for large grids are not installed."""
    import importlib

    missing = []
    for name in ("dask", "zarr"):
        try:
            importlib.import_module(name)
        except ImportError:
            missing.append(name)
    if missing:
        raise RunoffError(
            f"stream: {' and '.join(missing)} {'is' if len(missing) == 1 else 'are'} not installed; large grids need "
            'the extra packages: pip install "runoff[large]"'
        )


def _opened(source: str | Path | xr.Dataset) -> xr.Dataset:
    if isinstance(source, xr.Dataset):
        weather = source
    else:
        from runoff.weather import read_weather

        weather = read_weather(source, chunks={})
    if "rain" not in weather or "time" not in weather["rain"].dims:
        raise RunoffError(f"stream: the weather needs `rain` on time (given {', '.join(map(str, weather.data_vars))})")
    return weather


def _with_reference_et(weather: xr.Dataset, sizes: dict[str, int], et_method: str | None) -> xr.Dataset:
    """Choose the method of reference evapotranspiration once for the whole grid, not anew by what a piece happens to know."""
    from runoff.weather.evaporation.evapotranspiration import with_reference_et
    from runoff.weather.record.frames import as_weather

    lazy = as_weather(weather.chunk({**sizes, "time": -1}))
    return with_reference_et(lazy, et_method)


def _designs(roof: Any) -> int:
    return len(roof) if isinstance(roof, Sequence | Mapping) else 1


def _piece_sizes(
    grid: Mapping[str, int], steps: int, pieces: Mapping[str, int] | None, memory_mb: float, designs: int
) -> dict[str, int]:
    """Return the cells per piece and dimension, as asked or as many as memory allows, the last dimension first."""
    if pieces is not None:
        faults = [
            f'pieces names "{name}"{nearest(str(name), grid)}; the weather has {", ".join(grid)}'
            for name in pieces
            if name not in grid
        ]
        faults += [
            f"pieces of {name} must be a whole number, 1 or more (given {size!r})"
            for name, size in pieces.items()
            if not isinstance(size, int | np.integer) or size < 1
        ]
        raise_faults("stream", faults)
        return {name: min(int(pieces.get(name, size)), size) for name, size in grid.items()}
    left = max(1, int(memory_mb * 1e6 / (8.0 * _NUMBERS_PER_STEP * steps * designs)))
    sizes = {}
    for name in reversed(list(grid)):
        sizes[name] = min(grid[name], left)
        left = max(1, left // sizes[name])
    return {name: sizes[name] for name in grid}


def _cut(grid: Mapping[str, int], sizes: Mapping[str, int]) -> list[Piece]:
    spans = [
        [slice(first, min(first + sizes[name], grid[name])) for first in range(0, grid[name], sizes[name])]
        for name in grid
    ]
    return [dict(zip(grid, block, strict=True)) for block in itertools.product(*spans)]


def _run_piece(roof: Any, weather: xr.Dataset, piece: Piece, how: _How) -> xr.Dataset:
    """Load a block of cells, run it and return its figures and series."""
    block = weather.isel({name: part for name, part in piece.items() if name in weather.dims}).load()
    if piece and math.prod(part.stop - part.start for part in piece.values()) == 1:
        # numpy adds up a lone series in another order than one of many, which shows in the last bit: it gets company
        name = next(name for name in piece if name in weather.dims)
        pair = _run_piece(roof, xr.concat([block, block], name, data_vars="minimal"), {}, how)
        return pair.isel({name: slice(0, 1)})
    run = simulate(roof, block, start_moisture=how.start_moisture, rules=how.rules)
    unknown = [
        f'variable "{name}" is not known{nearest(name, map(str, run))}' for name in how.variables if name not in run
    ]
    raise_faults("stream", unknown)
    figures = summarize(run)
    return figures.assign({name: run[name] for name in how.variables})


# --- the target ------------------------------------------------------------------------------------------------


def _plan(roof: Any, weather: xr.Dataset, sizes: dict[str, int], how: _How) -> str:
    """Return a fingerprint of all that decides the numbers, so that a target is only taken up by the run that began it."""
    from runoff.version import __version__

    roofs = roof if isinstance(roof, Mapping) else {str(i): one for i, one in enumerate(_listed(roof))}
    coordinates = hashlib.sha256()
    for name in (*sizes, "time"):
        if name in weather.coords:
            coordinates.update("|".join(map(str, weather[name].to_numpy())).encode())
    words = {
        "version": __version__,
        "roof": {name: one.to_toml() for name, one in roofs.items()},
        "weather": [str(weather.attrs.get(key, "")) for key in ("source", "title", "sha256")],
        "coordinates": coordinates.hexdigest(),
        "grid": {str(name): int(size) for name, size in weather.sizes.items()},
        "pieces": sizes,
        "variables": list(how.variables),
        "start": str(how.start_moisture),
        "rules": how.rules.told(),
    }
    return json.dumps(words, sort_keys=True)


def _listed(roof: Any) -> list[Any]:
    return list(roof) if isinstance(roof, Sequence) else [roof]


def _holds(target: Path, plan: str) -> bool:
    """Tell whether the target holds a part of this run; refuse one that holds something else."""
    import zarr

    if not target.exists() or (target.is_dir() and not any(target.iterdir())):
        return False
    begun: dict[str, Any] = {}
    if (target / "zarr.json").exists():
        begun = dict(zarr.open_group(target, mode="r").attrs)
    if "stream_plan" not in begun:
        # frames are written with the plan last: a folder of marks without one was stopped before its first piece
        if (target / MARKS).exists():
            return False
        raise RunoffError(f"stream: {target} exists and is not the target of a streamed run; choose another folder")
    if begun["stream_plan"] != plan:
        old, new = json.loads(begun["stream_plan"]), json.loads(plan)
        changed = [key for key in new if old.get(key) != new[key]]
        raise RunoffError(
            f"stream: {target} holds another run (different: {', '.join(changed)}); choose another folder, or remove it"
        )
    return True


def _write_frame(
    first: xr.Dataset,
    weather: xr.Dataset,
    grid: dict[str, int],
    sizes: dict[str, int],
    count: int,
    plan: str,
    target: Path,
) -> None:
    """Write names, coordinates, attributes and empty chunks, one chunk per piece; the plan comes last."""
    import dask.array
    import zarr

    frame = xr.Dataset(attrs=first.attrs)
    encoding: dict[str, Any] = {}
    for name, values in first.data_vars.items():
        gridded = any(dim in grid for dim in values.dims)
        if not gridded:
            frame[name] = values
            continue
        shape = [grid.get(str(dim), size) for dim, size in values.sizes.items()]
        chunks = [sizes.get(str(dim), size) for dim, size in values.sizes.items()]
        empty = dask.array.full(shape, np.nan, chunks=chunks, dtype=values.dtype)
        frame[name] = (values.dims, empty, values.attrs)
        encoding[str(name)] = {"chunks": tuple(chunks)}
    for name, coordinate in weather.coords.items():
        if set(map(str, coordinate.dims)) & set(grid) and set(map(str, coordinate.dims)) <= set(grid):
            frame = frame.assign_coords({name: coordinate.compute()})
    others = {n: c for n, c in first.coords.items() if not set(map(str, c.dims)) & set(grid)}
    frame = frame.assign_coords({n: c.astype(object) if c.dtype.kind == "U" else c for n, c in others.items()})
    frame[MARKS] = ("piece", np.zeros(count, dtype="int8"), {"long_name": "1 for a piece that is finished"})
    encoding[MARKS] = {"chunks": (1,)}
    frame.to_zarr(target, mode="w", compute=False, encoding=encoding, consolidated=False, zarr_format=3)
    zarr.open_group(target, mode="r+").attrs["stream_plan"] = plan


def _array(group: Any, name: str) -> Any:
    """Return an array of a group (its type allows for groups within groups, which a target never holds)."""
    return group[name]


def _marks(target: Path, count: int) -> np.ndarray:
    import zarr

    marks = np.asarray(_array(zarr.open_group(target, mode="r"), MARKS)[:]).astype(bool)
    if marks.shape != (count,):
        raise RunoffError(f"stream: {target} is damaged, its marks do not fit its pieces; remove it and begin again")
    return marks


def _write_piece(result: xr.Dataset, piece: Piece, number: int, target: Path) -> None:
    """Write a block of cells, then its mark: a piece counts only when all of it is there."""
    import zarr

    group = zarr.open_group(target, mode="r+")
    for name, values in result.data_vars.items():
        array = _array(group, str(name))
        dims = array.metadata.dimension_names or ()
        if any(dim in piece for dim in dims):
            # a piece with missing cells carries its mask, and with it dimensions a figure does not vary along
            same = values.isel({dim: 0 for dim in values.dims if dim not in dims})
            where = tuple(piece.get(dim, slice(None)) for dim in dims)
            array[where] = same.transpose(*dims).to_numpy()
    _array(group, MARKS)[number] = 1


def _finished(target: Path) -> xr.Dataset:
    """Open the target as a result: figures in the order of `summarize`, without what only the writing needs."""
    whole = xr.open_zarr(target, consolidated=False).drop_vars(MARKS)
    whole.attrs.pop("stream_plan", None)
    figures = [name for name in FIGURES if name in whole]
    return whole[[*figures, *sorted(set(whole.data_vars) - set(figures))]]


def pieces_left(target: str | Path) -> int:
    """Return how many pieces of a target are still to do."""
    refuse_without_large()
    import zarr

    marks = np.asarray(_array(zarr.open_group(Path(target), mode="r"), MARKS)[:])
    return int(math.prod(marks.shape) - marks.sum())
