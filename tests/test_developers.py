"""The contributor's guide names what is there: every path, every module and every test it speaks of."""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
FILES = {
    str(path.relative_to(ROOT))
    for top in ("runoff", "tests", "notebooks", "sample_storms", ".ci")
    for path in (ROOT / top).rglob("*")
    if "__pycache__" not in path.parts
}
# files of a user, not of the checkout
OTHERS = {"results/"}


def named(text: str) -> list[str]:
    """Return the paths named in code marks: what ends in a suffix of ours or a slash, or stands as ``python -m tests...``."""
    paths = re.findall(r"`(\.?[\w./*-]+(?:\.(?:py|csv|md|toml|ipynb|png)|/))`", text)
    modules = re.findall(r"python -m (tests[\w.]+)", text)
    return sorted({*paths, *(module.replace(".", "/") for module in modules)} - OTHERS)


def is_there(name: str) -> bool:
    """Tell whether a path, or the end of one, is in the checkout; a star stands for any letters."""
    if name.startswith("../"):
        return True  # beside the checkout
    form = re.compile("(.*/)?" + re.escape(name.rstrip("/")).replace(r"\*", "[^/]*") + r"(\.py)?")
    return (ROOT / name).exists() or any(form.fullmatch(path) for path in FILES)


@pytest.mark.parametrize("name", named(GUIDE))
def test_what_the_guide_names_is_there(name: str) -> None:
    assert is_there(name), f"DEVELOPERS.md names {name}, which is not there"


def test_the_guide_names_every_room() -> None:
    rooms = {path.name for path in (ROOT / "runoff").iterdir() if path.is_dir() and (path / "__init__.py").exists()}
    missing = sorted(room for room in rooms if not re.search(rf"\b{room}\b", GUIDE))
    assert not missing, f"DEVELOPERS.md does not name {', '.join(missing)}"


def test_a_module_that_is_not_there_is_noticed() -> None:
    assert named("`runoff/balance/nowhere.py` and `python -m tests.nowhere`") == [
        "runoff/balance/nowhere.py",
        "tests/nowhere",
    ]
    assert not is_there("runoff/balance/nowhere.py") and not is_there("nowhere.py")
    assert is_there("netcdf_*.py") and is_there("column.py") and is_there("runoff/balance/")
