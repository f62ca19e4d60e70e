"""How much water an outlet, a pipe or a scupper takes, from the depth of water in front of it.

Outlets of flat roofs follow EN 12056-3:2000: a weir while the water is shallow, an orifice once the opening is
drowned (``h`` mm over the deck, ``Q`` L/s, ``ko`` 1.0 for a clear outlet, 0.5 with a strainer)::

    round        weir     Q = ko D  h^1.5 /  7500      up to  h = D / 2
                 orifice  Q = ko D^2 h^0.5 / 15000     above
    rectangular  weir     Q = ko L  h^1.5 / 24000      up to  h = 2 A / L
                 orifice  Q = ko A  h^0.5 / 12000      above

Both halves agree at the turning head. The forms carry a margin of their own: as a weir they correspond to
1.32 m^0.5/s, below the ideal broad crest (1.705). They were not read in the standard itself: check them against the
edition in force. Codes differ: the same "4 in vertical pipe" is 144, 180 or 192 gal/min by edition.

Every function takes floats or arrays, keeps missing values missing, and refuses negative heads and flows.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np

from runoff.errors import RunoffError

#: Factor of EN 12056-3 for an outlet with a strainer or grating, and for a clear one.
STRAINER_FACTOR, CLEAR_FACTOR = 0.5, 1.0


class OutletLaw(NamedTuple):
    """What is left of an outlet once its form is known: two coefficients and where one gives way to the other.

    Parameters
    ----------
    weir
        ``Q = weir x h^1.5`` below the turning head, L/s with h in mm.
    orifice
        ``Q = orifice x h^0.5`` above it, L/s with h in mm.
    turning_head_mm
        Head at which both give the same flow, mm.
    """

    weir: float
    orifice: float
    turning_head_mm: float


def round_outlet(diameter_mm: float, *, strainer: bool = False) -> OutletLaw:
    """Return the law of a round outlet (EN 12056-3:2000).

    Parameters
    ----------
    diameter_mm
        Clear diameter of the inlet, mm.
    strainer
        Whether a strainer or grating sits over it: halves the flow.

    Examples
    --------
    >>> float(flow(35.0, [round_outlet(100)]).round(2))
    2.76
    """
    _need_positive("round outlet", diameter_mm=diameter_mm)
    ko = STRAINER_FACTOR if strainer else CLEAR_FACTOR
    return OutletLaw(ko * diameter_mm / 7500.0, ko * diameter_mm**2 / 15000.0, diameter_mm / 2.0)


def rectangular_outlet(width_mm: float, height_mm: float, *, strainer: bool = False) -> OutletLaw:
    """Return the law of a rectangular outlet or scupper whose sill lies on the deck (EN 12056-3:2000).

    Parameters
    ----------
    width_mm
        Length of the weir edge, mm: the width of the opening.
    height_mm
        Clear height of the opening, mm; it runs drowned from ``2 A / L = 2 x height`` on.
    strainer
        Whether a strainer or grating sits before it: halves the flow.

    Returns
    -------
    OutletLaw
        Coefficients for L/s with h in mm.

    Raises
    ------
    RunoffError
        When a size is not above 0.
    """
    _need_positive("rectangular outlet", width_mm=width_mm, height_mm=height_mm)
    ko = STRAINER_FACTOR if strainer else CLEAR_FACTOR
    return OutletLaw(ko * width_mm / 24000.0, ko * width_mm * height_mm / 12000.0, 2.0 * height_mm)


def edge_outlet(length_mm: float) -> OutletLaw:
    """Return the law of a straight edge or gutter over which the deck drains freely.

    The rectangular weir of EN 12056-3:2000 along the length, its sill on the deck, without a strainer (ko 1): open to the
    sky it never runs drowned.

    Parameters
    ----------
    length_mm
        Length of the edge over which water runs off, mm.

    Examples
    --------
    >>> float(flow(10.0, [edge_outlet(5000.0)]).round(3))  # by hand: 5000 x 31.623 / 24000
    6.588
    """
    _need_positive("edge", length_mm=length_mm)
    return OutletLaw(length_mm / 24000.0, math.inf, math.inf)


def flow(head_mm: Any, laws: Sequence[OutletLaw]) -> np.ndarray:
    """Return the flow of several outlets at one common head.

    Parameters
    ----------
    head_mm
        Water depth over the deck at the outlets, mm, any shape.
    laws
        One law per outlet; an empty sequence lets nothing through.

    Returns
    -------
    numpy.ndarray
        Sum over the outlets, L/s, shape of `head_mm`; NaN where the head is missing.

    Raises
    ------
    RunoffError
        For a negative head.
    """
    head = _need_not_negative("outlet flow", "head_mm", head_mm, "depth over the deck at the outlet")
    root = np.sqrt(head)
    total = 0.0 * head
    for law in laws:
        total = total + np.where(head <= law.turning_head_mm, law.weir * head, law.orifice) * root
    return total


def head_for_flow(flow_l_per_s: Any, laws: Sequence[OutletLaw]) -> np.ndarray:
    """Return the common head at which several outlets together pass a flow; the inverse of `flow`.

    Between two turning heads the sum is ``w h^1.5 + o h^0.5``, in ``u = h^0.5`` a cubic with one real root, which
    has a closed form.

    Parameters
    ----------
    flow_l_per_s
        Flow, L/s, any shape.
    laws
        One law per outlet.

    Returns
    -------
    numpy.ndarray
        Head, mm, shape of `flow_l_per_s`.

    Raises
    ------
    RunoffError
        For a negative flow, or when there is no outlet.
    """
    wanted = _need_not_negative("head for a flow", "flow_l_per_s", flow_l_per_s, "flow through the outlets")
    if not laws:
        raise RunoffError("head for a flow: no outlet is given, so no head passes any flow; give at least one outlet")
    turns = np.array(sorted({law.turning_head_mm for law in laws} - {math.inf}))  # an edge never turns
    zone = np.searchsorted(flow(turns, laws), wanted)
    lower = np.append(0.0, turns)
    weir = np.array([sum(law.weir for law in laws if law.turning_head_mm > low) for low in lower])[zone]
    orifice = np.array([sum(law.orifice for law in laws if law.turning_head_mm <= low) for low in lower])[zone]
    with np.errstate(divide="ignore", invalid="ignore"):
        third = np.sqrt(orifice / (3.0 * weir))
        mixed = 2.0 * third * np.sinh(np.arcsinh(wanted / (2.0 * weir * third**3)) / 3.0)
        root = np.where(weir <= 0.0, wanted / orifice, np.where(orifice > 0.0, mixed, np.cbrt(wanted / weir)))
    return np.where(np.isnan(wanted), np.nan, root**2)


def vertical_pipe_flow(diameter_mm: Any, *, filling: float = 0.33, roughness_mm: float = 0.25) -> np.ndarray:
    """Return what a vertical rainwater pipe carries part full, L/s (EN 12056-3:2000, Wyly-Eaton form).

    ``Q = 2.5e-4 kb^-0.167 d^2.667 f^1.667``

    Parameters
    ----------
    diameter_mm
        Inside diameter, mm.
    filling
        Share of the cross-section filled with water; the standard allows 0.20 to 0.33.
    roughness_mm
        Pipe roughness kb, mm.

    Returns
    -------
    numpy.ndarray
        L/s, shape of the diameter.

    Raises
    ------
    RunoffError
        When a size is not above 0, or the filling not within 0.20 to 0.33.

    Examples
    --------
    >>> float(vertical_pipe_flow(100.0).round(1))
    10.7
    """
    _need_positive("vertical pipe", diameter_mm=diameter_mm, roughness_mm=roughness_mm)
    _need_filling("vertical pipe", filling, 0.20, 0.33, "EN 12056-3")
    return 2.5e-4 * roughness_mm**-0.167 * np.asarray(diameter_mm, dtype=float) ** 2.667 * filling**1.667  # type: ignore[no-any-return]  # numpy tells no type of a power


def vertical_pipe_flow_gpm(diameter_in: Any, *, filling: float = 7.0 / 24.0) -> np.ndarray:
    """Return what a vertical conductor or leader carries part full, US gal/min.

    ``Q = 27.8 r^(5/3) D^(8/3)``, the open-flow formula behind the US code tables: r = 7/24 gives Table 13.6.1 of the
    National Standard Plumbing Code 2006, r = 1/3 the 4 in row of IPC 2015 Table 1106.2.

    Parameters
    ----------
    diameter_in
        Inside diameter, in.
    filling
        Share r of the cross-section filled with water, above 0 and at most 1/3.

    Examples
    --------
    >>> float(vertical_pipe_flow_gpm(4.0).round())
    144.0
    """
    _need_positive("vertical pipe", diameter_in=diameter_in)
    _need_filling("vertical pipe", filling, 0.0, 1.0 / 3.0, "the open-flow formula")
    return 27.8 * filling ** (5.0 / 3.0) * np.asarray(diameter_in, dtype=float) ** (8.0 / 3.0)  # type: ignore[no-any-return]  # numpy tells no type of a power


def horizontal_drain_flow(diameter_mm: Any, slope: Any, *, manning_n: float = 0.010) -> np.ndarray:
    """Return what a horizontal drain carries running full without pressure, L/s (Manning).

    Parameters
    ----------
    diameter_mm
        Inside diameter, mm: the true bore, not the nominal size.
    slope
        Fall per length, m/m.
    manning_n
        Roughness, s/m^(1/3): 0.010 reproduces IPC 2015 Table 1106.2 for 4 in, 0.0145 the older tables.

    Returns
    -------
    numpy.ndarray
        L/s, shape of diameter and slope together.

    Raises
    ------
    RunoffError
        When diameter, slope or roughness is not above 0.
    """
    _need_positive("horizontal drain", diameter_mm=diameter_mm, slope=slope, manning_n=manning_n)
    bore_m = np.asarray(diameter_mm, dtype=float) / 1000.0
    area_m2 = np.pi * bore_m**2 / 4.0
    return 1000.0 / manning_n * area_m2 * (bore_m / 4.0) ** (2.0 / 3.0) * np.sqrt(slope)  # type: ignore[no-any-return]  # numpy tells no type of a power


def _need_not_negative(what: str, name: str, given: Any, meaning: str) -> np.ndarray:
    values = np.asarray(given, dtype=float)
    if np.any(values < 0.0):
        raise RunoffError(f"{what}: `{name}` ({meaning}) must be 0 or more, given {np.nanmin(values):g}")
    return values


def _need_positive(what: str, **given: Any) -> None:
    for name, value in given.items():
        values = np.asarray(value, dtype=float)
        if not np.all(values > 0.0):
            raise RunoffError(f"{what}: `{name}` must be above 0, given {values.min():g}")


def _need_filling(what: str, filling: float, low: float, high: float, source: str) -> None:
    if not (low <= filling <= high + 1e-9 and filling > 0.0):
        raise RunoffError(
            f"{what}: filling (share of the cross-section) must be {low:.2f} to {high:.2f} in {source}, "
            f"given {filling:g}"
        )
