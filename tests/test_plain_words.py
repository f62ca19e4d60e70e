"""Names that would steer a terminal: they arrive without such signs in what is printed and in every sheet."""

import unicodedata
from pathlib import Path

import pytest

import runoff
from runoff.cli.entry import main
from runoff.dossier.as_built import Measured
from runoff.dossier.asked_for import Options
from runoff.dossier.drainage_sheet import DrainageWords
from runoff.dossier.order_sheet import SheetWords
from runoff.sample_files import sample_folder

EVIL = "Quay\x1b[31m red\x07\x1b]0;title\x07\r\x9b2J roof"
SEEN = "Quay [31m red  ]0;title   2J roof"


def steering(text: str) -> set[str]:
    return {sign for sign in text if sign != "\n" and unicodedata.category(sign) == "Cc"}


def test_every_word_of_a_roof_is_on_one_line() -> None:
    roof = runoff.open_sample_roof("cups")
    layers = [type(layer)(**{**layer.fields(), "name": EVIL}) for layer in roof.build_up.layers]
    made = runoff.Roof(
        **{**roof.fields(), "name": EVIL, "site": EVIL, "build_up": runoff.BuildUp(layers=tuple(layers))}
    )
    assert made.name == made.site == SEEN
    assert {layer.name for layer in made.build_up.layers} == {SEEN}


@pytest.mark.parametrize("kind", [Options, DrainageWords, SheetWords])
def test_every_field_of_a_sheet_is_on_one_line(kind) -> None:
    given = {
        name: EVIL
        for name, field in kind.__dataclass_fields__.items()
        if "str" in str(field.type) and name not in ("paper", "units", "pattern", "event", "rules", "et_method")
    }
    assert len(given) >= 3
    made = kind(**given)
    assert {getattr(made, name) for name in given} == {SEEN}


def test_what_was_measured_is_on_one_line() -> None:
    made = Measured.of({"measured_by": EVIL, "photographs": [EVIL, "roof"]}, "built.toml")
    assert (made.measured_by, made.photographs) == (SEEN, (SEEN, "roof"))


@pytest.mark.parametrize(
    "words", [["simulate", "--start", "2012", "--no-figures"], ["order"], ["outlets", "--duration", "1h", "--most-outlets", "2"]],
    ids=lambda words: words[0],
)  # fmt: skip
def test_nothing_printed_steers_the_terminal(words, tmp_path: Path, monkeypatch, capsys) -> None:
    monkeypatch.chdir(tmp_path)
    escaped = "Quay \\u001b[31m \\u0007 roof"
    text = (sample_folder() / "roof_cups_80mm.toml").read_text(encoding="utf-8")
    name = runoff.open_sample_roof("cups").name
    assert f'"{name}"' in text
    Path("r.toml").write_text(text.replace(f'"{name}"', f'"{escaped}"', 1), encoding="utf-8")
    assert main([words[0], "r.toml", *words[1:]]) == 0
    said = capsys.readouterr()
    assert "Quay  [31m   roof" in said.out and not steering(said.out + said.err)


def test_a_name_in_a_message_does_not_either(tmp_path: Path, monkeypatch, capsys) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["check-weather", "w\x1b[31m.csv"]) == 1
    said = capsys.readouterr().err
    assert "w" in said and not steering(said)
