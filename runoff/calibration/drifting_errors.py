"""Errors that hang together: a scale that drifts, wind and sun on a tray. Readings then tell less than their number says.

The errors of readings are taken as one part that is new at every reading and one that fades with time,

    correlation of two readings t days apart = share phi^t        (1 for a reading with itself)

Neither `share` nor `phi` is known. Each pair on a grid gets the weight that the differences between readings and model give
it (restricted likelihood, which allows for the values that were fitted: Patterson and Thompson 1971, Biometrika 58,
545-554), and the spread of the fitted values is the mean over the grid. Errors that do not hang together cost
little: the spread is then the usual one of least squares within some per cent.
"""

from __future__ import annotations

import dataclasses

import numpy as np

_FADING = (0.3, 0.5, 0.7, 0.8, 0.9, 0.95, 0.98)
_SHARES = (0.25, 0.5, 0.75, 1.0)
#: Independent errors stand against all others together, one to one.
_GRID = [(0.0, 0.0), *((phi, share) for phi in _FADING for share in _SHARES)]
_PRIOR = np.array([0.5] + [0.5 / (len(_GRID) - 1)] * (len(_GRID) - 1))


@dataclasses.dataclass(frozen=True)
class Drift:
    """How readings err.

    Parameters
    ----------
    error
        Standard deviation of one reading, in its unit.
    next_day
        Correlation of the errors of two readings a day apart, 0 to 1.
    """

    error: float
    next_day: float


def drifting_covariance(slopes: np.ndarray, left: np.ndarray, bread: np.ndarray, times: np.ndarray) -> tuple[np.ndarray, Drift]:  # fmt: skip
    """Return the covariance of least-squares estimates whose readings have errors that may hang together.

    Parameters
    ----------
    slopes
        Change of each reading with each value, shape ``(reading, value)``.
    left
        Readings less model, shape ``(reading,)``.
    bread
        Inverse of ``slopes.T @ slopes``, flat directions left out, shape ``(value, value)``.
    times
        Day of each reading, shape ``(reading,)``.

    Returns
    -------
    numpy.ndarray
        Covariance, shape ``(value, value)``.
    Drift
        Size and correlation of the errors.
    """
    readings, values = slopes.shape
    apart = np.abs(times[:, None] - times[None, :])
    solve = bread @ slopes.T
    scores, sizes, spreads = np.empty(len(_GRID)), np.empty(len(_GRID)), []
    for k, (phi, share) in enumerate(_GRID):
        correlation = share * phi**apart
        np.fill_diagonal(correlation, 1.0 + 1e-9)
        root = np.linalg.cholesky(correlation)
        white = np.linalg.solve(root, np.column_stack([slopes, left]))
        q, r = np.linalg.qr(white[:, :-1])
        rest = white[:, -1] - q @ (q.T @ white[:, -1])
        sizes[k] = max(float(rest @ rest) / (readings - values), 1e-300)
        scores[k] = -0.5 * (readings - values) * np.log(sizes[k]) - np.log(np.diag(root)).sum()
        scores[k] -= np.log(np.maximum(np.abs(np.diag(r)), 1e-300)).sum()
        spreads.append(sizes[k] * (solve @ correlation @ solve.T))
    weight = _PRIOR * np.exp(scores - scores.max())
    weight /= weight.sum()
    next_day = float(weight @ [phi * share for phi, share in _GRID])
    drift = Drift(error=float(np.sqrt(weight @ sizes)), next_day=next_day)
    return np.einsum("k,kij->ij", weight, np.array(spreads)), drift
