"""Results that show themselves: tables, sentences and pictures, in a terminal and in a notebook, and nothing else changed."""

import re
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
import xarray as xr
from IPython.core.interactiveshell import InteractiveShell

import runoff
from runoff.findings.storm_comparison import compare_storm, followed_by_dry
from runoff.roof.ordering import order_list
from runoff.saying import titles
from runoff.showing import MOST, Display, display_of, register


@pytest.fixture(scope="module")
def results() -> dict[str, Any]:
    """One result of every kind, over twenty years of the sample."""
    roof, thin = runoff.open_sample_roof("cups"), runoff.open_sample_roof("thin")
    weather = runoff.open_sample().sel(time=slice("1991", "2010"))
    run = runoff.simulate(roof, weather)
    storm = followed_by_dry(runoff.design_storm(depth_mm=40, duration="2h", step="5min", pattern="uniform"), 4.0)
    # 40, 80 and 120 mm keep 40, 43 and 44 %: one candidate misses the target, and no one can be sure of it
    targets = {"retention": {"at_least": 0.42}}
    return {
        "facts": runoff.summarize(run),
        "two roofs": runoff.summarize(runoff.simulate({"cups": roof, "thin": thin}, weather)),
        "sweep": runoff.sweep(roof, weather, {"medium.depth_mm": [60, 80], "board.cup_storage_mm": [0, 3]}),
        "size": runoff.size(roof, weather, targets, {"medium.depth_mm": [40, 80, 120]}),
        "outlets": runoff.size_outlets(roof, storm, allowable_depth_mm=60.0, most=2),
        "storm": compare_storm(runoff.simulate(roof, storm, start_moisture="field-capacity"), roof),
        "ranges": runoff.uncertainty(roof, weather, members=4, resamples=3, targets=targets),
        "measure": runoff.what_to_measure(roof, weather, samples=2),
        "climates": runoff.compare_climates(
            roof, {"here": weather, "drier": weather.assign(rain=weather["rain"] * 0.8)}
        ),
        "watering": runoff.irrigation_demand(roof, weather),
        "loads": runoff.roof_loads(roof),
        "days": run[["rain", "overflow", "waterlogged"]].isel(time=slice(0, 6)),
        "table": runoff.open_sample_depth_duration(),
        "order list": order_list(roof),
        "order": runoff.bill_of_quantities(roof),
        "quality": runoff.check_weather(weather),
        "fit": runoff.fit_roof(roof, weather, run["roof_overflow"].to_series().iloc[400:700]),
    }


#: A row or a sentence that each must hold, and whether a picture belongs to it.
WANTED = {
    "facts": ("retention", False),
    "two roofs": ("thin", False),
    "sweep": ("board cup", True),
    "size": ("<- chosen", True),
    "outlets": ("All primary outlets blocked", True),
    "storm": ("peak discharge of the whole roof", True),
    "ranges": ("retention at least 42 %", False),
    "measure": ("medium field capacity", True),
    "climates": ("drier", False),
    "watering": ("days with watering per year", False),
    "loads": ("drained", False),
    "days": ("1991-01-06", False),
    "table": ("100 years", False),
    "order list": ("To order for", False),
    "order": ("plugs, trays", False),
    "quality": ("longest rainless spell", False),
    "fit": ("planting.crop_coefficient", True),
}


@pytest.mark.parametrize("kind", WANTED)
def test_every_kind_of_result_shows_itself(kind: str, results: dict[str, Any]) -> None:
    words, has_picture = WANTED[kind]
    shown = runoff.show(results[kind])
    assert words in str(shown) and repr(shown) == str(shown)
    page = shown._repr_html_()
    assert "<table" in page
    assert ('<img alt="' in page) == has_picture
    if has_picture:  # a picture says in words what it shows
        assert len(re.search(r'<img alt="([^"]*)"', page)[1]) > 40


@pytest.mark.parametrize("kind", [kind for kind in WANTED if kind not in ("quality", "fit", "measure")])
def test_the_other_unit_system(kind: str, results: dict[str, Any]) -> None:
    us, si = str(runoff.show(results[kind], units="us")), str(runoff.show(results[kind]))
    assert us != si
    # no number keeps an SI unit; sentences of outlets and loads name forms and sources with their own
    table = "\n".join(one.text() for one in runoff.show(results[kind], units="us").tables)
    if kind not in ("outlets", "order", "order list"):
        assert not re.search(r"\b(mm|m3|kg/m2|L/s)\b", table)


def test_facts_are_those_of_the_command_line(results: dict[str, Any]) -> None:
    shown = runoff.show(results["facts"], units="us")
    assert runoff.facts_text(results["facts"], units="us", comparison="bare membrane") in shown.text()
    assert "The weather is invented" in shown.text()


def test_candidates_that_miss_and_chances_in_between_are_shown(results: dict[str, Any]) -> None:
    verdicts = [row[-1] for row in runoff.show(results["size"]).tables[0].rows]
    assert verdicts == ["<- chosen", "meets all", "misses 1"]
    assert 0.0 < float(results["ranges"]["probability"].item()) < 1.0


