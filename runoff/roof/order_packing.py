"""From layers to what is ordered: one line per material, with its packs, its masses, and the way up.

Media are ordered loose and settle on the roof; sheets overlap; some of everything is cut away. What a layer is ordered as
is said by the layer itself (`runoff.roof.layers.order_items`), how much is allowed by `OrderRules`.
"""

from __future__ import annotations

import dataclasses
import math
from typing import TYPE_CHECKING, Literal

from runoff.roof.layers import Layer
from runoff.roof.layers.order_items import Loose, Plugs, Sheets, Slabs
from runoff.roof.order_rules import OrderRules
from runoff.saying.scales import say
from runoff.units import convert

if TYPE_CHECKING:
    from runoff.roof.description import Roof

#: Mass of drained gravel after rain over its dry mass (from memory).
_WET_GRAVEL = 1.05
Stage = Literal["waterproofing", "drainage", "medium", "planting"]
_ROUNDING = 1e-9  # a quantity this close under a whole number of sacks is that number
#: Shorter pieces come as sheets, longer ones rolled up, m.
_SHEET_M = 3.0


@dataclasses.dataclass(frozen=True, kw_only=True)
class OrderLine:
    """One material to order.

    Parameters
    ----------
    layer, item
        Word of its layer, and what it is.
    stage
        When it goes up.
    unit
        ``m3``, ``m2`` or ``pieces``: unit of what lies on the roof and of what is ordered.
    in_place, ordered
        Amount on the roof, and to order with settlement, overlap and waste.
    how, how_us
        How the one became the other, in words of either unit system.
    pack, packs
        What a pack is called, and how many.
    pack_amount
        What a pack holds, in `unit`.
    packs_per_pallet
        Packs on a pallet or in a stack that is set down.
    pack_kg, pack_wet_kg
        Mass of a full pack as delivered, and after rain.
    mass_kg, wet_kg
        Mass of what is ordered as delivered, and after rain; packs that are not full counted as they are.
    footprint_m2
        Ground it needs side by side, nothing stacked but what comes stacked.
    lifts, lift_kg
        Ways of the hoist, and the heaviest of them.
    trips
        Ways up of one person.
    """

    layer: str
    item: str
    stage: Stage
    unit: str
    in_place: float
    ordered: float
    how: str
    how_us: str
    pack: str
    packs: int
    pack_amount: float
    packs_per_pallet: int
    pack_kg: float
    pack_wet_kg: float
    mass_kg: float
    wet_kg: float
    footprint_m2: float
    lifts: int
    lift_kg: float
    trips: int

    def how_in(self, system: str) -> str:
        """Return how the amount to order follows from that on the roof, in the words of a unit system."""
        return self.how if system == "si" else self.how_us

    @property
    def pallets(self) -> int:
        """Pallets or stacks that are set down."""
        return whole(self.packs / self.packs_per_pallet)


def whole(quantity: float) -> int:
    """Return the whole number of packages that hold a quantity; rounding noise does not order one more."""
    return math.ceil(quantity * (1.0 - _ROUNDING))


@dataclasses.dataclass(frozen=True, kw_only=True)
class _Material:
    """A line before it is packed: amounts, and masses of one unit."""

    layer: str
    item: str
    stage: Stage
    unit: str
    in_place: float
    ordered: float
    how: str
    how_us: str
    pack: str
    pack_amount: float
    unit_kg: float
    unit_wet_kg: float
    packs_per_pallet: int = 1
    pallet_m2: float = 1.0


def order_lines(roof: Roof, rules: OrderRules) -> tuple[OrderLine, ...]:
    """Return what to order for a roof, from the deck upwards.

    Parameters
    ----------
    roof
        Medium, mulch, plants, fleece, board and mat cover the planted part, insulation and membrane the whole roof;
        upstands and edges are not counted.
    rules
        Allowances, packing and lifting.
    """
    materials: list[_Material] = []
    planted = roof.area_m2 * roof.planted_fraction
    above_medium = False
    stages: dict[str, Stage] = {}
    for layer in reversed(roof.build_up.layers):  # from the deck upwards
        stages[layer.word] = _stage(layer, above_medium)
        above_medium = above_medium or layer.word == "medium"
    for layer in reversed(roof.build_up.layers):
        materials += _materials(layer, stages[layer.word], planted, roof.area_m2, rules)
        if layer.word == "medium":
            materials += _gravel(roof, roof.area_m2 - planted, rules)
    heaviest = max((one.pack_amount * one.unit_kg for one in materials), default=0.0)
    return tuple(_packed(one, rules, rules.lift_limit_kg or heaviest) for one in materials)


