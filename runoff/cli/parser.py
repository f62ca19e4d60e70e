"""How arguments are read: refusals in sentences that name the flag, and types that know units and bounds."""

from __future__ import annotations

import argparse
import re
from collections.abc import Callable
from typing import Any, NoReturn

from runoff.errors import RunoffError, nearest
from runoff.saying.given import read_quantity
from runoff.saying.numbers import value_words
from runoff.saying.scales import say

_NAMED = re.compile(r"^argument ([^:]+): ")
_SENTENCES = (
    (re.compile(r"^(\S+) expected one argument$"), r"\1 needs a value"),
    (re.compile(r"^(\S+) expected at least one argument$"), r"\1 needs one value or more"),
    (re.compile(r"^(\S+) not allowed with argument (\S+)$"), r"\1 and \2 exclude each other; leave one of the two out"),
    (re.compile(r"^the following arguments are required: "), "still needed: "),
)


class CommandParser(argparse.ArgumentParser):
    """A parser that refuses in one sentence, without a page of usage, and takes no abbreviations."""

    def __init__(self, **words: Any) -> None:
        super().__init__(**words, allow_abbrev=False, formatter_class=argparse.RawDescriptionHelpFormatter)
        self.keywords: dict[str, str] = {}
        self._more: list[str] = []
        # what begins like a negative number is a value, with its unit too: -3mm
        self._negative_number_matcher = re.compile(r"^-\.?\d")

    def error(self, message: str) -> NoReturn:
        """Refuse; see `runoff.cli.entry.main` for the exit code."""
        message = _NAMED.sub(lambda found: f"{found[1].split('/')[-1]} ", message)
        for pattern, sentence in _SENTENCES:
            message = pattern.sub(sentence, message)
        raise RunoffError(
            f"{message}\nrunoff {self.prog.removeprefix('runoff').strip()} --help lists what it takes".replace(
                "  ", " "
            )
        )

    def parse_args(self, args: Any = None, namespace: Any = None) -> Any:
        """Read the words; what no argument takes is named with the nearest one that would."""
        options, left = self.parse_known_args(args, namespace)
        if left:
            used = self._of_command(getattr(options, "command", None))
            stray = left[0].partition("=")[0]
            used.error(
                f"there is no option {stray}{nearest(stray, used._option_string_actions)}"
                if stray.startswith("-")
                else f'"{stray}" is one word too many'
            )
        return options

    def _of_command(self, command: str | None) -> CommandParser:
        """Return the parser of a command, or this one where there is none."""
        for action in self._actions:
            if isinstance(action, argparse._SubParsersAction) and command:
                parser: CommandParser = action.choices[command]
                return parser
        return self

    def _get_values(self, action: argparse.Action, arg_strings: list[str]) -> Any:
        if action.option_strings and "--" in arg_strings:  # which argparse drops without a word
            raise argparse.ArgumentError(action, 'needs a value (given "--")')
        return super()._get_values(action, arg_strings)

    def _check_value(self, action: argparse.Action, value: Any) -> None:
        if action.choices is not None and value not in action.choices:
            known = [str(choice) for choice in action.choices]
            what = "" if action.option_strings else "COMMAND "
            raise argparse.ArgumentError(
                action if action.option_strings else None,
                f'{what}is one of {", ".join(known)} (given "{value}"){nearest(str(value), known)}',
            )

    def say_more(self, about: str) -> None:
        """Have ``--help`` end with what `runoff.cli.vocabulary` says about something (the name of its function)."""
        if about not in self._more:
            self._more.append(about)

    def format_help(self) -> str:
        """Return the help, with the words that the options take at its end."""
        if self._more:
            from runoff.cli import vocabulary

            flags = {flag for action in self._actions for flag in action.option_strings}
            self.epilog = "\n\n".join(getattr(vocabulary, about)(flags) for about in self._more)
        return super().format_help()

    def names(self, **flags: str) -> None:
        """Say which flag stands for which argument of the package, where the two are not spelled alike."""
        self.keywords.update(flags)

    def flags(self) -> dict[str, str]:
        """Return argument of the package -> flag."""
        own = {
            action.dest: max(action.option_strings, key=len)
            for action in self._actions
            if action.option_strings and action.dest != "help"
        }
        return {**own, **self.keywords}


def _refuse(words: str) -> NoReturn:
    raise argparse.ArgumentTypeError(words)


def _bounded(value: float, given: str, bounds: str, *, fits: bool) -> float:
    if not fits:
        _refuse(f"must be {bounds} (given {given})")
    return value


