"""Is a part of one record in another scale than the rest, held against a second record of the same water?

Two gauges, or a gauge and a model, differ by some factor on every day; that factor may scatter, but it should not change from one
month to the next and stay there. Units mixed up in a part of a file do just that.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pandas as pd

#: Factors of units that are often mixed up, and how near a ratio must come to be told as one of them (own proposal).
FACTORS = {2.54: "in and cm", 10.0: "cm and mm, or tenths", 25.4: "in and mm"}
_NEAR_FACTOR = 1.3
#: Days that tell in a part and in the rest, the least change of scale that is named, and how many standard errors it must be
#: away (own proposals; the part is the worst of all, so chance alone goes up to about 4).
_LEAST_DAYS, _LEAST_FACTOR, _SURE = 8, 1.8, 6.0


class OddPart(NamedTuple):
    """A part of a record in another scale: its first and last month, and its factor over that of the rest."""

    first: str
    last: str
    factor: float

    @property
    def when(self) -> str:
        """The months of the part in words."""
        return f"in {self.first}" if self.first == self.last else f"from {self.first} to {self.last}"


def odd_part(one: pd.Series, other: pd.Series, *, least_mm: float = 1.0) -> OddPart | None:
    """Return the run of months in which `other` over `one` departs most from the rest; None where none is sure.

    Parameters
    ----------
    one, other
        Daily depths on the same dates, mm; days on which either is below `least_mm` or missing do not tell.
    least_mm
        See above.

    Returns
    -------
    OddPart or None
        First and last month and the factor that stands out; None where too few days tell or no run is sure.

    Notes
    -----
    Of all runs of whole months the one whose mean logarithm of the ratio lies most standard errors from that of the rest.
    """
    telling = (one >= least_mm) & (other >= least_mm)
    if int(telling.sum()) < 2 * _LEAST_DAYS:
        return None
    log = pd.Series(np.log((other / one)[telling]))
    months = pd.DatetimeIndex(log.index).to_period("M")
    by_month = log.groupby(months)
    count, total = (np.concatenate([[0.0], np.cumsum(values)]) for values in (by_month.size(), by_month.sum()))
    first, last = np.triu_indices(len(count) - 1)
    last = last + 1
    inside, outside = count[last] - count[first], count[-1] - (count[last] - count[first])
    kept = (inside >= _LEAST_DAYS) & (outside >= _LEAST_DAYS)
    if not kept.any():
        return None
    first, last, inside, outside = first[kept], last[kept], inside[kept], outside[kept]
    part = total[last] - total[first]
    means = part / inside, (total[-1] - part) / outside
    left = float((log**2).sum()) - inside * means[0] ** 2 - outside * means[1] ** 2
    error = np.sqrt(np.maximum(left, 1e-12) / (count[-1] - 2.0) * (1.0 / inside + 1.0 / outside))
    away = (means[0] - means[1]) / error
    at = int(np.argmax(np.abs(away)))
    apart = float(means[0][at] - means[1][at])
    if abs(apart) < np.log(_LEAST_FACTOR) or abs(away[at]) < _SURE:
        return None
    known = [str(month) for month in by_month.groups]
    begin, end = int(first[at]), int(last[at])
    # a run that ends with the record divides it in two: the half that is further from one to one is the odd one
    if (begin == 0 or end == len(known)) and abs(means[1][at]) > abs(means[0][at]):
        begin, end, apart = (end, len(known), -apart) if begin == 0 else (0, begin, -apart)
    return OddPart(known[begin], known[end - 1], float(np.exp(apart)))


def times_words(factor: float, *, more: str = "as much", less: str = "less") -> str:
    """Say a factor in words, and which units mixed up would give it.

    Parameters
    ----------
    factor
        The ratio, above 0.
    more, less
        Words behind the number for a factor above one, and for one below.

    Returns
    -------
    str
        The number is never below 1: a factor of a half is 2 times less.

    Examples
    --------
    >>> times_words(2.5)
    '2.5 times as much (units mixed up, in and cm, would give 2.54)'
    >>> times_words(1.0 / 1.8)
    '1.8 times less'
    """
    off = max(factor, 1.0 / factor)
    near = min(FACTORS, key=lambda known: abs(np.log(off / known)))
    close = abs(np.log(off / near)) < np.log(_NEAR_FACTOR)
    unit = f" (units mixed up, {FACTORS[near]}, would give {near:g})" if close else ""
    return f"{off:.3g} times {more if factor > 1.0 else less}{unit}"
