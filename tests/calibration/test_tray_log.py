"""The log of a tray: read strictly, brought to days, and refused in sentences a gardener can follow."""

import dataclasses
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import runoff
from runoff.calibration import fit_tray, read_tray_log
from runoff.calibration.invented_weighings import TRAY_FILE, sample_tray, tray_log_text
from runoff.calibration.tray_log import TEMPLATE
from runoff.sample_files import sample_folder

TODAY = pd.Timestamp("2026-11-26")
TRAY = "tray area: 0.25 m2\nempty mass: 20 kg\nmedium depth: 80 mm\ncover: roofed\n"
HEAD = "date,mass_kg,reference_et_mm\n"


def lines(masses, *, first: str = "2026-05-04", **columns) -> str:
    """Return one line per day."""
    days = pd.date_range(first, periods=len(masses))
    cells = zip(days.strftime("%Y-%m-%d"), masses, *columns.values(), strict=True)
    return "".join(",".join(map(str, row)) + "\n" for row in cells)


MASSES = [round(27.0 - 0.4 * day + 0.01 * day**2, 2) for day in range(14)]
PLAIN = TRAY + HEAD + lines(MASSES, et=[3] * 14)


@pytest.fixture
def read(tmp_path: Path):
    def from_text(text: str, **given):
        path = tmp_path / "tray.csv"
        path.write_text(text, encoding="utf-8")
        return read_tray_log(path, today=TODAY, **given)

    return from_text


def test_the_sample_log_is_its_generator_byte_for_byte_and_gives_the_hidden_values() -> None:
    path = sample_folder() / TRAY_FILE
    assert path.read_bytes() == tray_log_text().encode()
    fit = fit_tray(read_tray_log(path))
    for name, value in sample_tray().hidden.items():
        if name != "depletion_fraction":
            assert fit.table.loc[name, "low"] < value < fit.table.loc[name, "high"]
    assert fit.doubts == ()


def test_the_sample_tray_shows_itself_as_invented() -> None:
    log = runoff.open_sample_tray()
    assert log.is_invented and runoff.fit_tray(log).is_invented
    assert not runoff.fit_tray(dataclasses.replace(log, is_invented=False)).is_invented


def test_a_tray_and_its_weighings(read) -> None:
    log = read(PLAIN)
    assert (log.area_m2, log.depth_mm, log.empty_kg, log.starts_drained, log.is_roofed) == (
        0.25,
        80.0,
        20.0,
        True,
        True,
    )
    table = log.daily_table()
    assert table["weight_kg"].tolist() == pytest.approx(MASSES)
    assert table["rain_mm"].sum() == 0.0 and (table["reference_et"] == 3.0).all()


@pytest.mark.parametrize(
    ("unit", "factor"),
    [("g", 1000.0), ("lb", 1.0 / 0.45359237)],  # the pound is defined as 0.45359237 kg
)
def test_masses_in_other_units(read, unit, factor) -> None:
    text = PLAIN.replace("mass_kg", f"mass_{unit}")
    for mass in MASSES:
        text = text.replace(f",{mass},", f",{mass * factor},")
    assert read(text).days["mass_kg"].tolist() == pytest.approx(MASSES)


def test_a_column_for_a_quantity_that_no_tray_log_has(read) -> None:
    wanted = r'^tray\.csv: "weight" is not a quantity of this log; known: time, mass, watering'
    with pytest.raises(runoff.RunoffError, match=wanted):
        read(PLAIN, columns={"weight": "mass_kg"})


def test_decimal_commas_and_day_first_dates_where_the_log_declares_them(read) -> None:
    text = TRAY.replace("0.25", "0,25") + "decimal: comma\ndates: day-month-year\ndate;mass_kg;reference_et_mm\n"
    for day, mass in enumerate(MASSES):
        text += f"{4 + day:02d}.05.2026;{str(mass).replace('.', ',')};3,5\n"
    log = read(text)
    assert log.days.index[0] == pd.Timestamp("2026-05-04") and log.area_m2 == 0.25
    assert log.days["mass_kg"].tolist() == pytest.approx(MASSES)
    # a spreadsheet ends the lines above the heading with its separators
    assert read(text.replace("m2\n", "m2;;\n").replace("comma\n", "comma;;\n")).area_m2 == 0.25


