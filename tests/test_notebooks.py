"""Every notebook runs offline, fast enough for a class, and its stored outputs are current and small."""

import builtins
import functools
import json
import re
import symtable
from pathlib import Path

import pytest

from tests.refresh_notebooks import FOLDER, one_kernel, run
from tests.trials.notebooks_in_any_order import tracebacks

NOTEBOOKS = sorted(FOLDER.glob("*.ipynb"))
MOST_BYTES = 400_000


def texts(notebook) -> list[str]:
    """Return what the outputs say, without pictures (a font release may move their bytes)."""
    found = []
    for cell in notebook["cells"]:
        for output in cell.get("outputs", []):
            found.append("".join(output.get("text", "") or output.get("data", {}).get("text/plain", "")))
    return found


@functools.cache
def stored(path: Path):
    """Return a notebook as it is stored; nobody changes it. Its form is asked for where it runs: loading that check takes two seconds."""
    return json.loads(path.read_text(encoding="utf-8"))


def sources(path: Path, kind: str) -> list[str]:
    """Return the text of each cell of a kind, "code" or "markdown"."""
    return ["".join(cell["source"]) for cell in stored(path)["cells"] if cell["cell_type"] == kind]


@pytest.fixture(scope="module")
def kernel():
    with one_kernel() as one:
        yield one


@pytest.mark.slow
@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.name)
def test_runs_and_stored_outputs_are_current(path: Path, kernel) -> None:
    # what is stored came from a kernel of its own: an output that rests on the notebook before differs
    fresh = run(path, kernel, pictures=False)
    assert texts(fresh) == texts(stored(path)), (
        "outputs moved; run python -m tests.refresh_notebooks and look at what changed"
    )


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.name)
def test_reads_well_without_running(path: Path) -> None:
    notebook = stored(path)
    assert path.stat().st_size <= MOST_BYTES
    assert "widgets" not in notebook["metadata"], "widget state is stored; refresh the notebook"
    outputs = [output for cell in notebook["cells"] for output in cell.get("outputs", [])]
    assert not [output for output in outputs if output["output_type"] == "error"]
    shown = [output.get("data", {}) for output in outputs]
    pictures = [one for one in shown if "image/png" in one or "data:image/png" in "".join(one.get("text/html", ""))]
    assert pictures, "no stored picture: a reader on a code host would see none"


_LAID_BY_HAND = re.compile(r"textwrap|\.to_string\(|\.to_html\(")


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.name)
def test_a_lesson_needs_the_public_names_and_no_layout_of_its_own(path: Path) -> None:
    code = "\n".join(sources(path, "code"))
    inner = [
        one
        for one in re.findall(r"^\s*(?:from|import)\s+(runoff\.\w[\w.]*)", code, re.MULTILINE)
        if one != "runoff.plots"
    ]
    assert not inner, f"{path.name} imports {inner}; what a lesson needs has a public name"
    assert not _LAID_BY_HAND.findall(code), f"{path.name} lays out by hand what shows itself"
    words = "\n".join(sources(path, "markdown"))
    assert re.search(r"[Pp]redict", words), f"{path.name} never asks what the reader expects"


def test_the_key_is_for_the_teacher_alone(tmp_path: Path) -> None:
    from runoff.cli import main

    assert main(["notebooks", "--to", str(tmp_path / "class")]) == 0
    names = {path.name for path in (tmp_path / "class").iterdir()}
    assert "06_why_water_has_to_drain.ipynb" in names
    assert not [name for name in names if "key" in name or "answer" in name]
    assert main(["notebooks", "--for", "teacher", "--to", str(tmp_path / "teacher")]) == 0
    assert {path.name for path in (tmp_path / "teacher").iterdir()} - names == {"06_key_for_the_teacher.md"}


def missing_names(source: str) -> set[str]:
    """Return the names a cell uses and nobody in it makes."""
    whole = symtable.symtable(source, "cell", "exec")
    made = {one.get_name() for one in whole.get_symbols() if one.is_assigned() or one.is_imported()}
    used, tables = set(), [whole]
    while tables:
        table = tables.pop()
        tables += table.get_children()
        used |= {one.get_name() for one in table.get_symbols() if one.is_referenced() and one.is_global()}
    return used - made - set(dir(builtins)) - {"display"}  # a notebook knows `display` of itself


def test_a_missing_name_is_seen() -> None:
    assert missing_names("import a\na.f(roof, [x + y for x in a])") == {"roof", "y"}
    assert missing_names("def f(x):\n    return x + rain\nf(1)\nprint(f)") == {"rain"}


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.name)
def test_every_cell_stands_alone(path: Path) -> None:
    """So that a notebook runs in any order; the trial runs them all backwards and forwards."""
    cells = sources(path, "code")
    lacking = {number: missing_names(source) for number, source in enumerate(cells, start=1) if missing_names(source)}
    assert not lacking, "cells use what another cell makes"


@pytest.mark.slow
def test_the_lesson_runs_backwards_and_twice_from_a_copied_folder(tmp_path: Path, kernel) -> None:
    # the trial does it with every notebook
    import nbformat

    path = FOLDER / "06_why_water_has_to_drain.ipynb"
    assert tracebacks(nbformat.read(path, as_version=4), tmp_path, kernel) == []


def test_the_wheel_carries_what_the_notebook_on_the_checks_shows(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The files named in its cells are packed with the package, and found there where no tests lie beside it."""
    import tomllib

    from runoff import sample_files
    from runoff.teaching.check_tables import CheckPicture, check_table

    code = "\n".join(sources(FOLDER / "04_what_it_was_checked_against.ipynb", "code"))
    shown = set(re.findall(r"(?:check_table|CheckPicture)\(\"([^\"]+)\"", code))
    project = tomllib.loads((FOLDER.parent / "pyproject.toml").read_text(encoding="utf-8"))
    packed = project["tool"]["hatch"]["build"]["targets"]["wheel"]["force-include"]
    assert len(shown) > 8 and {f"tests/{name}": f"runoff/tests/{name}" for name in shown}.items() <= packed.items()
    for inside in shown:
        (tmp_path / "runoff" / "tests" / inside).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / "runoff" / "tests" / inside).write_bytes((FOLDER.parent / "tests" / inside).read_bytes())
    monkeypatch.setattr(sample_files, "_PACKAGE", tmp_path / "runoff")
    assert check_table("published/disagreements.csv").shape[0] > 0
    assert CheckPicture("second_physics/second_physics.png", "words").png.startswith(b"\x89PNG")


def test_a_table_of_the_checks_is_shown_whole() -> None:
    from runoff.errors import MissingFileError
    from runoff.showing import show
    from runoff.teaching.check_tables import check_table

    table = check_table("published/not_compared.csv")
    for reason in table["reason"]:  # none of the sentences is cut short
        assert reason in show(table).text()
    assert show(table).html().count("<tr") == len(table) + 1
    turned = show(table.head(2).set_index("source").T).html()
    assert ">reason<" in turned  # the names of the rows stay
    with pytest.raises(MissingFileError, match="there is no published/nothing"):
        check_table("published/nothing.csv")
