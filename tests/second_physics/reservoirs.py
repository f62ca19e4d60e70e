"""Single stores with a closed form, and routing through a pond of any shape.

What a hydrologist uses to check a larger model, or to route the water of a roof through a tank. Any consistent units
may be used unless a name says otherwise: flow is storage per time.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from runoff.errors import RunoffError


def linear_store(
    inflow: np.ndarray, step: float, lag: float, *, start_outflow: float = 0.0
) -> tuple[np.ndarray, np.ndarray]:
    """Route steps of steady inflow through a linear store ``S = lag x Q``, exactly.

    ``Q1 = Q0 e^(-dt/k) + i (1 - e^(-dt/k))``; the outflow volume follows from the change of storage.

    Parameters
    ----------
    inflow
        Mean inflow of each step, shape ``(time,)``.
    step, lag
        Length of the step and constant of the store k, in the same unit of time.
    start_outflow
        Outflow before the first step.

    Returns
    -------
    outflow, volume
        Outflow at the end of each step, and volume that left during it, shape ``(time,)``.

    Examples
    --------
    >>> outflow, volume = linear_store(np.full(6, 30.0), 5.0, 20.0)
    >>> float(outflow[-1].round(3))
    23.306
    """
    _need_positive("linear store", step=step, lag=lag)
    inflow = np.asarray(inflow, dtype=float)
    kept = np.exp(-step / lag)
    outflow = np.empty_like(inflow)
    last = start_outflow
    for t, steady in enumerate(inflow):
        last = last * kept + steady * (1.0 - kept)
        outflow[t] = last
    before = np.concatenate([[start_outflow], outflow[:-1]])
    return outflow, inflow * step - lag * (outflow - before)


def linear_cascade(inflow: np.ndarray, step: float, lag: float, stores: int) -> np.ndarray:
    """Route steps of steady inflow through equal linear stores in series, exactly.

    Parameters
    ----------
    inflow
        Mean inflow of each step, shape ``(time,)``.
    step, lag
        Length of the step and constant of each store, in the same unit of time.
    stores
        How many stores follow each other.

    Returns
    -------
    numpy.ndarray
        Outflow of the last store at the end of each step, all stores empty before.

    Notes
    -----
    The distances d of the outflows from the steady inflow obey ``k dd_m/dt = d_(m-1) - d_m``. Over one step the
    whole chain is a triangular matrix of Poisson weights, ``e^(-x) x^j / j!`` with ``x = dt/k``.
    """
    _need_positive("linear cascade", step=step, lag=lag, stores=stores)
    x = step / lag
    weights = [np.exp(-x)]
    for order in range(1, int(stores)):
        weights.append(weights[-1] * x / order)
    carry = np.zeros((int(stores), int(stores)))
    for row in range(int(stores)):
        carry[row, : row + 1] = weights[row::-1]
    outflow = np.zeros(int(stores))
    result = np.empty(len(inflow))
    for t, steady in enumerate(np.asarray(inflow, dtype=float)):
        outflow = steady + carry @ (outflow - steady)
        result[t] = outflow[-1]
    return result


def power_recession(start: Any, rate: float, exponent: float, time: Any) -> np.ndarray:
    """Return the storage of ``dS/dt = -c S^m`` after a time without inflow.

    ``S = [S0^(1-m) + (m-1) c t]^(1/(1-m))``, an exponential for m = 1; below 1 the store runs empty.

    Parameters
    ----------
    start
        Storage at time 0.
    rate, exponent
        c and m.
    time
        Time since.
    """
    store, time = _not_negative("power recession", "start", start), np.asarray(time, dtype=float)
    if exponent == 1.0:
        return store * np.exp(-rate * time)
    with np.errstate(divide="ignore"):
        base = 1.0 + (exponent - 1.0) * rate * time * store ** (exponent - 1.0)
        left = store * np.maximum(base, 0.0) ** (1.0 / (1.0 - exponent))
    return np.where(store > 0.0, left, store)


def square_store(start: Any, inflow: Any, rate: float, time: Any) -> np.ndarray:
    """Return the storage of ``dS/dt = i - c S^2`` after a time of steady inflow.

    ``S = (S0 + i T) / (1 + c S0 T)`` with ``T = tanh(w t) / w``, ``w = (i c)^0.5``; from empty this is
    ``(i/c)^0.5 tanh(w t)``.

    Parameters
    ----------
    start, inflow
        Storage at time 0, and inflow.
    rate
        c.
    time
        Time since.
    """
    store, inflow = _not_negative("square store", "start", start), _not_negative("square store", "inflow", inflow)
    time = np.asarray(time, dtype=float)
    speed = np.sqrt(inflow * rate)
    with np.errstate(divide="ignore", invalid="ignore"):
        stretched = np.where(speed > 0.0, np.tanh(speed * time) / speed, time)
    return (store + inflow * stretched) / (1.0 + rate * store * stretched)


def weir_drawdown(start_head: Any, area: float, crest: float, time: Any) -> np.ndarray:
    """Return the head of a pond with vertical sides that empties over a weir ``Q = crest x h^1.5``.

    ``h = [h0^-0.5 + C L t / (2 A)]^-2``

    Parameters
    ----------
    start_head
        Head over the crest at time 0.
    area
        Surface of the pond.
    crest
        Coefficient times length of the crest, C L.
    time
        Time since.

    Examples
    --------
    A pond of 200 m2, 0.1 m over a crest of 0.3 m, after ten minutes:

    >>> float(weir_drawdown(0.1, 200.0, 1.705 * 0.3, 600.0).round(5))
    0.06476
    """
    _need_positive("weir drawdown", area=area)
    head = _not_negative("weir drawdown", "start_head", start_head)
    return head / (1.0 + np.sqrt(head) * crest * np.asarray(time, dtype=float) / (2.0 * area)) ** 2


def orifice_drawdown(start_head: Any, area: float, orifice: float, time: Any) -> np.ndarray:
    """Return the head of a pond with vertical sides that empties through an orifice ``Q = orifice x h^0.5``.

    ``h = [h0^0.5 - K t / (2 A)]^2``, empty after ``2 A h0^0.5 / K``.

    Parameters
    ----------
    start_head
        Head over the centre of the opening at time 0.
    area
        Surface of the pond.
    orifice
        K, for example ``Cd a (2 g)^0.5``.
    time
        Time since.
    """
    _need_positive("orifice drawdown", area=area)
    root = np.sqrt(_not_negative("orifice drawdown", "start_head", start_head))
    return np.maximum(root - orifice * np.asarray(time, dtype=float) / (2.0 * area), 0.0) ** 2


def storage_indication(
    inflow: np.ndarray, step: float, storage: np.ndarray, outflow: np.ndarray, *, start_storage: float = 0.0
) -> tuple[np.ndarray, np.ndarray]:
    """Route a hydrograph through a pond whose storage and outflow are tabulated (storage-indication method).

    ``S2/dt + O2/2 = (I1 + I2)/2 + S1/dt - O1/2``, both read from the table by ``S/dt + O/2``
    (HDS-2, 2nd ed. 2002, section 7.2).

    Parameters
    ----------
    inflow
        Inflow at equally spaced times, shape ``(time,)``.
    step
        Time between them, in the unit of time of the flows.
    storage, outflow
        The rating of the pond, both rising from row to row.
    start_storage
        Storage at the first time.

    Returns
    -------
    outflow, storage
        At the times of `inflow`.

    Raises
    ------
    RunoffError
        When the table does not rise, or the pond overflows the table.
    """
    table_s, table_o = np.asarray(storage, dtype=float), np.asarray(outflow, dtype=float)
    _need_positive("storage-indication routing", step=step)
    indication = table_s / step + table_o / 2.0
    if table_s.shape != table_o.shape or table_s.size < 2 or np.any(np.diff(table_s) < 0.0):
        raise RunoffError(
            "storage-indication routing: storage and outflow need the same number of rows, at least two, with storage "
            f"rising (given {table_s.size} and {table_o.size} rows); sort the table by depth"
        )
    if np.any(np.diff(indication) <= 0.0) or np.any(np.diff(table_o) < 0.0):
        raise RunoffError("storage-indication routing: outflow must not fall with depth; check the rating table")
    inflow = np.asarray(inflow, dtype=float)
    routed_o, routed_s = np.empty_like(inflow), np.empty_like(inflow)
    water = float(start_storage)
    out = float(np.interp(water, table_s, table_o))
    for t in range(inflow.size):
        if t:
            level = (inflow[t - 1] + inflow[t]) / 2.0 + water / step - out / 2.0
            if level > indication[-1]:
                raise RunoffError(
                    f"storage-indication routing: at step {t} the pond stands above the last row of its table "
                    f"(storage {table_s[-1]:g}); add rows for greater depths"
                )
            out = float(np.interp(level, indication, table_o))
            water = float(np.interp(level, indication, table_s))
        routed_o[t], routed_s[t] = out, water
    return routed_o, routed_s


def weir_flow(length_m: Any, head_m: Any, *, coefficient: float = 1.705) -> np.ndarray:
    """Return ``C L h^1.5`` in m3/s (metres), or ft3/s with feet and a US coefficient.

    The default is the ideal broad crest, ``(2/3)^1.5 g^0.5`` (HDS-2, 2nd ed. 2002, eq. 8.18).
    """
    head = _not_negative("weir", "head_m", head_m)
    return coefficient * np.asarray(length_m, dtype=float) * head**1.5


def orifice_flow(area_m2: Any, head_m: Any, *, discharge_coefficient: float = 0.6, gravity: float = 9.81) -> np.ndarray:
    """Return ``Cd A (2 g h)^0.5`` in m3/s, h to the centre of the opening (HDS-2, 2nd ed. 2002, eq. 8.10)."""
    head = _not_negative("orifice", "head_m", head_m)
    return discharge_coefficient * np.asarray(area_m2, dtype=float) * np.sqrt(2.0 * gravity * head)


def drowned_weir_share(tailwater_over_head: Any) -> np.ndarray:
    """Return the share of its free flow that a weir keeps when water stands behind it.

    ``(1 - r^1.5)^0.385`` with r the tailwater over the head, both above the crest (HDS-2, 2nd ed. 2002, eq. 8.20).
    """
    return (1.0 - np.asarray(tailwater_over_head, dtype=float) ** 1.5) ** 0.385


def _not_negative(what: str, name: str, given: Any) -> np.ndarray:
    values = np.asarray(given, dtype=float)
    if np.any(values < 0.0):
        raise RunoffError(f"{what}: `{name}` must be 0 or more, given {np.nanmin(values):g}")
    return values


def _need_positive(what: str, **given: float) -> None:
    for name, value in given.items():
        if not value > 0.0:
            raise RunoffError(f"{what}: `{name}` must be above 0, given {value:g}")
