"""Credit by the formulas of offices, worked by hand; what a dossier is asked to be, refused in words."""

from __future__ import annotations

import numpy as np
import pytest

import runoff
from runoff.cli.dossier_command import RULE_NAMES
from runoff.dossier.asked_for import Options, event_asked
from runoff.dossier.future_dates import refuse_future_date, refuse_future_days
from runoff.dossier.gathering import filled_days, refuse_filled
from runoff.dossier.office_rules import RULES, credit_figures
from runoff.dossier.words import left_out
from runoff.storms.depth_duration import DepthDurationTable
from tests.dossier.conftest import years


def test_the_sample_roof_by_each_rule():
    """80 mm of medium, field capacity 0.33, wilting point 0.08, porosity 0.60; 15 + 80 + 1 + 25 mm above the waterproofing.

    80 x 0.25 = 20.0, 80 x 0.33 = 26.4, 80 x 0.60 = 48.0, 0.05 x 121 = 6.05 mm; the band 5 to 10 cm gives 4 to 8 mm (table 21 of
    the French handbook, 2017). Curve number 84: S = 25400/84 - 254 = 48.381 mm, Ia = 9.676 mm, of 30 mm runs off
    20.324^2/68.705 = 6.01 mm, of 38.1 mm 28.424^2/76.805 = 10.52 mm: 23.99 and 27.58 mm are kept.
    """
    roof = runoff.open_sample_roof("cups")
    wanted = {
        "north-carolina": (20.0, 20.0),
        "minnesota": (26.4, 26.4),
        "minnesota-porosity": (48.0, 48.0),
        "interception-5-percent": (6.05, 6.05),
        "paris-region": (4.0, 8.0),
        "curve-number-84": (23.99, 27.58),
    }
    found = credit_figures(roof, tuple(wanted))
    for name, (low, high) in wanted.items():
        one = found.sel(rule=name)
        assert float(one["credit_low_mm"]) == pytest.approx(low, abs=0.005)
        assert float(one["credit_high_mm"]) == pytest.approx(high, abs=0.005)
        assert float(one["credit_low_m3"]) == pytest.approx(low * 102 / 1000, abs=0.001)  # 120 m2, 85 % planted


def test_caps_and_conditions_are_said():
    deep = runoff.open_sample_roof("cups").replace({"medium.depth_mm": 200.0})
    credit = RULES["north-carolina"].credit(deep)
    assert credit.low_mm == pytest.approx(38.1)  # 200 x 0.25 = 50 mm, capped at 1.5 in
    assert credit.remark == "the cap bites"
    assert "under the least depth" in RULES["north-carolina"].credit(runoff.open_sample_roof("cups")).remark
    between = RULES["paris-region"].credit(deep.replace({"medium.depth_mm": 120.0}))
    assert between.low_mm != between.low_mm and between.remark == "the table has no row for this depth"


def test_storage_against_a_threshold():
    """Canopy 1, mulch 15 x 0.13, medium 20, cups 3.5, mat and fleece 4.5 mm: 30.95 L/m2."""
    roof = runoff.open_sample_roof("cups")
    assert RULES["storage-30"].credit(roof).remark.startswith("met: ")
    assert RULES["storage-35"].credit(roof).remark.startswith("not met: ")
    assert RULES["storage-30"].credit(roof).low_mm == pytest.approx(30.95)
    assert "is 31.0 L/m² (1.22 in)" in RULES["storage-30"].credit(roof).remark  # as the table of section 2 prints 30.95


def test_the_help_names_every_rule():
    assert set(RULE_NAMES) == set(RULES)


def test_the_storm_an_office_asks_for():
    assert event_asked("0.75in") == ("depth", pytest.approx(19.05))
    assert event_asked("30 mm") == ("depth", 30.0)
    assert event_asked("p90") == event_asked("90 %") == ("percentile", 90.0)


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"event": "25"}, r'^dossier: event needs a unit, for example .*; a percentile of wet days is written p90$'),
        ({"event": "p20"}, r"^dossier: event is a percentile of wet days from 50 to 99\.9, for example p90 \(given \"p20\"\)$"),
        ({"event": "900mm"}, r'^dossier: event lies between 1 and 500 mm of rain \(given "900mm"\)$'),
        ({"rules": ("minesota",)}, r'^dossier: rule "minesota" is not known \(did you mean "minnesota"\?\)'),
        ({"units": "uk"}, r'^dossier: units "uk" is not known'),
        ({"members": 9_999}, r"^dossier: 9,999 members are too many"),
    ],
)  # fmt: skip
def test_what_cannot_be_followed_is_refused(given, words):
    with pytest.raises(runoff.RunoffError, match=words):
        Options.of(given)


def test_a_date_that_has_not_come_is_refused():
    with pytest.raises(runoff.RunoffError, match=r"^dossier: date 2999-01-01 lies in the future; "):
        refuse_future_date("2999-01-01")
    with pytest.raises(runoff.RunoffError, match=r"^dossier: date 3 May 2999 lies in the future; "):
        refuse_future_date("3 May 2999")
    for words in (None, "", "spring", "2020-02-30", "2020-01-01", "31.12.1999", "lot 20991231"):
        refuse_future_date(words)


def test_weather_that_has_not_come_is_refused():
    weather = years(6)
    refuse_future_days(weather)
    later = weather.assign_coords(time=weather["time"] + np.timedelta64(365 * 200, "D"))
    with pytest.raises(runoff.WeatherError, match=r"^dossier: the weather ends on 219\d-\d\d-\d\d, and today is "):
        refuse_future_days(later)


def test_return_periods_that_a_table_does_not_reach_are_named():
    table = DepthDurationTable(
        durations_min=(5.0, 60.0), return_periods_years=(2.0, 5.0), depths_mm=((8.0, 10.0), (20.0, 26.0)),
        series="annual-maximum", source="town.csv", latitude_deg=None, notes=(),
    )  # fmt: skip
    assert left_out(table, {2: None}) == (
        "No 10-year and no 100-year storm is shown: the table of rain depths has 2 to 5 years, and nothing is extrapolated."
    )
    assert left_out(table, {2: None, 10: None, 100: None}) == ""


def test_a_table_with_none_of_the_return_periods_is_refused(tmp_path):
    table = tmp_path / "town.csv"
    table.write_text(
        "# units: mm\nduration,20 years,50 years\n5 min,14,17\n60 min,40,48\n1440 min,90,110\n", encoding="utf-8"
    )
    words = r"town\.csv: the table has 5 to 1440 min and 20 to 50 years; storms of a dossier need .* one of 2, 10, 100 years$"
    with pytest.raises(runoff.RunoffError, match=words):
        runoff.write_dossier(runoff.open_sample_roof("cups"), years(6), tmp_path / "d.html", storms=table)
    assert not (tmp_path / "d.html").exists()


def test_a_record_that_was_mostly_filled_is_refused():
    weather = years(6)  # 2,192 days: 219 are a tenth
    weather.attrs["fill"] = "rain: 100 filled (longest gap 3 days), the mean of the month"
    assert filled_days(weather.attrs["fill"]) == 100
    refuse_filled(weather)
    weather.attrs["fill"] = "rain: 400 filled (longest gap 90 days), the mean of the month"
    with pytest.raises(
        runoff.WeatherError, match=r"^dossier: 18 % of the days were filled \(400 of 2,192\), more than 10 %: "
    ):
        refuse_filled(weather)
