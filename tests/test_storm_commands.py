"""`runoff storm` and `runoff outlets`: what they print and write, and how they refuse."""

import os
import subprocess
import sys
import tomllib
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import runoff
from runoff.cli import main
from runoff.cli.refusals import in_flags
from runoff.errors import RunoffWarning
from runoff.sample_files import sample_folder


def test_storm_on_the_sample(tmp_path: Path, capsys) -> None:
    assert main(["storm", "--no-figures", "--duration", "1h", "--out", str(tmp_path)]) == 0
    printed = capsys.readouterr().out
    for words in ("2 years", "10 years", "100 years", "INVENTED", "bare roof", "gravel roof", "Curve numbers:"):
        assert words in printed
    with xr.open_dataset(tmp_path / "storm_10_years.nc", engine="h5netcdf") as stored:
        assert list(stored["surface"].to_numpy()) == ["planted roof", "bare roof", "gravel roof"]
        assert stored["hydrograph"].attrs["units"] == "L/s"
        assert stored.attrs["step_minutes"] == 5.0


def test_storm_in_inches_with_its_figure(tmp_path: Path, capsys) -> None:
    words = [
        "storm",
        "--depth",
        "3in",
        "--pattern",
        "type-II",
        "--step",
        "15min",
        "--units",
        "us",
        "--no-ranges",
        "--out",
        str(tmp_path),
    ]
    assert main(words) == 0
    printed = capsys.readouterr().out
    assert "Of 3.00 in of rain" in printed and "gpm" in printed and "INVENTED" not in printed
    assert (tmp_path / "storm_3.00_in.png").stat().st_size > 10_000


def test_a_depth_alone_takes_the_sharpest_course_and_says_what_is_understated(tmp_path: Path, capsys) -> None:
    with pytest.warns(RunoffWarning, match="a step of 5 min is finer than the ordinates of type-II"):
        assert main(["storm", "--depth", "80mm", "--no-figures", "--no-ranges", "--out", str(tmp_path)]) == 0
    assert "finer near the peak (from memory); depth given, step 5 min" in capsys.readouterr().out


def test_a_warning_at_the_terminal_is_a_sentence(tmp_path: Path) -> None:
    words = ["storm", "--depth", "20mm", "--dry-hours", "0", "--no-figures", "--no-ranges", "--out", str(tmp_path)]
    told = subprocess.run([sys.executable, "-m", "runoff", *words], capture_output=True, text=True, check=True)
    assert told.stderr.startswith("Warning: runoff storm: a step of 5 min is finer than"), told.stderr


def test_a_wetter_start_sheds_more(tmp_path: Path, capsys) -> None:
    """A dry start sheds 6.56 mm, mid-June, with 3.3 mm in the medium, 6.38: bypass is none of a dry medium at first, but in the
    filling it is 0.5 x 20 / 2 = 5 mm, which pass empty cups and mat; what a moister medium lets percolate fills them. So the two
    may change places by as much as cups and mat are empty (8 mm), never by more, and the print says so.
    """
    shed = {}
    for start in ("dry", "0.5", "wettest-month", "2014-06-15"):
        assert main(
            ["storm", "--no-figures", "--no-ranges", "--return-period", "2", "--duration", "1h", "--start-moisture", start,
             "--out", str(tmp_path)]
        ) == 0  # fmt: skip
        with xr.open_dataset(tmp_path / "storm_2_years.nc", engine="h5netcdf") as stored:
            shed[start] = float(stored["runoff_depth"][0])
        told = " ".join(capsys.readouterr().out.split())
        assert ("ran past the medium before it was full, and past cups and mat (bypass)" in told) == (
            start != "wettest-month"
        )
    assert (
        abs(shed["dry"] - shed["2014-06-15"]) < 0.85 * 8.0
    )  # 85 % planted; 3.5 mm of cups and 4.5 mm of mat and fleece
    assert shed["dry"] < shed["0.5"] < shed["wettest-month"]
    assert shed["2014-06-15"] < shed["wettest-month"]


