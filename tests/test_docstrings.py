"""What the docstrings say, held against the code: every argument, what comes back, what is raised, and in which unit."""

import ast
import inspect
import re
from collections.abc import Callable
from pathlib import Path

import pytest

import runoff
from runoff import plots

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


def public_functions_of_the_package() -> dict[str, Callable[..., object]]:
    """Return what is reached from ``import runoff``: its functions, those of `runoff.plots`, and the methods of its classes."""
    found: dict[str, Callable[..., object]] = {}
    for home, names in ((runoff, runoff.__all__), (plots, plots.__all__)):
        for name in names:
            one = getattr(home, name)
            if inspect.isclass(one):
                methods = {f"{name}.{inner}": getattr(held, "__func__", held) for inner, held in vars(one).items()}
                found |= {path: held for path, held in methods.items() if "._" not in path and inspect.isfunction(held)}
            elif inspect.isfunction(inspect.unwrap(one)):
                found[name] = inspect.unwrap(one)
    return {name: one for name, one in found.items() if one.__module__.startswith("runoff")}


#: Those that pass on what matplotlib raises and refuse nothing themselves.
REFUSES_NOTHING = {"new_figure", "png_bytes"}


def test_a_public_function_of_many_arguments_says_it_all() -> None:
    faults = []
    for name, function in public_functions_of_the_package().items():
        text = inspect.getdoc(function) or ""
        taken = [one for one in inspect.signature(function).parameters if one not in ("self", "cls")]
        wanted = (
            ("Parameters", "Returns", "Raises")[: 2 if name in REFUSES_NOTHING else 3] if len(taken) >= MANY else ()
        )
        if not text or (missing := [head for head in wanted if not section(text, head)]):
            faults.append(f"{name}: {', '.join(missing) if text else 'says nothing'}")
    assert not faults, "without a section\n" + "\n".join(faults)


def names_called(function: ast.FunctionDef) -> set[str]:
    """Return what a function calls for its refusal alone: the calls whose value it drops."""
    dropped = [one.value for one in ast.walk(function) if isinstance(one, ast.Expr)]
    called = [one.func for one in dropped if isinstance(one, ast.Call)]
    return {one.id if isinstance(one, ast.Name) else getattr(one, "attr", "") for one in called}


def raises_itself(function: ast.FunctionDef) -> bool:
    """Tell whether an error is raised in the body of a function."""
    return any(isinstance(one, ast.Raise) for one in ast.walk(function))


#: Functions that return nothing and raise: to call one is to refuse at the door.
REFUSALS = {
    node.name
    for path in MODULES
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
    if isinstance(node, ast.FunctionDef) and raises_itself(node) and not node.name.startswith("__")
    and node.returns is not None and ast.unparse(node.returns) == "None"
}  # fmt: skip


def sections_missing(function: ast.FunctionDef) -> list[str]:
    """Return the sections that a function of many arguments owes by its code and lacks in its docstring."""
    if len(arguments(function)) < MANY:
        return []
    text = ast.get_docstring(function) or ""
    returns = ast.unparse(function.returns) if function.returns is not None else ""
    owed = [("Parameters",)]
    owed += [] if returns in ("None", "Never", "NoReturn") else [("Returns", "Yields")]
    owed += [("Raises",)] if raises_itself(function) or names_called(function) & REFUSALS else []
    return [heads[0] for heads in owed if not any(section(text, head) for head in heads)]


def test_an_inner_function_of_many_arguments_says_what_its_code_owes() -> None:
    faults = []
    for one in FUNCTIONS:
        _, _, node = one.values
        assert isinstance(node, ast.FunctionDef)
        if missing := sections_missing(node):
            faults.append(f"{one.id}: {', '.join(missing)}")
    assert not faults, "without a section\n" + "\n".join(faults)


def test_what_a_function_owes_is_read_from_its_code() -> None:
    told = "'Do.\\n\\nParameters\\n----------\\na, b, c\\n    All.\\n'"
    for returns, body, missing in (
        ("None", "return", []),
        ("float", "return a", ["Returns"]),
        ("None", "raise RunoffError('no')", ["Raises"]),
        ("None", "refuse_other_kinds('f', roof=a)", ["Raises"]),
        ("float", "return refuse_other_kinds('f', roof=a)", ["Returns"]),
    ):
        node = ast.parse(f"def f(a, b, c) -> {returns}:\n    {told}\n    {body}").body[0]
        assert isinstance(node, ast.FunctionDef) and sections_missing(node) == missing
    for given, missing in (("a, b, *c", ["Parameters"]), ("self, a, b", [])):
        node = ast.parse(f"def f({given}) -> None:\n    return").body[0]
        assert isinstance(node, ast.FunctionDef) and sections_missing(node) == missing


def test_methods_and_figures_are_looked_at() -> None:
    assert {"simulate", "DepthDurationTable.from_rows", "RunRules.of", "year_figure"} <= {
        *public_functions_of_the_package()
    }


