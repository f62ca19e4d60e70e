"""The sample roofs of the invented town of Ostrey."""

from __future__ import annotations

from runoff.errors import RoofError, nearest
from runoff.roof.description import Roof
from runoff.roof.roof_file import read_roof
from runoff.sample_files import sample_folder

FILES = {"cups": "roof_cups_80mm.toml", "thin": "roof_thin_no_board.toml", "deep": "roof_deep.toml"}


def open_sample_roof(name: str = "cups") -> Roof:
    """Return a sample roof: ``cups`` (80 mm over cups), ``thin`` (no board, nearly flat) or ``deep`` (150 mm)."""
    if name not in FILES:
        raise RoofError(f'sample roof "{name}" is not known{nearest(name, FILES)}; there are {", ".join(FILES)}')
    return read_roof(sample_folder() / FILES[name])
