"""What is known to be off: every row has a direction, a size or the word that none is known, and a source."""

import pytest

import runoff
from runoff.dossier.evidence_rows import CHECKS
from runoff.sizing.measured_against import JudgedRoof, all_comparisons, known_biases, model_error
from tests.weather.test_check_numbers import KNMI


def test_every_row_says_which_way_how_much_and_who() -> None:
    rows = known_biases()
    ways = {"too much", "too much or even", "too little", "even", "either", "peaks too low", "peaks too high"}
    assert {row["ours_keeps"] for row in rows} <= ways
    assert all(row["size"] and row["source"] for row in rows)
    said = " ".join(row["bias"].lower() for row in rows)
    for word in ("ageing", "covering", "watering", "wind-driven", "snow", "steep", "peaks"):
        assert word in said


def test_the_first_row_is_formed_from_the_judged_roofs() -> None:
    error = model_error()
    assert error is not None
    first = known_biases()[0]
    assert first["size"].startswith(f"{100 * error.mean:+.1f} points on average over {error.roofs} roofs")
    assert first["ours_keeps"] == ("too little" if error.mean < 0 else "too much")


def test_seasons_told_are_those_of_the_table() -> None:
    def off(site: str, season: str) -> str:
        one: JudgedRoof = next(x for x in all_comparisons() if x.site == site and season in x.quantity)
        return f"{one.difference:+.1f}"

    told = {row["bias"].split(" half")[0]: row["size"] for row in known_biases() if " half of the year" in row["bias"]}
    assert (
        told["Warm"] == f"{off('Berlin', 'April')} points (Berlin), {off('Neubrandenburg', 'April')} (Neubrandenburg)"
    )
    assert (
        told["Cold"]
        == f"{off('Berlin', 'October')} points (Berlin), {off('Neubrandenburg', 'October')} (Neubrandenburg)"
    )


def test_the_peak_told_of_the_small_roof_is_that_of_the_events_kept() -> None:
    """The events are those of notebook 4: a measured peak of 1 mm/h or more, where ours is above nothing."""
    events = runoff.check_table("published/neubrandenburg_events.csv", numbers=True)
    both = events[(events["measured_peak_mm_h"] >= 1) & (events["ours_peak_mm_h"] > 0)]
    low, middle, high = (both["ours_peak_mm_h"] / both["measured_peak_mm_h"]).quantile([0.25, 0.5, 0.75])
    told = next(row["size"] for row in known_biases() if "small roof" in row["bias"])
    assert (
        told
        == f"ours {middle:.2f} of the measured peak (median of {len(both)} events; quartiles {low:.2f} to {high:.2f})"
    )
    (peaks,) = (check.result for check in CHECKS if check.part == "Peaks")
    assert peaks.startswith(f"median peak {middle:.1f} of the measured one on one roof")


@pytest.mark.slow
@pytest.mark.real_weather
def test_the_size_told_of_evapotranspiration_is_what_the_records_give(shared_data) -> None:
    told = next(row for row in known_biases() if row["bias"].startswith("Evapotranspiration"))
    places = {
        "New York": (
            runoff.read_weather(shared_data / "daily" / "USW00094728.dly", start="1990", end="2019", latitude=40.78),
            ("hargreaves-samani", "oudin", "penman-monteith"),
        ),
        "De Bilt": (
            runoff.read_weather(
                shared_data / "daily" / "etmgeg_260.txt.gz", start="1990", end="2019", latitude=52.1, **KNMI
            ),
            ("hargreaves-samani", "given"),
        ),
    }
    depths, kept = {}, {}
    for place, (weather, methods) in places.items():
        years = weather.sizes["time"] / 365.25
        for method in methods:
            e0 = weather["reference_et"]
            if method != "given":
                e0 = runoff.reference_et(weather.drop_vars("reference_et"), method)
            run = runoff.simulate(runoff.open_sample_roof("cups"), weather.assign(reference_et=e0))
            depths[place, method] = float(e0.sum()) / years
            kept[place, method] = 100.0 * float(runoff.summarize(run)["retention"])
    york, bilt = (
        [depths["New York", one] for one in places["New York"][1]],
        [depths["De Bilt", one] for one in places["De Bilt"][1]],
    )
    more = [kept["New York", "hargreaves-samani"] - kept["New York", one] for one in ("penman-monteith", "oudin")]
    most = kept["De Bilt", "hargreaves-samani"] - kept["De Bilt", "given"]
    assert told["size"] == (
        f"highest of the three methods drawn: New York {york[0]:.0f} mm a year against {york[1]:.0f} and {york[2]:.0f}, "
        f"{more[0]:.1f} to {more[1]:.1f} points of retention; De Bilt {bilt[0]:.0f} mm against the station's own {bilt[1]:.0f}, "
        f"{most:.1f} points"
    )
