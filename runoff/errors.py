"""What can go wrong, said so that the reader knows what to do next.

Every message names the thing, what was given, what is needed and how to put it right. All faults of one
file or one object go into one message, so that a person mends the file once.
"""

from __future__ import annotations

import difflib
import itertools
from collections.abc import Iterable


class RunoffError(ValueError):
    """Base of every error that `runoff` raises on purpose."""


class RoofError(RunoffError):
    """A roof, a layer, an outlet or a roof file is not usable as written."""


class WeatherError(RunoffError):
    """A weather record is not usable as given: gaps, units, dates, missing quantities."""


class DoubtedWeatherError(WeatherError):
    """A weather record was read, but its amounts or seasons cannot be those of what it is said to be."""


class StormError(RunoffError):
    """A design storm, a depth-duration table or a frequency analysis is not usable as given."""


class SizingError(RunoffError):
    """Targets, choices or ranges of a sizing run are not usable as given."""


class BalanceError(RunoffError):
    """Water was lost or made: rain differs from evapotranspiration, outflow and change of storage."""


class MissingFileError(FileNotFoundError, RunoffError):
    """There is no file of the name that was given."""


class RunoffWarning(UserWarning):
    """Something the user should know before relying on a result."""


def raise_faults(where: str, faults: Iterable[str], error: type[RunoffError] = RunoffError) -> None:
    """Raise `error` naming every fault at once; return when there is none.

    Parameters
    ----------
    where
        The file, object or call the faults belong to, for example ``roof.toml``.
    faults
        One sentence per fault, without `where`.
    error
        The class to raise.

    Raises
    ------
    RunoffError
        Of class `error`, one line per fault: ``where: fault``.
    """
    lines = [f"{where}: {fault}" for fault in faults]
    if lines:
        raise error("\n".join(lines))


def shown(text: object, most: int = 60) -> str:
    """Return text of a file as a message can hold it: on one line, without control characters, not endless."""
    plain = "".join(letter if letter.isprintable() else "\N{REPLACEMENT CHARACTER}" for letter in str(text)[: most + 1])
    return plain if len(plain) <= most else f"{plain[: most - 1]}\N{HORIZONTAL ELLIPSIS}"


def nearest(word: str, known: Iterable[str]) -> str:
    """Return `` (did you mean "x"?)`` for the closest known word, or an empty string."""
    few = list(itertools.islice(known, 2000))  # of a million names the closest is not looked for
    close = difflib.get_close_matches(word[:200], few, n=1, cutoff=0.6)
    return f' (did you mean "{close[0]}"?)' if close else ""
