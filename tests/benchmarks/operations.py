"""What a day of the block loop costs at least: its operations, counted, and how many of them this machine does in a second.

The rule of counting: additions, subtractions, minima and maxima of the lanes, nothing else. They share a port of the processor that is busy
longest, so their number sets the limit of a loop of lanes; products, comparisons and what is worked out once a day go beside them.
"""

import threading
import time
import types
from collections.abc import Callable
from typing import Any

import numpy as np

from runoff.balance import block_lanes, column_blocks
from runoff.balance.loop_choice import compiled, plainly
from runoff.balance.vector_width import zeros_for_vectors

_LANES = 128  # of the small loop: enough of them that none waits for another


class Counted(float):
    """A number of a lane that counts what is done with it."""

    done = 0

    def __add__(self, other: float) -> "Counted":
        Counted.done += 1
        return Counted(float(self) + float(other))

    def __sub__(self, other: float) -> "Counted":
        Counted.done += 1
        return Counted(float(self) - float(other))

    def __rsub__(self, other: float) -> "Counted":
        Counted.done += 1
        return Counted(float(other) - float(self))

    def __mul__(self, other: float) -> "Counted":
        return Counted(float(self) * float(other))

    def __truediv__(self, other: float) -> "Counted":
        return Counted(float(self) / float(other))

    __radd__, __rmul__ = __add__, __mul__


def least(one: float, other: float) -> float:
    """Return the smaller of two numbers, counted where one is a lane's."""
    return _of_two(min, one, other)


def _largest(one: float, other: float) -> float:
    return _of_two(max, one, other)


def _of_two(choice: Callable[[float, float], float], one: float, other: float) -> float:
    if not (isinstance(one, Counted) or isinstance(other, Counted)):
        return choice(one, other)
    Counted.done += 1
    return Counted(choice(float(one), float(other)))


class _Lanes(list[Any]):
    """A work array whose numbers count."""

    def __getitem__(self, at: Any) -> Any:
        found = super().__getitem__(at)
        return _Lanes(found) if isinstance(at, slice) else found

    def __setitem__(self, at: Any, value: Any) -> None:
        if isinstance(at, slice):
            places = range(*at.indices(len(self)))
            super().__setitem__(at, [Counted(value)] * len(places))
        else:
            super().__setitem__(at, Counted(value))


def _counting(function: types.FunctionType) -> types.FunctionType:
    """Return a function of the loop as it is, with minima and maxima that count."""
    function.__globals__.update(min=least, max=_largest)
    return function


def operations_of_a_day(weather: dict[str, Any], par: np.ndarray, stores: np.ndarray) -> float:
    """Return the operations that a design-day takes in the block loop.

    Parameters
    ----------
    weather
        What `column_blocks.days_of` is given, without run-on, and ``tolerance``, by name.
    par, stores
        Designs, one block of them; stores are not changed.
    """
    loop = plainly(column_blocks.totals_loop, _counting)
    days, lanes = len(weather["liquid"]), column_blocks.LANES
    series = [weather[name] for name in ("other", "warm", "month", "event_limit", "year_start")]
    rows, of_years = column_blocks.days_of(weather["liquid"], weather["e0"], None, *series)
    year_start = weather["year_start"].tolist()
    totals = np.empty((len(year_start) - 1, len(block_lanes.TOTALS), lanes))
    Counted.done = 0
    loop(
        rows.tolist(), of_years, year_start, weather["tolerance"], par, stores.copy(),
        _Lanes([Counted(0.0)] * len(block_lanes.WORK) * lanes), totals, np.empty((12, lanes)),
    )  # fmt: skip
    return Counted.done / (days * lanes)


def _busy(x: np.ndarray, low: float, step: float, rounds: int) -> None:
    for _ in range(rounds):
        for j in range(_LANES):
            x[j] = max(x[j] + step, low) - step


#: Operations of `_busy` for each lane and round. Few: of a longer chain, each of which waits for the one before, the processor has
#: too few at hand to keep its ports busy, and the limit would look lower than it is.
_BUSY = 3


def _numbers() -> np.ndarray:
    """Return an array for `_busy` that begins where a vector may."""
    made = zeros_for_vectors(_LANES)
    made += np.linspace(0.0, 1.0, _LANES)
    return made


def limit_run(rounds: int = 100_000, *, whole_vectors: bool) -> Callable[[], float]:
    """Return a run of additions and the like that wait for nothing; it gives their number.

    In whole vectors, as the loops of the package are compiled, or in those that the compiler takes by itself.
    """
    import numba

    loop: Any = compiled(_busy) if whole_vectors else numba.njit(error_model="numpy")(_busy)
    x = _numbers()

    def run() -> float:
        loop(x, 0.25, 0.125, rounds)
        return float(rounds * _LANES * _BUSY)

    return run


def gain_of_two_threads(rounds: int = 8_000_000) -> float:
    """Return how many times as much arithmetic two threads do by the clock as one: what this machine allows at this moment, 2 at best."""
    loop: Any = compiled(_busy)
    loop(_numbers(), 0.25, 0.125, 1)  # compiles

    def seconds(count: int) -> float:
        # aligned, and no line of the cache shared: by where they happened to lie, two threads gained nothing on a quiet machine
        apart = [zeros_for_vectors(3 * _LANES)[_LANES : 2 * _LANES] for _ in range(count)]
        threads = [threading.Thread(target=loop, args=(x, 0.25, 0.125, rounds)) for x in apart]
        start = time.perf_counter()
        for one in threads:
            one.start()
        for one in threads:
            one.join()
        return time.perf_counter() - start

    return 2.0 * seconds(1) / seconds(2)


def nanoseconds(run: Callable[[], float]) -> float:
    """Return the processor time of one unit of a run, ns."""
    start = time.process_time()
    units = run()
    return (time.process_time() - start) / units * 1e9
