"""One piece of a grid, step by step along time: what a scheduler runs, on a thread, in a process or on a cluster.

Where the weather is read from plain chunks, one task runs a part of a piece through its whole record, reading each stretch in its turn. Else
the steps of a piece are a chain: each takes what the one before left and the weather of one stretch of time, and changes nothing it
was given, so that a step may be done again on another worker. The last one writes the figures and the mark.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import xarray as xr

from runoff.errors import RunoffWarning, WeatherError
from runoff.findings.events import HELD_SHARE, WET_DAY_MM
from runoff.findings.summary import facts_from_totals, summarize
from runoff.findings.yearly import _OF_A_YEAR as OF_A_YEAR
from runoff.simulation import Columns, RunRules, simulate
from runoff.simulation.grid_runs import EventRule, GridRun, GridWeather, for_whole_blocks, totals_of
from runoff.simulation.start import last_stores
from runoff.streaming import target as targets
from runoff.streaming.grid_weather import Source
from runoff.streaming.pieces import Piece
from runoff.streaming.stored_chunks import Block, Chunks
from runoff.time_steps import STEP_HOURS
from runoff.weather.quality.grid_units import OddCells, refuse_doubtful_unit

#: So many days show whether their unit is right; where they come in several stretches, their rain is kept until then.
_TELLING_DAYS = 360

EVENT = EventRule(WET_DAY_MM, HELD_SHARE)


class Work(NamedTuple):
    """What every piece has in common.

    Parameters
    ----------
    roof, columns, rules
        Roofs as given and as columns, and the rules of the runs.
    moisture
        The start; None for field capacity after a warm-up.
    variables
        Series to keep.
    traced
        Why figures need the series of a run; empty where they do not.
    dims, stored
        Dimensions of the grid, and with time in the order in which the weather is stored.
    attrs, years
        Provenance of the figures, and the length of the record in years.
    sun_days
        Days of the sun of which radiation is worked out; empty where evapotranspiration is given.
    trusted
        Whether the unit of rain was confirmed.
    target
        The store that is written.
    threads
        Whether a step may use all cores.
    cells
        Number of cells of the grid.
    months
        Which months of the year the record has days of.
    """

    roof: Any
    columns: Columns
    rules: RunRules
    moisture: Any
    variables: tuple[str, ...]
    traced: str
    dims: tuple[str, ...]
    stored: tuple[str, ...]
    attrs: dict[str, Any]
    years: float
    sun_days: np.ndarray
    trusted: bool
    target: Path
    threads: bool
    cells: int
    months: np.ndarray

    @property
    def needs_series(self) -> bool:
        """Whether series are run at all."""
        return bool(self.variables or self.traced)


class Part(NamedTuple):
    """One piece, or the part of it in one chunk: number of the piece, where it lies; latitudes, which cells are wanted.

    ``inside`` says by dimension where the part lies in its chunk, in the order of the chunk's dimensions and without time.
    """

    number: int
    piece: Piece
    latitude: np.ndarray
    wanted: np.ndarray | None
    coords: dict[str, Any]
    inside: dict[str, slice]

    def within(self, cells: Piece, inside: dict[str, slice]) -> Part:
        """Return the part of this piece that lies in one chunk."""
        own = {
            dim: slice(span.start - self.piece[dim].start, span.stop - self.piece[dim].start)
            for dim, span in cells.items()
        }
        where = tuple(own.values())
        wanted = None if self.wanted is None else self.wanted[where]
        coords = {dim: values[own[dim]] for dim, values in self.coords.items()}
        return Part(self.number, cells, self.latitude[where], wanted, coords, inside)

    def places(self, other: Part) -> np.ndarray:
        """Return the places that the cells of a part of this piece have in it."""
        where = tuple(
            slice(span.start - self.piece[dim].start, span.stop - self.piece[dim].start)
            for dim, span in other.piece.items()
        )
        return np.arange(self.latitude.size).reshape(self.latitude.shape)[where].reshape(-1)


class State:
    """What goes from step to step of a piece.

    ``live`` are the cells that are run, by their place in the piece; ``grid`` the run of the loop, and ``sums`` what it came to in the end; ``stores`` the last state of
    the series; ``kept`` what figures are formed from where they need the series; ``gaps`` the cells known in part only; ``early``
    the rain of the first days with their times until its unit is looked at, then None; ``odd`` what was found.
    """

    def __init__(self) -> None:
        self.live: np.ndarray | None = None
        self.grid: GridRun | None = None
        self.sums: dict[str, np.ndarray] | None = None
        self.sun: np.ndarray | None = None
        self.stores: xr.Dataset | None = None
        self.kept: list[xr.Dataset] = []
        self.gaps: np.ndarray | None = None
        self.early: list[tuple[np.ndarray, Any]] | None = []
        self.odd = OddCells()

    def copy(self) -> State:
        """Return a state that can be run on without changing this one."""
        other = State()
        other.__dict__.update(self.__dict__)
        other.grid = None if self.grid is None else self.grid.copy()
        other.kept = list(self.kept)
        return other


class Span(NamedTuple):
    """A stretch of time: number in the chain, months (0-11), row of the sun of each step, its times; what it is to a run.

    ``steps`` are its steps in the record, ``chunk`` and ``inside`` say in which chunk along time they lie, and where in it.
    """

    number: int
    month: np.ndarray
    sun_row: np.ndarray
    times: Any
    steps: slice
    chunk: int
    inside: slice
    first_of_record: bool
    warm_up: bool
    last: bool


def step(work: Work, part: Part, span: Span, now: State, **series: np.ndarray) -> None:
    """Run a piece through one stretch of time.

    Parameters
    ----------
    work, part, span
        What is run, where and when.
    now
        What the step before left; brought forward.
    **series
        The chunks of the quantities of `Source.fed` that hold the part.

    Raises
    ------
    WeatherError
        Once so many days are known as show it, when a tenth of the cells or more have rain that is hardly in mm.
    """
    flat = {name: _flat(values, work.stored, part.inside, span.inside) for name, values in series.items()}
    _look_at_cells(work, part, span, now, flat)
    if now.live is not None and now.live.size:
        _look_at_unit(work, part, span, now, flat["rain"])
        chosen = flat if now.live.size == flat["rain"].shape[1] else {n: one[:, now.live] for n, one in flat.items()}
        if not work.traced:
            _advance(work, part, span, now, chosen)
        if work.needs_series:
            _trace(work, part, span, now, chosen)


def all_steps(work: Work, part: Part, spans: list[Span], chunks: Chunks, block: Block) -> State:
    """Run a part of a piece through its whole record, reading each stretch when its turn comes: memory holds one.

    Parameters
    ----------
    work, part, spans
        What is run, where and when.
    chunks, block
        The weather, each chunk of which can be made by itself, and where the part lies in it.

    Returns
    -------
    State
        After the record.

    Raises
    ------
    WeatherError
        As `step`, and where a chunk cannot be read.
    """
    now, held = State(), -1
    series: dict[str, np.ndarray] = {}
    for span in spans:
        if span.chunk != held:  # after a warm-up the record begins with what is there, if that is short
            series = {}  # its memory is that of the next stretch
            series, held = _read(chunks.each(block, span.chunk), together=work.threads), span.chunk
        step(work, part, span, now, **series)
    return now


def _read(made_by: Mapping[str, Callable[[], np.ndarray]], *, together: bool) -> dict[str, np.ndarray]:
    """Return the chunks of all quantities; read on threads of their own where no other piece wants a core."""
    if not together:
        return {name: make() for name, make in made_by.items()}
    with ThreadPoolExecutor(len(made_by)) as pool:
        reading = {name: pool.submit(make) for name, make in made_by.items()}
    return {name: one.result() for name, one in reading.items()}


class Step:
    """`step` through one stretch of time, as a task of a graph: it takes what is left to give, quantities by their order."""

    def __init__(self, span: Span, names: tuple[str, ...]) -> None:
        self.span, self.names = span, names

    def __call__(self, work: Work, part: Part, state: State | None, *series: np.ndarray) -> State:
        """Return the state after the stretch; the one that is given is left as it was."""
        now = State() if state is None else state.copy()
        step(work, part, self.span, now, **dict(zip(self.names, series, strict=True)))
        return now


def _flat(values: np.ndarray, dims: tuple[str, ...], inside: Mapping[str, slice], steps: slice) -> np.ndarray:
    """Return a part of a chunk, shape ``(time, cell)``; where it is a whole chunk, without a copy."""
    some = values[tuple(steps if dim == "time" else inside[dim] for dim in dims)]
    some = np.moveaxis(some, dims.index("time"), 0)
    return some.reshape(some.shape[0], -1)


def _look_at_cells(work: Work, part: Part, span: Span, now: State, flat: Mapping[str, np.ndarray]) -> None:
    """Find at the first step which cells are run, and note the cells that are known in part only."""
    missing = np.zeros(flat["rain"].shape[1], dtype=bool)
    if now.live is None:
        wanted = np.ones_like(missing) if part.wanted is None else part.wanted.reshape(-1)
        for one in flat.values():
            missing |= np.isnan(one[0])
        now.live = np.flatnonzero(wanted & ~missing)
        now.gaps = np.zeros(missing.size, dtype=bool)
    dead = np.ones(missing.size, dtype=bool)
    dead[now.live] = False
    if part.wanted is not None:
        dead &= part.wanted.reshape(-1)
    if dead.any() and now.gaps is not None:  # missing at the first step; a mask is missing throughout
        among = np.flatnonzero(dead)
        now.gaps = now.gaps.copy()
        now.gaps[among] |= ~np.isnan(flat["rain"][:, among]).all(axis=0)


def _look_at_unit(work: Work, part: Part, span: Span, now: State, rain: np.ndarray) -> None:
    """Hold the rain of the first days against what is rain in mm, once there are enough of them, or no more."""
    if now.early is None or work.trusted or now.live is None:
        return
    begun_again = span.first_of_record and bool(now.early)  # after a warm-up of fewer days, which are the same ones
    days = sum(len(times) for _, times in now.early) + (0 if begun_again else len(span.times))
    enough = days >= _TELLING_DAYS or span.last or begun_again
    if not begun_again:  # what is kept for later is a copy, as the memory of a chunk is used again
        kept = rain if enough and now.live.size == rain.shape[1] else rain[:, now.live]
        now.early = [*now.early, (kept, span.times)]
    if not enough:
        return
    values, times = (np.concatenate(one) if len(one) > 1 else one[0] for one in zip(*now.early, strict=True))
    named, latitude = _places(part, now.live), part.latitude.reshape(-1)[now.live]
    now.odd = refuse_doubtful_unit(values, times, latitude, named, of_cells=work.cells)
    now.early = None


def _places(part: Part, cells: np.ndarray) -> Any:
    """Return a function that names a cell among `cells`."""
    shape = part.latitude.shape

    def named(at: int) -> str:
        where = np.unravel_index(int(cells[at]), shape)
        return ", ".join(
            f"{dim} {part.coords[dim][k]}" if dim in part.coords else f"{dim} {span.start + k}"
            for (dim, span), k in zip(part.piece.items(), where, strict=True)
        )

    return named


def _advance(work: Work, part: Part, span: Span, now: State, chosen: Mapping[str, np.ndarray]) -> None:
    """Run the loop of sums."""
    assert now.live is not None
    if now.grid is None:
        start = "field-capacity" if work.moisture is None else work.moisture
        now.grid = GridRun(work.columns, work.rules, start, now.live.size, EVENT)
        if work.sun_days.size:
            now.sun = for_whole_blocks(Source.sun(work.sun_days, part.latitude.reshape(-1)[now.live]))
        now.grid.begin_record(int(span.month[0]))
    elif span.first_of_record:
        now.grid.begin_record(int(span.month[0]))
    if work.sun_days.size:
        weather = GridWeather(
            chosen["rain"], chosen["tmin"], chosen["tmax"], chosen.get("tmean"), span.month, now.sun, span.sun_row
        )
    else:
        weather = GridWeather(chosen["rain"], chosen["reference_et"], None, chosen.get("tmean"), span.month)
    now.grid.advance(weather, threads=work.threads)
    if span.last:  # states wait for the other parts of their piece: what they need no more goes
        now.sums, now.grid, now.sun = now.grid.sums(), None, None


def _trace(work: Work, part: Part, span: Span, now: State, chosen: Mapping[str, np.ndarray]) -> None:
    """Run the series of a stretch; write those that are asked for, keep those that figures need."""
    assert now.live is not None
    units = {"rain": "mm", "reference_et": "mm", "tmean": "degC"}
    weather = xr.Dataset(
        {
            name: (("cell", "time"), np.asarray(one.T, dtype=float), {"units": units[name]})
            for name, one in chosen.items()
        },
        coords={"time": ("time", span.times, {STEP_HOURS: work.attrs["step_hours"]})},  # a stretch may be one step
    )
    weather["reference_et"].attrs["method"] = work.attrs.get("reference_et_method", "given")
    weather.attrs["unit_trusted"] = "yes"  # looked at beforehand
    start = (
        {"start_state": now.stores} if now.stores is not None else {"start_moisture": work.moisture or "field-capacity"}
    )
    rules = work.rules.model_copy(update={"warm_up_years": 0, "et_method": None})
    run = simulate(work.roof, weather, rules=rules, **start)
    now.stores = last_stores(run).load()
    if span.warm_up:
        return
    for name in work.variables:
        dims = tuple(str(dim) for dim in run[name].dims)
        values = np.moveaxis(run[name].to_numpy(), dims.index("cell"), 0)
        spread = _spread(values, now.live, part.latitude.shape)
        own = (*work.dims, *(dim for dim in dims if dim != "cell"))
        targets.write(work.target, {name: (own, spread)}, {**part.piece, "time": span.steps})
    if work.traced:
        needed = [name for name in (*OF_A_YEAR, "discharge", "bare_discharge") if name in run]
        rest = [name for name in run.data_vars if "time" not in run[name].dims]
        now.kept.append(run[[*needed, *rest]])


def _spread(values: np.ndarray, live: np.ndarray, shape: tuple[int, ...]) -> np.ndarray:
    """Return values of cells, first axis, in the shape of the piece, missing elsewhere."""
    whole = np.full((int(np.prod(shape)), *values.shape[1:]), np.nan)
    whole[live] = values
    return whole.reshape(*shape, *values.shape[1:])


class Outcome(NamedTuple):
    """Cells of a piece with results, those that are known in part only, and those whose rain is hardly in mm."""

    known: int
    gaps: int
    odd: OddCells


def write_figures(work: Work, part: Part, parts: list[Part], states: list[State]) -> Outcome:
    """Write the figures of a piece and its mark; return what became of its cells.

    Parameters
    ----------
    work, part
        What is run, and the piece.
    parts, states
        The parts of the piece that lie in one chunk each, and their states after the record.

    Returns
    -------
    Outcome
        Counts of cells.
    """
    known, gaps = np.zeros(0, dtype=bool), 0
    places = []
    for one, state in zip(parts, states, strict=True):
        assert state.live is not None and state.gaps is not None
        places.append(part.places(one)[state.live])
        gaps += int(state.gaps.sum())
    live = np.concatenate(places)
    if live.size:
        figures = _figures(work, [state for state in states if state.live is not None and state.live.size])
        alike = figures[targets._COUNTED].notnull()
        known = np.asarray(alike.all([dim for dim in alike.dims if dim != "cell"]))
        made = {}
        for name, values in figures.data_vars.items():
            dims = tuple(str(dim) for dim in values.dims)
            if "cell" in dims:
                array = np.moveaxis(values.to_numpy(), dims.index("cell"), 0)
                own = (*work.dims, *(dim for dim in dims if dim != "cell"))
                made[str(name)] = own, _spread(array, live, part.latitude.shape)
        targets.write(work.target, made, part.piece)
    targets.mark(work.target, part.number, int(known.sum()))
    odd = [state.odd for state in states if state.odd.cells]
    first = OddCells(sum(one.cells for one in odd), odd[0].first) if odd else OddCells()
    return Outcome(int(known.sum()), gaps + int((~known).sum()), first)


def _figures(work: Work, states: list[State]) -> xr.Dataset:
    """Return the figures of all cells that were run, part after part."""
    if work.traced:
        return xr.concat([_of_series(state) for state in states], "cell", data_vars="minimal", coords="minimal")
    each = [state.sums for state in states if state.sums is not None]
    sums = {name: np.concatenate([one[name] for one in each], axis=1) for name in each[0]}
    return facts_from_totals(totals_of(sums, work.columns, "cell", work.years, work.attrs, work.months))


def _of_series(state: State) -> xr.Dataset:
    moving = xr.concat([one[[n for n in one if "time" in one[n].dims]] for one in state.kept], "time")
    still = state.kept[0][[n for n in state.kept[0] if "time" not in state.kept[0][n].dims]]
    whole = moving.assign(dict(still.data_vars)).assign_attrs({**state.kept[0].attrs})
    return summarize(whole)


def skip(work: Work, part: Part) -> Outcome:
    """Mark a piece of which no cell is wanted."""
    targets.mark(work.target, part.number, 0)
    return Outcome(0, 0, OddCells())


def refuse_cut_short(source: Source, gaps: int, known: int, target: Path) -> None:
    """Refuse weather of which no cell is whole: a store that was cut short while it was written, rather than a mask.

    Parameters
    ----------
    source
        The weather.
    gaps, known
        Number of cells known in part only, and with results.
    target
        The target, which is removed before the refusal.

    Raises
    ------
    WeatherError
        When no cell has results and some have weather in part.

    Warns
    -----
    RunoffWarning
        When no cell has any weather at the first step.
    """
    if known:
        return
    if gaps == 0:
        warnings.warn(
            "stream: no cell has weather at the first step; every result is missing. Is a mask, or a variable, the wrong one?",
            RunoffWarning,
            stacklevel=4,
        )
        return
    targets.remove(target)
    raise WeatherError(
        f"stream: none of the {gaps} cells has weather for all of {source.time.sizes['time']} steps; the store may have been cut short "
        "while it was written. Take the steps it holds, weather.sel(time=slice(...))"
    )
