"""Checking a dossier: the genuine one reproduces, every kind of tampering is named."""

from __future__ import annotations

import json
import re

import pytest

import runoff
from runoff.dossier import verify_dossier
from runoff.dossier.provenance import pack_weather, unpack_weather
from runoff.dossier.verifying import Outcome, Verdict
from tests.dossier.conftest import write, years
from tests.dossier.tampering import in_record

pytestmark = pytest.mark.usefixtures("remade_once")


@pytest.fixture
def tampered(quick, tmp_path):
    """Return a function that writes a changed copy of the quick dossier and checks it."""

    def check(change, **options):
        path = tmp_path / "changed.html"
        text = change(quick.text)
        assert text != quick.text, "the change found nothing to change"
        path.write_text(text, encoding="utf-8")
        return verify_dossier(path, **options)

    return check


def test_the_genuine_one_reproduces(quick):
    verdict = verify_dossier(quick.path)
    assert verdict.is_genuine
    lines = verdict.text().splitlines()
    assert lines[0].startswith("Everything reproduces: ")
    assert re.search(
        r"^  numbers   all [\d,]+ numbers in the data inside come out the same when computed again$", lines[1]
    )
    assert "who wrote the file" in lines[-1]


def test_the_stations_record_confirms_it(quick):
    assert verify_dossier(quick.path, weather=years(8)).is_genuine


def test_a_changed_number_in_the_text_is_named(tampered):
    mark = r'(data-figure="annual_capture_m3" data-shown="m3" data-digits="1">)[^<]*'
    verdict = tampered(lambda text: re.sub(mark, r"\g<1>99.9", text, count=1))
    assert not verdict.is_genuine
    assert verdict.printed[0].startswith("annual_capture_m3 is printed as 99.9 m3, the file's own data say ")


def test_a_changed_value_behind_the_text_is_named(tampered):
    mark = r'value="[^"]*" data-figure="retention"'
    verdict = tampered(lambda text: re.sub(mark, 'value="0.99" data-figure="retention"', text, count=1))
    assert verdict.printed and verdict.printed[0].startswith("retention is printed as ")


def test_a_changed_number_in_the_record_is_named(tampered):
    def change(record):
        record["figures"]["avoided_annual_m3"] *= 1.01

    verdict = tampered(in_record(change))
    assert list(verdict.differing) == ["avoided_annual_m3"]
    assert "differs   avoided_annual_m3: the file says " in verdict.text()


def test_a_number_changed_everywhere_is_named(tampered, quick):
    """The text, the value behind it and the record agree with each other, but not with the weather and the roof."""
    old = quick.page.record["figures"]["capacity_mm"]

    def change(text):
        return text.replace(repr(old), "99.0").replace(f">{old:.1f}</data>", ">99.0</data>")

    assert "capacity_mm" in tampered(change).differing


def test_a_changed_roof_is_found(tampered):
    def change(record):
        record["roof"] = record["roof"].replace("depth_mm = 80", "depth_mm = 120")

    verdict = tampered(in_record(change))
    assert "capacity_mm" in verdict.differing
    assert "the checksum of the roof does not match what the file carries" in verdict.faults


def test_changed_weather_is_found(tampered):
    def change(record):
        data = record["weather"]["series"]["rain"]["data"]
        data["values"], data["index"] = data["index"], data["values"]

    verdict = tampered(in_record(change))
    assert verdict.faults[0] == "the weather inside does not match its checksum: it has been changed"
    assert verdict.outcome is Outcome.DIFFERS


def test_the_line_of_numbers_says_what_came_out_the_same(tmp_path):
    """A fault elsewhere must not stand beside "all numbers reproduce" without a word, nor numbers that nobody computed."""
    path = tmp_path / "x.html"
    words = Verdict(path=path, figures=7, faults=["line 3: the words were changed"]).text().splitlines()
    assert words[0].startswith("DOES NOT REPRODUCE")
    assert words[1].endswith("come out the same when computed again; what else does not hold is named below")
    assert (
        "1 of 7 numbers in the data inside do not" in Verdict(path=path, figures=7, differing={"a": (1.0, 2.0)}).text()
    )
    assert "none of the 7" in Verdict(path=path, figures=7, faults=["x"], computed=False).text()


def test_other_weather_is_found(quick):
    other = years(8)
    other["rain"][100] += 5.0
    verdict = verify_dossier(quick.path, weather=other)
    assert verdict.faults == ["`rain` differs from the weather given on 1 days, the first is 1991-04-11"]


def test_changed_words_are_found(tampered):
    verdict = tampered(
        lambda text: text.replace("at least twice a year", "now and then").replace("At least twice", "Once")
    )
    assert not verdict.is_genuine
    assert re.match(
        r"line \d+: the words were changed: .*t least twice a year.* should stand there, not ", verdict.faults[0]
    )


