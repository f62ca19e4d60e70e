"""The store a streamed run writes: begun in one move, each piece marked once it is whole, complete or not at any moment."""

from __future__ import annotations

import dataclasses
import functools
import json
import shutil
from collections.abc import Mapping
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import xarray as xr

from runoff.errors import RunoffError
from runoff.findings.summary import FIGURES, figures_in
from runoff.streaming.own_loop import done_here
from runoff.streaming.pieces import Piece

#: Name of the marks in the target: 0 for a piece that is to do, else 1 and the cells of it that have results.
MARKS = "piece_done"
_PLAN, _COMPLETE = "stream_plan", "stream_complete"
#: The figure whose known values are counted against the marks.
_COUNTED = "annual_rain"
#: The chunks of an array lie side by side: folders for each row of them take longer to make than their files.
_FLAT: Any = {"name": "default", "separator": "."}


class _Layout(NamedTuple):
    """How an array lies in the target, in the words of Zarr."""

    shape: tuple[int, ...]
    chunks: tuple[int, ...]
    dimension_names: tuple[str, ...]


def holds(target: Path, plan: str) -> bool:
    """Tell whether the target holds a part of this run; refuse one that holds something else, naming what differs."""
    if not target.exists() or (target.is_dir() and not any(target.iterdir())):
        return False
    begun = _attributes(target)
    if _PLAN not in begun:
        raise RunoffError(f"stream: {target} exists and is not the target of a streamed run; choose another folder")
    if begun[_PLAN] != plan and not marks(target).any():  # it has nothing yet that could be lost
        remove(target)
        return False
    if begun[_PLAN] != plan:
        differs = "\n".join(f"  {one}" for one in differences(json.loads(begun[_PLAN]), json.loads(plan)))
        raise RunoffError(
            f"stream: {target} holds another run; choose another folder, or remove it. What differs:\n{differs}"
        )
    return True


def _attributes(target: Path) -> dict[str, Any]:
    """Return the attributes of a group; none where there is no group."""
    import zarr

    return dict(zarr.open_group(target, mode="r").attrs) if (target / "zarr.json").exists() else {}


def is_begun(target: Path) -> bool:
    """Tell whether a folder is the target of some streamed run."""
    return _PLAN in _attributes(target)


def differences(old: Mapping[str, Any], new: Mapping[str, Any]) -> list[str]:
    """Name what differs between two plans, with what stood there and what is asked now."""
    found = []
    for key in new:
        before, now = old.get(key), new[key]
        if before == now:
            continue
        if key == "roof" and isinstance(before, dict):
            found += _roofs_apart(before, now)
        elif isinstance(before, dict) and isinstance(now, dict):
            names = [
                name
                for name in (*before, *(one for one in now if one not in before))
                if before.get(name) != now.get(name)
            ]
            found += [
                f"{key}: {name} was {_short(before.get(name))}, is now {_short(now.get(name))}" for name in names[:4]
            ]
        else:
            found.append(f"{key}: was {_short(before)}, is now {_short(now)}")
    return found


def _roofs_apart(before: Mapping[str, str], now: Mapping[str, str]) -> list[str]:
    if list(before) != list(now):
        return [f"roofs: were {', '.join(before)}, are now {', '.join(now)}"]
    found = []
    for name in now:
        lines = [
            (a.strip(), b.strip())
            for a, b in zip(before[name].splitlines(), now[name].splitlines(), strict=False)
            if a != b
        ]
        if before[name] != now[name]:
            words = f"roof{f' {name}' if len(now) > 1 else ''}"
            found.append(
                f"{words}: was {lines[0][0]}, is now {lines[0][1]}" if lines else f"{words}: other layers or lines"
            )
    return found[:4]


def _short(value: Any) -> str:
    text = "not given" if value is None else str(value)
    return text if len(text) <= 60 else f"{text[:57]}..."


