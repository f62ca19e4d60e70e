"""The outlets a roof has, judged as described: every number of one case by hand, and what leaving things out must do.

The case: 260 m2, three round outlets of 100 mm with strainers, sill of the emergency overflow at 90 mm with an opening of
300 x 102 mm, a station table with 12.6 mm in 5 min, the whole area at C = 1. Forms of EN 12056-3 (from memory, see
`runoff.balance.outlet_flow`), rational method (HDS-2 eq. 5.28), rain load 0.0098 (ds + dh) (IBC 1611.1).
"""

import numpy as np
import pandas as pd
import pytest

import runoff
from runoff.cli.entry import main
from runoff.desk.working_out import reckon
from runoff.errors import SizingError
from runoff.roof.loads import head_to_weigh
from runoff.roof.losing_outlets import with_outlets
from runoff.saying.numbers import fixed
from runoff.sizing.described_outlets import check_outlets
from runoff.sizing.emergency import overflow_alone
from runoff.sizing.outlet_tables import described_shown, emergency_text
from runoff.sizing.outlets import size_outlets

ROUND_100 = runoff.Outlet(kind="round", diameter_mm=100.0, count=3)
PEAK = 12.6 * 12.0 * 260.0 / 3600.0  # 151.2 mm/h on 260 m2: 10.92 L/s


def the_roof(**changes) -> runoff.Roof:
    described = {
        "area_m2": 260.0, "planted_fraction": 1.0, "outlets": (ROUND_100,), "edge_height_mm": 400.0,
        "emergency_overflow_mm": 90.0, "emergency_width_mm": 300.0, "emergency_height_mm": 102.0,
    }  # fmt: skip
    return with_outlets(runoff.open_sample_roof("cups"), **(described | changes))


def the_storm():
    """An invented hour around the 12.6 mm in 5 min of the table."""
    rain = [0.8, 1.4, 3.1, 12.6, 4.2, 2.2, 1.2, 0.8, 0.6, 0.5, 0.4, 0.4]
    return runoff.followed_by_dry(runoff.storm_from_series(rain, step="5min", units="mm"), 6.0)


@pytest.fixture(scope="module")
def check():
    return check_outlets(the_roof(), the_storm(), allowable_depth_mm=60.0)


def test_the_case_by_hand(check) -> None:
    assert PEAK == pytest.approx(10.92)
    assert float(check["rain_intensity"]) == pytest.approx(151.2)
    assert float(check["design_peak"]) == pytest.approx(10.92)
    # at 60 mm, above D/2 = 50: 0.5 x 100^2 x 60^0.5 / 15000 = 2.582 L/s each; 7.746 of three, 5.164 of two
    assert check["capacity"].to_numpy()[[0, 1, 3]] == pytest.approx([7.746, 5.164, 0.0], abs=5e-4)
    # 3.64 L/s each: as a weir h = (7500 x 3.64 / 50)^(2/3) = 66.8 mm is over D/2, so as an orifice
    # h = (15000 x 3.64 / (0.5 x 100^2))^2 = 10.92^2 = 119.2464 mm; two: 5.46 L/s each, 16.38^2 = 268.3044 mm
    assert check["head"].to_numpy()[:2] == pytest.approx([10.92**2, 16.38**2])
    assert (7500.0 * 3.64 / 50.0) ** (2.0 / 3.0) > 50.0
    # all blocked: weir (24000 x 10.92 / 300)^(2/3) = 873.6^(2/3) = 91.385 mm, under the 2 x 102 mm where it turns
    assert float(check["overflow_head"]) == pytest.approx(873.6 ** (2.0 / 3.0))
    assert float(check["overflow_head"]) == pytest.approx(91.4, abs=0.05)
    assert float(check["overflow_depth"]) == pytest.approx(181.385, abs=5e-4)
    # 0.0098 x 181.385 = 1.7776 kN/m2
    assert float(check["rain_load"]) == pytest.approx(1.7776, abs=5e-5)
    assert float(check["head"].sel(state="blocked")) == float(check["overflow_depth"])


