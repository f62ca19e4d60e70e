"""The lesson as a page: its numbers are those of the package, it loads nothing, and what it cannot show is refused.

The numbers are read back out of the written file, and held to `runoff.simulate` on roofs described here anew.
"""

import json
import re
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import runoff
from runoff.cli import main
from runoff.findings.spells import WET_BANDS, damage_index
from runoff.teaching.comparisons import COMPARISONS
from runoff.teaching.years import OUTLET_YEARS, all_built, damage_along_the_fall

YEAR = slice("2019-09-01", "2020-08-31")


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> str:
    path = tmp_path_factory.mktemp("page") / "lesson.html"
    assert main(["lesson", "--out", str(path)]) == 0
    assert path.stat().st_size < 3_000_000
    return path.read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def numbers(page: str) -> dict:
    return json.loads(re.search(r'<script type="application/json" id="numbers">(.*?)</script>', page, re.S)[1])


@pytest.fixture(scope="module")
def weather() -> xr.Dataset:
    return runoff.open_sample().sel(time=YEAR)


def roof(below: str, medium: str, fall: float, **changes: float) -> runoff.Roof:
    """Return the roof a page speaks of, built here by hand from the layers of the sample roof."""
    sample = runoff.open_sample_roof("cups")
    layers = []
    for layer in sample.build_up.layers:
        if layer.word == "board" and below != "cups up":
            if below == "cups down":
                layers.append(runoff.DrainageBoard(**{**layer.fields(), "cups_up": False}))
        elif layer.word == "medium" and medium == "garden soil":
            layers.append(runoff.GrowingMedium(material="garden soil (do not use)", depth_mm=80.0))
        else:
            layers.append(layer)
    given = {**sample.fields(), "build_up": runoff.BuildUp(layers=layers), "planted_fraction": 1.0, "fall": fall}
    given |= dict.fromkeys(("edge_height_mm", "emergency_overflow_mm", "emergency_width_mm", "emergency_height_mm"))
    return runoff.Roof(**{**given, **changes})