def own_rain(folder: Path, header: str = "when;rain", step: str = "5min") -> Path:
    """An invented shower of 20 min: 2, 6, 4, 1 mm in a European table, stamped at the end of each step."""
    times = pd.date_range("2009-07-03 14:05", periods=4, freq=step).strftime("%Y-%m-%d %H:%M")
    path = folder / "gauge.csv"
    path.write_text(
        "\n".join([header, *(f"{time};{mm}" for time, mm in zip(times, ["2,0", "6,0", "4,0", "1,0"], strict=True))])
    )
    return path


TABLE = ["--column", "time=when", "--column", "rain=rain", "--unit", "rain=mm", "--layout", "separator=;",
         "--layout", "decimal=,", "--layout", "stamp=end"]  # fmt: skip


def test_storm_of_ones_own_rain(tmp_path: Path, capsys) -> None:
    words = ["storm", "--rain", str(own_rain(tmp_path)), *TABLE, "--no-figures", "--no-ranges", "--out", str(tmp_path)]
    assert main(words) == 0
    printed = capsys.readouterr().out
    assert "gauge.csv, step 5min" in printed.replace("5 min", "5min") and "INVENTED" not in printed
    with xr.open_dataset(tmp_path / "storm_measured.nc", engine="h5netcdf") as stored:
        assert float(stored["rain"].sum()) == pytest.approx(13.0)  # 2 + 6 + 4 + 1 mm
    assert main([*words, "--end", "2009-07-03 14:05", "--trust-unit"]) == 0
    with xr.open_dataset(tmp_path / "storm_measured.nc", engine="h5netcdf") as stored:
        assert float(stored["rain"].sum()) == pytest.approx(8.0)  # the steps that begin at 14:00 and 14:05
    capsys.readouterr()


def test_a_whole_summer_is_no_storm_and_a_day_of_it_is_marked_invented(tmp_path: Path, capsys) -> None:
    summer = str(sample_folder() / "ostrey_summer_5min.csv")
    assert main(["storm", "--rain", summer, "--out", str(tmp_path)]) == 1
    refused = capsys.readouterr().err
    assert "covers 92 days" in refused and "give --start and --end" in refused and "runoff simulate" in refused
    assert "--climate FILE, a daily record whose days evaporate" in refused
    assert main(["outlets", "--rain", summer, "--out", str(tmp_path)]) == 1
    refused = capsys.readouterr().err
    assert "covers 92 days; outlets are judged in one storm of 10 days at most: give --start and --end" in refused
    assert "evapotranspiration" not in refused
    day = ["--start", "2009-08-22", "--end", "2009-08-22", "--no-figures", "--no-ranges"]
    assert main(["storm", "--rain", summer, *day, "--out", str(tmp_path)]) == 0
    assert "INVENTED" in capsys.readouterr().out
    assert main(["storm", "--rain", summer, "--depth", "50mm", "--pattern", "type-II"]) == 1
    refused = capsys.readouterr().err
    assert "--depth makes a design storm" in refused and "--pattern makes a design storm" in refused


def test_a_layout_nobody_can_follow(tmp_path: Path, capsys) -> None:
    words = ["storm", "--rain", str(own_rain(tmp_path)), "--layout", "header=perhaps", "--layout", "skip_lines=few"]
    assert main(words) == 1
    refused = capsys.readouterr().err
    assert '--layout: header is yes or no (given "perhaps")' in refused
    assert '--layout: skip_lines is a number of lines (given "few")' in refused


def test_outlets_on_the_sample(tmp_path: Path, capsys) -> None:
    assert main(["outlets", "--duration", "1h", "--most-outlets", "5", "--out", str(tmp_path)]) == 0
    printed = capsys.readouterr().out
    for words in (
        "<- chosen",
        "With every primary outlet blocked",
        "rain load",
        "licensed engineer",
        "kN/m2",
        "membrane",
    ):
        assert words in printed
    assert " ".join(printed.split()).lower().count("can carry") == " ".join(printed.split()).lower().count(
        "whether the structure can carry"
    )
    assert (tmp_path / "outlets_100_years.nc").is_file() and (tmp_path / "outlets_100_years.png").is_file()


def test_outlets_of_other_kinds_in_us_units(tmp_path: Path, capsys) -> None:
    assert main(
        ["outlets", "--duration", "1h", "--most-outlets", "3", "--scupper", "300x100mm", "--diameter", "150mm", "--no-strainer",
         "--emergency-opening", "600x150mm", "--units", "us", "--no-figures", "--out", str(tmp_path)]
    ) == 0  # fmt: skip
    printed = capsys.readouterr().out
    assert "rectangular 11.81 x 3.94 in" in printed and "round 5.91 in" in printed  # 300, 100 and 150 mm over 25.4
    assert "gpm" in printed and "lb/ft2" in printed and "L/s" not in printed