def test_a_run_too_long_to_read_stays_a_dataset(results: dict[str, Any]) -> None:
    weather = runoff.open_sample().sel(time="1991")
    assert display_of(runoff.simulate(runoff.open_sample_roof("cups"), weather)) is None


def test_six_days_are_shown_with_their_units() -> None:
    weather = runoff.open_sample().sel(time=slice("1991-06-01", "1991-06-02"))
    run = runoff.simulate(runoff.open_sample_roof("cups"), weather)
    run["rain"][:] = [0.0, 25.4]
    shown = runoff.show(run[["rain", "waterlogged"]], units="us").text()
    assert "1991-06-02  1.000" in shown and "rain" in shown and "in" in shown.split("\n")[1]


def test_a_long_sweep_is_cut_and_says_so() -> None:
    weather = runoff.open_sample().sel(time="1991")
    swept = runoff.sweep(runoff.open_sample_roof("cups"), weather, {"medium.depth_mm": list(range(40, 70))})
    shown = runoff.show(swept)
    assert len(shown.tables[0].rows) == MOST
    assert f"{MOST} of 30 are shown; the Dataset holds them all." in shown.sentences


def test_a_result_stays_a_plain_dataset(results: dict[str, Any], tmp_path: Path) -> None:
    facts = results["facts"]
    assert type(facts) is xr.Dataset
    facts.to_netcdf(tmp_path / "facts.nc")
    back = xr.load_dataset(tmp_path / "facts.nc")
    xr.testing.assert_identical(back, facts)
    assert str(runoff.show(back)) == str(runoff.show(facts))  # read back, it shows itself as before
    assert float(facts["retention"] * 2) == 2.0 * float(facts["retention"])


def test_what_is_not_ours_is_refused() -> None:
    message = (
        "show: a Dataset is not known; give what summarize, sweep, size, size_outlets, check_outlets, uncertainty, what_to_measure, "
        "compare_climates, irrigation_demand, compare_storm, storm_uncertainty, roof_loads, order_list, bill_of_quantities, check_weather, "
        "fit_roof or fit_tray returned"
    )
    with pytest.raises(runoff.RunoffError, match=f"^{re.escape(message)}$"):
        runoff.show(xr.Dataset({"retention": 0.5}))
    with pytest.raises(runoff.RunoffError, match='units must be "si" or "us"'):
        runoff.show(xr.Dataset(), units="metric")


@pytest.fixture
def shell() -> Any:
    made = InteractiveShell()
    register(made)
    return made


def test_the_last_line_of_a_cell_is_enough(shell: Any, results: dict[str, Any]) -> None:
    for kind in WANTED:
        bundle, _ = shell.display_formatter.format(results[kind])
        assert "<table" in bundle["text/html"], kind
        assert WANTED[kind][0] in bundle["text/plain"], kind


def test_everything_else_is_displayed_as_before(shell: Any, results: dict[str, Any]) -> None:
    plain = InteractiveShell()
    weather = runoff.open_sample().isel(time=slice(0, 30))
    run = runoff.simulate(runoff.open_sample_roof("cups"), weather)
    frame = pd.DataFrame({"a": [1.0, 2.0]})
    for other in (weather, run, frame, results["facts"].drop_attrs(), "text", 5):
        ours, theirs = (one.display_formatter.format(other)[0] for one in (shell, plain))
        assert set(ours) == set(theirs)
        # xarray numbers its boxes anew each time
        strip = [
            re.sub(r"(section|attrs|data|index)-[0-9a-f-]{36}", "", one.get("text/html", "")) for one in (ours, theirs)
        ]
        assert strip[0] == strip[1]
        assert ours["text/plain"] == theirs["text/plain"]


def test_a_display_never_fails(shell: Any, results: dict[str, Any]) -> None:
    # arithmetic keeps the title on what no longer is the result: then xarray's own display serves
    left = results["facts"][["annual_rain"]] * 2.0
    left.attrs["title"] = titles.FACTS
    bundle, _ = shell.display_formatter.format(left)
    assert "annual_rain" in bundle["text/html"] and "annual_rain" in bundle["text/plain"]


def test_several_dimensions_are_left_to_xarray(results: dict[str, Any]) -> None:
    facts = results["two roofs"]
    both = xr.concat([facts, facts], "site").assign_attrs(title=titles.FACTS)
    assert display_of(both) is None


def test_importing_in_a_notebook_registers(monkeypatch: pytest.MonkeyPatch, results: dict[str, Any]) -> None:
    import IPython

    made = InteractiveShell()
    monkeypatch.setattr(IPython, "get_ipython", lambda: made)
    runoff._tell_notebook()
    bundle, _ = made.display_formatter.format(results["loads"])
    assert "drained" in bundle["text/html"]


def test_text_and_html_of_hand_made_parts() -> None:
    shown = Display([], ["a < b", ""])
    assert shown.text() == "a < b"
    assert shown.html() == '<p style="max-width:60em;margin:.3em 0">a &lt; b</p>'