def test_other_versions_are_noted(tampered):
    def change(record):
        record["versions"]["numpy"] = "1.0"

    verdict = tampered(in_record(change))
    assert verdict.is_genuine  # every number still comes out the same
    assert any(note.startswith("written with other versions: numpy 1.0 (here ") for note in verdict.notes)


def test_no_dossier(tmp_path):
    path = tmp_path / "page.html"
    path.write_text("<p>hello</p>", encoding="utf-8")
    message = r"page\.html carries no record of a dossier, of an order or of another sheet; give the HTML or PDF file that runoff wrote$"
    with pytest.raises(runoff.RunoffError, match=message):
        verify_dossier(path)
    path.write_bytes(b"<p>\xff\xfe")
    with pytest.raises(
        runoff.RunoffError, match=r"page\.html cannot be read: it is not UTF-8 text; the file has been changed or cut$"
    ):
        verify_dossier(path)


def test_weather_is_carried_to_the_last_bit():
    weather = years(6)
    weather["rain"][3] = float("nan")
    again = unpack_weather(json.loads(json.dumps(pack_weather(weather))))
    for name in weather.data_vars:
        assert again[name].to_numpy().tobytes() == weather[name].to_numpy().astype(float).tobytes()
    assert (again["time"].to_numpy() == weather["time"].to_numpy()).all()
    assert float(again["lat"]) == float(weather["lat"])
    assert again.attrs["invented"] == "yes"


def test_other_calendars_are_carried():
    import xarray as xr

    time = xr.date_range("2001-01-01", periods=720, freq="D", calendar="360_day", use_cftime=True)
    weather = xr.Dataset({"rain": ("time", [0.1] * 720, {"units": "mm"})}, coords={"time": time})
    again = unpack_weather(json.loads(json.dumps(pack_weather(weather))))
    assert (again["time"].to_numpy() == weather["time"].to_numpy()).all()


def test_a_material_of_ones_own_is_kept(tmp_path):
    roof = runoff.open_sample_roof("cups")
    layers = [layer.model_copy(update={"material": "crushed <brick> of Ostrey"}) for layer in roof.build_up.layers]
    roof = roof.model_copy(update={"build_up": runoff.BuildUp(layers=layers)})
    written = write(tmp_path / "own.html", roof, years(6), members=20)
    assert verify_dossier(written.path).is_genuine


@pytest.mark.real_weather
def test_a_real_station_with_its_flags(shared_data, tmp_path):
    weather = runoff.read_weather(shared_data / "daily" / "USW00094728.dly", start="2000", end="2007", latitude=40.78)
    written = write(tmp_path / "station.html", weather=weather, members=20, paper="letter")
    assert "rain_flag" in written.page.record["weather"]["series"]
    assert "INVENTED" not in written.text
    assert verify_dossier(written.path, weather=weather).is_genuine


def test_a_weather_file_is_read_as_it_was_and_its_digest_is_held(tmp_path):
    """Columns, units and filled days are recorded, so that the bare file is enough for whoever checks."""
    weather = years(6)
    lines = [
        f"{str(day)[:10]};{'' if at in (40, 900) else f'{rain / 25.4:.6f}'};{et:.4f}"
        for at, (day, rain, et) in enumerate(
            zip(weather["time"].values, weather["rain"].values, weather["reference_et"].values, strict=True)
        )
    ]
    table = tmp_path / "station.csv"
    table.write_text("\n".join(["day;fallen;et", *lines]), encoding="utf-8")
    given = runoff.read_weather(
        table, columns={"time": "day", "rain": "fallen", "reference_et": "et"}, units={"rain": "in", "reference_et": "mm"},
        fill={"rain": "same-day-of-other-years"}, latitude=45.0,
    )  # fmt: skip
    written = write(tmp_path / "d.html", weather=given, members=20)
    verdict = verify_dossier(written.path, weather=table)
    assert verdict.outcome is Outcome.REPRODUCES
    assert any(note.startswith("filled, as declared: rain: ") for note in verdict.notes)
    table.write_text(table.read_text(encoding="utf-8") + "\n", encoding="utf-8")
    (fault,) = verify_dossier(written.path, weather=table).faults
    assert fault.startswith("the weather file given is not the one used: SHA-256 ")


def test_a_roof_is_held_against_the_one_inside(quick):
    roof = runoff.open_sample_roof("cups")
    assert verify_dossier(quick.path, roof=roof).is_genuine
    (fault,) = verify_dossier(quick.path, roof=roof.replace({"medium.depth_mm": 60})).faults
    assert fault == (
        "the roof inside is not the roof given; first: the file says depth_mm = 80.0, the roof given depth_mm = 60.0"
    )