def _more(share: float) -> str:
    return f"{100.0 * share:g} %"


def _stage(layer: Layer, above_medium: bool) -> Stage:
    if layer.lowermost:
        return "waterproofing"
    if above_medium:
        return "planting"
    return "medium" if isinstance(layer.order_item, Loose) else "drainage"


def _materials(layer: Layer, stage: Stage, planted: float, whole_roof: float, rules: OrderRules) -> list[_Material]:
    item = layer.order_item
    if isinstance(item, Plugs):
        return [_plugs(layer, item, stage, planted, rules)]
    if isinstance(item, Loose):
        return _loose(layer, item, stage, planted, rules)
    if isinstance(item, Slabs):
        return [_slabs(layer, item, stage, whole_roof, rules)]
    return [_sheets(layer, item, stage, whole_roof if item.whole_roof else planted, rules)]


def _plugs(layer: Layer, item: Plugs, stage: Stage, area: float, rules: OrderRules) -> _Material:
    waste, each = getattr(rules, item.waste), rules.plug_tray_kg / rules.plugs_per_tray
    return _Material(
        layer=layer.word, item=item.what, stage=stage, unit="pieces",
        in_place=area * rules.plugs_per_m2, ordered=float(whole(area * rules.plugs_per_m2 * (1.0 + waste))),
        how=f"{rules.plugs_per_m2:g} per m2, {_more(waste)} more",
        how_us=f"{rules.plugs_per_m2 / convert(1.0, 'm2', 'ft2'):.2g} per ft2, {_more(waste)} more",
        pack="trays", pack_amount=float(rules.plugs_per_tray), unit_kg=each, unit_wet_kg=each,
        packs_per_pallet=40, pallet_m2=rules.sack_footprint_m2,
    )  # fmt: skip


def _loose(layer: Layer, item: Loose, stage: Stage, area: float, rules: OrderRules) -> list[_Material]:
    """Return what is poured from sacks; a mix is ordered by its parts, each taken to weigh what the mix weighs."""
    depth_m, waste = layer.height_taken_mm / 1000.0, getattr(rules, item.waste)
    loose = (1.0 + rules.settlement) * (1.0 + waste)
    dry, held = layer.dry_mass_kg_per_m2 / depth_m, layer.drained_water_mm / depth_m  # kg/m3 in place
    parts = {name: getattr(rules, field) for name, field in item.parts} or {item.what: 1.0}
    sack, pallet = (
        (rules.mulch_sack_m3, rules.bags_per_pallet) if item.parts else (rules.sack_m3, rules.sacks_per_pallet)
    )
    found = []
    for name, part in parts.items():
        share = part / sum(parts.values())
        if share == 0.0:
            continue
        of = f", {part:g} of {sum(parts.values()):g} parts by volume" if item.parts else ""
        in_place = area * depth_m * share

        def how(system: str, in_place: float = in_place, of: str = of) -> str:
            poured = say(in_place * (1.0 + rules.settlement), "m3", "bulk volume", system)
            return f"{_more(rules.settlement)} settlement ({poured} loose), {_more(waste)} waste{of}"

        material = _Material(
            layer=layer.word, item=f"{item.what}: {name}" if item.parts else name, stage=stage, unit="m3",
            in_place=in_place, ordered=in_place * loose, how=how("si"), how_us=how("us"),
            pack="bags" if item.parts else "sacks", pack_amount=sack,
            unit_kg=dry * (1.0 + rules.moisture) / (1.0 + rules.settlement),
            unit_wet_kg=(dry + held) / (1.0 + rules.settlement),
            packs_per_pallet=pallet, pallet_m2=rules.sack_footprint_m2,
        )  # fmt: skip
        found.append(material)
    return found


