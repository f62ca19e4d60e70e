"""What the step of a time axis is, whether it is regular, and its years and months: said once, for every calendar."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from runoff.errors import RunoffError

ONE_DAY, _ONE_HOUR, _ONE_MINUTE = (pd.Timedelta(text) for text in ("1D", "1h", "1min"))
#: Attribute of ``time`` that says the length of a single step, which has no neighbour to tell it.
STEP_HOURS = "step_hours"
#: Steps of a long series that are worked on at once: what is formed on the way then stays near the processor.
_AT_ONCE = 16_384


class TimeStep(NamedTuple):
    """The step of a time axis.

    Parameters
    ----------
    length
        The most frequent step; of a single stamp what its attribute ``step_hours`` says, else a day.
    regular
        Whether every step has that length.
    first_odd
        Place of the stamp after which the first other step follows, or None.
    """

    length: pd.Timedelta
    regular: bool
    first_odd: int | None

    @property
    def hours(self) -> float:
        """Length in hours."""
        return self.length / _ONE_HOUR

    @property
    def minutes(self) -> float:
        """Length in minutes."""
        return self.length / _ONE_MINUTE

    @property
    def daily(self) -> bool:
        """Whether the step is one day."""
        return bool(self.length == ONE_DAY)


def time_step(time: Any) -> TimeStep:
    """Say what the step of a time axis is and whether it is regular.

    Parameters
    ----------
    time
        Stamps: an index, a coordinate of xarray or an array, of numpy or cftime.
    """
    stamps = _plain(time)
    if stamps.size < 2:
        said = getattr(time, "attrs", {}).get(STEP_HOURS)
        return TimeStep(ONE_DAY if said is None else pd.Timedelta(hours=float(said)), True, None)
    if stamps.dtype.kind == "M":
        ns = _whole_ns(stamps)
        if _evenly_spaced(ns):
            return TimeStep(pd.Timedelta(int(ns[1] - ns[0])), True, None)
    steps = differences_ns(stamps)
    if (steps == steps[0]).all():
        return TimeStep(pd.Timedelta(int(steps[0])), True, None)
    size, count = np.unique(steps, return_counts=True)
    length = size[count.argmax()]
    return TimeStep(pd.Timedelta(int(length)), False, int((steps != length).argmax()))


def _evenly_spaced(ns: np.ndarray) -> bool:
    """Tell whether stamps, whole nanoseconds, at least two, follow each other in equal steps."""
    first = ns[1] - ns[0]
    return all((np.diff(ns[one.start : one.stop + 1]) == first).all() for one in pieces_of(ns.size - 1))


def pieces_of(steps: int) -> Iterator[slice]:
    """Yield the pieces in which sums over many series of so many steps are quick: without new memory as long as they are."""
    for begin in range(0, steps, _AT_ONCE):
        yield slice(begin, begin + _AT_ONCE)


def days_of(time: Any) -> tuple[np.ndarray, np.ndarray]:
    """Return the days of stamps that rise.

    Parameters
    ----------
    time
        A coordinate of xarray, of numpy or cftime.

    Returns
    -------
    days, first
        Midnight of each day that has a stamp, and the place of its first stamp.
    """
    stamps = time.to_numpy()
    if stamps.dtype.kind != "M":
        midnight = time.dt.floor("D").to_numpy()
        first = np.flatnonzero(np.concatenate([[True], midnight[1:] != midnight[:-1]]))
        return midnight[first], first
    ns = _whole_ns(stamps)
    midnight = np.arange(ns[0] // ONE_DAY.value, ns[-1] // ONE_DAY.value + 1) * ONE_DAY.value
    first = np.searchsorted(ns, midnight)  # a hundred times as quick as stamps rounded
    told = np.diff(first, append=ns.size) > 0
    return midnight[told].view("datetime64[ns]").astype(stamps.dtype), first[told]


def differences_ns(time: Any) -> np.ndarray:
    """Return the steps between stamps, ns, on any calendar.

    Raises
    ------
    RunoffError
        When two neighbours lie more than 292 years apart.
    """
    stamps = _plain(time)
    if stamps.size < 2:
        return np.array([], dtype="int64")
    if stamps.dtype.kind == "M":
        return np.diff(_whole_ns(stamps))
    try:
        return pd.TimedeltaIndex(stamps[1:] - stamps[:-1]).as_unit("ns").to_numpy().astype("int64")
    except (ValueError, OverflowError):
        raise RunoffError(
            f"time: the stamps run from {stamps.min()} to {stamps.max()}, which no record does; a mistyped year, or a wrong unit?"
        ) from None


def in_ns(index: pd.Index) -> pd.Index:
    """Return an index of stamps in nanoseconds, itself where it is in them or is of cftime.

    Raises
    ------
    RunoffError
        When a stamp lies outside 1677 to 2262.
    """
    if not isinstance(index, pd.DatetimeIndex) or index.unit == "ns":
        return index
    try:
        return index.as_unit("ns")
    except ValueError:  # pandas' own for stamps out of bounds is one
        raise RunoffError(
            f"time: the stamps run from {index.min():%Y-%m-%d} to {index.max():%Y-%m-%d}; stamps of numpy reach from 1677 to 2262. A "
            'mistyped year? If not, use dates of cftime, weather.convert_calendar("standard", use_cftime=True)'
        ) from None


def _plain(time: Any) -> np.ndarray:
    """Return stamps as an array."""
    stamps: np.ndarray = time.to_numpy() if hasattr(time, "to_numpy") else np.asarray(time)
    return stamps


def _whole_ns(stamps: np.ndarray) -> np.ndarray:
    """Return stamps of numpy as whole nanoseconds."""
    return stamps.astype("datetime64[ns]", copy=False).view("int64")


def _months_of(stamps: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return the months that stamps of numpy span, counted since 1970, and which of them each lies in.

    They are looked up, which takes half the time of working each out.
    """
    ns = _whole_ns(stamps)
    first, last = (
        int(end.astype("datetime64[ns]").astype("datetime64[M]").astype(np.int64)) for end in (ns.min(), ns.max())
    )
    begins = _whole_ns(np.arange(first, last + 1).astype("datetime64[M]"))
    return np.arange(first, last + 1), np.searchsorted(begins, ns, side="right") - 1