def test_in_us_units_outlets_come_by_the_inch_and_the_same_numbers_are_converted(tmp_path: Path, capsys) -> None:
    """1 gpm is 3.785411784 / 60 L/s, 1 in 25.4 mm: a table in one system is that of the other, converted."""
    typed = [
        "outlets",
        "--duration",
        "1h",
        "--most-outlets",
        "4",
        "--no-figures",
        "--all-candidates",
        "--out",
        str(tmp_path),
    ]
    assert main([*typed, "--units", "us"]) == 0
    us = capsys.readouterr().out
    assert [size for size in ("3 in", "4 in", "5 in", "6 in") if f"1 x round {size}" in us] == [
        "3 in",
        "4 in",
        "5 in",
        "6 in",
    ]
    assert main([*typed, "--diameter", "3in", "4in", "5in", "6in"]) == 0
    si = capsys.readouterr().out

    def rows(printed: str) -> list[list[float]]:
        found = [
            line.partition(" mm ")[2] or line.partition(" in ")[2]
            for line in printed.split("\n")
            if " x round " in line
        ]
        return [[float(one.replace(",", "")) for one in line.split() if one[0].isdigit()] for line in found]

    assert len(rows(us)) == len(rows(si)) == 16
    for american, metric in zip(rows(us), rows(si), strict=True):
        assert american[0] == pytest.approx(metric[0] * 60.0 / 3.785411784, abs=0.05 + 0.005 * 15.9)
        assert american[3:] == pytest.approx([one / 25.4 for one in metric[3:]], abs=0.005 + 0.5 / 25.4)


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["storm", "--depth", "-3mm"], "--depth must be above 0.0 mm and at most 5,000.0 mm (given -3mm)"),
        (["storm", "--depth", "80"], '--depth needs a unit, for example 60mm or 2.36in (given "80")'),
        (
            ["storm", "--duration", "5min", "--step", "1h"],
            "runoff storm: the storm (5 min) is shorter than its step (1 h); give a step of 5 min or less",
        ),
        (
            ["storm", "--duration", "5"],
            'runoff storm: --duration "5" has no unit; write it with its unit, for example "5min", "1h" or "24h"',
        ),
        (
            ["storm", "--depth", "30mm", "--return-period", "10"],
            "runoff storm: --return-period belongs to a --depth-duration table; with a depth alone leave it out",
        ),
        (
            ["storm", "--start", "2009-07-03", "--column", "rain=RR"],
            "runoff storm: --start belongs to measured rain; add --rain FILE or --record FILE, or leave it out\n"
            "runoff storm: --column belongs to measured rain; add --rain FILE or --record FILE, or leave it out",
        ),
        (
            ["storm", "--latitude", "47"],
            "runoff storm: --latitude has no effect on a start at field-capacity; leave it out, or take --start-moisture "
            "wettest-month or a date",
        ),
        (
            ["storm", "--return-period", "500"],
            "ostrey_depth_duration.csv: return period 500 years is outside the table, which has 2, 5, 10, 25, 50, 100 "
            "years; nothing is extrapolated: give return periods within it",
        ),
        (["storm", "--dry-hours", "1e12"], "--dry-hours must be at least 0 and at most 240 h (given 1e12)"),
        (
            ["outlets", "--emergency-opening", "300"],
            '--emergency-opening is WIDTHxHEIGHT with a unit, for example 300x100mm or 12x4in (given "300")',
        ),
        (
            ["outlets", "--duration", "1h", "--allowable-depth", "0mm"],
            "--allowable-depth must be above 0 mm and at most 2,000 mm (given 0mm)",
        ),
        (["outlets", "--lost", "1.5"], '--lost is a whole number (given "1.5")'),
        (["storm", "--depth-duration", "nowhere.csv"], "nowhere.csv: there is no such file"),
    ],
)
def test_refusals_are_one_line(words: list[str], message: str, tmp_path: Path, capsys) -> None:
    assert main([*words, "--out", str(tmp_path)]) == 1
    said = capsys.readouterr().err.strip().removesuffix(f"\nrunoff {words[0]} --help lists what it takes")
    assert said == message