def _gravel(roof: Roof, bare: float, rules: OrderRules) -> list[_Material]:
    if roof.other_surface.kind != "gravel" or bare <= 1e-9 * roof.area_m2 or roof.other_surface.depth_mm == 0.0:
        return []
    volume = bare * roof.other_surface.depth_mm / 1000.0

    def how(system: str) -> str:
        deep = say(roof.other_surface.depth_mm, "mm", "layer depth", system)
        return f"strips and margins that are not planted, {deep} deep, {_more(rules.gravel_waste)} waste"

    material = _Material(
        layer="other surface", item="gravel", stage="medium", unit="m3",
        in_place=volume, ordered=volume * (1.0 + rules.gravel_waste), how=how("si"), how_us=how("us"),
        pack="sacks", pack_amount=rules.gravel_sack_m3,
        unit_kg=rules.gravel_density_kg_per_m3, unit_wet_kg=_WET_GRAVEL * rules.gravel_density_kg_per_m3,
        packs_per_pallet=rules.sacks_per_pallet, pallet_m2=rules.sack_footprint_m2,
    )  # fmt: skip
    return [material]


def _sheets(layer: Layer, item: Sheets, stage: Stage, area: float, rules: OrderRules) -> _Material:
    width, length = getattr(rules, item.width), getattr(rules, item.length)
    overlap, waste = getattr(rules, item.overlap), getattr(rules, item.waste)
    mass = layer.dry_mass_kg_per_m2
    rolled = length > _SHEET_M

    def how(system: str) -> str:
        joint = say(1000.0 * overlap, "mm", "layer depth", system)
        return f"{joint} overlap on {say(width, 'm', system=system)} width, {_more(waste)} waste"

    piled = 1 if rolled else max(1, int(rules.stack_m / max(layer.height_taken_mm / 1000.0, 1e-3)))
    return _Material(
        layer=layer.word, item=item.what, stage=stage, unit="m2", in_place=area,
        ordered=area * width / (width - overlap) * (1.0 + waste),
        how=how("si"), how_us=how("us"),
        pack="rolls" if rolled else "sheets", pack_amount=width * length,
        unit_kg=mass, unit_wet_kg=mass + (layer.drained_water_mm if layer.look == "fabric" else 0.0),
        packs_per_pallet=piled, pallet_m2=width * (rules.roll_m if rolled else length),
    )  # fmt: skip


def _slabs(layer: Layer, item: Slabs, stage: Stage, area: float, rules: OrderRules) -> _Material:
    waste, mass = getattr(rules, item.waste), layer.dry_mass_kg_per_m2
    how = f"butted, {_more(waste)} waste"
    return _Material(
        layer=layer.word, item=item.what, stage=stage, unit="m2",
        in_place=area, ordered=area * (1.0 + waste), how=how, how_us=how,
        pack="slabs", pack_amount=rules.slab_m2, unit_kg=mass, unit_wet_kg=mass,
        packs_per_pallet=max(1, int(rules.stack_m * 1000.0 / layer.height_taken_mm)), pallet_m2=rules.slab_m2,
    )  # fmt: skip


def _packed(one: _Material, rules: OrderRules, lift_kg: float) -> OrderLine:
    """Return a line with its packs, the lifts they take and the trips of people."""
    packs = whole(one.ordered / one.pack_amount)
    pack_kg, mass = one.pack_amount * one.unit_kg, one.ordered * one.unit_kg
    at_once = max(1, int(lift_kg / pack_kg * (1.0 + _ROUNDING))) if pack_kg > 0 else packs
    in_hand = int(rules.carry_kg / pack_kg * (1.0 + _ROUNDING)) if pack_kg > 0 else packs
    return OrderLine(
        layer=one.layer, item=one.item, stage=one.stage, unit=one.unit, in_place=one.in_place, ordered=one.ordered,
        how=one.how, how_us=one.how_us, pack=one.pack, packs=packs, pack_amount=one.pack_amount, packs_per_pallet=one.packs_per_pallet,
        pack_kg=pack_kg, pack_wet_kg=one.pack_amount * one.unit_wet_kg, mass_kg=mass, wet_kg=one.ordered * one.unit_wet_kg,
        footprint_m2=whole(packs / one.packs_per_pallet) * one.pallet_m2,
        lifts=whole(packs / at_once) if packs else 0, lift_kg=min(at_once, packs) * pack_kg,
        # a pack that is too heavy for one pair of hands is opened and carried in parts
        trips=whole(packs / in_hand) if in_hand else whole(mass / rules.carry_kg),
    )  # fmt: skip
