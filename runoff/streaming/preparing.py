"""A streamed run before it runs: its pieces, their chains of steps, its plan, and what it will take."""

from __future__ import annotations

import functools
import math
import time
import uuid
from collections.abc import Mapping
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import xarray as xr

from runoff.errors import RunoffError, nearest, raise_faults
from runoff.findings.summary import facts_from_totals
from runoff.findings.yearly import years_of_record
from runoff.simulation import RunRules, simulate
from runoff.simulation.grid_runs import GridRun, figures_need_a_trace, months_in, totals_of
from runoff.simulation.labels import provenance, start_told
from runoff.simulation.roof_side import columns_asked_for
from runoff.simulation.start import stores_at
from runoff.streaming import running, target
from runoff.streaming.grid_weather import (
    Source,
    first_fault_of_layout,
    in_stretches,
    opened,
    prepared,
    spans_within,
    time_spans,
)
from runoff.streaming.pieces import (
    Piece,
    cut,
    least_cells,
    memory_mb,
    refuse_wrong_pieces,
    sizes_in_memory,
    sizes_on_disk,
    smaller_to_fit,
    wanted_cells,
)
from runoff.streaming.plan import plan_of
from runoff.streaming.running import EVENT, Part, Span, Work
from runoff.streaming.stored_chunks import Chunks
from runoff.time_steps import Calendar
from runoff.weather.quality.plausibility import TRUSTED
from runoff.weather.record.forcing import run_step_hours, steps_in_first_years, warm_up_length

#: A first reading that takes longer than this is not done twice, s.
_PATIENT_S = 2.0
#: Cells that are run for the estimate: seven blocks of lanes.
_CELLS_TRIED = 448
#: Time a stretch takes where series are kept, whatever its length, and in addition each of its steps in a cell, s; measured.
_SERIES_CALL_S, _SERIES_STEP_S = 0.02, 0.5e-6
#: Memory of the program itself before a run, MB, and what the compiled loops of a grid add; measured on Linux, Python 3.11.
_USUAL_PROGRAM_MB, _LOOPS_MB = 260.0, 20.0


class Estimate(NamedTuple):
    """What a streamed run will take, before it runs.

    Parameters
    ----------
    cells, steps, designs
        What is run.
    pieces, left
        Pieces in all, and those that are to do.
    program_mb
        Memory of the program itself, MB: Python, the packages and the compiled loops, as this process has them now. Workers that
        are threads share it, those that are processes have each their own.
    memory_mb
        Memory of one piece, MB; every worker holds one.
    seconds
        Time on one worker, s, from a first part that was read and run.
    target_mb
        Size of the results before they are packed, MB.
    """

    cells: int
    steps: int
    designs: int
    pieces: int
    left: int
    program_mb: float
    memory_mb: float
    seconds: float
    target_mb: float


class Ready(NamedTuple):
    """A run that can begin."""

    work: Work
    source: Source
    todo: list[Piece]
    sizes: dict[str, int]
    spans: list[Span]
    wanted: np.ndarray | None
    plan: str
    memory_mb: float
    template: xr.Dataset
    series: dict[str, tuple[tuple[str, ...], dict[str, Any]]]
    latitude: np.ndarray
    chunks: Chunks
    name: str

    def begin(self) -> None:
        """Write the frame of the target."""
        grid, dims = self.source.grid, set(self.source.grid)
        coords = {
            name: coord
            for name, coord in self.source.fed.coords.items()
            if set(map(str, coord.dims)) <= dims and coord.dims
        }
        steps = self.source.time.sizes["time"]
        if self.series:
            coords["time"] = self.source.time
        longest = max(span.steps.stop - span.steps.start for span in self.spans)
        target.begin(
            self.work.target, self.template, coords, self.series, grid, self.sizes, (steps, longest), len(self.todo), self.plan
        )  # fmt: skip

    def part(self, number: int) -> Part:
        """Return one piece."""
        piece = self.todo[number]
        where = tuple(piece.values())
        wanted = None if self.wanted is None else self.wanted[where]
        latitude = self.latitude[where]
        coords = {
            dim: self.source.fed[dim].to_numpy()[span] for dim, span in piece.items() if dim in self.source.fed.coords
        }
        return Part(number, piece, latitude, wanted, coords, {})

    def chain(self, number: int) -> Any:
        """Return the last of the delayed steps of a piece.

        The graph is written out by hand: putting it together from delayed calls took as long as the balance itself.
        """
        from dask.delayed import Delayed

        part, own = self.part(number), f"{self.name}-{number}"
        work, whole, spans, chunks = f"{self.name}-work", f"{own}-piece", f"{self.name}-spans", f"{self.name}-chunks"
        graph: dict[Any, Any] = {work: (Given(self.work),), whole: (Given(part),)}
        alone = self.chunks.alone
        if alone:
            graph |= {spans: (Given(self.spans),), chunks: (Given(self.chunks),)}
        asked: set[Any] = set()
        parts: list[str] = []
        states: list[str] = []
        for block in self.chunks.blocks(part.piece):
            one = part.within(block.cells, {dim: block.inside[dim] for dim in self.chunks.dims if dim != "time"})
            if one.wanted is not None and not one.wanted.any():
                continue
            here = f"{own}-part-{len(parts)}"
            graph[here] = (Given(one),)
            state: Any = None
            if alone:
                state = f"{here}-record"
                graph[state] = (running.all_steps, work, here, spans, chunks, (Given(block),))
            for span in [] if alone else self.spans:
                series = self.chunks.keys(block, span.chunk)
                asked.update(series.values())
                after = f"{here}-step-{span.number}"
                graph[after] = (running.Step(span, tuple(series)), work, here, state, *series.values())
                state = after
            parts.append(here)
            states.append(state)
        if parts:
            graph[own] = (running.write_figures, work, whole, parts, states)
        else:
            graph[own] = (running.skip, work, whole)
        return Delayed(own, graph if alone else self.chunks.graph(asked) | graph)


