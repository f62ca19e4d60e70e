"""Allowances, packs and ways up that an order rests on: inputs, each with a usual value to start from."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator

from runoff.roof.frozen_model import Described, Fraction, NotNegative, Positive
from runoff.roof.layers import LAYERS
from runoff.roof.layers.order_items import Sheets

Count = Annotated[int, Field(ge=1)]


class OrderRules(Described):
    """How materials are ordered, packed and lifted; every default is common practice, no source, unless it says so.

    Parameters
    ----------
    settlement
        Loose volume over the volume in place, less one, of medium and mulch. Default 0.15.
    medium_waste, mulch_waste, sheet_waste, insulation_waste, gravel_waste
        Share ordered on top. Defaults 0.05.
    plug_waste
        Share of plugs ordered on top. Default 0.05.
    sack_m3
        Volume of a sack of medium, m3. Default 1.133: a bulk sack of 40 ft3, which covers 200 ft2 at 61 mm.
    mulch_sack_m3
        Volume of a sack of compost or wood chip, m3. Default 0.05: a bag of 50 L.
    gravel_sack_m3
        Volume of a sack of gravel, m3. Default 0.5, some 800 kg.
    sack_footprint_m2
        Ground one sack or pallet needs when it is set down, m2. Default 1.0.
    sacks_per_pallet, bags_per_pallet
        Sacks of medium and gravel, and bags of mulch, on one pallet. Defaults 1, for bulk sacks, and 40.
    moisture
        Water in medium and mulch as delivered, mass per dry mass. Default 0.15.
    lift_limit_kg
        What the hoist takes at once, kg; None: it takes the heaviest pack, one at a time.
    carry_kg
        What one person carries up at once, kg. Default 20; local rules on lifting by hand may say less.
    people
        People who carry. Default 4.
    compost_parts, wood_chip_parts
        Parts by volume in the mulch. Default equal parts.
    plugs_per_m2
        Plugs planted per square metre. Default 20, about two per square foot.
    plugs_per_tray
        Default 72.
    plug_tray_kg
        Mass of a watered tray of plugs, kg. Default 8 (from memory).
    fleece_width_m, board_width_m, mat_width_m, membrane_width_m
        Width of rolls or sheets, m. Defaults 2, 1, 2 and 2.
    fleece_length_m, board_length_m, mat_length_m, membrane_length_m
        Length of rolls or sheets, m. Defaults 50, 2, 25 and 5.
    fleece_overlap_m, board_overlap_m, mat_overlap_m, membrane_overlap_m
        Overlap at each joint, m. Defaults 0.10, 0.05, 0.10 and 0.10.
    roll_m
        Thickness of a roll, m. Default 0.4.
    stack_m
        Height of a stack of boards or slabs, m. Default 1.0.
    slab_m2
        Area of a slab of insulation, m2. Default 0.72.
    gravel_density_kg_per_m3
        Bulk density of gravel, kg/m3. Default 1600 (from memory).
    """

    settlement: Fraction = 0.15
    medium_waste: Fraction = 0.05
    mulch_waste: Fraction = 0.05
    sheet_waste: Fraction = 0.05
    insulation_waste: Fraction = 0.05
    gravel_waste: Fraction = 0.05
    plug_waste: Fraction = 0.05
    sack_m3: Positive = 40.0 * 0.3048**3
    mulch_sack_m3: Positive = 0.05
    gravel_sack_m3: Positive = 0.5
    sack_footprint_m2: Positive = 1.0
    sacks_per_pallet: Count = 1
    bags_per_pallet: Count = 40
    moisture: NotNegative = 0.15
    lift_limit_kg: Positive | None = None
    carry_kg: Positive = 20.0
    people: Count = 4
    compost_parts: NotNegative = 1.0
    wood_chip_parts: NotNegative = 1.0
    plugs_per_m2: NotNegative = 20.0
    plugs_per_tray: Count = 72
    plug_tray_kg: Positive = 8.0
    fleece_width_m: Positive = 2.0
    board_width_m: Positive = 1.0
    mat_width_m: Positive = 2.0
    membrane_width_m: Positive = 2.0
    fleece_length_m: Positive = 50.0
    board_length_m: Positive = 2.0
    mat_length_m: Positive = 25.0
    membrane_length_m: Positive = 5.0
    fleece_overlap_m: NotNegative = 0.10
    board_overlap_m: NotNegative = 0.05
    mat_overlap_m: NotNegative = 0.10
    membrane_overlap_m: NotNegative = 0.10
    roll_m: Positive = 0.4
    stack_m: Positive = 1.0
    slab_m2: Positive = 0.72
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