def test_watering_is_a_depth_on_the_tray_and_rain_is_added(read) -> None:
    text = TRAY.replace("roofed", "open") + "date,mass_kg,watering_L,rain_mm,reference_et_mm\n"
    text += lines(MASSES, watering=["", "2.5"] + [""] * 12, rain=[0, 1.5] + [0] * 12, et=[3] * 14)
    # 2.5 L on 0.25 m2 are 10 mm; 1.5 mm of rain the same day
    assert read(text).daily_table()["rain_mm"].tolist()[:3] == [0.0, 11.5, 0.0]
    assert read(text.replace("watering_L", "watering_kg")).days["watering_mm"].iloc[1] == pytest.approx(10.0)


def test_weather_fills_what_the_log_does_not_have(read) -> None:
    text = TRAY.replace("roofed", "open") + "date,mass_kg\n" + lines(MASSES, first="2014-05-04")
    weather = runoff.open_sample()
    table = read(text).daily_table(weather)
    chosen = weather.sel(time=slice("2014-05-04", "2014-05-17"))
    np.testing.assert_array_equal(table["rain_mm"], chosen["rain"])
    np.testing.assert_array_equal(table["reference_et"], chosen["reference_et"])


def test_a_weighing_in_the_evening_stands_on_the_next_morning(read) -> None:
    by_word = read(PLAIN.replace("cover: roofed", "cover: roofed\nweighed: evening"))
    assert by_word.days["mass_kg"].first_valid_index() == pd.Timestamp("2026-05-05")
    text = PLAIN
    for day in range(14):
        text = text.replace(f"2026-05-{4 + day:02d},", f"2026-05-{4 + day:02d} {'18:30' if day < 2 else '19:00'},")
    by_clock = read(text)
    weighed = by_clock.days["mass_kg"].dropna()
    assert weighed.index[0] == pd.Timestamp("2026-05-05") and weighed.index[1] == pd.Timestamp("2026-05-06")


def test_a_log_cut_at_its_front_no_longer_begins_drained(read) -> None:
    assert not read(PLAIN, start="2026-05-06").starts_drained
    assert read(PLAIN, end="2026-05-15").starts_drained


def test_the_template_is_a_log_once_it_is_filled_in(read) -> None:
    filled = TEMPLATE + lines(MASSES, watering=[""] * 14, rain=[0.0] * 14, et=[3] * 14, note=["windy"] + [""] * 13)
    log = read(filled)
    assert log.empty_error_kg == 0.2 and not log.is_roofed and log.days["note"].iloc[0] == "windy"
    with pytest.raises(
        runoff.RunoffError, match=r"^tray\.csv: no lines of values; the file is empty or all of it was skipped"
    ):
        read(TEMPLATE)


