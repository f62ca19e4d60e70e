"""Laps in turn, and which of them ran on a quiet machine.

What others do on the same processor slows this machine down for seconds or minutes, and shows in no load of its own. So a short
piece of arithmetic that is always the same is timed before and after each lap: a lap is quiet where neither took more than 5 %
longer than the best of the whole run. Rounds go on until there are enough quiet laps of each variant, which then rests, or the time is over.
Both medians are told, that of the quiet laps and that of all, how many laps were quiet, and that best: a machine that is never quiet
while a benchmark runs shows by what it is in another hour.
"""

from __future__ import annotations

import functools
import itertools
import statistics
import sys
import time
from collections.abc import Callable
from typing import Any, NamedTuple

from tests.benchmarks.operations import gain_of_two_threads, limit_run, nanoseconds

#: How much longer than at best the arithmetic beside a quiet lap may take: the clock of a processor moves by some percent by itself.
_AS_GOOD = 1.05
#: What pure arithmetic gains by a second thread where both cores are this machine's own.
_TWO_CORES = 1.9
#: Quiet laps whose median is told; of fewer, that of all laps.
_FEWEST = 3


def _told(every: list[Any], quiet: list[Any]) -> list[Any]:
    """Return the quiet ones; all, where too few were quiet."""
    return quiet if len(quiet) >= _FEWEST else every


def _counted(every: list[Any], quiet: list[Any]) -> str:
    """Return how many of all were quiet, in words."""
    which = "" if _told(every, quiet) is quiet else "TOO FEW QUIET, median of all: "
    return f"{which}{len(quiet)} of {len(every)}"


class Gains(NamedTuple):
    """How many times as quick two threads are as one, beside what pure arithmetic gained before and after, the less of the two."""

    every: list[tuple[float, float]]
    quiet: list[tuple[float, float]]

    @property
    def median(self) -> float:
        """Median gain while both cores were free; of all pairs, where too few were."""
        return statistics.median(gain for gain, _ in _told(*self))

    @property
    def words(self) -> str:
        """How many pairs ran on two free cores, what arithmetic gained in these, and the share of it."""
        machine, share = (statistics.median(each) for each in zip(*((b, a / b) for a, b in _told(*self)), strict=True))
        every = statistics.median(gain for gain, _ in self.every)
        return f"{_counted(*self)} pairs on two free cores; pure arithmetic {machine:.2f}, {100 * share:.0f} % of it; all pairs {every:.2f}"


class Lap(NamedTuple):
    """What a lap took, and the slower of the arithmetic before and after it, ns an operation."""

    spent: float
    pace: float


class Laps(NamedTuple):
    """The laps of a variant, and which of them were quiet."""

    every: list[float]
    quiet: list[float]

    @property
    def median(self) -> float:
        """Median of the quiet laps; of all, where too few were quiet."""
        return statistics.median(_told(*self))

    @property
    def words(self) -> str:
        """How many laps were quiet, and the median of all."""
        return f"{_counted(*self)} laps quiet, all {statistics.median(self.every):.4g}"


def pace_of_arithmetic() -> Callable[[], float]:
    """Return a function that tells what an operation takes at this moment, ns: the best of three stretches of a millisecond.

    In vectors of half width: whole ones lower the clock of some processors by themselves. It is back after some
    milliseconds, which are waited for in the same arithmetic.
    """
    run = limit_run(20_000, whole_vectors=False)
    run()  # compiles

    def pace() -> float:
        best = float("inf")
        for number in range(7):
            start = time.perf_counter()
            units = run()
            if number >= 4:
                best = min(best, (time.perf_counter() - start) / units * 1e9)
        return best

    return pace


def in_turn(
    variants: dict[str, Callable[[], float]],
    *,
    laps: int = 7,
    most: int = 100,
    longest_s: float = 240.0,
) -> dict[str, Laps]:
    """Run variants in turn until so many laps of each were quiet, or the time is over; the best pace of arithmetic is printed.

    A first round, which loads and compiles, is left out.

    Parameters
    ----------
    variants
        By name, what runs a lap and returns what it took, in a unit of its own.
    laps
        Quiet laps wanted of each.
    most
        After how many rounds no further one begins.
    longest_s
        After how many seconds no further round begins; one is always run.
    """
    pace = pace_of_arithmetic()
    for run in variants.values():
        run()
    found: dict[str, list[Lap]] = {name: [] for name in variants}
    begun, before = time.perf_counter(), pace()
    waiting = list(variants)
    for number in itertools.count(1):
        for name in waiting:
            spent = variants[name]()
            after = pace()
            found[name].append(Lap(spent, max(before, after)))
            before = after
        best = min(lap.pace for each in found.values() for lap in each)
        told = {name: _sorted_out(each, best) for name, each in found.items()}
        waiting = [name for name, one in told.items() if len(one.quiet) < laps]
        if not waiting or number >= most or time.perf_counter() - begun > longest_s:
            break
    print(f"an operation takes {best:.4f} ns at best while these run", file=sys.stderr)  # not into the table of a bench
    return told


def medians(runs: dict[str, Callable[[], float]], laps: int) -> dict[str, float]:
    """Return the median of what each run takes, ns of processor time for one of the units it returns; a minute at most."""
    told = in_turn({name: functools.partial(nanoseconds, run) for name, run in runs.items()}, laps=laps, longest_s=60.0)
    return {name: one.median for name, one in told.items()}


def _sorted_out(each: list[Lap], best: float) -> Laps:
    """Return all laps of a variant and the quiet ones, by the best pace of the whole run."""
    return Laps([lap.spent for lap in each], [lap.spent for lap in each if lap.pace <= _AS_GOOD * best])


def gains_of_two_threads(
    one: Callable[[], object], two: Callable[[], object], *, laps: int = 7, longest_s: float = 120.0
) -> Gains:
    """Return how many times as quick, by the clock, `two` is as `one`, in pairs, until enough of them ran on two free cores."""
    every: list[tuple[float, float]] = []
    quiet: list[tuple[float, float]] = []
    begun, before = time.perf_counter(), gain_of_two_threads()
    while not every or (len(quiet) < laps and time.perf_counter() - begun < longest_s):
        spent = []
        for run in (one, two):
            start = time.perf_counter()
            run()
            spent.append(time.perf_counter() - start)
        after = gain_of_two_threads()
        every.append((spent[0] / spent[1], min(before, after)))
        quiet += [every[-1]] if every[-1][1] >= _TWO_CORES else []
        before = after
    return Gains(every, quiet)