def test_a_month_or_date_needs_a_climate_of_ones_own(tmp_path: Path, capsys) -> None:
    import runoff

    path = tmp_path / "roof.toml"
    path.write_text(runoff.open_sample_roof("cups").to_toml(), encoding="utf-8")
    for command, others in (("storm", "field-capacity, dry or a fraction 0-1"), ("outlets", "field-capacity")):
        assert main([command, str(path), "--start-moisture", "wettest-month", "--out", str(tmp_path)]) == 1
        assert capsys.readouterr().err.strip() == (
            f"--start-moisture wettest-month comes from a daily run of your own climate; add --climate FILE, or take {others}"
        )


@pytest.mark.parametrize("command", ["storm", "outlets"])
def test_more_outlets_lost_than_there_are(command: str, tmp_path: Path, capsys) -> None:
    path = tmp_path / "roof.toml"
    roof = runoff.open_sample_roof("cups").replace(
        {"roof.outlets": [runoff.Outlet(kind="round", diameter_mm=100.0, count=3)]}
    )
    path.write_text(roof.to_toml(), encoding="utf-8")
    words = [command, str(path), "--lost", "5", "--depth", "30mm", "--pattern", "uniform", "--duration", "1h"]
    assert main([*words, "--out", str(tmp_path)]) == 1
    assert capsys.readouterr().err.strip() == (
        f"runoff {command}: --lost must be from 0 to 3, the roof has 3 outlets (given 5); take fewer as lost, or describe all outlets "
        "of the roof"
    )


