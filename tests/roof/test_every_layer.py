"""Every layer of the list, a new one too, is felt by the balance, weighed, ordered, drawn, named and varied.

Expected numbers are the layer's own statements about itself, compared with what each reader makes of them.
"""

from typing import get_args

import pytest

import runoff
from runoff.dossier.gathering import figures_of_roof
from runoff.dossier.page import _roof as described_for_pages
from runoff.plots import build_up_section_figure
from runoff.roof import OrderRules, bill_of_quantities, column_parameters, material_ranges, roof_loads
from runoff.roof.layers import LAYERS, Layer
from runoff.roof.layers.knowing_layer import Store
from runoff.roof.layers.order_items import Sheets
from runoff.roof.material_rows import listed

# store of the balance -> number of the column that carries what it holds after free drainage
CAPACITY = {"surface": "surface_capacity", "medium": "field_water", "cups": "cup_capacity", "mat": "mat_capacity"}
ADDS = dict(rel=1e-12, abs=1e-12)  # a few additions


def roof(*layers: Layer, **rest: object) -> runoff.Roof:
    return runoff.Roof(build_up=runoff.BuildUp(layers=layers), **rest)


def numbers(column: dict) -> dict:
    """Return the numbers of a column, those that are not given as words so that they compare."""
    return {name: str(value) for name, value in column.items() if name != "outlets"}


def with_and_without(word: str) -> tuple[runoff.Roof, runoff.Roof | None]:
    """Return a roof of every layer that may stand beside one, and the same without it; the medium cannot be left out.

    Of the layers that drain only the uppermost carries water: the others stand aside for the one that is asked about, and
    take its place in the roof without it.
    """
    own = LAYERS[word]
    others = [kind for kind in LAYERS.values() if kind is not own]
    beside = [kind for kind in others if not (own.drains and kind.drains)]
    with_it = [kind() for kind in LAYERS.values() if kind is own or kind in beside]
    return roof(*with_it), roof(*(kind() for kind in others)) if word != "medium" else None


@pytest.mark.parametrize("word", LAYERS)
def test_the_balance_feels_what_it_holds_or_it_says_that_it_holds_none(word: str) -> None:
    own = LAYERS[word]()
    assert own.store in get_args(Store)
    full, without = with_and_without(word)
    found = column_parameters(full)
    if not own.store:
        assert own.drained_water_mm == own.full_water_mm == own.flooded_water_mm == 0.0
        assert without is not None
        assert numbers(found) == numbers(column_parameters(without))
        return
    assert own.drained_water_mm > 0.0
    held = found[CAPACITY[own.store]]
    left = column_parameters(without)[CAPACITY[own.store]] if without else 0.0
    assert held - left == pytest.approx(own.drained_water_mm, **ADDS)
    if own.drains:
        assert found["board_capacity"] == own.full_water_mm - own.drained_water_mm > 0.0
        assert found["board_height"] == own.height_taken_mm > 0.0 and found["in_plane_flow"] > 0.0


@pytest.mark.parametrize("word", LAYERS)
def test_the_balance_feels_every_number_that_is_uncertain(word: str) -> None:
    full, _ = with_and_without(word)
    if LAYERS[word].usual_material:  # with a material every property has a value, the release curve too
        full = full.replace({f"{word}.material": LAYERS[word].usual_material})
    before = column_parameters(full)
    for field in full.build_up.layer(word).in_doubt:
        value = getattr(full.build_up.layer(word), field)
        after = column_parameters(full.replace({f"{word}.{field}": value * 1.01 if value else 0.01}))
        assert numbers(after) != numbers(before), f"{word}.{field} changes nothing"


@pytest.mark.parametrize("word", LAYERS)
def test_loads_weigh_it(word: str) -> None:
    own = LAYERS[word]()
    full, _ = with_and_without(word)
    mass = roof_loads(full)["mass"].sel(layer=word)
    assert float(mass.sel(state="dry")) == own.dry_mass_kg_per_m2 > 0.0
    assert float(mass.sel(state="drained") - mass.sel(state="dry")) == pytest.approx(own.drained_water_mm, **ADDS)
    full_water = own.full_water_mm if own.drains else own.drained_water_mm
    assert float(mass.sel(state="board_full") - mass.sel(state="dry")) == pytest.approx(full_water, **ADDS)


@pytest.mark.parametrize("word", LAYERS)
def test_the_list_orders_it(word: str) -> None:
    own = LAYERS[word]()
    full, without = with_and_without(word)
    bill = bill_of_quantities(full)
    rows = bill[bill["layer"] == word]
    assert rows["item"].str.startswith(own.order_item.what).any() and (rows["quantity"] > 0.0).all()
    assert without is None or word not in set(bill_of_quantities(without)["layer"])
    for rule in own.order_item[1:]:
        names = rule if isinstance(rule, tuple) else (rule,)
        names = [name[1] if isinstance(name, tuple) else name for name in names if not isinstance(name, bool)]
        assert set(names) <= set(OrderRules.model_fields), f"{word} names allowances that OrderRules does not have"


