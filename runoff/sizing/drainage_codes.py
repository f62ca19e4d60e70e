"""Roof drainage by published rules: each number under the name of the document and edition it comes from.

Codes differ: a "4 in vertical pipe" is 144 gal/min in one and 180 in another, with no change of pipe. So an edition is
always chosen by name, never assumed. Where a document was not read, `Edition.status` says so. The code in force at the
building decides, and so does a licensed engineer.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from runoff.balance.outlet_flow import horizontal_drain_flow, vertical_pipe_flow, vertical_pipe_flow_gpm
from runoff.errors import SizingError, nearest
from runoff.given_kinds import refuse_other_kinds
from runoff.units import convert

ASK_AN_ENGINEER = (
    "These are flows and depths by the forms named, not a design: roof drainage and its emergency overflow are for a "
    "licensed engineer under the code in force. A roof whose outlets clog can fail, so outlets must stay reachable and "
    "be cleared, by people secured against falling."
)
#: Least height and width of an overflow scupper, mm (4 in, rounded to 102 mm there; IBC 2021, section 1502.3).
SMALLEST_SCUPPER_MM = 101.6


class Edition(NamedTuple):
    """One code or standard: what it fixes, and how sure we are of it."""

    source: str
    status: str
    value: dict[str, float]


_READ, _RECOMPUTED = "read", "recomputed; the document itself was not read"

#: Filling of vertical rainwater pipes by edition. All three are one formula with another share of the section filled.
VERTICAL_PIPES: dict[str, Edition] = {
    "EN 12056-3:2000": Edition("EN 12056-3:2000, filling 0.33, kb 0.25 mm", _RECOMPUTED, {"filling": 0.33}),
    "NSPC 2006": Edition("National Standard Plumbing Code 2006, Table 13.6.1, r = 7/24", _READ, {"filling": 7 / 24}),
    "IPC 2015": Edition(
        "International Plumbing Code 2015, Table 1106.2, r = 1/3",
        "one cell read: 4 in, 180 gal/min",
        {"filling": 1 / 3},
    ),
}
#: Manning roughness of horizontal storm drains by edition, running full.
HORIZONTAL_DRAINS: dict[str, Edition] = {
    "IPC 2015": Edition(
        "International Plumbing Code 2015-2021, Table 1106.2, n = 0.010 with the true bore",
        "two cells read: 4 in at 1/8 and 1/4 in/ft, 115 and 163 gal/min",
        {"manning_n": 0.010},
    ),
    "IPC 2012": Edition(
        "International Plumbing Code 2012 and older, n = 0.0145 with the nominal bore",
        "one cell read: 4 in at 1/8 in/ft, 78.2 gal/min",
        {"manning_n": 0.0145},
    ),
}
#: What secondary (emergency) drainage must do, in our words; rule -> source.
SECONDARY_RULES: dict[str, str] = {
    "The roof must carry the deepest pond with every primary outlet blocked, with the head that drives the secondary "
    "drainage.": "International Plumbing Code, section 1101.7",
    "Secondary drains or scuppers are needed wherever the edge can hold water back.": (
        "International Plumbing Code, section 1108.1; International Building Code 2021, section 1502.2"
    ),
    "Secondary drainage is sized for the same rain as the primary, and the flow of the primary is ignored.": (
        "International Plumbing Code 2015, section 1108.3"
    ),
    "An overflow scupper opens at least 102 mm (4 in).": "International Building Code 2021, section 1502.3",
    "The storm for the rain load lasts 15 minutes and returns in 100 years; twice the 100-year hourly rate may stand "
    "in for it.": "International Building Code 2021, section 1611.1; ASCE 7-16, section 8.2",
}


def rational_flow(area_m2: Any, intensity_mm_per_h: Any, *, coefficient: Any = 1.0) -> Any:
    """Return the peak flow of a roof under steady rain, L/s: ``Q = C i A / 3600``.

    The rational method (FHWA HDS-2, 2002, eq. 5.28) for one square metre and one mm/h: exactly 1/3600 L/s.

    Parameters
    ----------
    area_m2
        Plan area, m2.
    intensity_mm_per_h
        Rain intensity, mm/h.
    coefficient
        Share of the rain that runs off at the peak, 0 to 1; 0.75 to 0.95 for roofs in HDS-2 Table 5.7, 1 in EN 12056-3.

    Returns
    -------
    float or numpy.ndarray
        L/s, in the shape of the arguments.

    Raises
    ------
    SizingError
        For a coefficient outside 0 to 1.

    Examples
    --------
    >>> round(rational_flow(100.0, 75.0), 5)
    2.08333
    """
    _need(coefficient, 0.0, 1.0, "coefficient")
    return coefficient * intensity_mm_per_h * area_m2 / 3600.0


def planted_coefficient(depth_mm: float, fall: float, *, mean: bool = False) -> float:
    """Return the runoff coefficient of DIN 1986-100 for planted roofs by depth of the build-up and fall of the deck.

    Edition presumed 2016-12, read on a page that quotes it; splits at a fall of 5 %.

    Parameters
    ----------
    depth_mm
        Depth of the build-up, mm.
    fall
        Fall of the deck, m/m.
    mean
        The mean coefficient (Cm, for storage volumes) instead of the one for peaks (Cs, for pipes).

    Returns
    -------
    float
        Share of the rain that runs off, 0-1.

    Raises
    ------
    SizingError
        For a depth that is not above 0, or a fall outside 0 to 1.

    Examples
    --------
    >>> planted_coefficient(80.0, 0.02), planted_coefficient(80.0, 0.02, mean=True)
    (0.5, 0.3)
    """
    if not depth_mm > 0.0:
        raise SizingError(f"planted_coefficient: depth_mm must be above 0 (given {depth_mm:g})")
    _need(fall, 0.0, 1.0, "fall")
    if fall > 0.05:
        return 0.4 if mean else 0.7
    peak, average = (0.2, 0.1) if depth_mm >= 300.0 else (0.4, 0.2) if depth_mm >= 100.0 else (0.5, 0.3)
    return average if mean else peak


def vertical_pipe_l_per_s(diameter_mm: float, *, edition: str = "EN 12056-3:2000") -> float:
    """Return what a vertical rainwater pipe carries, L/s, by a named edition (`VERTICAL_PIPES`).

    Parameters
    ----------
    diameter_mm
        Inside diameter, mm.
    edition
        A name of `VERTICAL_PIPES`. EN: ``2.5e-4 kb^-0.167 d^2.667 f^1.667``; US: ``27.8 r^(5/3) D^(8/3)`` gal/min, in.

    Examples
    --------
    >>> [round(vertical_pipe_l_per_s(101.6, edition=name), 1) for name in VERTICAL_PIPES]
    [11.2, 9.1, 11.3]
    """
    refuse_other_kinds("vertical_pipe_l_per_s", diameter_mm=diameter_mm)
    filling = _edition(edition, VERTICAL_PIPES, "vertical pipes").value["filling"]
    if edition.startswith("EN"):
        return float(vertical_pipe_flow(diameter_mm, filling=filling))
    return float(convert(vertical_pipe_flow_gpm(convert(diameter_mm, "mm", "in"), filling=filling), "gpm", "L/s"))


def horizontal_drain_l_per_s(diameter_mm: float, slope: float, *, edition: str = "IPC 2015") -> float:
    """Return what a horizontal storm drain carries running full, L/s, by a named edition (`HORIZONTAL_DRAINS`).

    Parameters
    ----------
    diameter_mm
        Inside diameter, mm: the true bore for IPC 2015, the nominal one for IPC 2012.
    slope
        Fall of the pipe, m/m (1/8 in/ft is 0.0104).
    edition
        ``"IPC 2015"`` or ``"IPC 2012"`` (`HORIZONTAL_DRAINS` says what was read of each).

    Returns
    -------
    float
        L/s.

    Raises
    ------
    SizingError
        For an edition that is not known.
    RunoffError
        For a diameter or fall that is not above 0.

    Examples
    --------
    A 4 in drain, whose true bore is 4.026 in, at 1/8 in/ft: 115 gal/min in the table of the code, 7.26 L/s.

    >>> round(horizontal_drain_l_per_s(102.26, 1 / 96), 2)
    7.27
    """
    refuse_other_kinds("horizontal_drain_l_per_s", diameter_mm=diameter_mm, slope=slope)
    roughness = _edition(edition, HORIZONTAL_DRAINS, "horizontal drains").value["manning_n"]
    return float(horizontal_drain_flow(diameter_mm, slope, manning_n=roughness))


def _edition(name: str, known: dict[str, Edition], what: str) -> Edition:
    if name not in known:
        raise SizingError(f'{what}: edition "{name}" is not known{nearest(name, known)}; known: {", ".join(known)}')
    return known[name]


def _need(value: Any, low: float, high: float, name: str) -> None:
    if not low <= value <= high:
        raise SizingError(f"{name} must lie between {low:g} and {high:g} (given {value:g})")
