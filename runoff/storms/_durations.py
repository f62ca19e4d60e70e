"""Durations as people write them ("5 min", "24h", a Timedelta), turned into minutes and back into words."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import Any

import numpy as np
import pandas as pd

from runoff.errors import StormError, shown

_BARE_NUMBER = re.compile(r"^\s*[-+]?[\d.]+\s*$")
_BEFORE_UNIT = re.compile(r"(?<=\d)[-\s]*(?=[a-zA-Z])")
_PANDAS_UNIT = {"hr": "h", "hrs": "h", "mins": "min"}  # met in station files, not known to pandas


def minutes_of(duration: Any, name: str, where: str) -> float:
    """Return a duration in minutes.

    Parameters
    ----------
    duration
        Text with a unit (``"5min"``, ``"24 h"``, ``"60-day"``), or a `timedelta` of the standard library, numpy
        or pandas. A bare number is refused: minutes and hours look alike.
    name, where
        The argument and the call, for the message.

    Returns
    -------
    float
        Length in minutes, above 0.

    Raises
    ------
    StormError
        When the duration has no unit, cannot be read, or is not longer than zero.
    """
    fix = 'write it with its unit, for example "5min", "1h" or "24h"'
    if isinstance(duration, str):
        if _BARE_NUMBER.match(duration):
            raise StormError(f'{where}: {name} "{shown(duration)}" has no unit; {fix}')
        number, _, unit = _BEFORE_UNIT.sub(" ", duration.strip()).rpartition(" ")
        given: Any = f"{number} {_PANDAS_UNIT.get(unit, unit)}"
    elif isinstance(duration, timedelta | np.timedelta64):
        given = duration
    else:
        raise StormError(f"{where}: {name} {duration!r} has no unit; {fix}")
    try:
        minutes = pd.Timedelta(given) / pd.Timedelta(1, "min")
    except (ValueError, OverflowError):
        raise StormError(f'{where}: {name} "{shown(duration)}" is not a duration; {fix}') from None
    if not minutes > 0.0:
        raise StormError(f'{where}: {name} "{shown(duration)}" must be longer than zero')
    return float(minutes)


def words_of(minutes: float) -> str:
    """Return a duration in words: ``15 min``, ``6 h``, ``2 days`` (24 h stays 24 h, as the trade says it)."""
    hours = minutes / 60.0
    if minutes >= 2880.0 and hours % 24.0 == 0.0:
        return f"{hours / 24.0:g} days"
    if minutes >= 60.0 and (minutes % 30.0 == 0.0):
        return f"{hours:g} h"
    return f"{minutes:g} min"
