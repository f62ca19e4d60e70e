"""General lines that hold for every option of every command: the parser is walked, so that a new command cannot break them."""

from __future__ import annotations

import argparse
import dataclasses
import re
from pathlib import Path

import pytest

from runoff.cli import vocabulary
from runoff.cli.destination import FILES
from runoff.cli.entry import COMMANDS, main, module_of
from runoff.cli.parser import CommandParser
from runoff.errors import RunoffError
from runoff.weather.files.table_layout import TableLayout, layout_of

#: Names that mean one thing in every command that has them.
ONE_MEANING = {
    "--start": "DATE", "--end": "DATE", "--depth-duration": "FILE", "--out": "FOLDER|FILE", "--units": None, "--latitude": "DEG",
    "--column": "QUANTITY=NAME", "--unit": "QUANTITY=UNIT", "--layout": "NAME=VALUE", "--fill": "QUANTITY=METHOD",
    "--lost": "N", "--seed": "N", "--members": "N", "--paper": None, "--address": "TEXT", "--drained-below": "DEPTH",
    "--drying": "RATE", "--duration": "TIME", "--step": "TIME", "--return-period": "YEARS", "--et-method": "NAME",
    "--climate": "FILE", "--verify": "FILE",
}  # fmt: skip
#: Spellings that were or could be a second name of one of these.
SECOND_NAMES = {
    "--from", "--since", "--until", "--period", "--years", "--table", "--ddf", "--idf", "--depths", "--output", "--folder", "--save",
    "--si", "--us", "--lat", "--columns", "--pattern-name", "--rp",
}  # fmt: skip
#: Metavars of options that carry a quantity, with a size given in two units; each must be read from both.
SIZES = {
    "DEPTH": ("25.4mm", "1in"), "SIZE": ("101.6mm", "4in"), "WxH": ("304.8x101.6mm", "12x4in"), "AREA": ("0.09290304m2", "1ft2"),
    "MASS": ("0.45359237kg", "1lb"), "RATE": ("2.54mm/day", "0.1in/day"), "FLOW": ("69.972 L/(s ha)", "1ft3/(s acre)"),
}  # fmt: skip
#: The unit of a bare number stands in the metavar or the help of these; it is the same in both unit systems.
BARE = {"DEG", "YEARS", "HOURS", "H", "N", "MB", "SHARE", "YEAR"}


def parser_of(command: str) -> CommandParser:
    parser = CommandParser(prog=f"runoff {command}")
    module_of(command).add_arguments(parser)
    return parser


OPTIONS = [
    pytest.param(command, action, id=f"{command} {max(action.option_strings, key=len)}")
    for command in COMMANDS
    for action in parser_of(command)._actions
    if action.option_strings and action.dest != "help"
]


@pytest.mark.parametrize(("command", "action"), OPTIONS)
def test_every_option_keeps_to_the_general_lines(command: str, action: argparse.Action) -> None:
    (flag,) = action.option_strings
    assert action.help and action.help[0] != " ", "an option says what it is"
    assert re.fullmatch(r"--[a-z]+(-[a-z]+)*", flag)
    assert flag not in SECOND_NAMES, "one name for one thing"
    assert not re.search(r"-(mm|in|m|ft|m2|ft2|kg|lb|h|l-per-s)$", flag), "the value carries the unit, never the flag"
    assert flag not in ONE_MEANING or action.metavar == ONE_MEANING[flag]
    if isinstance(action, argparse._StoreTrueAction):
        return
    assert action.choices or isinstance(action.metavar, str), "a value has a name"
    if action.metavar in SIZES:
        metric, us = (action.type(text) for text in SIZES[action.metavar])
        assert metric == pytest.approx(us, rel=1e-4), (
            "a size is read in either system"
        )  # a flow is typed with five digits
        assert _units_in(action.help) or action.default is None or "such as" in action.help
        with pytest.raises(argparse.ArgumentTypeError, match="unit"):
            action.type("60")
    elif action.type is not None and action.metavar not in BARE:
        assert action.metavar in {"DATE", "HEIGHT"}, f"{action.metavar}: is it a length? then it takes a unit"


def test_a_height_above_the_sea_is_in_metres_or_in_the_unit_it_carries() -> None:
    (elevation,) = (action for action in parser_of("simulate")._actions if action.dest == "elevation")
    assert elevation.type("350") == 350.0
    assert elevation.type("1000ft") == pytest.approx(304.8)  # 0.3048 m to the foot


def _units_in(text: str) -> bool:
    return bool(re.search(r"\d ?(mm|in|m2|ft2|kg|lb|mm/day|L/\(s ha\))", text))