REFUSED = [
    (
        "masses below the empty tray", PLAIN.replace("empty mass: 20", "empty mass: 25"), {},
        'tray.csv: mass: below the empty tray (25 kg) on 8 lines (first line 12: "24.96 kg"); check the empty mass, or the scale',
    ),
    (
        "grams among kilograms", PLAIN.replace(",25.25,", ",25250,"), {},
        'tray.csv: mass: jumps by a factor of 1000 on 2 lines (first line 11: "25250 kg"): units mixed, grams among kilograms? '
        "Bring all to one unit",
    ),
    (
        "pounds among kilograms",
        TRAY + HEAD + lines([m if d < 6 else round(m / 0.45359237, 2) for d, m in enumerate(MASSES)], et=[3] * 14), {},
        'tray.csv: mass: jumps by a factor of 2.205 on 1 line (line 12: "55.03 kg"): units mixed, pounds among kilograms? Bring all '
        "to one unit",
    ),
    (
        "a unit in the cell", PLAIN.replace(",27.0,", ",27.0 kg,"), {},
        'tray.csv: mass: no number on 1 line (line 6: "27.0 kg"); numbers carry no unit or mark, missing values are left empty',
    ),
    (
        "day-first dates", PLAIN.replace("2026-05-04", "04.05.2026"), {},
        'tray.csv: time: dates on 1 line (line 6: "04.05.2026") can be read two ways; write them as year-month-day, 2024-04-03, or '
        'say which part comes first, dates="day-month-year" or "month-day-year"',
    ),
    (
        "decimal commas", TRAY + "date;mass_kg;reference_et_mm\n2026-05-04;27,0;3\n2026-05-05;26.6;3\n", {},
        'tray.csv: mass: decimal commas on 1 line (line 6: "27,0"); declare them, decimal=","',
    ),
    (
        "out of order, and in the future", PLAIN.replace("2026-05-06", "2026-04-06").replace("2026-05-17", "2027-05-17"), {},
        'tray.csv: time: out of order on 1 line (line 8: "2026-04-06"), earlier than the line before; correct the date, or sort the '
        "lines\n"
        'tray.csv: time: in the future on 1 line (line 19: "2027-05-17"); today is 2026-11-26',
    ),
    (
        "under ten weighings", TRAY + HEAD + lines(MASSES[:9], et=[3] * 9), {},
        "tray.csv: 9 weighings; at least 10 are needed. Weigh the tray on more days",
    ),
    (
        "under ten weighings between the days asked for", PLAIN, {"start": "2026-05-12"},
        "tray.csv: 6 weighings between the days asked for; at least 10 are needed. Weigh the tray on more days",
    ),
    (
        "an area of zero", PLAIN.replace("0.25 m2", "0 m2"), {},
        "tray.csv: the tray area must be more than 0 (given 0 m2)",
    ),
    (
        "what the tray is not, in one message", "tray area: 0.25\nmedium dept: 80 mm\nempty mass: 20 mm\nstart: wet\n" + HEAD, {},
        'tray.csv: line 1: tray area has no unit; write it behind the number, 0.25 m2 (it says "0.25")\n'
        'tray.csv: line 2: "medium dept" is not known (did you mean "medium depth"?); known: tray area, empty mass, empty mass '
        "error, medium depth, start, cover, weighed, dates, decimal\n"
        'tray.csv: line 3: empty mass has the unit "mm", which is no mass that is known; write it in kg (it says "20 mm")\n'
        'tray.csv: line 4: start is drained or not drained (it says "wet")',
    ),
    (
        "what the tray is, missing, beside a fault of the table", "tray area: 0.25 m2\n" + HEAD + "2026-05-04,x,3\n", {},
        "tray.csv: the empty mass is missing; write it above the heading, empty mass: 1.5 kg, or give it with the command\n"
        "tray.csv: the medium depth is missing; write it above the heading, medium depth: 1.5 mm, or give it with the command\n"
        'tray.csv: mass: no number on 1 line (line 3: "x"); numbers carry no unit or mark, missing values are left empty',
    ),
    (
        "two lines of one day", PLAIN.replace("2026-05-05", "2026-05-04 18:00").replace("2026-05-06", "2026-05-06 08:00"), {},
        'tray.csv: time: less than a day since the line before on 1 line (line 7: "2026-05-04 18:00"); keep one line a day, and '
        "one of an evening and the morning after",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("text", "given", "message"), [row[1:] for row in REFUSED], ids=[row[0] for row in REFUSED])
def test_refused_with_these_words(read, text, given, message) -> None:
    with pytest.raises(runoff.RunoffError) as caught:
        read(text, **given)
    assert str(caught.value) == message


def test_rain_that_is_not_known_is_not_dry(read) -> None:
    head = TRAY.replace("roofed", "open") + "date,mass_kg,rain_mm,reference_et_mm\n"
    log = read(head + lines(MASSES, rain=[0.0, ""] + [0.0] * 12, et=[3] * 14))
    with pytest.raises(runoff.RunoffError) as caught:
        log.daily_table()
    assert str(caught.value) == (
        "tray.csv: rain is missing on 1 day (first 2026-05-05) in the log; a day without a line needs one for it; a missing value "
        "is not a zero"
    )
    log = read(TRAY.replace("roofed", "open") + "date,mass_kg\n" + lines(MASSES))
    with pytest.raises(runoff.RunoffError) as caught:
        log.daily_table()
    assert str(caught.value) == (
        "tray.csv: no rain is known; add a column rain_mm, or give the weather of the place, or say cover: roofed when rain was "
        "kept off\n"
        "tray.csv: no reference evapotranspiration is known; add a column reference_et_mm, or give the weather of the place"
    )
    with pytest.raises(runoff.RunoffError) as caught:
        log.daily_table(runoff.open_sample())  # ends before 2026
    assert str(caught.value) == (
        "tray.csv: rain is missing on 13 days (first 2026-05-04) in the weather; a missing value is not a zero\n"
        "tray.csv: reference evapotranspiration is missing on 13 days (first 2026-05-04) in the weather; a missing value is not a "
        "zero"
    )