def test_the_reader_of_docstrings_sees_what_is_wrong() -> None:
    text = (
        "Do it.\n\nParameters\n----------\na, b\n    Both, mm.\n*rest\n    More.\n\nReturns\n-------\nfloat\n    It.\n"
    )
    assert described(text) == ["a", "b", "*rest"] and section(text, "Returns").strip().startswith("float")
    assert section(text, "Raises") == ""
    node = ast.parse("def f(self, a, *rest, b=1, **more): pass").body[0]
    assert isinstance(node, ast.FunctionDef) and arguments(node) == ["a", "b", "*rest", "**more"]


#: A unit, or what stands where a quantity has none; or the table that gives the unit of each row; or who is described so.
UNIT = re.compile(
    r"(?<!\w)(mm|cm|m|km|in|ft|m2|ha|ft2|m3|L|gal|kg|g|lb|kPa|MJ|W|degC|K|degrees?|radians|h|hours?|min|minutes?|s|days?|years?|%|"
    r"percent|MB|bytes|points?|units?|inches|pt)(?!\w)"
    r"|(?i:\b(shares?|fractions?|factors?|ratios?|numbers?|counts?|coefficients?|exponents?|probability|index|quantiles?|confidence|dots per inch|datetime64|text|mask|places|"
    r"dimensionless|0-1|0 to 1|cost|seed)\b)"
    r"|`\w*\.?[A-Z_]{4,}`|[Aa]s in `|[Oo]rder of"
)
#: Names that carry their unit.
NAMED = re.compile(r"_(mm|m|m2|m3|kg|g|c|h|hours?|min|minutes?|days?|years?|mb|in|ft|pt|gpm|l_per_s\w*|\w*_per_\w+)$")
#: Annotations of what may be a quantity: numbers and arrays of them.
NUMERIC = re.compile(r"\b(float|ndarray|DataArray|Series)\b")
#: Modules whose public functions are formulas of somebody's; each names whose, at its head or the module's.
FORMULAS = (
    "weather/evaporation/formulas.py", "weather/evaporation/sun.py", "storms/hyetographs.py", "storms/intensity_curves.py",
    "storms/nrcs_ordinates.py", "storms/extremes.py", "storms/level_intervals.py", "findings/curve_number.py",
    "balance/outlet_flow.py", "roof/release_curve.py", "sizing/drainage_codes.py", "balance/free_water.py",
)  # fmt: skip
SOURCE = re.compile(
    r"FAO-56|\bDIN \d|\bEN (ISO )?\d|ASTM|NEH|HDS-2|TP-149|DWA|FLL|ISO \d|WMO|Hydraulic|Plumbing Code|\bIPC\b|\(\d{4}\)|\d{4}[,;:)]|Eq\. ?\d|"
    r"[Mm]emory|[Bb]y hand|common practice|`(VERTICAL_PIPES|HORIZONTAL_DRAINS)`|\bIBC\b"
)


def entries(body: str) -> dict[str, str]:
    """Return the names of a section with their descriptions."""
    found: dict[str, str] = {}
    names: list[str] = []
    for line in body.splitlines():
        if line and not line.startswith(" "):
            names = [one.strip() for one in line.partition(" : ")[0].split(",")]
            found |= dict.fromkeys(names, "")
        else:
            found |= {name: f"{found[name]} {line.strip()}" for name in names}
    return found


def without_units(node: ast.FunctionDef) -> list[str]:
    """Return the parameters and returns of a function that may be quantities and tell no unit, by name or in words."""
    text = ast.get_docstring(node) or ""
    said = entries(section(text, "Parameters"))
    given = (*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs)
    faults = [
        one.arg
        for one in given
        if one.annotation is not None and NUMERIC.search(ast.unparse(one.annotation)) and one.arg in said
        and not NAMED.search(one.arg) and not UNIT.search(said[one.arg])
    ]  # fmt: skip
    returns = section(text, "Returns")
    if returns and node.returns is not None and NUMERIC.search(ast.unparse(node.returns)) and not UNIT.search(returns):
        faults.append("what it returns")
    return faults


def test_what_may_be_a_quantity_tells_its_unit() -> None:
    faults = []
    for one in FUNCTIONS:
        _, _, node = one.values
        if silent := without_units(node):
            faults.append(f"{one.id}: {', '.join(silent)}")
    assert not faults, "no unit told of\n" + "\n".join(faults)


@pytest.mark.parametrize("module", FORMULAS)
def test_a_formula_names_its_source(module: str) -> None:
    path = ROOT / module
    head = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8"))) or ""
    assert SOURCE.search(head) or all(
        SOURCE.search(ast.get_docstring(node) or "") for _, node in public_functions(path)
    ), f"{module}: no source at its head, and not in every formula"


def test_the_finder_of_missing_units_sees_them() -> None:
    source = (
        'def f(depth_mm: float, level: float, name: str) -> float:\n    """Do.\n\n    Parameters\n    ----------\n'
        "    depth_mm\n        Depth.\n    level\n        How high it stands{unit}.\n    name\n        Of it.\n\n"
        '    Returns\n    -------\n    float\n        How much{unit}.\n    """'
    )
    for unit, faults in (("", ["level", "what it returns"]), (", mm", [])):
        node = ast.parse(source.replace("{unit}", unit)).body[0]
        assert isinstance(node, ast.FunctionDef) and without_units(node) == faults