def test_allowances_are_those_of_the_sheets() -> None:
    """Every width and overlap of the rules belongs to a layer, so that none is given in vain."""
    sheets = [kind.order_item for kind in LAYERS.values() if isinstance(kind.order_item, Sheets)]
    rules = {name for name in OrderRules.model_fields if name.endswith(("_width_m", "_overlap_m"))}
    assert rules == {one.width for one in sheets} | {one.overlap for one in sheets}


@pytest.mark.parametrize("word", LAYERS)
def test_the_section_draws_and_names_it(word: str) -> None:
    own = LAYERS[word]()
    full, without = with_and_without(word)
    figure = build_up_section_figure(full)
    assert own.title.lower() in figure.description
    if without is None:
        return
    bare = build_up_section_figure(without)
    assert own.title.lower() not in bare.description
    beside = [
        [one.get_text() for one in shown.axes[0].get_children() if hasattr(one, "get_text")] for shown in (figure, bare)
    ]
    assert [any(text.startswith(own.title) for text in texts) for texts in beside] == [True, False]
    wet = build_up_section_figure(full, water={"surface_water": 1.0, "medium_water": 20.0, "mat_water": 1.0})
    assert own.title.lower() in wet.description


@pytest.mark.parametrize("word", LAYERS)
def test_documents_name_it_and_give_its_numbers(word: str) -> None:
    full, _ = with_and_without(word)
    figures, page = figures_of_roof(full), described_for_pages(full)
    place = [layer.word for layer in full.build_up.layers].index(word)
    assert page["layers"][place]["words"] == LAYERS[word].title
    assert [part["name"] for part in page["layers"][place]["parts"]] == [part.field for part in LAYERS[word].parts]
    for part in LAYERS[word].parts:
        given = float(figures[f"layer_{part.field}"][place])
        assert given == float(getattr(full.build_up.layer(word), part.field))
        assert part.kind == ("depth" if part.field.endswith("_mm") else "share")
    assert set(LAYERS[word].parts) or not LAYERS[word].store, "what holds water gives a number"


@pytest.mark.parametrize("word", LAYERS)
def test_ranges_accept_it_with_any_material_it_may_have(word: str) -> None:
    own, rows = LAYERS[word], listed(word)
    assert not own.uncertain or own.usual_material in rows
    assert all(set(own.uncertain) <= set(properties) for properties in rows.values()), "every material states its doubt"
    for name in (*rows, "") if rows else ("EPDM 1.5 mm", ""):
        full, _ = with_and_without(word)
        layers = [own(material=name) if one.word == word else one for one in full.build_up.layers]
        made = roof(*layers)
        ranges = material_ranges(made)
        layer = made.build_up.layer(word)
        for field in layer.in_doubt:
            value = rows[layer.material or own.usual_material][field]
            if value.low == value.high or (getattr(layer, field) == 0.0 and value.typical > 0.0):
                continue  # certain, or what a roof does without
            low, typical, high = ranges[f"{word}.{field}"]
            assert low <= typical <= high and low < high
            made.replace({f"{word}.{field}": typical})
    assert {name.partition(".")[2] for name in ranges if name.startswith(f"{word}.")} <= set(own.uncertain)


@pytest.mark.slow
def test_a_membrane_of_any_words_stops_neither_ranges_nor_what_to_measure_nor_a_fit() -> None:
    """The words a membrane is documented to take: the table lists none, so they bring no range and no refusal."""
    plain = runoff.open_sample_roof("cups")
    layers = [one for one in plain.build_up.layers if one.word != "membrane"]
    build_up = runoff.BuildUp(layers=[*layers, runoff.Membrane(material="EPDM 1.5 mm")])
    named = runoff.Roof(**{**plain.fields(), "build_up": build_up})
    assert material_ranges(named) == material_ranges(plain)
    weather = runoff.open_sample().sel(time=slice("2001", "2005"))
    with pytest.warns(runoff.RunoffWarning, match="5 years of weather"):
        ranges = runoff.uncertainty(named, weather, members=2, resamples=2)
    assert float(ranges["retention"].sel(source="together", quantile=0.5)) > 0.0
    assert runoff.what_to_measure(named, weather, samples=8).sizes["property"] > 0
    overflow = runoff.simulate(plain, weather)["roof_overflow"].to_series()
    fitted = runoff.fit_roof(named, weather, overflow, parameters=["planting.crop_coefficient"], held_back=0.0)
    assert fitted.table.loc["planting.crop_coefficient", "fitted"] == pytest.approx(1.0, rel=1e-3)
