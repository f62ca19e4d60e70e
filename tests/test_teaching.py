"""The lesson without a browser: what a setting means, what is read from it, what the exercises accept, and the controls."""

import dataclasses
import io
import re
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from PIL import Image

import runoff
from runoff.teaching import Scene, Setting, scene
from runoff.teaching.exercises import check_light_and_green, check_overflow_height, check_six_days
from runoff.teaching.scenes import roof_of


@pytest.fixture(scope="module")
def weather() -> xr.Dataset:
    return runoff.open_sample().sel(time=slice("2012", "2014"))


@pytest.fixture(scope="module")
def clogged(weather: xr.Dataset) -> Scene:
    return scene(Setting(outlet="clogged"), weather)


def one_line(said: str) -> str:
    return " ".join(said.split())


def words_of(roof: runoff.Roof) -> list[str]:
    return [layer.word for layer in roof.build_up.layers]


class TestSetting:
    def test_each_control_changes_its_own_part_of_the_roof(self) -> None:
        plain = roof_of(Setting())
        assert plain.planted_fraction == 1.0 and plain.blocked_fraction == 0.0 and plain.emergency_overflow_mm is None
        assert roof_of(Setting(outlet="half clogged")).blocked_fraction == 0.5
        assert roof_of(Setting(outlet="clogged")).blocked_fraction == 1.0
        assert roof_of(Setting(depth_mm=120.0)).build_up.medium.depth_mm == 120.0
        assert roof_of(Setting(overflow_mm=60.0)).emergency_overflow_mm == 60.0
        assert roof_of(Setting(board="cups down")).build_up.board.cups_up is False
        assert "board" not in words_of(roof_of(Setting(board="mat alone")))
        assert "mulch" in words_of(plain) and "mulch" not in words_of(roof_of(Setting(mulch=False)))

    def test_mulch_lies_on_the_medium(self) -> None:
        words = words_of(roof_of(Setting()))
        assert words.index("mulch") + 1 == words.index("medium")

    def test_what_no_control_offers_is_refused_all_at_once(self) -> None:
        message = (
            r'setting: outlet is one of open, half clogged, clogged \(given "shut"\)\n'
            r'setting: board is one of cups up, cups down, mat alone \(given "tray"\)\n'
            r"setting: depth_mm lies between 20 and 300 \(given 5\)\n"
            r"setting: overflow_mm lies between 5 and 500 \(given 900\)"
        )
        with pytest.raises(runoff.RunoffError, match=message):
            Setting(outlet="shut", board="tray", depth_mm=5.0, overflow_mm=900.0)


class TestScene:
    def test_the_reading_is_that_of_the_run(self, clogged: Scene) -> None:
        step = clogged.day_index("2014-03-01")
        read, day = clogged.reading(step), clogged.run.sel(time="2014-03-01").squeeze()
        assert read["this day"] == "2014-03-01"
        assert read["rain this day"] == f"{float(day['rain']):.1f} mm"
        assert read["air in the medium"] == f"{100 * float(day['air_filled_porosity']):.0f} % of its volume"
        assert read["depth of water on the deck"] == f"{float(day['water_depth_on_deck_mm']):.0f} mm"
        facts = runoff.summarize(runoff.simulate(clogged.roof, clogged.run[["rain", "reference_et", "tmean"]]))
        assert read["waterlogged days a year"] == f"{float(facts['waterlogged_days']):.0f}"
        assert read["retention, whole record"] == f"{100 * float(facts['retention']):.0f} %"

    def test_a_clogged_outlet_drowns_and_an_open_one_does_not(self, clogged: Scene, weather: xr.Dataset) -> None:
        free = scene(Setting(), weather)
        assert float(free.facts["waterlogged_days"]) < 1.0  # 10 mm of free board and an open outlet shed any winter day
        assert float(clogged.facts["waterlogged_days"]) > 100.0

    @pytest.mark.parametrize(
        ("spell", "dry", "roots"),
        [(0, False, "healthy"), (2, False, "healthy"), (3, False, "at risk"), (0, True, "dry")],
    )
    def test_roots_suffer_after_more_than_two_days(self, clogged: Scene, spell: int, dry: bool, roots: str) -> None:
        # the tolerance of a run is 2 days by default (RootLimits)
        days = clogged.run.sizes["time"]
        made = dataclasses.replace(clogged, spell=np.full(days, spell), dry=np.full(days, dry))
        assert made.roots(5) == roots
        assert f"the roots are {roots}" in made.sentence(5)

    def test_the_sentence_says_all_that_picture_and_table_show(self, clogged: Scene) -> None:
        step = clogged.day_index("2014-03-01")
        sentence = clogged.sentence(step)
        for name, value in clogged.reading(step).items():
            assert value in sentence and (name == "this day" or name in sentence)
        assert sentence.startswith("On 2014-03-01 (outlet clogged, cups up, medium 80 mm, with mulch)")
        figure = clogged.figure(step)
        assert "roots at risk" in figure.description
        assert "2014-03-01: outlet clogged, cups up (invented weather)" in {t.get_text() for t in figure.axes[0].texts}

    def test_a_day_outside_the_record_is_named(self, clogged: Scene) -> None:
        message = "the record runs from 2012-01-01 to 2014-12-31; there is no 2031-01-01 in it"
        with pytest.raises(runoff.RunoffError, match=message):
            clogged.day_index("2031-01-01")


