"""The desk without a browser: what a move does, what is refused beside a control, and what is written."""

from __future__ import annotations

import html
import re
from pathlib import Path

import pytest

import runoff
from runoff.desk.workplace import DesignDesk
from runoff.sample_files import sample_folder


@pytest.fixture
def desk(monkeypatch: pytest.MonkeyPatch) -> DesignDesk:
    """A desk on ten years of the invented weather: short, since every test makes its own.

    Beside it lie the thousands of tests of a whole run: what searches them for garbage, once a desk, takes longer than the desk.
    The shared desk and those made within tests do so.
    """
    monkeypatch.setattr("runoff.desk.workplace._set_aside_what_lives", lambda: None)
    weather = runoff.open_sample().sel(time=slice("2000", "2009"))
    return runoff.design_desk(runoff.open_sample_roof("cups"), weather)


@pytest.fixture(scope="module")
def shared_desk() -> DesignDesk:
    """A desk for tests that leave it as they found it."""
    weather = runoff.open_sample().sel(time=slice("2000", "2009"))
    return runoff.design_desk(runoff.open_sample_roof("cups"), weather)


def said(widget) -> str:
    return html.unescape(re.sub(r"<[^>]+>", " ", widget.value))


def test_a_move_runs_the_whole_record_again(desk) -> None:
    desk.depth.slider.value = 120.0
    roof = runoff.open_sample_roof("cups").replace({"medium.depth_mm": 120})
    facts = runoff.summarize(runoff.simulate(roof, desk.weather))
    assert desk.roof.build_up == roof.build_up
    for name in ("retention", "dry_days", "annual_capture_m3"):
        assert float(desk.found.facts[name]) == float(facts[name])
    loads = runoff.roof_loads(roof)["total_mass"]
    assert (desk.found.drained, desk.found.soaked) == (
        float(loads.sel(state="drained")),
        float(loads.sel(state="board_full")),
    )
    assert f"{100 * float(facts['retention']):.1f} %" in said(desk.figures)
    assert "10 years run (invented weather)" in said(desk.figures)
    assert desk.roof.name.endswith("(changed at the desk)")


def test_the_range_follows_and_is_never_that_of_another_roof(desk) -> None:
    assert "four roofs of five like those measured keep at least" in said(desk.sure)
    assert "From 20 parameter sets" in said(desk.sure) and "10 years of weather: under 20" in said(desk.sure)
    desk.depth.slider.value = 100.0
    assert said(desk.sure).strip() == "The range of retention follows in a moment."
    desk.work_out_range()
    assert "expected; four roofs of five" in said(desk.sure)


def test_waterlogging_is_told_with_its_extent_and_such_a_retention_is_not_claimed(desk) -> None:
    desk.board.box.value = "no board"
    run = runoff.simulate(desk.roof, desk.weather)
    wet = run["waterlogged"].to_numpy()
    width = float(run["waterlogged_share"].to_numpy()[wet].mean()) * desk.roof.flow_length_m
    assert f"of the lowest {width:.1f} m on average" in said(desk.figures)
    assert "not to be claimed: water that cannot leave counts as kept" in said(desk.figures)
    assert "MISSES: waterlogged days" in said(desk.figures)
    assert desk.cups.text.disabled and desk.cups.slider.disabled
    desk.work_out_range()
    assert "no figure is claimed" in said(desk.sure)


def test_targets_are_held_against_what_came_out(shared_desk) -> None:
    desk = shared_desk
    desk.targets["drained_mass"].text.value = "100"
    assert "MISSES: drained mass 122.0 kg/m2 instead of at most 100 kg/m2" in said(desk.figures)
    desk.targets["drained_mass"].text.value = "30 lb/ft2"  # 146.5 kg/m2
    assert "meets: drained mass at most 146." in said(desk.figures)
    desk.targets["retention"].text.value = "99 %"
    assert "MISSES: retention" in said(desk.figures)
    desk.targets["retention"].text.value = ""
    assert "MISSES: retention" not in said(desk.figures)
    desk.targets["retention"].text.value = "140"
    assert "Retention at least lies from 0 % to 100 % (given 140)" in said(desk.targets["retention"].fault)
    desk.targets["drained_mass"].text.value = desk.targets["retention"].text.value = ""  # as it was found


def test_outlets_that_hold_and_that_do_not(desk) -> None:
    assert "Outlets DO NOT HOLD" in said(desk.verdict)
    desk.outlets.box.value = "round, with strainer"
    desk.count.slider.value = 6.0
    desk.diameter.slider.value = 150.0
    assert "Outlets hold" in said(desk.verdict) and "6 round outlets of 150 mm" in said(desk.verdict)
    assert "licensed engineer" in said(desk.verdict)


@pytest.mark.parametrize(
    ("typed", "message"),
    [
        ("900 mm", "Medium depth lies from 20 mm to 300 mm (given 900 mm)"),
        ("1 in x", "Medium depth is a number with its unit, for example 60mm or 2.36in"),
        ("-3", "Medium depth lies from 20 mm to 300 mm (given -3)"),
        ("", "Medium depth is a number with its unit"),
    ],
)
def test_a_number_that_cannot_be_is_refused_beside_the_control(shared_desk, typed, message) -> None:
    desk = shared_desk
    before = (desk.figures.value, desk.picture.value, desk.roof)
    desk.depth.text.value = typed
    assert f"Not taken: {message}" in said(desk.depth.fault)
    assert desk.depth.fault.layout.display == ""
    assert (desk.figures.value, desk.picture.value, desk.roof) == before
    assert desk.depth.text.value == "80 mm" and desk.depth.value == 80.0
    desk.depth.text.value = "4 in"  # what is right takes the fault away
    assert desk.depth.value == pytest.approx(101.6) and desk.depth.fault.layout.display == "none"
    desk.depth.text.value = "80 mm"  # as the next one expects it