def number(
    *, above: float | None = None, least: float | None = None, most: float | None = None, unit: str = ""
) -> Callable[[str], float]:
    """Return a reader of plain numbers within bounds; the flag before the sentence is added by the parser.

    Parameters
    ----------
    above, least, most
        Bounds: exclusive, lowest and highest, in `unit`; None for none.
    unit
        Named in a refusal; the text itself is a bare number.

    Returns
    -------
    callable
        From text to the number; on anything else it raises what the parser turns into a refusal.
    """
    bounds = _bounds_words(above, least, most, unit)

    def read(text: str) -> float:
        try:
            value = float(text)
        except ValueError:
            _refuse(f'is a number (given "{text}")')
        return _bounded(value, text, bounds, fits=_fits(value, above, least, most))

    return read


def whole(*, least: int = 0, most: int | None = None) -> Callable[[str], int]:
    """Return a reader of whole numbers within bounds."""
    bounds = _bounds_words(None, least, most, "")

    def read(text: str) -> int:
        try:
            value = int(text)
        except ValueError:
            _refuse(f'is a whole number (given "{text}")')
        return int(_bounded(value, text, bounds, fits=_fits(value, None, least, most)))

    return read


def quantity(
    unit: str,
    *,
    above: float | None = None,
    least: float | None = None,
    most: float | None = None,
    kind: str = "",
    bare: str = "",
) -> Callable[[str], float]:
    """Return a reader of quantities such as ``60mm`` or ``2.4in``, in `unit`, within bounds.

    A bare number is refused, or taken to be in the unit `bare` where only one is in use.

    Parameters
    ----------
    unit
        SI unit of the value returned.
    above, least, most
        Bounds: exclusive, lowest and highest, in `unit`; None for none.
    kind
        A kind of `runoff.saying.scales`, for bounds in words.
    bare
        Unit of a bare number; empty where it is refused.

    Returns
    -------
    callable
        From text to the value in `unit`; on anything else it raises what the parser turns into a refusal.
    """
    bounds = " and ".join(
        f"{words} {say(bound, unit, kind)}"
        for words, bound in (("above", above), ("at least", least), ("at most", most))
        if bound is not None
    )

    def read(text: str) -> float:
        try:
            value = read_quantity(text, unit, bare=bare)
        except RunoffError as error:
            _refuse(str(error))
        return _bounded(value, text, bounds, fits=_fits(value, above, least, most))

    return read


def date(text: str) -> str:
    """Read a year, month, day or time as it is written in every calendar; whether there is such a day the record says."""
    found = re.match(r"^(\d{4})(?:-(\d{2})(?:-(\d{2})(?:[ T]([012]\d):([0-5]\d)(?::[0-5]\d)?)?)?)?$", text.strip())
    if not found or not (1 <= int(found[2] or 1) <= 12 and 1 <= int(found[3] or 1) <= 31 and int(found[4] or 0) <= 23):
        _refuse(
            f'is a year, month, day or time, such as 1990, 2019-06, 2019-06-30 or "2009-07-03 14:00" (given "{text}")'
        )
    return text.strip()


def opening(text: str) -> tuple[float, float]:
    """Read width and height of an opening, ``300x100mm`` or ``12x4in``; return them in mm."""
    found = re.match(r"^\s*([\d.]+)\s*x\s*([\d.]+)\s*([a-zA-Z]+)\s*$", text)
    if not found:
        _refuse(f'is WIDTHxHEIGHT with a unit, for example 300x100mm or 12x4in (given "{text}")')
    try:
        width, height = (read_quantity(f"{side}{found[3]}", "mm") for side in found.groups()[:2])
    except RunoffError as error:
        _refuse(f'is WIDTHxHEIGHT with a unit, for example 300x100mm or 12x4in (given "{text}"): {error}')
    if not (width > 0.0 and height > 0.0):
        _refuse(f'needs a width and a height above 0 (given "{text}")')
    return width, height


def _fits(value: float, above: float | None, least: float | None, most: float | None) -> bool:
    return (
        (value > above if above is not None else True)
        and (value >= least if least is not None else True)
        and (value <= most if most is not None else True)
        and value == value  # not a number is within no bounds
    )


def _bounds_words(above: float | None, least: float | None, most: float | None, unit: str) -> str:
    words = [
        f"{sign} {value_words(bound)}"
        for sign, bound in (("above", above), ("at least", least), ("at most", most))
        if bound is not None
    ]
    return f"{' and '.join(words) or 'a number'} {unit}".rstrip()
