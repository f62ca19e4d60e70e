"""Imports run one way only, read from the syntax tree so that no import hides in a function."""

import ast
import functools
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1] / "runoff"

# Each layer may import the layers before it and itself. Layers of one row do not import each other.
ROWS = [
    [
        "errors",
        "units",
        "quantities",
        "plain_arrays",
        "time_steps",
        "version",
        "sample_files",
        "file_bytes",
        "given_kinds",
        "first_use",
        "writing",
        "netcdf_bytes",
        "draws",
    ],
    ["saying", "balance"],
    ["roof", "weather", "storms"],
    ["simulation"],
    ["findings"],
    ["sizing", "calibration", "streaming"],
    ["plots"],
    ["showing"],
    ["dossier", "teaching"],
    ["desk"],
    ["cli"],
    ["__main__"],
]
RANK = {name: rank for rank, row in enumerate(ROWS) for name in row}
FOUNDATION = set(ROWS[0])


@functools.cache
def tree_of(path: Path) -> ast.Module:
    """Return a module taken apart; several tests look at each."""
    return ast.parse(path.read_text(encoding="utf-8"))


def layer_of(path: Path) -> str:
    return path.relative_to(ROOT).parts[0].removesuffix(".py")


def imported_modules(path: Path) -> set[str]:
    """Return the dotted names a module imports, wherever in the module the import stands, type checking included."""
    found = set()
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path.name}: relative imports hide the layer; write runoff.{node.module}"
            found |= {node.module or ""} | {f"{node.module}.{alias.name}" for alias in node.names}
    return {name for name in found if name.split(".")[0] == "runoff"}


def imported_layers(path: Path) -> set[str]:
    """Return the layers a module imports."""
    return {name.split(".")[1] for name in imported_modules(path) if name.count(".")}


MODULES = sorted(path for path in ROOT.rglob("*.py") if path != ROOT / "__init__.py" and "sample" not in path.parts[-2])


def wrong_ways(path: Path) -> list[str]:
    """Return which imports of a module run against the rows."""
    own = layer_of(path)
    if own not in RANK:
        return [f"{path.name}: {own} is not in the list of layers; add it where it belongs"]
    found = []
    for layer in sorted(imported_layers(path) - {own}):
        if layer not in RANK:
            found.append(f"{path.name} imports runoff.{layer}, which is no layer")
        elif RANK[layer] >= RANK[own] and not (own in FOUNDATION and layer in FOUNDATION):
            found.append(f"{path.name}: {own} must not import {layer}")
    return found


def test_imports_run_one_way() -> None:
    faults = [fault for path in MODULES for fault in wrong_ways(path)]
    assert not faults, "\n".join(faults)


def test_the_reader_sees_an_import_inside_a_function(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tests.test_layering.ROOT", tmp_path)
    module = tmp_path / "roof" / "hidden.py"
    module.parent.mkdir()
    module.write_text("def f():\n    from runoff.plots import style\n    import runoff.cellar\n", encoding="utf-8")
    assert imported_layers(module) == {"plots", "cellar"}
    assert wrong_ways(module) == [
        "hidden.py imports runoff.cellar, which is no layer",
        "hidden.py: roof must not import plots",
    ]


def own_name(path: Path) -> str:
    """Return the dotted name of a module; a folder goes by its `__init__`."""
    parts = path.relative_to(ROOT.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def circles(imports: dict[str, set[str]]) -> list[list[str]]:
    """Return the groups of modules that reach each other by their imports, each group once and sorted."""
    reached = {name: reach(name, imports) for name in imports}
    groups = {frozenset(other for other in reached[name] if name in reached[other]) for name in imports}
    return sorted(sorted(group) for group in groups if group)


def reach(start: str, imports: dict[str, set[str]]) -> set[str]:
    """Return every module that one reaches by its imports."""
    seen: set[str] = set()
    ahead = list(imports[start])
    while ahead:
        name = ahead.pop()
        if name not in seen:
            seen.add(name)
            ahead += imports.get(name, ())
    return seen


def modules_named(path: Path, names: set[str]) -> set[str]:
    """Return which of the modules one imports; `from room import module` means the module, not the room's door."""
    found = set()
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            inner = {f"{node.module}.{alias.name}" for alias in node.names}
            found |= inner & names or {node.module or ""}
    return found & names


def test_no_circles_inside_a_room() -> None:
    # a room's own `__init__` is its door: what stands inside must not go through it
    names = {own_name(path) for path in MODULES}
    found = circles({own_name(path): modules_named(path, names) - {own_name(path)} for path in MODULES})
    assert not found, "these import each other in a circle: " + "; ".join(" <-> ".join(group) for group in found)


def test_a_circle_is_seen() -> None:
    assert circles({"a": {"b"}, "b": {"c"}, "c": {"a"}, "d": {"a"}}) == [["a", "b", "c"]]


def test_nothing_below_imports_the_package_itself() -> None:
    """What the package says of itself (version, sample files) lies on the ground; `import runoff` is for its users."""
    whole = [
        f"{path.relative_to(ROOT)}:{node.lineno}"
        for path in MODULES
        for node in ast.walk(tree_of(path))
        if isinstance(node, ast.Import) and any(alias.name == "runoff" for alias in node.names)
    ]
    assert not whole, f"{', '.join(whole)}: import the room that holds the name, not the package"


def test_no_module_is_named_like_what_it_holds() -> None:
    """`runoff.a.b` must never mean a module, or a folder, here and a function there."""
    found = [
        str(path.relative_to(ROOT))
        for path in MODULES
        for node in ast.walk(tree_of(path))
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef)
        and node.name.lower() == own_name(path).rpartition(".")[2]
    ]
    assert not found, f"{', '.join(found)}: holds its own name"


# House numbers: a module is something a person reads in one sitting.
MODULE_LINES = 600


def test_modules_are_short_enough_to_read() -> None:
    long = [
        f"{path.relative_to(ROOT)}: {lines}"
        for path in MODULES
        if (lines := len(path.read_text(encoding="utf-8").splitlines())) > MODULE_LINES
    ]
    assert not long, f"over {MODULE_LINES} lines: {', '.join(long)}"
