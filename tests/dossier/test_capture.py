"""What a dossier claims, against sums worked by hand."""

from __future__ import annotations

import numpy as np
import pytest

import runoff
from runoff.dossier.annual import annual_claims, mean_year, months_of_the_year, spell_lengths
from runoff.dossier.event_capture import STARTS, capture_of_events, storage_capacity
from runoff.dossier.ranges import widening
from runoff.dossier.storm_peaks import compare_storms, run_storms, storm_figures, storms_of_table
from runoff.storms import DepthDurationTable
from tests.dossier.conftest import steady_weather

MEMBRANE = runoff.BareSurface(kind="membrane", depression_storage_mm=1.0)


@pytest.fixture(scope="module")
def plain_roof():
    """100 m2, four fifths planted: medium 100 mm from 0.10 to 0.30, cups 3 mm, mat 4 mm; the rest gravel of 5 mm."""
    return runoff.Roof(
        area_m2=100.0,
        planted_fraction=0.8,
        other_surface=runoff.BareSurface(kind="gravel", depression_storage_mm=5.0),
        build_up=runoff.BuildUp(
            layers=[
                runoff.GrowingMedium(depth_mm=100.0, field_capacity=0.30, wilting_point=0.10),
                runoff.DrainageBoard(cup_storage_mm=3.0),
                runoff.ProtectionMat(storage_mm=4.0),
            ]
        ),
    )


@pytest.fixture(scope="module")
def steady(plain_roof):
    """Five years with 10 mm every fifth day and 2 mm of demand a day."""
    return runoff.simulate(plain_roof, steady_weather(5), comparison=MEMBRANE)


@pytest.fixture(scope="module")
def captured(plain_roof, steady):
    return capture_of_events(plain_roof, steady, MEMBRANE)


def test_capacity_is_the_sum_of_its_parts(plain_roof):
    capacity = storage_capacity(plain_roof)
    # by hand: (0.30 - 0.10) x 100 + 3 + 4 = 27 mm; 27 x 80 m2 = 2.16 m3; and 5 mm x 20 m2 = 0.10 m3 of gravel
    assert float(capacity["capacity_mm"]) == pytest.approx(27.0, abs=1e-12)
    assert float(capacity["capacity_m3"]) == pytest.approx(2.16, abs=1e-12)
    assert float(capacity["capacity_whole_roof_m3"]) == pytest.approx(2.26, abs=1e-12)


def test_a_dry_roof_keeps_its_capacity_and_a_full_one_nothing(captured):
    dry, full = (captured["event_capture_mm"].sel(start=start) for start in ("dry", "field-capacity"))
    assert dry.sel(event="25.4").item() == pytest.approx(25.4, abs=1e-9)  # all of it: less than 27 mm
    assert dry.sel(event="38.1").item() == pytest.approx(27.0, abs=1e-9)  # the capacity
    assert full.to_numpy() == pytest.approx(np.zeros(8), abs=1e-9)


def test_volumes_count_planting_gravel_and_the_existing_roof(captured):
    one = captured.sel(event="38.1", start="dry")
    # by hand: 0.8 x 27 + 0.2 x 5 = 22.6 mm over 100 m2 = 2.26 m3; coefficient 1 - 22.6/38.1 = 0.40682
    assert float(one["event_roof_capture_m3"]) == pytest.approx(2.26, abs=1e-9)
    assert float(one["event_runoff_coefficient"]) == pytest.approx(1.0 - 22.6 / 38.1, abs=1e-9)
    assert float(one["event_existing_capture_m3"]) == pytest.approx(0.1, abs=1e-9)  # 1 mm x 100 m2
    # by hand with S = 5 (P + 2 Q - sqrt(4 Q^2 + 5 P Q)), P 38.1, Q 15.5: S = 5 (69.1 - 62.560) = 32.70, CN = 25400/286.70
    assert float(one["event_curve_number"]) == pytest.approx(88.594, abs=0.003)  # S to two decimals


def test_avoided_counts_against_the_existing_roof(captured):
    typical = captured["event_roof_capture_m3"].sel(start="before-50")
    assert captured["event_avoided_m3"].to_numpy() == pytest.approx(
        (typical - captured["event_existing_capture_m3"]).to_numpy()
    )
    assert (captured["event_avoided_m3"] < typical).all()


def test_a_wetter_start_never_keeps_more(captured):
    kept = captured["event_capture_mm"].sel(start=list(STARTS[:4])).transpose("start", "event").to_numpy()
    assert (np.diff(kept, axis=0) <= 1e-9).all()
    held = captured["start_water_mm"].sel(start=list(STARTS[:4])).to_numpy()
    assert (np.diff(held) >= -1e-9).all()
    assert (kept + held[:, None] <= 27.0 + 1e-9).all()  # never more than the capacity


def test_water_that_has_not_drained_is_not_kept(plain_roof, steady):
    """A clogged roof holds the storm for days; that is ponding, not capture."""
    clogged = plain_roof.replace({"roof.blocked_fraction": 1.0})
    full = capture_of_events(clogged, steady, MEMBRANE)["event_capture_mm"].sel(start="field-capacity")
    assert full.to_numpy() == pytest.approx(np.zeros(8), abs=1e-9)


