"""Credit by an office's own formula: named, dated rules that the applicant chooses, each of its place and not of the roof.

Every rule says what it takes, its formula, its cap and where it was read. The numbers are those of the page named; they are
printed beside what the balance gives and never in place of it. None of this is legal advice.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import xarray as xr

from runoff.findings.curve_number import curve_number_runoff
from runoff.findings.event_capture import storage_capacity
from runoff.findings.whole_roof import volume_m3
from runoff.roof.build_up import BuildUp
from runoff.saying.numbers import fixed
from runoff.saying.scales import both, say

if TYPE_CHECKING:
    from runoff.roof import Roof

_INCH_MM = 25.4


@dataclass(frozen=True)
class Credit:
    """What a rule gives for a roof: millimetres over the planted area.

    Parameters
    ----------
    low_mm, high_mm
        The credit; the same twice where the rule gives one number. Missing where the roof does not meet the rule.
    inputs
        What was put into the formula.
    remark
        A cap that bites, or a condition that is not met.
    """

    low_mm: float
    high_mm: float
    inputs: str
    remark: str = ""


@dataclass(frozen=True)
class Rule:
    """A rule of a place.

    Parameters
    ----------
    place, page, dated
        Where it holds, where it was read, and of when it is.
    formula, cap
        In words.
    credit
        Works it out for a roof.
    """

    place: str
    page: str
    dated: str
    formula: str
    cap: str
    credit: Callable[[Roof], Credit]


class _Medium:
    """The medium of a roof, as rules ask for it."""

    def __init__(self, roof: Roof) -> None:
        medium = next(one for one in roof.build_up.layers if one.word == "medium")
        self.depth_mm = float(medium.depth_mm)  # type: ignore[attr-defined]
        self.capacity = float(medium.field_capacity)  # type: ignore[attr-defined]
        self.available = self.capacity - float(medium.wilting_point)  # type: ignore[attr-defined]
        self.porosity = float(medium.porosity)  # type: ignore[attr-defined]


def _north_carolina(roof: Roof) -> Credit:
    medium = _Medium(roof)
    storage = medium.depth_mm * medium.available
    credit = min(storage, 1.5 * _INCH_MM)
    remarks = []
    if credit < storage:
        remarks.append("the cap bites")
    if medium.depth_mm < 4 * _INCH_MM:
        remarks.append(
            "under the least depth of 4 in, 102 mm (irrigated: 3 in, 76 mm): no credit without the office's consent"
        )
    if roof.fall > 0.08:
        remarks.append("steeper than 8 %")
    return Credit(
        credit,
        credit,
        f"depth {both(medium.depth_mm, 'mm', 'layer depth')}, plant-available water {medium.available:.2f}",
        "; ".join(remarks),
    )


def _minnesota(roof: Roof) -> Credit:
    medium = _Medium(roof)
    credit = medium.depth_mm * medium.capacity
    return Credit(
        credit,
        credit,
        f"depth {both(medium.depth_mm, 'mm', 'layer depth')}, maximum water capacity {medium.capacity:.2f}",
    )


def _minnesota_porosity(roof: Roof) -> Credit:
    medium = _Medium(roof)
    credit = medium.depth_mm * medium.porosity
    return Credit(credit, credit, f"depth {both(medium.depth_mm, 'mm', 'layer depth')}, porosity {medium.porosity:.2f}")


def _interception(roof: Roof) -> Credit:
    depth = depth_above_waterproofing(roof.build_up)
    return Credit(0.05 * depth, 0.05 * depth, f"build-up above the waterproofing {both(depth, 'mm', 'layer depth')}")


#: Depth of the medium, mm, from and to -> rain kept per event, mm.
_FRENCH_BANDS = ((50.0, 100.0, 4.0, 8.0), (150.0, 200.0, 8.0, 12.0), (250.0, 800.0, 15.0, 40.0))


def _french(roof: Roof) -> Credit:
    depth = _Medium(roof).depth_mm
    for low, high, least, most in _FRENCH_BANDS:
        if low <= depth <= high:
            return Credit(least, most, f"depth {both(depth, 'mm', 'layer depth')}")
    return Credit(
        math.nan, math.nan, f"depth {both(depth, 'mm', 'layer depth')}", "the table has no row for this depth"
    )


def _threshold(litres: float, least_depth_mm: float = 0.0) -> Callable[[Roof], Credit]:
    """Return a rule that asks for so many L/m2 of storage, and perhaps a least depth of the medium."""

    def credit(roof: Roof) -> Credit:
        capacity = float(storage_capacity(roof)["capacity_mm"])
        met = capacity >= litres and _Medium(roof).depth_mm >= least_depth_mm
        remark = f"{'met' if met else 'not met'}: the storage of section 2 is {fixed(capacity, 1)} L/m² ({say(capacity, 'mm', system='us')})"
        return Credit(capacity, capacity, "storage capacity of the dry build-up", remark)

    return credit


def _curve_number_84(roof: Roof) -> Credit:
    kept = [rain - float(curve_number_runoff(rain, 84.0)) for rain in (30.0, 1.5 * _INCH_MM)]
    return Credit(
        kept[0],
        kept[1],
        "30 mm (1.18 in) and 38.1 mm (1.5 in) of rain on any roof of the study",
        "a fit to 21 roofs, called poor by it",
    )


RULES: dict[str, Rule] = {
    "north-carolina": Rule(
        "North Carolina", "15A NCAC 02H .1058", "1 January 2017", "medium depth x plant-available water",
        "rain of at most 1.5 in (38.1 mm) is credited", _north_carolina,
    ),
    "minnesota": Rule(
        "Minnesota", "stormwater manual, calculating credits (older revision; check the edition)", "edition to be checked",
        "area x depth x maximum water capacity", "none stated", _minnesota,
    ),
    "minnesota-porosity": Rule(
        "Minnesota", "stormwater manual, an earlier text", "superseded", "area x depth x porosity", "none stated",
        _minnesota_porosity,
    ),
    "interception-5-percent": Rule(
        "England", "Environment Agency, quoting CIRIA C644", "2007", "5 % of the build-up above the waterproofing",
        "none stated", _interception,
    ),
    "paris-region": Rule(
        "Paris region", "French handbook of sewerage, table 21 (level roofs)", "2017", "rain kept per event, by depth",
        "by band of depth", _french,
    ),
    **{
        f"storage-{litres:g}": Rule(
            place, "page of the grant, as read", "check the edition in force",
            f"at least {litres:g} L/m² of storage, shown by a calculation and data sheets",
            "a threshold, no credit beyond it" + (", medium of at least 40 mm" if least else ""), _threshold(litres, least),
        )
        for litres, place, least in (
            (15.0, "Geldrop-Mierlo", 0.0), (20.0, "Vught", 0.0), (25.0, "Breda", 40.0), (30.0, "Westerkwartier", 0.0),
            (35.0, "Flanders", 0.0),
        )
    },
    "curve-number-84": Rule(
        "no place: a study of 21 roofs", "Fassman-Beck et al., Journal of Hydrologic Engineering 21(3)", "2016",
        "rain less runoff by curve number 84, from 30 mm upwards", "none stated", _curve_number_84,
    ),
}  # fmt: skip

WHY_THEY_DIFFER = (
    "The rules differ because they count different things. One takes the water plants can draw from the medium, one all the water it holds once "
    "drained. One takes every pore, though water above field capacity drains away. One takes a share of the depth, whatever the "
    "material, and one what was kept per event where the rule was written. None knows the climate of this roof, its cups, how wet it is when the "
    "rain begins, or how fast it dries. The balance does: its three numbers are for a dry, a typical and a wet day before the rain."
)


def depth_above_waterproofing(build_up: BuildUp) -> float:
    """Return the depth of everything above the waterproofing, mm; its protection mat is counted to the waterproofing."""
    counted = ("mulch", "medium", "fleece", "board")
    return float(sum(one.height_taken_mm or 0.0 for one in build_up.layers if one.word in counted))


def credit_figures(roof: Roof, rules: tuple[str, ...]) -> xr.Dataset:
    """Return the credit of each rule along ``rule``: ``credit_low_mm`` and ``credit_high_mm`` per planted area, and m3."""
    if not rules:
        return xr.Dataset()
    found = [RULES[name].credit(roof) for name in rules]
    planted = roof.area_m2 * roof.planted_fraction
    low, high = (np.array([getattr(one, name) for one in found]) for name in ("low_mm", "high_mm"))
    return xr.Dataset(
        {
            "credit_low_mm": ("rule", low, {"units": "mm"}),
            "credit_high_mm": ("rule", high, {"units": "mm"}),
            "credit_low_m3": ("rule", volume_m3(low, planted), {"units": "m3"}),
            "credit_high_m3": ("rule", volume_m3(high, planted), {"units": "m3"}),
        },
        coords={"rule": list(rules)},
    )
