"""`import runoff` stays light: heavy libraries load on first use, in a fresh process."""

import json
import re
import subprocess
import sys

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


def test_a_command_without_figures_and_ranges_loads_neither() -> None:
    """Where dask is installed it loads scipy by itself; what counts is that we ask for neither figures nor draws."""
    words = ["simulate", "--no-figures", "--no-ranges", "--start", "2011", "--out", ""]
    code = f"import sys; from runoff.cli import main; main({words}); print('loaded', *sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert "How sure: no range was drawn (--no-ranges)" in done.stdout
    loaded = set(done.stdout.rpartition("loaded ")[2].split())
    assert "runoff.simulation.runs" in loaded
    assert loaded.isdisjoint({"runoff.plots.style", "runoff.sizing.likely_ranges", "scipy.stats"})


def test_every_public_name_can_be_had() -> None:
    import runoff

    for name in runoff.__all__:
        assert getattr(runoff, name) is not None


def test_every_public_name_stands_with_its_task() -> None:
    import runoff

    told = set(re.findall(r"`(\w+)`", runoff.__doc__))
    assert set(runoff.__all__) - {"__version__"} <= told, "name it in the docstring of runoff, with its task"
    assert told - {"plots"} <= set(runoff.__all__) | {"runoff"}