class Calendar(NamedTuple):
    """Years and months of a time axis, worked out once for all sums over it.

    Parameters
    ----------
    years
        Calendar years, shape ``(year,)``.
    starts
        First step of each year.
    month
        Month of each step, 1-12.
    """

    years: np.ndarray
    starts: np.ndarray
    month: np.ndarray

    @classmethod
    def of(cls, time: Any) -> Calendar:
        """Work out the calendar of a time coordinate."""
        if time.dtype.kind == "M":
            since_1970, which = _months_of(time.to_numpy())
            year, month = 1970 + (since_1970 // 12)[which], 1 + (since_1970 % 12)[which]
        else:
            stamps = time.to_index()  # of cftime; it tells years at once, quicker than ``time.dt``
            year, month = (np.asarray(each, dtype=np.int64) for each in (stamps.year, stamps.month))
        starts = np.flatnonzero(np.append(True, year[1:] != year[:-1]))
        return cls(year[starts], starts, month)

    def first(self, steps: int) -> Calendar:
        """Return the calendar of the first steps."""
        starts = self.starts[self.starts < steps]
        return Calendar(self.years[: starts.size], starts, self.month[:steps])

    def steps_of_months(self) -> list[np.ndarray]:
        """Return the places of the steps that each month of the year has, January first."""
        return [np.flatnonzero(self.month == number) for number in range(1, 13)]

    @property
    def year_ends(self) -> np.ndarray:
        """First step of each year, and the number of steps at the end, shape ``(year + 1,)``."""
        return np.append(self.starts, self.month.size)
