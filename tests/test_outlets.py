"""Outlets: the sizing run against hand-worked hydraulics, rules of codes, bad input; printed cells stand in `tests/published`."""

import numpy as np
import pytest
import xarray as xr

import runoff
from runoff.balance.outlet_flow import flow
from runoff.errors import RoofError, SizingError, StormError, WeatherError
from runoff.findings.storm_comparison import followed_by_dry
from runoff.roof.column_values import outlet_laws
from runoff.roof.losing_outlets import with_outlets
from runoff.sizing.drainage_codes import (
    SECONDARY_RULES,
    planted_coefficient,
    rational_flow,
    vertical_pipe_l_per_s,
)
from runoff.sizing.emergency import overflow_alone
from runoff.sizing.outlet_tables import emergency_text, outlets_text
from runoff.sizing.outlet_words import caution_words, verdict
from runoff.sizing.outlets import chosen_outlet, size_outlets


def uniform_storm(mm_per_h: float, hours: int = 3):
    return runoff.design_storm(depth_mm=mm_per_h * hours, duration=f"{hours}h", step="5min", pattern="uniform")


def burst():
    return followed_by_dry(runoff.design_storm(depth_mm=30.0, duration="30min", step="5min", pattern="uniform"), 3.0)


@pytest.fixture(scope="module")
def roof():
    """The sample roof, wholly planted, so that one square metre is like another."""
    return with_outlets(runoff.open_sample_roof("cups"), planted_fraction=1.0)


@pytest.fixture(scope="module")
def sized(roof):
    outlets = [runoff.Outlet(kind="round", diameter_mm=100.0), runoff.Outlet(kind="round", diameter_mm=150.0)]
    return size_outlets(roof, burst(), allowable_depth_mm=40.0, candidates=outlets, most=5)


# --- codes by edition ----------------------------------------------------------------------------------------


def test_every_secondary_rule_names_its_source() -> None:
    assert all(
        any(code in source for code in ("Plumbing Code", "Building Code")) for source in SECONDARY_RULES.values()
    )


# --- the sizing run ------------------------------------------------------------------------------------------


def test_steady_rain_stands_at_the_head_of_the_outlets(roof) -> None:
    """Worked by hand: 60 mm/h on 120 m2 is 2.000 L/s; two grated 150 mm weirs, 2 x 0.5 x 150 h^1.5 / 7500, take it at
    h = (2.000 x 7500 / 150)^(2/3) = 21.5 mm, below the board's top of 25 mm.
    """
    outlet = runoff.Outlet(kind="round", diameter_mm=150.0)
    table = size_outlets(roof, uniform_storm(60.0), allowable_depth_mm=40.0, candidates=[outlet], most=2)
    two = table.isel(candidate=1)
    assert float(two["depth"]) == pytest.approx(100.0 ** (2.0 / 3.0), rel=0.005)  # 3 h of rain reach 99.9 % of steady
    assert float(two["rational_head"]) == pytest.approx(100.0 ** (2.0 / 3.0), rel=1e-9)
    assert float(two["peak_discharge"]) == pytest.approx(2.0, rel=0.005)
    assert float(table["rational_flow"]) == pytest.approx(2.0)
    # Cs: build-up of 15 + 80 + 25 mm and fleece, mat, membrane is 10 cm and more, fall 2 %: 0.4
    assert float(table["planted_rational_flow"]) == pytest.approx(0.8)


def test_more_outlets_never_deepen_the_water(sized) -> None:
    for size in ("100 mm", "150 mm"):
        depth = sized["depth"].where(sized["size"] == size, drop=True).to_numpy()
        assert (np.diff(depth) <= 1e-9).all()
    assert (sized["depth_some_lost"] >= sized["depth"] - 1e-9).all()


def test_one_lost_is_the_run_with_one_fewer(sized) -> None:
    hundred = sized.where(sized["size"] == "100 mm", drop=True)
    np.testing.assert_allclose(hundred["depth_some_lost"][1:], hundred["depth"][:-1], rtol=0, atol=0)
    assert float(hundred["depth_some_lost"][0]) == float(sized["overflow_depth"])


def test_the_choice_is_the_fewest_that_hold_with_the_loss(sized) -> None:
    outlet = chosen_outlet(sized)
    good = sized.where(sized["meets_with_loss"], drop=True)
    assert outlet.count == int(good["number"].min())
    assert float(sized["depth_some_lost"][int(sized["chosen"])]) <= 40.0
    assert verdict(sized) == sized.attrs["verdict"]
    assert sized.attrs["verdict"].startswith(f"{outlet.count} round outlets of ")
    assert "licensed" in sized.attrs["caution"]