def test_an_outlet_left_out_is_assumed_in_the_verdict_and_on_the_sheet(tmp_path: Path, capsys) -> None:
    import tomli_w

    described = tomllib.loads(runoff.open_sample_roof("cups").to_toml())
    del described["roof"]["outlets"]
    path, sheet = tmp_path / "roof.toml", tmp_path / "sheet.html"
    path.write_text(tomli_w.dumps(described), encoding="utf-8")
    words = [
        "--depth",
        "30mm",
        "--pattern",
        "uniform",
        "--duration",
        "1h",
        "--diameter",
        "100mm",
        "--most-outlets",
        "2",
    ]
    assert main(["outlets", str(path), *words, "--sheet", str(sheet), "--no-figures", "--out", str(tmp_path)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "The outlet assumed (1 round outlet of 100 mm) " in said and "even with it lost" in said
    assert "outlet as assumed" in said and "described (1 round" not in said and ", as assumed" in said
    page = sheet.read_text(encoding="utf-8")
    assert "The outlet assumed (1 round outlet of 100 mm) " in page
    assert "No outlets are described: 1 round outlet of 100 mm is taken." in page
    assert main(["outlets", "--verify", str(sheet)]) == 0
    capsys.readouterr()


# --- a record of one's own, slips and bad input ----------------------------------------------------------------


def test_a_storm_from_a_record_shows_the_table_it_comes_from(tmp_path: Path, capsys) -> None:
    import runoff

    record = sample_folder() / "ostrey_daily.csv"
    out = ["--no-figures", "--out", str(tmp_path)]
    assert main(["storm", "--record", str(record), "--return-period", "10", "--no-ranges", *out]) == 0
    printed = " ".join(capsys.readouterr().out.split())
    storm = runoff.storm_from_record(runoff.read_weather(record), return_period_years=10)
    with xr.open_dataset(tmp_path / "storm_10_years.nc", engine="h5netcdf") as stored:
        assert float(stored["rain"].sum()) == pytest.approx(float(storm.sum()), rel=1e-6)
    low, high = storm.attrs["depth_interval_mm"]
    # the command fits other return periods beside it, the depth of one does not depend on them
    assert f"{float(storm.sum()):.1f} ({low:.1f}-{high:.1f})" in printed
    for words in (
        "30 complete years from 1991 to 2020",
        "24 h multiplied by 1.13",
        "INVENTED",
        "30 years: return periods beyond",
        "the record lies furthest above the fitted Gumbel at ",
    ):
        assert words in printed
    assert main(["storm", "--record", str(record), "--depth", "30mm", "--rain", str(record), *out]) == 1
    assert "--record makes a design storm; leave one of the two out" in capsys.readouterr().err
    assert main(["outlets", "--record", str(record), "--depth", "30mm", *out]) == 1
    assert "--depth gives a storm of another source" in capsys.readouterr().err


def test_measured_rain_evaporates_with_a_daily_record_beside_it(tmp_path: Path, capsys) -> None:
    summer, daily = (str(sample_folder() / name) for name in ("ostrey_summer_5min.csv", "ostrey_daily.csv"))
    typed = [
        "storm",
        "--rain",
        summer,
        "--start",
        "2009-08-18",
        "--end",
        "2009-08-23",
        "--no-figures",
        "--no-ranges",
        "--out",
        str(tmp_path),
    ]
    left = {}
    for words in ((), ("--climate", daily, "--latitude", "47")):
        assert main([*typed, *words]) == 0
        with xr.open_dataset(tmp_path / "storm_measured.nc", engine="h5netcdf") as stored:
            left[words] = float(stored["runoff_depth"][0])
    assert "This table starts at field capacity and lets nothing evaporate" in " ".join(capsys.readouterr().out.split())
    assert left[("--climate", daily, "--latitude", "47")] < left[()]


def test_a_whole_summer_runs_with_a_climate_beside_it(tmp_path: Path, capsys) -> None:
    """Its days evaporate: of the summer's rain the planted roof keeps more than it can hold at once, 31 mm (20 in the medium)."""
    summer, daily = (str(sample_folder() / name) for name in ("ostrey_summer_5min.csv", "ostrey_daily.csv"))
    words = ["storm", "--rain", summer, "--climate", daily, "--latitude", "47", "--no-figures", "--no-ranges"]
    assert main([*words, "--out", str(tmp_path)]) == 0
    assert "measured: ostrey_summer_5min.csv" in capsys.readouterr().out
    with xr.open_dataset(tmp_path / "storm_measured.nc", engine="h5netcdf") as stored:
        rain = float(runoff.read_weather(summer)["rain"].sum())
        assert float(stored["rain"].sum()) == pytest.approx(rain)
        assert rain - float(stored["runoff_depth"][0]) > 2.0 * 31.0


def test_beside_a_climate_rain_is_a_year_at_most(tmp_path: Path, capsys) -> None:
    gauge = tmp_path / "long.csv"
    times = pd.date_range("2009-01-01", "2010-03-01", freq="1h")
    pd.DataFrame({"time": times, "rain_mm": np.where(times.hour == 5, 1.0, 0.0)}).to_csv(gauge, index=False)
    daily = str(sample_folder() / "ostrey_daily.csv")
    assert main(["storm", "--rain", str(gauge), "--climate", daily, "--latitude", "47", "--out", str(tmp_path)]) == 1
    assert "covers 424 days; beside a climate it is 366 days at most: give --start and --end" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("depth_mm = 80", "depth_mm = 1270", "depth_mm = 1270 is an unusual depth (1270 mm); check the number"),
        ("depth_mm = 80", "depth_in = 80", "depth_in = 80 is an unusual depth (2032 mm); if another unit is meant, write depth_mm = 80"),
        ("diameter_mm = 100", "diameter_mm = 4", "diameter_mm = 4 is an unusual size (4 mm); if another unit is meant, write diameter_in = 4"),
        ("area_m2 = 120", "area_m2 = 320", ""),
        ("count = 2", "", "count is not given and taken as 1"),
        ("fall = 0.02", "", "fall is not given and taken as 0.02"),
        ("emergency_overflow_mm = 120", "emergency_overflow_mm = 5", "emergency_overflow_mm = 5 is an unusual height (5 mm)"),
        ("emergency_height_mm = 100", "emergency_height_mm = 300", "ends 420 mm over the deck, above the edge at 400 mm"),
    ],
)  # fmt: skip
def test_slips_are_questioned(old: str, new: str, words: str, tmp_path: Path) -> None:
    import warnings

    import runoff

    text = (sample_folder() / "roof_cups_80mm.toml").read_text(encoding="utf-8")
    if "count" in old:
        text = text.replace("area_m2 = 120", "area_m2 = 260")
    if "depth" in old:
        text = text.replace("edge_height_mm = 400", "edge_height_mm = 2500")
    assert old in text
    path = tmp_path / "roof.toml"
    path.write_text(text.replace(old, new), encoding="utf-8")
    with warnings.catch_warnings(record=True) as told:
        warnings.simplefilter("always")
        runoff.read_roof(path)
    said = [str(one.message) for one in told]
    assert any(words in one for one in said) if words else not said, said