@pytest.mark.parametrize("command", COMMANDS)
def test_options_whose_words_come_from_a_table_list_them(command: str) -> None:
    parser = parser_of(command)
    said = " ".join(parser.format_help().split())
    flags = {flag for action in parser._actions for flag in action.option_strings}
    expected = {
        "--column": "reference_et, solar_radiation", "--unit": "in/h", "--layout": "stamp: start or end", "--fill": "spread-gathered",
        "--et-method": "hargreaves-samani", "--log-unit": "overflow (mm, in", "--log-column": "watering", "--method": "differential evolution",
        "--series": "evapotranspiration, throughfall", "--try": "cup_storage_mm", "--parameter": "cup_storage_mm",
        "--roofs": "cup_storage_mm", "--at-least": "rot_risk_days (day/year)", "--allow": "lift_limit_kg", "--edition": "IPC 2015",
        "--rule": "north-carolina", "--pattern": "euler-II", "--start-moisture": "wettest-month",
    }  # fmt: skip
    for flag in flags & set(expected):
        assert expected[flag] in said, flag
    heads = set(re.findall(r"(--[a-z-]+)", said.partition("words these options take:")[2]))
    assert heads <= flags, "no words of options the command does not have"


def test_layout_words_are_those_of_the_layout_and_each_example_is_taken() -> None:
    text = vocabulary._layout_words()
    assert [part.partition(": ")[0] for part in text.split("; ")] == [
        field.name for field in dataclasses.fields(TableLayout)
    ]
    for name in vocabulary._LAYOUT_EXAMPLES.keys() & {"round_to", "regular_to", "time_zone", "day_start", "comment"}:
        layout_of({name: vocabulary._LAYOUT_EXAMPLES[name]})
    for word in re.findall(r"dates: (.*?);", text)[0].split(" or "):
        layout_of({"dates": word})
    with pytest.raises(RunoffError, match="stamp"):
        layout_of({"stamp": "middle"})


@pytest.mark.parametrize("command", [name for name in COMMANDS if name not in ("check-weather", "notebooks")])
def test_out_is_a_file_by_its_ending_and_else_a_folder(command: str) -> None:
    """The two without --out print, or copy to the folder of --to."""
    (out,) = (action for action in parser_of(command)._actions if action.dest == "out")
    endings = parser_of(command).get_default("out_endings")
    assert set(endings) <= set(FILES)
    assert all(ending in out.help for ending in endings)


@pytest.mark.parametrize("command", [name for name in COMMANDS if name not in ("check-weather", "notebooks", "fit")])
def test_an_ending_that_a_command_does_not_write_is_refused_at_once(
    command: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    endings = parser_of(command).get_default("out_endings")
    other = next(ending for ending in FILES if ending not in endings)
    assert main([command, "--out", f"a{other}"]) == 1
    assert f"--out: runoff {command} writes " in capsys.readouterr().err
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("command", COMMANDS)
def test_a_command_that_takes_long_says_that_it_works(command: str) -> None:
    """How: `test_entry.py`. Copying lessons takes no time; what else a module does goes through one of these."""
    text = Path(str(module_of(command).__file__)).read_text(encoding="utf-8")
    assert re.search(r"\b(waiting|steps|at_a_terminal)\(", text)


HOUSE = Path(__file__).resolve().parents[2]
_TYPED = re.compile(rf"\brunoff ({'|'.join(COMMANDS)})\b([^`\"'\n#|]*)")


def typed() -> list[tuple[str, str, str]]:
    """Return the commands that documents, lessons and messages show: where, command, flags."""
    import json

    texts = {path.name: path.read_text(encoding="utf-8") for path in (HOUSE / "README.md", HOUSE / "DEVELOPERS.md")}
    for path in sorted((HOUSE / "notebooks").glob("*.ipynb")):
        cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
        texts[path.name] = "\n".join("".join(cell["source"]) for cell in cells)
    for path in sorted((HOUSE / "runoff").rglob("*.py")):
        texts[str(path.relative_to(HOUSE))] = path.read_text(encoding="utf-8")
    return [
        (where, found[1], flag)
        for where, text in texts.items()
        for found in _TYPED.finditer(text)
        for flag in re.findall(r"(?<![-\w])--[a-z][a-z-]*", found[2])
    ]


def test_every_command_that_is_shown_has_its_options() -> None:
    options = {command: set(parser_of(command)._option_string_actions) for command in COMMANDS}
    shown = typed()
    assert len(shown) > 40  # else the pattern sees nothing
    assert not [f"{where}: runoff {command} {flag}" for where, command, flag in shown if flag not in options[command]]
