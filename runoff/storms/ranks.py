"""How rare the ranked values of a sample are by their rank alone, before any distribution is fitted."""

from __future__ import annotations

import numpy as np

from runoff.errors import StormError, nearest

#: ``a`` of ``P = (m - a) / (n + 1 - 2 a)``: Weibull, Hazen and Cunnane in FHWA HDS-2 (2002), eq. 4.20 and 4.21; Beard
#: (median), Blom and Gringorten in USGS Techniques and Methods 4-B4. Weibull gives the largest value the shortest return
#: period, Hazen the longest; Gringorten is the usual one for Gumbel.
POSITIONS: dict[str, float] = {
    "weibull": 0.0,
    "beard": 0.30,
    "blom": 0.375,
    "cunnane": 0.40,
    "gringorten": 0.44,
    "hazen": 0.50,
}


def plotting_positions(count: int, position: str = "gringorten") -> np.ndarray:
    """Return the probability that a year passes each of `count` ranked values, the largest first.

    Parameters
    ----------
    count
        Number of values, at least 1.
    position
        A name of `POSITIONS`.

    Returns
    -------
    numpy.ndarray
        ``(m - a) / (n + 1 - 2 a)`` for m = 1 to n, shape (count,), rising (FHWA HDS-2, 2002, eq. 4.20).

    Raises
    ------
    StormError
        For a name that is not known, or no value.

    Examples
    --------
    >>> plotting_positions(10, "weibull")[:2].round(4).tolist()
    [0.0909, 0.1818]
    """
    if position not in POSITIONS:
        raise StormError(
            f'position "{position}" is not known{nearest(position, POSITIONS)}; known: {", ".join(POSITIONS)}'
        )
    if count < 1:
        raise StormError(f"plotting_positions: {count} values; at least one is needed")
    a = POSITIONS[position]
    return (np.arange(1, count + 1) - a) / (count + 1 - 2.0 * a)