def test_the_case_does_not_hold_and_says_both_checks(check) -> None:
    assert not check["meets"].sel(state=["open", "lost"]).any() and not bool(check["meets_with_loss"])
    verdict = check.attrs["verdict"]
    assert verdict.startswith(
        "The outlets described (3 round outlets of 100 mm) do not keep the water below 60 mm even with 1 of them lost. Design peak, "
        "no credit for storage: 119 mm open, 268 mm with 1 lost. Routed storm: "
    )
    assert verdict.endswith(
        "water stands 181 mm over the deck: 90 mm to the sill of the emergency overflow and 91 mm of head over it."
    )
    routed = check["depth"].sel(state=["open", "lost"])
    assert (routed < check["head"].sel(state=["open", "lost"])).all()  # storage would have hidden it
    text = described_shown(check).text()
    assert "does not hold" in text and "7.75 L/s" in text and "119 mm" in text
    assert "123 gpm" in described_shown(check, units="us").text().replace("122.8", "123")  # 7.746 L/s x 15.850


def test_no_choice_rests_on_storage(check) -> None:
    """The routed storm alone would take few outlets; the design peak with one lost must hold too."""
    storm, limit = the_storm(), 60.0
    chosen = runoff.size_outlets(the_roof(), storm, allowable_depth_mm=limit)
    one = chosen.isel(candidate=int(chosen["chosen"]))
    assert float(one["rational_head_some_lost"]) <= limit and float(one["depth_some_lost"]) <= limit
    credited = size_outlets(the_roof(), storm, allowable_depth_mm=limit, storage_credit=True)
    assert int(credited["chosen_without_credit"]) == int(chosen["chosen"])
    assert int(credited["number"][int(credited["chosen"])]) < int(one["number"]) or (
        float(credited["diameter_mm"][int(credited["chosen"])]) < float(one["diameter_mm"])
    )
    assert "Without that credit it would need " in credited.attrs["verdict"]
    assert [bool(x) for x in chosen["described"]].count(True) == 1


@pytest.mark.parametrize("fall", [0.0, 0.02])
def test_leaving_the_overflow_out_raises_depth_and_load(fall: float) -> None:
    """By hand: with nothing described the water reaches the edge, 400 mm: 0.0098 x 400 = 3.92 kN/m2."""
    roofs = {
        "described": the_roof(fall=fall),
        "no opening": the_roof(fall=fall, emergency_width_mm=None, emergency_height_mm=None),
        "none": the_roof(fall=fall, emergency_overflow_mm=None, emergency_width_mm=None, emergency_height_mm=None),
    }
    found = {name: check_outlets(roof, the_storm(), allowable_depth_mm=60.0) for name, roof in roofs.items()}
    assert float(found["described"]["rain_load"]) == pytest.approx(1.7776, abs=5e-5)
    for name in ("no opening", "none"):
        assert float(found[name]["overflow_depth"]) == 400.0
        assert float(found[name]["rain_load"]) == pytest.approx(3.92)
        assert np.isnan(float(found[name]["overflow_head"]))
        assert float(found[name]["overflow_run_depth"]) >= float(found["described"]["overflow_run_depth"]) - 1e-9
    loads = {name: runoff.roof_loads(roof)["total_mass"].sel(state="ponded") for name, roof in roofs.items()}
    assert float(loads["none"]) == float(loads["no opening"]) > float(loads["described"])
    assert "give its width and height" in found["no opening"].attrs["verdict"]
    assert "up to the edge: the roof has no emergency overflow" in found["none"].attrs["verdict"]


def test_a_sill_without_an_opening_asks_for_it_and_the_rest_is_printed() -> None:
    roof = the_roof(emergency_width_mm=None, emergency_height_mm=None)
    table = size_outlets(roof, the_storm(), allowable_depth_mm=60.0)
    text = emergency_text(table)
    assert "give the opening of the emergency overflow (emergency_width_mm and emergency_height_mm)" in text
    assert "10.92 L/s" in text and "400 mm" in text
    assert int(table["chosen"]) >= 0


def test_a_drowned_opening_is_named() -> None:
    """300 x 40 mm: weir to 80 mm only, so orifice: h = (12000 x 10.92 / 12000)^2 = 10.92^2 = 119.2464 mm, over its 40."""
    state = overflow_alone(the_roof(emergency_height_mm=40.0), the_storm())
    assert state.head_mm == pytest.approx(119.2464) and state.drowned
    assert any("it runs drowned" in note for note in state.notes)
    low, words = (
        the_roof(emergency_height_mm=40.0),
        "119 mm of head over it. That is more than the opening is high: it runs drowned.",
    )
    check = check_outlets(low, the_storm(), allowable_depth_mm=60.0)
    sized = size_outlets(low, the_storm(), allowable_depth_mm=60.0, candidates=[ROUND_100], most=3)
    assert words in check.attrs["verdict"] and words in sized.attrs["verdict"]