def begin(
    target: Path,
    figures: xr.Dataset,
    coords: Mapping[Any, xr.DataArray],
    series: Mapping[str, tuple[tuple[str, ...], dict[str, Any]]],
    grid: Mapping[str, int],
    sizes: Mapping[str, int],
    spans: tuple[int, int],
    count: int,
    plan: str,
) -> None:
    """Write names, coordinates, attributes and the plan in a folder beside, then move it into place: all of it or nothing.

    Parameters
    ----------
    target
        The folder.
    figures
        Figures of one cell, along ``cell`` of size 1: names, dimensions and attributes are taken from it.
    coords
        Coordinates of the grid (degrees, or the units of a projection) and, with series, of time.
    series
        Dimensions (those of the grid as ``cell``) and attributes of each series.
    grid, sizes
        Cells in all, and in a piece.
    spans
        Steps of the record, and of a chunk of series along time.
    count, plan
        Number of pieces; what decides the numbers.
    """
    import zarr

    frame = xr.Dataset(attrs={key: value for key, value in figures.attrs.items() if value is not None})
    chunk = {**sizes, "time": spans[1]}
    whole = {**grid, "time": spans[0]}
    wanted: dict[str, tuple[tuple[str, ...], dict[Any, Any], Any]] = {
        str(name): (tuple(map(str, one.dims)), one.attrs, one) for name, one in figures.data_vars.items()
    }
    wanted |= {name: (dims, attrs, None) for name, (dims, attrs) in series.items()}
    arrays: dict[str, tuple[_Layout, dict[str, Any]]] = {}
    for name, (dims, attrs, one) in wanted.items():
        if "cell" not in dims:
            frame[name] = one
            continue
        full = [part for dim in dims for part in (tuple(grid) if dim == "cell" else (dim,))]
        size = {**{str(dim): n for dim, n in figures.sizes.items()}, **whole}
        layout = _Layout(
            tuple(size[dim] for dim in full), tuple(chunk.get(dim, size[dim]) for dim in full), tuple(full)
        )
        arrays[name] = layout, dict(attrs)
    others = {n: c for n, c in figures.coords.items() if "cell" not in c.dims and n not in coords}
    known = {name: coord.compute() for name, coord in (*coords.items(), *others.items())}
    frame = frame.assign_coords({n: c.astype(object) if c.dtype.kind == "U" else c for n, c in known.items()})
    beside = target.with_name(f".{target.name}.unfinished")
    shutil.rmtree(beside, ignore_errors=True)
    beside.parent.mkdir(parents=True, exist_ok=True)

    async def make_arrays() -> None:
        # by themselves: xarray takes ten times as long for arrays without values, and Zarr three times if it is to describe each
        # of them anew, though most lie alike
        group = await zarr.api.asynchronous.open_group(beside, mode="r+")
        described: dict[_Layout, Any] = {}
        alike: dict[str, Any] = {}
        for name, (layout, attributes) in arrays.items():
            if layout in described:
                alike[name] = dataclasses.replace(described[layout], attributes=attributes)
            else:
                first = await group.create_array(
                    name,
                    dtype="f8",
                    fill_value=np.nan,
                    attributes=attributes,
                    chunk_key_encoding=_FLAT,
                    **layout._asdict(),
                )
                described[layout] = first.metadata
        async for _ in group.create_hierarchy(alike):
            pass
        told: dict[str, Any] = {"long_name": "1 + cells with results of a finished piece"}
        await group.create_array(
            MARKS,
            shape=(count,),
            chunks=(1,),
            dtype="i8",
            fill_value=0,
            dimension_names=("piece",),
            attributes=told,
            chunk_key_encoding=_FLAT,
        )
        await group.update_attributes({_PLAN: plan})

    try:
        frame.to_zarr(beside, mode="w", consolidated=False, zarr_format=3)
        done_here(make_arrays)
        beside.replace(target)  # an empty folder gives way
    finally:
        shutil.rmtree(beside, ignore_errors=True)


def remove_if_nothing_is_done(target: Path) -> None:
    """Remove a target of which no piece is finished; anything else in its place is left."""
    if is_begun(target) and not marks(target).any():
        remove(target)