class TestExercises:
    # by hand on the answer page: 36 mm fell, 18.984 mm left; 17.016 mm or 47.27 % was kept
    @pytest.mark.parametrize("answer", [0.47, 0.4727, 47, "47 %", "47,3%", "0.48", "17 mm", "17.02mm", "  47 %  "])
    def test_any_way_of_writing_the_right_share_counts(self, answer: object) -> None:
        assert check_six_days(answer).startswith("Right: 36 mm fell, 18.98 mm left")

    @pytest.mark.parametrize("answer", ["50 %", 0.53, 53, "19 mm", "0.47 %", "-47 %", "16 mm", 1])
    def test_a_wrong_share_is_told_what_to_do(self, answer: object) -> None:
        assert check_six_days(answer).startswith("Not yet: add up the six overflows")

    @pytest.mark.parametrize("answer", ["half", "", None])
    def test_no_number_is_told_what_to_write(self, answer: object) -> None:
        assert check_six_days(answer) == f"Not yet: write a number, for example 0.5 or 50 % (you wrote {answer!r})."

    def test_an_overflow_must_stand_below_the_roots(self, weather: xr.Dataset) -> None:
        def say(**given: object) -> str:
            return one_line(check_overflow_height(Setting(**{"outlet": "clogged", **given}), weather))

        assert say(outlet="open").startswith("Not yet: the outlet must stay clogged")
        assert say().startswith("Not yet: there is no emergency overflow")
        assert say(overflow_mm=20.0).startswith("Right: with the overflow at 20 mm")  # below the top of the 25 mm board
        # the medium ends at 25 + 80 mm: an overflow just below that lets nearly all of it fill
        wrong = say(overflow_mm=100.0)
        days = re.search(r"still waterlogged on (\d+) days a year", wrong)
        assert wrong.startswith("Not yet: at 100 mm") and days and int(days.group(1)) > 100

    def test_a_light_and_green_roof_has_its_faults_named(self, weather: xr.Dataset) -> None:
        heavy = one_line(check_light_and_green(Setting(depth_mm=160.0), weather))
        assert re.match(r"Not yet: it weighs \d+ kg/m2 drained, more than 119\.$", heavy)
        drowned = one_line(check_light_and_green(Setting(depth_mm=160.0, outlet="clogged"), weather))
        assert "it weighs" in drowned and "it stands waterlogged on" in drowned
        thin = one_line(check_light_and_green(Setting(depth_mm=40.0, mulch=False, board="cups down"), weather))
        assert "it is dry on" in thin and "it weighs" not in thin

    def test_one_right_answer_of_the_answer_page(self) -> None:
        lines = check_light_and_green(Setting(depth_mm=80.0, mulch=False), runoff.open_sample())
        assert max(map(len, lines.splitlines())) <= 88  # what a cell shows in one line
        said = one_line(lines)
        assert said.startswith("Right: ") and "Other answers are right too" in said
        assert "for a structural engineer to say" in said