def test_a_head_that_reaches_the_edge_stands_at_the_edge() -> None:
    state = overflow_alone(the_roof(edge_height_mm=260.0, emergency_width_mm=60.0), the_storm())
    assert state.over_edge and state.depth_mm == 260.0 and state.head_mm > 170.0
    assert any("reaches the edge" in note for note in state.notes)


def test_run_on_counts_in_the_design_peak() -> None:
    """Ontario 7.4.10.4 (read): 25 mm in 15 min on 450 m2 and half a wall of 60 m2: 12,000 L, 13.33 L/s."""
    storm = runoff.storm_from_series([10.0, 25.0, 5.0], step="15min", units="mm")
    roof = the_roof(area_m2=450.0, run_on_area_m2=30.0)
    peak = float(check_outlets(roof, storm, allowable_depth_mm=60.0)["design_peak"])
    assert peak == pytest.approx(13.333, abs=5e-4)
    assert peak * 15.0 * 60.0 == pytest.approx(12_000.0)


def test_an_edge_is_judged_at_half_its_length() -> None:
    """By hand: 10.92 L/s over 9 m: (24000 x 10.92 / 9000)^(2/3) = 9.465 mm; over half of it 4^(1/3) times as much, 15.02 mm."""
    roof = the_roof(
        outlets=(runoff.Outlet(kind="edge", length_mm=9000.0),),
        emergency_overflow_mm=None,
        emergency_width_mm=None,
        emergency_height_mm=None,
    )
    check = check_outlets(roof, the_storm(), allowable_depth_mm=60.0)
    whole = (24000.0 * PEAK / 9000.0) ** (2.0 / 3.0)
    assert check["head"].sel(state=["open", "lost", "blocked"]).to_numpy() == pytest.approx(
        [whole, whole * 4.0 ** (1.0 / 3.0), whole * 4.0 ** (1.0 / 3.0)]
    )
    assert bool(check["meets_with_loss"]) and check.attrs["edge_alone"] == "yes"
    assert "50 % of the edge's length left" in check.attrs["verdict"]


def test_of_several_kinds_those_go_that_take_most() -> None:
    """100 mm with strainer takes 2.582 L/s at 60 mm, 75 mm 1.452 L/s (0.5 x 75^2 x 60^0.5 / 15000): the larger one is lost."""
    roof = the_roof(outlets=(runoff.Outlet(kind="round", diameter_mm=75.0), ROUND_100.model_copy(update={"count": 1})))
    check = check_outlets(roof, the_storm(), allowable_depth_mm=60.0)
    assert check["capacity"].to_numpy()[:2] == pytest.approx([2.582 + 1.452, 1.452], abs=1e-3)
    assert check["outlets_left"].to_numpy().tolist() == [2.0, 1.0, 2.0, 0.0]


def test_candidates_that_do_not_fit_are_left_out_with_a_line() -> None:
    wide = runoff.Outlet(kind="rectangular", width_mm=5000.0, height_mm=100.0, strainer=False)
    roof = the_roof(area_m2=16.0, flow_length_m=4.0)  # 16 m of edge: three openings of 5 m fit
    table = size_outlets(roof, the_storm(), allowable_depth_mm=60.0, candidates=[wide], most=5)
    assert table["number"].to_numpy().tolist() == [1, 2, 3]
    assert "4 rectangular outlets of 5000 x 100 mm need 20000 mm of edge" in table.attrs["left_out"]
    too_wide = wide.model_copy(update={"width_mm": 20_000.0})
    with pytest.raises(SizingError, match="no candidate fits on the roof: 1 rectangular outlet of 20000 x 100 mm need"):
        size_outlets(roof, the_storm(), allowable_depth_mm=60.0, candidates=[too_wide])


