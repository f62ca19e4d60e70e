"""Imports run one way only, read from the syntax tree so that no import hides in a function."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1] / "runoff"

# Each layer may import the layers before it and itself. Layers of one row do not import each other.
ROWS = [
    ["errors", "units", "quantities"],
    ["balance"],
    ["roof", "weather"],
    ["simulation"],
    ["findings"],
    ["sizing", "calibration", "streaming"],
    ["plots"],
    ["dossier", "teaching"],
    ["cli"],
    ["__main__"],
]
RANK = {name: rank for rank, row in enumerate(ROWS) for name in row}
FOUNDATION = set(ROWS[0])


def layer_of(path: Path) -> str:
    return path.relative_to(ROOT).parts[0].removesuffix(".py")


def imported_layers(path: Path) -> set[str]:
    """Return the layers a module imports, wherever in the module the import stands."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        names = []
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path.name}: relative imports hide the layer; write runoff.{node.module}"
            names = [node.module or ""]
            if node.module == "runoff":
                names = [f"runoff.{alias.name}" for alias in node.names]
        for name in names:
            parts = name.split(".")
            if parts[0] == "runoff" and len(parts) > 1 and parts[1] != "__version__":
                found.add(parts[1])
    return found


MODULES = sorted(path for path in ROOT.rglob("*.py") if path != ROOT / "__init__.py" and "sample" not in path.parts[-2])


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_imports_run_one_way(path: Path) -> None:
    own = layer_of(path)
    assert own in RANK, f"{own} is not in the list of layers; add it where it belongs"
    for layer in imported_layers(path) - {own}:
        assert layer in RANK, f"{path.name} imports runoff.{layer}, which is no layer"
        same_foundation = own in FOUNDATION and layer in FOUNDATION
        assert RANK[layer] < RANK[own] or same_foundation, f"{path.name}: {own} must not import {layer}"


def test_the_reader_sees_an_import_inside_a_function(tmp_path: Path) -> None:
    module = tmp_path / "hidden.py"
    module.write_text("def f():\n    from runoff.plots import style\n", encoding="utf-8")
    assert imported_layers(module) == {"plots"}


# House numbers: a module is something a person reads in one sitting.
MODULE_LINES = 600


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_module_is_short_enough_to_read(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= MODULE_LINES
