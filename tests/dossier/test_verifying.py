"""Checking a dossier: the genuine one reproduces, every kind of tampering is named."""

from __future__ import annotations

import json
import re

import pytest

import runoff
from runoff.dossier import verify_dossier
from runoff.dossier.provenance import pack_weather, unpack_weather
from tests.dossier.conftest import write, years


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


def in_record(change):
    """Apply a change to the embedded record."""

    def rewrite(text: str) -> str:
        head, mark, rest = text.partition('id="provenance">')
        body, end, tail = rest.partition("</script>")
        record = json.loads(body)
        change(record)
        body = json.dumps(record).replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")
        return head + mark + body + end + tail

    return rewrite


def test_the_genuine_one_reproduces(quick):
    verdict = verify_dossier(quick.path)
    assert verdict.is_genuine
    lines = verdict.text().splitlines()
    assert re.search(r"quick\.html: (\d+) of \1 numbers reproduce$", lines[0])
    assert lines[-1] == "Everything reproduces."


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

    with pytest.raises(
        runoff.RunoffError, match=r"^the weather inside the dossier does not match its checksum: it has been changed$"
    ):
        tampered(in_record(change))


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
    assert verdict.faults[0].startswith("every number reproduces, but the text of the file was changed, first in line ")


def test_other_versions_are_noted(tampered):
    def change(record):
        record["versions"]["numpy"] = "1.0"

    verdict = tampered(in_record(change))
    assert verdict.is_genuine  # every number still comes out the same
    assert any(note.startswith("written with other versions: numpy 1.0 (here ") for note in verdict.notes)


def test_no_dossier(tmp_path):
    path = tmp_path / "page.html"
    path.write_text("<p>hello</p>", encoding="utf-8")
    message = r"page\.html carries no record of a dossier; give the HTML file that runoff dossier wrote \(a PDF cannot be checked\)$"
    with pytest.raises(runoff.RunoffError, match=message):
        verify_dossier(path)
    path.write_bytes(b"%PDF-1.7\xff\xfe")
    with pytest.raises(
        runoff.RunoffError, match=r"page\.html: the record inside cannot be read; the file has been changed or cut$"
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