def test_a_roof_file_without_outlets_is_questioned(tmp_path: Path, capsys) -> None:
    text = (sample_folder() / "roof_cups_80mm.toml").read_text(encoding="utf-8")
    head, _, rest = text.partition("[[roof.outlets]]")
    path = tmp_path / "roof.toml"
    path.write_text(head + rest[rest.index("[[layer]]") :], encoding="utf-8")
    typed = [
        "outlets",
        str(path),
        "--duration",
        "1h",
        "--most-outlets",
        "1",
        "--no-figures",
        "--out",
        str(tmp_path / "o"),
    ]
    assert main(typed) == 0
    assert "Assumed  No outlets are described: one of 100 mm is taken." in capsys.readouterr().out
    path.write_text(path.read_text(encoding="utf-8").replace("area_m2 = 120", "area_m2 = 260"), encoding="utf-8")
    with pytest.warns(
        RunoffWarning,
        match=r"\[roof\], no outlets are described and 1 round outlet of 100 mm is taken, which serves 260 m2: write a table "
        r"\[\[roof\.outlets\]\] for each kind, or outlets = \[\] where there is none$",
    ):
        runoff.read_roof(path)
    path.write_text(
        path.read_text(encoding="utf-8").replace("area_m2 = 260", "area_m2 = 260\noutlets = []"), encoding="utf-8"
    )
    assert runoff.read_roof(path).outlets == ()


def test_a_key_of_a_roof_file_is_no_option_of_the_command(tmp_path: Path, capsys) -> None:
    text = (sample_folder() / "roof_cups_80mm.toml").read_text(encoding="utf-8")
    path = tmp_path / "roof.toml"
    path.write_text(text.replace("diameter_mm = 100", "diameter_mm = -4"), encoding="utf-8")
    assert main(["outlets", str(path), "--duration", "1h", "--out", str(tmp_path / "out")]) == 1
    assert "outlet 1, diameter_mm must be " in capsys.readouterr().err
    flags = {"diameter_mm": "--diameter"}
    said = "roof.toml: outlet 12, diameter_mm = 4 is an unusual size (4 mm)"
    assert in_flags(said, "outlets", flags) == said
    layer = "roof.toml: layer 2 (medium), depth_mm = 1270 is an unusual depth"
    assert in_flags(layer, "outlets", {"depth_mm": "--depth"}) == layer
    assert in_flags("size_outlets: diameter_mm must be above 0", "outlets", flags) == (
        "runoff outlets: --diameter must be above 0"
    )


def test_a_target_nobody_knows_is_named_before_its_unit_is_looked_at(tmp_path: Path, capsys) -> None:
    assert main(["sweep", "--at-most", "peak_dischrge=8L/s", "--out", str(tmp_path)]) == 1
    said = capsys.readouterr().err
    assert said.startswith(
        '--at-most: "peak_dischrge" is not a known figure (did you mean "peak_discharge"?); known: years, '
    )


def test_water_that_runs_too_far_and_outlets_that_are_none(tmp_path: Path) -> None:
    import runoff
    from runoff.errors import RoofError

    roof = runoff.open_sample_roof("cups")
    with pytest.raises(
        RoofError, match=r"flow_length_m must leave a strip at least 1 m wide: 1100 m on 260 m2 leave 0\.24 m"
    ):
        roof.replace({"roof.area_m2": 260.0, "roof.flow_length_m": 1100.0})
    none = roof.replace({"roof.outlets": []})
    storm = runoff.followed_by_dry(runoff.design_storm(depth_mm=30, duration="1h", step="5min", pattern="uniform"), 3.0)
    check = runoff.check_outlets(none, storm, allowable_depth_mm=60.0)
    assert check.attrs["verdict"].startswith(
        "The roof has no outlets: everything must leave over the emergency overflow. With every"
    )
    assert not bool(check["meets_with_loss"])


