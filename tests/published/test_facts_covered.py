"""Every number of the pages of check values is held by a case or left out for a stated reason; none is open."""

import pytest

from tests.trials.facts_covered import CASES, FACTS, Section, digits, held_by, judged, reasons, walk


def test_no_printed_number_is_open() -> None:
    if not FACTS.is_dir():
        pytest.skip("the pages of check values are not beside this checkout (shared/facts)")
    found = list(walk(FACTS))
    open_ones = {f"{section.page} {section.number}": one.open for section, one in found if one.open}
    assert not open_ones, "add a case, or name the number with its reason in not_compared.csv"
    silent = [f"{section.page} {section.number}" for section, one in found if one.short_left and not one.short_said]
    assert not silent, "say in facts_sections.csv, column shorter, what its numbers of one or two digits are"
    idle = {f"{section.page} {section.number}": one.idle for section, one in found if one.idle}
    assert not idle, "not_compared.csv names what the page does not print there"
    assert {(section.page, section.number) for section, _ in found} >= set(reasons()), "a place that no page has"
    assert sum(len(one.held) for _, one in found) >= 1500


def test_a_number_is_judged_by_its_section() -> None:
    section = Section("page", "6.2", "6.2 Pipes", ("| 40 805 | 12.5 | 7 738.97 | 0.095 | 321 | 22 |",))
    found = judged(section, held={40805.0, 0.095}, named={321.0, 999.0}, listed={0.095, 12.5})
    assert found.held == [40805.0]  # 0.095 has two digits, 22 too: they would be found anywhere
    assert found.reasoned == [12.5, 321.0] and found.idle == [999.0]
    assert (found.short_held, found.short_listed, found.short_left) == (1, 0, 2)  # 7 and 22 are left
    assert found.open == [738.97]  # thousands not known joined stand as printed
    assert digits(0.0673) == 3 and digits(1200.0) == 2


def test_place_and_note_of_a_case_hold_nothing() -> None:
    text = (CASES / "rain_load.csv").read_text(encoding="utf-8")
    assert "9.80665" in text and 9.80665 not in held_by("rain_load.csv")  # it stands in a note
    assert 33.28 in held_by("rain_load.csv")