class Given:
    """A value as a task, so that what looks for tasks in a graph does not look into it."""

    def __init__(self, value: Any) -> None:
        self.value = value

    def __call__(self) -> Any:
        """Return the value."""
        return self.value


def prepare(
    roof: Any,
    source: Any,
    path: Path,
    *,
    pieces: Mapping[str, int] | None,
    cells: Any,
    variables: tuple[str, ...],
    memory_mb: float,
    start_moisture: Any,
    rules: RunRules,
    reading: Mapping[str, Any],
    alone: bool = False,
) -> Ready:
    """Return a run that can begin, or stop with all that is wrong with it; see `runoff.stream`.

    Parameters
    ----------
    roof, source, pieces, cells, memory_mb, start_moisture
        As in `runoff.stream`.
    path
        The target.
    variables
        Names of the series to write; empty for figures alone.
    rules
        The rules of the runs.
    reading
        How `source` is to be read.
    alone
        Whether one thread is to do it all; else a single piece is shared out over all cores.

    Returns
    -------
    Ready
        Pieces, steps, plan and memory; nothing is written yet.

    Raises
    ------
    RunoffError
        When anything of it cannot be run as asked.
    """
    columns = columns_asked_for(roof, "stream")
    weather = opened(source, reading, in_stretches=not variables)
    grid = {str(name): size for name, size in weather["rain"].sizes.items() if name != "time"}
    if pieces is not None:
        refuse_wrong_pieces(pieces, grid)
    if start_moisture is not None:
        stores_at(columns, start_moisture)  # names an unknown word
    steps = weather.sizes["time"]
    hours = run_step_hours(weather["time"])
    traced = figures_need_a_trace(columns, rules, hours)
    in_memory = sizes_in_memory(grid, steps, memory_mb, columns.count)
    chosen = {**grid, **(pieces or {})} if pieces is not None else in_memory
    made = prepared(weather, rules.et_method, chosen, traced=bool(traced or variables))
    if in_stretches(weather) and (traced or not Chunks(made.fed).alone):  # by a graph, nothing is asked for in turn
        weather = opened(source, reading)
        made = prepared(weather, rules.et_method, chosen, traced=bool(traced))
    stretches = time_spans(made)
    longest = max(one.stop - one.start for one in stretches)
    in_chunk = math.prod(max(made.fed["rain"].chunksizes[name]) for name in grid)
    if traced or variables:
        in_chunk = math.prod(grid.values())
    needs = functools.partial(
        _memory, made, in_chunk, longest, columns.count, bool(traced or variables), steps if traced else 0
    )
    if pieces is not None:
        sizes = {name: min(int(pieces.get(name, size)), size) for name, size in grid.items()}
    elif weather["rain"].chunks:
        chunk = {name: max(made.fed["rain"].chunksizes[name]) for name in grid}
        sizes = sizes_on_disk(grid, chunk, needs, memory_mb, least_cells(grid, steps))
        if traced or variables:
            sizes = smaller_to_fit(sizes, needs, memory_mb)
        first_fault_of_layout(made, memory_mb, needs(math.prod(sizes.values())), sizes)
    else:
        sizes = in_memory
    wanted = wanted_cells(cells, weather, grid)
    template, series = _template(roof, made, columns, rules, variables, traced)
    years = warm_up_length(weather["time"], rules.warm_up_years, given=start_moisture is not None)
    attrs = provenance(rules, hours, made.told, start_told(years, start_moisture, None))
    if (
        traced or variables
    ):  # series are written by piece: a piece is then one chunk, so that no two steps write into one
        made = made._replace(fed=made.fed.chunk(sizes))
    todo, chunks = cut(grid, sizes), Chunks(made.fed)
    work = Work(
        roof=roof, columns=columns, rules=rules, moisture=start_moisture, variables=variables, traced=traced, dims=tuple(grid),
        stored=chunks.dims, attrs=attrs, years=years_of_record(weather["time"]), sun_days=made.sun_rows()[0] if made.from_range else np.zeros(0),
        trusted=weather.attrs.get(TRUSTED) == "yes" or hours != 24.0, target=path.absolute(), threads=len(todo) == 1 and not alone,
        cells=math.prod(grid.values()), months=months_in(weather["time"]),
    )  # fmt: skip
    plan = plan_of(roof, source, weather, sizes, wanted, variables, start_moisture, rules, reading)
    spans = _spans(made, chunks, stretches, years)
    template = template.assign_attrs({**template.attrs, **attrs, "title": template.attrs.get("title", "")})
    memory = needs(math.prod(sizes.values()))
    latitude = made.latitudes().to_numpy()
    name = f"stream-{uuid.uuid4().hex}"  # of a cluster's tasks: another run of the same pieces is another run
    return Ready(work, made, todo, sizes, spans, wanted, plan, memory, template, series, latitude, chunks, name)