def test_a_roof_that_cannot_be_puts_the_control_back() -> None:
    base = runoff.open_sample_roof("cups").replace({"roof.edge_height_mm": 200})
    desk = runoff.design_desk(base, runoff.open_sample().sel(time=slice("2000", "2005")))
    desk.depth.text.value = "250 mm"  # medium above the edge
    assert "edge" in said(desk.depth.fault) and "Not taken" in said(desk.depth.fault)
    assert desk.depth.value == 80.0 and desk.roof == base


def test_the_other_unit_system_and_back(shared_desk) -> None:
    desk = shared_desk
    desk.work_out_range()
    before = desk.text()
    desk.system.value = "in, lb, gpm"
    assert desk.depth.text.value == "3.15 in" and desk.allowed.text.value == "2.36 in"
    assert "lb/ft2" in said(desk.figures) and "kg/m2" not in said(desk.figures)
    desk.depth.text.value = "4"  # a bare number is in the unit shown
    assert desk.depth.value == pytest.approx(101.6)
    desk.depth.text.value = "80 mm"
    desk.system.value = "mm, kg, L/s"
    desk.work_out_range()
    assert desk.text() == before


def test_weather_by_the_name_of_its_file(shared_desk, tmp_path: Path) -> None:
    desk = shared_desk
    assert "good" in said(desk.quality) or "look" in said(desk.quality)
    before = desk.figures.value
    desk.climate.text.value = str(tmp_path / "none.csv")
    assert "the weather stays as it was. there is no such weather file" in said(desk.climate.fault)
    gaps = tmp_path / "gaps.csv"
    rows = [f"2001-{1 + d // 28:02d}-{1 + d % 28:02d},1.0,5,15" for d in range(300)]
    gaps.write_text("date,rain_mm,tmin_C,tmax_C\n" + "\n".join(rows) + "\n", encoding="utf-8")
    desk.climate.text.value = str(gaps)
    assert "the weather stays as it was." in said(desk.climate.fault)
    assert desk.figures.value == before
    desk.climate.text.value = str(sample_folder() / "ostrey_summer_5min.csv")
    assert "give a daily record" in said(desk.climate.fault)
    desk.climate.text.value = str(sample_folder() / "ostrey_daily.csv")
    assert "latitude" in said(desk.climate.fault)  # the file has none
    desk.latitude.text.value = "47.5"
    assert "30 years run" in said(desk.figures) and desk.climate.fault.layout.display == "none"
    desk.climate.text.value = ""
    assert "10 years run" in said(desk.figures)


def test_without_a_storm_the_outlets_are_not_judged(tmp_path: Path) -> None:
    weather = runoff.open_sample().sel(time=slice("2000", "2005"))
    del weather.attrs["invented"]  # as a record of one's own, whose storms nobody knows
    desk = runoff.design_desk(runoff.open_sample_roof("cups"), weather)
    assert "the outlets are not judged: name a depth-duration table" in said(desk.verdict)
    desk.sheet_file.text.value = str(tmp_path / "sheet.html")
    desk.write_sheet.click()
    assert "a drainage sheet needs a storm" in said(desk.sheet_file.fault)
    desk.table.text.value = str(tmp_path / "none.csv")
    assert "the storm stays as it was" in said(desk.table.fault)
    desk.table.text.value = str(sample_folder() / "ostrey_depth_duration.csv")
    assert "Outlets DO NOT HOLD" in said(desk.verdict)
    hundred = said(desk.verdict)
    desk.period.box.value = "2"
    assert said(desk.verdict) != hundred


def test_roof_file_and_sheet_are_written(desk, tmp_path: Path) -> None:
    desk.depth.text.value = "95 mm"
    path = tmp_path / "roof.toml"
    desk.roof_file.text.value = str(path)
    desk.write_roof.click()
    assert runoff.read_roof(path) == desk.roof and "Written" in said(desk.done)
    other = tmp_path / "other.toml"
    other.write_text("mine", encoding="utf-8")
    desk.roof_file.text.value = str(other)
    desk.write_roof.click()
    assert "is there already; press the button again to replace it" in said(desk.roof_file.fault)
    assert other.read_text(encoding="utf-8") == "mine"
    desk.write_roof.click()
    assert runoff.read_roof(other) == desk.roof
    desk.roof_file.text.value = str(tmp_path / "roof.csv")
    desk.write_roof.click()
    assert "a roof file ends in .toml" in said(desk.roof_file.fault)
    sheet = tmp_path / "sheet.html"
    desk.sheet_file.text.value = str(sheet)
    desk.write_sheet.click()
    assert desk.sheet_file.fault.layout.display == "none"
    assert runoff.verify_dossier(sheet).is_genuine and "INVENTED" in sheet.read_text(encoding="utf-8")
    desk.sheet_file.text.value = str(tmp_path / "none" / "sheet.html")
    desk.write_sheet.click()
    assert "Not taken" in said(desk.sheet_file.fault)


def test_what_a_desk_cannot_stand_on() -> None:
    roof = runoff.open_sample_roof("cups")
    with pytest.raises(runoff.RunoffError, match=r"give a daily record \(runoff\.daily_totals makes one"):
        runoff.design_desk(roof, runoff.open_sample_storms())
    with pytest.raises(runoff.RunoffError, match="one roof in one place; the record has the dimensions site, time"):
        runoff.design_desk(roof, runoff.open_sample().expand_dims(site=["a", "b"]))
    with pytest.raises(runoff.RunoffError, match='units must be "si" or "us"'):
        runoff.design_desk(roof, units="metric")
