"""What no honest sheet holds is refused in a sentence, part by part: marks, records, packed series, parts of a PDF."""

from __future__ import annotations

import base64
import dataclasses
import json
import zlib

import numpy as np
import pytest
import xarray as xr

from runoff.dossier import masking, pdf_files, provenance, records, verifying
from runoff.dossier.as_built import Measured
from runoff.dossier.comparing import mark_faults
from runoff.dossier.gathering import joined
from runoff.errors import RoofError, RunoffError
from tests.dossier.tampering import in_record


def refused(text, change=None):
    record = json.loads(masking.masked(text, "sheet.html").record)
    if change:
        change(record)
    with pytest.raises(RunoffError) as said:
        records.read_record(json.dumps(record), "sheet.html")
    return str(said.value)


def test_a_sign_that_no_page_holds(quick):
    with pytest.raises(RunoffError, match="it holds a NUL character, which no sheet does"):
        masking.masked(quick.text + "\x00", "sheet.html")


def test_digits_beyond_all_measure_are_a_difference(quick, tmp_path, remade_once):
    """Digits that no number has are found, without an error of arithmetic."""
    path = tmp_path / "changed.html"
    text = quick.text.replace('data-digits="1"', 'data-digits="99"', 1)
    assert text != quick.text
    path.write_text(text, encoding="utf-8")
    assert verifying.verify_dossier(path).outcome is verifying.Outcome.DIFFERS


def test_more_marks_than_any_sheet(quick, monkeypatch):
    monkeypatch.setattr(masking, "MOST_MARKS", 10)
    with pytest.raises(RunoffError, match="numbers, more than 10; no sheet of runoff does"):
        masking.masked(quick.text, "sheet.html")


def test_two_marks_that_changed_places(quick):
    page = masking.masked(quick.text, "sheet.html")
    at = next(i for i, (a, b) in enumerate(zip(page.marks, page.marks[1:], strict=False)) if a[1:4] != b[1:4])
    marks = list(page.marks)
    marks[at], marks[at + 1] = marks[at + 1], marks[at]
    assert mark_faults(dataclasses.replace(page, marks=tuple(marks)), page) == [
        "the marked numbers are not in their order"
    ]
    assert not mark_faults(page, page)


def test_a_record_nested_without_end():
    with pytest.raises(RunoffError, match="the record inside is nested more than 12 deep; no sheet of runoff is"):
        records.read_record("[" * 100_000, "sheet.html")


@pytest.mark.parametrize(
    "text", ['{"format": "a", "format": "b"}', '{"format": NaN}', '{"format": Infinity}', '{"format": '],
    ids=["a name twice", "NaN", "infinity", "cut"],
)  # fmt: skip
def test_a_record_that_is_no_json(text):
    with pytest.raises(RunoffError, match="the record inside cannot be read; the file has been changed or cut"):
        records.read_record(text, "sheet.html")


@pytest.mark.parametrize("kind", ["runoff dossier 1", "another", None, 7], ids=str)
def test_a_record_of_no_known_kind(quick, kind):
    said = refused(quick.text, lambda record: record.update(format=kind))
    assert "carries no record that can be checked (" in said
    assert ('; it is a "runoff dossier 1", of another version of runoff' in said) == (kind == "runoff dossier 1")


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda r: r.update(versions=[1]), "the record inside cannot be used: `versions` is not a list of versions"),
        (lambda r: r.update(roof="x" * 300_000), "`roof` is not a roof file of at most 200,000 letters"),
        (lambda r: r.update(figures={"a": "b"}), "`figures` is not at most 20,000 numbers"),
        (lambda r: r["options"].update(members=10**9), "1,000,000,000 members are more than 5,000, the most that can be drawn"),
        (lambda r: r["weather"].update(days=10**9), "`weather` has no number of days between 1 and 110,000"),
    ],
    ids=["versions", "roof", "figures", "members", "days"],
)  # fmt: skip
def test_a_record_that_no_sheet_has(quick, change, said):
    assert said in refused(quick.text, change)


def test_a_series_that_unpacks_without_end():
    bomb = base64.b64encode(zlib.compress(bytes(provenance.MOST_UNPACKED + 1))).decode()
    with pytest.raises(RunoffError, match="unpacks to more than 4,000,000 bytes; no record is so long"):
        provenance._bytes(bomb)