def _memory(source: Source, at_once: int, steps: int, designs: int, traced: bool, kept_steps: int, cells: int) -> float:
    bytes_each = max(one.dtype.itemsize for one in source.fed.data_vars.values())
    kept = 8.0 * 14 * cells * kept_steps * designs / 1e6  # series that figures are formed from
    return kept + memory_mb(cells, at_once, steps, len(source.fed.data_vars), bytes_each, designs, traced)


def _spans(source: Source, chunks: Chunks, stretches: list[slice], warm_up_years: int) -> list[Span]:
    """Return the stretches of time a piece goes through: those of the warm-up, then those of the record."""
    month, rows, times = Calendar.of(source.time).month - 1, source.sun_rows()[1], source.time.to_numpy()
    steps = steps_in_first_years(source.time, warm_up_years) if warm_up_years else 0
    warm = spans_within(stretches, steps)
    found: list[Span] = []
    for one in [*warm, *stretches]:
        number, (chunk, inside) = len(found), chunks.of_time(one)
        found.append(
            Span(
                number, month[one], rows[one], times[one], one, chunk, inside, first_of_record=number == len(warm),
                warm_up=number < len(warm), last=number == len(warm) + len(stretches) - 1,
            )
        )  # fmt: skip
    return found


def _template(
    roof: Any, source: Source, columns: Any, rules: RunRules, variables: tuple[str, ...], traced: str
) -> tuple[xr.Dataset, dict[str, tuple[tuple[str, ...], dict[str, Any]]]]:
    """Return the figures of a cell, of which names, dimensions and attributes are used, and the same of the series."""
    run = GridRun(columns, rules.model_copy(update={"irrigation": None}), "field-capacity", 1, EVENT)
    run.begin_record(0)
    attrs = provenance(rules, source.hours, source.told, "")
    totals = totals_of(run.sums(), columns, "cell", years_of_record(source.time), attrs, np.ones(12, dtype=bool))
    figures = facts_from_totals(totals, run_on=bool(np.any(columns.rows["run_on_share"] > 0.0)))
    if not variables:
        return figures, {}
    few = source.time[: max(2, round(24.0 / source.hours))]
    none = np.zeros((1, few.size))
    weather = xr.Dataset(
        {"rain": (("cell", "time"), none, {"units": "mm"}), "reference_et": (("cell", "time"), none, {"units": "mm"})},
        coords={"time": few},
    )
    if "tmean" in source.told:
        weather["tmean"] = (("cell", "time"), none + 10.0, {"units": "degC"})
    series = simulate(
        roof, weather, start_moisture="field-capacity", rules=rules.model_copy(update={"et_method": None})
    )
    raise_faults(
        "stream",
        [
            f'variable "{name}" is not known{nearest(name, map(str, series))}'
            for name in variables
            if name not in series
        ],
    )
    whole = [name for name in variables if "time" not in series[name].dims]
    if whole:
        raise RunoffError(f"stream: {', '.join(whole)} is no series; series vary on time, for example overflow")
    return figures, {name: (tuple(map(str, series[name].dims)), dict(series[name].attrs)) for name in variables}


