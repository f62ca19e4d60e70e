"""The fixed words of a dossier: upkeep plan, assumptions, what the model does not know, glossary.

Rules that came from a public source name it; the rest is marked as common practice. Numbers here are rules or
definitions, never results.
"""

from __future__ import annotations

from typing import NamedTuple


class Task(NamedTuple):
    """One line of the upkeep plan."""

    what: str
    when: str
    source: str


UPKEEP = (
    Task(
        "Outlets, gutters, emergency overflow, inspection chambers: open, look, clear",
        "At least twice a year; always before and after the leaf fall and before the rainy season; monthly while it "
        "lasts",
        "Twice a year: UK practice and guidance of Washington State; monthly in autumn and spring rains: Washington State",
    ),
    Task(
        "Standing water: look for puddles on the medium and at the outlets",
        "Two days after heavy rain",
        "Model building codes in the United States: a roof is to drain within 48 h of rain",
    ),
    Task(
        "Strip free of plants along edges and around outlets: gravel, 300 to 500 mm (12 to 20 in) wide",
        "Keep clear at every visit",
        "Common practice, no source",
    ),
    Task(
        "Weeds and tree seedlings: pull by hand, roots included",
        "Monthly in the first growing season, then at each inspection",
        "Guidance of Washington State for the first season; common practice, no source, after it",
    ),
    Task(
        "Plant cover: estimate it, replant bare patches",
        "Once a year; aim for at least 90 % cover",
        "Guidance of Washington State",
    ),
    Task(
        "Water new planting",
        "In dry spells of the first two to three years",
        "Guidance of Washington State; later by climate",
    ),
    Task(
        "Depth and surface of the medium: settlement, wind or water scour, mulch",
        "Once a year; top up to the depth of this dossier",
        "Common practice, no source",
    ),
    Task(
        "Membrane, upstands, flashings, penetrations where they can be seen",
        "Once a year and after storms, by a trained person",
        "Common practice, no source; see the warranty of the membrane",
    ),
)

ASSUMPTIONS = (
    "The build-up is as described and of even depth. The planted area is one plane with the fall given, and water that cannot "
    "leave stands as a wedge at its low end; all else is worked out for one square metre that stands for the whole.",
    "Overflow leaves before evaporation acts on the day's water. Both orders are in use [1, example 38 and "
    "Eq. 88]; this one gives more overflow on a wet day and is on the safe side for a claim of capture.",
    "Rain falls evenly over the roof and over the day. There is no irrigation.",
    "The weather of the record stands for the years to come; a changing climate is not in the ranges.",
    "Evapotranspiration falls linearly to the wilting point as the medium dries; plants are established and cover the medium.",
    "Outlets and drainage layer work as described in every year: the maintenance plan of section 8 is carried out.",
)

#: Said where the roof gets none; run-on that it gets is told among what its description takes.
NO_RUN_ON = "No water runs on to this roof from walls or higher roofs: none is described."

UNKNOWN = (
    "The health of the plants: drought damage, disease, bare patches, weeds.",
    "Ageing: settlement, loss of fines, humus building up, roots filling pores, cups silting up.",
    "Preferential flow through cracks and water-repellent medium, which makes a dry roof run off before its capacity is used.",
    "Frozen medium and ice at the outlets. Snow is kept and melted by the day's mean temperature only.",
    "The difference between the weather station and this roof: distance, height, wind, shade of neighbouring "
    "buildings.",
    "Water quality. Roofs with compost or fertiliser can shed nutrients.",
    "Structure. Loads are reported; whether the roof can carry them is for a licensed engineer.",
)

GLOSSARY = (
    ("Annual capture", "rain that a roof keeps over a mean year: all rain less all overflow."),
    ("Avoided runoff", "what the existing roof sheds, less what the planted roof sheds."),
    (
        "Curve number",
        "a number from 0 to 100 that turns the rain of one storm into runoff [4]; 98 for a hard roof.",
    ),
    ("Design storm", "rain of a stated return period, laid out in minutes, by which drainage is judged."),
    ("Depression storage", "the film and puddles that a membrane or gravel holds before water runs off."),
    ("Detention", "delay: water that leaves later and more slowly, but leaves."),
    ("Evapotranspiration", "water that plants and wet surfaces give back to the air."),
    (
        "Event",
        "a run of days with at least 1 mm (0.04 in) of rain each; a daily record cannot separate events by hours.",
    ),
    ("Rain event held", "an event of whose rain less than 5 % runs off before the next one."),
    ("Existing roof", "the roof as it is before planting. Avoided runoff is counted against it."),
    ("Expected", "the middle of all draws of a range, and never more than the balance itself gives."),
    ("Field capacity", "water content of the medium after it has drained freely."),
    (
        "Overflow",
        "the runoff of the planted area: drained through outlets, or spilled over the emergency overflow or the edge.",
    ),
    ("Peak discharge", "the largest flow at the outlets in a storm run in minutes. A daily run gives none."),
    ("Percentile event", "the daily rain that this share of wet days does not pass."),
    ("Plant-available water", "water between field capacity and wilting point."),
    (
        "Range, 5 to 95 %",
        "nine of ten draws lie inside: uncertain materials, chance of the years, rain the gauge misses, and for retention, "
        "capture and yearly overflow the error of the model against measured roofs.",
    ),
    ("Reference evapotranspiration", "what a short, well-watered grass would evaporate in that weather [1]."),
    ("Retention", "share of the rain that never leaves as overflow."),
    ("Return period", "mean time between storms at least this large."),
    ("Runoff coefficient", "runoff over rain: of volume over a storm or a year, or of the peak."),
    ("Storage capacity", "water that a dry roof can hold of one storm without it draining."),
    (
        "Waterlogged",
        "too little air in the medium for roots, or water standing in more than a quarter of its depth (section 5).",
    ),
    ("Wilting point", "water content of the medium that plants cannot lower further."),
)

