"""Grids larger than memory: from Zarr to Zarr, piece by piece, on threads, processes or a cluster, stopped and taken up at will.

A piece is a block of cells, by default a chunk of the store. Its record goes by in the stretches of time in which it is
stored, the state carried from one to the next, so memory holds one stretch of one piece per worker. A piece that is finished is
marked in the target; a run that was stopped, or killed at any moment, does what is not marked and nothing else. Cells do not
know of each other, so pieces, stretches and workers change no bit of the figures.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Unpack

import xarray as xr

from runoff.errors import RunoffError, RunoffWarning
from runoff.given_kinds import refuse_other_kinds
from runoff.simulation import RuleWords, RunRules
from runoff.writing import make_folder, writing_alone

if TYPE_CHECKING:
    from runoff.roof import Roof
    from runoff.streaming.preparing import Estimate as Estimate


def stream(
    roof: Roof | Sequence[Roof] | Mapping[str, Roof],
    source: str | Path | xr.Dataset,
    target: str | Path,
    *,
    pieces: Mapping[str, int] | None = None,
    cells: xr.DataArray | Sequence[Mapping[str, Any]] | None = None,
    variables: Sequence[str] = (),
    memory_mb: float = 500.0,
    workers: int | None = None,
    progress: Callable[[int, int], None] | None = None,
    told: Callable[[Estimate], None] | None = None,
    start_moisture: str | float | None = None,
    columns: Mapping[str, str] | None = None,
    units: Mapping[str, str] | None = None,
    trust_unit: bool = False,
    rules: RunRules | None = None,
    **words: Unpack[RuleWords],
) -> xr.Dataset:
    """Run a grid of weather piece by piece and write the headline figures, and series if asked, to a Zarr folder.

    The run is a dask graph: it goes by the scheduler that is set (threads by default), and by ``dask.distributed`` where a
    ``Client`` is open; its workers then need to see `source` and `target`.

    Parameters
    ----------
    roof
        As in `runoff.simulate`.
    source
        Zarr folder or NetCDF file, or a Dataset (with or without dask) with any of ``lat``, ``lon``, ``site``, ``member``
        beside ``time``, chunked in any way.
    target
        Zarr folder to write. If it holds a part of this same run, only what is missing is done.
    pieces
        Cells per piece and dimension, for example ``{"lat": 20, "lon": 20}``; default the chunks of the store, small ones put
        together as `memory_mb` allows.
    cells
        Which cells to run, the others stay missing: a mask on dimensions of the grid, or a list of places such as
        ``{"lat": 46.5, "lon": 7.0}``.
    variables
        Series of `runoff.simulate` to write beside the figures, for example ``["overflow"]``.
    memory_mb
        Memory one piece may take, MB.
    workers
        Threads of this machine that share the run, by default as many as it has cores (or as dask is set to). Every one holds the
        weather of one chunk.
    progress
        Called after each piece with pieces done and pieces in all.
    told
        Called once, before anything is run, with an estimate of time and memory.
    start_moisture
        As in `runoff.simulate`: ``"field-capacity"``, ``"dry"`` or a fraction.
    columns, units, trust_unit
        As in `runoff.read_weather`, for a `source` on disk: which variable is what, in which unit, and whether to take amounts
        that look like a wrong unit.
    rules, **words
        Rules of the runs, as in `runoff.simulate`.

    Returns
    -------
    xarray.Dataset
        What was written, opened lazily: the figures of `runoff.summarize` on the dimensions of the grid, and the series.
        Cells without weather, or outside the mask, are missing.

    Raises
    ------
    WeatherError
        When a part of the weather is impossible or in a doubtful unit, naming quantity and place, or cannot be read.
    RunoffError
        When the extra ``large`` is not installed, the weather has no grid or is stored in chunks larger than `memory_mb`
        allows, the target holds another run (the message names what differs) or cannot be written, or another run is writing into
        it. Finished pieces are kept; where none is, no target is left.

    Notes
    -----
    Sums over a record are added up in another order than `runoff.summarize` does over series; they agree to some 1e-12 of
    their size, counts agree exactly.
    """
    refuse_without_large()
    refuse_other_kinds("stream", source=source, target=target)
    from runoff.streaming import target as targets
    from runoff.streaming.damage import damage_told
    from runoff.streaming.preparing import estimated, prepare
    from runoff.streaming.scheduling import on_a_cluster, on_workers, read_on_few_threads, refuse_wrong_workers, run_all

    known = (
        "pieces",
        "cells",
        "variables",
        "memory_mb",
        "workers",
        "progress",
        "told",
        "start_moisture",
        "columns",
        "units",
        "trust_unit",
    )
    asked = RunRules.of("stream", rules, known, **words)
    refuse_wrong_workers(workers)
    with on_workers(workers):
        read_on_few_threads()
    ready = prepare(
        roof, source, Path(target), pieces=pieces, cells=cells, variables=tuple(variables), memory_mb=memory_mb,
        start_moisture=start_moisture, rules=asked, reading=_reading(source, columns, units, trust_unit),
        alone=workers == 1,
    )  # fmt: skip
    place = Path(target)  # as given, for messages; workers may run in another folder and are told the whole path
    with writing_alone(make_folder(place.parent), place.name), damage_told(place), on_workers(workers):
        try:
            if not targets.holds(place, ready.plan):
                ready.begin()
            if told is not None:
                told(estimated(ready))
            made = run_all(ready, progress)
        except Exception:
            if not on_a_cluster():  # its workers may still be writing
                targets.remove_if_nothing_is_done(place)
            raise
        targets.check_complete(place, ready.todo)
    made.odd.tell("stream", ready.work.cells)
    if made.gaps:
        warnings.warn(
            f"stream: {'1 cell has' if made.gaps == 1 else f'{made.gaps} cells have'} weather on a part of the steps only; "
            f"{'it is' if made.gaps == 1 else 'they are'} missing in every result. runoff.fill_gaps fills gaps by a named method",
            RunoffWarning,
            stacklevel=2,
        )
    return targets.finished(place)


def _reading(source: Any, columns: Any, units: Any, trust_unit: bool) -> dict[str, Any]:
    """Return how the weather is read, as far as it is said; a Dataset is read already."""
    found = {"columns": dict(columns or {}), "units": dict(units or {}), "trust_unit": bool(trust_unit)}
    given = {name: value for name, value in found.items() if value}
    if given and isinstance(source, xr.Dataset):
        raise RunoffError(
            f"stream: {' and '.join(given)} {'belongs' if len(given) == 1 else 'belong'} to weather on disk; of a Dataset, rename variables and "
            'set attrs["units"], or weather.attrs["unit_trusted"] = "yes"'
        )
    return given


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


def pieces_left(target: str | Path) -> int:
    """Return how many pieces of a target are still to do.

    Raises
    ------
    RunoffError
        When there is no target of a streamed run.
    """
    refuse_without_large()
    from runoff.streaming.target import is_begun, marks

    if not is_begun(Path(target)):
        raise RunoffError(
            f"pieces_left: {target} is not the target of a streamed run; give the folder that runoff.stream writes"
        )
    return int((marks(Path(target)) == 0).sum())
