"""`--units us` holds for the whole output of every command: no SI unit stands in it alone."""

import re
from pathlib import Path

import pytest

from runoff.cli.entry import main

#: Both units of one number, those asked for in front.
PAIR = re.compile(r"\d[\d.,]* (in|ft²) \(\d[\d.,]* (mm|m²)\)")
# a number in an SI unit; what stands in words beside its twin in brackets is allowed
SI = re.compile(r"\d ?(mm|m2|m3|L/s|kg/m2|kN/m2|mm/h|mm/day)\b(?! \()")
SI_HEADS = re.compile(r"\b(mm|m2|m3|L/s|kg/m2|kN/m2|mm/h|mm/day)$")
ROOF = "House on the quay, 80 mm with cups"  # a name is the user's

COMMANDS = [
    ["simulate", "--start", "2001", "--end", "2003"],
    ["sweep", "--start", "2001", "--end", "2003", "--try", "medium.depth_mm=60,80", "--at-least", "retention=90%"],
    [
        "sweep",
        "--start",
        "2001",
        "--end",
        "2005",
        "--try",
        "medium.depth_in=3,4",
        "--at-most",
        "excess_water=0.1in day/year",
    ],
    ["storm", "--depth", "2in", "--step", "15min"],
    ["outlets", "--duration", "1h", "--most-outlets", "3"],
    ["fit", "--start", "2014", "--end", "2014", "--out", "fitted"],
    ["dossier", "--start", "2013", "--members", "20"],
]


@pytest.mark.filterwarnings("ignore::runoff.RunoffWarning")
@pytest.mark.parametrize("words", COMMANDS, ids=lambda words: words[0])
def test_no_si_unit_stands_alone(
    words: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main([*words, "--units", "us", "--no-figures"][: None if words[0] != "dossier" else -1]) == 0
    for line in capsys.readouterr().out.replace(ROOF, "").splitlines():
        assert not SI.search(PAIR.sub("", line)), line
        assert not SI_HEADS.search(line.rstrip()), line
    for table in tmp_path.rglob("*.csv"):
        head = table.read_text(encoding="utf-8").partition("\n")[0]
        assert not re.search(r"\b(mm|m2|m3|L/s|kg/m2)\b", head), head


@pytest.mark.parametrize(("given", "told"), [("10000gal", "10000 gal"), ("15in", "15 in"), ("40m3", "10566.9 gal")])
def test_a_target_takes_the_unit_that_its_column_is_printed_in(
    given: str, told: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Depth and volume of a capture are printed under one name; the unit tells them apart. 40 m3 = 40,000 / 3.785412 gal."""
    monkeypatch.chdir(tmp_path)
    words = [
        "sweep",
        "--start",
        "2001",
        "--end",
        "2005",
        "--try",
        "medium.depth_in=3,4",
        "--no-figures",
        "--units",
        "us",
    ]
    assert main([*words, "--at-least", f"annual_capture={given}"]) == 0
    assert f"Draws that meet the targets: annual capture at least {told} in " in " ".join(
        capsys.readouterr().out.split()
    )


def test_the_pattern_sees_what_it_should() -> None:
    assert SI.search("it holds 80 mm of water") and SI.search("12.5 L/s") and SI_HEADS.search("peak mm/h")
    assert not SI.search("102 mm (4 in)") and not SI.search("80 gpm")