def test_a_drier_start_is_refused_and_a_wet_date_is_not() -> None:
    weather = runoff.open_sample().sel(time=slice("2012", "2013"))
    run = runoff.simulate(the_roof(), weather)
    lacking = run["held_water"].max("time") - run["held_water"]
    wet, dry = (
        str(run["time"].to_numpy()[int(pick)])[:10] for pick in (lacking.argmin("time"), lacking.argmax("time"))
    )
    check_outlets(the_roof(), the_storm(), allowable_depth_mm=60.0, start_moisture=wet, climate=weather)
    with pytest.raises(
        SizingError, match=rf"given '{dry}', whose medium lacks \d+\.\d mm\); a drier start would count on storage"
    ):
        check_outlets(the_roof(), the_storm(), allowable_depth_mm=60.0, start_moisture=dry, climate=weather)


def test_what_the_roof_file_blocks_counts_in_the_design_peak_too() -> None:
    """Half blocked, two 100 mm outlets of three pass as one: 10.92 / 0.5 = 21.84 L/s through two, 10.92 each,
    h = (15000 x 10.92 / 5000)^2 = 32.76^2 = 1073.2 mm; three: 7.28 each, 21.84^2 = 477.0 mm."""
    check = check_outlets(the_roof(blocked_fraction=0.5), the_storm(), allowable_depth_mm=60.0, blocked_share=0.2)
    assert check["head"].to_numpy()[:2] == pytest.approx([21.84**2, 32.76**2])
    assert check["capacity"].to_numpy()[:2] == pytest.approx([7.746 / 2.0, 5.164 / 2.0], abs=5e-4)
    # the third state is never more open than the roof itself
    assert float(check["head"].sel(state="share_blocked")) == pytest.approx(21.84**2)
    assert "The roof file counts 50 % of layer and outlets as blocked (blocked_fraction)" in check.attrs["verdict"]
    sized = size_outlets(
        the_roof(blocked_fraction=0.5), the_storm(), allowable_depth_mm=60.0, candidates=[ROUND_100], most=3
    )
    assert float(sized["rational_head"][2]) == pytest.approx(21.84**2)
    assert float(sized["capacity"][2]) == pytest.approx(7.746 / 2.0, abs=5e-4)


def test_a_roof_that_is_blocked_throughout_stands_as_with_all_blocked() -> None:
    check = check_outlets(the_roof(blocked_fraction=1.0), the_storm(), allowable_depth_mm=60.0)
    assert (check["head"].to_numpy() == float(check["overflow_depth"])).all()
    assert (check["capacity"] == 0.0).all() and not bool(check["meets_with_loss"])
    sized = size_outlets(
        the_roof(blocked_fraction=1.0), the_storm(), allowable_depth_mm=60.0, candidates=[ROUND_100], most=2
    )
    assert "the roof file counts 100 % of layer and outlets as blocked: clear them" in sized.attrs["verdict"]


def test_a_head_that_is_never_reached_is_said_to_be_so(check) -> None:
    """One lost the outlets alone would need 268 mm; with all blocked water stands 181 mm, the overflow takes it before."""
    said = check.attrs["verdict"]
    assert "A head above 181 mm is what the outlets alone would need: the emergency overflow takes water before" in said
    open_deck = check_outlets(the_roof(emergency_overflow_mm=None, emergency_width_mm=None, emergency_height_mm=None, edge_height_mm=200.0), the_storm(), allowable_depth_mm=60.0)  # fmt: skip
    assert (
        "A head above 200 mm is what the outlets alone would need: the edge takes water" in open_deck.attrs["verdict"]
    )


def test_a_head_of_the_half_blocked_state_alone_is_said_to_be_never_reached() -> None:
    """Three outlets pass the peak at 119 mm (10.92^2), half blocked they would need 21.84^2 = 477 mm; the overflow stands at 181 mm."""
    check = check_outlets(the_roof(), the_storm(), allowable_depth_mm=60.0, lost=0)
    assert float(check["head"].sel(state="share_blocked")) == pytest.approx(21.84**2)
    assert float(check["head"].sel(state="open")) < 181.0
    assert "A head above 181 mm is what the outlets alone would need" in check.attrs["verdict"]


def test_more_outlets_lost_than_there_are() -> None:
    with pytest.raises(
        SizingError, match=r"check_outlets: lost must be from 0 to 3, the roof has 3 outlets \(given 4\)"
    ):
        check_outlets(the_roof(), the_storm(), allowable_depth_mm=60.0, lost=4)
    check_outlets(the_roof(), the_storm(), allowable_depth_mm=60.0, lost=3)
    both = the_roof(outlets=(runoff.Outlet(kind="edge", length_mm=9000.0), ROUND_100.model_copy(update={"count": 1})))
    with pytest.raises(
        SizingError, match=r"lost must be from 0 to 1, the roof has 1 outlet beside its edge \(given 2\)"
    ):
        check_outlets(both, the_storm(), allowable_depth_mm=60.0, lost=2)