def remove(target: Path) -> None:
    """Remove a target."""
    shutil.rmtree(target, ignore_errors=True)


def _array(group: Any, name: str) -> Any:
    """Return an array of a group (its type allows for groups within groups, which a target never holds)."""
    return group[name]


def _arrays(target: Path) -> dict[str, Any]:
    """Return the arrays of a target; opened once, as opening them takes longer than writing a piece."""
    began = (target / "zarr.json").stat()
    return _opened(target, (began.st_ino, began.st_mtime_ns))


@functools.lru_cache(maxsize=4)
def _opened(target: Path, began: tuple[int, int]) -> dict[str, Any]:
    """Return the arrays of a target that began in this inode at this time: another one in its place is another target."""
    import zarr

    return dict(zarr.open_group(target, mode="r+").arrays())


def marks(target: Path) -> np.ndarray:
    """Return the marks of all pieces."""
    import zarr

    return np.asarray(_array(zarr.open_group(target, mode="r"), MARKS)[:])


def write(target: Path, values: Mapping[str, tuple[tuple[str, ...], np.ndarray]], where: Mapping[str, slice]) -> None:
    """Write values of a piece: of each name its dimensions and numbers.

    Parameters
    ----------
    target
        The folder.
    values
        Name -> its dimensions, and its numbers in that order, in the unit of the figure.
    where
        Dimension -> the part of it that is written; one that is not named is written whole.
    """
    arrays = _arrays(target)

    async def one_by_one() -> None:
        for name, (dims, numbers) in values.items():
            own = tuple(arrays[name].metadata.dimension_names or ())
            place = tuple(where.get(dim, slice(None)) for dim in own)
            await arrays[name].async_array.setitem(place, np.transpose(numbers, [dims.index(dim) for dim in own]))

    done_here(one_by_one)


def mark(target: Path, number: int, cells: int) -> None:
    """Mark a piece as finished, with so many cells that have results: the last that is written of it.

    Parameters
    ----------
    target
        The folder.
    number
        Number of the piece, from 0.
    cells
        Number of its cells with results.
    """
    array = _arrays(target)[MARKS].async_array
    done_here(lambda: array.setitem(number, np.array(1 + cells)))


def check_complete(target: Path, todo: list[Piece]) -> None:
    """Hold what the target has against its marks, and mark it as complete.

    Raises
    ------
    RunoffError
        When pieces lack results that their marks promise; they are unmarked, so that the next run does them again.
    """
    import zarr

    group = zarr.open_group(target, mode="r+")
    if group.attrs.get(_COMPLETE):
        return
    for half in target.rglob("*.partial"):  # what a run was writing when it was killed
        half.unlink(missing_ok=True)
    promised, array = marks(target), _array(group, _COUNTED)
    dims = tuple(array.metadata.dimension_names or ())
    over = tuple(i for i, dim in enumerate(dims) if dim not in todo[0])
    known = ~np.isnan(np.asarray(array[:]))
    known = known.all(axis=over) if over else known
    order = [dim for dim in dims if dim in todo[0]]
    short = [
        number
        for number, piece in enumerate(todo)
        if int(known[tuple(piece[dim] for dim in order)].sum()) != promised[number] - 1
    ]
    for number in short:
        _array(group, MARKS)[number] = 0
    if short:
        raise RunoffError(
            f"stream: {len(short)} of {len(todo)} pieces in {target} lack results they had; were files removed? Call it again and "
            "they are done again"
        )
    group.attrs[_COMPLETE] = True


def finished(target: Path) -> xr.Dataset:
    """Open the target as a result: figures in the order of `summarize`, without what only the writing needs."""
    whole = xr.open_zarr(target, consolidated=False).drop_vars(MARKS)
    for name in (_PLAN, _COMPLETE):
        whole.attrs.pop(name, None)
    figures = [name for name in {**figures_in(whole), **FIGURES} if name in whole]
    return whole[[*figures, *sorted(set(whole.data_vars) - set(figures))]]