def test_reading_options_and_a_roof_that_cannot_be_read():
    for text in ("[]", "{", "[" * 100_000):
        with pytest.raises(RunoffError, match="the options that the weather file was read with cannot be read"):
            provenance.reading_of({"reading_options": text})
    assert provenance.reading_of({}) == {}
    for text in ("a = [", "a = 1", "layer = 3"):
        with pytest.raises(RunoffError, match="the roof inside the dossier cannot be read: it has been changed or cut"):
            provenance.roof_of_record(text)


def _part(content, kind=b"/EmbeddedFile"):
    body = zlib.compress(content)
    return b"<< /Type %s /Filter /FlateDecode /Length %d >>\nstream\n%s\nendstream\n" % (kind, len(body), body)


def test_parts_of_a_pdf_that_unpack_without_end(monkeypatch):
    assert len(pdf_files._streams(_part(bytes(1000)), "sheet.pdf")) == 1
    monkeypatch.setattr(pdf_files, "MOST_PART", 2_000_000)
    with pytest.raises(RunoffError, match="a part of the PDF unpacks to more than 2 MB; no sheet of runoff does"):
        pdf_files._streams(_part(bytes(2_000_001)), "sheet.pdf")
    monkeypatch.setattr(pdf_files, "MOST_ALL", 5_000_000)
    with pytest.raises(RunoffError, match=r"sheet\.pdf: the PDF unpacks to more than 5 MB; no sheet of runoff does"):
        pdf_files._streams(_part(bytes(1_900_000)) * 3, "sheet.pdf")


def test_what_a_record_lacks_or_adds_is_named(quick, tmp_path, monkeypatch):
    again = verifying.remake(json.loads(masking.masked(quick.text, "sheet.html").record))
    monkeypatch.setattr(verifying, "remake", lambda record: again)

    def faults(change):
        path = tmp_path / "changed.html"
        path.write_text(in_record(change)(quick.text), encoding="utf-8")
        return verifying.verify_dossier(path).faults

    assert any("`extra` is unknown to a record of this kind" in one for one in faults(lambda r: r.update(extra=1)))
    assert any("`storms` is missing in a record of this kind" in one for one in faults(lambda r: r.pop("storms")))
    changed = faults(lambda r: r["options"].update(event_mm=99.0))
    assert any(
        "`options` of the record inside is not what the same roof, weather and options give" in one for one in changed
    )
    more = faults(lambda r: r["versions"].update(other="1.0"))
    assert "`versions` of the record inside names a library that no number depends on" in more


def test_a_record_that_cannot_be_computed_again(quick, tmp_path, monkeypatch):
    def fails(record):
        raise TypeError("a part of another kind")

    monkeypatch.setattr(verifying, "remake", fails)
    with pytest.raises(RunoffError, match="the record inside cannot be computed again: a value in it cannot be used"):
        verifying.verify_dossier(quick.path)


def test_a_number_in_a_unit_it_cannot_have(quick, tmp_path, monkeypatch):
    again = verifying.remake(json.loads(masking.masked(quick.text, "sheet.html").record))
    monkeypatch.setattr(verifying, "remake", lambda record: again)
    mark = next(one for one in masking.masked(quick.text, "sheet.html").marks if one.unit == "mm")
    text = quick.text.replace(
        f'data-figure="{mark.figure}" data-shown="mm"', f'data-figure="{mark.figure}" data-shown="kg"', 1
    )
    assert text != quick.text
    path = tmp_path / "changed.html"
    path.write_text(text, encoding="utf-8")
    verdict = verifying.verify_dossier(path)
    assert f"{mark.figure} is printed in kg, which is not a unit of it" in verdict.printed


def test_weather_without_a_series_of_the_dossier():
    time = np.arange("2020-01-01", "2020-01-03", dtype="datetime64[D]").astype("datetime64[ns]")
    series = xr.Dataset({"rain": ("time", [0.0, 1.0]), "tmax": ("time", [1.0, 2.0])}, coords={"time": time})
    assert verifying._weather_faults(series, series[["rain"]]) == [
        "`tmax` is in the dossier but not in the weather given"
    ]


def test_figures_formed_twice_are_a_fault_of_the_program():
    one = xr.Dataset({"capture": 1.0})
    with pytest.raises(ValueError, match="figures formed twice: capture"):
        joined([one, one])


@pytest.mark.parametrize("given", ["one.jpg", [1], {"a": "b"}], ids=str)
def test_photographs_are_a_list_of_texts(given):
    with pytest.raises(RoofError, match="photographs is a list of texts, one a photograph"):
        Measured.of({"photographs": given}, "built.toml")
