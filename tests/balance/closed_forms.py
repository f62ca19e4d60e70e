"""Ponds that empty, in closed form: what a routed roof must meet. Any consistent units."""

from typing import Any

import numpy as np


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
    """
    return start_head / (1.0 + np.sqrt(start_head) * crest * np.asarray(time, dtype=float) / (2.0 * area)) ** 2


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
    root = np.sqrt(start_head)
    return np.maximum(root - orifice * np.asarray(time, dtype=float) / (2.0 * area), 0.0) ** 2