_SECTIONS = (
    ("roof", "1. Site and roof"),
    ("claims", "2. What is claimed"),
    ("storms", "3. Design storms: peaks before and after"),
    ("months", "4. Month by month"),
    ("spells", "5. Waterlogged and dry spells"),
    ("loads", "6. Loads"),
)
_LAST_SECTIONS = (("weather", "7. The weather record and its quality"), ("upkeep", "8. Maintenance plan"))
_ANNEX = ("annex", "Annex: method, limits, curve numbers, credit, evidence, forms, glossary, references, provenance")


def contents(*, as_built: bool, storms: bool) -> tuple[tuple[str, str], ...]:
    """Return anchors and titles in the order of the page; as built without storms, weather and maintenance open the annex."""
    first = (("built", "As built against what was promised"), *_SECTIONS) if as_built else _SECTIONS
    if as_built and not storms:
        return *first, _ANNEX, *_LAST_SECTIONS
    return *first, *_LAST_SECTIONS, _ANNEX


#: Said where rules stand whose text cannot be cited: a number in brackets is kept for what has a title and a year.
NO_NUMBER = (
    "Where no number in brackets stands, title and year of the rule are not known to us: check the text in force."
)
#: Cited by their place in this list, from 1, each with title and year. What was read of a paper stands at its end; a doi from
#: memory says so in print.
REFERENCES = (
    "FAO Irrigation and Drainage Paper 56: Crop evapotranspiration, guidelines for computing crop water requirements, 1998. "
    "Equations 6, 52, 84 and 88, example 38.",
    "EN 12056-3: Gravity drainage systems inside buildings, part 3: Roof drainage, layout and calculation, 2000. Forms of the "
    "outlets.",
    "EN ISO 12958: Geotextiles and geotextile-related products, Determination of water flow capacity in their plane, 2010.",
    "USDA-NRCS, Technical Release 55: Urban hydrology for small watersheds, 1986. Equations 2-1 to 2-4, table 2-2a.",
    "ASTM E2397/E2397M: Determination of dead loads and live loads associated with vegetative (green) roof systems, 2019. Scope.",
    "Politis and Romano: A circular block-resampling procedure for stationary data, in: Exploring the limits of bootstrap, 1992, "
    "pages 263-270 (book and pages from memory).",
    "VanWoert and others: Watering regime and green roof substrate design affect Sedum plant growth, HortScience 40(3), 2005, "
    "pages 659-664. doi (from memory) 10.21273/HORTSCI.40.3.659. Abstract.",
    "Stovin and others: The hydrological performance of a green roof test bed under UK climatic conditions, Journal of "
    "Hydrology 414-415, 2012, pages 148-161. doi (from memory) 10.1016/j.jhydrol.2011.10.022. Abstract.",
    "Johannessen and others: Detention and retention behavior of four extensive green roofs in three Nordic climate zones, "
    "Water 10(6), 2018, article 671. doi (from memory) 10.3390/w10060671. Abstract.",
    "Squier-Babcock and Davidson: Hydrologic performance of an extensive green roof in Syracuse, NY, Water 12(6), 2020, article "
    "1535. doi (from memory) 10.3390/w12061535. Abstract.",
)

LOAD_CAUTION = (
    "These are weights of the build-up alone, without people, snow, wind or stored goods. They do not say that a roof can "
    "carry them. Whether it can is for a licensed structural engineer and the local code to decide, before anything is "
    "built. So is what happens when outlets clog and water stands on it. {depth} of water weighs {load}."
)
_WATER = (("10 mm", "10 kg/m²"), ("0.4 in", "2 lb/ft²"))


def load_caution(units: str) -> str:
    """Return the caution that stands before every weight, the unit system of the page first."""
    first, second = _WATER if units == "si" else _WATER[::-1]
    depth, load = (f"{one} ({other})" for one, other in zip(first, second, strict=True))
    return LOAD_CAUTION.format(depth=depth, load=load)