def test_the_existing_roof_keeps_its_film_of_every_rain(plain_roof, steady):
    totals = runoff.yearly_totals(steady)
    claims = annual_claims(mean_year(totals), plain_roof.area_m2)
    # by hand: of each 10 mm the membrane holds 1 mm, which 2 mm of demand takes back the same day: 0.9 runs off
    assert float(claims["existing_runoff_coefficient"]) == pytest.approx(0.9, abs=1e-12)
    # 366 rains in 1826 days of 5 years (every fifth day from the first), 10 mm each
    assert float(claims["annual_rain"]) == pytest.approx(3660.0 / 5.0, rel=1e-3)  # a leap year weighs a day more
    assert float(claims["roof_retention"] + claims["annual_runoff_coefficient"]) == pytest.approx(1.0, abs=1e-12)
    both = claims["annual_capture_m3"] + claims["roof_annual_overflow_m3"]
    assert float(both) == pytest.approx(float(claims["roof_annual_rain_m3"]), rel=1e-12)
    assert float(claims["avoided_annual_m3"]) == pytest.approx(
        float(claims["existing_annual_overflow_m3"] - claims["roof_annual_overflow_m3"]), rel=1e-12
    )


def test_claims_agree_with_summarize(plain_roof, steady):
    facts, claims = runoff.summarize(steady), annual_claims(mean_year(runoff.yearly_totals(steady)), plain_roof.area_m2)
    for name in ("annual_rain", "annual_capture_mm", "annual_capture_m3", "retention"):
        assert float(claims[name]) == pytest.approx(float(facts[name]), rel=1e-12), name


def test_months_sum_to_the_year(steady):
    totals = runoff.yearly_totals(steady)
    months, facts = months_of_the_year(totals), runoff.summarize(steady)
    assert float(months["month_rain"].sum()) == pytest.approx(float(facts["annual_rain"]), rel=1e-12)
    assert float(months["month_capture"].sum()) == pytest.approx(float(facts["annual_capture_mm"]), rel=1e-9)


def test_spell_lengths():
    assert spell_lengths(np.array([0, 1, 2, 3, 0, 0, 1, 0, 1, 2])).tolist() == [3, 1, 2]
    assert spell_lengths(np.array([0, 0])).tolist() == []


@pytest.mark.parametrize(("years", "t"), [(5, 2.132), (6, 2.015), (10, 1.833), (19, 1.734)])
def test_widening_of_short_records(years, t):
    # t: one-sided 95 % of Student's t with years - 1 degrees of freedom, any printed table (3 decimals); normal: 1.645
    assert widening(years) == pytest.approx(t / 1.645, abs=1e-3)


def test_long_records_are_not_widened():
    assert widening(20.0) == widening(80.0) == 1.0


TABLE = DepthDurationTable.from_rows(
    {"5min": [6.0, 9.0, 14.0], "1h": [18.0, 28.0, 44.0], "24h": [50.0, 75.0, 115.0]},
    return_periods_years=[2, 10, 100],
    units="mm",
)


@pytest.fixture(scope="module")
def stormy(plain_roof):
    """The plain roof with outlets so large that they hold nothing back."""
    roof = plain_roof.model_copy(update={"outlets": (runoff.Outlet(diameter_mm=300.0, strainer=False, count=8),)})
    runs = run_storms(roof, storms_of_table(TABLE), MEMBRANE)
    return storm_figures(compare_storms(runs, roof, MEMBRANE))


def test_storms_have_the_depths_of_the_table(stormy):
    assert stormy["storm_depth_mm"].to_numpy() == pytest.approx([50.0, 75.0, 115.0], rel=1e-9)
    # the busiest 5 minutes hold the 5-minute depth: 6 mm in 5 min = 72 mm/h
    assert stormy["storm_intensity"].to_numpy() == pytest.approx([72.0, 108.0, 168.0], rel=1e-9)


def test_the_existing_peak_is_the_rational_one(stormy):
    # a wetted membrane sheds the busiest step: 72 mm/h x 100 m2 / 3600 = 2.0 L/s, less what stands before the outlets
    rational = np.array([2.0, 3.0, 168.0 / 36.0])
    assert (stormy["storm_existing_peak"].to_numpy() <= rational * (1 + 1e-9)).all()
    assert stormy["storm_existing_peak"].to_numpy() == pytest.approx(rational, rel=0.1)


def test_planting_lowers_the_peak_more_than_the_volume(stormy):
    assert (stormy["storm_peak"] < stormy["storm_existing_peak"]).all()
    assert (stormy["storm_runoff_coefficient"] > stormy["storm_peak_coefficient"]).all()


def test_a_table_without_the_years_wanted():
    table = DepthDurationTable.from_rows(
        {"5min": [7.0, 8.0], "24h": [55.0, 60.0]}, return_periods_years=[3, 5], units="mm", source="t.csv"
    )
    message = (
        r"^t\.csv: the table has 5 to 1440 min and 3 to 5 years; storms of a dossier need durations from at most 60 min "
        r"upwards and one of 2, 10, 100 years$"
    )
    with pytest.raises(runoff.StormError, match=message):
        storms_of_table(table)


def test_a_table_with_some_of_them():
    table = DepthDurationTable.from_rows(
        {"10min": [7.0, 8.0], "6h": [30.0, 40.0]}, return_periods_years=[2, 20], units="mm"
    )
    storms = storms_of_table(table)
    assert list(storms) == [2, 10]  # 10 lies between the columns; 100 is outside and is not made up
    assert storms[2].attrs["duration"] == "6 h" or storms[2].sizes["time"] == 36