def test_overflow_alone_passes_the_rain_once_the_roof_is_full(roof) -> None:
    """Worked by hand: at the end of steady rain nothing is stored any more, so 60 mm/h x 120 m2 / 3600 = 2.000 L/s
    leave over a clear 300 mm weir: head (2 x 24000 / 300)^(2/3) = 29.5 mm; the sill stands at 120 mm.
    """
    state = overflow_alone(roof, uniform_storm(60.0, hours=6))
    head = (2.0 * 24000.0 / 300.0) ** (2.0 / 3.0)
    assert state.flow_l_per_s == pytest.approx(2.0)
    assert state.spilled_l_per_s == pytest.approx(2.0, rel=1e-3)
    assert state.head_mm == pytest.approx(head)
    assert state.depth_mm == pytest.approx(120.0 + head)
    assert state.rain_load_kn_per_m2 == pytest.approx(0.0098 * (120.0 + head))
    assert any("licensed structural engineer" in note for note in state.notes)


def test_overflow_gets_no_credit_for_storage(roof) -> None:
    """A short burst that finds room on the roof spills less than it rains; the overflow is still held to the rain."""
    state = overflow_alone(roof, burst())
    assert state.flow_l_per_s == pytest.approx(2.0)  # 30 mm in 30 min on 120 m2: 60 x 120 / 3600
    assert state.spilled_l_per_s < 1.0


def test_a_low_scupper_is_named(roof) -> None:
    low = runoff.Outlet(kind="rectangular", width_mm=300.0, height_mm=25.0, strainer=False)
    notes = " ".join(overflow_alone(roof, uniform_storm(60.0, hours=6), overflow=low).notes)
    assert "The overflow opens 25 mm (0.98 in); codes ask for at least 102 mm (4 in)" in notes
    assert "runs drowned" in notes


def test_a_scupper_of_four_inches_is_as_high_as_codes_ask(roof) -> None:
    """4 in are 101.6 mm, which the code rounds to 102 mm (IBC 2021, section 1502.3)."""
    opening = runoff.Outlet(kind="rectangular", width_mm=300.0, height_mm=101.6, strainer=False)
    assert "codes ask for at least" not in " ".join(overflow_alone(roof, burst(), overflow=opening).notes)


def test_cautions_name_the_units_asked_for_first(roof) -> None:
    low = runoff.Outlet(kind="rectangular", width_mm=300.0, height_mm=25.4, strainer=False)
    sized = size_outlets(roof, burst(), allowable_depth_mm=40.0, most=1, overflow=low)
    said = caution_words(sized, "us")
    assert "The overflow opens 1 in (25.4 mm); codes ask for at least 4 in (102 mm)" in said
    assert "is more than the opening is high (1 in (25.4 mm))" in said
    assert "The overflow opens 25.4 mm (1 in)" in caution_words(sized)


def test_a_roof_whose_drainage_layer_holds_the_water_back_gets_no_outlets() -> None:
    """40 mm of medium on a mat of 6 mm: whatever the outlets, the storm runs over the top of the medium, 46 mm up."""
    table = size_outlets(runoff.open_sample_roof("thin"), burst(), allowable_depth_mm=40.0, most=3)
    assert int(table["chosen"]) == -1 and bool((table["depth"] > 46.0).all())
    assert "the drainage layer, not the outlets, holds the water back" in table.attrs["verdict"]
    assert "no emergency overflow" in table.attrs["verdict"]
    with pytest.raises(SizingError, match=r"chosen_outlet: none was chosen\. No candidate keeps the water below 40 mm"):
        chosen_outlet(table)


def test_outlets_too_small_for_the_rain_are_not_laid_on_the_drainage_layer(roof) -> None:
    """60 mm/h on 120 m2 are 2.0 L/s: through one strainer of 75 mm (15000 x 2.0 / (0.5 x 75^2))^2 = 113.8 mm of head."""
    table = size_outlets(roof, burst(), allowable_depth_mm=40.0, candidates=[runoff.Outlet(diameter_mm=75.0)], most=1)
    assert int(table["chosen"]) == -1 and float(table["rational_head"].min()) == pytest.approx(113.8, abs=0.05)
    assert "drainage layer" not in table.attrs["verdict"]
    assert "try larger outlets or more of them" in table.attrs["verdict"]


def test_a_choice_must_hold_without_credit_for_storage(roof) -> None:
    """A short burst stays a little under its steady depth; without credit the steady depth, C = 1, counts."""
    table, credited = (
        size_outlets(roof, burst(), allowable_depth_mm=28.0, lost=0, storage_credit=credit) for credit in (False, True)
    )
    # 60 mm/h on 120 m2 is 2 L/s. Two outlets with strainers (EN 12056-3): 2 x 0.5 x 100 h^1.5 / 7500 = 2, h = 150^(2/3) = 28.23 mm;
    # of 125 mm: h = 120^(2/3) = 24.33 mm
    two = table.isel(candidate=(table["number"] == 2).to_numpy())
    heads = dict(zip(two["diameter_mm"].to_numpy(), two["rational_head"].to_numpy(), strict=True))
    assert heads[100.0] == pytest.approx(150.0 ** (2 / 3)) and heads[125.0] == pytest.approx(120.0 ** (2 / 3))
    assert chosen_outlet(credited).diameter_mm == 100.0 and chosen_outlet(table).diameter_mm == 125.0
    assert chosen_outlet(credited).count == chosen_outlet(table).count == 2
    assert "This counts on storage" in credited.attrs["verdict"]
    assert "with no credit for storage or planting" in table.attrs["verdict"]