class TestControls:
    @pytest.fixture
    def lesson(self, weather: xr.Dataset):
        pytest.importorskip("ipywidgets", reason="the extra `notebooks` is not installed")
        from runoff.teaching.controls import Lesson

        return Lesson(weather, year=2014, day=60)

    @pytest.mark.parametrize(
        ("control", "value", "expected"),
        [
            ("outlet", "clogged", {"outlet": "clogged"}),
            ("board", "mat alone", {"board": "mat alone"}),
            ("depth", 120, {"depth_mm": 120.0}),
            ("overflow", 20, {"overflow_mm": 20.0}),
            ("mulch", False, {"mulch": False}),
        ],
    )
    def test_a_moved_control_runs_the_whole_record_and_draws(
        self, lesson, weather: xr.Dataset, monkeypatch: pytest.MonkeyPatch, control: str, value: object, expected: dict
    ) -> None:
        from runoff.teaching import scenes

        ran = []
        simulate = scenes.simulate
        monkeypatch.setattr(scenes, "simulate", lambda roof, record: ran.append(record) or simulate(roof, record))
        before = lesson.picture.value, lesson.text.value
        getattr(lesson, control).value = value
        assert dataclasses.asdict(lesson.setting) == dataclasses.asdict(Setting()) | expected
        assert [record.sizes["time"] for record in ran] == [weather.sizes["time"]]
        assert lesson.picture.value != before[0] and lesson.text.value != before[1]
        assert (
            Image.open(io.BytesIO(lesson.picture.value)).width == 648
        )  # 7.2 in at 90 dots per inch, as wide as it is shown at most

    def test_another_day_draws_without_a_new_run(self, lesson, monkeypatch: pytest.MonkeyPatch) -> None:
        from runoff.teaching import controls

        monkeypatch.setattr(controls, "scene", lambda *_: pytest.fail("the record was run again"))
        before = lesson.picture.value
        lesson.day.value = 200
        assert lesson.picture.value != before and "2014-07-19" in lesson.reading.value  # the 200th day of 2014

    def test_any_daily_file_is_a_climate(self, lesson, tmp_path: Path) -> None:
        # an invented dry year at 45 degrees: 12 mm every ten days, of which only the bypass leaves
        times = pd.date_range("2031-01-01", "2031-12-31").strftime("%Y-%m-%d")
        path = tmp_path / "dry_valley.csv"
        path.write_text(
            "\n".join(
                ["time,rain_mm,tmin_degc,tmax_degc", *(f"{day},{12.0 * (day[-1] == '5')},10,24" for day in times)]
            )
        )
        before = lesson.reading.value
        lesson.latitude.value = "45"
        lesson.climate.value = str(path)
        assert "2031-03-01" in lesson.reading.value and lesson.day.description == "Day of 2031"
        assert float(lesson.scene.facts["annual_rain"]) == pytest.approx(12.0 * 36)
        assert float(lesson.scene.run["percolation"].sum()) == 0.0 < float(lesson.scene.run["bypass"].sum())
        assert (lesson.day.max, lesson.play.max) == (365, 365)
        lesson.climate.value = ""
        assert lesson.reading.value == before  # the climate given, and its year
        assert lesson.scene.run.sizes["time"] == 1096  # 2012 to 2014, with one leap day

    def test_a_climate_nobody_can_use_leaves_the_lesson_as_it_was(self, lesson, tmp_path: Path) -> None:
        holed = tmp_path / "holed.csv"
        holed.write_text("time,rain_mm,tmin_degc,tmax_degc\n2031-01-01,1.0,1,9\n2031-01-02,,1,9\n2031-01-03,0.0,1,9")
        before = lesson.reading.value, lesson.picture.value
        lesson.latitude.value = "45"
        for name, words in (("nowhere.csv", "there is no such weather file"), (str(holed), "2031-01-02")):
            lesson.climate.value = name
            assert "The climate stays as it was" in lesson.text.value and words in lesson.text.value
            assert (lesson.reading.value, lesson.picture.value) == before
        lesson.latitude.value = "north"
        assert "The climate stays as it was" in lesson.text.value
        hourly = tmp_path / "hourly.csv"
        hours = pd.date_range("2031-01-01", periods=48, freq="h").strftime("%Y-%m-%d %H:%M")
        hourly.write_text("\n".join(["time,rain_mm", *(f"{hour},0.1" for hour in hours)]))
        lesson.latitude.value, lesson.climate.value = "45", str(hourly)
        assert "give a daily record" in lesson.text.value

    def test_every_control_is_named(self, lesson) -> None:
        for control in (
            lesson.outlet,
            lesson.board,
            lesson.depth,
            lesson.overflow,
            lesson.mulch,
            lesson.day,
            lesson.climate,
            lesson.latitude,
        ):
            assert control.description

    def test_the_last_whole_year_and_its_last_day(self, weather: xr.Dataset) -> None:
        pytest.importorskip("ipywidgets", reason="the extra `notebooks` is not installed")
        from runoff.teaching.controls import Lesson

        lesson = Lesson(weather, day=366)
        assert lesson.day.max == 365 and "2014-12-31" in lesson.reading.value
        assert (
            Lesson(weather.sel(time=slice("2012-07", "2014-06"))).step == 184 + 59
        )  # 1 March 2013, after half of 2012
        with pytest.raises(runoff.RunoffError, match="the record runs from 2012 to 2014; there is no 1950 in it"):
            Lesson(weather, year=1950)

    def test_picture_and_sentence_stand_in_for_the_widget(self, lesson, monkeypatch: pytest.MonkeyPatch) -> None:
        import base64

        import IPython.display

        shown: list[dict] = []
        monkeypatch.setattr(IPython.display, "display", lambda bundle, raw: shown.append(bundle))
        lesson._ipython_display_()
        (bundle,) = shown
        assert base64.b64decode(bundle["image/png"]) == lesson.picture.value
        assert bundle["text/plain"].startswith("On 2014-03-01 (outlet open")
        assert "application/vnd.jupyter.widget-view+json" in bundle
