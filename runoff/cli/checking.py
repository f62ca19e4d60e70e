"""``--verify``: the verdict on a sheet at the terminal, with the exit codes that checking has of its own."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from typing import Any

from runoff.cli.refusals import in_flags, sentence_of
from runoff.errors import RunoffError
from runoff.saying.progress import waiting

_REFUSED = 2


def checked(path: str, command: str, flags: Mapping[str, str], *, weather: Any = None, roof: Any = None) -> int:
    """Check a sheet, print the verdict and return the exit code.

    Parameters
    ----------
    path
        The sheet.
    command, flags
        What was typed, for the words of a refusal.
    weather
        Returns the weather to hold the sheet against, None for none.
    roof
        Path of a roof file, or None.

    Returns
    -------
    int
        0 reproduces; 3 numbers and words do, pictures were not compared; 1 does not; 2 refused or unreadable.
    """
    from runoff.dossier import verify_dossier

    try:
        with waiting("computing the sheet again"):
            verdict = verify_dossier(path, weather=weather() if weather else None, roof=roof)
    except (RunoffError, OSError, MemoryError) as error:
        said = in_flags(sentence_of(error, command), command, flags)
        print(f"Refused, nothing was checked: {said}", file=sys.stderr)
        return _REFUSED
    print(verdict.text())
    return verdict.outcome.value