def test_a_roof_without_outlets_has_one_state() -> None:
    check = check_outlets(the_roof(outlets=()), the_storm(), allowable_depth_mm=60.0)
    assert check["head"].to_numpy()[:2] == pytest.approx([float(check["overflow_depth"])] * 2)
    rows = described_shown(check).text().split("\n")
    assert len(rows) == 3 and rows[-1].startswith("no outlets") and rows[-1].endswith("does not hold")


def test_the_mass_ponded_takes_the_head_that_the_design_peak_needs() -> None:
    """An opening 50 mm high runs drowned at 91.4 mm of head: roof and sheet are weighed 181.4 mm deep, not 90 + 50 mm."""
    low = the_roof(emergency_height_mm=50.0)
    check = check_outlets(low, the_storm(), allowable_depth_mm=60.0)
    head = float(check["overflow_head"])
    assert head == pytest.approx(91.385, abs=5e-3) and check.attrs["drowned"] == "yes"
    assert head_to_weigh(low, head) == head
    assert head_to_weigh(the_roof(), head) is None  # 102 mm of opening are more
    assert (
        head_to_weigh(the_roof(emergency_overflow_mm=None, emergency_width_mm=None, emergency_height_mm=None), np.nan)
        is None
    )
    levels = runoff.roof_loads(low, head_mm=head)["water_level"]
    assert float(levels.sel(state="ponded")) == pytest.approx(float(check["overflow_depth"]))


def test_the_loads_beside_the_outlets_are_those_of_their_depth(tmp_path, capsys) -> None:
    path = tmp_path / "low.toml"
    path.write_text(the_roof(emergency_height_mm=50.0).to_toml())
    words = ["--depth", "25.2mm", "--duration", "10min", "--pattern", "uniform", "--no-figures", "--out", str(tmp_path)]
    assert main(["outlets", str(path), *words]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "Ponded to the overflow: the design peak needs 91 mm of head over it" in said
    roof = runoff.read_roof(path)
    deep = float(runoff.roof_loads(roof, head_mm=91.385)["total_mass"].sel(state="ponded"))
    shallow = float(runoff.roof_loads(roof)["total_mass"].sel(state="ponded"))
    assert f" {fixed(deep, 1)} " in said and f" {fixed(shallow, 1)} " not in said
    desk = reckon(roof, runoff.open_sample().sel(time=slice("2014", "2015")), the_storm(), allowable_depth_mm=60.0)
    assert desk.ponded == pytest.approx(deep, abs=0.05)
    for missing in ("emergency_height_mm", "emergency_width_mm"):
        path.write_text("\n".join(line for line in path.read_text().split("\n") if not line.startswith(missing)))
    assert main(["outlets", str(path), *words]) == 0  # no opening: weighed to the edge, as the water is followed to it
    to_edge = float(runoff.roof_loads(runoff.read_roof(path))["total_mass"].sel(state="ponded"))
    assert f" {fixed(to_edge, 1)} " in " ".join(capsys.readouterr().out.split())


@pytest.mark.parametrize(("step", "told"), [("5min", False), ("15min", True), ("1h", True)])
def test_a_design_peak_of_long_steps_says_so(step: str, told: bool) -> None:
    """An hour's mean hides the bursts that fill a gutter: 60 mm/h is the peak here whatever falls within the hour."""
    storm = runoff.followed_by_dry(runoff.design_storm(depth_mm=60.0, duration="2h", step=step, pattern="uniform"), 6.0)
    words = f"The heaviest rain is a mean over {pd.Timedelta(step).total_seconds() / 60:g} min: bursts of minutes are heavier."
    check = check_outlets(the_roof(), storm, allowable_depth_mm=60.0)
    sized = size_outlets(the_roof(), storm, allowable_depth_mm=60.0, candidates=[ROUND_100], most=3)
    for table in (check, sized):
        assert (words in table.attrs["verdict"]) is told
        assert ("take the step of the code in force" in table.attrs["verdict"]) is told
