"""What to order for a roof, how it arrives and how it gets up: volumes, sacks, sheets, plugs, lifts.

Media are ordered loose and settle on the roof; sheets overlap; some of everything is cut away. These allowances are
inputs: the defaults are common practice without a source. Trade facts behind the default sack: one bulk sack of 40 ft3
covers 200 ft2 (61 mm deep), so 800 ft2 take four; plugs come in trays of 72; mulch is equal parts compost and wood chip
(common practice, no source).
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Annotated, Any

from pydantic import Field, model_validator

from runoff.errors import RoofError
from runoff.roof.frozen_model import Described, Fraction, NotNegative, Positive
from runoff.roof.layers import LAYERS, Layer
from runoff.roof.layers.order_items import Loose, Plugs, Sheets, Slabs
from runoff.saying.scales import scale_of
from runoff.units import convert

if TYPE_CHECKING:
    import pandas as pd

    from runoff.roof.description import Roof

HANDLING_CAUTION = (
    "A full sack loads the small area under it far more than the finished roof does. Where material may be set down, and "
    "how much at a time, is for a licensed structural engineer; lifting and work near the edge follow local safety law. "
    "Masses are estimates from dry density and moisture: weigh the first sack."
)
# what is ordered in units of a table, and as what it is shown; all else is counted in pieces
_KINDS = {"m2": "area", "m3": "bulk volume", "kg": "mass", "kg/m2": "load"}
_ROUNDING = 1e-9  # a quantity this close under a whole number of sacks is that number


class OrderRules(Described):
    """How materials are ordered, packed and lifted; every default is common practice, no source, unless it says so.

    Parameters
    ----------
    settlement
        Loose volume over the volume in place, less one, of medium and mulch. Default 0.15.
    medium_waste, mulch_waste, sheet_waste, insulation_waste
        Share ordered on top. Defaults 0.05.
    plug_waste
        Share of plugs ordered on top. Default 0.05.
    sack_m3
        Volume of a sack, m3. Default 1.133: a bulk sack of 40 ft3.
    sack_footprint_m2
        Ground one sack needs when it is set down, m2. Default 1.0.
    sacks_per_pallet
        Sacks on one pallet. Default 1, for bulk sacks; small sacks of 0.05 m3 come some 40 to a pallet.
    moisture
        Water in medium and mulch as delivered, mass per dry mass. Default 0.15.
    lift_limit_kg
        What the hoist takes at once, kg; None: one sack a lift.
    compost_parts, wood_chip_parts
        Parts by volume in the mulch. Default equal parts.
    plugs_per_m2
        Plugs planted per square metre. Default 20, about two per square foot.
    plugs_per_tray
        Default 72.
    fleece_width_m, board_width_m, mat_width_m, membrane_width_m
        Width of rolls or sheets, m. Defaults 2, 1, 2 and 2.
    fleece_overlap_m, board_overlap_m, mat_overlap_m, membrane_overlap_m
        Overlap at each joint, m. Defaults 0.10, 0.05, 0.10 and 0.10.
    gravel_depth_mm
        Depth of the gravel that covers the unplanted part, mm. Default 50.
    gravel_density_kg_per_m3
        Bulk density of gravel, kg/m3. Default 1600 (from memory).
    """

    settlement: Fraction = 0.15
    medium_waste: Fraction = 0.05
    mulch_waste: Fraction = 0.05
    sheet_waste: Fraction = 0.05
    insulation_waste: Fraction = 0.05
    plug_waste: Fraction = 0.05
    sack_m3: Positive = 40.0 * 0.3048**3
    sack_footprint_m2: Positive = 1.0
    sacks_per_pallet: Annotated[int, Field(ge=1)] = 1
    moisture: NotNegative = 0.15
    lift_limit_kg: Positive | None = None
    compost_parts: NotNegative = 1.0
    wood_chip_parts: NotNegative = 1.0
    plugs_per_m2: NotNegative = 20.0
    plugs_per_tray: Annotated[int, Field(ge=1)] = 72
    fleece_width_m: Positive = 2.0
    board_width_m: Positive = 1.0
    mat_width_m: Positive = 2.0
    membrane_width_m: Positive = 2.0
    fleece_overlap_m: NotNegative = 0.10
    board_overlap_m: NotNegative = 0.05
    mat_overlap_m: NotNegative = 0.10
    membrane_overlap_m: NotNegative = 0.10
    gravel_depth_mm: NotNegative = 50.0
    gravel_density_kg_per_m3: Positive = 1600.0

    @model_validator(mode="after")
    def _consistent(self) -> OrderRules:
        items = (kind.order_item for kind in LAYERS.values())
        pairs = dict.fromkeys((one.overlap, one.width) for one in items if isinstance(one, Sheets))
        faults = [
            f"{overlap} must be less than {width} (you wrote {getattr(self, overlap):g} and {getattr(self, width):g})"
            for overlap, width in pairs
            if getattr(self, overlap) >= getattr(self, width)
        ]
        if self.compost_parts + self.wood_chip_parts == 0:
            faults.append("compost_parts and wood_chip_parts cannot both be 0")
        if faults:
            raise ValueError("\n".join(faults))
        return self


class _Bill:
    """The rows of a bill as they are written down."""

    def __init__(self) -> None:
        self.rows: list[dict[str, Any]] = []

    def add(self, layer: str, item: str, quantity: float, unit: str, basis: str) -> None:
        us_unit = scale_of(_KINDS[unit]).us if unit in _KINDS else unit
        self.rows.append(
            {
                "layer": layer,
                "item": item,
                "quantity": float(quantity),
                "unit": unit,
                "us_quantity": float(convert(quantity, unit, us_unit)) if us_unit != unit else float(quantity),
                "us_unit": us_unit,
                "basis": basis,
            }
        )


def bill_of_quantities(roof: Roof, rules: OrderRules | None = None) -> pd.DataFrame:
    """Return what to order for a roof, and how it arrives.

    Parameters
    ----------
    roof
        The roof. Medium, mulch, plants, fleece, board and mat cover the planted part, insulation and membrane the whole
        roof; upstands and edges are not counted.
    rules
        Allowances, packing and lifting; default `OrderRules`.

    Returns
    -------
    pandas.DataFrame
        One row per quantity: ``layer``, ``item``, ``quantity`` and ``unit``, the same in US units, and ``basis``: how
        it was worked out. ``attrs["caution"]`` belongs beside it.

    Raises
    ------
    RoofError
        When one sack weighs more than the hoist may lift.

    Examples
    --------
    >>> import runoff
    >>> bill = bill_of_quantities(runoff.open_sample_roof("cups"))
    >>> float(bill.set_index("item").quantity["trays of plugs"])
    30.0
    """
    import pandas as pd

    rules = rules or OrderRules()
    bill = _Bill()
    planted = roof.area_m2 * roof.planted_fraction
    bill.add("roof", "planted area", planted, "m2", f"{roof.area_m2:g} m2 x {roof.planted_fraction:g}")
    for layer in roof.build_up.layers:
        item = layer.order_item
        if isinstance(item, Plugs):
            _add_plugs(bill, layer, item, planted, rules)
        elif isinstance(item, Loose):
            _add_loose(bill, layer, item, planted, rules)
        elif isinstance(item, Slabs):
            _add_slabs(bill, layer, item, roof.area_m2, rules)
        else:
            _add_sheets(bill, layer, item, roof.area_m2 if item.whole_roof else planted, rules)
    bare = roof.area_m2 - planted
    if roof.other_surface.kind == "gravel" and bare > 0:
        gravel = bare * rules.gravel_depth_mm / 1000.0
        bill.add("other surface", "gravel", gravel, "m3", f"{bare:g} m2 x {rules.gravel_depth_mm:g} mm")
        mass = gravel * rules.gravel_density_kg_per_m3
        bill.add("other surface", "gravel, mass", mass, "kg", f"at {rules.gravel_density_kg_per_m3:g} kg/m3")
    table = pd.DataFrame(bill.rows)
    table.attrs["caution"] = HANDLING_CAUTION
    return table


def whole(quantity: float) -> int:
    """Return the whole number of packages that hold a quantity; rounding noise does not order one more."""
    return math.ceil(quantity * (1.0 - _ROUNDING))


def _add_plugs(bill: _Bill, layer: Layer, item: Plugs, area: float, rules: OrderRules) -> None:
    waste = getattr(rules, item.waste)
    plugs = whole(area * rules.plugs_per_m2 * (1.0 + waste))
    bill.add(layer.word, item.what, plugs, "pieces", f"{rules.plugs_per_m2:g} per m2 and {waste:.0%} more")
    trays = whole(plugs / rules.plugs_per_tray)
    bill.add(layer.word, f"trays of {item.what}", trays, "trays", f"{rules.plugs_per_tray} a tray")


def _add_loose(bill: _Bill, layer: Layer, item: Loose, area: float, rules: OrderRules) -> None:
    """Add a medium or mulch: in place, as ordered, in sacks, and on the hoist."""
    word, what, waste = layer.word, item.what, getattr(rules, item.waste)
    depth_m = layer.height_taken_mm / 1000.0
    density, held = layer.dry_mass_kg_per_m2 / depth_m, layer.drained_water_mm / depth_m  # kg/m3 in place
    in_place = area * depth_m
    loose = in_place * (1.0 + rules.settlement) * (1.0 + waste)
    bill.add(word, f"{what}, in place", in_place, "m3", f"{area:g} m2 x {layer.height_taken_mm:g} mm")
    bill.add(word, f"{what}, ordered", loose, "m3", f"loose: {rules.settlement:.0%} settlement, {waste:.0%} waste")
    shares = {name: getattr(rules, field) for name, field in item.parts}
    for name, share in shares.items():
        whole_mix = sum(shares.values())
        bill.add(word, name, loose * share / whole_mix, "m3", f"{share:g} of {whole_mix:g} parts by volume")
    sacks = whole(loose / rules.sack_m3)
    delivered = rules.sack_m3 * density * (1.0 + rules.moisture) / (1.0 + rules.settlement)
    soaked = rules.sack_m3 * (density + held) / (1.0 + rules.settlement)
    bill.add(
        word,
        f"{what}, sacks",
        sacks,
        "sacks",
        f"{rules.sack_m3:.4g} m3 ({convert(rules.sack_m3, 'm3', 'ft3'):.3g} ft3) each",
    )
    if rules.sacks_per_pallet > 1:
        pallets = whole(sacks / rules.sacks_per_pallet)
        bill.add(word, f"{what}, pallets", pallets, "pallets", f"{rules.sacks_per_pallet} sacks each")
    bill.add(word, f"{what}, one sack as delivered", delivered, "kg", f"{rules.moisture:.0%} moisture by mass")
    bill.add(word, f"{what}, one sack after rain", soaked, "kg", "at field capacity; keep sacks covered")
    footprint = sacks * rules.sack_footprint_m2
    bill.add(word, f"{what}, staging footprint", footprint, "m2", f"{rules.sack_footprint_m2:g} m2 a sack, not stacked")
    under = soaked / rules.sack_footprint_m2
    bill.add(word, f"{what}, load under a staged sack", under, "kg/m2", "after rain, over its footprint")
    _add_lifts(bill, word, what, sacks, delivered, rules)


def _add_lifts(bill: _Bill, word: str, what: str, sacks: int, sack_kg: float, rules: OrderRules) -> None:
    at_once = 1
    if rules.lift_limit_kg is not None:
        at_once = math.floor(rules.lift_limit_kg / sack_kg * (1.0 + _ROUNDING))
        if at_once == 0:
            raise RoofError(
                f"bill of quantities: a sack of {what} weighs {sack_kg:.0f} kg as delivered, more than lift_limit_kg "
                f"({rules.lift_limit_kg:g}); order smaller sacks (sack_m3) or a stronger hoist"
            )
    lifts = whole(sacks / at_once)
    bill.add(word, f"{what}, lifts", lifts, "lifts", f"{at_once} sack{'s' if at_once > 1 else ''} a lift")
    heaviest = min(at_once, sacks) * sack_kg
    bill.add(word, f"{what}, hoist mass per lift", heaviest, "kg", "as delivered, without slings and pallet")


def _add_sheets(bill: _Bill, layer: Layer, item: Sheets, area: float, rules: OrderRules) -> None:
    width, overlap, waste = getattr(rules, item.width), getattr(rules, item.overlap), getattr(rules, item.waste)
    sheets = area * width / (width - overlap) * (1.0 + waste)
    mass = layer.dry_mass_kg_per_m2
    bill.add(layer.word, item.what, sheets, "m2", f"{overlap:g} m overlap on {width:g} m width, {waste:.0%} waste")
    bill.add(layer.word, f"{item.what}, mass", sheets * mass, "kg", f"{mass:g} kg/m2, dry")


def _add_slabs(bill: _Bill, layer: Layer, item: Slabs, area: float, rules: OrderRules) -> None:
    waste, mass, thick = getattr(rules, item.waste), layer.dry_mass_kg_per_m2, layer.height_taken_mm
    slabs = area * (1.0 + waste)
    bill.add(layer.word, item.what, slabs, "m2", f"{waste:.0%} waste, butted")
    bill.add(layer.word, f"{item.what}, volume", slabs * thick / 1000.0, "m3", f"{thick:g} mm")
    bill.add(layer.word, f"{item.what}, mass", slabs * mass, "kg", f"{mass:g} kg/m2")