@pytest.mark.parametrize("start", ["dry", 0.5])
def test_outlets_are_not_sized_for_a_dry_roof(roof, start) -> None:
    with pytest.raises(SizingError, match="outlets are sized for a wet roof"):
        size_outlets(roof, burst(), allowable_depth_mm=60.0, start_moisture=start)


def test_tables_in_both_unit_systems(sized) -> None:
    text = outlets_text(sized)
    assert "<- chosen" in text and " capacity " in text and "all open" in text
    us = outlets_text(sized, units="us") + emergency_text(sized, units="us")
    assert "gpm" in us and "lb/ft2" in us and "L/s" not in us
    assert len(outlets_text(sized, every=True).splitlines()) == 2 + 3 + sized.sizes["candidate"]  # heads, legend


# --- bad input -----------------------------------------------------------------------------------------------


def test_every_fault_of_a_sizing_run_at_once(roof) -> None:
    with pytest.raises(SizingError) as caught:
        size_outlets(roof, burst(), allowable_depth_mm=-5.0, candidates=[], most=0, lost=-1, blocked_share=2.0)
    assert str(caught.value).splitlines() == [
        "size_outlets: allowable_depth_mm must be above 0, it is a depth of water over the deck (given -5)",
        "size_outlets: lost must be 0 or more outlets (given -1)",
        "size_outlets: blocked_share must lie between 0 and 1 (given 2)",
        'size_outlets: no candidates; give outlets to try, for example runoff.Outlet(kind="round", diameter_mm=100)',
        "size_outlets: most must be 1 or more outlets (given 0)",
    ]


def test_a_daily_storm_sizes_nothing(roof) -> None:
    with pytest.raises(SizingError, match=r"size_outlets: the storm has steps of 24 h; an outlet is sized on minutes"):
        size_outlets(roof, runoff.open_sample()["rain"][:30], allowable_depth_mm=40.0)


def test_intensities_given_as_depths_name_the_converter(roof) -> None:
    storm = runoff.to_intensity(uniform_storm(60.0))
    with pytest.raises(
        WeatherError, match=r'weather: `rain` has units "mm/h", needs "mm"; use runoff\.to_depth\(rain\)'
    ):
        size_outlets(roof, storm, allowable_depth_mm=40.0)


def test_an_overflow_wider_than_the_edge(roof) -> None:
    wide = runoff.Outlet(kind="rectangular", width_mm=60_000.0, height_mm=102.0)
    expected = (
        r"overflow_alone: the overflow is 60000 mm wide, the whole edge of a square roof of 120 m2 is 43817\.8 mm; "
        r"give its width in mm"
    )
    with pytest.raises(SizingError, match=expected):
        overflow_alone(roof, burst(), overflow=wide)


def test_an_outlet_wider_than_the_edge(roof) -> None:
    wide = runoff.Outlet(kind="rectangular", width_mm=60_000.0, height_mm=102.0)
    expected = (
        r"1 rectangular outlet of 60000 x 102 mm need 60000 mm of edge, but the whole edge of a square roof of 120 m2 is "
        r"43818 mm long; check outlets and area_m2"
    )
    with pytest.raises(RoofError, match=expected):
        with_outlets(roof, outlets=(wide,))


def test_a_roof_without_outlets_and_overflow(roof) -> None:
    with pytest.raises(
        RoofError, match="Roof: a roof needs at least one outlet or an emergency overflow; neither is given"
    ):
        with_outlets(roof, outlets=(), emergency_overflow_mm=None)


def test_a_negative_head() -> None:
    with pytest.raises(
        runoff.RunoffError,
        match=r"outlet flow: `head_mm` \(depth over the deck at the outlet\) must be 0 or more, given -3",
    ):
        flow(-3.0, outlet_laws([runoff.Outlet(kind="round", diameter_mm=100.0)]))


def test_a_storm_shorter_than_its_step() -> None:
    with pytest.raises(
        StormError,
        match=r"design_storm: the storm \(5 min\) is shorter than its step \(1 h\); give a step of 5 min or less",
    ):
        runoff.design_storm(depth_mm=10.0, duration="5min", step="1h", pattern="uniform")


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (
            lambda: vertical_pipe_l_per_s(100.0, edition="NSPC 2007"),
            r'vertical pipes: edition "NSPC 2007" is not known \(did you mean "NSPC 2006"\?\); known: EN 12056-3:2000, NSPC',
        ),
        (lambda: planted_coefficient(0.0, 0.02), r"planted_coefficient: depth_mm must be above 0 \(given 0\)"),
        (lambda: rational_flow(100.0, 75.0, coefficient=1.2), r"coefficient must lie between 0 and 1 \(given 1\.2\)"),
    ],
)
def test_codes_refuse_what_they_do_not_hold(call, words: str) -> None:
    with pytest.raises(SizingError, match=words):
        call()


def test_what_holds_no_choice_is_no_table_of_outlets() -> None:
    with pytest.raises(SizingError, match=r"chosen_outlet: table is the Dataset that runoff\.size_outlets returned"):
        chosen_outlet(xr.Dataset({"depth": 1.0}))