def estimated(ready: Ready) -> Estimate:
    """Read and run a little of the first piece that is to do, and tell what all of it will take."""
    left = np.flatnonzero(target.marks(ready.work.target) == 0)
    steps, designs = ready.source.time.sizes["time"], ready.work.columns.count
    cells = math.prod(ready.source.grid.values()) if ready.wanted is None else int(ready.wanted.sum())
    numbers = sum(values.size for values in ready.template.data_vars.values() if "cell" in values.dims)
    series = len(ready.series) * steps * designs
    seconds, program = 0.0, _program_mb() + _LOOPS_MB  # before anything is read: what is read is the piece's
    if left.size:
        seconds = _seconds_per_cell(ready, int(left[0])) * cells * left.size / len(ready.todo)
    return Estimate(
        cells,
        steps,
        designs,
        len(ready.todo),
        int(left.size),
        program,
        ready.memory_mb,
        seconds,
        8e-6 * cells * (numbers + series),
    )


def _program_mb() -> float:
    """Return the memory this process holds now, MB; where the system does not tell, what it is on one that does."""
    try:
        status = Path("/proc/self/status").read_text()
        return 1.024e-3 * float(status.partition("VmRSS:")[2].split()[0])
    except (OSError, ValueError, IndexError):
        return _USUAL_PROGRAM_MB


def _seconds_per_cell(ready: Ready, number: int) -> float:
    """Return the seconds a cell takes, from one stretch of time of a piece, run for some of its cells, and without writing."""
    import dask

    part, span = ready.part(number), next(one for one in ready.spans if one.first_of_record)
    whole_piece = part.latitude.size
    block = ready.chunks.blocks(part.piece)[0]
    part = part.within(block.cells, {dim: block.inside[dim] for dim in ready.chunks.dims if dim != "time"})
    keys = ready.chunks.keys(block, span.chunk)
    graph = ready.chunks.graph(keys.values())
    taken = []
    for _ in range(2):  # the first reading loads libraries too
        start = time.perf_counter()
        series = dict(zip(keys, dask.get(graph, list(keys.values())), strict=True))
        taken.append(time.perf_counter() - start)
        if taken[0] > _PATIENT_S:
            break
    read = min(taken) / part.latitude.size
    few, cells = {}, _CELLS_TRIED
    for dim, one in reversed(part.piece.items()):
        few[dim] = slice(one.start, min(one.start + cells, one.stop))
        cells = -(-cells // (few[dim].stop - few[dim].start))
    few = {dim: few[dim] for dim in part.piece}
    begin = {dim: part.inside[dim].start - part.piece[dim].start for dim in part.inside}
    inside = {dim: slice(few[dim].start + begin[dim], few[dim].stop + begin[dim]) for dim in part.inside}
    shrunk = part._replace(wanted=None).within(few, inside)
    plain = ready.work._replace(variables=(), traced="", threads=False, trusted=True)
    if ready.work.needs_series:
        calls = len(ready.spans) * _SERIES_CALL_S / whole_piece
        steps = ready.source.time.sizes["time"] * ready.work.columns.count
        return read * _whole(ready, span) + calls + _SERIES_STEP_S * steps
    running.step(plain, shrunk, span, running.State(), **series)  # the first call loads the loops
    start = time.perf_counter()
    running.step(plain, shrunk, span, running.State(), **series)
    run = (time.perf_counter() - start) / shrunk.latitude.size
    return (read + run) * _whole(ready, span)


def _whole(ready: Ready, span: Span) -> float:
    """Return how many times as long as a stretch the whole chain is."""
    total = sum(one.steps.stop - one.steps.start for one in ready.spans)
    return total / (span.steps.stop - span.steps.start)
