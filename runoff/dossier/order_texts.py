"""What the order sheet says beside its numbers: the days of a delivery, what to look at, and the cautions of a builder."""

from __future__ import annotations

from typing import NamedTuple

from runoff.roof.order_packing import Stage


class Day(NamedTuple):
    """One day of the delivery: its title, what must be so before it begins, and what is looked at before it ends."""

    title: str
    before: tuple[str, ...]
    after: tuple[str, ...]


DAYS: dict[Stage, Day] = {
    "waterproofing": Day(
        "Waterproofing and insulation",
        (
            "Deck swept, dry and free of sharp grit; outlets found, open and marked.",
            "Dry weather for as long as the membrane needs; fire permit where it is torched.",
        ),
        (
            "Seams, upstands and outlet collars looked at and photographed before anything covers them.",
            "Watertightness tested as the local rules ask, and the record kept.",
        ),
    ),
    "drainage": Day(
        "Mats, boards and fleece",
        (
            "Membrane accepted; nobody walks on it in hard shoes, nothing is dragged over it.",
            "Little wind: mats and boards are not unpacked otherwise.",
        ),
        (
            "Boards the way up that the design says; joints overlapped; fleece turned up at all edges.",
            "Everything weighted down or covered by the medium the same day; outlets and inspection chambers free.",
        ),
    ),
    "medium": Day(
        "Growing medium and gravel",
        (
            "Places where sacks may be set down, and how many at a time, marked as the engineer said.",
            "The first sack weighed: heavier than this sheet says means fewer at a time.",
        ),
        (
            "Spread as it comes up, never heaped; depth measured at several places and written down.",
            "Gravel laid along edges and around outlets; outlets run freely when water is poured on.",
        ),
    ),
    "planting": Day(
        "Planting and mulch",
        (
            "Water at hand on the roof: a tap or tank and a hose that reaches every corner, tried out.",
            "Plugs stand in the shade and are moist; no more come up than can be planted the same day.",
        ),
        (
            "Watered in until the outlets just begin to run; watered again as the plants ask in the first weeks.",
            "Trays, sacks and wrapping taken down; outlets and gutters free of chips and medium.",
        ),
    ),
}

CAUTIONS = (
    "Never set pallets, full sacks or heaps of medium down on the deck unless a licensed structural engineer has said where and how "
    "many. Set down over beams or walls, on boards that spread the load, and spread the material at once.",
    "Mats, boards and fleece blow away: unpack only what is weighted down at once, and nothing in wind.",
    "Everyone within reach of an edge, an opening or a rooflight is secured or kept away by barriers, as the local safety law asks. "
    "Nobody works alone, and nobody stands below a lift.",
    "Hoist, crane and slings are handled by people who are trained for it; masses here are without slings and pallets.",
    "Planting day needs water at hand, and a second day's water if it stays dry: plugs that dry out on the roof are lost.",
    "Keep sacks covered: after rain they weigh what the column for it says, or more.",
    "Pavements, roads and hydrants are public: ask before they are used, and keep a way for people.",
)

#: What an allowance or a pack is called where its name does not say it.
RULE_WORDS = {
    "moisture": "water as delivered, by dry mass",
    "sack_m3": "sack of medium",
    "mulch_sack_m3": "bag of mulch parts",
    "gravel_sack_m3": "sack of gravel",
    "sack_footprint_m2": "footprint of a sack",
    "sacks_per_pallet": "sacks on a pallet",
    "bags_per_pallet": "bags on a pallet",
    "lift_limit_kg": "hoist lifts at once",
    "carry_kg": "one person carries",
    "people": "people carrying",
    "plugs_per_m2": "plugs a square metre",
    "plugs_per_tray": "plugs in a tray",
    "plug_tray_kg": "watered tray of plugs",
    "roll_m": "thickness of a roll",
    "stack_m": "stack of boards or slabs",
    "slab_m2": "slab of insulation",
    "gravel_density_kg_per_m3": "density of gravel",
}