class TestNumbers:
    def test_a_year_of_every_choice_in_at_most_72_runs(self, numbers: dict) -> None:
        assert len(numbers["days"]) == 366  # September 2019 to August 2020, with 29 February
        assert (numbers["days"][0], numbers["days"][-1]) == ("2019-09-01", "2020-08-31")
        parts = [numbers["below"], numbers["media"], [f"{fall:g}" for fall in numbers["falls"]]]
        parts.append([one["key"] for one in numbers["outlets"]])
        wanted = {"|".join(names) for names in np.array(np.meshgrid(*parts)).reshape(4, -1).T}
        assert set(numbers["runs"]) == wanted and len(wanted) == 72

    @pytest.mark.parametrize("below", ["cups up", "cups down", "mat alone"])
    @pytest.mark.parametrize("medium", ["mineral mix", "garden soil"])
    @pytest.mark.parametrize("fall", [0.02, 0.0])
    def test_the_open_roof_is_that_of_simulate(
        self, numbers: dict, weather: xr.Dataset, below: str, medium: str, fall: float
    ) -> None:
        run = runoff.simulate(roof(below, medium, fall), weather)
        _holds(numbers["runs"][f"{below}|{medium}|{fall:g}|open"], run)

    @pytest.mark.parametrize(
        ("fate", "blocked", "clogs", "clears"),
        [
            ("half", 0.5, "2019-10-01", None),
            ("autumn", 1.0, "2019-10-01", None),
            ("autumn, cleared", 1.0, "2019-10-01", "2020-05-01"),
            ("spring", 1.0, "2020-04-01", None),
            ("spring, cleared", 1.0, "2020-04-01", "2020-07-01"),
        ],
    )
    def test_a_clogged_year_is_runs_one_after_the_other(
        self, numbers: dict, weather: xr.Dataset, fate: str, blocked: float, clogs: str, clears: str | None
    ) -> None:
        free, shut = (
            roof("cups up", "mineral mix", 0.02),
            roof("cups up", "mineral mix", 0.02, blocked_fraction=blocked),
        )
        time = weather["time"].to_numpy()
        start, end = np.datetime64(clogs), np.datetime64(clears or "2020-09-01")
        # the first piece starts as the whole year does: by a year run once before, so its own warm-up would be another
        pieces = [runoff.simulate(free, weather).isel(time=time < start)]
        pieces.append(runoff.simulate(shut, weather.isel(time=(time >= start) & (time < end)), start_state=pieces[0]))
        if clears:
            pieces.append(runoff.simulate(free, weather.isel(time=time >= end), start_state=pieces[1]))
        names = ("overflow", "water_depth_on_deck_mm", "air_filled_porosity", "cup_water", "waterlogged")
        packed = numbers["runs"][f"cups up|mineral mix|0.02|{fate}"]
        joined = {name: np.concatenate([piece[name].to_numpy() for piece in pieces]) for name in names}
        assert packed["left"] == pytest.approx(joined["overflow"], abs=0.005 + 1e-9)  # two decimals
        assert packed["level"] == pytest.approx(joined["water_depth_on_deck_mm"], abs=0.05 + 1e-9)  # one decimal
        assert packed["air"] == pytest.approx(100 * joined["air_filled_porosity"], abs=0.05 + 1e-9)
        assert [day == "1" for day in packed["wet"]] == joined["waterlogged"].astype(bool).tolist()
        (told,) = (one for one in numbers["outlets"] if one["key"] == fate)
        assert numbers["days"][told["clogs"]] == clogs
        assert told["clears"] is None if clears is None else numbers["days"][told["clears"]] == clears

    def test_damage_is_followed_place_by_place(self, weather: xr.Dataset) -> None:
        run = runoff.simulate(roof("cups up", "mineral mix", 0.02, blocked_fraction=1.0), weather)
        along = damage_along_the_fall(run, places=8)
        for place in (0, 3, 7):
            # the middle of strip k lies at (k + 1/2)/8 of the roof from the low end
            reached = run.assign(waterlogged=run["waterlogged_share"] >= (place + 0.5) / 8 - 1e-9)
            assert along.isel(place=place).to_numpy().tolist() == damage_index(reached).to_numpy().tolist()
        assert (along.diff("place") <= 0).all()  # the low end is never better off

    def test_units_are_those_of_the_package(self, numbers: dict) -> None:
        for kind, value, unit in (("depth", 25.4, "mm"), ("whole load", 100.0, "kg/m2"), ("temperature", 20.0, "degC")):
            for system in ("si", "us"):
                scale = numbers["scales"][kind][system]
                text = f"{value * scale['factor'] + scale['offset']:.{scale['digits']}f}"
                from runoff.saying.scales import shown

                assert text == shown(value, unit, kind, system).text

    def test_every_comparison_differs_in_one_thing_and_can_be_shown(self, numbers: dict) -> None:
        for one in COMPARISONS:
            first, second = (
                [choice.built.below, choice.built.medium, choice.built.fall, choice.outlet]
                for choice in (one.first, one.second)
            )
            assert sum(a != b for a, b in zip(first, second, strict=True)) == 1, one.title
        assert len({one["title"] for one in numbers["comparisons"]}) == len(numbers["comparisons"])
        for one in numbers["comparisons"]:
            assert one["first"] in numbers["runs"] and one["second"] in numbers["runs"]


def _holds(packed: dict, run: xr.Dataset) -> None:
    """Hold the series of a page to a run; the tolerances are half of the last decimal kept."""
    for name, variable, factor, half in (
        ("left", "overflow", 1.0, 0.005),
        ("over_edge", "spilled", 1.0, 0.005),
        ("level", "water_depth_on_deck_mm", 1.0, 0.05),
        ("air", "air_filled_porosity", 100.0, 0.05),
        ("share", "waterlogged_share", 100.0, 0.05),
        ("cups", "cup_water", 1.0, 0.05),
        ("held", "held_water", 1.0, 0.05),
    ):
        assert packed[name] == pytest.approx(run[variable].to_numpy() * factor, abs=half + 1e-9), name
    assert [day == "1" for day in packed["wet"]] == run["waterlogged"].to_numpy().astype(bool).tolist()
    assert [day == "1" for day in packed["dry"]] == run["dry"].to_numpy().astype(bool).tolist()
    water = sum(run[name] for name in run.data_vars if name in (
        "surface_water", "medium_water", "cup_water", "mat_water", "board_water", "pond_water", "snow_water",
    )).to_numpy()  # fmt: skip
    dry_mass = np.array(packed["weight"]) - water
    assert np.ptp(dry_mass) <= 0.1 + 1e-9  # the layers weigh the same every day


