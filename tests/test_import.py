"""`import runoff` stays light: heavy libraries load on first use, in a fresh process."""

import ast
import importlib
import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

from runoff.first_use import Late, as_if_not_installed

HEAVY = ["matplotlib", "scipy", "numba", "pandas", "xarray", "pydantic", "jinja2", "ipywidgets", "dask", "h5netcdf"]


def modules_after(code: str) -> set[str]:
    report = "import sys, json; print(json.dumps(sorted({name.split('.')[0] for name in sys.modules})))"
    done = subprocess.run([sys.executable, "-c", f"{code}; {report}"], capture_output=True, text=True, check=True)
    return set(json.loads(done.stdout.splitlines()[-1]))


def test_import_loads_nothing_heavy() -> None:
    assert modules_after("import runoff").isdisjoint(HEAVY)


def test_simulation_loads_no_figures_and_no_widgets() -> None:
    loaded = modules_after("import runoff; runoff.simulate; runoff.summarize; runoff.read_roof")
    assert loaded.isdisjoint({"matplotlib", "ipywidgets", "jinja2", "scipy"})


#: What no command needs that draws nothing: of what is installed, xarray, numba and numpy would load it by themselves.
NEVER = {
    "matplotlib", "dask", "distributed", "pint", "coverage", "scipy.stats", "runoff.plots.style", "ipywidgets",
    "asyncio.events", "numpy.f2py.f2py2e", "unittest", "scipy.spatial.transform",
}  # fmt: skip
LOOPS = {"numba", "scipy"}
COMMANDS = [
    ("--help", NEVER | LOOPS | {"pandas", "xarray", "pydantic"}),
    ("check-weather", NEVER | LOOPS | {"jinja2", "h5netcdf", "runoff.sizing"}),
    ("order", NEVER | LOOPS | {"h5netcdf"}),
    ("simulate --no-figures --no-ranges --start 2011", NEVER | LOOPS | {"jinja2", "runoff.sizing.likely_ranges"}),
    ("simulate --no-figures --start 2014", NEVER | {"jinja2", "scipy"}),
    ("storm --no-figures --depth 2in --step 15min", NEVER | {"jinja2", "scipy.special", "scipy.linalg"}),
    ("outlets --no-figures --duration 1h --most-outlets 3", NEVER | {"jinja2", "scipy.special", "scipy.linalg"}),
    ("fit --no-figures --start 2014 --end 2014", NEVER | {"jinja2"}),
    (
        "stream",
        NEVER - {"dask", "asyncio.events"} | {"scipy.sparse", "scipy.fftpack", "scipy.special", "jinja2", "fsspec"},
    ),
]


@pytest.mark.slow
@pytest.mark.parametrize(("typed", "unneeded"), COMMANDS, ids=[typed.split()[0] for typed, _ in COMMANDS])
def test_a_command_loads_nothing_that_it_does_not_need(typed: str, unneeded: set[str], tmp_path: Path) -> None:
    words = ["runoff", *typed.split()]
    code = (
        f"import sys; sys.argv = {words}; from runoff.cli import process\ntry: process()\n"
        "finally: print('loaded', *(name for name, module in sys.modules.items() if module is not None))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=tmp_path)
    loaded = set(done.stdout.rpartition("loaded ")[2].split())
    assert "runoff.cli.entry" in loaded, done.stderr
    assert not loaded & unneeded
    assert ("How sure: left out (--no-ranges)" in done.stdout) == ("--no-ranges" in words)


def test_scipy_and_dask_are_there_again_after_a_command() -> None:
    """Only the process of a command leaves them out; who calls `main` in a process of his own keeps what he has."""
    code = "from runoff.cli import main; main(['--version'])"
    try_it = "import dask, scipy.linalg.cython_blas"
    done = subprocess.run([sys.executable, "-c", f"try: {code}\nexcept SystemExit: {try_it}"], capture_output=True)
    assert done.returncode == 0, done.stderr


def test_what_a_library_only_looks_for_can_be_left_out_and_is_there_afterwards(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delitem(sys.modules, "wave", raising=False)
    with pytest.raises(ZeroDivisionError), as_if_not_installed("wave", "json"):
        assert importlib.import_module("json") is json  # loaded before: it stays
        with pytest.raises(ImportError):
            importlib.import_module("wave")
        _ = 1 / 0
    assert importlib.import_module("wave").Wave_read and sys.modules["json"] is json


def test_a_module_met_late_runs_with_its_first_use(tmp_path: Path) -> None:
    (tmp_path / "gutters").mkdir()
    (tmp_path / "gutters" / "__init__.py").write_text("print('run')\nWIDTH = 3\n")
    (tmp_path / "gutters" / "corners.py").write_text("ANGLE = 90\n")
    code = (
        "import sys; from runoff.first_use import Late; sys.meta_path.insert(0, Late('gutters', 'no_such_module'))\n"
        "import gutters; print('imported', flush=True); print(gutters.WIDTH)\n"
        "from gutters.corners import ANGLE; print(ANGLE)\n"
        "try: import no_such_module\nexcept ModuleNotFoundError as error: print(error.name)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=tmp_path)
    assert done.stdout.split() == ["imported", "run", "3", "90", "no_such_module"], done.stderr
    assert Late("gutters").find_spec("json") is None


@pytest.mark.slow
def test_loops_leave_linear_algebra_as_it_was() -> None:
    code = (
        "import sys; from runoff.balance import loop_choice; loop_choice.no_other_loops(); loop_choice._numba(); "
        "assert 'coverage' not in sys.modules and 'scipy.linalg' not in sys.modules; import scipy.optimize"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr


def test_every_public_name_can_be_had() -> None:
    import runoff

    for name in runoff.__all__:
        assert getattr(runoff, name) is not None


def test_every_public_name_stands_with_its_task() -> None:
    import runoff

    told = set(re.findall(r"`(\w+)`", runoff.__doc__))
    assert set(runoff.__all__) - {"__version__"} <= told, "name it in the docstring of runoff, with its task"
    assert told - {"plots"} <= set(runoff.__all__) | {"runoff"}


@pytest.mark.parametrize("package", ["runoff", "runoff.plots", "runoff.roof", "runoff.storms", "runoff.weather"])
def test_names_loaded_on_first_use_are_those_that_type_checkers_read(package: str) -> None:
    module = importlib.import_module(package)
    tree = ast.parse(Path(str(module.__file__)).read_text(encoding="utf-8"))
    (read,) = (node for node in tree.body if isinstance(node, ast.If))
    homes = {one.name: str(node.module) for node in read.body if isinstance(node, ast.ImportFrom) for one in node.names}
    modules = {name for name, home in homes.items() if home == package}
    (table,) = (node for node in ast.walk(tree) if isinstance(node, ast.Dict))
    loaded = {
        str(ast.literal_eval(key or table)): ast.literal_eval(value)
        for key, value in zip(table.keys, table.values, strict=True)
    }
    assert {name for names in loaded.values() for name in names} == set(homes) - modules
    assert {name for name, names in loaded.items() if not names} == modules
    assert set(homes) <= set(dir(module))
    for name, home in homes.items():
        inside = f"{home}.{name}" if name in modules else home
        found = importlib.import_module(inside)
        assert getattr(module, name) is (found if name in modules else getattr(found, name))
    with pytest.raises(AttributeError, match=f"module '{package}' has no attribute 'gutter'"):
        _ = module.gutter
