"""What the docstrings say, held against the code: every argument, what comes back, what is raised, and in which unit."""

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1] / "runoff"
MODULES = sorted(
    path for path in ROOT.rglob("*.py") if "sample" not in path.parts[-2] and "notebooks" not in path.parts
)
#: From so many arguments on a function has its sections.
MANY = 3


def public_functions(path: Path) -> list[tuple[str, ast.FunctionDef]]:
    """Return the public functions and methods of a module, with their names."""
    found = []
    for node in ast.parse(path.read_text(encoding="utf-8")).body:
        if isinstance(node, ast.FunctionDef):
            found.append((node.name, node))
        elif isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            found += [(f"{node.name}.{one.name}", one) for one in node.body if isinstance(one, ast.FunctionDef)]
    return [(name, one) for name, one in found if not one.name.startswith("_")]


def arguments(function: ast.FunctionDef) -> list[str]:
    """Return the names of the arguments, stars and all, without self."""
    given = function.args
    names = [one.arg for one in (*given.posonlyargs, *given.args, *given.kwonlyargs)]
    names += [f"*{given.vararg.arg}"] if given.vararg else []
    names += [f"**{given.kwarg.arg}"] if given.kwarg else []
    return [name for name in names if name not in ("self", "cls")]


def section(text: str, head: str) -> str:
    """Return the body of a section of a docstring, empty where there is none."""
    match = re.search(rf"^{head}\n-+\n(.*?)(?=^\S[^\n]*\n-+\n|\Z)", text, re.MULTILINE | re.DOTALL)
    return match[1] if match else ""


def described(text: str) -> list[str]:
    """Return the arguments that a docstring describes, in its order."""
    body = section(text, "Parameters")
    heads = [line for line in body.splitlines() if line and not line.startswith(" ")]
    return [name.strip().partition(" ")[0] for head in heads for name in head.partition(" : ")[0].split(",")]


FUNCTIONS = [
    pytest.param(path, name, node, id=f"{path.relative_to(ROOT)}::{name}")
    for path in MODULES
    for name, node in public_functions(path)
]


def test_parameters_are_those_of_the_signature() -> None:
    faults = []
    for one in FUNCTIONS:
        _, _, node = one.values
        told = described(ast.get_docstring(node) or "")
        if told and (strange := [name for name in told if name not in arguments(node)]):
            faults.append(f"{one.id} describes {', '.join(strange)}, which it does not take")
        elif told and (silent := [name for name in arguments(node) if name not in told]):
            faults.append(f"{one.id} does not describe {', '.join(silent)}")
    assert not faults, "\n".join(faults)


def public_names() -> dict[str, str]:
    """Return the functions of `import runoff` and the modules that hold them."""
    import inspect

    import runoff

    found = {}
    for name in runoff.__all__:
        one = getattr(runoff, name)
        if inspect.isfunction(inspect.unwrap(one)):
            found[name] = inspect.unwrap(one).__module__
    return found


@pytest.mark.parametrize("name", sorted(public_names()))
def test_a_public_function_of_many_arguments_says_it_all(name: str) -> None:
    import inspect

    import runoff

    function = inspect.unwrap(getattr(runoff, name))
    text = inspect.getdoc(function) or ""
    if len(inspect.signature(function).parameters) < MANY:
        assert text
        return
    missing = [head for head in ("Parameters", "Returns", "Raises") if not section(text, head)]
    assert not missing, f"runoff.{name} has no section {', '.join(missing)}"


def test_the_reader_of_docstrings_sees_what_is_wrong() -> None:
    text = (
        "Do it.\n\nParameters\n----------\na, b\n    Both, mm.\n*rest\n    More.\n\nReturns\n-------\nfloat\n    It.\n"
    )
    assert described(text) == ["a", "b", "*rest"] and section(text, "Returns").strip().startswith("float")
    assert section(text, "Raises") == ""
    node = ast.parse("def f(self, a, *rest, b=1, **more): pass").body[0]
    assert isinstance(node, ast.FunctionDef) and arguments(node) == ["a", "b", "*rest", "**more"]