class TestPage:
    def test_nothing_is_loaded_from_outside(self, page: str) -> None:
        assert 'http-equiv="Content-Security-Policy" content="default-src \'none\'' in page
        outside = re.sub(r"http://www\.w3\.org/2000/svg", "", page)  # the name of a format, not an address
        assert not re.search(
            r"https?://|//[a-z]+\.|@import|url\((?!#)|<link|<iframe|fetch\(|XMLHttpRequest|import\(", outside
        )
        assert not re.search(r'\ssrc="', page)

    def test_it_says_what_is_invented_and_who_judges_loads(self, page: str) -> None:
        assert "(invented weather)" in page and "licensed engineer under the local code" in page
        assert "emergency overflow" in page

    def test_the_same_record_gives_the_same_page(self, page: str, tmp_path: Path) -> None:
        assert runoff.write_lesson(runoff.open_sample(), tmp_path / "again.html").read_text(encoding="utf-8") == page

    def test_bands_are_those_of_the_package(self, page: str) -> None:
        for band in WET_BANDS:
            assert f"<tr><td>{band.days}</td><td>{band.words}</td></tr>" in page


class TestRefusals:
    def test_a_year_the_record_lacks(self, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
        assert main(["lesson", "--year", "2020", "--out", str(tmp_path / "lesson.html")]) == 1
        said = capsys.readouterr().err
        assert "from 1 September 2020 to the end of August 2021" in said and "Years that it has: 1991 to 2019" in said
        assert not list(tmp_path.iterdir())

    def test_a_word_for_a_year(self) -> None:
        with pytest.raises(runoff.RunoffError, match=r'year is a whole number, for example 2014 \(given "last"\)'):
            runoff.write_lesson(runoff.open_sample(), "lesson.html", year="last")

    def test_another_kind_of_file(self, tmp_path: Path) -> None:
        with pytest.raises(runoff.RunoffError, match=r'the page ends in .html \(given "lesson.pdf"\)'):
            runoff.write_lesson(runoff.open_sample(), tmp_path / "lesson.pdf")

    def test_no_year_whole(self) -> None:
        with pytest.raises(runoff.RunoffError, match="has no such year whole"):
            runoff.write_lesson(runoff.open_sample().sel(time="2019"), "lesson.html")

    def test_a_file_without_temperature(self, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
        days = pd.date_range("2030-09-01", "2031-08-31").strftime("%Y-%m-%d")
        path = tmp_path / "rain_only.csv"
        path.write_text("\n".join(["time,rain_mm", *(f"{day},{(i % 5) * 2.0}" for i, day in enumerate(days))]))
        assert main(["lesson", str(path), "--latitude", "45", "--out", str(tmp_path / "lesson.html")]) == 1
        assert "temperature" in capsys.readouterr().err
        assert not (tmp_path / "lesson.html").exists()

    def test_hours_are_no_days(self) -> None:
        times = pd.date_range("2030-09-01", "2031-09-01", freq="h", inclusive="left")
        hourly = xr.Dataset({"rain": ("time", np.zeros(times.size), {"units": "mm"})}, coords={"time": times})
        with pytest.raises(runoff.RunoffError, match="give a daily record"):
            runoff.write_lesson(hourly, "lesson.html")


def test_in_the_south_leaves_fall_in_april() -> None:
    sample = runoff.open_sample().sel(time=slice("2017", "2019"))
    south = sample.assign_coords(lat=-37.0)
    from runoff.teaching.lesson_page import packed_year

    year = packed_year(south)
    assert (year["days"][0], year["days"][-1]) == ("2018-03-01", "2019-02-28")
    assert (
        year["outlets"][2]["words"] == "clogged from 1 April"
        and year["days"][year["outlets"][2]["clogs"]] == "2018-04-01"
    )
    assert len(all_built()) * len(OUTLET_YEARS) == 72