def test_a_table_with_falling_depths_and_sheets_that_cannot_be(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys
) -> None:
    table = tmp_path / "falls.csv"
    table.write_text("duration,2,10\n5min,8,12\n10min,7,15\n1h,20,30\n", encoding="utf-8")
    assert (
        main(["storm", "--depth-duration", str(table), "--depth-duration-unit", "mm", "--out", str(tmp_path / "o")])
        == 1
    )
    assert (
        "2 years: depth falls from 8 mm in 5 min to 7 mm in 10 min; depths must rise with duration"
        in capsys.readouterr().err
    )
    typed = [
        "outlets",
        "--duration",
        "1h",
        "--most-outlets",
        "1",
        "--no-figures",
        "--out",
        str(tmp_path / "o"),
        "--sheet",
    ]
    assert main([*typed, str(tmp_path / "none" / "sheet.html")]) == 1
    assert "--sheet: there is no folder" in capsys.readouterr().err
    assert main([*typed, "sheet.docx"]) == 1
    assert '--sheet: the file must end in .html or .pdf (given "sheet.docx")' in capsys.readouterr().err
    (tmp_path / "taken").write_text("a file, where a folder is needed\n", encoding="utf-8")
    assert main([*typed, str(tmp_path / "taken" / "sheet.html")]) == 1
    assert "--sheet: there is no folder" in capsys.readouterr().err
    monkeypatch.setattr("os.access", lambda _path, mode: mode != os.W_OK)  # the superuser may write anywhere
    assert main([*typed, str(tmp_path / "sheet.html")]) == 1
    said = capsys.readouterr()
    assert said.err.startswith(f"--sheet: nothing can be written into {tmp_path}; choose another folder for sheet.html")
    assert "Written" not in said.out  # refused before anything is worked out


@pytest.mark.parametrize("command", [["outlets", "--most-outlets", "1"], ["storm", "--no-ranges"]])
def test_rain_from_the_other_hemisphere_is_refused(command: list[str], tmp_path: Path, capsys) -> None:
    """A forgotten minus sign turns the seasons round: nothing is worked out, and the sentence names both latitudes."""
    table = tmp_path / "south.csv"
    table.write_text("# latitude: -33.9\n# units: mm\nduration,2,10\n5min,8,12\n1h,20,30\n", encoding="utf-8")
    typed = [*command, "--duration", "1h", "--return-period", "10", "--depth-duration", str(table), "--out", ""]
    assert main([*typed, "--latitude", "47.5"]) == 1
    said = capsys.readouterr()
    assert "south.csv is of latitude -33.90, the roof is at 47.50, in the other hemisphere" in said.err
    assert "depth" not in said.out
    assert main([*typed, "--latitude", "-33.9"]) == 0  # the same table on its own side
    capsys.readouterr()
    # the daily climate that says how wet the roof is, is held against the table too
    climate = northern_climate(tmp_path)
    assert main([*typed, "--start-moisture", "wettest-month", "--climate", climate]) == 1
    assert "the roof is at 47.50, in the other hemisphere" in capsys.readouterr().err


def northern_climate(folder: Path) -> str:
    """Return a file of two years of the invented town, which lies at 47.5 degrees north, and says so."""
    path = folder / "north.nc"
    runoff.open_sample().sel(time=slice("2005", "2006")).to_netcdf(path, engine="h5netcdf")
    return str(path)


def test_measured_rain_and_a_climate_of_two_hemispheres_are_refused(tmp_path: Path, capsys) -> None:
    rain = tmp_path / "south.nc"
    storm = runoff.design_storm(depth_mm=20, duration="1h", step="5min", pattern="uniform")
    day = np.datetime64("2005-01-08") + np.arange(storm.size) * np.timedelta64(5, "m")
    storm.drop_attrs(deep=False).assign_attrs(units="mm").assign_coords(time=day, lat=-33.9).to_dataset(
        name="rain"
    ).to_netcdf(rain, engine="h5netcdf")
    assert (
        main(
            [
                "outlets",
                "--rain",
                str(rain),
                "--climate",
                northern_climate(tmp_path),
                "--most-outlets",
                "1",
                "--out",
                "",
            ]
        )
        == 1
    )
    said = capsys.readouterr().err
    assert "north.nc is of latitude 47.5, south.nc of -33.9, in the other hemisphere" in said
