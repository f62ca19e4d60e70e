"""Every change of a long list is found; with other versions too, and pictures alone are then said not to be compared."""

from __future__ import annotations

import re

import pytest

from runoff.dossier import verify_dossier
from runoff.dossier.verifying import Outcome
from tests.dossier.tampering import DRAWN, OF_THE_INPUT, OF_THE_PAGE, in_record

#: Of the changes that have to be computed again the suite tries these; all of them: tests/trials/checked_dossiers.py.
FEW = ("the depth of the medium", "the sample no longer called invented", "a packed series")

UNDER_OTHER_VERSIONS = (
    "a printed number", "a hidden sentence", "words of the upkeep", "a style", "words of a picture", "a caution taken away",
    "a mark more", "a picture", "a line of a picture", "a number in fixed words", "a number of the record",
)  # fmt: skip


@pytest.fixture
def outcome_of(quick, tmp_path, remade_once):
    def check(change, before=lambda text: text):
        path = tmp_path / "changed.html"
        text = change(before(quick.text))
        assert text != quick.text
        path.write_text(text, encoding="utf-8")
        return verify_dossier(path)

    return check


def _other_versions(record):
    record["versions"]["matplotlib"] = "3.10.1"


def _said_by_the_page(text):
    """Let page and record both name the other version, as an honest file of that version does."""
    return in_record(_other_versions)(text.replace(_matplotlib(text), "matplotlib 3.10.1"))


def _matplotlib(text):
    return re.search(r"matplotlib [\d.]+", text)[0]


@pytest.mark.parametrize("name", OF_THE_PAGE)
def test_every_change_of_the_page_is_found(outcome_of, name):
    verdict = outcome_of(OF_THE_PAGE[name])
    assert verdict.outcome is Outcome.DIFFERS
    assert verdict.text().startswith("DOES NOT REPRODUCE: ")


@pytest.mark.parametrize("name", FEW)
def test_changes_of_the_input_are_found(outcome_of, name):
    assert outcome_of(OF_THE_INPUT[name]).outcome is Outcome.DIFFERS


def test_an_honest_file_of_other_versions_reproduces(outcome_of):
    verdict = outcome_of(_said_by_the_page)
    assert verdict.outcome is Outcome.REPRODUCES
    assert any("matplotlib 3.10.1 (here " in note for note in verdict.notes)


@pytest.mark.parametrize("name", UNDER_OTHER_VERSIONS)
def test_under_other_versions_only_pictures_pass_and_that_is_said(outcome_of, name):
    verdict = outcome_of(OF_THE_PAGE[name], before=_said_by_the_page)
    only_drawn = name in DRAWN
    assert verdict.outcome is (Outcome.PICTURES_NOT_COMPARED if only_drawn else Outcome.DIFFERS)
    if only_drawn:
        assert "pictures were not compared" in verdict.text().splitlines()[0]


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("a hidden sentence", "a hidden part was added"),
        ("a sentence", "unknown markup was added"),
        ("a style", "the styles were changed"),
        ("words of a picture", "the words of a picture were changed"),
        ("a digit before a mark", "digits outside the marked numbers were changed"),
        ("a mark more", "capacity_mm is marked where the page has no such number: 1 too many (mm)"),
        ("a mark taken away, its text left", "capacity_mm is not marked as often as it should be: 1 too few (mm)"),
        ("a picture", "pictures are not as drawn: number 1, counted from the top"),
        ("words of the upkeep", "the words were changed"),
    ],
)
def test_what_was_changed_is_named(outcome_of, name, words):
    assert any(words in fault for fault in outcome_of(OF_THE_PAGE[name]).faults)
